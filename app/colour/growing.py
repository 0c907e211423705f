"""Outline of a scar from one tap on it: the region of like colour round the tap, up to the edge that stands out most.

From the tap a region is grown at many tolerances, each a distance in L*a*b*; the one whose border has the steepest
step in colour is kept (Hojjatoleslami, Kittler 1998, "Region growing: a new approach", IEEE Trans. Image Process. 7,
from memory, unchecked). It is a proposal: the artist widens, narrows and corrects it.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.calibration import Calibration
from app.colour.pieces import Piece, Regions
from app.colour.spaces import BoolArray, ByteArray, FloatArray, linear_rgb_from_srgb
from app.colour.tracing import trace

FloatPicture = npt.NDArray[np.float32]

# The work is done on a picture of this side: a scar 2 mm wide in a photo of 30 cm is then still 5 px wide.
WORK_SIDE_PX = 800
SMOOTH_PX = 1.6
# Half the side of the square round the tap whose middle colour is taken.
TAP_HALF_PX = 2
# Tolerances tried, as distance in L*a*b* to the colour of the tap: from below what an eye tells apart to a strong
# difference. Our choice.
TOLERANCES = np.geomspace(1.0, 26.0, 24)
# A region larger than this share of the photo has run out into the skin.
LARGEST_SHARE = 0.4
# The same when it takes up this share of the photo's frame.
FRAME_SHARE = 0.1
SMALLEST_WORK_PX = 25
# The step at the border, per px, must be this many times the usual one in the photo, or nothing stands out.
STANDS_OUT = 1.8
# Of two borders nearly as steep the wider region is kept: blotches inside a scar have edges, too.
NEARLY = 0.92
# Holes smaller than this share of the region are pores and shine, and are filled.
HOLE_SHARE = 0.02
UPSCALE = 3
ROOM_PX = 8
# Width of an edge after the smoothing above (four standard deviations). What is narrower along the outline is grain,
# not form: bays are closed by it, and the line is rounded by half of it.
EDGE_PX = 4 * SMOOTH_PX
# Of a narrow scar no more than this share of its half-width, lest its ends be rounded off: our choice, as all below.
EDGE_SHARE = 0.5
LEAST_ROUNDING_PX = 0.7
COARSE_PX = 0.6

NOTHING = (
    "Nothing stands out round this point: the colour runs on without an edge. Tap the middle of the scar, or draw the "
    "outline by hand."
)


def grow(
    srgb8: ByteArray,
    seed_xy: tuple[float, float],
    calibration: Calibration | None = None,
    tolerance: float = 1.0,
) -> Regions:
    """Outline with holes round a tapped point, for the artist to correct.

    Takes: srgb8 (h, w, 3) uint8, red, green, blue, upright; seed_xy, x and y px of the tap; calibration of the photo
    when it has one; tolerance, a factor on the tolerance found by itself (1.25 a step wider, 0.8 a step narrower).
    Gives: Regions of one piece in px of the photo, with holes larger than a fiftieth of it.
    Raises ValueError, with a sentence for the artist, when the tap lies outside the photo, or nothing stands out.
    Source: Hojjatoleslami, Kittler 1998, as said above; L*a*b* by OpenCV 4, good to 0.4, fine for edges.

    >>> photo = np.full((120, 160, 3), (190, 150, 130), np.uint8)
    >>> photo[40:81, 50:111] = (225, 195, 180)
    >>> from app.colour.pieces import area_px2
    >>> round(area_px2(grow(photo, (80.0, 60.0))[0]) / (61 * 41), 1)
    1.0
    """
    if srgb8.ndim != 3 or srgb8.shape[2] != 3 or srgb8.dtype != np.uint8:
        raise ValueError("A photo is an array of height, width and three 8-bit channels.")
    height, width = srgb8.shape[:2]
    if not (0 <= seed_xy[0] < width and 0 <= seed_xy[1] < height):
        raise ValueError("The point lies outside the photo.")
    if not 0.1 <= tolerance <= 10:
        raise ValueError("The tolerance is a factor from 0.1 to 10.")
    shrink = min(1.0, WORK_SIDE_PX / max(width, height))
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    small = srgb8 if shrink == 1.0 else cv2.resize(srgb8, size, interpolation=cv2.INTER_AREA)
    lab = cv2.GaussianBlur(_lab(np.asarray(small, dtype=np.uint8), calibration), (0, 0), SMOOTH_PX)
    seed = (int(seed_xy[0] * size[0] / width), int(seed_xy[1] * size[1] / height))
    distance = _distance(lab, seed)
    chosen = _steepest_border(distance, _step(lab), seed) * tolerance
    mask = _flooded(distance, chosen, seed)
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    if mask.sum() < SMALLEST_WORK_PX:
        raise ValueError(NOTHING)
    # All that follows needs only the part that was reached, with room for brush and blur.
    top, left = max(0, int(rows[0]) - ROOM_PX), max(0, int(columns[0]) - ROOM_PX)
    part = mask[top : int(rows[-1]) + ROOM_PX + 1, left : int(columns[-1]) + ROOM_PX + 1]
    region = _cleaned(part, (seed[0] - left, seed[1] - top))
    return _outlined(region, (left, top), np.array([width / size[0], height / size[1]]))


def _lab(srgb8: ByteArray, calibration: Calibration | None) -> FloatPicture:
    if calibration is None:
        return np.asarray(cv2.cvtColor(srgb8.astype(np.float32) / 255, cv2.COLOR_RGB2LAB), dtype=np.float32)
    curve = np.maximum(linear_rgb_from_srgb(np.arange(256) / 255), 1e-6)
    channels = [
        (gain * curve**power).astype(np.float32)[srgb8[..., channel]]
        for channel, (gain, power) in enumerate(zip(calibration.gain, calibration.power, strict=True))
    ]
    linear = cv2.transform(np.stack(channels, axis=-1), calibration.matrix.astype(np.float32))
    return np.asarray(cv2.cvtColor(np.clip(linear, 0, 1), cv2.COLOR_LRGB2LAB), dtype=np.float32)


def _distance(lab: FloatPicture, seed: tuple[int, int]) -> FloatPicture:
    x, y = seed
    around = lab[max(0, y - TAP_HALF_PX) : y + TAP_HALF_PX + 1, max(0, x - TAP_HALF_PX) : x + TAP_HALF_PX + 1]
    middle = np.median(around.reshape(-1, 3), axis=0)
    return np.asarray(np.sqrt(((lab - middle) ** 2).sum(axis=2)), dtype=np.float32)


def _step(lab: FloatPicture) -> FloatPicture:
    """Size of the step in L*a*b* from px to px."""
    across, down = cv2.Sobel(lab, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(lab, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(np.sqrt((across**2 + down**2).sum(axis=2)), dtype=np.float32)


def _steepest_border(distance: FloatPicture, step: FloatPicture, seed: tuple[int, int]) -> float:
    usual = float(np.median(step)) + 1e-6
    best, best_step = 0.0, 0.0
    for tolerance in TOLERANCES:
        mask = _flooded(distance, float(tolerance), seed)
        count = int(mask.sum())
        if count > LARGEST_SHARE * mask.size or _on_frame(mask) > FRAME_SHARE:
            break
        if count < SMALLEST_WORK_PX:
            continue
        border = cv2.dilate(mask, np.ones((3, 3), np.uint8)) != mask
        steepness = float(step[border].mean())
        if steepness >= NEARLY * best_step:
            best, best_step = float(tolerance), max(steepness, best_step)
    if best_step < STANDS_OUT * usual:
        raise ValueError(NOTHING)
    return best


def _on_frame(mask: ByteArray) -> float:
    return float(np.concatenate([mask[0], mask[-1], mask[:, 0], mask[:, -1]]).mean())


def _flooded(distance: FloatPicture, tolerance: float, seed: tuple[int, int]) -> ByteArray:
    """1 where like colour hangs together with the tap."""
    like = np.asarray(distance <= tolerance, dtype=np.uint8)
    if not like[seed[1], seed[0]]:
        return np.zeros_like(like)
    cv2.floodFill(like, None, seed, 2)
    return np.asarray(like == 2, dtype=np.uint8)


def _cleaned(mask: ByteArray, seed: tuple[int, int]) -> BoolArray:
    """Without spurs thinner than a third of the half-width, narrow bays, and small holes."""
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, _brush(min(_half_width(mask) / 3, 6.0)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    if count < 2:
        return np.zeros(mask.shape, dtype=np.bool_)
    at_tap = int(labels[seed[1], seed[0]])
    region = labels == (at_tap or 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))
    # Only now, with thin bridges cut: closed earlier, they would tie one mark to the next beside it.
    alone = np.asarray(region, dtype=np.uint8)
    region = cv2.morphologyEx(alone, cv2.MORPH_CLOSE, _brush(_rounding_px(alone))) > 0
    count, holes, stats, _ = cv2.connectedComponentsWithStats(np.uint8(~region), connectivity=4)
    for index in range(1, count):
        if stats[index, cv2.CC_STAT_AREA] < HOLE_SHARE * region.sum():
            region |= holes == index
    return np.asarray(region, dtype=np.bool_)


def _half_width(mask: ByteArray) -> float:
    return float(cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_PRECISE).max())


def _rounding_px(mask: ByteArray) -> float:
    return max(LEAST_ROUNDING_PX, min(EDGE_PX / 2, _half_width(mask) * EDGE_SHARE))


def _brush(reach_px: float) -> ByteArray:
    side = 2 * max(1, round(reach_px)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), dtype=np.uint8)


def _outlined(mask: BoolArray, corner: tuple[int, int], factor: FloatArray) -> Regions:
    """The largest piece of a smoothed and enlarged mask, so that the line runs between px and not in stairs."""
    large = cv2.resize(mask.astype(np.float32), None, fx=UPSCALE, fy=UPSCALE, interpolation=cv2.INTER_LINEAR)
    rounding = _rounding_px(np.asarray(mask, dtype=np.uint8))
    smooth = cv2.GaussianBlur(large, (0, 0), UPSCALE * rounding) >= 0.5
    pieces = trace(np.asarray(smooth, dtype=np.bool_), factor / UPSCALE, COARSE_PX * UPSCALE)
    if not pieces:
        raise ValueError(NOTHING)
    shift = np.array(corner) * factor
    return (Piece(pieces[0].outer + shift, tuple(hole + shift for hole in pieces[0].holes)),)
