"""The two drawings of a reading, as numbers: the difference among its grade limits, and its directions round zero.

The first scale gives each grade the same width, so that the small differences that matter can be told apart: within a
grade it is straight, from one grade to the next its step changes, and the limits are written at it.
"""

import math
from dataclasses import dataclass

from app.colour.difference import WORDS
from app.colour.reading import Estimate
from app.colour.thresholds import GRADES, LIMITS, SkinClass

WIDTH, MARGIN, ZONE = 360, 24, 78  # px, drawn one to one also on a phone of 390 px
AXIS_WIDTH, AXIS_HALF = 200, 92
LEAST_REACH = 3.0  # L*a*b* steps to either end of a direction's scale, so that a small difference looks small
NEAREST_PX = 46  # two figures under the bar keep apart by this
AXES = ("Lightness", "Redness", "Yellowness")


@dataclass(frozen=True)
class DifferenceScale:
    """x of what is drawn: limits (x, figure), grade names (x, name), and the bar with the figures at its ends."""

    limits: tuple[tuple[float, str], ...]
    names: tuple[tuple[float, str], ...]
    start: float
    end: float
    low: tuple[float, str]
    high: tuple[float, str]
    is_over: bool  # the bar goes on past the end of the scale
    words: str


@dataclass(frozen=True)
class Direction:
    """One of the three axes: its ends in words, and the bar from low to high round zero in the middle."""

    name: str
    less: str
    more: str
    start: float
    end: float
    value: float
    words: str


def difference_scale(low: float, high: float, skin: SkinClass) -> DifferenceScale:
    """The interval of a CIEDE2000 difference on a scale of the grades for light or dark skin."""
    limits = LIMITS[skin]
    stops = (0.0, limits.match, limits.close, limits.visible, 2 * limits.visible)

    def x(value: float) -> float:
        zone = next((n for n in range(3) if value <= stops[n + 1]), 3)
        share = (min(value, stops[4]) - stops[zone]) / (stops[zone + 1] - stops[zone])
        return round(MARGIN + ZONE * (zone + share), 1)

    left, right = x(low), x(high)
    apart = max(0.0, NEAREST_PX - (right - left)) / 2
    at_low = max(MARGIN - 6.0, left - apart)
    at_high = max(at_low + NEAREST_PX, right + apart)
    slack = max(0.0, at_high - (WIDTH - 14))
    return DifferenceScale(
        tuple((x(stop), f"{stop:g}") for stop in stops),
        tuple((MARGIN + ZONE * (n + 0.5), name) for n, name in enumerate(GRADES)),
        left, max(right, left + 2), (at_low - slack, f"{low:.1f}"), (at_high - slack, f"{high:.1f}"), high > stops[4],
        f"From {low:.1f} to {high:.1f} on a scale with the limits {limits.match:g} for match, {limits.close:g} for "
        f"close and {limits.visible:g} for visible.")  # fmt: skip


def directions(deltas: tuple[Estimate, Estimate, Estimate]) -> tuple[Direction, ...]:
    """Lightness, redness and yellowness of the scar against the skin, each signed and with its own interval."""
    reach = max(LEAST_REACH, *(math.ceil(max(abs(delta.low), abs(delta.high))) for delta in deltas))

    def x(value: float) -> float:
        return round(AXIS_WIDTH / 2 + AXIS_HALF * value / reach, 1)

    return tuple(
        Direction(name, less, more, x(delta.low), x(delta.high), x(delta.value), direction_words(delta, more, less))
        for name, (more, less), delta in zip(AXES, WORDS, deltas, strict=True))  # fmt: skip


def direction_words(delta: Estimate, more: str, less: str) -> str:
    """Lighter by 3.1 to 5.3, or between 0.4 darker and 1.2 lighter: the sign is never left to a sign."""
    if delta.low > 0:
        return f"{more} by {delta.low:.1f} to {delta.high:.1f}"
    if delta.high < 0:
        return f"{less} by {-delta.high:.1f} to {-delta.low:.1f}"
    return f"between {-delta.low:.1f} {less} and {delta.high:.1f} {more}"
