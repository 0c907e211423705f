"""Invented skin photos for the demo studio: a scar on a limb, with a colour card beside it, as a camera would show it.

No person, device or place stands behind them. The same scene always gives the same picture.
"""

from dataclasses import dataclass, field
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from app.colour.pieces import Piece, Regions, area_px2
from app.colour.ring import ENDS_MM, STARTS_MM
from app.colour.spaces import linear_rgb_from_xyz_d65, xyz_d65_from_lab_d65
from app.colour.tracing import trace
from app.demo import body, camera, chart_card, skin_texture
from app.demo.camera import Camera, Light
from app.demo.scar_shapes import EDGE_MM, ScarShape, depth_mm
from app.demo.skin_texture import Plane, Planes

Lab = tuple[float, float, float]
# Redness after work fades out this far from the scar, mm.
HALO_MM = 10.0


@dataclass(frozen=True)
class Scene:
    """All that decides a picture."""

    seed: int  # the person and the scar; the same seed at another visit shows the same skin
    skin_lab_d65: Lab
    scar_lab_d65: Lab
    scar_shape: ScarShape = "line"
    limb: body.Limb = "forearm"
    width: int = 1600
    height: int = 1200
    frame_mm: float = 205.0  # width of what the picture shows
    mirrored: bool = False  # the other side of the body: limb and card change sides
    visit: int = 0  # how the limb and the card happen to lie that day
    scar_degrees: float = 12.0
    light: Light = field(default_factory=Light)
    camera: Camera = field(default_factory=Camera)
    redness: float = 0.0
    hair: float = 0.4
    freckles: float = 0.3
    pores: float = 0.6
    chart: Literal["classic"] | None = "classic"
    chart_degrees: float = -3.0
    chart_at: tuple[float, float] | None = None


@dataclass(frozen=True)
class Truth:
    """The colours that were painted, CIE Lab under D65 and the 2 degree observer."""

    skin_lab_d65: Lab
    scar_lab_d65: Lab


@dataclass(frozen=True)
class Rendered:
    """A picture with what is known about it; outlines are (n, 2) in pixels, x then y."""

    srgb8: NDArray[np.uint8]
    jpeg: bytes
    scar_outline: NDArray[np.float64]
    skin_outline: NDArray[np.float64]  # a round patch of the painted colour
    skin_ring: Regions  # the skin all round the scar, as an artist would outline it
    truth: Truth


def _linear_rgb(lab_d65: Lab) -> NDArray[np.float64]:
    return linear_rgb_from_xyz_d65(xyz_d65_from_lab_d65(lab_d65))


def render(scene: Scene) -> Rendered:
    """Paint a scene, photograph it and say where its scar and clean skin are."""
    rng = np.random.default_rng(scene.seed)
    shape = (scene.height, scene.width)
    px_per_mm = scene.width / scene.frame_mm
    limb = body.pose(scene.limb, shape, px_per_mm, np.random.default_rng(scene.seed + 1))
    along, across = _scar_axes(limb, scene.scar_degrees, px_per_mm)
    depth = depth_mm(scene.scar_shape, along, across, np.random.default_rng(scene.seed + 2), px_per_mm)
    day = np.random.default_rng((scene.seed, scene.visit, 3))
    chart = _lay_chart(scene, limb, px_per_mm, day)
    scar_outline = _scar_outline(depth, EDGE_MM[scene.scar_shape], limb)
    hidden = _card_cover(scene, chart)
    skin_outline, ring = _skin_outline(depth, limb, hidden, px_per_mm), _skin_ring(depth, limb, hidden, scene)
    painted = _paint_skin(scene, limb, depth, (along, across), (scar_outline, skin_outline), rng)
    move = _lie_of_the_day(scene, limb, px_per_mm, day)
    painted, cover = _moved(painted, move), _moved(limb.cover[None], move, cv2.BORDER_REPLICATE)[0]
    scar_outline, skin_outline = (_carried(outline, move) for outline in (scar_outline, skin_outline))
    ring = tuple(Piece(_carried(one.outer, move), tuple(_carried(hole, move) for hole in one.holes)) for one in ring)
    linear = body.on_cloth(painted, cover, limb.cloth_over, px_per_mm, rng)
    if chart is not None:
        linear = _with_chart(linear, chart, px_per_mm)
    srgb8 = camera.expose(linear, scene.light, scene.camera, day)
    return Rendered(
        srgb8, camera.jpeg(srgb8), scar_outline, skin_outline, ring, Truth(scene.skin_lab_d65, scene.scar_lab_d65)
    )


def _carried(points: NDArray[np.float64], move: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.round(points @ move[:, :2].T + move[:, 2], 1), dtype=np.float64)


def _card_cover(scene: Scene, chart: chart_card.Placed | None) -> Plane | None:
    """What the card hides, as seen before the limb is mirrored."""
    if chart is None:
        return None
    return chart.cover[:, ::-1].copy() if scene.mirrored else chart.cover


