"""Turning the colours of a photo into measured colours by means of its chart.

Method: on the six neutral patches a gain and a power are fitted for each channel; then one 3 x 3 matrix carries the
balanced channels to linear RGB, fitted to all patches that are neither cut off nor in shadow. How good it is, is
judged only on patches the fit has not seen: each patch is left out once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Self

import numpy as np
import numpy.typing as npt

from app.colour.chart import NEUTRALS, PATCHES, SKIN_PATCHES, Chart, reference
from app.colour.difference import delta_e_00
from app.colour.spaces import (
    BoolArray,
    FloatArray,
    lab_d65_from_xyz_d65,
    linear_rgb_from_srgb,
    xyz_d65_from_linear_rgb,
)

METHOD = "neutral gain and power, 3x3 matrix, leave one out; 1"

Usable = Literal["measured", "caution", "refused"]

# Mean leave-one-out error (CIEDE2000) up to which a calibration is trusted: 2 to 3.5 is what careful photos reached
# in our own runs on real photos; the same right chart on poor thumbnails gave up to 5.7, a wrong chart 12.
MEASURED_TO = 3.5
REFUSED_ABOVE = 6.0
# A patch that differs by more than this share from even light is in shadow or glare (colour findings, section 7).
SHADOW_ABOVE = 0.30
# The fit has 15 numbers: with fewer patches than this too little is left over to judge it. Our choice.
FEWEST_PATCHES = 17
FEWEST_NEUTRALS = 4
ROUNDS = 2
# Patches with a residual over this many times the usual one count for less (Huber's limit is near 1.5 to 2).
ROBUST_AT = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """How the colours of one photo become measured ones, and how far that can be trusted.

    gain, power: (3,) of the red, green, blue channel on linear light. matrix: (3, 3) from balanced to linear RGB.
    loo_delta_e_00: (24,) error of each patch when left out; loo_lab_d65: (24, 3) the same as L*a*b* steps, measured
    minus reference. used: (24,) patches that took part in the fit. loo_mean over the used patches; loo_skin over the
    two skin patches, or loo_mean when those were not usable.
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

    def to_dict(self) -> dict[str, Any]:
        return {
            "method": METHOD,
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
            **arrays,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    gain: FloatArray
    power: FloatArray
    matrix: FloatArray

    def lab_d65(self, linear_rgb: FloatArray) -> FloatArray:
        balanced = self.gain * np.maximum(linear_rgb, 1e-6) ** self.power
        return lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(balanced @ self.matrix.T))


def calibrate(chart: Chart) -> Calibration:
    """Calibration of a photo from its 24-patch chart.

    Takes: Chart. Gives: Calibration; `usable` is "refused" when the chart cannot be what it should be, with
    `reasons` in plain words.
    Source: our own comparison on real photos (colour findings, section 6): gain and power on the neutrals, then a
    3 x 3 matrix, was best of seven methods when judged on left-out patches.
    """
    seen = linear_rgb_from_srgb(np.maximum(chart.patch_srgb8, 0.5) / 255)
    used = ~chart.clipped & (np.abs(chart.shadow_residual) <= SHADOW_ABOVE)
    enough = int(used.sum()) >= FEWEST_PATCHES and int(used[NEUTRALS].sum()) >= FEWEST_NEUTRALS
    # Too few good patches: fit what there is, so that the numbers can be shown, and refuse below.
    fitted = used if enough else np.ones(PATCHES, dtype=np.bool_)
    fit = _fitted(seen, fitted)
    loo_lab_d65 = fit.lab_d65(seen) - reference().lab_d65
    for index in np.flatnonzero(fitted):
        without = fitted.copy()
        without[index] = False
        loo_lab_d65[index] = _fitted(seen, without).lab_d65(seen[index]) - reference().lab_d65[index]
    error = delta_e_00(reference().lab_d65 + loo_lab_d65, reference().lab_d65)
    loo_mean = float(error[fitted].mean())
    skin = [float(error[index]) for index in SKIN_PATCHES if used[index]]
    usable, reasons = _judged(chart, used, enough, loo_mean)
    return Calibration(
        chart=chart,
        gain=fit.gain,
        power=fit.power,
        matrix=fit.matrix,
        used=used,
        loo_lab_d65=loo_lab_d65,
        loo_delta_e_00=error,
        loo_mean=loo_mean,
        loo_skin=float(np.mean(skin)) if skin else loo_mean,
        usable=usable,
        reasons=reasons,
    )


def apply(calibration: Calibration, srgb: npt.ArrayLike) -> FloatArray:
    """Measured CIE L*a*b* of colours in a calibrated photo.

    Takes: Calibration; srgb (3,) or (n, 3), sRGB curve, 0 to 1, as they stand in the photo.
    Gives: lab_d65 of the same shape, D65 and 2 degree observer. Raises ValueError when the calibration was refused.
    Source: as `calibrate`.
    """
    if calibration.usable == "refused":
        raise ValueError("This photo's chart was refused: no colour can be measured from it.")
    fit = _Fit(calibration.gain, calibration.power, calibration.matrix)
    return fit.lab_d65(linear_rgb_from_srgb(srgb))


