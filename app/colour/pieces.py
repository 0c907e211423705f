"""Pieces of a region on a photo, each an outline with its holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from app.colour.polygons import outline_area
from app.colour.spaces import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece of a region: outer (n, 2) and holes, each (n, 2), in px of the upright photo (or in mm of a plane)."""

    outer: FloatArray
    holes: tuple[FloatArray, ...] = ()

    @property
    def rings(self) -> tuple[FloatArray, ...]:
        return (self.outer, *self.holes)


Regions: TypeAlias = tuple[Piece, ...]
Drawn: TypeAlias = Sequence[Piece | FloatArray]


def pieces_of(drawn: Drawn) -> Regions:
    """Pieces of a region that may hold plain outlines, each of which becomes a piece without holes.

    Takes: pieces or outlines (n, 2). Gives: Regions, in the same order.
    Source: the definition of a piece above.

    >>> pieces_of([np.array([[0, 0], [9, 0], [9, 9]], float)])[0].holes
    ()
    """
    return tuple(piece if isinstance(piece, Piece) else Piece(np.asarray(piece, np.float64)) for piece in drawn)


def area_px2(drawn: FloatArray | Piece) -> float:
    """Area inside one outline, or one piece less its holes, in square px.

    Takes: outline (n, 2), or a Piece. Gives: 0 upwards, whichever way round it was drawn. Source: shoelace formula.

    >>> area_px2(np.array([[0, 0], [10, 0], [10, 5], [0, 5]], float))
    50.0
    """
    rings = drawn.rings if isinstance(drawn, Piece) else (drawn,)
    return outline_area(rings[0]) - sum(outline_area(hole) for hole in rings[1:])
