"""Where in a scar the colour differs from the skin: a map, the share within a limit, and a picture of it.

Single pixels are mostly noise of the camera. So light is first averaged over a stated distance, within the scar
only: nothing of the skin round it, of glare, or of cut-off pixels is mixed in.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.calibration import Calibration, apply
from app.colour.chart import CLIPPED_FROM
from app.colour.difference import delta_e_00
from app.colour.geometry import Box
from app.colour.pieces import Drawn
from app.colour.quality import glare_mask
from app.colour.regions import Masked, photo_edge_width_px, scar_mask
from app.colour.spaces import (
    BoolArray,
    ByteArray,
    FloatArray,
    linear_rgb_from_srgb,
    srgb8_from_lab_d65,
    srgb_from_linear_rgb,
)
from app.colour.thresholds import LIMITS, SkinClass

# Standard deviation of the averaging, in px: the photo's edge width, but at least this. It averages about 200 px, and
# camera noise of 2.5 of 255 comes down to 0.2: our choice.
LEAST_SMOOTH_PX = 4.0
MOST_CELLS = 400  # along the longer side of a map; more is not seen and takes long
# A cell that is less than this share inside the scar is left out.
LEAST_INSIDE = 0.5

# The picture's own colours, L*a*b*. What is within the match limit is one neutral grey; lighter than the skin goes up
# to a pale straw, darker down to a deep violet, three steps each (close, visible, strong): in greyscale, too, lighter
# is lighter and darker darker. Where lightness is the smaller part of the difference (it is a matter of red or
# yellow) the steps are drawn as stripes on the neutral grey.
WITHIN: FloatArray = np.array([64.0, 0.0, 0.0])
LIGHTER: FloatArray = np.array([[75.0, 2.0, 18.0], [86.0, 2.0, 34.0], [96.0, -3.0, 52.0]])
DARKER: FloatArray = np.array([[51.0, 10.0, -16.0], [36.0, 18.0, -30.0], [20.0, 24.0, -40.0]])
OUTSIDE: FloatArray = np.array([100.0, 0.0, 0.0])
STRIPE_PX = 6
PICTURE_SIDE_PX = 640


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Colours of a region averaged over smooth_px, one cell for every `step` px of a box.

    lab_d65: (h, w, 3) float64, NaN outside the region.
    """

    lab_d65: FloatArray
    box: Box
    step: int
    smooth_px: float

    @property
    def inside(self) -> BoolArray:
        return np.asarray(np.isfinite(self.lab_d65[..., 0]), dtype=np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class DifferenceMap:
    """CIEDE2000 of each cell of a scar against the middle colour of the skin.

    delta_e_00: (h, w) float32, NaN outside; lightness: (h, w) float32, share -1 to 1 of the difference that is
    lightness, + lighter and - darker than the skin. box: px of the photo it covers; step: px per cell; smooth_px:
    the averaging behind it. skin: whose limits the picture's steps follow.
    """

    delta_e_00: npt.NDArray[np.float32]
    lightness: npt.NDArray[np.float32]
    box: Box
    step: int
    smooth_px: float
    skin: SkinClass

    def share_within(self, limit: float | None = None) -> float:
        """Share of the scar, 0 to 1, that differs by no more than the limit (the match limit of its skin class)."""
        known = self.delta_e_00[np.isfinite(self.delta_e_00)]
        return float(np.mean(known <= (LIMITS[self.skin].match if limit is None else limit)))

    def picture(self) -> ByteArray:
        """The map as a picture, srgb8 (h, w, 3), longer side about 640 px; white outside the scar."""
        larger = max(1, PICTURE_SIDE_PX // max(self.delta_e_00.shape))
        apart = np.repeat(np.repeat(self.delta_e_00, larger, 0), larger, 1)
        light = np.repeat(np.repeat(self.lightness, larger, 0), larger, 1)
        limits = LIMITS[self.skin]
        step = np.searchsorted([limits.match, limits.close, limits.visible], np.nan_to_num(apart), side="left")
        colours = srgb8_from_lab_d65(np.vstack([OUTSIDE, WITHIN, LIGHTER, DARKER]))
        drawn = np.where(step == 0, 1, np.where(light >= 0, 1 + step, 4 + step))
        rows, columns = np.indices(apart.shape)
        gap = ((rows + columns) // STRIPE_PX) % 2 == 1
        drawn = np.where((np.abs(light) < np.sqrt(0.5)) & gap & (step > 0), 1, drawn)
        return np.asarray(colours[np.where(np.isfinite(apart), drawn, 0)], dtype=np.uint8)


def difference_map(
    srgb8: ByteArray,
    scar: Drawn,
    lab_skin: npt.ArrayLike,
    calibration: Calibration,
    *,
    skin_class: SkinClass = "light",
    edge_width_px: float | None = None,
) -> DifferenceMap:
    """Map of how far each part of a scar differs from the skin's middle colour.

    Takes: srgb8 (h, w, 3) uint8; scar, pieces or outlines in px; lab_skin (3,) as a reading gives it; calibration of
    the same photo; skin_class whose limits it follows; edge_width_px as a reading gives it (the rim it leaves out),
    or None for the photo's own. Gives: DifferenceMap.
    Raises ValueError when nothing is left of the scar, or the calibration was refused.
    Source: CIEDE2000 (Sharma, Wu, Dalal 2005), D65, 2 degree observer; the averaging as said at the top of this file.
    """
    height, width = srgb8.shape[:2]
    edge = photo_edge_width_px(calibration.chart.edge_width_px, width, height)
    masked = scar_mask(scar, edge, width, height, edge_width_px)
    if not np.any(masked.inside):
        raise ValueError("The scar is too narrow in this photo for a map of its colours.")
    return map_of(cells_of(srgb8, masked, calibration, edge), np.asarray(lab_skin, np.float64), skin_class)


def cells_of(srgb8: ByteArray, masked: Masked, calibration: Calibration, edge_px: float) -> Cells:
    """Averaged colours of a region, a cell for every few px.

    Takes: srgb8 (h, w, 3) uint8; masked region; calibration of the photo; edge_px of the photo. Gives: Cells.
    Source: mean of linear light weighted by a normal distribution, within the region.
    """
    left, top, right, bottom = masked.box
    rows, columns = np.nonzero(masked.inside)
    cut = (slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1))
    photo, inside = srgb8[top:bottom, left:right][cut], masked.inside[cut]
    box = (left + cut[1].start, top + cut[0].start, left + cut[1].stop, top + cut[0].stop)
    smooth = max(LEAST_SMOOTH_PX, edge_px)
    step = max(1, int(smooth // 2), int(np.ceil(max(inside.shape) / MOST_CELLS)))
    counted = inside & ~np.any(photo >= CLIPPED_FROM, axis=2)
    counted[counted] = ~glare_mask(photo[counted].astype(np.float64)) if np.any(counted) else False
    linear = np.asarray(linear_rgb_from_srgb(np.arange(256) / 255), dtype=np.float32)[photo]
    size = (-(-inside.shape[1] // step), -(-inside.shape[0] // step))
    weight = _averaged(counted.astype(np.float32), size, smooth / step)
    light = _averaged(linear * counted[..., None], size, smooth / step)
    covered = cv2.resize(inside.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    kept = (covered >= LEAST_INSIDE) & (weight > 0.02)
    lab = np.full((*kept.shape, 3), np.nan)
    if np.any(kept):
        mean = light[kept].astype(np.float64) / weight[kept][:, None].astype(np.float64)
        lab[kept] = apply(calibration, srgb_from_linear_rgb(mean))
    return Cells(lab, box, step, smooth)


def map_of(cells: Cells, lab_skin: FloatArray, skin: SkinClass) -> DifferenceMap:
    """Map of averaged colours against the skin's middle colour.

    Takes: cells; lab_skin (3,); skin class. Gives: DifferenceMap. Source: as `difference_map`.

    >>> skin = np.array([65.0, 10.0, 16.0])
    >>> map_of(Cells(np.tile(skin, (4, 4, 1)), (0, 0, 4, 4), 1, 4.0), skin, "light").share_within()
    1.0
    """
    apart = np.full(cells.inside.shape, np.nan, dtype=np.float32)
    lightness = np.zeros(cells.inside.shape, dtype=np.float32)
    lab = cells.lab_d65[cells.inside]
    whole = delta_e_00(lab_skin, lab)
    # The same colours with the skin's redness and yellowness: what is left is the lightness part.
    light = delta_e_00(lab_skin, np.column_stack([lab[:, 0], np.broadcast_to(lab_skin[1:], (len(lab), 2))]))
    apart[cells.inside] = whole
    lightness[cells.inside] = np.sign(lab[:, 0] - lab_skin[0]) * np.minimum(light / np.maximum(whole, 1e-9), 1.0)
    return DifferenceMap(apart, lightness, cells.box, cells.step, cells.smooth_px, skin)


def _averaged(values: npt.NDArray[np.float32], size: tuple[int, int], sigma: float) -> npt.NDArray[np.float32]:
    small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.GaussianBlur(small, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT), dtype=np.float32)
