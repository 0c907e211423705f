"""Finding the same details in two photos, and judging whether what was found can be two photos of one place."""

from __future__ import annotations

import cv2
import numpy as np

from app.colour.area import Scale
from app.colour.chart_plane import project
from app.colour.skin_detail import Detail, inverse
from app.colour.spaces import FloatArray

FEATURES, FAST_THRESHOLD, WITHIN_PX = 4000, 5, 3.0
# On made-up skin the smoothest same skin gave 27 and more; chance gave 7 to 12, once 21: that the detail in between
# agrees as well (`agreement`) is what decides.
INLIERS_LEAST, INLIERS_ANY_TURN, TURN_MOST_DEG = 15, 60, 60.0
# Size of one photo against the other, how much longer one direction may become than the other, and how much the size
# may change across the part that was recognised: beyond these no one photographs the same scar. Our choice.
SIZE_MOST, STRETCH_MOST, PERSPECTIVE_MOST = 3.0, 2.0, 3.0
# The same in a common plane in mm, where skin can only have stretched or bent a little.
SIZE_MOST_PLANE, STRETCH_MOST_PLANE, PERSPECTIVE_MOST_PLANE = 1.25, 1.35, 1.8


def flattened(
    details: tuple[Detail, Detail], planes: tuple[Scale, Scale]
) -> tuple[tuple[Detail, FloatArray], tuple[Detail, FloatArray]] | None:
    """Both photos seen straight from the front, at the same px to the mm.

    Takes: two Details and the Scale of each. Gives: for each its flat Detail and flat px from work px (3, 3); None when
    a plane ends within its photo. Source: plane projection.

    >>> detail = Detail(np.full((100, 100), 90, np.uint8), np.ones((100, 100), np.bool_), np.eye(3))
    >>> scale = Scale(np.diag([0.5, 0.5, 1]), "chart", 0.01, np.array([[0, 0], [9, 0], [9, 9], [0, 9]], float))
    >>> flattened((detail, detail), (scale, scale))[0][0].grey.shape
    (100, 100)
    """
    frames = []
    for detail, plane in zip(details, planes, strict=True):
        high, wide = detail.grey.shape
        photo = project(inverse(detail.work_from_photo), [[0, 0], [wide, 0], [wide, high], [0, high]])
        try:
            frames.append(plane.to_mm(photo))
        except ValueError:
            return None
    reach = max(float(np.ptp(frame, axis=0).max()) for frame in frames)
    middle_px = [
        plane.px_per_mm(plane.corners.mean(axis=0)) * detail.work_from_photo[0, 0]
        for detail, plane in zip(details, planes, strict=True)
    ]
    px_per_mm = min(*middle_px, 1.5 * max(max(d.grey.shape) for d in details) / reach)
    made = []
    for detail, plane, frame in zip(details, planes, frames, strict=True):
        corner = frame.min(axis=0)
        flat_from_mm = np.array(
            [[px_per_mm, 0, -corner[0] * px_per_mm], [0, px_per_mm, -corner[1] * px_per_mm], [0, 0, 1]]
        )
        by = flat_from_mm @ plane.chart_from_photo @ np.linalg.inv(detail.work_from_photo)
        wide, high = (max(1, int(np.ceil(side * px_per_mm))) for side in np.ptp(frame, axis=0))
        grey = cv2.warpPerspective(detail.grey, by, (wide, high), flags=cv2.INTER_LINEAR)
        skin = cv2.warpPerspective(detail.is_skin.astype(np.uint8), by, (wide, high), flags=cv2.INTER_NEAREST)
        # The frame of the photo is an edge like any other: features there would be of the photo, not of the skin.
        skin = cv2.erode(skin, np.ones((31, 31), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0)
        made.append((Detail(np.asarray(grey, np.uint8), skin == 1, np.eye(3)), by))
    return made[0], made[1]


def matched(one: Detail, other: Detail) -> tuple[FloatArray, FloatArray] | None:
    """Plane projection from one picture to another and the points of the first it rests on.

    Takes: two Details. Gives: (3, 3) and (n, 2), in work px, or None when fewer than 15 details agree.
    Source: ORB (Rublee et al. 2011) and MAGSAC (Barath et al. 2019) in OpenCV 4.

    >>> plain = Detail(np.full((200, 200), 90, np.uint8), np.ones((200, 200), np.bool_), np.eye(3))
    >>> matched(plain, plain) is None
    True
    """
    orb = cv2.ORB.create(nfeatures=FEATURES, fastThreshold=FAST_THRESHOLD)
    seen = [orb.detectAndCompute(detail.grey, detail.is_skin.astype(np.uint8) * 255) for detail in (one, other)]
    if any(marks is None or len(points) < INLIERS_LEAST for points, marks in seen):
        return None
    (points_one, marks_one), (points_other, marks_other) = seen
    pairs = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True).match(marks_one, marks_other)
    if len(pairs) < INLIERS_LEAST:
        return None
    here = np.array([points_one[pair.queryIdx].pt for pair in pairs])
    there = np.array([points_other[pair.trainIdx].pt for pair in pairs])
    turn, kept = cv2.findHomography(here, there, cv2.USAC_MAGSAC, WITHIN_PX, maxIters=5000, confidence=0.999)
    if turn is None or int(kept.sum()) < INLIERS_LEAST:
        return None
    return np.asarray(turn, dtype=np.float64), np.asarray(here[kept.ravel() == 1], dtype=np.float64)


def is_sane(turn: FloatArray, points: FloatArray, size: float, stretch: float, perspective: float) -> bool:
    """Whether a plane projection is one that two photos of the same place can have.

    Takes: turn (3, 3); points (n, 2) it rests on; limits of size, of stretch of one direction, and of how much the size
    changes from one end of the points to the other. Source: singular values of the projection at the points.

    >>> corners = np.array([[0, 0], [100, 0], [100, 80], [0, 80]], float)
    >>> is_sane(np.eye(3), corners, 3, 2, 3), is_sane(np.diag([9.0, 9, 1]), corners, 3, 2, 3)
    (True, False)
    """
    middle = points.mean(axis=0)
    low, high = points.min(axis=0), points.max(axis=0)
    growths = []
    for at in (middle, low, high, [low[0], high[1]], [high[0], low[1]]):
        step = project(turn, [at, np.add(at, [1, 0]), np.add(at, [0, 1])])
        grid = np.stack([step[1] - step[0], step[2] - step[0]], axis=1)
        if np.linalg.det(grid) <= 0:
            return False  # turned over, or past the vanishing line
        growths.append(float(np.sqrt(np.linalg.det(grid))))
        if at is middle:
            long, short = np.linalg.svd(grid, compute_uv=False)
            turned = abs(float(np.degrees(np.arctan2(grid[1, 0], grid[0, 0]))))
    usual_turn = turned <= TURN_MOST_DEG or len(points) >= INLIERS_ANY_TURN
    return (
        usual_turn
        and 1 / size <= growths[0] <= size
        and long / short <= stretch
        and max(growths) / min(growths) <= perspective
    )
