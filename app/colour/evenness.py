"""How even the colour of a scar is within itself, held against how even the skin round it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.difference import delta_e_00
from app.colour.difference_map import Cells
from app.colour.spaces import FloatArray

# More than half as uneven again as the skin is called blotchier: our choice. Below this spread nothing is said, it is
# under what is seen on light skin: 0.59 CIEDE2000 (Vision Res. 223:108474, 2024, DOI 10.1016/j.visres.2024.108474).
BLOTCHIER_FROM = 1.5
UNSEEN_BELOW = 0.59
FEWEST_CELLS = 12


@dataclass(frozen=True, slots=True)
class Evenness:
    """Typical CIEDE2000 distance of a part of the scar, and of the skin, from the middle colour of its own region."""

    scar: float
    skin: float
    words: str


def evenness(scar: Cells, skin: Cells) -> Evenness | None:
    """Spread of the scar's own colour held against the skin's.

    Takes: averaged colours of both, over the same distance. A steady fall-off of light over a region is taken out
    first: it belongs to the lamp. Gives: Evenness; None when either has fewer than twelve cells.
    Source: median distance from the median colour; the limits as given at the constants.

    >>> plain = np.zeros((6, 6, 3)) + [65.0, 10.0, 16.0]
    >>> blotchy = plain + np.where(np.indices((6, 6)).sum(0) % 2, 2.0, -2.0)[..., None] * [1.0, 0, 0]
    >>> evenness(Cells(blotchy, (0, 0, 6, 6), 1, 4.0), Cells(plain, (0, 0, 6, 6), 1, 4.0)).words
    'The scar is blotchier than the skin round it.'
    """
    own, other = _spread(scar), _spread(skin)
    if own is None or other is None:
        return None
    if max(own, other) < UNSEEN_BELOW:
        words = "Scar and skin are both even."
    elif own > BLOTCHIER_FROM * max(other, UNSEEN_BELOW):
        words = "The scar is blotchier than the skin round it."
    elif other > BLOTCHIER_FROM * max(own, UNSEEN_BELOW):
        words = "The scar is more even than the skin round it: it may look flat beside it."
    else:
        words = "The scar is about as even as the skin round it."
    return Evenness(own, other, words)


def _spread(cells: Cells) -> float | None:
    lab = cells.lab_d65[cells.inside]
    if len(lab) < FEWEST_CELLS:
        return None
    rows, columns = np.nonzero(cells.inside)
    place = np.column_stack([np.ones(len(lab)), rows - rows.mean(), columns - columns.mean()])
    flat = lab - place[:, 1:] @ np.asarray(np.linalg.lstsq(place, lab, rcond=None)[0], dtype=np.float64)[1:]
    middle: FloatArray = np.asarray(np.median(flat, axis=0), dtype=np.float64)
    return float(np.median(delta_e_00(middle, flat)))
