"""Which pixels of a photo are scar and which are skin: outlines kept clear of blurred borders, and samples of both.

A lens, a hand that shakes and JPEG's coarse colour mix scar and skin along their border, over about the edge width of
the photo (10 to 90 % of a sharp border). So the scar is shrunk inwards by that width and the skin kept as far away
from it; what is then left of a scar narrower than three edge widths would be less than a third of it, and such a
piece is not measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.special import erf

from app.colour.chart import CLIPPED_FROM
from app.colour.geometry import Box, bounding_box, mask_within
from app.colour.pieces import Drawn, Regions
from app.colour.quality import EDGE_PASS_PX, clipped_share, glare_mask
from app.colour.sharpness import LONG_SIDE_PX
from app.colour.spaces import BoolArray, ByteArray, FloatArray

BlockArray = npt.NDArray[np.int64]

SAMPLE_PX = 40_000
# A region is cut into about this many blocks, each no smaller than JPEG's own (8 px).
BLOCK_COUNT, BLOCK_PX = 200, 8.0
# Colour of a JPEG is kept for 2 x 2 px together and spread back over its neighbours: no border is sharper than this.
SHARPEST_PX = 2.0
# A piece must be this many edge widths across (the acceptance of this program; see the top of this file).
NARROWEST_EDGES = 3.0

# Border of the scar itself: lines across the outline, and how well a smooth step must describe one to count.
BORDER_LINES, BORDER_STEPS, BORDER_FIT = 90, 49, 0.85
BORDER_LEAST_STEP = 8.0  # of 255; a weaker step drowns in noise
BORDER_LEAST_LINES = 12
WIDTH_OF_SIGMA = 2.563  # 10 to 90 % of a normal distribution, in standard deviations


@dataclass(frozen=True, slots=True, eq=False)
class Masked:
    """Px of a box that count. pieces: how many separate pieces there were; too_narrow: how many were left out.

    widest_px: width of the widest piece, as the circle that fits inside it.
    """

    inside: BoolArray
    box: Box
    pieces: int
    too_narrow: int
    widest_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Sampled pixels of a region without glare and without cut-off ones.

    srgb8: (n, 3) sRGB curve, 0 to 255. block: (n,) number of the block each pixel lies in; block_at: (m, 2) px, the
    middle of each block. centre: (2,) px. pixel_count inside the region; clipped and glare: shares, 0 to 1.
    """

    srgb8: FloatArray
    block: BlockArray
    block_at: FloatArray
    centre: FloatArray
    pixel_count: int
    clipped: float
    glare: float


def photo_edge_width_px(edge_width_at_1000: float | None, width: int, height: int) -> float:
    """Edge width of a photo in its own px.

    Takes: edge_width_at_1000 as `sharpness.edge_width_px` gives it (for a long side of 1000 px), or None when it is
    not known: then that of a photo just sharp enough to pass; width and height of the photo in px.
    Gives: px, 2 upwards. Source: colour findings, section 7; the least value follows from JPEG's halved colour.

    >>> photo_edge_width_px(2.0, 4000, 3000)
    8.0
    """
    known = EDGE_PASS_PX if edge_width_at_1000 is None else edge_width_at_1000
    return max(SHARPEST_PX, known * max(width, height) / LONG_SIDE_PX)


def scar_mask(scar: Drawn, edge_px: float, width: int, height: int, shrink_px: float | None = None) -> Masked:
    """Px of the scar that lie at least an edge width inside its outlines, without pieces too narrow to have any.

    Takes: scar, pieces or outlines in px; edge_px of the photo; width and height of the photo in px; shrink_px when
    more than the edge width is to be taken off. Gives: Masked.
    Source: the rule at the top of this file; distances by OpenCV 4, distanceTransform.

    >>> square = (np.array([[10, 10], [60, 10], [60, 60], [10, 60]], float),)
    >>> found = scar_mask(square, 5.0, 100, 100)
    >>> int(found.inside.sum()), found.too_narrow
    (1681, 0)
    """
    box = bounding_box(scar, width, height)
    inside = mask_within(scar, box)
    depth = _depth(inside)
    count, label = cv2.connectedComponents(inside.astype(np.uint8))
    # The middle px of a piece 2 d - 1 px wide lies d px from the nearest px outside.
    across = np.array([2 * float(depth[label == number].max()) - 1 for number in range(1, count)])
    wide = across >= NARROWEST_EDGES * edge_px
    kept = np.concatenate([[False], wide])[label] & (depth > max(edge_px, shrink_px or 0.0))
    return Masked(kept, box, count - 1, int(np.sum(~wide)), float(across.max(initial=0.0)))


