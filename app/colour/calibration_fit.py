"""The fit behind a calibration: gain and power of each channel from the neutral patches, then one 3 x 3 matrix.

Patches that fit badly count for less, so that one in a reflection does not bend the rest. Errors are weighed as
CIEDE2000 weighs them, since that is how the result is judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.chart_reference import ChartReference
from app.colour.spaces import BoolArray, FloatArray, lab_d65_from_xyz_d65, xyz_d65_from_linear_rgb

ROUNDS = 2
# Patches with a residual over this many times the usual one count for less (Huber's limit is near 1.5 to 2).
ROBUST_AT = 2.0
# A neutral off by this much on the cube root of light, half a unit of L*, is as good as one gets. Our choice.
NEUTRAL_STEP = 0.5 / 116
# A registered black may be given as nothing at all, or tinted to under nothing in a channel: no paint is as dark as
# this share of the light, and its logarithm is needed. Our choice.
DARKEST = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Gain and power (3,) of each channel on linear light, and the matrix (3, 3) from there to linear RGB."""

    gain: FloatArray
    power: FloatArray
    matrix: FloatArray

    def lab_d65(self, linear_rgb: FloatArray) -> FloatArray:
        """CIE L*a*b* (D65, 2 degree observer) of colours (3,) or (n, 3) in the photo's own linear light, 0 to 1."""
        balanced = self.gain * np.maximum(linear_rgb, 1e-6) ** self.power
        return lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(balanced @ self.matrix.T))


def fitted_to(
    seen: FloatArray, fitted: BoolArray, reference: ChartReference, curves: tuple[FloatArray, FloatArray] | None = None
) -> Fit:
    """The fit of a photo's patches to their reference.

    Takes: seen (n, 3), the photo's own linear light, 0 to 1; fitted (n,), which patches take part; the reference;
    curves, gain and power when the neutrals have been fitted already.
    Gives: Fit. Source: as said at the top of this file; Gauss-Newton steps weighed by Huber's function.

    >>> from app.colour.chart_reference import shipped
    >>> wanted = np.maximum(shipped().linear_rgb, 0.001)
    >>> np.abs(fitted_to(wanted, np.ones(24, bool), shipped()).gain - 1).max() < 0.01
    np.True_
    """
    gain, power = _neutral_curves(seen, fitted, reference) if curves is None else curves
    balanced = gain * np.maximum(seen, 1e-6) ** power
    wanted = reference.linear_rgb
    # A step of linear light counts by how much lightness it is: d(cube root) falls with the 2/3 power of the light.
    luminance = np.maximum(wanted @ [0.2126, 0.7152, 0.0722], 0.01)
    base = np.where(fitted, luminance ** (-2 / 3), 0.0)
    matrix = _straight(balanced, wanted, base)
    for _ in range(ROUNDS):
        matrix = _lab_step(balanced, matrix, fitted, reference)
    return Fit(gain, power, matrix)


def _neutral_curves(seen: FloatArray, fitted: BoolArray, reference: ChartReference) -> tuple[FloatArray, FloatArray]:
    """Gain and power for each channel that carry the neutral patches to their reference, by lightness."""
    rows = [number for number in reference.neutrals if fitted[number]]
    gain, power = np.ones(3), np.ones(3)
    for channel in range(3):
        x, wanted = np.log(seen[rows, channel]), np.maximum(reference.linear_rgb[rows, channel], DARKEST)
        target = np.cbrt(wanted)
        # Straight line through the logarithms first, then a few steps on the cube roots, near to lightness.
        power[channel], offset = np.polyfit(x, np.log(wanted), 1, w=target)
        for _ in range(8):
            model = np.exp((offset + power[channel] * x) / 3)
            rest = target - model
            limit = ROBUST_AT * max(float(np.median(np.abs(rest))), NEUTRAL_STEP)
            weight = np.sqrt(np.minimum(1.0, limit / np.maximum(np.abs(rest), 1e-9)))
            design = np.column_stack([model / 3, model * x / 3]) * weight[:, None]
            step = np.linalg.lstsq(design, rest * weight, rcond=None)[0]
            offset, power[channel] = offset + step[0], power[channel] + step[1]
        gain[channel] = np.exp(offset)
    return gain, power


def _straight(balanced: FloatArray, wanted: FloatArray, weight: FloatArray) -> FloatArray:
    root = weight[:, None]
    return np.asarray(np.linalg.lstsq(balanced * root, wanted * root, rcond=None)[0].T, dtype=np.float64)


def _lab_step(balanced: FloatArray, matrix: FloatArray, fitted: BoolArray, reference: ChartReference) -> FloatArray:
    """One robust Gauss-Newton step of the matrix on the L*a*b* errors, each weighed as CIEDE2000 weighs it."""
    lab = reference.lab_d65[fitted]
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
