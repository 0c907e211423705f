"""Area in the plane of a marker or chart against shapes whose area is known in closed form, seen at 0 to 40 degrees.

Source of the wanted values: area of an ellipse (pi a b), of a rectangle (a b) and of a strip with round ends
(l w + pi w^2 / 4); the exact projection of a pinhole camera (Hartley, Zisserman: Multiple View Geometry, ch. 6 and 8,
from memory, unchecked). Marker and chart are found in a rendered picture with blur, noise and JPEG, not computed.
"""

from functools import cache

import cv2
import numpy as np
import pytest

from app.colour.chart import find_chart
from app.colour.chart_plane import project
from app.colour.chart_reference import shipped
from app.colour.geometry import Piece, area, scale_from_chart
from app.colour.marker import find_marker, marker_bits, scale_of
from app.colour.spaces import ByteArray, FloatArray, srgb_from_linear_rgb

WIDTH, HEIGHT = 1600, 1200
FOCAL_PX, DISTANCE_MM = 1750.0, 300.0
SHEET_MM, SHEET_PX_PER_MM = (260, 190), 8
MARKER_MM, MARKER_AT = 30.0, (60.0, 75.0)
PITCH_MM, CHART_AT = 11.0, (40.0, 60.0)
TILTS = (0, 10, 20, 30, 40)
SKIN, PAPER = (205, 165, 140), (238, 236, 230)


def camera(tilt_deg: float, towards_deg: float) -> FloatArray:
    """Projection (3, 3) from mm of the sheet to px: the sheet turned about an axis in its own plane."""
    tilt, towards = np.radians([tilt_deg, towards_deg])
    axis = np.array([np.cos(towards), np.sin(towards), 0.0])
    turn = cv2.Rodrigues(axis * tilt)[0]
    middle = np.array(SHEET_MM) / 2
    lens = np.array([[FOCAL_PX, 0, WIDTH / 2], [0, FOCAL_PX, HEIGHT / 2], [0, 0, 1]])
    plane = np.column_stack([turn[:, 0], turn[:, 1], np.array([0, 0, DISTANCE_MM]) - turn[:, :2] @ middle])
    return np.asarray(lens @ plane, dtype=np.float64)


def photo_of(sheet: ByteArray, photo_from_mm: FloatArray, seed: int) -> ByteArray:
    # A block of k px of the sheet has its middle at (k - 1) / 2: px of the sheet to mm takes half a px.
    mm_from_px = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, SHEET_PX_PER_MM]]) / SHEET_PX_PER_MM
    seen = cv2.warpPerspective(
        sheet, photo_from_mm @ mm_from_px, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR, borderValue=SKIN
    )
    noisy = cv2.GaussianBlur(seen, (0, 0), 1.0) + np.random.default_rng(seed).normal(0, 2, seen.shape)
    stored = cv2.imencode(".jpg", np.clip(noisy, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 85])[1]
    return np.asarray(cv2.imdecode(stored, cv2.IMREAD_COLOR), dtype=np.uint8)


def fill(sheet: ByteArray, left: float, top: float, width: float, height: float, colour: tuple[int, ...]) -> None:
    left, top, right, bottom = (round(v * SHEET_PX_PER_MM) for v in (left, top, left + width, top + height))
    sheet[top:bottom, left:right] = colour


@cache
def sheet_with_marker() -> ByteArray:
    sheet = np.full((SHEET_MM[1] * SHEET_PX_PER_MM, SHEET_MM[0] * SHEET_PX_PER_MM, 3), SKIN, dtype=np.uint8)
    field = MARKER_MM / 6
    x, y = MARKER_AT
    fill(sheet, x - field, y - field, MARKER_MM + 2 * field, MARKER_MM + 2 * field, PAPER)
    for row, bits in enumerate(marker_bits(7)):
        for column, black in enumerate(bits):
            if black:
                fill(sheet, x + column * field, y + row * field, field, field, (25, 25, 25))
    return sheet


@cache
def sheet_with_chart() -> ByteArray:
    sheet = np.full((SHEET_MM[1] * SHEET_PX_PER_MM, SHEET_MM[0] * SHEET_PX_PER_MM, 3), SKIN, dtype=np.uint8)
    x, y = CHART_AT
    fill(sheet, x - 3, y - 3, 6 * PITCH_MM + 5, 4 * PITCH_MM + 5, (30, 30, 30))
    colours = np.rint(255 * np.clip(srgb_from_linear_rgb(shipped().linear_rgb), 0, 1)).astype(int)
    side = PITCH_MM * 2.5 / 2.75  # 10 mm, whole px of the sheet
    for index, colour in enumerate(colours):
        row, column = divmod(index, 6)
        fill(sheet, x + column * PITCH_MM, y + row * PITCH_MM, side, side, tuple(int(v) for v in colour))
    return sheet


def shapes() -> dict[str, tuple[Piece, float]]:
    """Each shape in mm of the sheet, beside the marker or chart, and its area in square cm in closed form."""
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    ellipse = np.stack([np.cos(turn), np.sin(turn)], axis=1) * [16.0, 10.0] + [150, 85]
    rectangle = np.array([[140.0, 60], [170, 60], [170, 110], [140, 110]])
    half = np.linspace(-np.pi / 2, np.pi / 2, 60)
    end = np.stack([np.cos(half), np.sin(half)], axis=1) * 1.5
    strip = np.vstack([end + np.array([195, 100]), np.array([135, 100]) - end])
    hole = np.stack([np.cos(turn), np.sin(turn)], axis=1) * 5 + [150, 85]
    return {
        "ellipse": (Piece(ellipse), np.pi * 16 * 10 / 100),
        "rectangle": (Piece(rectangle), 30 * 50 / 100),
        "strip": (Piece(strip), (60 * 3 + np.pi * 9 / 4) / 100),
        "ring": (Piece(ellipse, (hole,)), np.pi * (16 * 10 - 25) / 100),
    }


def seen(piece: Piece, photo_from_mm: FloatArray) -> Piece:
    return Piece(project(photo_from_mm, piece.outer), tuple(project(photo_from_mm, hole) for hole in piece.holes))


@pytest.mark.parametrize("tilt", TILTS)
def test_area_from_a_found_marker_is_right_to_3_per_cent(tilt: int) -> None:
    photo_from_mm = camera(tilt, 35 + 60 * tilt)
    (marker,) = find_marker(photo_of(sheet_with_marker(), photo_from_mm, tilt))
    assert marker.id == 7
    scale = scale_of(marker, MARKER_MM)
    for name, (piece, cm2) in shapes().items():
        found = area((seen(piece, photo_from_mm),), scale)
        assert found.cm2 == pytest.approx(cm2, rel=0.03), name
        assert found.low < cm2 < found.high, name


@pytest.mark.parametrize("tilt", TILTS)
def test_area_from_a_found_chart_is_right_to_3_per_cent(tilt: int) -> None:
    photo_from_mm = camera(tilt, 20 + 50 * tilt)
    chart = find_chart(photo_of(sheet_with_chart(), photo_from_mm, tilt))
    assert chart is not None
    scale = scale_from_chart(chart, PITCH_MM)
    for name, (piece, cm2) in shapes().items():
        found = area((seen(piece, photo_from_mm),), scale)
        assert found.cm2 == pytest.approx(cm2, rel=0.03), name
        assert found.low < cm2 < found.high, name
