"""Whether the studio's own camera and light stay as they were, and how well its photos repeat one another.

A control chart (Shewhart) of single values: the scatter is taken from the step between neighbours, so that a drift
does not widen its own limits. A value outside the limits, or eight in a row on one side of the middle, is a signal.
After eight in a row the light is a new one: from where the row began, values are compared with one another again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from app.colour.calibration import Calibration
from app.colour.difference import delta_e_00
from app.colour.spaces import FloatArray

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: limits at three times the mean moving range over 1.128,
# which is 2.66 mean moving ranges either side.
MOVING_RANGE_OF_SIGMA, SIGMAS = 1.128, 3.0
# The same, 6.3.2: eight in a row on one side of the middle (one of the Western Electric rules).
RUN = 8
# A middle and limits from fewer days than a run say nothing; after twenty they stand (common practice, no source).
FEWEST, SETTLED = 8, 20
# A later beginning of a row must fit so many times better than its first value: two means always fit better than one,
# 1.3 times in the median for eight values of noise on one side (computed here, 2000 draws). Our choice.
STEP_WORTH = 2.5
# Degrees of freedom below which the studio's own scatter is not believed: with ten a standard deviation is known to
# -26 to +59 % (chi-square, 90 %). Our choice.
FEWEST_DEGREES = 10
# Mean length of a vector of three independent standard normal numbers: sqrt(8 / pi).
MEAN_NORM_3 = float(np.sqrt(8 / np.pi))
# Brightness of the grey at which the light is described: that of a grey card of 18 %.
GREY = 0.18


@dataclass(frozen=True, slots=True)
class Stretch:
    """Values that are compared with one another: those from `first` up to, not with, `end`; no limits when few."""

    first: int
    end: int
    centre: float | None
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Signal:
    """Something out of the usual: the value at `index` is outside, or a row on one side began at `first`."""

    kind: Literal["outside", "run"]
    index: int
    first: int
    is_high: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Values in the order of time, the stretches they fall into, and signals in the order they came up."""

    points: tuple[float, ...]
    stretches: tuple[Stretch, ...]
    signals: tuple[Signal, ...]

    @property
    def centre(self) -> float | None:
        return self.stretches[-1].centre if self.stretches else None

    @property
    def lower(self) -> float | None:
        return self.stretches[-1].lower if self.stretches else None

    @property
    def upper(self) -> float | None:
        return self.stretches[-1].upper if self.stretches else None


@dataclass(frozen=True, slots=True)
class LightFacts:
    """The light of one photo as its camera recorded it, seen on the chart's neutral patches.

    red_green, blue_green: of linear light, 1 when grey came out grey. exposure_stops: how much brighter (+) or darker
    (-) than true an 18 % grey came out, in doublings. left_out: mean leave-one-out error, CIEDE2000. colour_gain: by
    how much colours had to be spread apart.
    """

    red_green: float
    blue_green: float
    exposure_stops: float
    left_out: float
    colour_gain: float


@dataclass(frozen=True, slots=True)
class Repeat:
    """How photos of the same place on the same day differ in the difference of scar and skin.

    sd_lab: pooled standard deviations of its L*, a*, b*. degrees: of freedom. photos, groups: that went in.
    mean_delta_e_00: mean distance of one measured colour from the mean of many of the same place, CIEDE2000, which
    is what `measure.measure` takes as its repeatability.
    """

    sd_lab: tuple[float, float, float]
    degrees: int
    photos: int
    groups: int
    mean_delta_e_00: float


def light_facts(calibration: Calibration) -> LightFacts:
    """What a calibration says of the light and the exposure of its photo.

    Takes: Calibration with level "chart". Gives: LightFacts.
    Source: gain and power of the neutral patches, turned round at a grey of 18 %.

    >>> from app.colour.grey import calibrate_grey
    >>> warm = calibrate_grey(np.full((99, 99, 3), [130, 118, 100], np.uint8), [[9, 9], [90, 9], [90, 90], [9, 90]])
    >>> round(light_facts(warm).red_green, 2), round(light_facts(warm).blue_green, 2)
    (1.23, 0.7)
    """
    red, green, blue = np.exp(np.log(GREY / calibration.gain) / calibration.power)
    return LightFacts(
        red_green=float(red / green),
        blue_green=float(blue / green),
        exposure_stops=float(np.log2(green / GREY)),
        left_out=calibration.loo_mean,
        colour_gain=calibration.colour_gain,
    )


