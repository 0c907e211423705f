"""Dates as people remember them: a year, a month or a day, and "more than 2 years ago".

A wait counts from the last day of what was given, since that is the cautious reading: "2023" counts from
31 December 2023. Adding months keeps the day of the month, or takes the month's last day where that day does not
exist. The day a wait ends is itself clear.
"""

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

Unit = Literal["days", "weeks", "months", "years"]
UNITS: tuple[Unit, ...] = ("days", "weeks", "months", "years")

# Values offered where a person does not know the date. Each stands for the latest day it could mean.
AGO_YEARS = {"more_than_2_years": 2, "more_than_5_years": 5}

EARLIEST_YEAR = 1900  # Nobody living was born earlier, and a typing slip such as 0203 is caught.
LATEST_YEAR = 2200  # Leaves room for every wait without running off the calendar.

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
YEAR_OF_FOUR = "Please write the year with four numbers, for example 2023."
NEEDS_MONTH = "Please add the month, or leave the day empty too."
MONTH_NUMBER = "Please write the month as a number from 1 to 12."
NO_SUCH_DAY = "That month does not have this day. Please check the date."
AS_WRITTEN = "Please write the date as year, month and day, for example 2023-05-14, 2023-05 or 2023."
WHOLE_DAY = "Please give the day, the month and the year."
DATE_PROBLEMS = (YEAR_OF_FOUR, NEEDS_MONTH, MONTH_NUMBER, NO_SUCH_DAY, AS_WRITTEN, WHOLE_DAY)
_WRITTEN = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?", re.ASCII)


class DateProblem(ValueError):
    """A date that cannot be read; its message can be shown to the person who typed it."""


@dataclass(frozen=True)
class Interval:
    """A length of time in calendar units; months and years are calendar months, not numbers of days."""

    amount: int
    unit: Unit

    def __post_init__(self) -> None:
        if self.amount < 0 or self.unit not in UNITS:
            raise ValueError(f"not an interval: {self.amount!r} {self.unit!r}")

    @property
    def words(self) -> str:
        return f"{self.amount} {self.unit[:-1] if self.amount == 1 else self.unit}"


@dataclass(frozen=True)
class PartialDate:
    """A year, a month of a year, or a day."""

    year: int
    month: int | None = None
    day: int | None = None

    @property
    def first_day(self) -> date:
        return date(self.year, self.month or 1, self.day or 1)

    @property
    def last_day(self) -> date:
        month = self.month or 12
        return date(self.year, month, self.day or calendar.monthrange(self.year, month)[1])

    @property
    def text(self) -> str:
        parts = [f"{self.year:04d}"]
        if self.month is not None:
            parts.append(f"{self.month:02d}")
        if self.day is not None:
            parts.append(f"{self.day:02d}")
        return "-".join(parts)

    @property
    def words(self) -> str:
        if self.month is None:
            return str(self.year)
        month = f"{MONTHS[self.month - 1]} {self.year}"
        return month if self.day is None else f"{self.day} {month}"


def partial_date(year: int, month: int | None = None, day: int | None = None) -> PartialDate:
    """The date these numbers mean, or a DateProblem that says in plain words what is wrong."""
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise DateProblem(YEAR_OF_FOUR)
    if month is None:
        if day is not None:
            raise DateProblem(NEEDS_MONTH)
        return PartialDate(year)
    if not 1 <= month <= 12:
        raise DateProblem(MONTH_NUMBER)
    if day is not None and not 1 <= day <= calendar.monthrange(year, month)[1]:
        raise DateProblem(NO_SUCH_DAY)
    return PartialDate(year, month, day)


def read_partial(text: str) -> PartialDate:
    """A date written "2023", "2023-05" or "2023-05-14"."""
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise DateProblem(AS_WRITTEN)
    year, month, day = match.groups()
    return partial_date(int(year), int(month) if month else None, int(day) if day else None)


def read_day(text: str) -> date:
    """A full day written "2023-05-14"."""
    read = read_partial(text)
    if read.day is None:
        raise DateProblem(WHOLE_DAY)
    return read.last_day


def add_months(day: date, months: int) -> date:
    """The same day of the month so many months on (or back), or that month's last day."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    month += 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def add(day: date, interval: Interval) -> date:
    """The first day that is clear when a wait of this length counts from the given day."""
    if interval.unit == "days":
        return day + timedelta(days=interval.amount)
    if interval.unit == "weeks":
        return day + timedelta(weeks=interval.amount)
    return add_months(day, interval.amount * (12 if interval.unit == "years" else 1))


def counts_from(value: str, answered_on: date) -> date | None:
    """The latest day that an answer can mean, or None where the answer is not a date ("dont_know", "still").

    "More than 2 years ago" means at the latest two years before the day it was answered.
    """
    if value in AGO_YEARS:
        return add_months(answered_on, -12 * AGO_YEARS[value])
    try:
        return read_partial(value).last_day
    except DateProblem:
        return None


def birthday(born_on: date, years: int) -> date:
    """The day a person reaches an age. Born on 29 February: 1 March in ordinary years, never a day too early."""
    year = born_on.year + years
    if (born_on.month, born_on.day) == (2, 29) and not calendar.isleap(year):
        return date(year, 3, 1)
    return born_on.replace(year=year)


def age(born_on: date, on: date) -> int:
    """Whole years lived on a day; below zero before birth."""
    years = on.year - born_on.year
    return years if on >= birthday(born_on, years) else years - 1
