"""Made-up photos of a chart, skin and a scar whose true colours are known, taken by cameras drawn at random."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from app.colour.chart import UNITS_HIGH, UNITS_WIDE, patch_centre_units, photo_from_chart
from app.colour.chart_reference import shipped
from app.colour.spaces import (
    ByteArray,
    FloatArray,
    linear_rgb_from_xyz_d65,
    srgb_from_linear_rgb,
    xyz_d65_from_lab_d65,
)

WIDTH, HEIGHT = 640, 400
CHART_CORNERS: FloatArray = np.array([[30.0, 90.0], [362.0, 96.0], [358.0, 322.0], [28.0, 314.0]])
SCAR_CENTRE, SCAR_AXES = (500, 200), (40, 55)
# Share of light that runs along the photo, lost from one side to the other at most.
GRADIENT = 0.08


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """How a camera turns true linear RGB into what it stores.

    matrix: crosstalk and white balance; bend: what no matrix can undo (its colour filters are not the eye's); power
    and curve: tone; noise: of 255; gradient: log of light per px; print_error: each patch of this chart copy.
    """

    matrix: FloatArray
    bend: FloatArray
    power: float
    curve: float
    noise: float
    gradient: FloatArray
    print_error: FloatArray


def plain_camera() -> Camera:
    return Camera(np.eye(3), np.zeros((3, 3)), 1.0, 0.0, 0.0, np.zeros(2), np.ones((24, 1)))


def random_camera(random: np.random.Generator) -> Camera:
    matrix = np.eye(3) + random.normal(0, 0.06, (3, 3)) * (1 - np.eye(3))
    matrix = matrix / matrix.sum(axis=1, keepdims=True) * random.uniform([0.8, 0.75, 0.6], [0.95, 0.95, 0.95])[:, None]
    angle = random.uniform(0, 2 * np.pi)
    return Camera(
        matrix=matrix,
        bend=random.normal(0, 0.12, (3, 3)),
        power=float(random.uniform(0.88, 1.15)),
        curve=float(random.uniform(-0.08, 0.08)),
        noise=float(random.uniform(0.5, 2.5)),
        gradient=np.array([np.cos(angle), np.sin(angle)]) * random.uniform(0, GRADIENT) / WIDTH,
        print_error=1 + random.normal(0, 0.012, (24, 1)) + random.normal(0, 0.006, (24, 3)),
    )


def scar_outline(shrink: float = 0.85) -> FloatArray:
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    axes = np.array(SCAR_AXES) * shrink
    return np.array(SCAR_CENTRE) + np.stack([np.cos(turn), np.sin(turn)], axis=1) * axes


def skin_outline() -> FloatArray:
    """A band of skin below the scar."""
    return np.array([[410.0, 270.0], [590.0, 270.0], [590.0, 330.0], [410.0, 330.0]])


def photo_of(
    lab_scar: FloatArray, lab_skin: FloatArray, camera: Camera, random: np.random.Generator, texture: float = 1.0
) -> ByteArray:
    """8-bit photo (400, 640, 3): chart left, skin with an oval scar right."""
    lab = np.tile(np.asarray(lab_skin, dtype=np.float64), (HEIGHT, WIDTH, 1))
    mask = np.zeros((HEIGHT, WIDTH), dtype=np.uint8)
    cv2.ellipse(mask, SCAR_CENTRE, SCAR_AXES, 0, 0, 360, 1, -1)
    lab[mask == 1] = lab_scar
    if texture:
        lab += texture * _texture(random)
    true_rgb = linear_rgb_from_xyz_d65(xyz_d65_from_lab_d65(lab.reshape(-1, 3))).reshape(HEIGHT, WIDTH, 3)
    _paint_chart(true_rgb, camera.print_error)
    return _exposed(true_rgb, camera, random)


def _texture(random: np.random.Generator) -> FloatArray:
    """Blotches of about 15 px and pores, in L*a*b*."""
    blotches = np.stack([cv2.GaussianBlur(random.normal(0, 1, (HEIGHT, WIDTH)), (0, 0), 7) for _ in range(3)], axis=-1)
    blotches = blotches / blotches.std(axis=(0, 1)) * [0.9, 0.6, 0.6]
    return np.asarray(blotches + random.normal(0, 0.8, (HEIGHT, WIDTH, 1)) * [1, 0, 0], dtype=np.float64)


def _paint_chart(true_rgb: FloatArray, print_error: FloatArray) -> None:
    homography = photo_from_chart(CHART_CORNERS)
    margin = 0.6
    card = np.array(
        [
            [-margin, -margin],
            [UNITS_WIDE + margin, -margin],
            [UNITS_WIDE + margin, UNITS_HIGH + margin],
            [-margin, UNITS_HIGH + margin],
        ]
    )
    _fill(true_rgb, homography, card, np.full(3, 0.03))
    square = np.array([[-1.25, -1.25], [1.25, -1.25], [1.25, 1.25], [-1.25, 1.25]])
    for centre, colour, error in zip(patch_centre_units(), shipped().linear_rgb, print_error, strict=True):
        _fill(true_rgb, homography, square + centre, np.maximum(colour * error, 0.004))


def _fill(true_rgb: FloatArray, homography: FloatArray, corners: FloatArray, colour: FloatArray) -> None:
    at = np.column_stack([corners, np.ones(4)]) @ homography.T
    mask = np.zeros(true_rgb.shape[:2], dtype=np.uint8)
    cv2.fillConvexPoly(mask, np.rint(at[:, :2] / at[:, 2:]).astype(np.int32), 1)
    true_rgb[mask == 1] = colour


def _exposed(true_rgb: FloatArray, camera: Camera, random: np.random.Generator) -> ByteArray:
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    light = np.exp(camera.gradient[0] * (x - WIDTH / 2) + camera.gradient[1] * (y - HEIGHT / 2))
    rgb = np.maximum(true_rgb, 0) * light[..., None]
    red, green, blue = rgb[..., 0], rgb[..., 1], rgb[..., 2]
    # Geometric minus arithmetic mean of two channels: nothing for greys, more the stronger the colour.
    pairs = ((red, green), (green, blue), (red, blue))
    bent = np.stack([np.sqrt(one * other) - (one + other) / 2 for one, other in pairs], axis=-1)
    stored = np.clip(rgb @ camera.matrix.T + bent @ camera.bend.T, 0, 1) ** camera.power
    srgb = srgb_from_linear_rgb(stored)
    srgb = srgb + camera.curve * srgb * (1 - srgb) * (2 * srgb - 1) * 2
    noisy = srgb * 255 + random.normal(0, camera.noise, srgb.shape) if camera.noise else srgb * 255
    return np.asarray(np.clip(np.rint(noisy), 0, 255), dtype=np.uint8)
