"""A card of 24 colour patches, painted in linear light and laid into a photo in perspective."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import cv2
import numpy as np
from numpy.typing import NDArray

from app.demo.skin_texture import Plane

# Size of the small card in the demo, mm: the patches' pitch is a sixth of the width.
CARD_MM = (66.0, 45.5)
_PATCH_PX, _GAP_PX = 60, 9


@dataclass(frozen=True)
class Placed:
    """The card's picture (h, w, 3), how far it covers each pixel (0 to 1), and the rows and columns it takes up."""

    linear_rgb: NDArray[np.float32]
    cover: Plane
    window: tuple[slice, slice]


@cache
def patches_linear_rgb() -> NDArray[np.float64]:
    """The 24 patches in linear sRGB under D65, row by row."""
    text = (files("app.colour") / "data" / "chart_24.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return np.array([[float(row[f"linear_{channel}"]) for channel in "rgb"] for row in rows])


@cache
def _flat_card(stray: float) -> NDArray[np.float32]:
    """The card seen straight on: a black frame with 6 by 4 patches, each off by its own share of `stray`.

    A sensor sees every surface a little otherwise than the eye does, and no matrix takes that back: without it the
    demo's charts would fit better than any real photo's.
    """
    off = np.random.default_rng(24).normal(0, stray, (24, 3))
    off[18:] *= 0.2
    pitch = _PATCH_PX + _GAP_PX
    margin = _GAP_PX + 6
    card = np.full((4 * pitch - _GAP_PX + 2 * margin, 6 * pitch - _GAP_PX + 2 * margin, 3), 0.016, np.float32)
    for index, colour in enumerate(patches_linear_rgb()):
        row, column = divmod(index, 6)
        y, x = margin + row * pitch, margin + column * pitch
        card[y : y + _PATCH_PX, x : x + _PATCH_PX] = colour * (1 + off[index])
    return card


def lay_card(
    shape: tuple[int, int],
    centre: tuple[float, float],
    degrees: float,
    px_per_mm: float,
    stray: float,
    rng: np.random.Generator,
) -> Placed:
    """Lay the card at a pixel position, turned by `degrees` and leaning a little away from the lens."""
    half = np.array(CARD_MM) / 2 * px_per_mm
    turn = np.radians(degrees)
    flat = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float) * half
    lean = 1 + flat @ (rng.uniform(-0.035, 0.035, 2) / half)
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = (flat / lean[:, None]) @ rotation + np.array(centre)
    card = _flat_card(stray)
    height, width = card.shape[:2]
    source = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    left, top = np.clip(np.floor(corners.min(0)) - 2, 0, (shape[1] - 2, shape[0] - 2)).astype(int)
    right, bottom = np.clip(np.ceil(corners.max(0)) + 2, (left + 1, top + 1), (shape[1], shape[0])).astype(int)
    matrix = cv2.getPerspectiveTransform(source, (corners - (left, top)).astype(np.float32))
    grain = 1 + 0.012 * rng.standard_normal(card.shape[:2], dtype=np.float32)
    size = (int(right - left), int(bottom - top))
    laid = cv2.warpPerspective(card * grain[..., None], matrix, size, flags=cv2.INTER_LINEAR)
    cover = np.zeros(shape, np.float32)
    window = np.s_[top:bottom, left:right]
    cover[window] = cv2.warpPerspective(_rounded(height, width), matrix, size, flags=cv2.INTER_LINEAR)
    return Placed(laid, cover, window)


def _rounded(height: int, width: int) -> Plane:
    """Cover of a card with rounded corners."""
    radius = 12
    cover = np.zeros((height, width), np.float32)
    cv2.rectangle(cover, (radius, 1), (width - 1 - radius, height - 2), 1.0, -1)
    cv2.rectangle(cover, (1, radius), (width - 2, height - 1 - radius), 1.0, -1)
    for x in (radius + 1, width - 2 - radius):
        for y in (radius + 1, height - 2 - radius):
            cv2.circle(cover, (x, y), radius, 1.0, -1)
    return cover