def _lie_of_the_day(scene: Scene, limb: body.Pose, px_per_mm: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Turn and shift (2, 3) of the limb at a visit, mirrored where asked: up to 2 degrees and 3 mm; none at visit 0."""
    move: NDArray[np.float64] = np.eye(2, 3)
    if scene.visit != 0:
        move = cv2.getRotationMatrix2D(limb.scar_at, float(rng.uniform(-2, 2)), 1.0)
        move[:, 2] += rng.uniform(-3, 3, 2) * px_per_mm
    if scene.mirrored:
        move[0] = np.array([0, 0, scene.width - 1]) - move[0]
    return move


def _moved(planes: Planes, move: NDArray[np.float64], border: int = cv2.BORDER_REFLECT) -> Planes:
    if np.array_equal(move, np.eye(2, 3)):
        return planes
    size = (planes.shape[2], planes.shape[1])
    return np.stack([cv2.warpAffine(p, move, size, flags=cv2.INTER_CUBIC, borderMode=border) for p in planes])


def _scar_axes(limb: body.Pose, degrees: float, px_per_mm: float) -> tuple[Plane, Plane]:
    """Millimetres along and across the scar, counted from its middle."""
    turn = np.radians(limb.degrees + degrees)
    x = (np.arange(limb.cover.shape[1], dtype=np.float32) - limb.scar_at[0])[None, :] / np.float32(px_per_mm)
    y = (np.arange(limb.cover.shape[0], dtype=np.float32) - limb.scar_at[1])[:, None] / np.float32(px_per_mm)
    c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    return x * c + y * s, y * c - x * s


def _lay_chart(scene: Scene, limb: body.Pose, px_per_mm: float, rng: np.random.Generator) -> chart_card.Placed | None:
    if scene.chart is None:
        return None
    own_side = (1 - limb.chart_at[0], limb.chart_at[1]) if scene.mirrored else limb.chart_at
    at = scene.chart_at or own_side
    stray = rng.uniform(-1, 1, 3) * (0 if scene.visit == 0 else 1)
    centre = ((at[0] + 0.012 * stray[0]) * scene.width, (at[1] + 0.008 * stray[1]) * scene.height)
    degrees = scene.chart_degrees + 3 * float(stray[2])
    return chart_card.lay_card((scene.height, scene.width), centre, degrees, px_per_mm, scene.camera.stray, rng)


def _outline(inside: NDArray[np.bool_], tolerance: float) -> NDArray[np.float64]:
    """The largest closed curve round a region."""
    curves, _ = cv2.findContours(inside.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = max(curves, key=cv2.contourArea)
    points: NDArray[np.float64] = cv2.approxPolyDP(largest, tolerance, True)[:, 0, :].astype(np.float64)
    return points


def _scar_outline(depth: Plane, edge_mm: float, limb: body.Pose) -> NDArray[np.float64]:
    return _outline((depth > edge_mm + 0.3) & (limb.cover > 0.99), 1.5)


def _skin_outline(depth: Plane, limb: body.Pose, card_cover: Plane | None, px_per_mm: float) -> NDArray[np.float64]:
    """A round patch clear of scar, halo, card and edges, lit as nearly as possible like the scar."""
    step, radius = 4, 7.0
    outside = cv2.resize(-depth, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
    shade = cv2.resize(limb.shade, (outside.shape[1], outside.shape[0]), interpolation=cv2.INTER_AREA)
    cover = cv2.resize(limb.cover, (outside.shape[1], outside.shape[0]), interpolation=cv2.INTER_AREA)
    free = (outside > HALO_MM) & (cover > 0.99)
    if card_cover is not None:
        card = cv2.resize(card_cover, (outside.shape[1], outside.shape[0]), interpolation=cv2.INTER_AREA)
        free &= cv2.dilate(card, np.ones((21, 21))) < 0.01
    free[:8], free[-8:], free[:, :8], free[:, -8:] = False, False, False, False
    room = cv2.distanceTransform(free.astype(np.uint8), cv2.DIST_L2, 3) * step / px_per_mm
    scar_shade = float(np.median(shade[outside < -1]))
    cost = np.abs(np.log(shade / scar_shade)) * 40 + outside * 0.06 + np.where(room < radius, 1e3, 0.0)
    y, x = np.unravel_index(int(np.argmin(cost)), cost.shape)
    if room[y, x] < radius:
        raise ValueError(
            "This scene leaves no patch of clean skin for reference: move the card or show more of the limb."
        )
    turn = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    wobble = (radius - 0.8) * px_per_mm * (1 + 0.05 * np.sin(3 * turn))
    points: NDArray[np.float64] = np.stack([x * step + wobble * np.cos(turn), y * step + wobble * np.sin(turn)], -1)
    return np.round(points, 1)


def _skin_ring(depth: Plane, limb: body.Pose, card_cover: Plane | None, scene: Scene) -> Regions:
    """The skin that lies all round the scar, beyond any halo, as far as it is neither card, cloth nor edge."""
    step, starts = 4, max(STARTS_MM, HALO_MM if scene.redness else 0.0)
    small = (depth.shape[1] // step, depth.shape[0] // step)
    outside = cv2.resize(-depth, small, interpolation=cv2.INTER_AREA)
    free = (outside > starts) & (outside < starts + ENDS_MM - STARTS_MM)
    free &= cv2.resize(limb.cover, small, interpolation=cv2.INTER_AREA) > 0.99
    if card_cover is not None:
        card = cv2.resize(card_cover, small, interpolation=cv2.INTER_AREA)
        free &= cv2.dilate(card, np.ones((21, 21))) < 0.01
    free[:8], free[-8:], free[:, :8], free[:, -8:] = False, False, False, False
    smooth = cv2.morphologyEx(free.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5))).astype(np.bool_)
    least_px2 = (2 * scene.width / scene.frame_mm) ** 2
    return tuple(
        Piece(one.outer, tuple(hole for hole in one.holes if area_px2(hole) > least_px2))
        for one in trace(smooth, (float(step), float(step)), 0.6)
        if area_px2(one) > least_px2
    )


def _paint_skin(
    scene: Scene,
    limb: body.Pose,
    depth: Plane,
    axes: tuple[Plane, Plane],
    outlines: tuple[NDArray[np.float64], NDArray[np.float64]],
    rng: np.random.Generator,
) -> Planes:
    """The lit skin with its scar, in linear light."""
    px_per_mm = scene.width / scene.frame_mm
    edge = EDGE_MM[scene.scar_shape]
    cover = np.clip((depth + edge) / (2 * edge), 0, 1)
    cover = cover * cover * (3 - 2 * cover)
    surface = body.surface(scene.limb, limb, (scene.hair, scene.freckles, scene.pores), px_per_mm, rng)
    scar = body.scar_surface(scene.scar_shape, depth, axes, surface, px_per_mm, rng)
    halo = np.clip(1 + np.minimum(depth, 0) / HALO_MM, 0, 1) ** 2 * (1 - cover) * np.float32(scene.redness)
    halo = halo * (0.62 + 0.10 * skin_texture.cloud(rng, depth.shape, 3 * px_per_mm))
    skin = skin_texture.coloured(_linear_rgb(scene.skin_lab_d65), surface.melanin, surface.blood + halo)
    needle = scar.blood + np.float32(scene.redness) * scar.needle
    healed = skin_texture.coloured(_linear_rgb(scene.scar_lab_d65), scar.melanin, needle)
    relief = surface.relief + (scar.relief - surface.relief) * cover + scar.ridge
    light = body.relief_light(relief) * limb.shade
    # Shade on skin is a little redder than light, because red travels furthest inside it.
    lit = [light * (1 + np.float32(redder) * (1 - limb.shade)) for redder in (0.09, 0.0, -0.05)]
    for layer, outline, lab in ((skin, outlines[1], scene.skin_lab_d65), (healed, outlines[0], scene.scar_lab_d65)):
        _make_true(layer, lit, outline, _linear_rgb(lab))
    hair = surface.hair * (1 - cover) * np.float32(0.8 if scene.skin_lab_d65[0] > 45 else 0.55)
    for channel, hair_light in enumerate(_linear_rgb((22.0, 5.0, 7.0))):
        skin[channel] += (healed[channel] - skin[channel]) * cover
        skin[channel] *= lit[channel]
        skin[channel] += (np.float32(hair_light) - skin[channel]) * hair
    return skin


def _make_true(layer: Planes, lit: list[Plane], outline: NDArray[np.float64], wanted: NDArray[np.float64]) -> None:
    """Scale a layer so that its median inside an outline is the colour asked for: texture must not move the truth."""
    left, top, wide, high = cv2.boundingRect(outline.astype(np.int32))
    inside = np.zeros((high, wide), np.uint8)
    cv2.fillPoly(inside, [outline.astype(np.int32) - (left, top)], 1)
    window, at = np.s_[top : top + high, left : left + wide], inside.astype(bool)
    for channel in range(3):
        median = np.median((layer[channel][window] * lit[channel][window])[at])
        layer[channel] *= np.float32(wanted[channel] / median)


def _with_chart(linear: Planes, chart: chart_card.Placed, px_per_mm: float) -> Planes:
    """The scene with the card on it and the card's soft shadow under it."""
    small = cv2.resize(chart.cover, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), px_per_mm * 0.3)
    move = np.array([[1, 0, px_per_mm * 0.25], [0, 1, px_per_mm * 0.32]], np.float32)
    moved = cv2.warpAffine(soft, move, soft.shape[::-1])
    shadow = cv2.resize(moved, (linear.shape[2], linear.shape[1]), interpolation=cv2.INTER_LINEAR)
    cover = chart.cover[chart.window]
    for channel in range(3):
        linear[channel] *= 1 - np.float32(0.42) * shadow
        ground = linear[channel][chart.window]
        ground += (chart.linear_rgb[..., channel] - ground) * cover
    return linear
