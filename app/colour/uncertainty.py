"""How far a measured colour, and the difference of two colours in one photo, may be off: covariances in L*a*b*.

What goes into the covariance of a difference, scar minus skin:
* sampling: the mottles of skin are about as large as what was outlined, see mottling.py;
* repeatability: the same two places photographed again are not the same again. The studio's own figure when it is
  known; until then a spectrophotometer put down again on the same skin, which differs from its own mean by 0.64;
* the calibration's error, in the part that does not cancel. Scar and skin share one photo and one calibration, and
  colours close together are missed in much the same direction: see SHARES_NOTHING_FROM;
* the fall-off of light seen on the chart, carried over the distance between the two regions, and what the chart does
  not see of it;
* the steps in which JPEG keeps colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.calibration import Calibration, apply
from app.colour.difference import delta_e_00
from app.colour.mottling import Blocks, sampling_covariances
from app.colour.spaces import FloatArray

# Mean difference of one placement of a spectrophotometer from the mean of three on the same skin, computed from the
# NIST skin set (100 subjects, DOI 10.18434/M38597). The mean of three holds a third of each, hence 2/3.
REPLACEMENT_DELTA_E_00, REPLACEMENT_SHARE = 0.64, 2 / 3
# Mean length of a vector of three independent standard normal numbers: sqrt(8 / pi).
MEAN_NORM_3 = 1.5958
# Computed here. 70 measured skins of the NIST set through 60 made-up cameras, each calibrated on a chart: the error of
# the difference of two skins grew as the square root of their distance, and reached that of two unrelated patches at
# about 200 (tests/published/test_skin_spectra.py); on the chart itself, where neighbouring patches are different
# paints, it is about 60. A scar with pigment in it lies between: 100, our choice. Scars on six classes of skin through
# the cameras of the rendered truth bench: beyond a distance of 12 the error grows faster, as a share of the distance:
# (distance / 36) squared. In lightness, which the six greys of the chart hold, its variance was 0.15 to 0.25 of that
# in red and yellow; 0.4 is counted, as the tone of real cameras is less smooth.
SHARES_NOTHING_FROM, GROWS_FASTER_FROM, LIGHTNESS_SHARE = 100.0, 36.0, 0.4
# JPEG keeps the mean colour of a block in steps; on smooth skin all blocks of a region fall on the same step, so that
# it does not average out. At a quality of about 85 a step is 0.64 of 255 in Cb and in Cr, evenly
# spread: 0.64 / sqrt(12).
# Computed from the usual tables (ITU-T T.81 annex K scaled as by the IJG library; from memory, unchecked).
COLOUR_STEP_SD = 0.64 / 12**0.5
# Red, green and blue of one step of Cb and of Cr (ITU-T T.871).
RGB_OF_CB_CR: FloatArray = np.array([[0.0, -0.344, 1.772], [1.402, -0.714, 0.0]])
# Light that the plane through the chart does not see (dark corners, a lamp close by) and the error of that plane: as a
# natural log over the long side of the photo. Corners 15 % darker than the middle are about this much; our choice.
UNSEEN_LIGHT = 0.10
# Light measured on the chart is not carried further than this (natural log): beyond, it says nothing of the scar.
MOST_LIGHT = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Covariances (3, 3) in L*a*b*: of the whole difference, of its sampling alone, and of each colour by itself."""

    difference: FloatArray
    sampling: FloatArray
    scar: FloatArray
    skin: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """One region as measured: lab_d65 (n, 3) of its pixels, their middle srgb8 (3,), its blocks, its middle (2,) px."""

    lab_d65: FloatArray
    srgb8: FloatArray
    blocks: Blocks
    centre: FloatArray

    @property
    def middle(self) -> FloatArray:
        return np.asarray(np.median(self.lab_d65, axis=0), dtype=np.float64)

    @property
    def scatter(self) -> FloatArray:
        """Spread of the pixels on each axis, as a standard deviation: 1.4826 times the median deviation (3,)."""
        return np.asarray(1.4826 * np.median(np.abs(self.lab_d65 - self.middle), axis=0), dtype=np.float64)


def spread_of(
    scar: Seen, skin: Seen, calibration: Calibration, repeatability: float | None, long_side_px: int
) -> Spread:
    """How far two colours of one photo, and their difference, may be off.

    Takes: scar and skin as seen; the calibration of their photo; repeatability as `axis_covariance` takes it, of one
    colour of one photo about the mean of many, or None for the NIST figure;
    long_side_px of the photo. Gives: Spread. Source: as said at the top of this file.
    """
    at_scar, at_skin = scar.middle, skin.middle
    one = repeated(repeatability)
    again = axis_covariance(one, at_skin)
    missed = axis_covariance(calibration.loo_mean, at_skin)
    kept = missed_apart(calibration.loo_mean, at_scar, at_skin, calibration.level)
    sampled, by_scar, by_skin = sampling_covariances(scar.blocks, skin.blocks, (scar.lab_d65, skin.lab_d65))
    steps = [stepped_covariance(calibration, one.srgb8) for one in (scar, skin)]
    chart = calibration.chart.corners.mean(axis=0)
    return Spread(
        difference=sampled
        + 2 * again
        + kept
        + steps[0]
        + steps[1]
        + light_covariance(calibration, at_skin, scar.centre - skin.centre, long_side_px),
        sampling=sampled,
        scar=by_scar + again + missed + light_covariance(calibration, at_scar, scar.centre - chart, long_side_px),
        skin=by_skin + again + missed + light_covariance(calibration, at_skin, skin.centre - chart, long_side_px),
    )


