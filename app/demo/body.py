"""Parts of an invented body in the demo's photos: where skin lies in the frame, how light falls on it, its surface."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from app.demo import skin_texture
from app.demo.scar_shapes import ScarShape
from app.demo.skin_texture import Plane, Planes, cloud

Limb = Literal["forearm", "shin", "abdomen", "chest", "face_side"]


@dataclass(frozen=True)
class Pose:
    """A limb in the frame: its lie, its cover of the cloth (0 to 1), its shading (1 at the scar), places in it."""

    degrees: float
    cover: Plane
    shade: Plane
    scar_at: tuple[float, float]
    chart_at: tuple[float, float]
    cloth_over: bool


@dataclass(frozen=True)
class Surface:
    """Colouring matter, height (in pixels) and hair of a skin."""

    melanin: Plane
    blood: Plane
    relief: Plane
    hair: Plane


@dataclass(frozen=True)
class ScarSurface:
    """Colouring matter, height, rim and needle marks of a scar."""

    melanin: Plane
    blood: Plane
    relief: Plane
    ridge: Plane
    needle: Plane


def pose(limb: Limb, shape: tuple[int, int], px_per_mm: float, rng: np.random.Generator) -> Pose:
    """Place a limb; small turns and shifts come from the generator."""
    height, width = shape
    x = np.arange(width, dtype=np.float32)[None, :] / np.float32(px_per_mm)
    y = np.arange(height, dtype=np.float32)[:, None] / np.float32(px_per_mm)
    wide, high = width / px_per_mm, height / px_per_mm
    if limb in ("forearm", "shin"):
        lying = limb == "forearm"
        middle = (wide * (0.5 if lying else 0.34), high * (0.36 if lying else 0.5))
        degrees = float(rng.uniform(-5, 5)) if lying else 90 + float(rng.uniform(-5, 5))
        turn = np.radians(degrees)
        s = (x - middle[0]) * np.float32(np.cos(turn)) + (y - middle[1]) * np.float32(np.sin(turn))
        t = (y - middle[1]) * np.float32(np.cos(turn)) - (x - middle[0]) * np.float32(np.sin(turn))
        thick, taper, bulge = rng.uniform((-3, 0.02, 1.0), (3, 0.08, 2.4)).astype(np.float32)
        half = (44 if lying else 51) + thick + (taper if lying else -taper) * s + bulge * np.sin(s / 47)
        u = t / half
        at = ((0.42, 0.36), (0.70, 0.83)) if lying else ((0.33, 0.45), (0.82, 0.62))
        cover, shade = _ramp((1 - np.abs(u)) * half, px_per_mm), _round_shade(u, 0.20 if lying else 0.26)
        return _posed(degrees, cover, shade, at, shape, False)
    round_off = ((x - wide * 0.45) / (wide * 0.95)) ** 2 + ((y - high * 0.38) / (high * 1.05)) ** 2
    shade = np.sqrt(np.maximum(1 - 0.9 * round_off, 0.05)) * (1 + 0.0006 * (wide / 2 - x))
    if limb == "face_side":
        jaw = high * 0.98 - 0.0042 * (x - wide * 0.34) ** 2 + 2.5 * np.sin(x / 31)
        shade = shade * (1 - np.exp(-np.maximum(jaw - y, 0) / 9.0) * 0.55)
        return _posed(-12.0, _ramp(jaw - y, px_per_mm), shade, ((0.38, 0.36), (0.81, 0.82)), shape, False)
    lift = 0.05 if limb == "abdomen" else -0.10
    start, wave = rng.uniform((0, 0.6), (6, 2.2)).astype(np.float32)
    hem = high * 0.70 + lift * (x - wide / 2) + wave * np.sin(x / 23 + start) + 0.7 * np.sin(x / 9 + 2)
    dip = _navel(x - wide * 0.80, y - high * 0.27) if limb == "abdomen" else _collar(x, y, wide)
    shade = shade * dip * (1 - 0.30 * np.exp(-np.maximum(hem - y, 0) / 5.0))
    return _posed(0.0, _ramp(hem - y, px_per_mm), shade, ((0.38, 0.32), (0.70, 0.835)), shape, True)


def _posed(
    degrees: float,
    cover: Plane,
    shade: Plane,
    at: tuple[tuple[float, float], tuple[float, float]],
    shape: tuple[int, int],
    cloth_over: bool,
) -> Pose:
    scar_at = (at[0][0] * shape[1], at[0][1] * shape[0])
    here = float(shade[int(scar_at[1]), int(scar_at[0])])
    return Pose(degrees, cover, (shade / here).astype(np.float32), scar_at, at[1], cloth_over)


def _ramp(inside_mm: NDArray[np.floating], px_per_mm: float) -> Plane:
    return np.clip(inside_mm * px_per_mm / 3 + 0.5, 0, 1).astype(np.float32)


def _round_shade(u: NDArray[np.floating], towards: float) -> Plane:
    """Light on a flattened cylinder at `u` half-widths from its axis, brighter on the side towards the lamp."""
    bent = np.clip(u, -1, 1) * np.minimum(np.abs(u), 1)
    lit = np.maximum(np.sqrt(np.maximum(1 - bent**2, 0)) * 0.95 - towards * bent, 0)
    shade: Plane = (0.34 + 0.66 * lit).astype(np.float32)
    return shade


def _navel(x: NDArray[np.floating], y: NDArray[np.floating]) -> Plane:
    """The soft hollow of a navel."""
    far = np.sqrt((x / 5.5) ** 2 + (y / 7.5) ** 2)
    hollow = 1.0 - 0.72 * np.exp(-((far / 0.8) ** 3))
    lip = hollow * (1 - 0.16 * np.exp(-((far - 1.5) ** 2) / 0.5) * np.clip(-y / 8, -1, 1))
    return lip.astype(np.float32)


def _collar(x: NDArray[np.floating], y: NDArray[np.floating], wide: float) -> Plane:
    """The soft ridge of a collarbone at the top of a chest."""
    line = y - (9 + 0.05 * (x - wide * 0.2) + 2.5 * np.sin(x / 40))
    ridge = 1 + 0.10 * np.exp(-((line / 5) ** 2)) - 0.22 * np.exp(-(((line - 10) / 7) ** 2))
    return ridge.astype(np.float32)


def surface(
    limb: Limb, at: Pose, strengths: tuple[float, float, float], px_per_mm: float, rng: np.random.Generator
) -> Surface:
    """Skin with its mottling, furrows, pores, hair and freckles; strengths of (hair, freckles, pores) from 0 to 1."""
    shape = (at.cover.shape[0], at.cover.shape[1])
    hair, freckle, pore = strengths
    m = px_per_mm
    side = int(np.hypot(*shape)) if at.degrees % 90 else max(shape)
    net = skin_texture.cells(rng, (int(side * 0.62), side), 0.95 * m)
    net = skin_texture.turned(cv2.resize(net, (side, side), interpolation=cv2.INTER_LINEAR), at.degrees + 90, shape)
    creases = skin_texture.turned(cloud(rng, (side, side), 1.2 * m, 3.2 * m), at.degrees, shape)
    holes = skin_texture.dots(rng, shape, int(at.cover.size / (2.6 * m) ** 2), 0.17 * m)
    melanin = 0.020 * cloud(rng, shape, 30 * m) + 0.022 * cloud(rng, shape, 6 * m) + 0.022 * cloud(rng, shape, 1.2 * m)
    melanin += 0.05 * pore * holes + 0.035 * net + skin_texture.freckles(rng, shape, freckle, m)
    blood = 0.020 * cloud(rng, shape, 22 * m) + 0.030 * cloud(rng, shape, 5 * m) + 0.026 * cloud(rng, shape, 1.6 * m)
    if limb == "forearm":
        vein = skin_texture.veins(rng, shape, at.degrees, m)
        melanin, blood = melanin + 0.09 * vein, blood - 0.11 * vein
    relief = -(0.5 + 0.5 * pore) * net - 0.13 * np.maximum(creases, 0) - 0.9 * pore * holes
    relief = relief + 0.22 * cloud(rng, shape, 2.2 * m)
    return Surface(melanin, blood, relief, skin_texture.hairs(rng, shape, hair, at.degrees, m))


def scar_surface(
    kind: ScarShape, depth: Plane, axes: tuple[Plane, Plane], skin: Surface, px_per_mm: float, rng: np.random.Generator
) -> ScarSurface:
    """A scar's own smoother skin: shiny strands, a raised or sunk rim, a mesh in a graft, islands in a burn."""
    shape = (depth.shape[0], depth.shape[1])
    along, across = axes
    m = px_per_mm
    strands = cloud(rng, shape, 2.4 * m, 1.1 * m)
    melanin = 0.35 * skin.melanin + 0.045 * cloud(rng, shape, 4 * m)
    blood = 0.5 * skin.blood + 0.06 * cloud(rng, shape, 3 * m)
    relief = 0.35 * skin.relief + 0.30 * strands
    height = {"line": 0.9, "patch": 0.2, "stretch": -0.8, "burn": 0.6, "graft": -0.8}[kind]
    ridge = height * np.clip(depth + 0.9, 0, 2.0).astype(np.float32)
    if kind == "stretch":
        ripples = np.sin(along * 3.4 + 2.2 * cloud(rng, shape, 3 * m)) * cloud(rng, shape, 3.5 * m)
        relief, melanin = relief + 0.30 * ripples, melanin + 0.02 * ripples
    if kind == "burn":
        islands = np.clip(cloud(rng, shape, 5.5 * m) - 0.7, 0, 1)
        melanin, blood = melanin + 0.30 * islands, blood + 0.10 * islands
        relief = relief + 0.9 * cloud(rng, shape, 3.2 * m)
    if kind == "graft":
        bent_a, bent_b = (0.5 * cloud(rng, shape, 6 * m) for _ in range(2))
        mesh = np.abs(np.sin((along + across * 1.7) * 0.62 + bent_a)) * np.abs(
            np.sin((along - across * 1.7) * 0.62 + bent_b)
        )
        relief, melanin = relief + 1.1 * np.sqrt(mesh), melanin - 0.09 * (np.sqrt(mesh) - 0.6)
        melanin = melanin + 0.16 * np.exp(-((depth / 0.9) ** 2))
    needle = skin_texture.dots(rng, shape, int(depth.size / (1.3 * m) ** 2), 0.22 * m) * np.float32(0.35)
    return ScarSurface(melanin.astype(np.float32), blood.astype(np.float32), relief.astype(np.float32), ridge, needle)