def skin_mask(skin: Drawn, scar: Drawn, edge_px: float, width: int, height: int) -> Masked:
    """Px of the skin that lie outside the scar and at least an edge width away from it.

    Takes: skin and scar, pieces or outlines in px; edge_px; width and height of the photo in px. Gives: Masked.
    Raises ValueError when the skin lies wholly inside the scar.
    Source: the rule at the top of this file; distances by OpenCV 4, distanceTransform.

    >>> inner = np.array([[40, 40], [60, 40], [60, 60], [40, 60]], float)
    >>> outer = np.array([[10, 10], [90, 10], [90, 90], [10, 90]], float)
    >>> bool(skin_mask((outer,), (inner,), 5.0, 100, 100).inside[50 - 10, 63 - 10])
    False
    """
    reach = int(np.ceil(edge_px)) + 1
    left, top, right, bottom = bounding_box(skin, width, height)
    box = (max(0, left - reach), max(0, top - reach), min(width, right + reach), min(height, bottom + reach))
    drawn, taken = mask_within(skin, box), mask_within(scar, box)
    if not np.any(drawn & ~taken):
        raise ValueError("The skin outline lies wholly inside the scar.")
    if np.any(taken):
        clear = cv2.distanceTransform((~taken).astype(np.uint8), cv2.DIST_L2, 5)
        drawn &= clear > edge_px
    return Masked(drawn, box, 1, 0, 0.0)


def sample(srgb8: ByteArray, masked: Masked) -> Region:
    """Pixels of a region, at most about 40,000, without glare and cut-off ones.

    Takes: srgb8 (h, w, 3) uint8; masked, with at least one px inside. Gives: Region.
    Source: colour findings, section 7, for glare and clipping.

    >>> photo = np.full((50, 50, 3), 150, np.uint8)
    >>> sample(photo, scar_mask((np.array([[5, 5], [45, 5], [45, 45], [5, 45]], float),), 2.0, 50, 50)).glare
    0.0
    """
    count = int(masked.inside.sum())
    # Every k-th pixel both ways, never a mean: averaging sRGB values would shift the colour.
    every = max(1, int(np.ceil(np.sqrt(count / SAMPLE_PX))))
    rows, columns = np.nonzero(masked.inside[::every, ::every])
    if len(rows) == 0:
        every, (rows, columns) = 1, np.nonzero(masked.inside)
    x, y = columns * every + masked.box[0], rows * every + masked.box[1]
    pixels = srgb8[y, x].astype(np.float64)
    shining = glare_mask(pixels)
    cut_off = np.any(pixels >= CLIPPED_FROM, axis=1)
    # A region that is all cut off is refused by its share; its numbers are still needed to say so.
    kept = ~shining & ~cut_off if np.any(~shining & ~cut_off) else ~shining
    side = max(BLOCK_PX, float(np.sqrt(count / BLOCK_COUNT)))
    cell = np.floor(np.stack([x, y], axis=1) / side).astype(np.int64)
    cells, block = np.unique(cell[kept], axis=0, return_inverse=True)
    return Region(
        srgb8=pixels[kept],
        block=block.reshape(-1).astype(np.int64),
        block_at=(cells + 0.5) * side,
        centre=np.array([x.mean(), y.mean()]),
        pixel_count=count,
        clipped=clipped_share(pixels[~shining]),
        glare=float(shining.mean()),
    )


