"""Colour spaces against printed values of the standards and against colour-science 0.4.7 (BSD-3-Clause)."""

import warnings
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest

from app.colour import spaces
from app.colour.spaces import FloatArray

with warnings.catch_warnings():
    # It warns of optional packages that are not installed.
    warnings.simplefilter("ignore")
    import colour

RANDOM = np.random.default_rng(20)
SRGB = RANDOM.uniform(0, 1, (500, 3))


def test_the_srgb_curve_is_that_of_iec_61966_2_1() -> None:
    expected = colour.models.eotf_sRGB(SRGB)
    assert np.abs(spaces.linear_rgb_from_srgb(SRGB) - expected).max() < 1e-12
    assert np.abs(spaces.srgb_from_linear_rgb(expected) - SRGB).max() < 1e-7


def test_the_two_parts_of_the_srgb_curve_meet_within_the_rounding_of_the_standard() -> None:
    below, above = spaces.linear_rgb_from_srgb([0.04045 - 1e-9, 0.04045 + 1e-9, 0.5])[:2]
    assert abs(below - above) < 1e-7


def test_lab_of_xyz_agrees_with_the_reference_library_also_in_the_dark() -> None:
    xyz = np.vstack([RANDOM.uniform(0, 1, (200, 3)), RANDOM.uniform(0, 0.01, (200, 3))])
    expected = colour.XYZ_to_Lab(xyz, np.array([0.3127, 0.3290]))
    assert np.abs(spaces.lab_d65_from_xyz_d65(xyz) - expected).max() < 1e-9


def test_srgb_to_lab_agrees_with_the_reference_library_on_random_colours() -> None:
    """The whole way, with the matrix as IEC 61966-2-1 prints it."""
    expected = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(SRGB), np.array([0.3127, 0.3290]))
    assert np.abs(spaces.lab_d65_from_srgb(SRGB) - expected).max() < 1e-9


def test_a_matrix_worked_out_from_the_primaries_differs_by_its_rounding_only() -> None:
    """The same way with the matrix derived from the primaries: up to 0.02 in Lab, by its four printed decimals."""
    space = colour.RGB_COLOURSPACES["sRGB"].copy()
    space.use_derived_matrix_RGB_to_XYZ = True
    xyz = colour.models.eotf_sRGB(SRGB) @ np.asarray(space.matrix_RGB_to_XYZ).T
    difference = np.abs(spaces.lab_d65_from_srgb(SRGB) - colour.XYZ_to_Lab(xyz, np.array([0.3127, 0.3290]))).max()
    assert 1e-3 < difference < 0.03


@pytest.mark.parametrize(
    ("there", "back", "values"),
    [
        (spaces.linear_rgb_from_srgb, spaces.srgb_from_linear_rgb, SRGB),
        (spaces.xyz_d65_from_linear_rgb, spaces.linear_rgb_from_xyz_d65, SRGB),
        (spaces.lab_d65_from_xyz_d65, spaces.xyz_d65_from_lab_d65, SRGB),
        (spaces.lab_d65_from_srgb, spaces.srgb_from_lab_d65, SRGB),
        (spaces.lab_d65_from_srgb8, spaces.srgb8_from_lab_d65, RANDOM.integers(0, 256, (500, 3))),
    ],
)
def test_there_and_back_again_changes_nothing(
    there: Callable[[npt.ArrayLike], FloatArray],
    back: Callable[[npt.ArrayLike], FloatArray],
    values: FloatArray,
) -> None:
    assert np.abs(back(there(values)) - values).max() < 1e-6


def test_observer_and_illuminant_tables_are_the_published_ones() -> None:
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    d65 = colour.SDS_ILLUMINANTS["D65"]
    expected = np.array([[*observer[nm], d65[nm]] for nm in spaces.WAVELENGTH_NM])
    table = np.genfromtxt(spaces.DATA / "observer_2deg_d65.csv", delimiter=",", skip_header=1)
    assert np.array_equal(table[:, 0], spaces.WAVELENGTH_NM)
    assert np.abs(table[:, 1:] - expected).max() < 1e-8


def test_a_perfect_white_is_white_and_a_grey_is_grey() -> None:
    assert np.abs(spaces.lab_d65_from_reflectance(np.ones(36)) - [100, 0, 0]).max() < 1e-9
    assert np.abs(spaces.lab_d65_from_reflectance(np.full((2, 36), 0.2))[:, 1:]).max() < 1e-9
