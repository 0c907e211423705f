"""Finding the 24-patch colour chart in a photo and reading its patches."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from typing import Any, Self

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.sharpness import edge_width_px
from app.colour.spaces import DATA, BoolArray, ByteArray, FloatArray, linear_rgb_from_srgb

DETECTION_SIDE_PX = 1600
PATCHES, COLUMNS, ROWS = 24, 6, 4
NEUTRALS = slice(18, 24)
SKIN_PATCHES = (0, 1)
# White, two light greys and two yellows: their borders with the dark card are steep enough to show sharpness.
BRIGHT = (18, 19, 20, 15, 11)

# Chart units of the detector's model of the chart: patches 2.5 wide, 2.75 from one to the next, margin 0.25 (OpenCV
# 4, modules/mcc, chart model of the classic 24-patch chart).
UNITS_WIDE, UNITS_HIGH, PITCH_UNITS, FIRST_CENTRE = 16.75, 11.25, 2.75, 1.5
# Half the side of the square read inside each patch: well inside, so a corner off by a third of a patch does no harm.
READ_HALF_UNITS = 0.65

# A channel at or over this is taken as cut off by the sensor or the picture format (research: colour findings, 7).
CLIPPED_FROM = 250.0
# The darkest neutral at or below this has lost its tone (research: colour findings, 7).
CRUSHED_TO = 8.0

# Luminance of daylight-balanced linear RGB, IEC 61966-2-1:1999.
LUMINANCE: FloatArray = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """A 24-patch chart seen in a photo.

    corners: (4, 2) x, y in px of the whole photo, in the order of the chart's own top left, top right, bottom right,
    bottom left. patch_srgb8: (24, 3) medians, sRGB curve, 0 to 255. clipped: (24,). shadow_residual: (24,) share by
    which a patch is brighter (+) or darker (-) than the even light seen on the others. light_slope: (2,) natural log
    of luminance per px to the right and per px down. uneven_light: share between the brightest and the darkest end
    of the chart. edge_width_px: 10 to 90 % width of the patch borders at a photo side of 1000 px, or None when no
    border could be read.
    """

    corners: FloatArray
    patch_srgb8: FloatArray
    clipped: BoolArray
    shadow_residual: FloatArray
    light_slope: FloatArray
    uneven_light: float
    edge_width_px: float | None

    def to_dict(self) -> dict[str, Any]:
        return {
            "corners": self.corners.tolist(),
            "patch_srgb8": self.patch_srgb8.tolist(),
            "clipped": self.clipped.tolist(),
            "shadow_residual": self.shadow_residual.tolist(),
            "light_slope": self.light_slope.tolist(),
            "uneven_light": self.uneven_light,
            "edge_width_px": self.edge_width_px,
        }

    @classmethod
    def from_dict(cls, kept: dict[str, Any]) -> Self:
        return cls(
            corners=np.array(kept["corners"], dtype=np.float64),
            patch_srgb8=np.array(kept["patch_srgb8"], dtype=np.float64),
            clipped=np.array(kept["clipped"], dtype=np.bool_),
            shadow_residual=np.array(kept["shadow_residual"], dtype=np.float64),
            light_slope=np.array(kept["light_slope"], dtype=np.float64),
            uneven_light=float(kept["uneven_light"]),
            edge_width_px=None if kept["edge_width_px"] is None else float(kept["edge_width_px"]),
        )


@dataclass(frozen=True, slots=True, eq=False)
class ChartReference:
    """What the patches are: names, lab_d65 (24, 3) and linear_rgb (24, 3), D65 and 2 degree observer."""

    names: tuple[str, ...]
    lab_d65: FloatArray
    linear_rgb: FloatArray


@cache
def reference() -> ChartReference:
    """Colours of the 24-patch chart made after November 2014, D65 and 2 degree observer.

    Gives: ChartReference in the order of the chart, row by row.
    Source: the maker's L*a*b* values for D50, as carried in colour-science ("ColorChecker24 - After November
    2014"), adapted to D65 by the Bradford transform; data/chart_24.csv, checked in tests/published.

    >>> reference().names[18]
    'white 9.5'
    """
    with (DATA / "chart_24.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    return ChartReference(
        names=tuple(row["name"] for row in rows),
        lab_d65=np.array([[float(row[k]) for k in ("l_d65", "a_d65", "b_d65")] for row in rows]),
        linear_rgb=np.array([[float(row[k]) for k in ("linear_r", "linear_g", "linear_b")] for row in rows]),
    )


def patch_centre_units() -> FloatArray:
    """Centres of the 24 patches in chart units, shape (24, 2), x to the right, y down.

    Source: chart model of OpenCV 4, modules/mcc.

    >>> patch_centre_units()[7].tolist()
    [4.25, 4.25]
    """
    rows, columns = np.divmod(np.arange(PATCHES), COLUMNS)
    return np.stack([FIRST_CENTRE + PITCH_UNITS * columns, FIRST_CENTRE + PITCH_UNITS * rows], axis=1)


def photo_from_chart(corners: FloatArray) -> FloatArray:
    """Plane projection (3, 3) from chart units to px of the photo.

    Takes: corners (4, 2) in px, in the order of `Chart.corners`. Raises ValueError when they span no area.
    Source: OpenCV 4, getPerspectiveTransform.

    >>> photo_from_chart(np.array([[0, 0], [1675, 0], [1675, 1125], [0, 1125]], float)).shape
    (3, 3)
    """
    x, y = corners[:, 0], corners[:, 1]
    if abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) < 2.0:
        raise ValueError("The four corners of the chart span no area.")
    units = np.array([[0, 0], [UNITS_WIDE, 0], [UNITS_WIDE, UNITS_HIGH], [0, UNITS_HIGH]], dtype=np.float32)
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


def find_chart(srgb8: ByteArray) -> Chart | None:
    """The 24-patch chart in a photo, or None when there is none.

    Takes: srgb8 (h, w, 3) uint8, order red, green, blue, upright. Gives: Chart in px of that photo. A chart of
    another maker may be found too: `calibration.calibrate` refuses it by its colours.
    Raises ValueError for any other shape or type.
    Source: OpenCV 4, modules/mcc; the half turn is tried as well and the better fit to the reference is kept.

    >>> find_chart(np.full((300, 400, 3), 90, np.uint8)) is None
    True
    """
    _check_photo(srgb8)
    scale = min(1.0, DETECTION_SIDE_PX / max(srgb8.shape[:2]))
    small = cv2.cvtColor(srgb8, cv2.COLOR_RGB2BGR) if scale == 1.0 else _shrunk(srgb8, scale)
    detector = cv2.mcc.CCheckerDetector.create()
    if not detector.process(small, cv2.mcc.MCC24, 1):
        return None
    shrink = np.array([small.shape[1] / srgb8.shape[1], small.shape[0] / srgb8.shape[0]])
    found = [
        np.asarray(checker.getBox(), dtype=np.float64).reshape(4, 2) / shrink
        for checker in detector.getListColorChecker()
    ]
    turned = [box for corners in found for box in (corners, np.roll(corners, 2, axis=0)) if _inside(box, srgb8)]
    if not turned:
        return None
    best = min(turned, key=lambda corners: _misfit(_patch_medians(srgb8, corners)[0]))
    return chart_from_corners(srgb8, best)


def chart_from_corners(srgb8: ByteArray, corners: npt.ArrayLike) -> Chart:
    """A chart whose four corners are known.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px, the chart's own top left, top right, bottom right, bottom left,
    a tenth of a patch outside the outer patches. Gives: Chart.
    Raises ValueError when the corners span no area or lie outside the photo.
    Source: research on colour from photos (shadow, even light and edge width as described there).

    >>> photo = np.full((200, 300, 3), 120, np.uint8)
    >>> chart_from_corners(photo, [[20, 20], [280, 20], [280, 180], [20, 180]]).patch_srgb8.shape
    (24, 3)
    """
    _check_photo(srgb8)
    box = np.asarray(corners, dtype=np.float64)
    if box.shape != (4, 2) or not np.all(np.isfinite(box)):
        raise ValueError("A chart has four corners, each with x and y.")
    if not _inside(box, srgb8):
        raise ValueError("A corner of the chart lies outside the photo.")
    medians, clipped = _patch_medians(srgb8, box)
    residual, slope_units = _light(medians, clipped)
    centres = project(photo_from_chart(box), patch_centre_units())
    plane = patch_centre_units() @ slope_units
    return Chart(
        corners=box,
        patch_srgb8=medians,
        clipped=clipped,
        shadow_residual=residual,
        light_slope=np.asarray(np.linalg.lstsq(centres - centres.mean(0), plane - plane.mean(), rcond=None)[0]),
        uneven_light=float(1 - np.exp(plane.min() - plane.max())),
        edge_width_px=edge_width_px(srgb8, _borders(photo_from_chart(box))),
    )


def _check_photo(srgb8: ByteArray) -> None:
    if srgb8.ndim != 3 or srgb8.shape[2] != 3 or srgb8.dtype != np.uint8:
        raise ValueError("A photo is an array of height, width and three 8-bit channels.")


def _shrunk(srgb8: ByteArray, scale: float) -> ByteArray:
    size = (round(srgb8.shape[1] * scale), round(srgb8.shape[0] * scale))
    return np.asarray(cv2.cvtColor(cv2.resize(srgb8, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2BGR))


def _inside(corners: FloatArray, srgb8: ByteArray) -> bool:
    # A chart may touch the frame: its corner lies outside the patches, so a little over the edge is allowed.
    slack = 0.02 * max(srgb8.shape[:2])
    size = np.array([srgb8.shape[1], srgb8.shape[0]])
    return bool(np.all(corners > -slack) and np.all(corners < size + slack))


def _patch_medians(srgb8: ByteArray, corners: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Median colour of the inner part of each patch, and which patches are cut off at either end."""
    homography = photo_from_chart(corners)
    steps = np.linspace(-READ_HALF_UNITS, READ_HALF_UNITS, 25)
    grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    medians = np.empty((PATCHES, 3))
    clipped = np.zeros(PATCHES, dtype=np.bool_)
    for index, centre in enumerate(patch_centre_units()):
        at = np.rint(project(homography, centre + grid)).astype(int)
        x = np.clip(at[:, 0], 0, srgb8.shape[1] - 1)
        y = np.clip(at[:, 1], 0, srgb8.shape[0] - 1)
        pixels = srgb8[y, x].astype(np.float64)
        medians[index] = np.median(pixels, axis=0)
        clipped[index] = bool(np.any(np.mean(pixels >= CLIPPED_FROM, axis=0) > 0.1))
    clipped[23] |= bool(medians[23].max() <= CRUSHED_TO)
    return medians, clipped


