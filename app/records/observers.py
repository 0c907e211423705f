"""How far two people's outlines of one photo agree."""

import json
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from app.colour.geometry import Piece, bounding_box, mask_within
from app.colour.observers import between_observers
from app.colour.reading import Estimate
from app.colour.reading import Reading as Measured
from app.colour.spaces import BoolArray
from app.records.models import Reading
from app.records.selectors import Outlines

# Shares are counted on a grid of at most this many px along the longer side of what both drew: our choice. A side of
# 2000 px keeps the error of counting whole px under a thousandth for anything larger than a fingernail in the frame.
GRID_PX = 2000.0
AIR = 1.5  # a picture is this many times as large as what was drawn on it


@dataclass(frozen=True)
class Agreement:
    """Overlap of two regions as Dice's share (0 nothing, 1 the same), and the second's area over the first's."""

    overlap: float
    area_ratio: float

    @property
    def words(self) -> str:
        percent = 100 * (self.area_ratio - 1)
        size = ("both are of one size" if abs(percent) < 0.5 else
                f"the second is {abs(percent):.0f} % {'larger' if percent > 0 else 'smaller'} than the first")
        return f"{100 * self.overlap:.0f} % of what they drew lies under both; {size}."


def agreement(first: tuple[Piece, ...], second: tuple[Piece, ...]) -> Agreement:
    """Twice the shared area over the sum of both areas, and the ratio of the two areas.

    Takes: two regions in px of the same photo. Gives: overlap 0 to 1; area_ratio over 0.
    Source: Dice 1945, Ecology 26(3):297, "Measures of the amount of ecologic association between species".

    >>> square = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], float)
    >>> round(agreement((Piece(square),), (Piece(square + [50.0, 0.0]),)).overlap, 2)
    0.5
    """
    one, other = _masks(first, second)
    sizes = int(one.sum()), int(other.sum())
    return Agreement(2 * int((one & other).sum()) / max(1, sum(sizes)), sizes[1] / max(1, sizes[0]))


def agreements(first: Outlines, second: Outlines) -> tuple[tuple[str, Agreement], ...]:
    """For the scar and for the skin, by name."""
    return (("Scar", agreement(first.scar, second.scar)), ("Skin around it", agreement(first.skin, second.skin)))


def frame_round(pieces: tuple[Piece, ...], width: int, height: int) -> tuple[int, int, int, int]:
    """The part of a photo that shows pieces with some air: x, y, width, height in px, in its proportions."""
    points = np.concatenate([piece.outer for piece in pieces])
    low, high = points.min(axis=0), points.max(axis=0)
    share = min(1.0, AIR * float(((high - low) / [width, height]).max()))
    size = np.array([width, height]) * share
    start = np.clip((low + high) / 2 - size / 2, 0, [width, height] - size)
    return round(float(start[0])), round(float(start[1])), round(float(size[0])), round(float(size[1]))


def _masks(first: tuple[Piece, ...], second: tuple[Piece, ...]) -> tuple[BoolArray, BoolArray]:
    points = np.concatenate([piece.outer for piece in (*first, *second)])
    start, size = points.min(axis=0), float(np.ptp(points, axis=0).max())
    scale = min(1.0, GRID_PX / max(size, 1.0))
    moved = [tuple(Piece((piece.outer - start) * scale, tuple((hole - start) * scale for hole in piece.holes))
                   for piece in region) for region in (first, second)]
    box = bounding_box((*moved[0], *moved[1]), int(GRID_PX) + 2, int(GRID_PX) + 2)
    return mask_within(moved[0], box), mask_within(moved[1], box)


@dataclass(frozen=True)
class Apart:
    """What the two readings say of one another: a sentence, and rows of (name, first, second)."""

    words: str
    rows: tuple[tuple[str, str, str], ...]


def readings_apart(first: Reading | None, second: Reading | None) -> Apart | None:
    """What the two readings say of one another; None until both are measured."""
    if first is None or second is None:
        return None
    one, other = (Measured.from_dict(json.loads(row.result)) for row in (first, second))
    try:
        words = between_observers(one, other).words
    except ValueError:
        words = ("The two were not measured in a way that lets their numbers be compared: look at what each says by "
                 "itself.")
    return Apart(words, tuple(_rows(one, other)))


def _rows(one: Measured, other: Measured) -> Iterator[tuple[str, str, str]]:
    yield "Difference from the skin, ΔE00", _interval(one), _interval(other)
    for name, left, right in (("Lighter (+) or darker (−)", one.delta_l, other.delta_l),
                              ("Redder (+) or less red (−)", one.delta_a, other.delta_a),
                              ("Yellower (+) or less yellow (−)", one.delta_b, other.delta_b)):
        yield name, _signed(left), _signed(right)


def _interval(measured: Measured) -> str:
    if measured.low is None or measured.high is None:
        return "in words only"
    return f"{measured.low:.1f} to {measured.high:.1f}"


def _signed(estimate: Estimate | None) -> str:
    return "–" if estimate is None else f"{estimate.low:+.1f} to {estimate.high:+.1f}".replace("-", "−")
