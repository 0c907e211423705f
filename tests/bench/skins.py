"""Skin and scars with known spectra, from very light to dark.

Light to brown skins start from measured spectra (NIST, DOI 10.18434/M38597, inner forearms of 70 people). The set has
nobody darker than a typology angle of -22 degrees: dark skins are synthetic, a measured brown one with more melanin.
Melanin, blood and the surface are moved by the absorbance they add:

    R' = FLOOR + (R - FLOOR) exp(-(melanin MELANIN + blood BLOOD + grey))
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from app.colour.difference import delta_e_00
from app.colour.spaces import WAVELENGTH_NM, FloatArray, ita_deg, lab_d65_from_reflectance

NIST = Path(__file__).parents[1] / "published" / "data" / "skin_nist_spectra_380_730_10nm.csv"

# Typology angle in degrees; class limits of Chardon, Cretois, Hourseau 1991 (from memory, unchecked). The ends of the
# outer classes are a choice: the lightest in the NIST set has 62; -55 is about L* 31.
CLASSES: dict[str, tuple[float, float]] = {
    "very light": (55.0, 62.0),
    "light": (41.0, 55.0),
    "intermediate": (28.0, 41.0),
    "tan": (10.0, 28.0),
    "brown": (-30.0, 10.0),
    "dark": (-55.0, -30.0),
}
TRUE_DELTAS = (0.0, 1.0, 2.0, 4.0, 8.0, 16.0)

# Light scattered back before it meets melanin: about what a black skin shows at 400 nm (from memory, unchecked).
FLOOR = 0.03
# Donors of a spectrum lie within this many degrees of the wanted typology angle, or are the eight nearest.
NEAR_DEG, FEWEST_DONORS = 6.0, 8
# One placement of a spectrophotometer differs from the mean of three on the same skin by 0.64 (NIST set); from the
# skin's own mean by sqrt(3/2) times that. The mean length of a vector of three standard normal numbers is 1.5958.
PLACEMENT_SD_DELTA_E_00 = 0.64 * np.sqrt(1.5) / 1.5958
# Share of scars that are darker than their skin.
DARKER_SHARE = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """Skin with a scar, as the site is over many placements: reflectances (36,) and their exact difference."""

    skin_class: str
    skin: FloatArray
    scar: FloatArray
    true_delta_e_00: float


@cache
def measured_skins() -> FloatArray:
    """Reflectances (70, 36) of the NIST set."""
    return np.asarray(np.genfromtxt(NIST, delimiter=",", skip_header=1)[:, 1:], dtype=np.float64)


@cache
def melanin() -> FloatArray:
    """Absorbance (36,) by which the brown skins of the NIST set exceed the very light ones, 1 at 550 nm."""
    skins = measured_skins()
    absorbance, angle = -np.log(skins - FLOOR / 2), ita_deg(lab_d65_from_reflectance(skins))
    more = absorbance[angle < 10].mean(axis=0) - absorbance[angle > 55].mean(axis=0)
    return np.asarray(more / more[17], dtype=np.float64)


@cache
def blood() -> FloatArray:
    """Absorbance (36,) shaped as that of oxygenated blood: bands at 415, 542 and 577 nm (from memory, unchecked)."""
    bands = ((415.0, 18.0, 2.2), (542.0, 13.0, 1.0), (577.0, 9.0, 0.95), (500.0, 60.0, 0.35))
    return np.asarray(
        sum(height * np.exp(-0.5 * ((WAVELENGTH_NM - at) / wide) ** 2) for at, wide, height in bands), np.float64
    )


def moved(reflectance: FloatArray, more_melanin: float, more_blood: float = 0.0, grey: float = 0.0) -> FloatArray:
    """Reflectance (36,) of skin with more (or less) melanin and blood in it."""
    added = more_melanin * melanin() + more_blood * blood() + grey
    return np.clip(FLOOR + (reflectance - FLOOR) * np.exp(-added), 0.005, 0.98)


def skin_of(skin_class: str, random: np.random.Generator) -> FloatArray:
    """Reflectance (36,) of a skin of a class, its typology angle drawn evenly over the class."""
    wanted = random.uniform(*CLASSES[skin_class])
    skins = measured_skins()
    far = np.abs(ita_deg(lab_d65_from_reflectance(skins)) - wanted)
    near = np.flatnonzero(far <= max(NEAR_DEG, float(np.sort(far)[FEWEST_DONORS - 1])))
    start = skins[random.choice(near)]

    def too_light(amount: float) -> bool:
        return bool(ita_deg(lab_d65_from_reflectance(moved(start, amount))) > wanted)

    return moved(start, _crossing(too_light, -1.0, 3.0))


def site_of(skin_class: str, true_delta: float, random: np.random.Generator) -> Site:
    """Skin with a scar that differs from it by exactly true_delta (CIEDE2000, D65, 2 degree observer).

    The scar has less melanin, and a little less or more blood; some scars are darker instead.
    """
    skin = skin_of(skin_class, random)
    sign = 1.0 if random.random() < DARKER_SHARE and true_delta < 10 else -1.0
    blood_share, grey_share = random.uniform(-0.25, 0.35), random.uniform(-0.1, 0.15)
    lab_skin = lab_d65_from_reflectance(skin)

    def scar_at(amount: float) -> FloatArray:
        return moved(skin, sign * amount, sign * amount * blood_share, sign * amount * grey_share)

    def too_small(amount: float) -> bool:
        return bool(delta_e_00(lab_skin, lab_d65_from_reflectance(scar_at(amount))) < true_delta)

    scar = scar_at(_crossing(too_small, 0.0, 4.0)) if true_delta > 0 else skin
    reached = float(delta_e_00(lab_skin, lab_d65_from_reflectance(scar)))
    if abs(reached - true_delta) > 1e-6:
        raise ValueError(f"No scar on {skin_class} skin differs by {true_delta}: {reached:.2f} is the most.")
    return Site(skin_class, skin, scar, true_delta)


def placed(reflectance: FloatArray, random: np.random.Generator) -> FloatArray:
    """The skin as one placement shows it: moved by melanin, blood and surface as the NIST repeats are spread."""
    lab = lab_d65_from_reflectance(reflectance)
    per_unit = delta_e_00(lab, lab + np.eye(3) * 0.5) / 0.5
    step = random.normal(0, PLACEMENT_SD_DELTA_E_00, 3) / per_unit
    probe = 0.02
    slopes = np.stack(
        [(lab_d65_from_reflectance(moved(reflectance, *row)) - lab) / probe for row in np.eye(3) * probe], axis=1
    )
    return moved(reflectance, *np.linalg.solve(slopes, step))


def _crossing(before: Callable[[float], bool], start: float, end: float) -> float:
    """Where a statement that holds at the start stops holding, by bisection."""
    for _ in range(50):
        middle = (start + end) / 2
        start, end = (middle, end) if before(middle) else (start, middle)
    return (start + end) / 2
