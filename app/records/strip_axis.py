"""The time axis of the strip: where a day lies, which months are named, and the strip told in sentences."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from app.records.strip_ink import words_width
from app.records.strip_shapes import StripZone, Words

_MARGIN = 14  # days shown before the first and after the last event, so that neither sits on the edge
_MONTHS = ("January", "February", "March", "April", "May", "June",
           "July", "August", "September", "October", "November", "December")  # fmt: skip


@dataclass(frozen=True)
class Scale:
    begin: date
    end: date
    left: float
    right: float

    def x(self, on: date) -> float:
        share = (min(max(on, self.begin), self.end) - self.begin) / (self.end - self.begin)
        return round(self.left + share * (self.right - self.left), 1)

    def shows(self, on: date) -> bool:
        return self.begin <= on <= self.end


def day_words(on: date) -> str:
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def time_span(zones: Sequence[StripZone], today: date, begin: date | None, end: date | None) -> tuple[date, date]:
    days = [today]
    for zone in zones:
        days += [reading.on for reading in zone.readings] + [session.on for session in zone.sessions]
        days += [day for pair in zone.settling for day in pair]
    begin = begin or min(days) - timedelta(days=_MARGIN)
    end = end or max(days) + timedelta(days=_MARGIN)
    if begin >= end:
        raise ValueError("the strip begins before it ends")
    return begin, end


def _month_starts(scale: Scale) -> Iterator[date]:
    year, month = scale.begin.year, scale.begin.month
    while (first := date(year, month, 1)) <= scale.end:
        if first >= scale.begin:
            yield first
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)


def _every(scale: Scale, size: float, step: int, letters: int, picture_right: float) -> list[Words]:
    """Labels for every `step`th month, cut to a number of letters; the year is named when it changes."""
    found: list[Words] = []
    named_year = scale.begin.year if scale.begin.year == scale.end.year else None
    for first in _month_starts(scale):
        if (first.month - 1) % step:
            continue
        words = _MONTHS[first.month - 1][:letters]
        if first.year != named_year:
            words, named_year = f"{words} {first.year}", first.year
        width = words_width(words, size)
        if scale.x(first) + width <= picture_right:
            found.append(Words(scale.x(first), round(size * 1.1, 1), words, size, width))
    return found


def month_words(scale: Scale, size: float, picture_right: float) -> list[Words]:
    """The densest row of month names in which none touches the next."""
    for step in (1, 2, 3, 6, 12):
        for letters in (9, 3):
            found = _every(scale, size, step, letters, picture_right)
            if all(one.right + 10 <= other.left for one, other in pairwise(found)):
                return found
    return found[:1]


def today_words(scale: Scale, today: date, size: float, y: float, picture_right: float) -> Words:
    width = words_width("today", size)
    left = min(max(scale.x(today) - width / 2, 0.0), picture_right - width - 1)
    return Words(round(left, 1), y, "today", size, width, bold=True)


def sentences(zone: StripZone, today: date) -> Iterator[str]:
    if not any(one.on <= today for one in zone.readings):
        yield f"{zone.label}: not measured yet."
    told = [(one.on, f"measured on {day_words(one.on)}: {one.words}") for one in zone.readings if one.on <= today]
    for session in zone.sessions:
        planned = ", planned" if session.on > today else ""
        told.append((session.on, f"{session.label} on {day_words(session.on)}{planned}"))
    for start, until in zone.settling:
        told.append((start, f"settling from {day_words(start)} to {day_words(until)}, the colour is not judged then"))
    for _, words in sorted(told, key=lambda one: one[0]):
        yield f"{zone.label}: {words}."
    if zone.judged:
        yield f"{zone.label}: {zone.judged}."
