"""How outcomes are judged, counted and compared, in words that stay honest when there are few.

A verdict has four steps with our own definitions, looked at from 60 cm and from 2 m, in two lights, the worse light
counting. A share is shown as its count and the range that would be no surprise (95 % interval of Wilson), never as a
bare percentage; nobody is put in order before each has 30 finished zones. A change of colour difference is stated only
when the two intervals are told apart.

Sources: four-step colour match, free idea used in vitiligo trials (journal); 60 cm and 2 m in two lights: common
practice, no source; Wilson, Journal of the American Statistical Association 22, 1927.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.colour.change import between
from app.colour.difference import Estimate

Verdict = Literal["poor", "fair", "good", "excellent"]
Interval = tuple[float, float]

# Below about 30 finished zones the interval is so wide that an order is chance: 10 of 32 still spans 18 to 49 %.
# Common practice, no source for the figure itself.
RANK_FROM = 30
CONFIDENCE = 0.95


@dataclass(frozen=True)
class VerdictStep:
    key: Verdict
    words: str
    definition: str


VERDICTS: tuple[VerdictStep, ...] = (
    VerdictStep("poor", "Poor", "Seen at once from 2 m."),
    VerdictStep("fair", "Fair", "Seen at once from 60 cm; from 2 m only when looked for."),
    VerdictStep("good", "Good", "From 60 cm only when looked for; not seen from 2 m."),
    VerdictStep("excellent", "Excellent", "Not found from 60 cm, even when told where to look."),
)
VERDICT_RULE = "Look from 60 cm and from 2 m, in two different lights. The worse light counts."


@dataclass(frozen=True)
class Proportion:
    """k of n with its interval, as shares from 0 to 1."""

    k: int
    n: int
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class MedianIqr:
    """Median and quartiles by linear interpolation between the ordered values (the inclusive method)."""

    n: int
    median: float
    low: float
    high: float
    words: str


@dataclass(frozen=True)
class Group:
    """What is compared: finished zones of one artist, say, and how many of them were judged good or excellent."""

    label: str
    k: int
    n: int


@dataclass(frozen=True)
class Comparison:
    """Groups beside each other: by name, or from the highest share down when `ranked`. The words say why."""

    rows: tuple[tuple[Group, Proportion], ...]
    ranked: bool
    words: str


@dataclass(frozen=True)
class Change:
    """How far a colour difference moved, in ΔE00. Positive means smaller than before, that is better."""

    low: float
    high: float
    direction: Literal["smaller", "larger", "not told apart"]
    words: str


def is_success(verdict: Verdict) -> bool:
    return verdict in ("good", "excellent")


def proportion(k: int, n: int) -> Proportion:
    """k of n and the shares that would be no surprise. Raises ValueError unless 0 <= k <= n."""
    if not 0 <= k <= n:
        raise ValueError("a part is between nothing and the whole")
    if n == 0:
        return Proportion(0, 0, 0.0, 1.0, "none yet, so nothing can be said")
    # Here and not above: importing it takes two seconds, which every start of the command line would pay.
    from scipy.stats import binomtest

    found = binomtest(k, n).proportion_ci(confidence_level=CONFIDENCE, method="wilson")
    low, high = float(found.low), float(found.high)
    span = f"{low:.0%} to {high:.0%}".replace("%", " %")
    if n < RANK_FROM:
        words = f"{k} of {n}; with so few, anything from {span} would be no surprise"
    else:
        words = f"{k} of {n}; anything from {span} would be no surprise"
    return Proportion(k, n, low, high, words)


def compare(groups: Sequence[Group]) -> Comparison:
    """Groups beside each other; put in order only when every one has enough finished zones and some are told apart."""
    by_name = tuple((group, proportion(group.k, group.n)) for group in sorted(groups, key=lambda one: one.label))
    few = [group.label for group, _ in by_name if group.n < RANK_FROM]
    if few:
        return Comparison(
            by_name, False, f"Not put in order: fewer than {RANK_FROM} finished zones ({', '.join(few)})."
        )
    if len(by_name) < 2:
        return Comparison(by_name, False, "Nothing to compare with.")
    if max(share.low for _, share in by_name) <= min(share.high for _, share in by_name):
        return Comparison(by_name, False, "Not put in order: the ranges overlap, so chance alone could explain it.")
    ordered = tuple(sorted(by_name, key=lambda row: (-row[0].k / row[0].n, row[0].label)))
    words = (
        "In order of their share; where ranges overlap the order is not sure. Harder work is not taken into account."
    )
    return Comparison(ordered, True, words)


def median_iqr(values: Sequence[float]) -> MedianIqr | None:
    """Median and the middle half; None for no values, which is not the same as zero."""
    if not values:
        return None
    middle = statistics.median(values)
    if len(values) == 1:
        low = high = middle
        return MedianIqr(1, middle, low, high, f"{middle:g}, from one only")
    low, _, high = statistics.quantiles(values, n=4, method="inclusive")
    words = f"{middle:g} in the middle, half of them from {low:g} to {high:g} ({len(values)} in all)"
    return MedianIqr(len(values), middle, low, high, words)


def _checked(interval: Interval) -> Interval:
    low, high = interval
    if not (math.isfinite(low) and math.isfinite(high) and 0 <= low <= high):
        raise ValueError("a colour difference is an interval of finite numbers from zero up, low before high")
    return interval


def _range_words(low: float, high: float) -> str:
    """Whole ΔE00 units, rounded outwards so that rounding never claims more than was measured."""
    least, most = math.floor(low), math.ceil(high)
    return f"{least} to {most}" if least > 0 else f"up to {most}"


def change(before: Estimate, after: Estimate) -> Change:
    """By how much a colour difference (ΔE00) fell or rose between two readings, as the zone's own page reckons it.

    Told apart when the 90 % interval of the change excludes 0; its ends add by their squares, since the errors of two
    photos have nothing in common (`colour.change.between`).
    """
    for one in (before, after):
        _checked((one.low, one.high))
    moved = between(before, after)
    low, high = -moved.high, -moved.low
    if low > 0:
        return Change(low, high, "smaller", f"smaller by {_range_words(low, high)}")
    if high < 0:
        return Change(low, high, "larger", f"larger by {_range_words(-high, -low)}")
    return Change(low, high, "not told apart", "not told apart")
