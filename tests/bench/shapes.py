"""Where scar, skin outlines and chart lie in a rendered photo: shapes of known millimetres, seen at a tilt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.colour.chart_plane import PITCH_UNITS, UNITS_HIGH, UNITS_WIDE, project
from app.colour.pieces import Piece, Regions, area_px2
from app.colour.polygons import crosses_itself
from app.colour.spaces import FloatArray

# A small 24-patch chart, about as wide as a bank card: our choice, a studio measures its own.
PITCH_MM = 11.0
UNIT_MM = PITCH_MM / PITCH_UNITS
# How far an artist's line strays from the scar's edge.
DRAWING_ERROR_MM = 0.3
LONGEST_MM = 70.0
ASPECT = 0.75


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Everything in px of the photo: true_scar as it is, drawn_* as an artist draws them."""

    width_px: int
    height_px: int
    photo_from_units: FloatArray
    true_scar: Regions
    drawn_scar: Regions
    drawn_skin: Regions
    area_mm2: float
    px_per_mm: float
    pitch_mm: float
    soft_mm: float

    @property
    def chart_corners(self) -> FloatArray:
        right, down = UNITS_WIDE, UNITS_HIGH
        return project(self.photo_from_units, np.array([[0, 0], [right, 0], [right, down], [0, down]]))


@dataclass(frozen=True, slots=True)
class _Shape:
    """An oval, or a strip with round ends that may be bent; half sizes in mm."""

    is_strip: bool
    half_length: float
    half_width: float
    bend: float

    def outline(self, grown_mm: float = 0.0) -> FloatArray:
        """Points (n, 2) in mm round the middle, grown outwards."""
        long, wide = self.half_length + grown_mm, self.half_width + grown_mm
        turn = np.linspace(0, 2 * np.pi, 64, endpoint=False)
        if not self.is_strip:
            return np.stack([long * np.cos(turn), wide * np.sin(turn)], axis=1)
        straight, cap = long - wide, np.linspace(-np.pi / 2, np.pi / 2, 17)
        right = np.stack([straight + wide * np.cos(cap), wide * np.sin(cap)], axis=1)
        side = np.linspace(straight, -straight, 16)[1:-1]
        top = np.stack([side, np.full(len(side), wide)], axis=1)
        half = np.concatenate([right, top])
        points = np.concatenate([half, -half])
        points[:, 1] += self.bend * (points[:, 0] ** 2 - straight**2 / 2)
        return points


def laid_out(random: np.random.Generator, width_px: int, tilt_deg: float, narrow_mm: float) -> Layout:
    """Chart on one side, scar on the other, and a ring or a patch of skin; scar narrow_mm wide at its narrow side."""
    shape, parts = _scar(random, narrow_mm)
    turn = random.uniform(0, np.pi)
    gap, wide = random.uniform(4, 6), random.uniform(5, 8)
    reach = np.abs(_turned(shape.outline(gap + wide), turn)).max(axis=0)
    centre = np.array([UNITS_WIDE * UNIT_MM / 2 + 7 + reach[0], random.uniform(-8, 8)])
    true = [_turned(part, turn) + centre for part in parts]
    if random.random() < 0.5:
        skin = Piece(_turned(shape.outline(gap + wide), turn) + centre, (_turned(shape.outline(gap), turn) + centre,))
    else:
        skin = _patch(shape, turn, centre, gap, random)
    drawn = [_drawn(outline, random) for outline in true]
    used = np.concatenate([_chart_mm(), *drawn, skin.outer])
    height_px = round(width_px * ASPECT)
    photo_from_mm = _seen(used, (width_px, height_px), tilt_deg, random)

    def in_photo(points: FloatArray) -> FloatArray:
        return project(photo_from_mm, points)

    area = sum(area_px2(outline) for outline in true)
    return Layout(
        width_px=width_px,
        height_px=height_px,
        photo_from_units=photo_from_mm @ _mm_from_units(),
        true_scar=tuple(Piece(in_photo(outline)) for outline in true),
        drawn_scar=tuple(Piece(in_photo(outline)) for outline in drawn),
        drawn_skin=(Piece(in_photo(skin.outer), tuple(in_photo(hole) for hole in skin.holes)),),
        area_mm2=area,
        px_per_mm=float(np.sqrt(sum(area_px2(in_photo(outline)) for outline in true) / area)),
        pitch_mm=PITCH_MM,
        soft_mm=float(min(random.uniform(0.05, 0.3), narrow_mm / 12)),
    )


