"""When a scar came about, as far as it is remembered: a day, a month, a year, "more than 2 years ago", or not known."""

import re
from calendar import monthrange
from datetime import date

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
ABOUT: dict[str, str] = {
    "more_than_2_years": "more than 2 years ago",
    "more_than_5_years": "more than 5 years ago",
    "dont_know": "date not known",
}
# Values that older declarations may carry for the same words.
ALSO: dict[str, str] = {"older_2": "more_than_2_years", "older_5": "more_than_5_years"}
_WRITTEN = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?", re.ASCII)


def read_happened(text: str) -> str:
    """The text as it is kept: "2019", "2019-03", "2019-03-14", a value of ABOUT or nothing.

    Raises ValueError with a sentence for whoever typed it.
    """
    text = ALSO.get(text.strip(), text.strip())
    if not text or text in ABOUT:
        return text
    first_day(text)
    return text


def first_day(text: str) -> date | None:
    """The earliest day the text can mean, or None where it names no date. Raises ValueError when it cannot be read."""
    if not text or text in ABOUT or text in ALSO:
        return None
    found = _WRITTEN.fullmatch(text)
    if found is None:
        raise ValueError("Give the year with four digits, like 2019, and the month and the day as numbers.")
    year, month, day = (int(part) if part else None for part in found.groups())
    if year is None or not 1900 <= year <= 2200:
        raise ValueError("Give a year from 1900 on.")
    if month is not None and not 1 <= month <= 12:
        raise ValueError("Give the month as a number from 1 to 12.")
    if month is not None and day is not None and not 1 <= day <= monthrange(year, month)[1]:
        raise ValueError("That month does not have this day.")
    return date(year, month or 1, day or 1)


def joined(day: str, month: str, year: str) -> str:
    """Three typed parts as one text; the gap is kept when the month is missing, so that reading it refuses it."""
    day, month, year = day.strip(), month.strip(), year.strip()
    if not (day or month or year):
        return ""
    if day and not month:
        raise ValueError("Add the month, or leave the day empty too.")
    return "-".join([year] + [part.zfill(2) for part in (month, day) if part])


def parts(text: str) -> dict[str, str]:
    """The kept text as the three fields and the choice of a form."""
    if text in ABOUT or text in ALSO:
        return {"happened_d": "", "happened_m": "", "happened_y": "", "happened_about": ALSO.get(text, text)}
    year, month, day = [*text.split("-"), "", ""][:3]
    return {"happened_d": day, "happened_m": month, "happened_y": year, "happened_about": ""}


def happened_words(text: str) -> str:
    """14 March 2019, March 2019, 2019, "more than 2 years ago"; nothing for nothing."""
    text = ALSO.get(text, text)
    if text in ABOUT:
        return ABOUT[text]
    found = _WRITTEN.fullmatch(text)
    if found is None:
        return text
    year, month, day = found.groups()
    if month is None:
        return year
    named = MONTHS[(int(month) - 1) % 12]
    return f"{named} {year}" if day is None else f"{int(day)} {named} {year}"
