"""A chart as a plane: where its patches lie, how it stands in a photo, and how far it is tilted."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.spaces import FloatArray

COLUMNS, ROWS = 6, 4

# Chart units of the detector's model of the chart: patches 2.5 wide, 2.75 from one to the next, margin 0.25 (OpenCV
# 4, modules/mcc, chart model of the classic 24-patch chart). Every other layout is taken to be built alike; patches
# without a gap, or with one of a fifth, move the middles by less than a twentieth of a patch.
UNITS_WIDE, UNITS_HIGH, PITCH_UNITS, FIRST_CENTRE, MARGIN_UNITS = 16.75, 11.25, 2.75, 1.5, 0.25

# Focal lengths of lenses by the long side of the picture: 23 mm to 80 mm on a frame of 36 mm, common practice.
FOCAL_LENGTHS: FloatArray = np.geomspace(0.65, 2.2, 25)


def patch_centre_units(columns: int = COLUMNS, rows: int = ROWS) -> FloatArray:
    """Centres of the patches in chart units, shape (columns * rows, 2), row by row, x to the right, y down.

    Source: chart model of OpenCV 4, modules/mcc.

    >>> patch_centre_units()[7].tolist()
    [4.25, 4.25]
    """
    down, across = np.divmod(np.arange(columns * rows), columns)
    return np.stack([FIRST_CENTRE + PITCH_UNITS * across, FIRST_CENTRE + PITCH_UNITS * down], axis=1)


def size_units(columns: int = COLUMNS, rows: int = ROWS) -> FloatArray:
    """Width and height of a chart in chart units, to a tenth of a patch outside the outer patches, shape (2,).

    Source: chart model of OpenCV 4, modules/mcc.

    >>> size_units().tolist()
    [16.75, 11.25]
    """
    return PITCH_UNITS * np.array([columns, rows], dtype=np.float64) + MARGIN_UNITS


def photo_from_chart(corners: FloatArray, columns: int = COLUMNS, rows: int = ROWS) -> FloatArray:
    """Plane projection (3, 3) from chart units to px of the photo.

    Takes: corners (4, 2) in px, in the order of `Chart.corners`; the layout. Raises ValueError when they span no area.
    Source: OpenCV 4, getPerspectiveTransform.

    >>> photo_from_chart(np.array([[0, 0], [1675, 0], [1675, 1125], [0, 1125]], float)).shape
    (3, 3)
    """
    x, y = corners[:, 0], corners[:, 1]
    if abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) < 2.0:
        raise ValueError("The four corners of the chart span no area.")
    wide, high = size_units(columns, rows)
    units = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(units, corners.astype(np.float32)), dtype=np.float64)


def project(homography: FloatArray, points: npt.ArrayLike) -> FloatArray:
    """Points (n, 2) carried through a plane projection (3, 3); gives (n, 2).

    Source: plane projective geometry.

    >>> project(np.eye(3), [[2.0, 3.0]]).tolist()
    [[2.0, 3.0]]
    """
    flat = np.asarray(points, dtype=np.float64)
    homogeneous = np.column_stack([flat, np.ones(len(flat))]) @ homography.T
    return np.asarray(homogeneous[:, :2] / homogeneous[:, 2:], dtype=np.float64)


def tilt_deg(corners: FloatArray, width: int, height: int, columns: int = COLUMNS, rows: int = ROWS) -> float:
    """Angle between the chart and the plane of the picture, in degrees.

    Takes: corners (4, 2) px, in the order of `Chart.corners`; width and height of the photo; the layout. Gives: 0 to
    90; within 3 degrees when the corners are known to half a px and the photo was not cropped to one side
    (tests/colour/test_chart.py). Raises ValueError when the corners span no area.
    Source: the two sides of a square grid are of one length and at right angles (Zhang 2000, a plane seen by a camera
    of unknown focal length); the focal length is looked for among FOCAL_LENGTHS.

    >>> round(tilt_deg(np.array([[0, 0], [1675, 0], [1675, 1125], [0, 1125]], float), 1675, 1125))
    0
    """
    middle = np.array([[1, 0, width / 2], [0, 1, height / 2], [0, 0, 1.0]])
    sides = (np.linalg.inv(middle) @ photo_from_chart(corners, columns, rows))[:, :2]
    focal = FOCAL_LENGTHS * max(width, height)
    along, down = (np.stack([sides[0, n] / focal, sides[1, n] / focal, np.full(len(focal), sides[2, n])], axis=1)
                   for n in (0, 1))  # fmt: skip
    lengths = np.linalg.norm(along, axis=1), np.linalg.norm(down, axis=1)
    cosine = np.sum(along * down, axis=1) / (lengths[0] * lengths[1])
    likeliest = int(np.argmin(cosine**2 + np.log(lengths[0] / lengths[1]) ** 2))
    upright = np.cross(along[likeliest], down[likeliest])
    return float(np.degrees(np.arccos(min(1.0, abs(upright[2]) / float(np.linalg.norm(upright))))))


def outwards(placed: FloatArray, columns: int, rows: int) -> FloatArray:
    """Corners of a chart, a tenth of a patch outside the outer patches, from the outer corners of its patches.

    Takes: placed (4, 2) px, from the chart's own top left on; the layout. Gives: (4, 2) px, as in `chart.Chart`.
    Source: OpenCV 4, getPerspectiveTransform.

    >>> outwards(np.array([[25.0, 25], [1650, 25], [1650, 1100], [25, 1100]]), 6, 4).round()[2].tolist()
    [1675.0, 1125.0]
    """
    wide, high = size_units(columns, rows)
    edge = MARGIN_UNITS
    patches = np.array([[edge, edge], [wide - edge, edge], [wide - edge, high - edge], [edge, high - edge]])
    turn = cv2.getPerspectiveTransform(patches.astype(np.float32), placed.astype(np.float32))
    return project(np.asarray(turn, dtype=np.float64), [[0, 0], [wide, 0], [wide, high], [0, high]])
