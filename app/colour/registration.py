"""Laying one photo over another of the same skin, so that an outline can be carried from visit to visit.

In this order: in the common plane of the markers or charts, when both photos have one (they take away tilt and size;
where the card lay says nothing, it is laid anew each time); by the skin's own detail; by two to four points the artist
marks in both, drawn tight by the detail; otherwise not at all, and the photos are looked at side by side. Detail on
the card or chart never counts. Colours are never read from photos laid over one another.

Tried on made-up skin: ORB features with CLAHE and MAGSAC found all of 12 pairs even on very smooth skin, to 0.9 px;
four points and ECC likewise, to 1.1 px (colour findings, section 8). Real skin stretches, so expect more.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import cv2
import numpy as np

from app.colour.area import Scale, plane_projection
from app.colour.chart_plane import project
from app.colour.photo_match import (
    PERSPECTIVE_MOST,
    PERSPECTIVE_MOST_PLANE,
    SIZE_MOST,
    SIZE_MOST_PLANE,
    STRETCH_MOST,
    STRETCH_MOST_PLANE,
    WITHIN_PX,
    flattened,
    is_sane,
    matched,
)
from app.colour.pieces import Drawn
from app.colour.skin_detail import Detail, agreement, band, detail_of, inverse, left_over_px
from app.colour.spaces import ByteArray, FloatArray

How = Literal["marker", "features", "landmarks", "none"]

# Detail of different skin laid over one another agreed by less than 0.05 in our trials, the smoothest same skin by 0.5
# and more; real skin in other light will agree less. Our choice.
AGREEMENT_LEAST = 0.12
# Points marked by hand: three must fit a turn and a size to this share of their own spread, the detail may move them
# by this share of the photo's longer side, and unconfirmed they are good to about this share of it. Our choice.
POINTS_FIT, POINTS_SLIP, POINTS_GOOD_TO = 0.08, 0.03, 0.006
ECC_SIDE_PX, ECC_BAND_PX, ECC_ROUNDS, ECC_EPS, ECC_BLUR_PX = 600, (1.0, 10.0), 60, 1e-5, 5

SIDE_BY_SIDE = (
    "These two photos could not be laid over one another: too little of the skin's own detail was recognised in both. "
    "Look at them side by side, or mark two to four points that can be seen in both, such as moles or the ends of "
    "the scar."
)
POINTS_DO_NOT_FIT = (
    "The points marked in the two photos do not belong together: their distances differ too much. Check that each "
    "number stands on the same spot in both photos."
)


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """How points of one photo come to lie on another.

    homography: (3, 3), px of the first photo to px of the second. residual_px: how far the two still lie apart, in px
    of the second, None when not laid; residual_mm: the same in mm when the second has a scale. inliers: details that
    agree (0 for points). how: what it rests on. words: for the artist. reach: (n, 2) px of the first photo, the hull of
    the details it rests on, empty when that is not known.
    """

    homography: FloatArray
    residual_px: float | None
    inliers: int
    how: How
    words: str = ""
    residual_mm: float | None = None
    reach: FloatArray = field(default_factory=lambda: np.empty((0, 2)))

    def carry(self, points: FloatArray) -> FloatArray:
        """Points (n, 2) px of the first photo in px of the second, perhaps outside it. ValueError when not laid."""
        if self.how == "none":
            raise ValueError(SIDE_BY_SIDE)
        return project(self.homography, points)

    def covers(self, points: FloatArray) -> bool:
        """Whether all points (n, 2) px of the first photo lie among the details it rests on, and not beyond them."""
        if len(self.reach) < 3:
            return False
        hull = self.reach.astype(np.float32).reshape(-1, 1, 2)
        return all(cv2.pointPolygonTest(hull, (float(x), float(y)), False) >= 0 for x, y in points)


def register(
    srgb8_from: ByteArray,
    srgb8_to: ByteArray,
    *,
    planes: tuple[Scale, Scale] | None = None,
    landmarks: tuple[FloatArray, FloatArray] | None = None,
    leave_out: tuple[Drawn, Drawn] = ((), ()),
) -> Registration:
    """How one photo comes to lie on another of the same skin.

    Takes: two photos (h, w, 3) uint8, red, green, blue, upright, of any two sizes; planes, the Scale of each when both
    have one; landmarks, the same 2 to 4 points marked in both, (n, 2) px each, which then rule; leave_out, pieces of
    each that are no skin: give the chart here (markers and their cards are found by themselves).
    Gives: Registration; how is "none" when nothing could be recognised or the points do not fit, words say which.
    Raises ValueError for photos of another shape or type, or for another number of points.
    Source: ORB (Rublee et al. 2011), MAGSAC (Barath et al. 2019), ECC (Evangelidis, Psarakis 2008), all in OpenCV 4,
    papers from memory, unchecked.

    >>> plain = np.full((300, 400, 3), 90, np.uint8)
    >>> register(plain, plain).how
    'none'
    """
    for photo in (srgb8_from, srgb8_to):
        if photo.ndim != 3 or photo.shape[2] != 3 or photo.dtype != np.uint8:
            raise ValueError("A photo is an array of height, width and three 8-bit channels.")
    charts = ((), ()) if planes is None else tuple(((_grown(plane.corners),)) for plane in planes)
    one, other = (
        detail_of(photo, (*left, *chart))
        for photo, left, chart in zip((srgb8_from, srgb8_to), leave_out, charts, strict=True)
    )
    if landmarks is not None:
        return _by_points(one, other, landmarks, planes)
    if planes is not None and (found := _in_plane(one, other, planes)) is not None:
        return found
    return _by_features(one, other, planes) or Registration(np.eye(3), None, 0, "none", SIDE_BY_SIDE)


def _grown(corners: FloatArray) -> FloatArray:
    middle = corners.mean(axis=0)
    return np.asarray(middle + (corners - middle) * 1.15, dtype=np.float64)


def _by_features(one: Detail, other: Detail, planes: tuple[Scale, Scale] | None) -> Registration | None:
    found = matched(one, other)
    if found is None:
        return None
    turn, points = found
    if not is_sane(turn, points, SIZE_MOST, STRETCH_MOST, PERSPECTIVE_MOST):
        return None
    if planes is not None and not _fits_planes(one, other, turn, planes, points):
        return None
    if agreement(one, other, turn) < AGREEMENT_LEAST:
        return None
    said = f"Laid over one another by {len(points)} details of the skin that were recognised in both."
    return _told(one, other, turn, points, "features", said, planes)


def _in_plane(one: Detail, other: Detail, planes: tuple[Scale, Scale]) -> Registration | None:
    """Both photos seen straight from the front and at one size, then by features, with narrow limits."""
    flat = flattened((one, other), planes)
    if flat is None:
        return None
    (flat_one, by_one), (flat_other, by_other) = flat
    found = matched(flat_one, flat_other)
    if found is None:
        return None
    turn, points = found
    if not is_sane(turn, points, SIZE_MOST_PLANE, STRETCH_MOST_PLANE, PERSPECTIVE_MOST_PLANE):
        return None
    back = np.linalg.inv(by_other) @ turn @ by_one
    if agreement(one, other, back) < AGREEMENT_LEAST:
        return None
    seen_at = project(inverse(by_one), points)
    said = f"Laid over one another in the plane of the {planes[1].source}, by {len(points)} details of the skin."
    return _told(one, other, back, seen_at, "marker", said, planes)


def _in_mm(detail: Detail, plane: Scale) -> FloatArray:
    return np.asarray(plane.chart_from_photo @ np.linalg.inv(detail.work_from_photo), dtype=np.float64)


def _fits_planes(one: Detail, other: Detail, turn: FloatArray, planes: tuple[Scale, Scale], points: FloatArray) -> bool:
    """Whether the two scales agree with how the photos were laid over one another."""
    by_one, by_other = _in_mm(one, planes[0]), _in_mm(other, planes[1])
    in_mm = by_other @ turn @ np.linalg.inv(by_one)
    return is_sane(in_mm, project(by_one, points), SIZE_MOST_PLANE, STRETCH_MOST_PLANE, PERSPECTIVE_MOST)


def _told(
    one: Detail,
    other: Detail,
    turn: FloatArray,
    points: FloatArray,
    how: How,
    said: str,
    planes: tuple[Scale, Scale] | None,
    at_least_px: float = 0.0,
) -> Registration:
    """What was found, in px of the photos; points (n, 2) of the first picture it rests on."""
    px_to_work = float(np.sqrt(np.linalg.det(other.work_from_photo[:2, :2])))
    apart = left_over_px(one, other, turn)
    if apart is None:
        apart = at_least_px or WITHIN_PX
    residual = max(apart, at_least_px) / px_to_work
    homography = np.linalg.inv(other.work_from_photo) @ turn @ one.work_from_photo
    reach = project(inverse(one.work_from_photo), cv2.convexHull(points.astype(np.float32)).reshape(-1, 2))
    mm = None
    if planes is not None:
        mm = residual / planes[1].px_per_mm(project(homography, reach.mean(axis=0)[None])[0])
    size = f"{residual:.1f} px" if mm is None else f"{mm:.1f} mm"
    inliers = 0 if how == "landmarks" else len(points)
    return Registration(
        homography / homography[2, 2], residual, inliers, how, f"{said} They still lie about {size} apart.", mm, reach
    )


def _by_points(
    one: Detail, other: Detail, landmarks: tuple[FloatArray, FloatArray], planes: tuple[Scale, Scale] | None
) -> Registration:
    marked = [np.asarray(points, dtype=np.float64) for points in landmarks]
    count = len(marked[0])
    if any(points.shape != (count, 2) for points in marked) or not 2 <= count <= 4:
        raise ValueError("Mark the same two to four points in both photos.")
    here, there = (project(detail.work_from_photo, p) for detail, p in zip((one, other), marked, strict=True))
    start = _through(here, there)
    if start is None:
        return Registration(np.eye(3), None, 0, "none", POINTS_DO_NOT_FIT)
    side = max(other.grey.shape)
    drawn = _drawn_tight(one, other, start)
    good = drawn is not None and _holds(one, other, drawn, start, here, POINTS_SLIP * side)
    said = f"Laid over one another by {count} points marked in both"
    if drawn is not None and good:
        return _told(one, other, drawn, here, "landmarks", f"{said}, drawn tight by the detail of the skin.", planes)
    missed = float(np.sqrt(((project(start, here) - there) ** 2).sum(axis=1).mean()))
    said = f"{said} only: the detail of the skin does not confirm them, so check what was carried over."
    return _told(one, other, start, here, "landmarks", said, planes, max(missed, POINTS_GOOD_TO * side))


def _through(here: FloatArray, there: FloatArray) -> FloatArray | None:
    """Projection by 4 points, or turn, size and shift by 2 or 3; None when no two photos of one place give these."""
    for points in (here, there):
        apart = np.linalg.norm(points[:, None] - points[None], axis=2)
        if apart[np.triu_indices(len(points), 1)].min() < 2 * WITHIN_PX:
            return None
    z, w = here @ [1, 1j], there @ [1, 1j]
    turn, shift = np.linalg.lstsq(np.column_stack([z, np.ones(len(z))]), w, rcond=None)[0]
    similar = np.array([[turn.real, -turn.imag, shift.real], [turn.imag, turn.real, shift.imag], [0, 0, 1.0]])
    spread = float(np.sqrt(((there - there.mean(axis=0)) ** 2).sum(axis=1).mean()))
    missed = float(np.sqrt((np.abs(z * turn + shift - w) ** 2).mean()))
    if len(here) < 4:
        fits = missed <= POINTS_FIT * spread and 1 / SIZE_MOST <= abs(turn) <= SIZE_MOST
        return similar if fits else None
    try:
        projection = plane_projection(here, there)
    except ValueError:
        return None
    return projection if is_sane(projection, here, SIZE_MOST, STRETCH_MOST, PERSPECTIVE_MOST) else None


def _drawn_tight(one: Detail, other: Detail, start: FloatArray) -> FloatArray | None:
    """The projection that brings the detail of both together, begun at a guess; None when it leads nowhere."""
    # A smaller picture is faster, and a guess by hand lies within reach of what is left.
    shrink = min(1.0, ECC_SIDE_PX / max(other.grey.shape))
    half = np.diag([shrink, shrink, 1.0])
    # Without what is coarser than detail: shade and the tiles of evened contrast follow the frame, not the skin.
    wanted, moved = (
        band(cv2.resize(detail.grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA), *ECC_BAND_PX)
        for detail in (other, one)
    )
    skin = cv2.resize(one.is_skin.astype(np.uint8), moved.shape[::-1], interpolation=cv2.INTER_NEAREST)
    guess = np.linalg.inv(half @ start @ np.linalg.inv(half))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, ECC_ROUNDS, ECC_EPS)
    try:
        seed = (guess / guess[2, 2]).astype(np.float32)
        _, found = cv2.findTransformECC(wanted, moved, seed, cv2.MOTION_HOMOGRAPHY, stop, skin * 255, ECC_BLUR_PX)
        return np.asarray(np.linalg.inv(half) @ np.linalg.inv(found.astype(np.float64)) @ half, dtype=np.float64)
    except (cv2.error, np.linalg.LinAlgError):
        return None


def _holds(one: Detail, other: Detail, drawn: FloatArray, start: FloatArray, here: FloatArray, slip_px: float) -> bool:
    slipped = np.linalg.norm(project(drawn, here) - project(start, here), axis=1).max()
    if slipped > slip_px or not is_sane(drawn, here, SIZE_MOST, STRETCH_MOST, PERSPECTIVE_MOST):
        return False
    return agreement(one, other, drawn) >= max(AGREEMENT_LEAST, agreement(one, other, start))
