"""Outlines on a photo: what makes one valid, which pixels lie in it, and how large it is.

An outline is an array (n, 2) of x to the right and y down, in px of the upright photo, closed from last to first. A
piece is an outline with holes; a region is one piece or several. Wherever a region is asked for, plain outlines
are taken as pieces without holes.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.area import AreaEstimate, Scale, area, curvature_loss, scale_from_chart
from app.colour.pieces import Drawn, Piece, Regions, area_px2, pieces_of
from app.colour.polygons import crosses_itself, lies_in, outlines_cross
from app.colour.spaces import BoolArray, FloatArray

__all__ = [
    "AreaEstimate",
    "Drawn",
    "Piece",
    "Regions",
    "Scale",
    "area",
    "area_px2",
    "bounding_box",
    "checked_outline",
    "checked_piece",
    "crosses_itself",
    "curvature_loss",
    "mask_within",
    "pieces_of",
    "scale_from_chart",
]

# Smaller than this an outline is a slip of the pen: our choice.
SMALLEST_PX2 = 60.0
MOST_POINTS = 2000
MOST_HOLES = 20

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


def checked_piece(outer: npt.ArrayLike, holes: Sequence[npt.ArrayLike], width: int, height: int) -> Piece:
    """A valid piece with its holes, or a ValueError whose sentence can be shown to the artist.

    Takes: outer (n, 2) px; holes, each (n, 2) px; width and height of the photo in px. Gives: Piece.
    Raises ValueError for what `checked_outline` refuses, a hole that leaves the outline, and holes that touch or lie
    in one another. Source: plane geometry; the limits are choices of this program.

    >>> checked_piece([[0, 0], [50, 0], [50, 50], [0, 50]], [[[9, 9], [30, 9], [30, 30]]], 100, 100).holes[0].shape
    (3, 2)
    """
    edge = checked_outline(outer, width, height)
    if len(holes) > MOST_HOLES:
        raise ValueError(f"An outline has at most {MOST_HOLES} holes.")
    cut: list[FloatArray] = []
    for points in holes:
        try:
            hole = checked_outline(points, width, height)
        except ValueError as refused:
            raise ValueError(f"A hole cannot be used. {refused}") from None
        if outlines_cross(hole, edge) or not lies_in(hole, edge):
            raise ValueError("A hole does not lie inside its outline.")
        if any(outlines_cross(hole, other) or lies_in(hole, other) or lies_in(other, hole) for other in cut):
            raise ValueError("Two holes of the outline lie over one another. Draw them as one.")
        cut.append(hole)
    return Piece(edge, tuple(cut))


def bounding_box(drawn: Drawn, width: int, height: int) -> Box:
    """Smallest box of whole px round a region: left, top, right, bottom (the last two not included).

    Takes: pieces or outlines (n, 2) px; width and height of the photo in px. Gives: a box within the photo.
    Source: the definition of the box.

    >>> bounding_box((np.array([[1.2, 2.0], [5.0, 2.0], [5.0, 7.5]]),), 100, 100)
    (1, 2, 6, 9)
    """
    points = np.concatenate([piece.outer for piece in pieces_of(drawn)])
    left, top = np.floor(points.min(axis=0)).astype(int)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + 1
    return max(0, int(left)), max(0, int(top)), min(width, int(right)), min(height, int(bottom))


def mask_within(drawn: Drawn, box: Box) -> BoolArray:
    """Which px of a box lie inside a region: in any of its pieces, and not in that piece's holes.

    Takes: pieces or outlines (n, 2) in px of the photo; box as `bounding_box` gives it. Gives: (bottom - top,
    right - left). Px on the line itself, also on the edge of a hole, count as inside.
    Source: OpenCV 4, fillPoly (even-odd rule).

    >>> int(mask_within((np.array([[0, 0], [9, 0], [9, 9], [0, 9]], float),), (0, 0, 10, 10)).sum())
    100
    """
    left, top, right, bottom = box
    inside = np.zeros((bottom - top, right - left), dtype=np.bool_)
    for piece in pieces_of(drawn):
        mask = np.zeros(inside.shape, dtype=np.uint8)
        cv2.fillPoly(mask, [np.rint(ring - [left, top]).astype(np.int32) for ring in piece.rings], 1)
        inside |= mask.astype(np.bool_)
    return inside
