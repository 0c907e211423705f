"""What a signature stands on, in one piece: the words exactly as they were shown, what was answered, and how it was
signed. The piece is kept as text and its SHA-256 is printed on it, so that years later anyone can hold one against
the other.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from typing import Any

from app.consents.texts import PROCEDURES, SIDES, blocks, permission_words

FORM = 1  # of the paper itself: a later form is read beside this one, never instead of it
Translate = Callable[[str], str]


@dataclass(frozen=True)
class Asked:
    """A question as it was shown, and the answer: "yes", "no", or nothing where it was left open."""

    kind: str
    asked: str
    hint: str
    answer: str


@dataclass(frozen=True)
class ZoneShown:
    id: int
    name: str


@dataclass(frozen=True)
class Shown:
    """What stood on the page beside the text."""

    zones: Sequence[ZoneShown] = ()
    procedures: Sequence[str] = ()  # kinds; their words stand in the paper as they were shown
    asked: Sequence[Asked] = ()
    standing: Sequence[str] = ()  # an earlier yes that was named and not asked for again
    notice: str = ""  # where the text was in another language than the page
    about: Mapping[str, str | int] | None = None  # what else the signature is for: a form and the hash of its answers


@dataclass(frozen=True)
class Signed:
    """How it was signed."""

    at: datetime
    typed_name: str
    typed_reason: str
    drawing_sha256: str
    strokes: str


def same(text: str) -> str:
    return text


def asked_words(kinds: Sequence[str], answers: Sequence[tuple[str, bool]], translate: Translate = same) -> list[Asked]:
    """Questions of some kinds as a page shows them, with what was answered."""
    given = {kind: "yes" if granted else "no" for kind, granted in answers}
    return [
        Asked(words.kind, translate(words.asked), translate(words.hint), given.get(words.kind, ""))
        for words in permission_words()
        if words.kind in kinds
    ]


def zone_words(label: str, side: str, translate: Translate = same) -> str:
    """A zone as its owner reads it: "Forearm, on your left"; a name of our own in their language, too."""
    return f"{translate(label)}, {translate(SIDES[side])}"


def hash_of(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def plain_moment(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def content(
    *, studio: str, client: str, born_on: date | None, kind: str, version: str, text: str, language: str, shown: Shown,
    signed: Signed, translate: Translate = same,
) -> dict[str, Any]:  # fmt: skip
    """The paper. Written as canonical JSON, its SHA-256 is the hash that is printed on it."""
    return {
        "form": FORM,
        "studio": studio,
        "client": {"name": client, "born_on": born_on.isoformat() if born_on else ""},
        "text": {
            "kind": kind,
            "version": version,
            "language": language,
            "notice": shown.notice,
            "blocks": [{"kind": block.kind, "lines": list(block.lines)} for block in blocks(text)],
        },
        "zones": [asdict(zone) for zone in shown.zones],
        "procedures": [{"kind": each, "words": translate(PROCEDURES[each])} for each in shown.procedures],
        "asked": [asdict(each) for each in shown.asked],
        "standing": list(shown.standing),
        "about": dict(shown.about or {}),
        "signed": {
            "at": plain_moment(signed.at),
            "typed_name": signed.typed_name,
            "typed_reason": signed.typed_reason,
            "drawing_sha256": signed.drawing_sha256,
            "strokes_sha256": hash_of(signed.strokes) if signed.strokes else "",
        },
    }


def grouped(digest: str) -> str:
    """A hash to be read aloud and compared by eye: eight groups of eight."""
    return " ".join(digest[at : at + 8] for at in range(0, len(digest), 8))


def typed_hash(words: str) -> str:
    """A hash as somebody typed it from paper, without its gaps; "" when it is none."""
    joined = "".join(words.split()).replace("-", "").lower()
    return joined if len(joined) == 64 and all(each in "0123456789abcdef" for each in joined) else ""