def stepped_covariance(calibration: Calibration, srgb8: FloatArray) -> FloatArray:
    """What the steps in which JPEG keeps colour do to a measured colour: covariance (3, 3) in L*a*b*.

    Takes: calibration; srgb8 (3,), the colour as it stands in the photo, 0 to 255.
    Source: as given at COLOUR_STEP_SD; slopes of the calibration over one step.
    """
    at = np.vstack([srgb8, srgb8 + RGB_OF_CB_CR]) / 255
    lab = apply(calibration, np.clip(at, 0, 1))
    slope = (lab[1:] - lab[0]) * COLOUR_STEP_SD
    return np.asarray(slope.T @ slope, dtype=np.float64)


def repeated(repeatability: float | None) -> float:
    """Mean CIEDE2000 distance of one measured colour from the mean of many of the same place.

    Takes: the studio's own figure, or None for the NIST set's. Raises ValueError when it is negative or not finite.
    Source: as given at REPLACEMENT_DELTA_E_00.

    >>> round(repeated(None), 3)
    0.784
    """
    if repeatability is None:
        return float(REPLACEMENT_DELTA_E_00 / np.sqrt(REPLACEMENT_SHARE))
    if not 0 <= repeatability < np.inf:
        raise ValueError("A repeatability is a number of 0 or more.")
    return float(repeatability)


def axis_covariance(mean_delta_e_00: float, lab_d65: FloatArray) -> FloatArray:
    """Covariance (3, 3) in L*a*b* of an error alike in all directions, whose mean size in CIEDE2000 is given.

    Takes: mean_delta_e_00, 0 upwards; lab_d65 (3,) where it holds. Source: mean length of a normal vector.

    >>> bool(axis_covariance(1.0, np.array([65.0, 10.0, 16.0]))[0, 0] > 0.4)
    True
    """
    per_unit = delta_e_00(lab_d65, lab_d65 + np.eye(3) * 0.5) / 0.5
    return np.diag((mean_delta_e_00 / MEAN_NORM_3 / per_unit) ** 2)


def not_shared(distance: float) -> float:
    """Share of the calibration's error variance that the difference of two colours keeps, 0 to 1.

    Takes: distance of the two colours in L*a*b*, 0 upwards. Source: as given at SHARES_NOTHING_FROM.

    >>> not_shared(0.0), round(not_shared(10.0), 3), not_shared(80.0)
    (0.0, 0.177, 1.0)
    """
    return min(1.0, distance / SHARES_NOTHING_FROM + (distance / GROWS_FASTER_FROM) ** 2)


def missed_apart(left_out_mean: float, lab_1: FloatArray, lab_2: FloatArray, level: str = "chart") -> FloatArray:
    """What of the calibration's error stays in the difference of two colours of the same photo: covariance (3, 3).

    Takes: left_out_mean, CIEDE2000 of the chart's left-out patches; lab_1, lab_2 (3,); level of the calibration: a
    grey card alone does not hold the tone, so that lightness is missed like the rest. Gives: L*a*b*, 0 when the two
    colours are the same. Source: as given at SHARES_NOTHING_FROM.

    >>> float(missed_apart(2.0, np.array([65.0, 10.0, 16.0]), np.array([65.0, 10.0, 16.0])).max())
    0.0
    """
    of_lightness = 1.0 if level == "grey" else LIGHTNESS_SHARE
    share = 2 * not_shared(float(np.linalg.norm(lab_1 - lab_2))) * np.diag([of_lightness, 1.0, 1.0])
    return np.asarray(axis_covariance(left_out_mean, lab_2) * share, dtype=np.float64)


def light_covariance(
    calibration: Calibration, lab_d65: FloatArray, offset_px: FloatArray, long_side_px: int
) -> FloatArray:
    """What a fall-off of the light over a distance does to a colour, all of it in one direction: covariance (3, 3).

    Takes: calibration, for the slope of light on its chart; lab_d65 (3,); offset_px (2,) from one place to the other;
    long_side_px of the photo. Gives: L*a*b*.
    Source: d L* / d ln(light) = (L* + 16) / 3 and likewise a* / 3, b* / 3: the cube root of ISO/CIE 11664-4.
    """
    unseen = UNSEEN_LIGHT * float(np.linalg.norm(offset_px)) / long_side_px
    log_light = min(float(np.hypot(calibration.chart.light_slope @ offset_px, unseen)), MOST_LIGHT)
    step = (lab_d65 + np.array([16.0, 0.0, 0.0])) / 3 * log_light
    return np.outer(step, step)
