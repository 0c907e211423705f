"""One answer read from what was posted or stored: what can be read, and in plain words what is wrong with the rest.

Messages hold no values, so that they can be translated as they stand.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from app.intake.dates import (
    DATE_PROBLEMS,
    EARLIEST_YEAR,
    LATEST_YEAR,
    YEAR_OF_FOUR,
    PartialDate,
    age,
    partial_date,
    read_day,
    read_partial,
)
from app.intake.phones import PHONE_PROBLEM, read_phone
from app.intake.questions import DONT_KNOW, NONE_OF_THESE, PREFER_NOT, Question

Posted = Mapping[str, list[str]]

CHOOSE = "Please choose an answer."
FILL_IN = "Please fill this in."
UNKNOWN_CHOICE = "Please choose one of the answers shown."
NOT_YET = "This date has not come yet. Please check it."
BEFORE_BIRTH = "This is before the date of birth you gave. Please check both."
TOO_LONG_AGO = "Please check the year."
NONE_AND_MORE = "You chose “none” and something else. Please choose only what fits."
TOO_LONG = "This text is too long. Please shorten it."
ONE_ANSWER = "Please choose only one answer."
UNREADABLE = "Some of the characters cannot be stored. Please type this again."
WHOLE_NUMBERS = "Please use numbers for the day, the month and the year."

MESSAGES = (
    CHOOSE, FILL_IN, UNKNOWN_CHOICE, NOT_YET, BEFORE_BIRTH, TOO_LONG_AGO, NONE_AND_MORE, TOO_LONG, ONE_ANSWER,
    UNREADABLE, WHOLE_NUMBERS, PHONE_PROBLEM, *DATE_PROBLEMS,
)  # fmt: skip

TEXT_LIMIT = 300
LONG_TEXT_LIMIT = 4000
OLDEST_AGE = 120


class Unreadable(ValueError):
    """An answer that cannot be taken; its message can be shown to the person who gave it."""


def read_posted(question: Question, posted: Posted, on: date, born_on: Any, country: str) -> Any:
    values = [value.strip() for value in posted.get(question.field, []) if value.strip()]
    if question.kind == "many":
        return checked_many(question, list(dict.fromkeys(values))) if values else None
    if question.kind in ("date", "birth_date"):
        parts = [" ".join(posted.get(f"{question.field}.{part}", [])).strip() for part in ("year", "month", "day")]
        if any(parts):
            # A date typed in full wins over a choice beside it that was picked first: it says more.
            return _checked_date(question, _from_parts(*parts), on, born_on)
    if len(values) > 1:
        raise Unreadable(ONE_ANSWER)
    if not values:
        return None
    if question.kind == "phone":
        return read_phone(values[0], country)
    return checked(question, values[0], on, born_on)


def _from_parts(year: str, month: str, day: str) -> PartialDate:
    if not all(part == "" or (part.isascii() and part.isdigit() and len(part) <= 4) for part in (year, month, day)):
        raise Unreadable(WHOLE_NUMBERS)
    if len(year) != 4:
        raise Unreadable(YEAR_OF_FOUR)
    if not EARLIEST_YEAR <= int(year) <= LATEST_YEAR:  # It has four numbers already: to ask for them would puzzle.
        raise Unreadable(TOO_LONG_AGO)
    return partial_date(int(year), int(month) if month else None, int(day) if day else None)


def checked(question: Question, value: str, on: date, born_on: Any) -> str:
    if value in {option.key for option in question.choices}:
        return value
    if question.kind in ("date", "birth_date"):
        return _checked_date(question, read_partial(value), on, born_on)
    if question.kind in ("yes_no", "choice"):
        raise Unreadable(UNKNOWN_CHOICE)
    # A stored phone number is not read again: an older form may hold one as it was typed.
    if len(value) > (LONG_TEXT_LIMIT if question.kind == "long_text" else TEXT_LIMIT):
        raise Unreadable(TOO_LONG)
    if any(character == "\0" or "\ud800" <= character <= "\udfff" for character in value):
        raise Unreadable(UNREADABLE)
    return value


def checked_many(question: Question, values: list[str]) -> list[str]:
    if not set(values) <= {option.key for option in question.choices}:
        raise Unreadable(UNKNOWN_CHOICE)
    if len(values) > 1 and any(value in (NONE_OF_THESE, DONT_KNOW, PREFER_NOT) for value in values):
        raise Unreadable(NONE_AND_MORE)
    return values


def _checked_date(question: Question, given: PartialDate, on: date, born_on: Any) -> str:
    if given.first_day > on:
        raise Unreadable(NOT_YET)
    if question.kind == "birth_date":
        if age(read_day(given.text), on) > OLDEST_AGE:
            raise Unreadable(TOO_LONG_AGO)
    elif isinstance(born_on, str) and given.last_day < read_day(born_on):
        raise Unreadable(BEFORE_BIRTH)
    return given.text
