"""Outlines on a photo: what makes one valid, which pixels lie in it, and how large it is.

An outline is an array (n, 2) of x to the right and y down, in px of the upright photo, closed from last to first.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.chart import PITCH_UNITS, photo_from_chart, project
from app.colour.spaces import BoolArray, FloatArray

# Distance from one patch to the next on the large 24-patch chart: from memory, unchecked. A studio can measure its
# own chart with a ruler (left edge of the first patch to left edge of the sixth, divided by five) and give that.
CHART_PITCH_MM = {"classic": 45.0}

# Smaller than this an outline is a slip of the pen: our choice.
SMALLEST_PX2 = 60.0
MOST_POINTS = 2000

Box = tuple[int, int, int, int]


def checked_outline(points: npt.ArrayLike, width: int, height: int) -> FloatArray:
    """A valid outline, or a ValueError whose sentence can be shown to the artist.

    Takes: points (n, 2) in px; width and height of the photo in px. Gives: float64 (n, 2).
    Raises ValueError for fewer than 3 or more than 2000 points, points outside the photo, lines that cross, or an
    area under 60 square px. Source: plane geometry; the limits are choices of this program.

    >>> checked_outline([[0, 0], [20, 0], [20, 20]], 100, 100).shape
    (3, 2)
    """
    try:
        outline = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        raise ValueError("An outline is a list of points, each with x and y.") from None
    if outline.ndim != 2 or outline.shape[1] != 2 or not np.all(np.isfinite(outline)):
        raise ValueError("An outline is a list of points, each with x and y.")
    if len(outline) > 1 and np.array_equal(outline[0], outline[-1]):
        outline = outline[:-1]
    if not 3 <= len(outline) <= MOST_POINTS:
        raise ValueError(f"An outline has 3 to {MOST_POINTS} points, not {len(outline)}.")
    if np.any(outline < 0) or np.any(outline > [width, height]):
        raise ValueError("A point of the outline lies outside the photo.")
    if crosses_itself(outline):
        raise ValueError("The outline crosses itself. Draw it again as one closed curve.")
    if area_px2(outline) < SMALLEST_PX2:
        raise ValueError("The outline is too small to measure.")
    return outline


def area_px2(outline: FloatArray) -> float:
    """Area inside one outline, in square px.

    Takes: outline (n, 2). Gives: 0 upwards, whichever way round it was drawn. Source: shoelace formula.

    >>> area_px2(np.array([[0, 0], [10, 0], [10, 5], [0, 5]], float))
    50.0
    """
    x, y = outline[:, 0], outline[:, 1]
    return float(abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2)


def crosses_itself(outline: FloatArray) -> bool:
    """Whether two sides of an outline that are not neighbours cross.

    Takes: outline (n, 2). Source: orientation test of plane geometry.

    >>> crosses_itself(np.array([[0, 0], [10, 10], [10, 0], [0, 10]], float))
    True
    """
    start, end = outline, np.roll(outline, -1, axis=0)
    count = len(outline)

    def side(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
        return np.asarray(
            (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0]),
            dtype=np.float64,
        )

    for index in range(count - 2):
        # The next side shares a corner; for the first side so does the last one.
        others = slice(index + 2, count - 1 if index == 0 else count)
        a, b, c, d = start[index], end[index], start[others], end[others]
        apart = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
        if np.any(apart):
            return True
    return False


def bounding_box(outlines: tuple[FloatArray, ...], width: int, height: int) -> Box:
    """Smallest box of whole px round all outlines: left, top, right, bottom (the last two not included).

    >>> bounding_box((np.array([[1.2, 2.0], [5.0, 2.0], [5.0, 7.5]]),), 100, 100)
    (1, 2, 6, 9)
    """
    points = np.concatenate(outlines)
    left, top = np.floor(points.min(axis=0)).astype(int)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + 1
    return max(0, int(left)), max(0, int(top)), min(width, int(right)), min(height, int(bottom))


def mask_within(outlines: tuple[FloatArray, ...], box: Box) -> BoolArray:
    """Which px of a box lie inside any of the outlines.

    Takes: outlines, each (n, 2) in px of the photo; box as `bounding_box` gives it. Gives: (bottom - top,
    right - left). Source: OpenCV 4, fillPoly.

    >>> int(mask_within((np.array([[0, 0], [9, 0], [9, 9], [0, 9]], float),), (0, 0, 10, 10)).sum())
    100
    """
    left, top, right, bottom = box
    mask = np.zeros((bottom - top, right - left), dtype=np.uint8)
    for outline in outlines:
        cv2.fillPoly(mask, [np.rint(outline - [left, top]).astype(np.int32)], 1)
    return mask.astype(np.bool_)


def area_mm2(outlines: tuple[FloatArray, ...], chart_corners: FloatArray, pitch_mm: float) -> float:
    """Area of outlines in square mm, in the plane of the chart.

    Takes: outlines, each (n, 2) px; chart_corners (4, 2) px; pitch_mm from one patch to the next. Outlines that
    overlap are counted twice. Gives: square mm; state it as good to about 10 %: half a millimetre of outline is 9 %
    of a scar of 5 square cm, and skin curves away from the chart's plane (colour findings, section 6).
    Raises ValueError for a pitch outside 3 to 100 mm. Source: plane projection from the chart's four corners.

    >>> corners = np.array([[0, 0], [1675, 0], [1675, 1125], [0, 1125]], float)
    >>> round(area_mm2((np.array([[0, 0], [275, 0], [275, 275], [0, 275]], float),), corners, 45.0))
    2025
    """
    if not 3 <= pitch_mm <= 100:
        raise ValueError("The distance from one patch of the chart to the next is between 3 and 100 mm.")
    chart_from_photo = np.asarray(np.linalg.inv(photo_from_chart(chart_corners)), dtype=np.float64)
    mm = pitch_mm / PITCH_UNITS
    return float(sum([area_px2(project(chart_from_photo, outline) * mm) for outline in outlines]))
