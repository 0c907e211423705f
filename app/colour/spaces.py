"""Colour spaces: sRGB, linear RGB, CIE XYZ and CIE L*a*b*, all for D65 and the 2 degree observer.

Every function takes one colour of shape (3,) or many of shape (n, 3) and gives the same shape back, in float64.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
ByteArray = npt.NDArray[np.uint8]

DATA = Path(__file__).parent / "data"

# IEC 61966-2-1:1999, 5.2: linear sRGB to CIE 1931 XYZ relative to D65, four decimals as printed there.
XYZ_FROM_LINEAR_RGB: FloatArray = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
LINEAR_RGB_FROM_XYZ: FloatArray = np.asarray(np.linalg.inv(XYZ_FROM_LINEAR_RGB), dtype=np.float64)

# White of D65 for the 2 degree observer from its chromaticity x = 0.3127, y = 0.3290 (IEC 61966-2-1:1999).
WHITE_XYZ_D65: FloatArray = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])

# IEC 61966-2-1:1999, 5.2: the sRGB curve.
SRGB_KNEE, LINEAR_KNEE, SRGB_SLOPE, SRGB_OFFSET, SRGB_POWER = 0.04045, 0.0031308, 12.92, 0.055, 2.4

# ISO/CIE 11664-4:2019: f(t) is a cube root above (6/29)^3 and a straight line below.
LAB_DELTA = 6 / 29

# Bands of every reflectance in the program: 380 to 730 nm in steps of 10 nm.
WAVELENGTH_NM: FloatArray = np.arange(380.0, 731.0, 10.0)


def linear_rgb_from_srgb(srgb: npt.ArrayLike) -> FloatArray:
    """Linear light of sRGB-encoded values.

    Takes: srgb (3,) or (n, 3), sRGB curve, 0 to 1; values below 0 are mirrored, above 1 carried on.
    Gives: linear_rgb of the same shape, 0 to 1 (share of white).
    Source: IEC 61966-2-1:1999.

    >>> round(float(linear_rgb_from_srgb([0.5, 0.5, 0.5])[0]), 4)
    0.214
    """
    value = np.asarray(srgb, dtype=np.float64)
    size = np.abs(value)
    curved = ((size + SRGB_OFFSET) / (1 + SRGB_OFFSET)) ** SRGB_POWER
    return np.asarray(np.sign(value) * np.where(size <= SRGB_KNEE, size / SRGB_SLOPE, curved), dtype=np.float64)


def srgb_from_linear_rgb(linear_rgb: npt.ArrayLike) -> FloatArray:
    """sRGB-encoded values of linear light.

    Takes: linear_rgb (3,) or (n, 3), 0 to 1; values below 0 are mirrored, above 1 carried on.
    Gives: srgb of the same shape, 0 to 1.
    Source: IEC 61966-2-1:1999.

    >>> round(float(srgb_from_linear_rgb([0.214, 0.214, 0.214])[0]), 3)
    0.5
    """
    value = np.asarray(linear_rgb, dtype=np.float64)
    size = np.abs(value)
    curved = (1 + SRGB_OFFSET) * size ** (1 / SRGB_POWER) - SRGB_OFFSET
    return np.asarray(np.sign(value) * np.where(size <= LINEAR_KNEE, size * SRGB_SLOPE, curved), dtype=np.float64)


def xyz_d65_from_linear_rgb(linear_rgb: npt.ArrayLike) -> FloatArray:
    """CIE XYZ of linear sRGB, white at Y = 1.

    Takes: linear_rgb (3,) or (n, 3), 0 to 1. Gives: xyz_d65 of the same shape.
    Source: IEC 61966-2-1:1999.

    >>> round(float(xyz_d65_from_linear_rgb([1, 1, 1])[1]), 6)
    1.0
    """
    return np.asarray(np.asarray(linear_rgb, dtype=np.float64) @ XYZ_FROM_LINEAR_RGB.T, dtype=np.float64)


def linear_rgb_from_xyz_d65(xyz_d65: npt.ArrayLike) -> FloatArray:
    """Linear sRGB of CIE XYZ, not clipped.

    Takes: xyz_d65 (3,) or (n, 3), white at Y = 1. Gives: linear_rgb of the same shape; outside 0 to 1 when the
    colour lies outside sRGB. Source: IEC 61966-2-1:1999.

    >>> bool(np.allclose(linear_rgb_from_xyz_d65([0.9505, 1.0, 1.0890]), 1.0))
    True
    """
    return np.asarray(np.asarray(xyz_d65, dtype=np.float64) @ LINEAR_RGB_FROM_XYZ.T, dtype=np.float64)


def lab_d65_from_xyz_d65(xyz_d65: npt.ArrayLike) -> FloatArray:
    """CIE L*a*b* of CIE XYZ, D65 white.

    Takes: xyz_d65 (3,) or (n, 3), white at Y = 1. Gives: lab_d65 of the same shape, L* 0 to 100.
    Source: ISO/CIE 11664-4:2019.

    >>> [round(float(v), 3) + 0.0 for v in lab_d65_from_xyz_d65(WHITE_XYZ_D65)]
    [100.0, 0.0, 0.0]
    """
    ratio = np.asarray(xyz_d65, dtype=np.float64) / WHITE_XYZ_D65
    f = np.where(ratio > LAB_DELTA**3, np.cbrt(ratio), ratio / (3 * LAB_DELTA**2) + 4 / 29)
    lightness = 116 * f[..., 1] - 16
    return np.stack([lightness, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def xyz_d65_from_lab_d65(lab_d65: npt.ArrayLike) -> FloatArray:
    """CIE XYZ of CIE L*a*b*, D65 white.

    Takes: lab_d65 (3,) or (n, 3). Gives: xyz_d65 of the same shape, white at Y = 1.
    Source: ISO/CIE 11664-4:2019.

    >>> round(float(xyz_d65_from_lab_d65([50, 0, 0])[1]), 4)
    0.1842
    """
    lab = np.asarray(lab_d65, dtype=np.float64)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f > LAB_DELTA, f**3, 3 * LAB_DELTA**2 * (f - 4 / 29))
    return np.asarray(ratio * WHITE_XYZ_D65, dtype=np.float64)


def lab_d65_from_srgb(srgb: npt.ArrayLike) -> FloatArray:
    """CIE L*a*b* of sRGB-encoded values, taken at their word (no chart).

    Takes: srgb (3,) or (n, 3), sRGB curve, 0 to 1. Gives: lab_d65 of the same shape.
    Source: IEC 61966-2-1:1999 and ISO/CIE 11664-4:2019.

    >>> round(float(lab_d65_from_srgb([1.0, 1.0, 1.0])[0]), 2)
    100.0
    """
    return lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(linear_rgb_from_srgb(srgb)))


def srgb_from_lab_d65(lab_d65: npt.ArrayLike) -> FloatArray:
    """sRGB-encoded values of CIE L*a*b*, not clipped.

    Takes: lab_d65 (3,) or (n, 3). Gives: srgb of the same shape, outside 0 to 1 when outside sRGB.
    Source: IEC 61966-2-1:1999 and ISO/CIE 11664-4:2019.

    >>> round(float(srgb_from_lab_d65([100, 0, 0])[1]), 3)
    1.0
    """
    return srgb_from_linear_rgb(linear_rgb_from_xyz_d65(xyz_d65_from_lab_d65(lab_d65)))


def lab_d65_from_srgb8(srgb8: npt.ArrayLike) -> FloatArray:
    """CIE L*a*b* of 8-bit sRGB values, taken at their word (no chart).

    Takes: srgb8 (3,) or (n, 3), sRGB curve, 0 to 255. Gives: lab_d65 of the same shape.
    Source: IEC 61966-2-1:1999 and ISO/CIE 11664-4:2019.

    >>> round(float(lab_d65_from_srgb8([119, 119, 119])[0]), 1)
    50.0
    """
    return lab_d65_from_srgb(np.asarray(srgb8, dtype=np.float64) / 255)


def srgb8_from_lab_d65(lab_d65: npt.ArrayLike) -> ByteArray:
    """8-bit sRGB values of CIE L*a*b*, clipped to what a screen can show.

    Takes: lab_d65 (3,) or (n, 3). Gives: srgb8 of the same shape, uint8, 0 to 255.
    Source: IEC 61966-2-1:1999 and ISO/CIE 11664-4:2019.

    >>> srgb8_from_lab_d65([50, 0, 0]).tolist()
    [119, 119, 119]
    """
    return np.asarray(np.rint(np.clip(srgb_from_lab_d65(lab_d65), 0, 1) * 255), dtype=np.uint8)


def lab_to_srgb8_hex(lab_d65: npt.ArrayLike) -> str:
    """Screen colour of one CIE L*a*b* value as "#rrggbb", clipped to sRGB.

    Takes: lab_d65 (3,). Gives: a lower-case string of seven characters.
    Raises ValueError when given more than one colour.
    Source: IEC 61966-2-1:1999.

    >>> lab_to_srgb8_hex([50, 0, 0])
    '#777777'
    """
    if np.shape(lab_d65) != (3,):
        raise ValueError("A screen colour is made of one colour at a time.")
    red, green, blue = (int(v) for v in srgb8_from_lab_d65(lab_d65))
    return f"#{red:02x}{green:02x}{blue:02x}"


def ita_deg(lab_d65: npt.ArrayLike) -> FloatArray:
    """Individual typology angle of skin in degrees: arctan((L* - 50) / b*), with b* of skin above 0.

    Takes: lab_d65 (3,) or (n, 3). Gives: angle, shape () or (n,), -90 to 90.
    It ignores redness and is a label for choosing limits, never a score of a match.
    Source: Chardon, Cretois, Hourseau, Int. J. Cosmet. Sci. 13:191, 1991.

    >>> round(float(ita_deg([65, 10, 16])), 1)
    43.2
    """
    lab = np.asarray(lab_d65, dtype=np.float64)
    return np.asarray(np.degrees(np.arctan2(lab[..., 0] - 50, np.maximum(lab[..., 2], 1e-9))), dtype=np.float64)


@cache
def reflectance_weights() -> FloatArray:
    """Weights that turn a reflectance of 36 bands into CIE XYZ under D65 for the 2 degree observer.

    Gives: (36, 3), scaled so that a perfect white has Y = 1 and the white of D65 (see the note below).
    Source: CIE 1931 2 degree observer (ISO/CIE 11664-1) and D65 (ISO/CIE 11664-2), data/observer_2deg_d65.csv.

    >>> reflectance_weights().shape
    (36, 3)
    """
    with (DATA / "observer_2deg_d65.csv").open(encoding="utf-8", newline="") as lines:
        rows = [[float(row[key]) for key in ("x_bar", "y_bar", "z_bar", "d65")] for row in csv.DictReader(lines)]
    table = np.array(rows)
    weights = table[:, :3] * table[:, 3:]
    # Bands of 10 nm cut off at 730 nm sum to a white 0.08 % off the true one: a perfect white must stay neutral.
    return np.asarray(weights / weights.sum(axis=0) * WHITE_XYZ_D65, dtype=np.float64)


def lab_d65_from_reflectance(reflectance: npt.ArrayLike) -> FloatArray:
    """CIE L*a*b* of a reflectance under D65 for the 2 degree observer.

    Takes: reflectance (36,) or (n, 36), 0 to 1, bands 380 to 730 nm in steps of 10 nm.
    Gives: lab_d65 (3,) or (n, 3). Raises ValueError for another number of bands.
    Source: ISO/CIE 11664-1, -2 and -4.

    >>> round(float(lab_d65_from_reflectance(np.full(36, 0.1842))[0]), 1)
    50.0
    """
    bands = np.asarray(reflectance, dtype=np.float64)
    if bands.shape[-1] != len(WAVELENGTH_NM):
        raise ValueError(f"A reflectance has {len(WAVELENGTH_NM)} bands from 380 to 730 nm, not {bands.shape[-1]}.")
    return lab_d65_from_xyz_d65(bands @ reflectance_weights())
