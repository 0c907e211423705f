"""Light, chart and cameras of the rendered truth bench, band by band.

A camera turns reflectance times light into three raw channels by its own sensitivities, so that no matrix can bring
back the colour exactly: what a surface with another spectrum of the same colour shows is part of the test.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from app.colour.chart_reference import shipped
from app.colour.spaces import WAVELENGTH_NM, FloatArray, lab_d65_from_reflectance

TABLE = Path(__file__).parent / "data" / "optics_380_730_10nm.csv"

# How each copy of the chart differs from the reference: evenly, and tilted or bent over the spectrum; shares, our
# guess of a well-kept copy (about 0.5 CIEDE2000).
PRINT_EVEN, PRINT_BENT = 0.025, 0.022
CARD_BLACK = 0.035

LIGHTS = ("daylight", "shade", "window", "warm lamp", "warm LED", "neutral LED", "cool LED", "violet LED")


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Sensitivities (36, 3) times light; then balance and matrix (3, 3) to linear sRGB, exposure and tone.

    contrast: strength of the S laid over the sRGB curve; toe: how far shadows are pressed. flare: share of the mean
    light that lies over the whole picture. electrons: full well that white fills; read_noise in electrons.
    """

    sensitivity: FloatArray
    matrix: FloatArray
    contrast: float
    flare: float
    electrons: float
    read_noise: float

    def raw(self, reflectance: FloatArray) -> FloatArray:
        """Raw channels (..., 3) of reflectances (..., 36)."""
        return np.asarray(reflectance @ self.sensitivity, dtype=np.float64)


@cache
def table() -> dict[str, FloatArray]:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.reader(lines))[1:]
    return {row[0]: np.array([float(value) for value in row[1:]]) for row in rows}


@cache
def chart_reflectance() -> FloatArray:
    """Reflectances (24, 36) that look exactly like the reference: measured patches, smoothly bent."""
    at = (WAVELENGTH_NM - 555) / 175
    shapes = np.stack([np.ones_like(at), at, at**2 - 1 / 3], axis=1)
    bent = []
    for number, wanted in enumerate(shipped().lab_d65):
        start, amount = table()[f"patch_{number:02d}"], np.zeros(3)
        for _ in range(20):
            miss = lab_d65_from_reflectance(start * np.exp(shapes @ amount)) - wanted
            slopes = [
                lab_d65_from_reflectance(start * np.exp(shapes @ (amount + step))) - wanted - miss
                for step in np.eye(3) * 1e-4
            ]
            amount = amount - np.linalg.solve(np.stack(slopes, axis=1) / 1e-4, miss)
        bent.append(start * np.exp(shapes @ amount))
    return np.array(bent)


def printed_chart(random: np.random.Generator) -> FloatArray:
    """Reflectances (24, 36) of one copy of the chart."""
    at = (WAVELENGTH_NM - 555) / 175
    shapes = np.stack([np.ones_like(at), at, at**2 - 1 / 3])
    error = random.normal(0, [PRINT_EVEN, PRINT_BENT, PRINT_BENT], (24, 3))
    # Neutrals are greys of one paint: bent less.
    error[18:, 1:] *= 0.4
    return np.clip(chart_reflectance() * np.exp(error @ shapes), 0.002, 0.98)


def light(name: str, random: np.random.Generator) -> FloatArray:
    """Power (36,) of a light, a little different each time."""
    rows = table()
    mix = random.uniform(0, 1)
    warm = mix * rows["daylight_5000"] + (1 - mix) * rows["daylight_6500"]
    power = {
        "daylight": warm,
        "shade": mix * rows["daylight_6500"] + (1 - mix) * rows["daylight_7500"],
        # Daylight through greenish glass, and back from a warm wall.
        "window": warm * np.exp(-0.25 * ((WAVELENGTH_NM - 540) / 150) ** 2) * (1 + 0.1 * (WAVELENGTH_NM - 555) / 175),
        "warm lamp": rows["incandescent"],
        "warm LED": (1 - 0.3 * mix) * rows["led_2700"] + 0.3 * mix * rows["led_4100"],
        "neutral LED": rows["led_4100"] + 0.3 * mix * rows["daylight_5000"],
        "cool LED": rows["led_6600"] + 0.3 * mix * rows["daylight_6500"],
        "violet LED": rows["led_violet"],
    }[name]
    return np.asarray(power / power[18], dtype=np.float64)


def camera(name_of_light: str, random: np.random.Generator) -> Camera:
    """A camera drawn at random, set by itself for the light, with the errors such settings have."""
    sensitivity = _filters(random)
    lit = sensitivity * light(name_of_light, random)[:, None]
    own = lit / lit.sum(axis=0)
    # Automatic white balance is a few per cent off.
    balance = np.diag(np.exp(random.normal(0, [0.05, 0.0, 0.06])))
    return Camera(
        sensitivity=own @ balance,
        matrix=_matrix(own, random) * random.uniform(0.74, 0.96),
        contrast=float(random.uniform(0.0, 0.22)),
        flare=float(random.uniform(0.0, 0.008)),
        electrons=float(np.exp(random.uniform(np.log(1500), np.log(12000)))),
        read_noise=float(random.uniform(2, 6)),
    )


def _filters(random: np.random.Generator) -> FloatArray:
    """Sensitivities (36, 3): three bell curves with shoulders and crosstalk, or those of a measured camera, bent."""
    if random.random() < 0.3:
        measured = np.stack([table()[f"slr_{channel}"] for channel in "rgb"], axis=1)
        at = (WAVELENGTH_NM - 555) / 175
        return np.asarray(measured * np.exp(random.normal(0, 0.15, 3) * at[:, None]), dtype=np.float64)
    peak = np.array([602.0, 532.0, 458.0]) + random.normal(0, [6, 5, 5])
    width = np.array([34.0, 38.0, 27.0]) * random.uniform(0.85, 1.25, 3)
    bells = np.exp(-0.5 * ((WAVELENGTH_NM[:, None] - peak) / width) ** 2)
    # Infrared is cut off softly by glass in front of the sensor.
    bells *= (1 / (1 + np.exp((WAVELENGTH_NM - random.uniform(655, 690)) / 9)))[:, None]
    crosstalk = np.eye(3) + random.uniform(0.02, 0.12, (3, 3)) * (1 - np.eye(3))
    return np.asarray(bells @ crosstalk.T, dtype=np.float64)


def _matrix(own: FloatArray, random: np.random.Generator) -> FloatArray:
    """What the maker's matrix does: best on a chart for this sort of light, more or less vivid, never quite right."""
    seen, wanted = chart_reflectance() @ own, shipped().linear_rgb
    weight = (wanted.mean(axis=1) + 0.02)[:, None] ** (-2 / 3)
    best = np.linalg.lstsq(seen * weight, wanted * weight, rcond=None)[0].T
    grey = np.full((3, 3), 1 / 3)
    vivid = random.uniform(0.92, 1.15)
    off = best + random.normal(0, 0.03, (3, 3))
    off = vivid * off + (1 - vivid) * grey @ off
    return np.asarray(off / off.sum(axis=1, keepdims=True), dtype=np.float64)
