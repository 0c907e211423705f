"""The printed marker that gives a photo its scale: a black square of known side whose pattern tells its number.

The pattern is one of the 50 of OpenCV's 4 by 4 dictionary (our choice: few, so that they differ in many fields and a
wrong one is hardly ever read). A marker gives the plane of the card; the scar must lie in or close to that plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.area import Scale, plane_projection
from app.colour.polygons import outline_area
from app.colour.spaces import BoolArray, ByteArray, FloatArray

DICTIONARY = cv2.aruco.DICT_4X4_50
MARKER_COUNT = 50
# Four fields of pattern and one black field of border on each side.
FIELDS = 6

DETECTION_SIDE_PX = 1600
# Shortest length round a marker, as a share of the longer side of the photo: at 1600 px a side of 20 px, below which a
# corner is not known well enough for an area. Our choice.
LEAST_PERIMETER = 0.05
# Each side is looked for again in the full photo along this many lines across it, which reach this share of the side to
# both ends: less than half a field, so that the sides of fields inside are never taken for it.
LINES_A_SIDE = 40
REACH_SHARE, REACH_LEAST_PX = 0.07, 2.0
# A place that lies further than this from the line through the others is dirt or a shadow.
ASTRAY_PX = 1.0
FOUND_LEAST = 0.5

# The bar of a card is drawn 100 mm long. A printer that scales to fit the page changes it by a few per cent; beyond
# these limits the wrong thing was measured. Our choice.
BAR_DRAWN_MM, BAR_LEAST_MM, BAR_MOST_MM = 100.0, 80.0, 120.0
SIDE_LEAST_MM, SIDE_MOST_MM = 5.0, 200.0
# A bar of 100 mm read from a ruler to half a millimetre.
BAR_ERROR_SHARE = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Marker:
    """A marker seen in a photo: its number and corners (4, 2) px, its own top left, top right, bottom right, left."""

    id: int
    corners: FloatArray


def marker_bits(marker_id: int) -> BoolArray:
    """Fields of a marker as printed, its black border included.

    Takes: marker_id 0 to 49. Gives: (6, 6), row by row from the top left; True is black, False is the white of the
    paper. Round it at least one field (a sixth of the side) of white paper must be left, or it is not found.
    Raises ValueError for another number. Source: OpenCV 4, dictionary DICT_4X4_50.

    >>> marker_bits(7).shape
    (6, 6)
    """
    if not 0 <= marker_id < MARKER_COUNT:
        raise ValueError(f"A marker has a number from 0 to {MARKER_COUNT - 1}.")
    drawn = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(DICTIONARY), marker_id, FIELDS)
    return np.asarray(drawn < 128, dtype=np.bool_)


def find_marker(srgb8: ByteArray) -> tuple[Marker, ...]:
    """Markers in a photo, the largest first; none when there is none.

    Takes: srgb8 (h, w, 3) uint8, red, green, blue, upright. Gives: Markers with corners in px of that photo, found
    to a fraction of a px. Raises ValueError for any other shape or type.
    Source: OpenCV 4, objdetect, ArUco; then lines through the four sides in the full photo, our own method.

    >>> find_marker(np.full((300, 400, 3), 90, np.uint8))
    ()
    """
    if srgb8.ndim != 3 or srgb8.shape[2] != 3 or srgb8.dtype != np.uint8:
        raise ValueError("A photo is an array of height, width and three 8-bit channels.")
    grey = cv2.cvtColor(srgb8, cv2.COLOR_RGB2GRAY)
    shrink = min(1.0, DETECTION_SIDE_PX / max(grey.shape))
    size = (round(grey.shape[1] * shrink), round(grey.shape[0] * shrink))
    small = grey if shrink == 1.0 else cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    boxes, ids, _ = _detector().detectMarkers(small)
    if ids is None:
        return ()
    factor = np.array(grey.shape[::-1]) / np.array(small.shape[::-1])
    found = [
        # Px centres stand at whole numbers: the middle of a block of k px lies (k - 1) / 2 further on.
        Marker(int(number), _refined(grey, (box.reshape(4, 2).astype(np.float64) + 0.5) * factor - 0.5))
        for box, number in zip(boxes, ids.ravel(), strict=True)
    ]
    return tuple(sorted(found, key=lambda marker: -outline_area(marker.corners)))


def _detector() -> cv2.aruco.ArucoDetector:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = LEAST_PERIMETER
    # A field read wrong means another thing was seen: no correction of fields.
    settings.errorCorrectionRate = 0.0
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY), settings)


def _refined(grey: npt.NDArray[np.uint8], corners: FloatArray) -> FloatArray:
    """Corners where lines through the four sides meet, each line laid through many places; else the given ones."""
    lines = [_line(grey, corners[side], corners[(side + 1) % 4]) for side in range(4)]
    found = []
    for one, other in zip((lines[3], *lines[:3]), lines, strict=True):
        if one is None or other is None:
            return corners
        meeting = np.cross(one, other)
        found.append(meeting[:2] / meeting[2])
    moved = np.array(found)
    side_px = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())
    astray = np.linalg.norm(moved - corners, axis=1).max() > max(2 * REACH_LEAST_PX, 2 * REACH_SHARE * side_px)
    return corners if astray else moved


def _line(grey: npt.NDArray[np.uint8], start: FloatArray, end: FloatArray) -> FloatArray | None:
    """Line (a, b, c) with a x + b y + c = 0 along one side of a marker, or None when too little of it can be seen."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    # The corners run clockwise on the picture, so outside lies to the left of the way along a side.
    outward = np.array([along[1], -along[0]])
    reach = max(REACH_LEAST_PX, REACH_SHARE * length)
    offsets = np.linspace(-reach, reach, 4 * int(np.ceil(reach)) + 1)
    starts = start + np.linspace(0.08, 0.92, LINES_A_SIDE)[:, None] * (end - start)
    at = (starts[:, None, :] + offsets[None, :, None] * outward).astype(np.float32)
    seen = cv2.remap(grey, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), 1.5)
    rise = np.diff(np.asarray(seen, dtype=np.float64), axis=1)
    steepest = np.argmax(rise[:, 1:-1], axis=1) + 1
    rows = np.arange(LINES_A_SIDE)
    before, here, after = (rise[rows, steepest + step] for step in (-1, 0, 1))
    bend = before - 2 * here + after
    shift = np.where(bend < 0, (before - after) / np.minimum(2 * bend, -1e-9), 0.0)
    step_px = offsets[1] - offsets[0]
    place = offsets[steepest] + (0.5 + np.clip(shift, -1, 1)) * step_px
    return _line_through(starts + place[:, None] * outward, along, outward)


