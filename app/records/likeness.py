"""How alike two records of people are, and why, in words. It offers two records to a person's eyes; it never merges.

Each thing that two records have in common counts points, and one thing that says otherwise takes points away:

    name            same words in any order 3; a letter or two apart, or one name within the other 2; the first name
                    only 1 (a family name changes with a marriage; a first name seldom)
    date of birth   same 2; day and month changed round, or one digit apart 1; both known and otherwise different -3
    telephone       same 3
    e-mail          same 3

Three points are enough to ask. So these are offered: the same name where no date of birth says otherwise; the same date
of birth with a like name or the same first name; the same telephone or e-mail, unless the dates of birth differ (a
mother and a daughter may share a telephone, and their dates tell them apart). A date of birth alone is not enough:
among some thousand clients, strangers share one. Twins are offered, and the reasons say so. The points are our own
judgement, no source; what they offer and what they do not is held by tests.
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

ENOUGH = 3
NAME_SAME, NAME_NEAR, NAME_FIRST = 3, 2, 1
BORN_SAME, BORN_NEAR, BORN_OTHER = 2, 1, -3
PHONE_SAME = EMAIL_SAME = 3
# One slip of the hand in a short name, two in a long one: two in "Ana" would make it "Eva".
SHORT_NAME = 8
_HYPHEN = re.compile("[-‐‑]")
# Letters that no decomposition takes apart.
_LETTERS = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"})


@dataclass(frozen=True)
class Known:
    """What is on file of one person as far as it tells people apart."""

    name: str
    born_on: date | None = None
    phone_key: str = ""
    email: str = ""


@dataclass(frozen=True)
class Likeness:
    points: int
    reasons: tuple[str, ...]

    @property
    def is_offered(self) -> bool:
        return self.points >= ENOUGH


def likeness(one: Known, other: Known) -> Likeness:
    """How alike two records are; the same both ways round."""
    name = _name_points(one.name, other.name)
    born = _born_points(one.born_on, other.born_on)
    phone = PHONE_SAME if one.phone_key and one.phone_key == other.phone_key else 0
    email = EMAIL_SAME if one.email and one.email.strip().casefold() == other.email.strip().casefold() else 0
    return Likeness(name + born + phone + email, _reasons(name, born, phone, email))


def _reasons(name: int, born: int, phone: int, email: int) -> tuple[str, ...]:
    said = (
        (name == NAME_SAME, "the same name"),
        (name == NAME_NEAR, "nearly the same name"),
        (name == NAME_FIRST, "the same first name (a family name can change)"),
        (born == BORN_SAME, "the same date of birth"),
        (born == BORN_NEAR, "dates of birth that differ by one slip"),
        (phone > 0, "the same telephone number"),
        (email > 0, "the same e-mail address"),
        (name == 0 and born == BORN_SAME, "but different first names (twins?)"),
        (name == 0 and born != BORN_SAME, "but different names (a family may share it)"),
        (born == BORN_OTHER, "but different dates of birth"),
    )
    return tuple(words for holds, words in said if holds)


def name_words(name: str) -> tuple[str, ...]:
    """The words of a name without case, accents and hyphens, as they are written; what follows a comma comes first."""
    family, comma, given = name.partition(",")
    plain = unicodedata.normalize("NFKD", f"{given} {family}" if comma else name).casefold().translate(_LETTERS)
    letters = "".join(sign for sign in plain if not unicodedata.combining(sign) and sign not in "'’`-‐‑")
    return tuple(re.findall(r"\w+", letters))


def _name_points(left: str, right: str) -> int:
    one, other = name_words(left), name_words(right)
    if not one or not other:
        return 0
    if sorted(one) == sorted(other) or "".join(one) == "".join(other):
        return NAME_SAME
    # A double name is two words here: Ash within Ash-Berg.
    parts, others = name_words(_HYPHEN.sub(" ", left)), name_words(_HYPHEN.sub(" ", right))
    if _is_near(one, other) or _is_within(parts, others) or _is_within(others, parts):
        return NAME_NEAR
    return NAME_FIRST if _has_first(one, other) or _has_first(other, one) else 0


def _is_near(one: Sequence[str], other: Sequence[str]) -> bool:
    """A letter or two apart, as written or with the words in order."""
    pairs = (("".join(one), "".join(other)), ("".join(sorted(one)), "".join(sorted(other))))
    allowed = 1 if min(len(pairs[0][0]), len(pairs[0][1])) < SHORT_NAME else 2
    return any(slips(left, right, allowed) <= allowed for left, right in pairs)


def _is_within(part: Sequence[str], whole: Sequence[str]) -> bool:
    """Anna Lind within Anna Maria Lind; one word alone is a first name, no more."""
    return len(part) > 1 and set(part) <= set(whole)


def _has_first(one: Sequence[str], other: Sequence[str]) -> bool:
    return len(one[0]) > 1 and one[0] in other


def slips(left: str, right: str, most: int) -> int:
    """Letters put in, left out, changed, or changed round with the next, from one text to the other: the edit distance
    with neighbours transposed (optimal string alignment). `most + 1` stands for anything above `most`."""
    if abs(len(left) - len(right)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(right) + 1))
    for i, a in enumerate(left, 1):
        last, row = row, [i] + [0] * len(right)
        for j, b in enumerate(right, 1):
            row[j] = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == right[j - 2] and left[i - 2] == b:
                row[j] = min(row[j], before[j - 2] + 1)
        if min(row) > most:
            return most + 1
        before = last
    return min(row[-1], most + 1)


def _born_points(one: date | None, other: date | None) -> int:
    if one is None or other is None:
        return 0
    if one == other:
        return BORN_SAME
    is_turned = one.year == other.year and (one.day, one.month) == (other.month, other.day)
    digits = sum(a != b for a, b in zip(f"{one:%Y%m%d}", f"{other:%Y%m%d}", strict=True))
    return BORN_NEAR if is_turned or digits == 1 else BORN_OTHER
