"""The scale of a photo from a marker or chart that lies on the skin, and the area of a scar with its error.

What goes into the interval of an area:
* the outline: drawn on the true edge to about half a millimetre, and to half the width over which the photo blurs an
  edge; a line too far out all the way round adds its length times that, which is a third of a long thin scar;
* the stated size of the marker or chart, and that it lies a little above or below the skin of the scar;
* where the corners of the marker or chart were seen, carried to the scar: more, the further away the scar lies.
Not in the interval, but said in words: skin that curves away from the plane.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from app.colour.chart import Chart
from app.colour.chart_plane import COLUMNS, PITCH_UNITS, ROWS, photo_from_chart, project
from app.colour.difference import NORMAL_90
from app.colour.pieces import Drawn, Piece, Regions, area_px2, pieces_of
from app.colour.polygons import Shape, area_together, length_round, overlap, side_of
from app.colour.spaces import FloatArray

# How far a drawn line may lie beside the true edge all the way round (90 %): half a millimetre is 9 % of an oval scar
# of 5 square cm (colour findings, section 6). Our choice.
OUTLINE_MM = 0.5
# The card lies up to 5 mm above or below the skin of the scar, seen from 30 cm: our choice.
OFF_PLANE_SHARE = 5 / 300
# The pitch of a chart by ruler: 2 mm over the five pitches of 225 mm, rounded up. Our choice.
PITCH_ERROR_SHARE = 0.01
# Standard error of a corner as found in a photo: see tests/published/test_homography_area.py.
CORNER_ERROR_PX = {"marker": 0.3, "chart": 1.5}
# From this share on the outline rules the error, and the note says so. Our choice.
THIN_FROM = 0.2
# Curvature findings were computed for a limb of 40 mm radius; below 2 % it is not worth a word. Our choice.
LIMB_RADIUS_MM, CURVED_FROM = 40.0, 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """How px of a photo become mm in the plane of a marker or chart that lies on the skin.

    chart_from_photo: plane projection (3, 3) from px to mm. source: what it rests on. mm_error_share: half-width of
    the 90 % interval of a length, as a share of it, from the stated size of the marker or chart alone. corners:
    (4, 2) px, the corners the projection was made from, in order round.
    """

    chart_from_photo: FloatArray
    source: Literal["marker", "chart"]
    mm_error_share: float
    corners: FloatArray

    def to_mm(self, points: npt.ArrayLike) -> FloatArray:
        """Points (n, 2) px in mm of the plane. Raises ValueError for points past the vanishing line of the plane."""
        flat = np.asarray(points, dtype=np.float64)
        if np.any(self._depth(flat) * self._depth(self.corners).mean() <= 0):
            raise ValueError(f"The outline reaches past where the plane of the {self.source} ends in this photo.")
        return project(self.chart_from_photo, flat)

    def px_per_mm(self, at: npt.ArrayLike) -> float:
        """Px to one mm at a point (2,) px: the root of how a small area grows there."""
        x, y = np.asarray(at, dtype=np.float64)
        corner = self.to_mm([[x, y], [x + 1, y], [x, y + 1]])
        return float(1 / np.sqrt(abs(side_of(corner[0], corner[1], corner[2]))))

    def _depth(self, points: FloatArray) -> FloatArray:
        return np.asarray(np.column_stack([points, np.ones(len(points))]) @ self.chart_from_photo[2], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class AreaEstimate:
    """Area of a region in square cm with its 90 % interval, and what to keep in mind, as sentences."""

    cm2: float
    low: float
    high: float
    note: str


def scale_from_chart(chart: Chart, pitch_mm: float, mm_error_share: float = PITCH_ERROR_SHARE) -> Scale:
    """Scale of a photo from its colour chart.

    Takes: Chart; pitch_mm from one patch to the next; mm_error_share of that pitch (90 %). Gives: Scale.
    Raises ValueError for a pitch outside 3 to 100 mm. Source: plane projection from the chart's four corners.

    >>> from app.colour.chart import chart_from_corners
    >>> photo = np.full((200, 300, 3), 120, np.uint8)
    >>> chart = chart_from_corners(photo, [[20, 20], [187.5, 20], [187.5, 132.5], [20, 132.5]])
    >>> round(scale_from_chart(chart, 27.5).px_per_mm([60, 60]), 6)
    1.0
    """
    return _chart_scale(chart.corners, pitch_mm, mm_error_share, (chart.columns, chart.rows))


def _chart_scale(
    corners: FloatArray,
    pitch_mm: float,
    mm_error_share: float = PITCH_ERROR_SHARE,
    layout: tuple[int, int] = (COLUMNS, ROWS),
) -> Scale:
    if not 3 <= pitch_mm <= 100:
        raise ValueError("The distance from one patch of the chart to the next is between 3 and 100 mm.")
    mm = pitch_mm / PITCH_UNITS
    chart_from_photo = np.diag([mm, mm, 1.0]) @ np.linalg.inv(photo_from_chart(corners, *layout))
    return Scale(chart_from_photo, "chart", mm_error_share, np.asarray(corners, dtype=np.float64))


def area(drawn: Drawn, scale: Scale, edge_width_px: float | None = None) -> AreaEstimate:
    """Area of a region in square cm, with the interval that outline, scale and the card's place leave open.

    Takes: pieces or outlines (n, 2) px; Scale of the same photo; edge_width_px, the 10 to 90 % width of sharp borders
    in px of this photo (`Chart.edge_width_px` times its longer side over 1000), None when unknown.
    Gives: AreaEstimate; low and high of the 90 % interval. Pieces are summed, what two of them share is counted once.
    The error of the outline is its place times the length of all edges: for a long thin scar a third and more.
    Raises ValueError when there is no piece, or one reaches past the vanishing line of the plane.
    Source: plane projection; propagation of the corners' error; shares as said at the constants.

    >>> corners = np.array([[0, 0], [200, 0], [200, 200], [0, 200]], float)
    >>> scale = Scale(np.diag([0.1, 0.1, 1]), "marker", 0.005, corners)
    >>> round(area((np.array([[0, 0], [300, 0], [300, 200], [0, 200]], float),), scale).cm2, 3)
    6.0
    """
    pieces = pieces_of(drawn)
    if not pieces:
        raise ValueError("An area needs an outline.")
    shapes = tuple(tuple(scale.to_mm(ring) for ring in piece.rings) for piece in pieces)
    mm2 = area_together(shapes)
    middle = np.concatenate([piece.outer for piece in pieces]).mean(axis=0)
    blur_mm = 0.0 if edge_width_px is None else edge_width_px / 2 / scale.px_per_mm(middle)
    outline = float(np.hypot(OUTLINE_MM, blur_mm)) * length_round(shapes)
    plane = 2 * float(np.hypot(scale.mm_error_share, OFF_PLANE_SHARE)) * mm2
    corners = NORMAL_90 * _corner_error_mm2(pieces, scale, mm2)
    half = float(np.sqrt(outline**2 + plane**2 + corners**2))
    return AreaEstimate(
        mm2 / 100, max(0.0, mm2 - half) / 100, (mm2 + half) / 100, _area_note(shapes, scale, mm2, outline)
    )


def _corner_error_mm2(pieces: Regions, scale: Scale, mm2: float) -> float:
    """Standard error of an area from the corners of marker or chart, each moved on its own by its usual error."""
    wanted = project(scale.chart_from_photo, scale.corners)
    as_found = _summed(pieces, scale.chart_from_photo)
    squares = 0.0
    for index in range(8):
        moved = scale.corners.astype(np.float64)
        moved[index // 2, index % 2] += CORNER_ERROR_PX[scale.source]
        squares += (_summed(pieces, plane_projection(moved, wanted)) - as_found) ** 2
    return float(np.sqrt(squares)) * mm2 / as_found


def _summed(pieces: Regions, homography: FloatArray) -> float:
    flat = [Piece(project(homography, p.outer), tuple(project(homography, hole) for hole in p.holes)) for p in pieces]
    return sum(area_px2(piece) for piece in flat)


def plane_projection(here: FloatArray, there: FloatArray) -> FloatArray:
    """Plane projection (3, 3) that carries four points onto four others.

    Takes: here and there (4, 2), in any units. Raises ValueError when three of the four points lie on one line.
    Source: direct linear transform, eight equations.

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    >>> plane_projection(square, square * 3).round(9).tolist()
    [[3.0, 0.0, 0.0], [0.0, 3.0, 0.0], [0.0, 0.0, 1.0]]
    """
    (x, y), (u, v), one, none = here.T, there.T, np.ones(4), np.zeros(4)
    upper = np.column_stack([x, y, one, none, none, none, -u * x, -u * y])
    lower = np.column_stack([none, none, none, x, y, one, -v * x, -v * y])
    try:
        solved = np.linalg.solve(np.vstack([upper, lower]), np.concatenate([u, v]))
    except np.linalg.LinAlgError:
        raise ValueError("Three of the four corners lie on one line.") from None
    return np.append(solved, 1.0).reshape(3, 3)


def _area_note(shapes: tuple[Shape, ...], scale: Scale, mm2: float, outline_mm2: float) -> str:
    said = [f"Measured in the plane of the {scale.source}, which must lie flat on or level with the skin."]
    if outline_mm2 > THIN_FROM * mm2:
        said.append(f"So narrow a scar depends on the outline: half a millimetre all round is {outline_mm2 / mm2:.0%}.")
    across = float(np.linalg.norm(np.ptp(np.concatenate([shape[0] for shape in shapes]), axis=0)))
    if (lost := curvature_loss(across)) >= CURVED_FROM:
        said.append(
            f"The skin is taken as flat. Round an arm or leg of {2 * LIMB_RADIUS_MM:.0f} mm across, the area of a scar "
            f"that runs this far round it is up to {lost:.0%} larger; nothing of this is in the interval."
        )
    if overlap(shapes):
        said.append("Pieces lie over one another; what they share is counted once.")
    return " ".join(said)


def curvature_loss(across_mm: float, radius_mm: float = LIMB_RADIUS_MM) -> float:
    """Share of its width that a scar lying round a limb hides from a photo taken straight from the front.

    Takes: across_mm, width seen in the photo; radius_mm of the limb. Gives: share to add to the seen width; a scar
    wider than the limb is taken as half round it. Source: arc over chord of a circle.

    >>> round(curvature_loss(16.0), 4), round(curvature_loss(40.0), 3)
    (0.0068, 0.047)
    """
    half = min(across_mm / 2 / radius_mm, 1.0)
    return float(np.arcsin(half) / half - 1) if half > 0 else 0.0
