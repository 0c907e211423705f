"""The 24-patch chart's reference against colour-science 0.4.7, "ColorChecker24 - After November 2014"."""

import warnings

import numpy as np

from app.colour.chart_reference import lab_d65_from_lab_d50, shipped
from app.colour.spaces import lab_d65_from_xyz_d65, xyz_d65_from_linear_rgb

with warnings.catch_warnings():
    # It warns of optional packages that are not installed.
    warnings.simplefilter("ignore")
    import colour

CHART = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]


def test_every_patch_is_the_published_one_adapted_to_d65_by_bradford() -> None:
    xyz_d50 = colour.xyY_to_XYZ(np.array(list(CHART.data.values())))
    d65 = np.array([0.3127, 0.3290])
    xyz = colour.adaptation.chromatic_adaptation_VonKries(
        xyz_d50, colour.xy_to_XYZ(CHART.illuminant), colour.xy_to_XYZ(d65), transform="Bradford"
    )
    assert np.abs(colour.XYZ_to_Lab(xyz, d65) - shipped().lab_d65).max() < 1e-4


def test_the_patches_stand_in_the_published_order() -> None:
    for ours, theirs in zip(shipped().names, CHART.data, strict=True):
        assert theirs.startswith(ours)


def test_the_linear_columns_are_the_same_colours_as_the_lab_columns() -> None:
    lab = lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(shipped().linear_rgb))
    assert np.abs(lab - shipped().lab_d65).max() < 0.01


def test_the_last_row_is_the_grey_scale_from_white_to_black() -> None:
    neutrals = shipped().lab_d65[list(shipped().neutrals)]
    assert np.all(np.diff(neutrals[:, 0]) < 0)
    assert np.abs(neutrals[:, 1:]).max() < 3.5


def test_our_own_adaptation_from_d50_is_bradfords() -> None:
    """The shipped values were adapted by colour-science; those of a studio's own chart are adapted by us."""
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["ICC D50"]
    lab_d50 = colour.XYZ_to_Lab(colour.xyY_to_XYZ(np.array(list(CHART.data.values()))), d50)
    assert np.abs(lab_d65_from_lab_d50(lab_d50) - shipped().lab_d65).max() < 0.05
