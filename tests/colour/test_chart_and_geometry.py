import cv2
import numpy as np
import pytest

from app.colour.calibration import apply, calibrate
from app.colour.chart import Chart, chart_from_corners, find_chart
from app.colour.chart_reference import shipped
from app.colour.difference import delta_e_00
from app.colour.geometry import (
    area,
    area_px2,
    bounding_box,
    checked_outline,
    crosses_itself,
    mask_within,
    scale_from_chart,
)
from app.colour.spaces import ByteArray, FloatArray
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera, random_camera

SKIN = np.array([65.0, 10.0, 16.0])
SQUARE = np.array([[10.0, 10.0], [60.0, 10.0], [60.0, 40.0], [10.0, 40.0]])


def scene(seed: int = 1, plain: bool = False) -> ByteArray:
    random = np.random.default_rng(seed)
    camera = plain_camera() if plain else random_camera(random)
    return photo_of(SKIN + np.array([5, -1, -2]), SKIN, camera, random)


def test_a_chart_taken_by_a_perfect_camera_is_read_as_its_reference() -> None:
    calibration = calibrate(chart_from_corners(scene(plain=True), CHART_CORNERS))
    assert calibration.usable == "measured"
    # 0.6: eight bits in the dark patches, and one patch that no screen can show.
    assert calibration.loo_mean < 0.6
    seen = apply(calibration, calibration.chart.patch_srgb8 / 255)
    assert np.median(delta_e_00(seen, shipped().lab_d65)) < 0.3


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_chart_is_found_however_the_photo_is_turned(turns: int) -> None:
    chart = find_chart(np.ascontiguousarray(np.rot90(scene(), turns)))
    assert chart is not None
    upright = chart_from_corners(scene(), CHART_CORNERS)
    assert np.abs(chart.patch_srgb8 - upright.patch_srgb8).max() < 6


def test_a_large_photo_gives_corners_in_its_own_pixels() -> None:
    large = np.asarray(cv2.resize(scene(), None, fx=5, fy=5, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
    found, small = find_chart(large), find_chart(scene())
    assert found is not None
    assert small is not None
    assert np.abs(found.corners / 5 - small.corners).max() < 4


def test_a_photo_without_a_chart_has_none() -> None:
    noise = np.random.default_rng(0).integers(90, 140, (400, 500, 3)).astype(np.uint8)
    assert find_chart(noise) is None


def test_anything_but_an_eight_bit_colour_photo_is_refused() -> None:
    for wrong in (np.zeros((50, 50), np.uint8), np.zeros((50, 50, 4), np.uint8)):
        with pytest.raises(ValueError, match="three 8-bit channels"):
            find_chart(wrong)


@pytest.mark.parametrize(
    "corners", [[[0, 0], [1, 1]], [[0, 0], [9, 0], [9, 9], [0, 9999]], [[5, 5], [6, 6], [7, 7], [8, 8]]]
)
def test_impossible_corners_are_refused(corners: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="corner"):
        chart_from_corners(scene(), corners)


def test_a_shadow_over_two_patches_is_seen_and_left_out() -> None:
    photo = scene().astype(np.float64)
    clean = calibrate(chart_from_corners(scene(), CHART_CORNERS))
    photo[95:150, 30:140] *= 0.6
    chart = chart_from_corners(photo.astype(np.uint8), CHART_CORNERS)
    assert np.all(chart.shadow_residual[:2] < -0.3)
    assert np.all(np.abs(chart.shadow_residual[3:]) < 0.3)
    shadowed = calibrate(chart)
    assert not shadowed.used[:2].any()
    assert shadowed.loo_mean < clean.loo_mean + 0.5


def test_over_exposed_patches_are_marked() -> None:
    bright = np.clip(scene(plain=True).astype(np.float64) * 1.15, 0, 255).astype(np.uint8)
    chart = chart_from_corners(bright, CHART_CORNERS)
    assert chart.clipped[18]
    assert not chart.clipped[20:].any()


def test_a_chart_with_its_rows_mixed_up_is_refused() -> None:
    chart = chart_from_corners(scene(), CHART_CORNERS)
    kept = chart.to_dict()
    kept["patch_srgb8"] = kept["patch_srgb8"][6:18] + kept["patch_srgb8"][:6] + kept["patch_srgb8"][18:]
    assert calibrate(Chart.from_dict(kept)).usable == "refused"


def test_a_fall_off_of_light_is_measured_with_its_direction() -> None:
    even = scene(plain=True)
    fall = np.exp(-0.0006 * np.arange(even.shape[1]))[None, :, None] ** (1 / 2.2)
    chart = chart_from_corners((even * fall).astype(np.uint8), CHART_CORNERS)
    assert chart.light_slope[0] == pytest.approx(-0.0006, abs=0.0002)
    assert abs(chart.light_slope[1]) < 0.0002
    assert 0.1 < chart.uneven_light < 0.24


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        ([[0, 0], [20, 0]], "3 to 2000 points"),
        ([[0, 0], [20, 20], [20, 0], [0, 20]], "crosses itself"),
        ([[0, 0], [5, 0], [5, 5]], "too small"),
        ([[0, 0], [200, 0], [20, 20]], "outside the photo"),
        ([[0, 0], [float("nan"), 0], [20, 20]], "list of points"),
        ("outline", "list of points"),
        ([[0, 0], [20], [20, 20]], "list of points"),
        ([1, 2, 3], "list of points"),
    ],
)
def test_a_bad_outline_is_refused_with_a_sentence(points: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        checked_outline(points, 100, 100)  # type: ignore[arg-type]  # what a file may hold


def test_a_closed_outline_loses_its_doubled_point() -> None:
    assert checked_outline(np.vstack([SQUARE, SQUARE[:1]]), 100, 100).shape == (4, 2)


def test_area_and_mask_agree() -> None:
    box = bounding_box((SQUARE,), 100, 100)
    inside = mask_within((SQUARE,), box)
    assert area_px2(SQUARE) == area_px2(SQUARE[::-1]) == 1500
    # The mask holds the border too.
    assert inside.sum() == 51 * 31


def test_a_hollow_outline_does_not_cross_itself() -> None:
    hollow = np.array([[0, 0], [40, 0], [40, 40], [20, 10], [0, 40]], dtype=np.float64)
    assert not crosses_itself(hollow)


def test_an_area_in_millimetres_does_not_depend_on_the_tilt() -> None:
    flat: FloatArray = np.array([[0, 0], [335, 0], [335, 225], [0, 225]], dtype=np.float64)
    tilted: FloatArray = np.array([[20, 10], [300, 40], [310, 200], [5, 230]], dtype=np.float64)
    outline = np.array([[50, 50], [105, 50], [105, 105], [50, 105]], dtype=np.float64)
    turn = np.asarray(cv2.getPerspectiveTransform(flat.astype(np.float32), tilted.astype(np.float32)))
    seen = np.column_stack([outline, np.ones(4)]) @ turn.T
    moved = np.asarray(seen[:, :2] / seen[:, 2:], dtype=np.float64)
    # 55 px are one pitch here: the outline is one patch and its gap each way.
    charts = [chart_from_corners(np.full((300, 400, 3), 120, np.uint8), corners) for corners in (flat, tilted)]
    straight, slanting = (scale_from_chart(chart, 45.0) for chart in charts)
    assert area((outline,), straight).cm2 == pytest.approx(4.5**2, rel=1e-6)
    assert area((moved,), slanting).cm2 == pytest.approx(4.5**2, rel=1e-4)
    with pytest.raises(ValueError, match="between 3 and 100 mm"):
        scale_from_chart(charts[0], 0.0)