def _misfit(patch_srgb8: FloatArray) -> float:
    """How badly 24 patches agree with the reference after the best straight map, for choosing between turns."""
    seen = np.column_stack([patch_srgb8 / 255, np.ones(PATCHES)])
    wanted = np.cbrt(np.maximum(reference().linear_rgb, 0))
    return float(np.linalg.norm(wanted - seen @ np.linalg.lstsq(seen, wanted, rcond=None)[0]))


def _light(patch_srgb8: FloatArray, clipped: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Shadow residual of each patch, and the slope of log luminance per chart unit.

    The tone curve of the camera (a power of the luminance) and the colour of its primaries are fitted along with
    the plane of light, so that neither is taken for a shadow. A patch in shadow must not bend the fit: its weight
    falls with its residual.
    """
    balanced = linear_rgb_from_srgb(np.maximum(patch_srgb8, 1.0) / 255)
    balanced = balanced / balanced[NEUTRALS].mean(axis=0)
    seen = np.log(balanced @ LUMINANCE)
    wanted = reference().linear_rgb
    luminance = np.maximum(wanted @ LUMINANCE, 1e-4)
    centre = patch_centre_units() - [UNITS_WIDE / 2, UNITS_HIGH / 2]
    hue = (wanted - luminance[:, None]) / (wanted.max(axis=1) + luminance)[:, None]
    design = np.column_stack([np.ones(PATCHES), np.log(luminance), np.log(luminance) ** 2, centre, hue[:, [0, 2]]])
    weight = np.where(clipped, 0.0, 1.0)
    for _ in range(12):
        root = np.sqrt(weight)[:, None]
        fit = np.linalg.lstsq(design * root, seen * root[:, 0], rcond=None)[0]
        rest = seen - design @ fit
        spread = max(1.4826 * float(np.median(np.abs(rest[~clipped]))) if not clipped.all() else 1.0, 0.01)
        weight = np.where(clipped, 0.0, 1 / (1 + (rest / (2 * spread)) ** 2))
    return np.expm1(rest), np.asarray(fit[3:5], dtype=np.float64)


def _borders(homography: FloatArray) -> FloatArray:
    """Lines (n, 2, 2) in px from the middle of bright patches to the middle of the dark gap round them."""
    lines = []
    for centre in patch_centre_units()[list(BRIGHT)]:
        for outward in (np.array([1.0, 0]), np.array([-1.0, 0]), np.array([0, 1.0]), np.array([0, -1.0])):
            for shift in (-0.6, -0.3, 0.0, 0.3, 0.6):
                start = centre + shift * outward[::-1]
                lines.append(project(homography, [start, start + PITCH_UNITS / 2 * outward]))
    return np.array(lines)
