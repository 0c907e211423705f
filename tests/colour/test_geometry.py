import numpy as np
import pytest

from app.colour.geometry import (
    Piece,
    Scale,
    area,
    area_px2,
    bounding_box,
    checked_piece,
    curvature_loss,
    mask_within,
)
from app.colour.spaces import FloatArray

BOX = (0, 0, 100, 100)


def square(left: float, top: float, side: float) -> FloatArray:
    return np.array([[left, top], [left + side, top], [left + side, top + side], [left, top + side]])


def ten_px_per_mm() -> Scale:
    return Scale(np.diag([0.1, 0.1, 1.0]), "marker", 0.005, square(0, 0, 300))


def test_a_hole_is_cut_out_of_mask_and_area() -> None:
    piece = checked_piece(square(10, 10, 60), [square(20, 20, 20)], 100, 100)
    assert area_px2(piece) == 3600 - 400
    inside = mask_within((piece,), BOX)
    assert not inside[30, 30]
    assert inside[50, 50]
    assert mask_within((piece, square(25, 25, 10)), BOX)[30, 30]
    assert bounding_box((piece,), 100, 100) == (10, 10, 71, 71)


@pytest.mark.parametrize(
    ("holes", "sentence"),
    [
        ([square(60, 60, 30)], "does not lie inside"),
        ([square(75, 75, 20)], "does not lie inside"),
        ([square(20, 20, 20), square(30, 30, 20)], "over one another"),
        ([square(20, 20, 30), square(30, 30, 10)], "over one another"),
        ([square(20, 20, 3)], "A hole cannot be used. The outline is too small"),
        ([square(20, 20, 10)] * 21, "at most 20 holes"),
    ],
)
def test_a_hole_that_cannot_be_one_is_refused_with_a_sentence(holes: list[FloatArray], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        checked_piece(square(10, 10, 60), holes, 100, 100)


def test_split_shapes_are_summed_and_what_pieces_share_is_counted_once() -> None:
    apart = area((square(0, 0, 100), square(200, 0, 100)), ten_px_per_mm())
    assert apart.cm2 == pytest.approx(2.0)
    over = area((square(0, 0, 100), square(50, 0, 100)), ten_px_per_mm())
    assert over.cm2 == pytest.approx(1.5, rel=1e-3)
    assert "counted once" in over.note
    assert "counted once" not in apart.note


def test_a_hole_of_one_piece_that_another_fills_counts() -> None:
    ring = Piece(square(0, 0, 200), (square(50, 50, 100),))
    assert area((ring,), ten_px_per_mm()).cm2 == pytest.approx(3.0)
    assert area((ring, square(50, 50, 100)), ten_px_per_mm()).cm2 == pytest.approx(4.0, rel=1e-3)


def test_the_error_of_an_area_grows_with_its_outline() -> None:
    oval = area((square(0, 0, 224),), ten_px_per_mm())
    strip = np.array([[0, 0], [500, 0], [500, 30], [0, 30]], dtype=np.float64)
    thin = area((strip,), ten_px_per_mm())
    assert (oval.high - oval.cm2) / oval.cm2 == pytest.approx(0.1, abs=0.02)
    assert (thin.high - thin.cm2) / thin.cm2 > 1 / 3
    assert "depends on the outline" in thin.note
    assert area((strip,), ten_px_per_mm(), edge_width_px=20).high > thin.high
    assert area((square(0, 0, 5),), ten_px_per_mm()).low == 0.0


def test_a_scar_far_from_a_small_marker_is_known_less_well() -> None:
    small = Scale(np.diag([0.1, 0.1, 1.0]), "marker", 0.005, square(0, 0, 60))
    near, far = (area((square(at, 0, 200),), small) for at in (70, 1500))
    assert far.high - far.low > 1.5 * (near.high - near.low)


def test_a_limb_that_curves_away_is_cautioned_in_words() -> None:
    assert curvature_loss(16) == pytest.approx(0.007, abs=0.001)
    assert curvature_loss(40) == pytest.approx(0.047, abs=0.001)
    assert "taken as flat" in area((square(0, 0, 500),), ten_px_per_mm()).note
    assert "taken as flat" not in area((square(0, 0, 100),), ten_px_per_mm()).note


def test_an_outline_past_the_end_of_the_plane_has_no_area() -> None:
    tilted = Scale(np.array([[0.1, 0, 0], [0, 0.1, 0], [0, -0.002, 1.0]]), "chart", 0.01, square(0, 0, 100))
    assert area((square(100, 100, 100),), tilted).cm2 > 1
    with pytest.raises(ValueError, match="past where the plane of the chart ends"):
        area((square(100, 450, 100),), tilted)
