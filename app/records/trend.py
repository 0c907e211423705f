"""A zone's difference from its skin over its visits, as shapes to draw.

Above, the size of the difference as the bar of its interval, with the limits of the grades that are fixed for the case
and the grades' names between them;
below, how much lighter or darker the scar is than the skin, so that too dark is not taken for too light. Days of work
cut across both. A photo that could not be measured is an open mark between the two: it has a day and no figure.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from app.colour.difference import Estimate
from app.colour.thresholds import GRADES, LIMITS, SkinClass
from app.records.strip_axis import Scale, day_words, month_words
from app.records.strip_ink import words_width
from app.records.strip_shapes import Words

WIDTH, LEFT, RIGHT, SIZE = 760.0, 64.0, 92.0, 15.0
TOP, UPPER, GAP, LOWER = 44.0, 170.0, 40.0, 110.0
MOST = 16.0  # a difference beyond this is far above every limit, and would press the limits together
LEAST_LIGHTNESS = 4.0  # L* to either side, so that a small step looks small
ROOM_DAYS = 14
APART = 6.0  # px between two words


@dataclass(frozen=True)
class Visit:
    """What one day's photo says of a zone; no figures where it could not be measured."""

    on: date
    difference: Estimate | None = None  # CIEDE2000
    lightness: Estimate | None = None  # L*, scar minus skin


@dataclass(frozen=True)
class Bar:
    """An interval on its day: from low to high, and the most likely value between."""

    x: float
    top: float
    bottom: float
    middle: float
    is_cut: bool
    words: str


@dataclass(frozen=True)
class Level:
    """A line across the picture, with its words at the right end and its figure at the left."""

    y: float
    figure: str
    words: str = ""
    is_limit: bool = False


@dataclass(frozen=True)
class Work:
    x: float
    words: Words | None  # None where there is no room


@dataclass(frozen=True)
class Trend:
    title: str
    width: float
    height: float
    upper: tuple[float, float]  # top and bottom of the panel
    lower: tuple[float, float]
    left: float
    right: float
    size: float
    differences: tuple[Bar, ...]
    lightnesses: tuple[Bar, ...]
    levels: tuple[Level, ...]
    grades: tuple[tuple[float, str], ...]  # y and name; a name stands between its limits
    works: tuple[Work, ...]
    open_marks: tuple[tuple[float, str], ...]  # x and the day in words
    marks_y: float
    months: tuple[Words, ...]


def trend(visits: Sequence[Visit], work: Sequence[tuple[date, str]], skin: SkinClass, today: date) -> Trend | None:
    """The picture of all visits; None where no photo of the zone could be measured."""
    measured = [one for one in visits if one.difference is not None and one.lightness is not None]
    if not measured:
        return None
    days = [today, *(one.on for one in visits), *(on for on, _ in work)]
    room = timedelta(days=ROOM_DAYS)
    scale = Scale(min(days) - room, max(days) + room, LEFT, WIDTH - RIGHT)
    limits = LIMITS[skin]
    # A measured visit has both; mypy cannot carry that over the list.
    sizes = [(one.on, one.difference) for one in measured if one.difference is not None]
    lights = [(one.on, one.lightness) for one in measured if one.lightness is not None]
    top = min(MOST, max(1.25 * limits.close, *(size.high for _, size in sizes)))
    reach = max(LEAST_LIGHTNESS, *(max(abs(step.low), abs(step.high)) for _, step in lights))
    named = int(0.75 * reach)
    upper, lower = (TOP, TOP + UPPER), (TOP + UPPER + GAP, TOP + UPPER + GAP + LOWER)

    def size_y(value: float) -> float:
        return round(upper[1] - UPPER * min(value, top) / top, 1)

    def light_y(value: float) -> float:
        return round(lower[0] + LOWER * (reach - value) / (2 * reach), 1)

    shown = [limit for limit in (limits.match, limits.close, limits.visible) if limit < top]
    levels = (
        Level(upper[1], "0"),
        *(Level(size_y(limit), f"{limit:g}", is_limit=True) for limit in shown),
        Level(light_y(0), "0", "as light"),
        Level(light_y(named), f"+{named}", "lighter"),
        Level(light_y(-named), f"−{named}", "darker"),
    )
    bottom = lower[1] + 2 * SIZE
    return Trend(
        title=f"Difference from the skin over time, {day_words(min(days))} to {day_words(today)}, {len(measured)} "
              f"measured {'visit' if len(measured) == 1 else 'visits'}. The figures stand in the table below.",
        width=WIDTH,
        height=bottom + 4,
        upper=upper,
        lower=lower,
        left=LEFT,
        right=WIDTH - RIGHT,
        size=SIZE,
        differences=tuple(_bar(scale, on, size, size_y, size.high > top) for on, size in sizes),
        lightnesses=tuple(_bar(scale, on, step, light_y, False) for on, step in lights),
        levels=levels,
        grades=_grades([0.0, *shown, top], size_y),
        works=_works(scale, work),
        open_marks=tuple(
            (scale.x(one.on), day_words(one.on)) for one in visits if one.difference is None or one.lightness is None
        ),
        marks_y=upper[1] + GAP / 2,
        months=tuple(
            Words(one.x, round(bottom - 4, 1), one.words, one.size, one.width)
            for one in month_words(scale, SIZE, WIDTH - RIGHT)
        ),
    )  # fmt: skip


def _bar(scale: Scale, on: date, at: Estimate, y: Callable[[float], float], is_cut: bool) -> Bar:
    return Bar(scale.x(on), y(at.high), y(at.low), y(at.value), is_cut,
               f"{day_words(on)}: {_plain(at.low)} to {_plain(at.high)}")  # fmt: skip


def _grades(stops: Sequence[float], y: Callable[[float], float]) -> tuple[tuple[float, str], ...]:
    """The grades' names in the middle of their bands; none where the picture's end leaves a band too little room."""
    bands = ((name, y(low), y(high)) for name, low, high in zip(GRADES, stops, stops[1:], strict=False))
    return tuple((round((under + over) / 2, 1), name) for name, under, over in bands if under - over >= SIZE)


def _works(scale: Scale, work: Sequence[tuple[date, str]]) -> tuple[Work, ...]:
    """Days of work; words that would touch the ones before them are left to the table."""
    placed: list[Work] = []
    reached = 0.0
    for on, words in sorted(work):
        x, width = scale.x(on), words_width(words, SIZE)
        left = min(x - 4, WIDTH - width - 2)
        if left < reached:
            placed.append(Work(x, None))
            continue
        placed.append(Work(x, Words(round(left, 1), TOP - 2 * SIZE + 6, words, SIZE, width)))
        reached = left + width + APART
    return tuple(placed)


def _plain(value: float) -> str:
    return f"{value:.1f}".replace("-", "−")
