"""Where in a scar the colour differs, how much of it matches, and how even it is."""

import cv2
import numpy as np
import pytest

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_from_corners
from app.colour.difference_map import Cells, DifferenceMap, difference_map, map_of
from app.colour.evenness import evenness
from app.colour.measure import measure
from app.colour.spaces import ByteArray
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera, scar_outline, skin_outline

SKIN = np.array([65.0, 10.0, 16.0])
OUTLINES = ((scar_outline(0.9),), (skin_outline(),))


@pytest.fixture(scope="module")
def matched() -> ByteArray:
    return photo_of(SKIN, SKIN, plain_camera(), np.random.default_rng(2), texture=0.4)


@pytest.fixture(scope="module")
def calibration(matched: ByteArray) -> Calibration:
    return calibrate(chart_from_corners(matched, CHART_CORNERS))


def flat(delta_l: float, delta_a: float = 0.0) -> DifferenceMap:
    lab = np.full((8, 12, 3), np.nan)
    lab[1:7, 1:11] = SKIN + np.array([delta_l, delta_a, 0.0])
    return map_of(Cells(lab, (0, 0, 12, 8), 1, 4.0), SKIN, "light")


def greys(picture: ByteArray) -> set[int]:
    return set(np.unique(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)).tolist())


def test_a_matching_scar_is_within_the_limit_in_spite_of_noise(matched: ByteArray, calibration: Calibration) -> None:
    noisy = np.clip(matched + np.random.default_rng(0).normal(0, 4, matched.shape), 0, 255).astype(np.uint8)
    reading = measure(noisy, *OUTLINES, calibration)
    assert reading.share_within is not None
    assert reading.share_within > 0.95
    assert reading.share_low is not None
    assert reading.share_low < reading.share_within


def test_half_a_scar_that_differs_is_half_within_the_limit(matched: ByteArray, calibration: Calibration) -> None:
    half = matched.copy()
    half[:200, 400:] = np.clip(half[:200, 400:].astype(int) + 25, 0, 255)
    half[:, :] = np.where(np.arange(640)[None, :, None] < 400, matched, half)
    reading = measure(half, *OUTLINES, calibration)
    assert reading.share_within == pytest.approx(0.5, abs=0.1)
    assert reading.lab_skin is not None
    shown = difference_map(half, OUTLINES[0], reading.lab_skin, calibration, edge_width_px=reading.edge_width_px)
    assert shown.share_within() == pytest.approx(reading.share_within, abs=0.02)
    assert reading.evenness is not None
    assert "blotchier" in reading.evenness.words


def test_the_picture_is_neutral_within_the_limit_and_lighter_or_darker_beyond_it_also_in_greyscale() -> None:
    white, within = 255, greys(flat(0.5).picture()) - {255}
    assert len(within) == 1
    (neutral,) = within
    steps = [greys(flat(delta).picture()) - {white} for delta in (-14.0, -6.0, -3.0, 0.5, 3.0, 6.0, 14.0)]
    order = [next(iter(step)) for step in steps]
    assert all(len(step) == 1 for step in steps)
    assert order == sorted(order)
    assert len(set(order)) == 7
    assert order[3] == neutral


def test_a_difference_of_hue_is_striped_so_that_greyscale_shows_it_too() -> None:
    red = greys(flat(0.1, 8.0).picture()) - {255}
    assert len(red) == 2
    assert greys(flat(0.5).picture()) - {255} < red


def test_evenness_needs_enough_to_compare() -> None:
    few = Cells(np.full((2, 2, 3), SKIN), (0, 0, 2, 2), 1, 4.0)
    assert evenness(few, few) is None


def test_a_steady_fall_off_of_light_is_not_taken_for_blotches() -> None:
    plain = np.zeros((10, 10, 3)) + SKIN
    leaning = plain + np.linspace(-4, 4, 10)[None, :, None] * [1.0, 0, 0]
    found = evenness(Cells(leaning, (0, 0, 10, 10), 1, 4.0), Cells(plain, (0, 0, 10, 10), 1, 4.0))
    assert found is not None
    assert found.scar < 0.1


def test_a_map_needs_something_left_of_the_scar(matched: ByteArray, calibration: Calibration) -> None:
    with pytest.raises(ValueError, match="too narrow"):
        difference_map(matched, (scar_outline(0.05) * [1, 1] + [0, 0],), SKIN, calibration, edge_width_px=30)
