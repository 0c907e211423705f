"""Turning the colours of a photo into measured colours by means of its chart.

Method: on the neutral patches a gain and a power are fitted for each channel; then one 3 x 3 matrix carries the
balanced channels to linear RGB, fitted to all patches that are neither cut off nor in shadow. How good it is, is
judged only on patches the fit has not seen: each patch is left out once.

What leaving out cannot show is a change that a matrix can undo: colours that are all paler by the same share, on the
chart or by the camera's picture style. How far the colours had to be spread is kept as `colour_gain` and judged too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal, Self

import numpy as np
import numpy.typing as npt

from app.colour.calibration_fit import Fit, fitted_to
from app.colour.chart import Chart
from app.colour.chart_reference import ChartReference, shipped
from app.colour.difference import delta_e_00
from app.colour.spaces import BoolArray, FloatArray, linear_rgb_from_srgb

METHOD = "neutral gain and power, 3x3 matrix, leave one out; 2"

Level = Literal["chart", "grey"]
Usable = Literal["measured", "caution", "refused"]

# Mean leave-one-out error (CIEDE2000) up to which a calibration is trusted: 2 to 3.5 is what careful photos reached
# in our own runs on real photos; the same right chart on poor thumbnails gave up to 5.7, a wrong chart 12.
MEASURED_TO = 3.5
REFUSED_ABOVE = 6.0
# The same on the skin-like patches alone, which a fading dye moves first: 5.3 was the worst with a right chart on poor
# thumbnails; with a third of its yellow and magenta gone the same charts gave 7 to 11 (tests/colour/test_chart.py).
SKIN_CAUTION_ABOVE, SKIN_REFUSED_ABOVE = 4.5, 7.0
# Real photos needed their colours spread by 1.06 to 1.13; a chart that lost 15, 30, 50 % of its colour all over gave
# 1.2 to 1.3, 1.5 to 1.6 and 2.0 to 2.3 (same tests). A pale picture style of the camera looks alike. Our choice.
PALE_CAUTION_ABOVE, PALE_REFUSED_ABOVE = 1.35, 1.6
# A patch that differs by more than this share from even light is in shadow or glare (colour findings, section 7).
SHADOW_ABOVE = 0.30
# The fit has 15 numbers: with less than this left of a chart too little is left over to judge it. Our choice.
FEWEST_PATCHES, FEWEST_SHARE = 12, 0.7
FEWEST_NEUTRALS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """How the colours of one photo become measured ones, and how far that can be trusted.

    level: what it stands on; "grey" is a grey card (`grey.calibrate_grey`), where n below is the trial's.
    gain, power: (3,) of the red, green, blue channel on linear light. matrix: (3, 3) from balanced to linear RGB.
    loo_delta_e_00: (n,) error of each patch when left out; loo_lab_d65: (n, 3) the same as L*a*b* steps, measured
    minus reference. used: (n,) patches that took part in the fit. loo_mean over the used patches; loo_skin over the
    skin-like patches, or loo_mean when there are none that could be used.
    """

    chart: Chart
    gain: FloatArray
    power: FloatArray
    matrix: FloatArray
    used: BoolArray
    loo_lab_d65: FloatArray
    loo_delta_e_00: FloatArray
    loo_mean: float
    loo_skin: float
    usable: Usable
    reasons: tuple[str, ...]
    level: Level = "chart"

    @property
    def colour_gain(self) -> float:
        """By how much colours are spread apart to become true: 1 when the photo shows them as strong as they are."""
        return colour_gain_of(self.matrix)

    def to_dict(self) -> dict[str, Any]:
        return {
            "method": METHOD,
            "level": self.level,
            "chart": self.chart.to_dict(),
            "gain": self.gain.tolist(),
            "power": self.power.tolist(),
            "matrix": self.matrix.tolist(),
            "used": self.used.tolist(),
            "loo_lab_d65": self.loo_lab_d65.tolist(),
            "loo_delta_e_00": self.loo_delta_e_00.tolist(),
            "loo_mean": self.loo_mean,
            "loo_skin": self.loo_skin,
            "usable": self.usable,
            "reasons": list(self.reasons),
        }

    @classmethod
    def from_dict(cls, kept: dict[str, Any]) -> Self:
        arrays = {
            key: np.array(kept[key], dtype=np.float64)
            for key in ("gain", "power", "matrix", "loo_lab_d65", "loo_delta_e_00")
        }
        return cls(
            chart=Chart.from_dict(kept["chart"]),
            used=np.array(kept["used"], dtype=np.bool_),
            loo_mean=float(kept["loo_mean"]),
            loo_skin=float(kept["loo_skin"]),
            usable=kept["usable"],
            reasons=tuple(kept["reasons"]),
            level=kept.get("level", "chart"),
            **arrays,
        )


def calibrate(chart: Chart, reference: ChartReference | None = None) -> Calibration:
    """Calibration of a photo from its chart.

    Takes: Chart; the reference it was read with, the shipped 24 patches unless given. Gives: Calibration; `usable` is
    "refused" when the chart cannot be what it should be, with `reasons` in plain words.
    Raises ValueError when the chart has another number of patches than the reference.
    Source: our own comparison on real photos (colour findings, section 6): gain and power on the neutrals, then a
    3 x 3 matrix, was best of seven methods when judged on left-out patches.
    """
    reference = shipped() if reference is None else reference
    if len(chart.patch_srgb8) != len(reference.names):
        raise ValueError("The chart was read with another reference.")
    seen = linear_rgb_from_srgb(np.maximum(chart.patch_srgb8, 0.5) / 255)
    used = ~chart.clipped & (np.abs(chart.shadow_residual) <= SHADOW_ABOVE)
    enough = (
        int(used.sum()) >= max(FEWEST_PATCHES, np.ceil(FEWEST_SHARE * len(used)))
        and int(used[list(reference.neutrals)].sum()) >= FEWEST_NEUTRALS
    )
    # Too few good patches: fit what there is, so that the numbers can be shown, and refuse below.
    fitted = used if enough else np.ones(len(used), dtype=np.bool_)
    fit = fitted_to(seen, fitted, reference)
    loo_lab_d65 = fit.lab_d65(seen) - reference.lab_d65
    for index in np.flatnonzero(fitted):
        without = fitted.copy()
        without[index] = False
        curves = None if index in reference.neutrals else (fit.gain, fit.power)
        predicted = fitted_to(seen, without, reference, curves).lab_d65(seen[index])
        loo_lab_d65[index] = predicted - reference.lab_d65[index]
    error = delta_e_00(reference.lab_d65 + loo_lab_d65, reference.lab_d65)
    loo_mean = float(error[fitted].mean())
    skin = [float(error[index]) for index in reference.skin_like if used[index]]
    found = Calibration(
        chart=chart,
        gain=fit.gain,
        power=fit.power,
        matrix=fit.matrix,
        used=used,
        loo_lab_d65=loo_lab_d65,
        loo_delta_e_00=error,
        loo_mean=loo_mean,
        loo_skin=float(np.mean(skin)) if skin else loo_mean,
        usable="measured",
        reasons=(),
    )
    usable, reasons = _judged(found, enough, reference)
    return replace(found, usable=usable, reasons=reasons)


def colour_gain_of(matrix: FloatArray) -> float:
    """By how much a matrix spreads colours of equal brightness apart.

    Takes: matrix (3, 3) on linear RGB. Gives: 1 for one that leaves colours as strong as they are, 2 when it
    doubles their distance from grey: the geometric mean over the directions of red against green and of blue.
    Source: the determinant of the matrix on the plane at right angles to grey.

    >>> round(colour_gain_of(np.eye(3) * 1.5 - 0.5 / 3), 3)
    1.5
    """
    plane = np.array([[1.0, -1.0, 0.0], [1.0, 1.0, -2.0]])
    plane /= np.linalg.norm(plane, axis=1, keepdims=True)
    return float(np.sqrt(abs(np.linalg.det(plane @ matrix @ plane.T))))


def apply(calibration: Calibration, srgb: npt.ArrayLike) -> FloatArray:
    """Measured CIE L*a*b* of colours in a calibrated photo.

    Takes: Calibration; srgb (3,) or (n, 3), sRGB curve, 0 to 1, as they stand in the photo.
    Gives: lab_d65 of the same shape, D65 and 2 degree observer. Raises ValueError when the calibration was refused.
    Source: as `calibrate`.
    """
    if calibration.usable == "refused":
        raise ValueError("This photo's chart was refused: no colour can be measured from it.")
    fit = Fit(calibration.gain, calibration.power, calibration.matrix)
    return fit.lab_d65(linear_rgb_from_srgb(srgb))


def _judged(found: Calibration, enough: bool, reference: ChartReference) -> tuple[Usable, tuple[str, ...]]:
    """How far a fit may be used, and why no further."""
    chart, skin = found.chart, [number for number in reference.skin_like if found.used[number]]
    is_shipped = reference.key == shipped().key
    name = "24-patch chart (made after November 2014)" if is_shipped else "chart as it was registered"
    may_be = "It may be another maker's chart, an older one, faded or dirty, or lit by two kinds of light."
    bad, poor = [], []
    if found.loo_mean > REFUSED_ABOVE:
        bad.append(
            f"The chart's colours do not fit the {name}: left-out patches miss by {found.loo_mean:.1f} on average. "
            f"{may_be}"
        )
    elif skin and found.loo_skin > SKIN_REFUSED_ABOVE:
        bad.append(
            f"The skin-like patches of the chart do not fit the {name}: left out, they miss by {found.loo_skin:.1f}. "
            f"{may_be}"
        )
    elif found.loo_mean > MEASURED_TO:
        poor.append(f"The chart fits only roughly: left-out patches miss by {found.loo_mean:.1f} on average.")
    elif skin and found.loo_skin > SKIN_CAUTION_ABOVE:
        poor.append(f"The skin-like patches fit only roughly: left out, they miss by {found.loo_skin:.1f}.")
    if found.colour_gain > PALE_CAUTION_ABOVE:
        (bad if found.colour_gain > PALE_REFUSED_ABOVE else poor).append(
            f"The chart's colours are {1 - 1 / found.colour_gain:.0%} paler in this photo than they should be: it has "
            f"faded, or the camera is set to a pale picture style."
        )
    if not enough:
        bad.append("Too many patches of the chart are cut off, in shadow or in glare.")
    if bad:
        return "refused", tuple(bad)
    said = list(poor)
    if shadowed := int(np.sum(~found.used & ~chart.clipped)):
        said.append(f"{_patches(shadowed)} of the chart in shadow or glare; left out.")
    if chart.clipped.any():
        said.append(f"{_patches(int(chart.clipped.sum()))} of the chart too bright or too dark to read; left out.")
    return ("caution" if poor else "measured"), tuple(said)


def _patches(count: int) -> str:
    return "1 patch" if count == 1 else f"{count} patches"
