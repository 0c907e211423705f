"""Outlines of invented scars for the demo's photos, as depth fields in millimetres (positive inside)."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from app.demo.skin_texture import Plane, cloud

# Millimetres at each pixel.
Field = NDArray[np.floating]
ScarShape = Literal["line", "patch", "stretch", "burn", "graft"]
# Half the width of the soft edge, mm; drawn by eye.
EDGE_MM: dict[ScarShape, float] = {"line": 0.7, "patch": 1.2, "stretch": 0.9, "burn": 1.3, "graft": 0.7}

# Place across, half length and half width of each mark, mm.
_STRETCH_MARKS = ((-15, 17, 2.4), (-7.5, 24, 3.0), (1, 30, 3.9), (9.5, 22, 2.8), (16.5, 14, 2.2))


def depth_mm(shape: ScarShape, along: Plane, across: Plane, rng: np.random.Generator, px_per_mm: float) -> Plane:
    """How deep inside the scar each pixel lies; `along` and `across` are millimetres from the scar's middle."""
    size = (along.shape[0], along.shape[1])
    ragged = {"line": 0.35, "patch": 1.0, "stretch": 0.5, "burn": 1.5, "graft": 0.45}[shape]
    m = px_per_mm
    fine = 0.22 * cloud(rng, size, 0.9 * m)
    along = along + ragged * (1.6 * cloud(rng, size, 9 * m) + 0.5 * cloud(rng, size, 2.6 * m)) + fine
    across = across + ragged * (1.3 * cloud(rng, size, 9 * m) + 0.5 * cloud(rng, size, 2.6 * m)) + fine
    if shape == "line":
        beside = across - 3.0 * np.sin(along / 19)
        line: Plane = np.maximum(_spindle(along, beside, 34.0, 3.1, 6), _stitches(along, beside))
        return line
    if shape == "stretch":
        return _stretch(along, across, rng)
    if shape == "graft":
        return _box(along, across, 24.0, 17.0, 6.0)
    if shape == "burn":
        blobs = [
            _ellipse(along, across, 27, 15),
            _ellipse(along - 15, across + 7, 15, 12),
            _ellipse(along + 17, across - 8, 14, 9),
        ]
        burn: Plane = np.maximum.reduce(blobs)
        return burn
    return _ellipse(along, across, 17, 11)


def _ellipse(along: Field, across: Field, half_along: float, half_across: float) -> Plane:
    depth = (1 - np.sqrt((along / half_along) ** 2 + (across / half_across) ** 2)) * min(half_along, half_across)
    return depth.astype(np.float32)


def _spindle(along: Field, across: Field, half_length: float, half_width: float, power: int) -> Plane:
    taper = half_width * (1 - np.abs(along / half_length) ** power)
    depth: Plane = (np.maximum(taper, -30.0) - np.abs(across)).astype(np.float32)
    return depth


def _stitches(along: Field, across: Field) -> Plane:
    """Small pale marks where stitches went in on both sides of a line."""
    from_mark = np.hypot((along + 3.5) % 7 - 3.5, (np.abs(across) - 5.6) * 0.7)
    marks: Plane = np.where(np.abs(along) < 29, 0.35 - from_mark, -30).astype(np.float32)
    return marks


def _box(along: Field, across: Field, half_along: float, half_across: float, corner: float) -> Plane:
    dx, dy = np.abs(along) - (half_along - corner), np.abs(across) - (half_across - corner)
    outside = np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) + np.minimum(np.maximum(dx, dy), 0) - corner
    depth: Plane = (-outside).astype(np.float32)
    return depth


def _stretch(along: Field, across: Field, rng: np.random.Generator) -> Plane:
    depth: Plane = np.full(along.shape, -50.0, np.float32)
    for place, half_length, half_width in _STRETCH_MARKS:
        shift = float(rng.uniform(-7, 7))
        curve = place + 2.2 * np.sin((along + shift) / 17) + float(rng.uniform(-0.8, 0.8))
        depth = np.maximum(depth, _spindle(along + shift, across - curve, half_length, half_width, 2))
    return depth
