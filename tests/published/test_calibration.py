"""Chart finding and calibration on real photos; figures to reach from our comparison of seven methods on them."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from app.colour.calibration import Calibration, apply, calibrate
from app.colour.chart import Chart, find_chart, reference
from app.colour.difference import delta_e_00
from app.colour.spaces import ByteArray, lab_d65_from_srgb8

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
    uncorrected = delta_e_00(lab_d65_from_srgb8(found.chart.patch_srgb8), reference().lab_d65).mean()
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
