"""An invented camera: from light on the sensor to the 8-bit picture and its JPEG."""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.demo.skin_texture import Planes, cloud


@dataclass(frozen=True)
class Light:
    """Light on the scene: tint as gains of red and blue against green, brightness, and its fall across the frame."""

    red: float = 1.0
    blue: float = 1.0
    gain: float = 0.86
    fall_x: float = 0.03
    fall_y: float = -0.02


@dataclass(frozen=True)
class Camera:
    """What the camera does: colour mixing, its error on single surfaces (a share), white balance error, a mild tone
    curve, noise (8-bit steps) and blur (px)."""

    crosstalk: float = 0.06
    stray: float = 0.06
    red: float = 1.0
    blue: float = 1.0
    contrast: float = 0.06
    noise: float = 1.6
    blur: float = 0.6


_STEPS = 16383


def _tone_curve(contrast: float) -> NDArray[np.float32]:
    """8-bit value (as float) for each step of linear light: the sRGB curve with a gentle S laid over it."""
    linear = np.linspace(0, 1, _STEPS + 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    curved = encoded + contrast * encoded * (1 - encoded) * (2 * encoded - 1)
    values: NDArray[np.float32] = (curved * 255).astype(np.float32)
    return values


def expose(linear_rgb: Planes, light: Light, camera: Camera, rng: np.random.Generator) -> NDArray[np.uint8]:
    """The picture (h, w, 3), sRGB 8-bit, of a scene given in linear light."""
    height, width = linear_rgb.shape[1:]
    x = np.linspace(-0.5, 0.5, width, dtype=np.float32)[None, :]
    y = np.linspace(-0.5, 0.5, height, dtype=np.float32)[:, None]
    falling = (light.gain * (1 + light.fall_x * x + light.fall_y * y)).astype(np.float32)
    mix = camera.crosstalk
    crosstalk = np.array(
        [[1 - 1.4 * mix, mix, 0.4 * mix], [0.6 * mix, 1 - mix, 0.4 * mix], [0.2 * mix, 1.2 * mix, 1 - 1.4 * mix]]
    )
    tint = np.diag([light.red * camera.red, 1.0, light.blue * camera.blue])
    mixing = (crosstalk @ tint * _STEPS).astype(np.float32)
    lit = [plane * falling for plane in linear_rgb]
    fine = cv2.GaussianBlur(rng.standard_normal((height, width), dtype=np.float32), (0, 0), 0.55) * (camera.noise * 1.6)
    curve = _tone_curve(camera.contrast)
    channels = []
    for row in mixing:
        sensed = lit[0] * row[0] + lit[1] * row[1] + lit[2] * row[2]
        sensed = cv2.GaussianBlur(sensed, (0, 0), camera.blur) if camera.blur > 0 else sensed
        encoded = curve[np.clip(sensed, 0, _STEPS).astype(np.uint16)] + fine
        encoded += cloud(rng, (height, width), 4.0) * np.float32(0.4 * camera.noise)
        channels.append(np.clip(encoded + 0.5, 0, 255).astype(np.uint8))
    picture: NDArray[np.uint8] = cv2.merge(channels)
    return picture


def jpeg(srgb8: NDArray[np.uint8], quality: int = 88) -> bytes:
    """The picture as a JPEG without device data."""
    out = io.BytesIO()
    Image.fromarray(srgb8).save(out, "JPEG", quality=quality)
    return out.getvalue()