def border_width_px(srgb8: ByteArray, scar: Regions, edge_px: float) -> float | None:
    """10 to 90 % width of the border between scar and skin, where it can be seen.

    Takes: srgb8 (h, w, 3) uint8; scar pieces in px; edge_px of the photo. Gives: px, the median over lines drawn
    across the outlines; None when fewer than twelve show a clear step. A scar may run out softly by nature, so a wide
    border is no proof of blur: it is a limit to it.
    Source: least squares of a step blurred by a normal distribution; the limits are choices of this program.

    >>> from app.colour.pieces import Piece
    >>> photo = np.full((200, 200, 3), 120, np.uint8)
    >>> photo[50:150, 50:150] = 180
    >>> square = Piece(np.array([[50, 50], [150, 50], [150, 150], [50, 150]], float))
    >>> bool(border_width_px(photo, (square,), 3.0) < 3)
    True
    """
    reach = max(12.0, 4 * edge_px)
    lines = _lines_across(scar, reach, srgb8.shape[1], srgb8.shape[0])
    if len(lines) < BORDER_LEAST_LINES:
        return None
    grey = cv2.remap(srgb8, lines[..., 0].astype(np.float32), lines[..., 1].astype(np.float32), cv2.INTER_LINEAR)
    profile = np.asarray(grey, dtype=np.float64).mean(axis=2)
    at = np.linspace(-1.0, 1.0, BORDER_STEPS)
    # A step of any height at any place near the middle of the line, of widths from a sharp one to the whole line.
    sigma = np.geomspace(0.02, 0.5, 18)
    place = np.linspace(-0.5, 0.5, 21)
    step = erf((at - place[:, None, None]) / (sigma[None, :, None] * np.sqrt(2))).reshape(-1, BORDER_STEPS)
    height = step[:, -1] - step[:, 0]
    step = step - step.mean(axis=1, keepdims=True)
    size = np.linalg.norm(step, axis=1)
    rest = profile - profile.mean(axis=1, keepdims=True)
    match = rest @ (step / size[:, None]).T
    best = np.argmax(np.abs(match), axis=1)
    found = match[np.arange(len(rest)), best]
    fit = np.abs(found) / np.maximum(np.linalg.norm(rest, axis=1), 1e-9)
    clear = (fit**2 >= BORDER_FIT) & (np.abs(found) / size[best] * height[best] >= BORDER_LEAST_STEP)
    if int(clear.sum()) < BORDER_LEAST_LINES:
        return None
    return float(np.median(np.tile(sigma, len(place))[best[clear]]) * reach * WIDTH_OF_SIGMA)


def _depth(inside: BoolArray) -> FloatArray:
    """Distance of each px inside to the nearest px that is not; the frame of the photo counts as outside."""
    padded = cv2.copyMakeBorder(inside.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(cv2.distanceTransform(padded, cv2.DIST_L2, 5)[1:-1, 1:-1], dtype=np.float64)


def _lines_across(scar: Regions, reach: float, width: int, height: int) -> FloatArray:
    """Lines (n, steps, 2) in px, each across an outline, from reach px on one side to reach px on the other."""
    found = []
    length = sum(float(np.linalg.norm(np.roll(piece.outer, -1, axis=0) - piece.outer, axis=1).sum()) for piece in scar)
    for piece in scar:
        start, end = piece.outer, np.roll(piece.outer, -1, axis=0)
        side = np.linalg.norm(end - start, axis=1)
        for one, other, long in zip(start, end, side, strict=True):
            count = int(np.rint(BORDER_LINES * long / length)) or int(len(piece.outer) >= BORDER_LINES)
            if long < 1e-6 or count == 0:
                continue
            along = (other - one) / long
            across = np.array([-along[1], along[0]])
            middle = one + (other - one) * ((np.arange(count) + 0.5) / count)[:, None]
            found.append(middle[:, None] + np.linspace(-reach, reach, BORDER_STEPS)[None, :, None] * across)
    if not found:
        return np.empty((0, BORDER_STEPS, 2))
    lines = np.concatenate(found)
    fits = np.all((lines >= 0) & (lines <= [width - 1, height - 1]), axis=(1, 2))
    lines = lines[fits]
    return np.asarray(lines[:: max(1, len(lines) // (2 * BORDER_LINES))], dtype=np.float64)