def relief_light(relief: Plane) -> Plane:
    """Light and shade of small bumps under a lamp from the upper left, with a trace of sheen."""
    slope = cv2.Sobel(relief, cv2.CV_32F, 1, 0, ksize=3, scale=0.125) + cv2.Sobel(
        relief, cv2.CV_32F, 0, 1, ksize=3, scale=0.16
    )
    soft = np.clip(slope * np.float32(0.34), -0.25, 0.25)
    sheen = np.clip(soft - 0.05, 0, 1) * np.float32(0.6)
    light: Plane = 1 + soft + sheen
    return light


def on_cloth(skin: Planes, cover: Plane, cloth_over: bool, px_per_mm: float, rng: np.random.Generator) -> Planes:
    """The skin on (or, where it drapes over, under) a matt grey-blue cloth."""
    height, width = cover.shape
    x = np.arange(width, dtype=np.float32)[None, :] / np.float32(0.42 * px_per_mm)
    y = np.arange(height, dtype=np.float32)[:, None] / np.float32(0.42 * px_per_mm)
    folds = cloud(rng, (height, width), 60 * px_per_mm, 22 * px_per_mm)
    weave = np.sin(2 * np.pi * (x + 0.25 * folds)) * np.sin(2 * np.pi * (y + 0.25 * folds))
    fibre = cloud(rng, (height, width), 0.45 * px_per_mm, 0.3 * px_per_mm)
    cloth = np.maximum(1 + 0.05 * folds + 0.045 * weave + 0.05 * fibre, 0.3)
    small = cv2.resize(cover, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    under = cv2.GaussianBlur(small, (0, 0), px_per_mm * (0.45 if cloth_over else 1.3))
    under = cv2.resize(under, (width, height), interpolation=cv2.INTER_LINEAR)
    cloth = cloth * (1 + 0.10 * (0.5 - under)) if cloth_over else cloth * (1 - 0.85 * np.minimum(under, 0.7))
    for channel, colour in enumerate((0.150, 0.180, 0.212)):
        ground = cloth * np.float32(colour)
        skin[channel] = ground + (skin[channel] - ground) * cover
    return skin
