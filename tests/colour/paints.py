"""Invented bottles for the tests: nothing in them was measured."""

import numpy as np

from app.colour.mixing import Paint, k_over_s
from app.colour.spaces import FloatArray
from app.colour.spectra import reflectance_from_lab


def skin_tone(key: int, lab_d65: tuple[float, float, float]) -> Paint:
    reflectance = reflectance_from_lab(lab_d65)
    return Paint(key, "skin_tone", k_over_s(reflectance), np.ones(36), "trusted", 1.8, "invented")


def random_shelf(seed: int, bottles: int, *, two_constant: bool) -> list[Paint]:
    """Skin-like bottles; with two_constant each also scatters by its own slope across the bands."""
    random = np.random.default_rng(seed)
    shelf = []
    for key in range(1, bottles + 1):
        lab = (float(random.uniform(35, 88)), float(random.uniform(2, 22)), float(random.uniform(4, 32)))
        ratio = k_over_s(reflectance_from_lab(lab))
        s = np.ones(36)
        if two_constant:
            s = np.exp(random.normal(0.0, 0.8) + random.normal(0.0, 0.3) * np.linspace(-1.0, 1.0, 36))
        shelf.append(Paint(key, "strong" if two_constant else "skin_tone", ratio * s, s, "trusted", 1.4, "invented"))
    return shelf


def skin_target(seed: int) -> FloatArray:
    """Lab in the range of the NIST skins (L* 43 to 74, a* 7 to 14, b* 11 to 22)."""
    random = np.random.default_rng(seed)
    return np.array([random.uniform(43, 74), random.uniform(7, 14), random.uniform(11, 22)])
