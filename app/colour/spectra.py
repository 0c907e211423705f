"""A smooth reflectance curve that has a given colour: what a swatch read from a photo may look like band by band."""

import numpy as np
from numpy.typing import ArrayLike

from app.colour.spaces import FloatArray, reflectance_weights, xyz_d65_from_lab_d65

BANDS = 36  # 380 to 730 nm, every 10 nm
_NEWTON_STEPS = 60
_DAMPED_STEPS = 200
_EXACT = 1e-11  # XYZ on the scale white Y = 1; about 1e-9 in L*
_LARGEST_STEP = 1.5  # in atanh units: keeps tanh out of its flat ends, where the system becomes singular
_CLOSENESS = 1e7  # weight of the colour against smoothness when no bounded curve has the colour exactly
_STEEPEST = 12.0  # tanh(12) is 1 - 8e-11: further out no reflectance changes


def _difference_matrix() -> FloatArray:
    slopes = np.diff(np.eye(BANDS), axis=0)
    return np.asarray(2.0 * slopes.T @ slopes, dtype=np.float64)


_SMOOTHNESS = _difference_matrix()


def reflectance_from_lab(lab_d65: ArrayLike) -> FloatArray:
    """A smooth bounded reflectance curve with the given colour.

    lab_d65: (3,), CIELAB, D65, 2 degree observer.
    Returns: (36,), reflectance 0..1 at 380..730 nm every 10 nm. Its colour is lab_d65 to better than 1e-6 wherever a
    surface can have that colour; a colour that none can have (noise may ask for one) gives the nearest smooth curve.
    It is one curve of many with this colour: fit for mixing, no measurement of the spectrum.
    Raises: ValueError when lab_d65 is not three finite numbers.

    Source: S. A. Burns, "Numerical methods for smoothest reflectance reconstruction", Color Research and Application,
    2020: least hyperbolic tangent slope squared (from memory, unchecked; the round trip is checked in the tests).

    >>> bool(np.allclose(reflectance_from_lab([50.0, 0.0, 0.0]), 0.184, atol=0.001))  # Y of L* 50 is 0.1842
    True
    """
    lab = np.asarray(lab_d65, dtype=np.float64)
    if lab.shape != (3,) or not bool(np.all(np.isfinite(lab))):
        raise ValueError("lab_d65 must be three finite numbers")
    xyz = xyz_d65_from_lab_d65(lab)
    start = np.full(BANDS, np.arctanh(np.clip(2.0 * xyz[1] - 1.0, -0.98, 0.98)))
    curve = _solve_exactly(start, xyz)
    if curve is None:
        curve = _solve_nearest(start, xyz)
    return np.asarray((np.tanh(curve) + 1.0) / 2.0, dtype=np.float64)


def _solve_exactly(start: FloatArray, xyz: FloatArray) -> FloatArray | None:
    """Damped Newton on the Lagrange conditions; None when it meets a singular system or does not arrive."""
    weights = reflectance_weights()
    z, multipliers = start, np.zeros(3)
    for _ in range(_NEWTON_STEPS):
        reflectance = (np.tanh(z) + 1.0) / 2.0
        slope = 2.0 * reflectance * (1.0 - reflectance)
        pull = weights @ multipliers
        miss = reflectance @ weights - xyz
        gradient = _SMOOTHNESS @ z + slope * pull
        if np.abs(miss).max() < _EXACT and np.abs(gradient).max() < 1e-7:
            return z
        coupling = slope[:, None] * weights
        system = np.zeros((BANDS + 3, BANDS + 3))
        system[:BANDS, :BANDS] = _SMOOTHNESS + np.diag(-2.0 * np.tanh(z) * slope * pull)
        system[:BANDS, BANDS:] = coupling
        system[BANDS:, :BANDS] = coupling.T
        try:
            step = np.linalg.solve(system, -np.concatenate([gradient, miss]))
        except np.linalg.LinAlgError:
            return None
        damping = min(1.0, _LARGEST_STEP / float(np.abs(step[:BANDS]).max() + 1e-300))
        z = z + damping * step[:BANDS]
        multipliers = multipliers + damping * step[BANDS:]
        if not bool(np.all(np.isfinite(z))) or np.abs(z).max() > _STEEPEST:
            return None
    return None


def _solve_nearest(start: FloatArray, xyz: FloatArray) -> FloatArray:
    """Least squares with falling damping (Levenberg and Marquardt): closest colour first, smoothness second."""
    weights = reflectance_weights()
    z, damping = start, 1.0

    def cost(curve: FloatArray) -> float:
        miss = (np.tanh(curve) + 1.0) / 2.0 @ weights - xyz
        return float(curve @ _SMOOTHNESS @ curve / 2.0 + _CLOSENESS * miss @ miss)

    current = cost(z)
    for _ in range(_DAMPED_STEPS):
        reflectance = (np.tanh(z) + 1.0) / 2.0
        jacobian = (2.0 * reflectance * (1.0 - reflectance))[:, None] * weights
        gradient = _SMOOTHNESS @ z + 2.0 * _CLOSENESS * jacobian @ (reflectance @ weights - xyz)
        curvature = _SMOOTHNESS + 2.0 * _CLOSENESS * jacobian @ jacobian.T
        step = np.linalg.solve(curvature + damping * np.eye(BANDS), -gradient)
        trial = np.clip(z + step, -_STEEPEST, _STEEPEST)
        reached = cost(trial)
        if reached < current:
            settled = current - reached < 1e-12 * current
            z, current, damping = trial, reached, max(damping / 4.0, 1e-9)
            if settled:
                break
        else:
            damping *= 4.0
            if damping > 1e15:
                break
    return z
