"""The languages in which clients read: one catalogue each, the language in use while a page is made, and its dates.

English is the language of the code and needs no catalogue. A text that a catalogue does not have stays English. Numbers
in a message are kept out of it: "Use at most 120 characters." is looked up as "Use at most {n} characters.".
"""

import gettext as machinery
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from babel.dates import format_date, format_skeleton
from babel.messages.pofile import read_po

# Each by its own name, as a person who reads it looks for it.
LANGUAGES = {"en": "English", "es": "Español", "fr": "Français", "de": "Deutsch"}
DEFAULT = "en"
# No catalogue is written from right to left yet; the pages are made so that one may be added.
RIGHT_TO_LEFT = frozenset({"ar", "fa", "he", "ur"})
CATALOGUES = Path(__file__).resolve().parents[2] / "templates" / "languages"
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December")  # fmt: skip
_DATE = re.compile(rf"(?:([0-9]{{1,2}}) )?({'|'.join(_MONTHS)}) ([0-9]{{4}})")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_in_use: ContextVar[str] = ContextVar("language", default=DEFAULT)


@dataclass(frozen=True)
class Catalogue:
    """What a language says for each English text; `plurals` for texts that count something."""

    texts: dict[str, str]
    plurals: dict[str, tuple[str, ...]]
    plural_of: Callable[[int], int]


@cache
def catalogue(language: str) -> Catalogue:
    """The catalogue of a language, read once; an empty one for English."""
    file = CATALOGUES / f"{language}.po"
    if language not in LANGUAGES or not file.exists():
        return Catalogue({}, {}, lambda count: int(count != 1))
    with file.open("rb") as stream:
        read = read_po(stream, locale=language)
    texts, plurals = {}, {}
    for message in read:
        if not message.id or message.fuzzy or not message.string:
            continue
        if isinstance(message.id, (list, tuple)):
            plurals[str(message.id[0])] = tuple(str(form) for form in message.string)
        else:
            texts[str(message.id)] = str(message.string)
    return Catalogue(texts, plurals, machinery.c2py(read.plural_expr))


def translated(text: str, language: str) -> str:
    """The text in a language; in English where that language has no words for it. Dates need no words."""
    known = catalogue(language).texts
    if text in known or language == DEFAULT:
        return known.get(text, text)
    if (written := _DATE.fullmatch(text)) is not None:
        return _date_in(written, language)
    words = known.get(_NUMBER.sub("{n}", text))
    if words is None:
        return text
    numbers = iter(_NUMBER.findall(text))
    return re.sub(r"\{n\}", lambda _: next(numbers, ""), words)


def _date_in(written: re.Match[str], language: str) -> str:
    """A day, or a month of a year, that stands in English words, as the language writes it."""
    year, month = int(written[3]), _MONTHS.index(written[2]) + 1
    try:
        day = date(year, month, int(written[1] or 1))
    except ValueError:  # a sentence that only looks like a day
        return written[0]
    return day_in(day, language) if written[1] else str(format_skeleton("yMMMM", day, locale=language))


def translator(language: str) -> Callable[[str], str]:
    return lambda text: translated(text, language)


def in_use() -> str:
    return _in_use.get()


def gettext(text: str) -> str:
    """The text in the language of the page that is being made."""
    return translated(text, _in_use.get())


def ngettext(one: str, many: str, count: int) -> str:
    held = catalogue(_in_use.get())
    forms = held.plurals.get(one)
    if not forms:
        return one if count == 1 else many
    return forms[min(held.plural_of(count), len(forms) - 1)]


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """While a page or a letter is made, its words are this language's."""
    token = _in_use.set(language if language in LANGUAGES else DEFAULT)
    try:
        yield
    finally:
        _in_use.reset(token)


def chosen(*wishes: str, accepts: str = "") -> str:
    """The first wish that is one of ours, else the best of what a browser accepts, else English."""
    for wish in wishes:
        if wish in LANGUAGES:
            return wish
    ranked = []
    for place, part in enumerate(accepts[:500].split(",")):
        name, _, rest = part.strip().partition(";")
        quality = re.fullmatch(r"\s*q\s*=\s*([01](?:\.\d{1,3})?)\s*", rest or "q=1")
        code = name.strip().lower().split("-")[0]
        if code in LANGUAGES and quality is not None and float(quality[1]) > 0:
            ranked.append((-float(quality[1]), place, code))
    return min(ranked)[2] if ranked else DEFAULT


def direction(language: str) -> str:
    return "rtl" if language.split("-")[0] in RIGHT_TO_LEFT else "ltr"


def day_in(day: date, language: str, *, year: bool = True) -> str:
    """14 November 2026, as the language writes it."""
    short = {"en": "d MMMM", "de": "d. MMMM", "es": "d 'de' MMMM"}.get(language, "d MMMM")
    words = str(format_date(day, format="long" if year else short, locale=language))
    # French writes the first of a month as an ordinal, which the date formats of CLDR cannot say.
    return re.sub(r"^1 ", "1er ", words) if language == "fr" else words
