import cv2
import numpy as np
import pytest

from app.colour.geometry import area_px2, checked_piece, mask_within
from app.colour.ring import propose
from app.colour.spaces import FloatArray

SCAR = np.array([[280.0, 200], [360, 195], [365, 240], [285, 250]])


def away_from(outline: FloatArray, points: FloatArray) -> FloatArray:
    contour = outline.astype(np.float32).reshape(-1, 1, 2)
    return np.array([-cv2.pointPolygonTest(contour, (float(x), float(y)), True) for x, y in points])


def test_the_ring_lies_4_to_9_mm_outside_the_scar_and_passes_the_checks_of_an_outline() -> None:
    (ring,) = propose((SCAR,), 5.0, 640, 480)
    checked_piece(ring.outer, ring.holes, 640, 480)
    assert away_from(SCAR, ring.holes[0]).min() >= 20
    assert away_from(SCAR, ring.outer).max() <= 46
    assert away_from(SCAR, ring.outer).min() > 40


def test_without_a_scale_the_ring_follows_the_width_of_the_scar() -> None:
    (ring,) = propose((SCAR,), None, 1600, 1200)
    gap = away_from(SCAR, ring.holes[0]).min()
    assert 0.4 * 45 < gap < 0.8 * 45


def test_a_ring_ends_with_the_photo_and_never_lies_on_another_piece_of_the_scar() -> None:
    pieces = (SCAR, SCAR + np.array([90, 0]), SCAR - np.array([270, 0]))
    ring = propose(pieces, 5.0, 640, 480)
    on_scar = mask_within(pieces, (0, 0, 640, 480))
    assert not (mask_within(ring, (0, 0, 640, 480)) & on_scar).any()
    points = np.concatenate([line for piece in ring for line in piece.rings])
    assert points.min() > 3
    for scar in pieces:
        assert away_from(scar, points).min() >= 20


def test_a_ring_leaves_out_what_is_no_skin() -> None:
    chart = np.array([[400.0, 150], [600, 150], [600, 300], [400, 300]])
    ring = propose((SCAR,), 5.0, 640, 480, (chart,))
    assert not (mask_within(ring, (0, 0, 640, 480)) & mask_within((chart,), (0, 0, 640, 480))).any()
    assert sum(area_px2(piece) for piece in ring) < area_px2(propose((SCAR,), 5.0, 640, 480)[0])


def test_no_room_is_said_in_words() -> None:
    with pytest.raises(ValueError, match="no room for a ring"):
        propose((np.array([[4.0, 4], [636, 4], [636, 476], [4, 476]]),), 5.0, 640, 480)
    with pytest.raises(ValueError, match="Outline the scar first"):
        propose((), 5.0, 640, 480)
