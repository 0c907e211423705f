"""Outlines of a mask: from px that belong to a region to pieces with few points that a hand can correct."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from app.colour.pieces import Piece, Regions, area_px2
from app.colour.polygons import crosses_itself, lies_in, outlines_cross
from app.colour.spaces import BoolArray, FloatArray

# Shares of the wanted coarseness that are tried one after the other, until no line crosses another.
FINER = (1.0, 0.5, 0.25, 0.0)


def trace(mask: BoolArray, factor: npt.ArrayLike, coarse_px: float) -> Regions:
    """Pieces that cover a mask, the largest first, with their holes.

    Takes: mask (h, w); factor, px of the photo to one px of the mask, across and down; coarse_px, how far a line may
    leave the mask's edge, in px of the mask. Gives: Regions in px of the photo; lines run through the middles of the
    mask's outermost px. Pieces thinner than three px of the mask are left out.
    Source: OpenCV 4, findContours; Douglas, Peucker 1973 in approxPolyDP (from memory, unchecked).

    >>> mask = np.zeros((30, 40), np.bool_)
    >>> mask[5:16, 10:31] = True
    >>> area_px2(trace(mask, (2.0, 2.0), 1.0)[0])
    800.0
    """
    lines, tree = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    inside: dict[int, list[Any]] = {index: [] for index in range(len(lines)) if tree[0][index][3] < 0}
    for index in range(len(lines)):
        if (around := int(tree[0][index][3])) >= 0:
            inside[around].append(lines[index])
    scale = np.asarray(factor, dtype=np.float64)
    found = [_piece(lines[index], holes, scale, coarse_px) for index, holes in inside.items()]
    return tuple(sorted((piece for piece in found if piece is not None), key=lambda piece: -area_px2(piece)))


def _piece(edge: Any, holes: list[Any], scale: FloatArray, coarse_px: float) -> Piece | None:
    for share in FINER:
        outer, *inner = (_ring(line, scale, coarse_px * share) for line in (edge, *holes))
        if len(outer) < 3 or crosses_itself(outer):
            continue
        inner = [ring for ring in inner if len(ring) >= 3 and lies_in(ring, outer)]
        if not any(crosses_itself(ring) or outlines_cross(ring, outer) for ring in inner):
            return Piece(outer, tuple(inner))
    return None


def _ring(line: Any, scale: FloatArray, coarse_px: float) -> FloatArray:
    points = cv2.approxPolyDP(line, coarse_px, True).reshape(-1, 2).astype(np.float64)
    # The middle of a block of k px lies (k - 1) / 2 past its first.
    return np.asarray((points + 0.5) * scale - 0.5, dtype=np.float64)
