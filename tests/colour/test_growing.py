from functools import cache

import numpy as np
import pytest

from app.colour.calibration import calibrate
from app.colour.chart import chart_from_corners
from app.colour.geometry import Drawn, area_px2, checked_piece, mask_within
from app.colour.growing import grow
from app.colour.spaces import ByteArray
from tests.colour.scenes import CHART_CORNERS, HEIGHT, SCAR_CENTRE, WIDTH, photo_of, random_camera, scar_outline

SKIN = np.array([65.0, 10.0, 16.0])
TAP = (float(SCAR_CENTRE[0]), float(SCAR_CENTRE[1]))


@cache
def scene(step: tuple[float, float, float], texture: float = 0.7) -> ByteArray:
    random = np.random.default_rng(4)
    return photo_of(SKIN + step, SKIN, random_camera(random), random, texture)


def share_in_common(one: Drawn, other: Drawn) -> float:
    a, b = (mask_within(drawn, (0, 0, WIDTH, HEIGHT)) for drawn in (one, other))
    return float((a & b).sum() / (a | b).sum())


@pytest.mark.parametrize("step", [(6, -2, -3), (-6, 2, 3), (0, 6, 1)])
def test_a_tap_on_a_pale_dark_or_red_scar_gives_its_outline(step: tuple[float, float, float]) -> None:
    pieces = grow(scene(step), TAP)
    assert share_in_common(pieces, (scar_outline(1.0),)) > 0.92
    assert len(pieces[0].outer) < 40
    checked_piece(pieces[0].outer, pieces[0].holes, WIDTH, HEIGHT)


def test_the_outline_of_an_oval_has_no_hooks_where_the_skin_is_blotchy() -> None:
    edge = grow(scene((6, -2, -3), 1.2), TAP)[0].outer
    sides = np.roll(edge, -1, axis=0) - edge
    angle = np.arctan2(sides[:, 1], sides[:, 0])
    turns = (np.diff(angle, append=angle[0]) + np.pi) % (2 * np.pi) - np.pi
    assert np.abs(turns).max() < np.pi / 3
    assert np.abs(turns).sum() < 1.5 * (2 * np.pi)


def test_two_marks_side_by_side_are_not_tied_together_by_rounding() -> None:
    photo = np.full((300, 400, 3), (196, 150, 128), np.uint8)
    photo[60:240, 150:200] = (226, 192, 176)
    photo[60:240, 206:256] = (226, 192, 176)
    assert area_px2(grow(photo, (175.0, 150.0))[0]) == pytest.approx(180 * 50, rel=0.05)


def test_the_outline_is_the_same_with_the_colours_of_a_calibration() -> None:
    photo = scene((6, -2, -3))
    calibration = calibrate(chart_from_corners(photo, CHART_CORNERS))
    assert share_in_common(grow(photo, TAP, calibration), grow(photo, TAP)) > 0.95


def test_an_island_of_skin_in_the_scar_becomes_a_hole_and_a_mole_is_filled() -> None:
    photo = np.full((300, 400, 3), (196, 150, 128), np.uint8)
    photo[60:240, 80:320] = (226, 192, 176)
    photo[120:180, 160:240] = (196, 150, 128)
    photo[80:84, 100:104] = (90, 60, 50)
    (piece,) = grow(photo, (120.0, 200.0))
    assert len(piece.holes) == 1
    assert area_px2(piece) == pytest.approx(180 * 240 - 60 * 80, rel=0.03)


def test_a_wider_tolerance_never_gives_less() -> None:
    photo = scene((6, -2, -3))
    sizes = [area_px2(grow(photo, TAP, tolerance=factor)[0]) for factor in (0.64, 0.8, 1.0)]
    assert sizes == sorted(sizes)


def test_skin_without_a_scar_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="Nothing stands out"):
        grow(scene((0, 0, 0)), TAP)
    with pytest.raises(ValueError, match="outside the photo"):
        grow(scene((0, 0, 0)), (900.0, 10.0))
