"""Plane geometry of closed outlines: crossing, lying inside one another, length, and area of several together.

An outline is an array (n, 2), closed from last to first, in px or mm; a shape is a tuple of outlines: its outer edge
and then its holes.
"""

from __future__ import annotations

from itertools import combinations

import cv2
import numpy as np

from app.colour.spaces import FloatArray

Shape = tuple[FloatArray, ...]

# Lines across shapes that lie over one another, for the area of both together; 4000 gave four right digits. Our choice.
LINES_ACROSS = 4000


def side_of(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """On which side of the line from a to b the point c lies.

    Takes: points (..., 2), of shapes that go together. Gives: above 0 on one side, below 0 on the other, 0 on the line.
    Source: sign of the cross product.

    >>> float(side_of(np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 2.0])))
    2.0
    """
    return np.asarray(
        (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0]),
        dtype=np.float64,
    )


def crosses_itself(outline: FloatArray) -> bool:
    """Whether two sides of an outline that are not neighbours cross.

    Takes: outline (n, 2). Source: orientation test of plane geometry.

    >>> crosses_itself(np.array([[0, 0], [10, 10], [10, 0], [0, 10]], float))
    True
    """
    start, end = outline, np.roll(outline, -1, axis=0)
    count = len(outline)
    for index in range(count - 2):
        # The next side shares a corner; for the first side so does the last one.
        others = slice(index + 2, count - 1 if index == 0 else count)
        if _cross(start[index], end[index], start[others], end[others]):
            return True
    return False


def outlines_cross(one: FloatArray, other: FloatArray) -> bool:
    """Whether any side of one outline crosses any side of another.

    Takes: outlines (n, 2) and (m, 2). Source: orientation test of plane geometry.

    >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float)
    >>> outlines_cross(square, square + 5), outlines_cross(square, square + 50)
    (True, False)
    """
    start, end = other, np.roll(other, -1, axis=0)
    return any(_cross(a, b, start, end) for a, b in zip(one, np.roll(one, -1, axis=0), strict=True))


def _cross(a: FloatArray, b: FloatArray, starts: FloatArray, ends: FloatArray) -> bool:
    apart = side_of(a, b, starts) * side_of(a, b, ends) < 0
    return bool(np.any(apart & (side_of(starts, ends, a) * side_of(starts, ends, b) < 0)))


def lies_in(inner: FloatArray, outer: FloatArray) -> bool:
    """Whether an outline that does not cross another lies in it; touching it from inside is allowed.

    Takes: outlines (n, 2) and (m, 2). Source: OpenCV 4, pointPolygonTest.

    >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float)
    >>> lies_in(square / 2 + 2, square), lies_in(square, square / 2 + 2)
    (True, False)
    """
    contour = outer.astype(np.float32).reshape(-1, 1, 2)
    where = [cv2.pointPolygonTest(contour, (float(x), float(y)), False) for x, y in inner]
    return min(where) >= 0 and max(where) > 0


def outline_area(outline: FloatArray) -> float:
    """Area inside one outline, in the square of its unit.

    Takes: outline (n, 2). Gives: 0 upwards, whichever way round it was drawn. Source: shoelace formula.

    >>> outline_area(np.array([[0, 0], [10, 0], [10, 5], [0, 5]], float))
    50.0
    """
    x, y = (outline - outline[0]).T
    return float(abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2)


def length_round(shapes: tuple[Shape, ...]) -> float:
    """Length of all edges of some shapes, holes included, in their unit.

    >>> length_round(((np.array([[0, 0], [10, 0], [10, 5], [0, 5]], float),),))
    30.0
    """
    sides = [np.roll(ring, -1, axis=0) - ring for shape in shapes for ring in shape]
    return float(sum(np.linalg.norm(side, axis=1).sum() for side in sides))


def overlap(shapes: tuple[Shape, ...]) -> bool:
    """Whether any two of some shapes have area in common.

    >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float)
    >>> overlap(((square,), (square + 5,))), overlap(((square,), (square + 10,)))
    (True, False)
    """
    for one, other in combinations(shapes, 2):
        both = (one[0], other[0])
        if np.any(both[0].max(axis=0) <= both[1].min(axis=0)) or np.any(both[1].max(axis=0) <= both[0].min(axis=0)):
            continue
        apart = sum(_own_area(shape) for shape in (one, other))
        if _swept_area((one, other)) < apart * (1 - 1e-3):
            return True
    return False


def area_together(shapes: tuple[Shape, ...]) -> float:
    """Area covered by some shapes, holes cut out, what several of them cover counted once; in the square of their unit.

    Takes: shapes, each its outer edge and then its holes. Gives: 0 upwards, exact when none lie over one another,
    otherwise to about four digits. Source: shoelace formula; for shapes over one another, lengths along 4000 lines.

    >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float)
    >>> area_together(((square, square / 2 + 2),)), round(area_together(((square,), (square + 5,))), 1)
    (75.0, 175.0)
    """
    return _swept_area(shapes) if overlap(shapes) else float(sum(_own_area(shape) for shape in shapes))


def _own_area(shape: Shape) -> float:
    return outline_area(shape[0]) - sum(outline_area(hole) for hole in shape[1:])


def _swept_area(shapes: tuple[Shape, ...]) -> float:
    points = np.concatenate([shape[0] for shape in shapes])
    top, bottom = float(points[:, 1].min()), float(points[:, 1].max())
    step = (bottom - top) / LINES_ACROSS
    total = 0.0
    crossings = [_crossings(shape, top, step) for shape in shapes]
    for line in range(LINES_ACROSS):
        spans = sorted(span for found in crossings for span in found[line])
        reached = -np.inf
        for left, right in spans:
            total += max(0.0, right - max(left, reached))
            reached = max(reached, right)
    return total * step


def _crossings(shape: Shape, top: float, step: float) -> list[list[tuple[float, float]]]:
    """For each line across: where it runs inside one shape (even-odd rule)."""
    found: list[list[float]] = [[] for _ in range(LINES_ACROSS)]
    for ring in shape:
        for (x1, y1), (x2, y2) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            low, high = sorted(((y1 - top) / step - 0.5, (y2 - top) / step - 0.5))
            lines = np.arange(max(0, int(np.ceil(low))), min(LINES_ACROSS, int(np.ceil(high))))
            at = x1 + (x2 - x1) * (top + (lines + 0.5) * step - y1) / (y2 - y1) if len(lines) else lines
            for line, x in zip(lines, at, strict=True):
                found[line].append(float(x))
    return [list(zip(*[iter(sorted(xs))] * 2, strict=False)) for xs in found]