def _scar(random: np.random.Generator, narrow_mm: float) -> tuple[_Shape, list[FloatArray]]:
    length = float(np.clip(narrow_mm * random.uniform(1.3, 6), max(10.0, 1.2 * narrow_mm), LONGEST_MM))
    is_strip = bool(random.random() < 0.5)
    # A strip sags by up to a twelfth of its length.
    bend = random.uniform(-1, 1) / (3 * length) if is_strip and length > 3 * narrow_mm else 0.0
    shape = _Shape(is_strip, length / 2, narrow_mm / 2, bend)
    if length > 4 * narrow_mm and bend == 0 and random.random() < 0.4:
        part = _Shape(is_strip, length / 4 - 1.0, narrow_mm / 2, 0.0).outline()
        shift = np.array([length / 4 + 1.0, 0.0])
        return shape, [part - shift, part + shift]
    return shape, [shape.outline()]


def _patch(shape: _Shape, turn: float, centre: FloatArray, gap: float, random: np.random.Generator) -> Piece:
    """A round patch of skin beside the scar's long side."""
    radius = random.uniform(4, 7)
    side = random.choice([-1, 1])
    away = shape.half_width + gap + radius + abs(shape.bend) * shape.half_length**2 / 2
    round_it = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    circle = radius * np.stack([np.cos(round_it), np.sin(round_it)], axis=1)
    return Piece(_turned(circle + np.array([0.0, side * away]), turn) + centre)


def _drawn(outline: FloatArray, random: np.random.Generator) -> FloatArray:
    """An outline as an artist draws it; one that crosses itself is refused by the tool, and drawn again."""
    while crosses_itself(drawn := _strayed(outline, random)):
        pass
    return drawn


def _strayed(outline: FloatArray, random: np.random.Generator) -> FloatArray:
    """An outline as drawn: 10 to 16 taps off by up to 0.3 mm across the line, and what lies between them."""
    taps = random.uniform(-DRAWING_ERROR_MM, DRAWING_ERROR_MM, int(random.integers(10, 17)))
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(outline, axis=0), axis=1))])
    share = along / (along[-1] + np.linalg.norm(outline[0] - outline[-1]))
    off = np.interp(share, np.linspace(0, 1, len(taps) + 1), np.append(taps, taps[0]))
    tangent = np.roll(outline, -1, axis=0) - np.roll(outline, 1, axis=0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1) / np.linalg.norm(tangent, axis=1, keepdims=True)
    return np.asarray(outline + off[:, None] * normal, dtype=np.float64)


def _turned(points: FloatArray, angle: float) -> FloatArray:
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]), dtype=np.float64)


def _mm_from_units() -> FloatArray:
    return np.array([[UNIT_MM, 0, -UNITS_WIDE * UNIT_MM / 2], [0, UNIT_MM, -UNITS_HIGH * UNIT_MM / 2], [0, 0, 1.0]])


def _chart_mm() -> FloatArray:
    half = np.array([UNITS_WIDE / 2 + 0.8, UNITS_HIGH / 2 + 0.8]) * UNIT_MM
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half


def _seen(used_mm: FloatArray, size: tuple[int, int], tilt_deg: float, random: np.random.Generator) -> FloatArray:
    """Plane projection (3, 3) from mm to px: a lens over the middle, tilted, turned, all that is used in the frame."""
    low, high = used_mm.min(axis=0), used_mm.max(axis=0)
    middle, across = (low + high) / 2, float((high - low).max())
    distance = across * random.uniform(0.9, 1.8)
    axis, tilt = random.uniform(0, 2 * np.pi), np.radians(tilt_deg)
    roll = np.radians(random.normal(0, 4)) + (np.pi if random.random() < 0.15 else 0.0)
    lean = np.array([np.cos(axis), np.sin(axis)]) * np.sin(tilt)
    short = np.eye(2) - np.outer(lean, lean) / np.sin(tilt) ** 2 * (1 - np.cos(tilt)) if tilt > 0 else np.eye(2)
    c, s = np.cos(roll), np.sin(roll)
    lens = np.eye(3)
    lens[:2, :2] = np.array([[c, -s], [s, c]]) @ short
    lens[2, :2] = lean / distance
    centred = np.array([[1, 0, -middle[0]], [0, 1, -middle[1]], [0, 0, 1.0]])
    flat = lens @ centred
    seen = project(flat, used_mm)
    low, high = seen.min(axis=0), seen.max(axis=0)
    margin = random.uniform(0.02, 0.10)
    scale = float(np.min(np.array(size) * (1 - 2 * margin) / (high - low)))
    shift = np.array(size) / 2 - scale * (low + high) / 2
    return np.asarray(np.array([[scale, 0, shift[0]], [0, scale, shift[1]], [0, 0, 1]]) @ flat, dtype=np.float64)
