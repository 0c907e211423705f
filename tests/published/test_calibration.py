"""Chart finding and calibration on real photos; figures to reach from our comparison of seven methods on them."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from app.colour.calibration import Calibration, apply, calibrate
from app.colour.chart import Chart, find_chart
from app.colour.chart_reference import shipped
from app.colour.difference import delta_e_00
from app.colour.grey import TRIAL_MEAN_DELTA_E_00, TRIAL_SKIN_DELTA_E_00, trial_lab_d65
from app.colour.spaces import (
    ByteArray,
    lab_d65_from_srgb8,
    lab_d65_from_xyz_d65,
    linear_rgb_from_srgb,
    xyz_d65_from_linear_rgb,
)

PHOTOS = Path(__file__).parent / "data" / "photos"


def photo(name: str) -> ByteArray:
    return np.asarray(cv2.cvtColor(cv2.imread(str(PHOTOS / name)), cv2.COLOR_BGR2RGB), dtype=np.uint8)


def chart_in(srgb8: ByteArray) -> Chart:
    chart = find_chart(srgb8)
    assert chart is not None
    return chart


def calibrated(name: str) -> Calibration:
    return calibrate(chart_in(photo(name)))


def test_a_warm_camera_photo_comes_out_within_the_published_comparison() -> None:
    found = calibrated("chart_dslr_warm.png")
    uncorrected = delta_e_00(lab_d65_from_srgb8(found.chart.patch_srgb8), shipped().lab_d65).mean()
    assert uncorrected > 15
    assert found.loo_mean <= 2.4
    assert found.loo_skin <= 2.4
    assert found.usable == "measured"


@pytest.mark.parametrize("name", ["chart_tilted_small.png", "chart_desk_small.png"])
def test_a_poor_small_picture_is_used_with_caution(name: str) -> None:
    found = calibrated(name)
    assert 3.5 < found.loo_mean <= 5.7
    assert found.usable == "caution"
    assert found.reasons


def test_another_makers_chart_is_found_but_refused() -> None:
    found = calibrated("other_makers_chart.jpg")
    assert found.usable == "refused"
    assert found.loo_mean > 6
    with pytest.raises(ValueError, match="refused"):
        apply(found, [0.5, 0.5, 0.5])


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_a_turned_photo_gives_the_same_colours(quarter_turns: int) -> None:
    upright = calibrated("chart_dslr_warm.png")
    turned = calibrate(chart_in(np.ascontiguousarray(np.rot90(photo("chart_dslr_warm.png"), quarter_turns))))
    assert np.abs(turned.chart.patch_srgb8 - upright.chart.patch_srgb8).max() < 4
    assert turned.loo_mean == pytest.approx(upright.loo_mean, abs=0.2)


def test_a_blurred_photo_shows_wider_borders() -> None:
    sharp = photo("chart_dslr_warm.png")
    blurred = np.asarray(cv2.GaussianBlur(sharp, (0, 0), 4.0), dtype=np.uint8)
    width, blurred_width = chart_in(sharp).edge_width_px, chart_in(blurred).edge_width_px
    assert width is not None
    assert blurred_width is not None
    assert width < 3
    assert blurred_width > 6


def test_what_is_kept_reads_back_the_same() -> None:
    found = calibrated("chart_dslr_warm.png")
    again = Calibration.from_dict(found.to_dict())
    assert again.to_dict() == found.to_dict()
    assert np.array_equal(apply(again, [0.6, 0.4, 0.3]), apply(found, [0.6, 0.4, 0.3]))


def test_the_errors_of_a_grey_card_alone_are_those_of_a_trial_on_the_real_photos() -> None:
    """Only the middle grey of each chart is used; the other patches are compared with what they truly are."""
    steps, errors, skin = [], [], []
    for name in ("chart_dslr_warm.png", "chart_tilted_small.png", "chart_desk_small.png"):
        chart = chart_in(photo(name))
        seen, grey = linear_rgb_from_srgb(chart.patch_srgb8 / 255), 21
        levelled = seen * shipped().linear_rgb[grey] / seen[grey]
        lab = lab_d65_from_xyz_d65(xyz_d65_from_linear_rgb(levelled))
        counted = ~chart.clipped & (np.abs(chart.shadow_residual) <= 0.3) & (np.arange(24) != grey)
        error = delta_e_00(lab, shipped().lab_d65)
        steps.append((lab - shipped().lab_d65)[counted])
        errors.append(error[counted])
        skin.append(error[:2])
    assert np.concatenate(steps) == pytest.approx(trial_lab_d65(), abs=0.5)
    assert np.concatenate(errors).mean() == pytest.approx(TRIAL_MEAN_DELTA_E_00, abs=0.1)
    assert np.mean(skin) == pytest.approx(TRIAL_SKIN_DELTA_E_00, abs=0.1)
    # Wider than with the chart in the same photos, or a chart would not be worth its money.
    with_chart = [calibrated(name).loo_mean for name in ("chart_dslr_warm.png", "chart_desk_small.png")]
    assert max(with_chart) + 1 < TRIAL_MEAN_DELTA_E_00