def _judged(chart: Chart, used: BoolArray, enough: bool, loo_mean: float) -> tuple[Usable, tuple[str, ...]]:
    reasons = []
    shadowed = int(np.sum(~used & ~chart.clipped))
    if loo_mean > REFUSED_ABOVE:
        reasons.append(
            f"The chart's colours do not fit the 24-patch chart (made after November 2014): left-out patches miss by "
            f"{loo_mean:.1f} on average. It may be another maker's chart, an older one, faded or dirty, or lit by two "
            f"kinds of light."
        )
    if not enough:
        reasons.append("Too many patches of the chart are cut off, in shadow or in glare.")
    if reasons:
        return "refused", tuple(reasons)
    if loo_mean > MEASURED_TO:
        reasons.append(f"The chart fits only roughly: left-out patches miss by {loo_mean:.1f} on average.")
    if shadowed:
        reasons.append(f"{_patches(shadowed)} of the chart in shadow or glare; left out.")
    if chart.clipped.any():
        reasons.append(f"{_patches(int(chart.clipped.sum()))} of the chart too bright or too dark to read; left out.")
    return ("caution" if loo_mean > MEASURED_TO else "measured"), tuple(reasons)


def _patches(count: int) -> str:
    return "1 patch" if count == 1 else f"{count} patches"


def _fitted(seen: FloatArray, fitted: BoolArray) -> _Fit:
    gain, power = _neutral_curves(seen, fitted)
    balanced = gain * np.maximum(seen, 1e-6) ** power
    wanted = reference().linear_rgb
    # A step of linear light counts by how much lightness it is: d(cube root) falls with the 2/3 power of the light.
    luminance = np.maximum(wanted @ [0.2126, 0.7152, 0.0722], 0.01)
    base = np.where(fitted, luminance ** (-2 / 3), 0.0)
    matrix = _straight(balanced, wanted, base)
    for _ in range(ROUNDS):
        matrix = _lab_step(balanced, matrix, fitted)
    return _Fit(gain, power, matrix)


def _neutral_curves(seen: FloatArray, fitted: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Gain and power for each channel that carry the neutral patches to their reference, by lightness."""
    rows = np.arange(PATCHES)[NEUTRALS][fitted[NEUTRALS]]
    gain, power = np.ones(3), np.ones(3)
    for channel in range(3):
        x, wanted = np.log(seen[rows, channel]), reference().linear_rgb[rows, channel]
        target = np.cbrt(wanted)
        # Straight line through the logarithms first, then a few steps on the cube roots, near to lightness.
        power[channel], offset = np.polyfit(x, np.log(wanted), 1, w=target)
        for _ in range(6):
            model = np.exp((offset + power[channel] * x) / 3)
            design = np.column_stack([model / 3, model * x / 3])
            step = np.linalg.lstsq(design, target - model, rcond=None)[0]
            offset, power[channel] = offset + step[0], power[channel] + step[1]
        gain[channel] = np.exp(offset)
    return gain, power


def _straight(balanced: FloatArray, wanted: FloatArray, weight: FloatArray) -> FloatArray:
    root = weight[:, None]
    return np.asarray(np.linalg.lstsq(balanced * root, wanted * root, rcond=None)[0].T, dtype=np.float64)


def _lab_step(balanced: FloatArray, matrix: FloatArray, fitted: BoolArray) -> FloatArray:
    """One robust Gauss-Newton step of the matrix on the L*a*b* errors, each weighed as CIEDE2000 weighs it."""
    lab = reference().lab_d65[fitted]
    rgb = balanced[fitted]

    def errors(candidate: FloatArray) -> FloatArray:
        return _weighed(lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(rgb @ candidate.T)) - lab, lab)

    rest = errors(matrix)
    jacobian = np.empty((rest.size, 9))
    for number in range(9):
        moved = matrix.copy()
        moved.flat[number] += 1e-5
        jacobian[:, number] = ((errors(moved) - rest) / 1e-5).ravel()
    size = np.linalg.norm(rest, axis=1)
    limit = ROBUST_AT * max(float(np.median(size)), 0.1)
    weight = np.sqrt(np.minimum(1.0, limit / np.maximum(size, 1e-9))).repeat(3)
    step = np.linalg.lstsq(jacobian * weight[:, None], -rest.ravel() * weight, rcond=None)[0]
    return np.asarray(matrix + step.reshape(3, 3), dtype=np.float64)


def _weighed(step: FloatArray, lab: FloatArray) -> FloatArray:
    """L*a*b* steps turned into lightness, chroma and hue, each over its CIEDE2000 weight (without the cross terms)."""
    chroma = np.maximum(np.hypot(lab[:, 1], lab[:, 2]), 1e-9)
    along = (step[:, 1] * lab[:, 1] + step[:, 2] * lab[:, 2]) / chroma
    across = (step[:, 2] * lab[:, 1] - step[:, 1] * lab[:, 2]) / chroma
    offset = (lab[:, 0] - 50) ** 2
    return np.column_stack(
        [
            step[:, 0] / (1 + 0.015 * offset / np.sqrt(20 + offset)),
            along / (1 + 0.045 * chroma),
            across / (1 + 0.015 * chroma),
        ]
    )