def _line_through(points: FloatArray, along: FloatArray, outward: FloatArray) -> FloatArray | None:
    way, off = (points - points[0]) @ along, (points - points[0]) @ outward
    kept = np.ones(len(points), dtype=np.bool_)
    slope = level = 0.0
    for _ in range(4):
        slope, level = np.polyfit(way[kept], off[kept], 1)
        rest = np.abs(off - slope * way - level)
        kept = rest <= max(ASTRAY_PX, 1.5 * float(np.median(rest)))
        if kept.sum() < FOUND_LEAST * len(points):
            return None
    normal = outward - slope * along
    return np.append(normal, -float(normal @ (points[0] + level * outward)))


def side_as_printed(drawn_mm: float, bar_mm: float | None) -> float | None:
    """Side of a marker on paper, from the measured length of the bar on the same card that was drawn 100 mm long.

    Takes: drawn_mm, side of the marker in the file; bar_mm as measured by ruler, None when nobody measured it.
    Gives: mm, or None: a card that was not measured gives no scale.
    Raises ValueError for a bar outside 80 to 120 mm. Source: a printer scales a page evenly (common practice, no
    source).

    >>> side_as_printed(30.0, 97.0), side_as_printed(30.0, None)
    (29.1, None)
    """
    if bar_mm is None:
        return None
    if not BAR_LEAST_MM <= bar_mm <= BAR_MOST_MM:
        raise ValueError(f"The bar of the card is between {BAR_LEAST_MM:.0f} and {BAR_MOST_MM:.0f} mm long.")
    return drawn_mm * bar_mm / BAR_DRAWN_MM


def scale_of(marker: Marker, side_mm: float, mm_error_share: float = BAR_ERROR_SHARE) -> Scale:
    """Scale of a photo from a marker whose side is known.

    Takes: Marker; side_mm of its black square on paper (see `side_as_printed`); mm_error_share of that side (90 %).
    Gives: Scale, px to mm in the plane of the card, from the marker's own top left corner.
    Raises ValueError for a side outside 5 to 200 mm or corners on one line. Source: plane projection.

    >>> seen = Marker(7, np.array([[10, 10], [110, 10], [110, 110], [10, 110]], float))
    >>> round(scale_of(seen, 25.0).px_per_mm([50, 50]), 6)
    4.0
    """
    if not SIDE_LEAST_MM <= side_mm <= SIDE_MOST_MM:
        raise ValueError(f"The side of a marker is between {SIDE_LEAST_MM:.0f} and {SIDE_MOST_MM:.0f} mm.")
    square = np.array([[0.0, 0.0], [side_mm, 0.0], [side_mm, side_mm], [0.0, side_mm]])
    return Scale(plane_projection(marker.corners, square), "marker", mm_error_share, marker.corners)
