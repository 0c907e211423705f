"""The ring of plain skin round a scar that is proposed for comparison, and that the artist then moves.

It starts some way outside the scar: skin close to a pale lesion is itself lighter and less yellow than skin 5 cm away
(Brazzelli et al. 2008, 25 people, DOI 10.1111/j.1600-0781.2008.00383.x), and the edge of a scar is never drawn exactly.
"""

from __future__ import annotations

import cv2
import numpy as np

from app.colour.pieces import Drawn, Piece, Regions, area_px2, pieces_of
from app.colour.spaces import BoolArray, FloatArray
from app.colour.tracing import trace

# The ring begins and ends this far outside the edge of the scar: "several mm" (colour findings, section 3), our choice.
STARTS_MM, ENDS_MM = 4.0, 9.0
# Without a scale: in shares of the scar's greatest width, within shares of the photo's longer side. Our choice.
STARTS_WIDTHS, ENDS_WIDTHS = 0.5, 1.1
STARTS_LEAST, STARTS_MOST = 0.012, 0.05
BAND_LEAST = 0.012
# Border of the photo that is left out, as a share of its longer side: lenses blur and darken there.
FRAME_SHARE = 0.01
# Room left round whatever else must not be measured, such as chart and card, as a share of the longer side.
OTHERS_SHARE = 0.01
WORK_SIDE_PX, COARSE_PX = 800, 0.8
# A piece of ring smaller than this share of the whole ring is a crumb.
CRUMB_SHARE = 0.05
# Least area of a ring in square px of the photo that can be measured at all.
LEAST_PX2 = 400.0

NO_ROOM = (
    "There is no room for a ring of skin round this scar in the photo. Outline plain skin by hand, or take the photo "
    "from further away."
)


def propose(scar: Drawn, px_per_mm: float | None, width: int, height: int, leave_out: Drawn = ()) -> Regions:
    """A ring of skin round a scar, for the artist to move.

    Takes: scar, pieces or outlines (n, 2) px; px_per_mm at the scar, None when the photo has no scale; width and
    height of the photo in px; leave_out, pieces that are no skin (chart, card, clothes).
    Gives: Regions: a ring from 4 to 9 mm outside the edge of the scar, in one piece with a hole or in several where
    the photo ends or two pieces of the scar stand close; without a scale from half to 1.1 of the scar's greatest
    width. No part lies nearer to any piece of the scar than that, and none in the outermost hundredth of the photo.
    Raises ValueError when there is no scar or no room. Source: Brazzelli et al. 2008, as said above.

    >>> scar = np.array([[180, 140], [220, 140], [220, 160], [180, 160]], float)
    >>> ring = propose((scar,), 4.0, 400, 300)
    >>> len(ring), len(ring[0].holes)
    (1, 1)
    """
    pieces = pieces_of(scar)
    if not pieces:
        raise ValueError("Outline the scar first: the ring of skin is laid round it.")
    shrink = min(1.0, WORK_SIDE_PX / max(width, height))
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    factor = np.array([width / size[0], height / size[1]])
    inside = _mask(pieces, factor, size)
    away = np.asarray(cv2.distanceTransform(np.uint8(~inside), cv2.DIST_L2, cv2.DIST_MASK_PRECISE))
    starts, ends = _limits(inside, px_per_mm, shrink, max(size))
    # A simplified line may come nearer than the px it was made from.
    band = (away >= starts + COARSE_PX + 0.5) & (away <= ends)
    frame = max(1, round(FRAME_SHARE * max(size)))
    allowed = np.zeros_like(band)
    allowed[frame:-frame, frame:-frame] = True
    if len(others := pieces_of(leave_out)):
        reach = max(1, round(OTHERS_SHARE * max(size)))
        round_brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
        allowed &= cv2.dilate(np.uint8(_mask(others, factor, size)), round_brush) == 0
    return _kept(band & allowed, factor)


def _mask(pieces: Regions, factor: FloatArray, size: tuple[int, int]) -> BoolArray:
    inside = np.zeros(size[::-1], dtype=np.bool_)
    for piece in pieces:
        drawn = np.zeros(inside.shape, dtype=np.uint8)
        cv2.fillPoly(drawn, [np.rint((ring + 0.5) / factor - 0.5).astype(np.int32) for ring in piece.rings], 1)
        inside |= drawn.astype(np.bool_)
    return inside


def _limits(inside: BoolArray, px_per_mm: float | None, shrink: float, side: int) -> tuple[float, float]:
    if px_per_mm is not None:
        return STARTS_MM * px_per_mm * shrink, ENDS_MM * px_per_mm * shrink
    widest = 2 * float(cv2.distanceTransform(np.uint8(inside), cv2.DIST_L2, cv2.DIST_MASK_PRECISE).max())
    starts = float(np.clip(STARTS_WIDTHS * widest, STARTS_LEAST * side, STARTS_MOST * side))
    band = max((ENDS_WIDTHS - STARTS_WIDTHS) / STARTS_WIDTHS * starts, BAND_LEAST * side)
    return starts, starts + band


def _kept(band: BoolArray, factor: FloatArray) -> Regions:
    found = trace(band, factor, COARSE_PX)
    whole = sum(area_px2(piece) for piece in found)
    kept = tuple(
        Piece(piece.outer, tuple(hole for hole in piece.holes if area_px2(Piece(hole)) >= LEAST_PX2))
        for piece in found
        if area_px2(piece) >= max(LEAST_PX2, CRUMB_SHARE * whole)
    )
    if not kept:
        raise ValueError(NO_ROOM)
    return kept
