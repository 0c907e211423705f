"""The fine detail of skin in a photo (moles, pores, veins), by which two photos of one place can be recognised."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.marker import find_marker
from app.colour.pieces import Drawn, Regions, pieces_of
from app.colour.spaces import BoolArray, ByteArray, FloatArray

WORK_SIDE_PX = 1200
# Contrast is evened out in tiles, so that shade does not hide detail: OpenCV's usual tiles, a clip of 3; our choice.
CLAHE_CLIP, CLAHE_TILES = 3.0, (8, 8)
# Blur that takes the noise of the sensor off first, which the evened contrast would lift: of 0.3, 1, 1.6 and 2.2 px,
# 1.6 found most on made-up very smooth skin.
NOISE_PX = 1.6
# Room left round chart, card and whatever else does not belong to the skin, as a share of the longer side.
ROOM_SHARE = 0.008
# A marker's white paper is followed as far as its colour stays within this distance in L*a*b*; a "card" larger than
# this share of the photo is skin as pale as paper, and only the marker itself with its white is left out.
PAPER_DELTA, CARD_MOST = 12.0, 0.45
# Detail: what is coarser than the first and finer than the second blur, px of the work picture.
FINE_PX, COARSE_PX = 1.5, 8.0
BLOCKS = 5
# A block of detail that answers the other photo less clearly than this says nothing of how well both lie together.
ANSWER_LEAST = 0.06


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """Grey picture (h, w) uint8 of evened contrast, which px are skin (h, w), and work px from photo px (3, 3)."""

    grey: ByteArray
    is_skin: BoolArray
    work_from_photo: FloatArray


def detail_of(srgb8: ByteArray, leave_out: Drawn) -> Detail:
    """Detail of a photo at a side of at most 1200 px, without its markers' cards and what is to be left out.

    Takes: srgb8 (h, w, 3) uint8, upright; leave_out, pieces or outlines (n, 2) px that are no skin, such as the chart.
    Gives: Detail. Source: green light shows the most detail in skin (common practice, no source); CLAHE of OpenCV 4.

    >>> detail_of(np.full((300, 400, 3), 90, np.uint8), ()).grey.shape
    (300, 400)
    """
    height, width = srgb8.shape[:2]
    shrink = min(1.0, WORK_SIDE_PX / max(height, width))
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    small = srgb8 if shrink == 1.0 else cv2.resize(srgb8, size, interpolation=cv2.INTER_AREA)
    fx, fy = size[0] / width, size[1] / height
    work_from_photo = np.array([[fx, 0, (fx - 1) / 2], [0, fy, (fy - 1) / 2], [0, 0, 1.0]])
    foreign = np.zeros(size[::-1], dtype=np.uint8)
    _fill(foreign, pieces_of(leave_out), np.array([fx, fy]))
    for marker in find_marker(srgb8):
        foreign |= _card(np.asarray(small, dtype=np.uint8), marker.corners * [fx, fy])
    reach = max(1, round(ROOM_SHARE * max(size)))
    foreign = cv2.dilate(foreign, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    grey = cv2.createCLAHE(CLAHE_CLIP, CLAHE_TILES).apply(
        cv2.GaussianBlur(np.ascontiguousarray(small[..., 1]), (0, 0), NOISE_PX)
    )
    return Detail(np.asarray(grey, dtype=np.uint8), np.asarray(foreign == 0), work_from_photo)


def _fill(mask: npt.NDArray[np.uint8], pieces: Regions, factor: FloatArray) -> None:
    for piece in pieces:
        cv2.fillPoly(mask, [np.rint(ring * factor).astype(np.int32) for ring in piece.rings], 1)


def _card(small: ByteArray, corners: FloatArray) -> npt.NDArray[np.uint8]:
    """1 on the paper a marker is printed on, with all that is printed on it."""
    middle = corners.mean(axis=0)
    white_ring = middle + (corners - middle) * (1 + 1 / 6)
    halfway = (white_ring + np.roll(white_ring, -1, axis=0)) / 2
    mask = np.zeros(small.shape[:2], dtype=np.uint8)
    cv2.fillPoly(mask, [np.rint(middle + (corners - middle) * 1.4).astype(np.int32)], 1)
    lab = cv2.GaussianBlur(cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_RGB2LAB), (0, 0), 1.0)
    at = np.clip(np.rint(halfway).astype(int), 0, np.array(small.shape[1::-1]) - 1)
    white = np.median(lab[at[:, 1], at[:, 0]], axis=0)
    like = np.asarray(np.linalg.norm(lab - white, axis=2) < PAPER_DELTA, dtype=np.uint8)
    _, labels = cv2.connectedComponents(like, connectivity=4)
    paper = np.isin(labels, [label for label in labels[at[:, 1], at[:, 0]] if label])
    if 0 < paper.sum() <= CARD_MOST * mask.size:
        hull = cv2.convexHull(np.argwhere(paper)[:, ::-1].astype(np.int32))
        if cv2.contourArea(hull) <= CARD_MOST * mask.size:
            cv2.fillConvexPoly(mask, hull, 1)
    return mask


def agreement(one: Detail, other: Detail, other_from_one: FloatArray) -> float:
    """How much the detail of two photos agrees once one is laid over the other.

    Takes: two Details; other_from_one (3, 3), work px to work px. Gives: correlation, -1 to 1, of what lies under both;
    about 0 for different skin; 0 when less than a fiftieth of the photo lies under both. Source: Pearson correlation.

    >>> noise = np.random.default_rng(0).integers(0, 255, (200, 200)).astype(np.uint8)
    >>> detail = Detail(noise, np.ones((200, 200), np.bool_), np.eye(3))
    >>> round(agreement(detail, detail, np.eye(3)), 3)
    1.0
    """
    laid, wanted, both = _laid(one, other, other_from_one)
    if both.sum() < both.size / 50:
        return 0.0
    a, b = laid[both] - laid[both].mean(), wanted[both] - wanted[both].mean()
    return float((a * b).mean() / max(float(a.std() * b.std()), 1e-9))


def left_over_px(one: Detail, other: Detail, other_from_one: FloatArray) -> float | None:
    """How far the detail of two photos still lies apart once one is laid over the other, in work px.

    Takes: as `agreement`. Gives: median shift of the blocks that can be recognised, None when fewer than three can;
    good to about half a px. Source: phase correlation of OpenCV 4.

    >>> noise = cv2.GaussianBlur(np.random.default_rng(0).integers(0, 255, (300, 300)).astype(np.uint8), (0, 0), 2)
    >>> detail = Detail(np.asarray(noise, np.uint8), np.ones((300, 300), np.bool_), np.eye(3))
    >>> round(left_over_px(detail, detail, np.array([[1, 0, 4], [0, 1, 0], [0, 0, 1.0]])))
    4
    """
    laid, wanted, both = _laid(one, other, other_from_one)
    height, width = both.shape
    shifts = []
    for rows in np.array_split(np.arange(height), BLOCKS):
        for columns in np.array_split(np.arange(width), BLOCKS):
            block = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
            if min(len(rows), len(columns)) < 24 or both[block].mean() < 0.9:
                continue
            window = cv2.createHanningWindow((len(columns), len(rows)), cv2.CV_32F)
            (x, y), answer = cv2.phaseCorrelate(laid[block], wanted[block], window)
            if answer >= ANSWER_LEAST:
                shifts.append(float(np.hypot(x, y)))
    return float(np.median(shifts)) if len(shifts) >= 3 else None


def _laid(
    one: Detail, other: Detail, other_from_one: FloatArray
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32], BoolArray]:
    size = other.grey.shape[::-1]
    laid = cv2.warpPerspective(band(one.grey), other_from_one, size)
    skin = cv2.warpPerspective(one.is_skin.astype(np.uint8), other_from_one, size)
    return laid, band(other.grey), np.asarray((skin == 1) & other.is_skin)


def band(
    grey: npt.NDArray[np.uint8], fine_px: float = FINE_PX, coarse_px: float = COARSE_PX
) -> npt.NDArray[np.float32]:
    """Detail of a picture between two sizes.

    Takes: grey (h, w) uint8; the two blurs in px. Gives: (h, w), about 0, of 255. Source: difference of Gaussians.

    >>> round(float(np.abs(band(np.full((50, 50), 90, np.uint8))).max()), 3)
    0.0
    """
    picture = grey.astype(np.float32)
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), fine_px) - cv2.GaussianBlur(picture, (0, 0), coarse_px))


def inverse(homography: FloatArray) -> FloatArray:
    """The way back of a plane projection (3, 3). Raises LinAlgError (a ValueError) when there is none.

    >>> inverse(np.diag([2.0, 2.0, 1.0])).tolist()
    [[0.5, 0.0, 0.0], [0.0, 0.5, 0.0], [0.0, 0.0, 1.0]]
    """
    return np.asarray(np.linalg.inv(homography), dtype=np.float64)
