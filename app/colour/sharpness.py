"""How sharp a photo is, from the width of borders that are known to be sharp."""

from __future__ import annotations

import cv2
import numpy as np

from app.colour.spaces import ByteArray, FloatArray

FEWEST_LINES = 10
FALL_LEAST = 40.0  # of 255; a weaker step drowns in noise
LONG_SIDE_PX = 1000
# A line shorter than this shows no border; a longer one comes of corners that no chart can have, and is more than
# OpenCV's remap takes at four steps a px.
SHORTEST_PX, LONGEST_PX = 4.0, 8000.0


def edge_width_px(srgb8: ByteArray, lines: FloatArray) -> float | None:
    """Median 10 to 90 % width of borders, at a photo side of 1000 px.

    Takes: srgb8 (h, w, 3) uint8; lines (n, 2, 2) in px, each from inside a bright area to the dark beside it.
    Gives: px, about 2 for a sharp photo, 3, 5 and 8 to 11 when blurred by 1, 2 and 4 px; None when fewer than ten
    lines show a clear fall. Source: our own trials on real and blurred photos (colour findings, section 7).

    >>> photo = np.zeros((1000, 1000, 3), np.uint8)
    >>> photo[:, :500] = 200
    >>> lines = np.array([[[480.0, y], [520.0, y]] for y in range(100, 120)])
    >>> edge_width_px(photo, lines) < 2
    True
    """
    widths = [width for start, end in lines if (width := _fall_width_px(srgb8, start, end)) is not None]
    if len(widths) < FEWEST_LINES:
        return None
    return float(np.median(widths) * LONG_SIDE_PX / max(srgb8.shape[:2]))


def _fall_width_px(srgb8: ByteArray, start: FloatArray, end: FloatArray) -> float | None:
    length = float(np.linalg.norm(end - start))
    if not SHORTEST_PX <= length <= LONGEST_PX:
        return None
    count = int(length * 4) + 1
    at = (start + (end - start) * np.linspace(0, 1, count)[:, None]).astype(np.float32)
    line = np.asarray(cv2.remap(srgb8, at[None, :, 0], at[None, :, 1], cv2.INTER_LINEAR)[0, :, 1], dtype=np.float64)
    high, dark = float(np.median(line[: count // 2])), int(np.argmin(line))
    low = float(line[dark])
    if high - low < FALL_LEAST or dark < count // 2:
        return None
    fall = line[: dark + 1]
    last_high = int(np.flatnonzero(fall >= high - 0.1 * (high - low))[-1])
    first_low = int(np.flatnonzero(fall <= low + 0.1 * (high - low))[0])
    steps = max(first_low - last_high, 1)
    return float(steps * length / (count - 1))
