import cv2
import numpy as np
import pytest

from app.colour.marker import find_marker, marker_bits, scale_of, side_as_printed
from app.colour.spaces import ByteArray


def card(*numbers: int) -> ByteArray:
    """Markers of 120 px side on white paper, 20 px to a field."""
    photo = np.full((300, 260 * len(numbers), 3), 235, dtype=np.uint8)
    for place, number in enumerate(numbers):
        drawn = np.kron(marker_bits(number), np.ones((20, 20), np.bool_))
        photo[90:210, 70 + 260 * place : 190 + 260 * place][drawn] = 25
    return photo


def test_every_marker_that_can_be_printed_is_read_as_its_own_number() -> None:
    for number in range(0, 50, 7):
        assert [marker.id for marker in find_marker(card(number))] == [number]
    with pytest.raises(ValueError, match="0 to 49"):
        marker_bits(50)


def test_corners_are_found_to_a_tenth_of_a_px_and_turn_with_the_card() -> None:
    (upright,) = find_marker(cv2.GaussianBlur(card(7), (0, 0), 1.2).astype(np.uint8))
    assert np.abs(upright.corners - [[69.5, 89.5], [189.5, 89.5], [189.5, 209.5], [69.5, 209.5]]).max() < 0.1
    (turned,) = find_marker(np.ascontiguousarray(np.rot90(card(7))))
    assert np.abs(turned.corners[1] - [89.5, 69.5]).max() < 0.1


def test_a_large_photo_gives_corners_in_its_own_px() -> None:
    large = cv2.resize(card(3, 11), None, fx=6, fy=6, interpolation=cv2.INTER_CUBIC).astype(np.uint8)
    markers = sorted(find_marker(large), key=lambda marker: marker.id)
    assert [marker.id for marker in markers] == [3, 11]
    assert np.abs(markers[0].corners[0] - (np.array([69.5, 89.5]) + 0.5) * 6 + 0.5).max() < 0.5


def test_a_spoiled_marker_is_not_read_as_another() -> None:
    spoiled = card(7)
    spoiled[110:130, 90:110] = 255 - spoiled[110:130, 90:110]
    assert find_marker(spoiled) == ()


def test_a_card_gives_no_scale_before_its_bar_was_measured() -> None:
    assert side_as_printed(30.0, None) is None
    assert side_as_printed(30.0, 96.0) == pytest.approx(28.8)
    with pytest.raises(ValueError, match="80 and 120 mm"):
        side_as_printed(30.0, 9.6)


def test_the_scale_of_a_marker_follows_its_side() -> None:
    (marker,) = find_marker(card(7))
    assert scale_of(marker, 30.0).px_per_mm([130, 150]) == pytest.approx(4.0, rel=2e-3)
    assert scale_of(marker, 28.8).to_mm(marker.corners)[2] == pytest.approx([28.8, 28.8])
    with pytest.raises(ValueError, match="between 5 and 200 mm"):
        scale_of(marker, 0.0)
