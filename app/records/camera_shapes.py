"""A camera's control chart as shapes to draw: days from left to right, values upwards."""

from dataclasses import dataclass

from app.records.camera_words import Followed

WIDTH, HEIGHT = 640, 150
LEFT, RIGHT, TOP, BOTTOM = 56, 12, 12, 26
# Figures on the axis stand at least so far apart, or only the middle one is written.
CLOSEST = 16


@dataclass(frozen=True)
class Dot:
    x: float
    y: float
    is_outside: bool
    words: str


@dataclass(frozen=True)
class Level:
    """A middle or a limit, from one day to another."""

    x1: float
    x2: float
    y: float
    is_limit: bool


@dataclass(frozen=True)
class Mark:
    """A figure on the upright axis."""

    y: float
    words: str


@dataclass(frozen=True)
class ChartShapes:
    title: str
    width: int
    height: int
    line: str  # through every day
    dots: tuple[Dot, ...]
    levels: tuple[Level, ...]
    marks: tuple[Mark, ...]
    first_day: str
    last_day: str


def shapes(one: Followed) -> ChartShapes:
    """The chart of one quantity. A day is as far from the next as any other: it is their order that counts."""
    chart, quantity = one.chart, one.quantity
    bounds = [value for stretch in chart.stretches for value in (stretch.lower, stretch.upper) if value is not None]
    low, high = _span([*chart.points, *bounds], quantity.least)

    def x(index: float) -> float:
        steps = max(len(chart.points) - 1, 1)
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (index / steps if len(chart.points) > 1 else 0.5), 1)

    def y(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (high - value) / (high - low), 1)

    outside = {signal.index for signal in one.signals if signal.kind == "outside"}
    dots = tuple(
        Dot(x(index), y(value), index in outside, f"{one.days[index].on.isoformat()}: {quantity.number(value)}")
        for index, value in enumerate(chart.points)
    )
    levels = [
        Level(x(stretch.first), x(max(stretch.end - 1, stretch.first)), y(value), value != stretch.centre)
        for stretch in chart.stretches
        for value in (stretch.lower, stretch.centre, stretch.upper)
        if value is not None
    ]
    ends = (low + (high - low) * 0.1, high - (high - low) * 0.1)
    marks = [chart.lower, chart.centre, chart.upper] if chart.centre is not None else ends
    placed = [Mark(y(value), quantity.number(value)) for value in marks if value is not None]
    if len(placed) == 3 and placed[0].y - placed[2].y < 2 * CLOSEST:
        placed = [placed[1]]
    said = one.sentences()[0]
    return ChartShapes(
        title=f"{quantity.name}, {len(chart.points)} days. {said}",
        width=WIDTH,
        height=HEIGHT,
        line=" ".join(f"{dot.x},{dot.y}" for dot in dots),
        dots=dots,
        levels=tuple(levels),
        marks=tuple(placed),
        first_day=f"{one.days[0].on:%-d %b %Y}" if one.days else "",
        last_day=f"{one.days[-1].on:%-d %b %Y}" if len(one.days) > 1 else "",
    )


def _span(values: list[float], least: float) -> tuple[float, float]:
    """What the picture reaches over: all values, and never so little that noise looks like a change."""
    low, high = min(values), max(values)
    room = max((2 * least - (high - low)) / 2, 0.08 * (high - low), least * 0.1)
    return low - room, high + room
