"""Where a chart stands to a fraction of a px: the corners from the detector are good for colours, not for lengths."""

from __future__ import annotations

import cv2
import numpy as np

from app.colour.chart_plane import COLUMNS, ROWS, patch_centre_units, photo_from_chart, project, size_units
from app.colour.spaces import BoolArray, ByteArray, FloatArray

# Px to one chart unit in the flattened picture: a patch is then 40 px wide.
PX_PER_UNIT = 16
# Room round the chart in the flattened picture, in chart units: the detector may be off by a third of a patch.
ROOM_UNITS = 1.5
# A side of a patch is looked for this far to either side of where it should be, in chart units.
REACH_UNITS = 0.7
PATCH_HALF_UNITS = 1.25
LINES_ALONG = 23
# Step in any channel, of 255, that counts as a side of a patch; noise and JPEG give less after the mean along it.
STEP_LEAST = 12.0
ROUNDS = 3
# Share of the patches whose middle must have been found; fewer do not hold the plane. Our choice.
FOUND_LEAST = 0.4
# A patch whose middle lies further than this from the plane through the others was misread, in chart units.
ASTRAY_UNITS = 0.08


def aligned_corners(srgb8: ByteArray, corners: FloatArray, columns: int = COLUMNS, rows: int = ROWS) -> FloatArray:
    """Corners of a chart, moved so that the middles of its patches stand where the patches are.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px as in `Chart.corners`, off by up to a quarter of a patch; the
    layout.
    Gives: corners (4, 2) px of the same kind; the given ones when too few patches have sides that can be seen. The
    width of the patches does not matter: a middle lies halfway between two opposite sides.
    Source: our own method; tried in tests/published/test_homography_area.py.

    >>> corners = np.array([[20.0, 20], [280, 20], [280, 180], [20, 180]])
    >>> np.array_equal(aligned_corners(np.full((200, 300, 3), 120, np.uint8), corners), corners)
    True
    """
    found = corners
    wide, high = size_units(columns, rows)
    for _ in range(ROUNDS):
        photo_from_units = photo_from_chart(found, columns, rows)
        middles, seen = _middles(_flattened(srgb8, photo_from_units, wide, high), columns, rows)
        if seen.sum() < FOUND_LEAST * len(seen):
            return corners
        wanted = patch_centre_units(columns, rows)[seen].astype(np.float32)
        turn, kept = cv2.findHomography(wanted, middles[seen].astype(np.float32), cv2.RANSAC, ASTRAY_UNITS)
        if turn is None or kept.sum() < FOUND_LEAST * len(seen):
            return corners
        box = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=np.float64)
        found = project(photo_from_units, project(np.asarray(turn, dtype=np.float64), box))
    # Further than a patch: the sides of something else were taken for the chart's.
    patch_px = float(np.linalg.norm(corners[1] - corners[0])) / columns
    return found if np.linalg.norm(found - corners, axis=1).max() < patch_px else corners


def _flattened(srgb8: ByteArray, photo_from_units: FloatArray, wide: float, high: float) -> ByteArray:
    """The chart seen straight from the front, px centres at whole numbers, with room round it."""
    units_from_flat = np.array([[1, 0, -ROOM_UNITS * PX_PER_UNIT], [0, 1, -ROOM_UNITS * PX_PER_UNIT], [0, 0, 1.0]])
    units_from_flat[:2] /= PX_PER_UNIT
    size = (round((wide + 2 * ROOM_UNITS) * PX_PER_UNIT), round((high + 2 * ROOM_UNITS) * PX_PER_UNIT))
    flat_from_photo = np.linalg.inv(photo_from_units @ units_from_flat)
    # A large photo is shrunk by this: smooth first, or the sides step.
    source, shrink = srgb8, float(np.sqrt(abs(np.linalg.det(flat_from_photo[:2, :2] / flat_from_photo[2, 2]))))
    if shrink < 0.5:
        corner = np.linalg.inv(flat_from_photo)
        source = cv2.resize(srgb8, None, fx=2 * shrink, fy=2 * shrink, interpolation=cv2.INTER_AREA)
        fx, fy = source.shape[1] / srgb8.shape[1], source.shape[0] / srgb8.shape[0]
        flat_from_photo = np.linalg.inv(np.array([[fx, 0, (fx - 1) / 2], [0, fy, (fy - 1) / 2], [0, 0, 1]]) @ corner)
    flat = cv2.warpPerspective(source, flat_from_photo, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.GaussianBlur(flat, (0, 0), 1.0), dtype=np.uint8)


def _middles(flat: ByteArray, columns: int, rows: int) -> tuple[FloatArray, BoolArray]:
    """Middle of each patch (n, 2) in chart units, and which could be found."""
    centres = patch_centre_units(columns, rows)
    middles, seen = np.empty_like(centres), np.ones(len(centres), dtype=np.bool_)
    for axis in (0, 1):
        before, after = (_sides(flat, centres, axis, sign) for sign in (-1, 1))
        middles[:, axis] = (before + after) / 2
        seen &= np.isfinite(middles[:, axis])
    return middles, seen


def _sides(flat: ByteArray, centres: FloatArray, axis: int, sign: int) -> FloatArray:
    """Place of the same side of every patch along an axis, in chart units: the steepest step out of it, or nan."""
    reach = np.arange(-REACH_UNITS, REACH_UNITS + 1e-9, 1 / PX_PER_UNIT)
    out = centres[:, axis, None] + sign * (PATCH_HALF_UNITS + reach)
    along = centres[:, 1 - axis, None] + np.linspace(-0.7, 0.7, LINES_ALONG)
    shape = (len(centres), LINES_ALONG, len(reach))
    grid = [
        np.broadcast_to((at + ROOM_UNITS) * PX_PER_UNIT, shape).reshape(-1, len(reach)).astype(np.float32)
        for at in (out[:, None, :], along[:, :, None])
    ]
    x, y = grid if axis == 0 else grid[::-1]
    lines = np.asarray(cv2.remap(flat, x, y, cv2.INTER_LINEAR), dtype=np.float64).reshape(*shape, 3).mean(axis=1)
    places = np.full(len(centres), np.nan)
    for index, line in enumerate(lines):
        # Inside is the patch, outside the dark gap: only steps down from the patch's own colour count.
        drop = line[:4].mean(axis=0) - line[len(line) // 2 :].min(axis=0)
        fall = -np.diff(line[:, int(np.argmax(drop))])
        steepest = int(np.argmax(fall))
        if drop.max() < STEP_LEAST or not 1 <= steepest <= len(fall) - 2:
            continue
        before, here, after = fall[steepest - 1 : steepest + 2]
        bend = before - 2 * here + after
        shift = 0.0 if bend >= 0 else float(np.clip((before - after) / (2 * bend), -1, 1))
        place = (steepest + 0.5 + shift) / PX_PER_UNIT - REACH_UNITS
        places[index] = centres[index, axis] + sign * (PATCH_HALF_UNITS + place)
    return places
