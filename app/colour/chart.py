"""Finding the colour chart in a photo, or where somebody placed its corners, and reading its patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.chart_lattice import aligned_corners
from app.colour.chart_patches import CLIPPED_FROM, borders, fall_of_light, misfit, patch_medians
from app.colour.chart_plane import (
    COLUMNS,
    PITCH_UNITS,
    ROWS,
    UNITS_HIGH,
    UNITS_WIDE,
    outwards,
    patch_centre_units,
    photo_from_chart,
    project,
    tilt_deg,
)
from app.colour.chart_reference import ChartReference, shipped
from app.colour.sharpness import edge_width_px
from app.colour.spaces import BoolArray, ByteArray, FloatArray

# What stands in photos of charts is asked for here, wherever it is worked out.
__all__ = [
    "CLIPPED_FROM", "PITCH_UNITS", "UNITS_HIGH", "UNITS_WIDE", "Chart", "ChartReference", "chart_at",
    "chart_from_corners", "find_chart", "patch_centre_units", "photo_from_chart", "project",
]  # fmt: skip

DETECTION_SIDE_PX = 1600
# A photo is called mirrored only when the patches fit clearly better that way: our choice.
MIRRORED_BELOW = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """A chart of n patches seen in a photo.

    corners: (4, 2) x, y in px of the whole photo, in the order of the chart's own top left, top right, bottom right,
    bottom left, a tenth of a patch outside the outer patches. patch_srgb8: (n, 3) medians, sRGB curve, 0 to 255.
    clipped: (n,). shadow_residual: (n,) share by which a patch is brighter (+) or darker (-) than the even light seen
    on the others. light_slope: (2,) natural log of luminance per px to the right and per px down. uneven_light: share
    between the brightest and the darkest end of the chart. edge_width_px: 10 to 90 % width of the patch borders at a
    photo side of 1000 px, or None when no border could be read. columns, rows: the layout. tilt_deg: between the chart
    and the plane of the picture, None for charts kept before it was looked at.
    """

    corners: FloatArray
    patch_srgb8: FloatArray
    clipped: BoolArray
    shadow_residual: FloatArray
    light_slope: FloatArray
    uneven_light: float
    edge_width_px: float | None
    columns: int = COLUMNS
    rows: int = ROWS
    tilt_deg: float | None = None

    @property
    def is_mirrored(self) -> bool:
        """Whether the photo shows left and right swapped, as some front cameras do: its corners then run backwards."""
        x, y = self.corners.T
        return bool(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) < 0)

    def to_dict(self) -> dict[str, Any]:
        return {
            "corners": self.corners.tolist(),
            "patch_srgb8": self.patch_srgb8.tolist(),
            "clipped": self.clipped.tolist(),
            "shadow_residual": self.shadow_residual.tolist(),
            "light_slope": self.light_slope.tolist(),
            "uneven_light": self.uneven_light,
            "edge_width_px": self.edge_width_px,
            "columns": self.columns,
            "rows": self.rows,
            "tilt_deg": self.tilt_deg,
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
            columns=int(kept.get("columns", COLUMNS)),
            rows=int(kept.get("rows", ROWS)),
            tilt_deg=None if kept.get("tilt_deg") is None else float(kept["tilt_deg"]),
        )


def find_chart(srgb8: ByteArray, reference: ChartReference | None = None) -> Chart | None:
    """The 24-patch chart in a photo, or None when there is none.

    Takes: srgb8 (h, w, 3) uint8, order red, green, blue, upright; reference: the shipped chart unless given. Only
    charts of six by four patches can be looked for: any other gives None, its corners are placed by hand.
    Gives: Chart in px of that photo. A chart of another maker may be found too: `calibration.calibrate` refuses it by
    its colours. Raises ValueError for any other shape or type.
    Source: OpenCV 4, modules/mcc; the half turn is tried as well and the better fit to the reference is kept. Its
    corners are then aligned by the patches' own sides (`chart_lattice`).

    >>> find_chart(np.full((300, 400, 3), 90, np.uint8)) is None
    True
    """
    _check_photo(srgb8)
    reference = shipped() if reference is None else reference
    if (reference.columns, reference.rows) != (COLUMNS, ROWS):
        return None
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
    # The detector turns a mirrored chart round by its colours, so that only the half turn is left to doubt.
    turned = [box for corners in found for box in (corners, np.roll(corners, 2, axis=0)) if _inside(box, srgb8)]
    if not turned:
        return None
    best = min(turned, key=lambda box: misfit(srgb8, box, reference))
    aligned = aligned_corners(srgb8, best)
    return chart_from_corners(srgb8, aligned if _inside(aligned, srgb8) else best, reference)


def chart_at(srgb8: ByteArray, corners: npt.ArrayLike, reference: ChartReference | None = None) -> Chart:
    """A chart whose four corners somebody placed by hand, of any layout.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px: the outer corners of the four corner patches, one after the other
    round the chart, beginning anywhere and either way round; reference: the shipped chart unless given.
    Gives: Chart, turned so that its colours fit the reference best.
    Raises ValueError when the corners span no area or lie outside the photo.
    Source: the eight ways to lay four corners on a rectangle, kept by their misfit.

    >>> photo = np.full((200, 300, 3), 120, np.uint8)
    >>> chart_at(photo, [[20, 20], [280, 20], [280, 180], [20, 180]]).patch_srgb8.shape
    (24, 3)
    """
    _check_photo(srgb8)
    reference = shipped() if reference is None else reference
    placed = _four(corners, srgb8)
    if np.sum(placed[:, 0] * np.roll(placed[:, 1], -1) - placed[:, 1] * np.roll(placed[:, 0], -1)) < 0:
        placed = placed[::-1]
    layout = (reference.columns, reference.rows)
    upright = [outwards(np.roll(placed, turn, axis=0), *layout) for turn in range(4)]
    mirrored = [outwards(np.roll(placed[::-1], turn, axis=0), *layout) for turn in range(4)]
    best, swapped = (min((misfit(srgb8, box, reference), n) for n, box in enumerate(boxes))
                     for boxes in (upright, mirrored))  # fmt: skip
    is_mirrored = swapped[0] < MIRRORED_BELOW * best[0]
    box = mirrored[swapped[1]] if is_mirrored else upright[best[1]]
    # Hands are off by a few px: the patches' own sides say where the chart stands.
    aligned = aligned_corners(srgb8, box, *layout)
    return chart_from_corners(srgb8, aligned if _inside(aligned, srgb8) else box, reference)


def chart_from_corners(srgb8: ByteArray, corners: npt.ArrayLike, reference: ChartReference | None = None) -> Chart:
    """A chart whose four corners and turn are known.

    Takes: srgb8 (h, w, 3) uint8; corners (4, 2) px, the chart's own top left, top right, bottom right, bottom left,
    a tenth of a patch outside the outer patches; reference: the shipped chart unless given. Gives: Chart.
    Raises ValueError when the corners span no area or lie outside the photo.
    Source: research on colour from photos (shadow, even light and edge width as described there).

    >>> photo = np.full((200, 300, 3), 120, np.uint8)
    >>> chart_from_corners(photo, [[20, 20], [280, 20], [280, 180], [20, 180]]).patch_srgb8.shape
    (24, 3)
    """
    _check_photo(srgb8)
    reference = shipped() if reference is None else reference
    columns, rows = reference.columns, reference.rows
    box = _four(corners, srgb8)
    medians, clipped = patch_medians(srgb8, box, reference)
    residual, slope_units = fall_of_light(medians, clipped, reference)
    to_photo = photo_from_chart(box, columns, rows)
    units = patch_centre_units(columns, rows)
    centres, plane = project(to_photo, units), units @ slope_units
    return Chart(
        corners=box,
        patch_srgb8=medians,
        clipped=clipped,
        shadow_residual=residual,
        light_slope=np.asarray(np.linalg.lstsq(centres - centres.mean(0), plane - plane.mean(), rcond=None)[0]),
        uneven_light=float(1 - np.exp(plane.min() - plane.max())),
        edge_width_px=edge_width_px(srgb8, borders(to_photo, reference)),
        columns=columns,
        rows=rows,
        tilt_deg=tilt_deg(box, srgb8.shape[1], srgb8.shape[0], columns, rows),
    )


def _four(corners: npt.ArrayLike, srgb8: ByteArray) -> FloatArray:
    box = np.asarray(corners, dtype=np.float64)
    if box.shape != (4, 2) or not np.all(np.isfinite(box)):
        raise ValueError("A chart has four corners, each with x and y.")
    if not _inside(box, srgb8):
        raise ValueError("A corner of the chart lies outside the photo.")
    return box


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