def control_chart(points: Sequence[float], least: float = 0.0) -> ControlChart:
    """Control chart of single values, with limits from the moving range.

    Takes: points in the order of time; least, the smallest change that matters, in the unit of the points: limits are
    never nearer to the middle, and a row on one side counts only when its mean is a third of that away from it.
    Gives: ControlChart; the middle and the limits of a stretch are those of its first twenty values.
    Raises ValueError when a value is not finite.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals, moving range) and 6.3.2 (row of
    eight); beginning anew after a row is our choice.

    >>> chart = control_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.lower, 4), round(chart.centre, 4), round(chart.upper, 4)
    (45.8159, 50.81, 55.8041)
    """
    values = [float(point) for point in points]
    if not np.all(np.isfinite(values)):
        raise ValueError("A value of a control chart is not a number.")
    stretches: list[Stretch] = []
    signals: list[Signal] = []
    first = 0
    while first < len(values):
        stretch, found, after = _stretch(values, first, least)
        stretches.append(stretch)
        signals += found
        first = after
    return ControlChart(tuple(values), tuple(stretches), tuple(signals))


def _stretch(values: list[float], first: int, least: float) -> tuple[Stretch, list[Signal], int]:
    """The stretch from one value on, its signals, and where the next begins."""
    usual = np.array(values[first : first + SETTLED])
    if len(usual) < FEWEST:
        return Stretch(first, len(values), None, None, None), [], len(values)
    centre = float(usual.mean())
    sigma = float(np.mean(np.abs(np.diff(usual)))) / MOVING_RANGE_OF_SIGMA
    half = max(SIGMAS * sigma, least)
    signals: list[Signal] = []
    for index in range(first, len(values)):
        value = values[index]
        if abs(value - centre) > half:
            signals.append(Signal("outside", index, index, value > centre))
        began = index - RUN + 1
        if began > first and _is_row(values[began : index + 1], centre, least / SIGMAS):
            changed = began + _step_in(values[began : index + 1])
            signals = [signal for signal in signals if signal.index < changed]
            signals.append(Signal("run", index, changed, value > centre))
            return Stretch(first, changed, centre, centre - half, centre + half), signals, changed
    return Stretch(first, len(values), centre, centre - half, centre + half), signals, len(values)


def _is_row(values: list[float], centre: float, least: float) -> bool:
    one_side = all(value > centre for value in values) or all(value < centre for value in values)
    return one_side and abs(float(np.mean(values)) - centre) >= least


def _step_in(values: list[float]) -> int:
    """Where in a row the step lies, if there is one: the first may lie on the same side by chance.

    The place with the smallest sum of squares about the means before and after it; at most in the first half.
    """

    def squares(part: list[float]) -> float:
        return float(np.sum((np.array(part) - np.mean(part)) ** 2)) if part else 0.0

    halves = range(len(values) // 2 + 1)
    best = min(halves, key=lambda at: squares(values[:at]) + squares(values[at:]))
    return best if STEP_WORTH * (squares(values[:best]) + squares(values[best:])) < squares(values) else 0


def pooled_repeat(groups: Sequence[FloatArray], lab_skin: FloatArray) -> Repeat | None:
    """How well photos of the same place, taken on the same day, repeat one another.

    Takes: groups, each (n, 3) of scar-minus-skin L*, a*, b* from n photos of one place on one day; lab_skin (3,), the
    colour at which a step in L*a*b* is weighed. Gives: Repeat, or None with too little to go by.
    Source: pooled standard deviation, the root of the sum of squares about each group's mean over the sum of (n - 1);
    a difference of two colours has twice the variance of one. The scatter within the regions is in it, too, so it is
    a little on the large side.

    >>> pooled_repeat([np.array([[1.0, 0, 0], [3, 0, 0]])] * 10, np.array([65.0, 10, 16])).photos
    20
    """
    counted = [np.asarray(group, dtype=np.float64) for group in groups if len(group) > 1]
    degrees = sum(len(group) - 1 for group in counted)
    if degrees < FEWEST_DEGREES:
        return None
    squares = sum(((group - group.mean(axis=0)) ** 2).sum(axis=0) for group in counted)
    sd = np.sqrt(squares / degrees)
    per_unit = delta_e_00(lab_skin, lab_skin + np.eye(3) * 0.5) / 0.5
    of_one = sd / np.sqrt(2) * per_unit
    return Repeat(
        sd_lab=(float(sd[0]), float(sd[1]), float(sd[2])),
        degrees=degrees,
        photos=sum(len(group) for group in counted),
        groups=len(counted),
        mean_delta_e_00=MEAN_NORM_3 * float(np.sqrt(np.mean(of_one**2))),
    )
