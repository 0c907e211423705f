"""Photos of skin with a scar and a chart, rendered from spectra, whose true colours and sizes are known.

    light x reflectance -> vignetting, fall-off of light, flare -> lens -> sensor with noise -> white balance, matrix,
    tone -> 8 bits -> JPEG with halved colour -> read back

Everything lies in one plane, seen at a tilt. The truth is the site's: what the photo shows is one placement of it
(`skins.placed`) with mottling and fine structure whose median is nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from app.colour.chart_plane import UNITS_HIGH, UNITS_WIDE, patch_centre_units, project
from app.colour.difference import delta_e_00
from app.colour.pieces import Regions
from app.colour.spaces import ByteArray, FloatArray, lab_d65_from_reflectance, srgb_from_linear_rgb
from tests.bench import optics, skins
from tests.bench.optics import Camera
from tests.bench.shapes import Layout, laid_out
from tests.bench.skins import Site

Plane = NDArray[np.float32]
# JPEG quality of phones and of programs that send photos on.
QUALITY_LEAST, QUALITY_MOST = 80, 95
STEPS = 8191
# Patches are 2.5 wide of 2.75 (chart model of OpenCV 4).
PATCH_HALF_UNITS, CARD_MARGIN_UNITS = 1.25, 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Rendered:
    """A photo and what is true of it. Outlines as an artist draws them, off by up to 0.3 mm.

    lab_scar, lab_skin: of the site; shown_delta_e_00: of this placement. width_mm: the scar's, at its narrow side.
    """

    srgb8: ByteArray
    jpeg: bytes
    scar: Regions
    skin: Regions
    skin_class: str
    true_delta_e_00: float
    shown_delta_e_00: float
    lab_scar: FloatArray
    lab_skin: FloatArray
    width_mm: float
    area_mm2: float
    px_per_mm: float
    pitch_mm: float
    chart_corners: FloatArray
    light: str
    blur_px: float
    tilt_deg: float


@dataclass(frozen=True, slots=True)
class Look:
    """How a photo is taken: all drawn at random unless given."""

    width_px: int
    light: str
    tilt_deg: float
    blur_px: float
    fall_off: float
    vignette: float
    quality: int


def look_at_random(random: np.random.Generator, width_px: int | None = None) -> Look:
    wide = int(width_px or random.choice([1000, 1200, 1400, 1600]))
    return Look(
        width_px=wide,
        light=str(random.choice(optics.LIGHTS, p=[0.2, 0.1, 0.25, 0.05, 0.1, 0.15, 0.1, 0.05])),
        tilt_deg=float(random.triangular(0, 5, 25)),
        blur_px=float(random.triangular(0.5, 0.7, 1.6)) * wide / 1400,
        fall_off=float(random.triangular(0, 0.04, 0.22)),
        vignette=float(random.uniform(0, 0.15)),
        quality=int(random.integers(QUALITY_LEAST, QUALITY_MOST + 1)),
    )


def render(
    random: np.random.Generator,
    skin_class: str,
    true_delta: float,
    width_px: int | None = None,
    *,
    width_mm: float | None = None,
    look: Look | None = None,
) -> Rendered:
    """One photo of a scar on skin of a class that differs from it by exactly true_delta (CIEDE2000)."""
    look = look or look_at_random(random, width_px)
    site = skins.site_of(skin_class, true_delta, random)
    narrow = width_mm or float(np.exp(random.uniform(np.log(2), np.log(40))))
    layout = laid_out(random, look.width_px, look.tilt_deg, narrow)
    camera = optics.camera(look.light, random)
    shown = Site(skin_class, skins.placed(site.skin, random), skins.placed(site.scar, random), true_delta)
    raw = _scene(shown, layout, camera, random)
    srgb8, jpeg = _photographed(raw, camera, look, random)
    lab_skin, lab_scar, lab_shown_skin, lab_shown_scar = (
        lab_d65_from_reflectance(spectrum) for spectrum in (site.skin, site.scar, shown.skin, shown.scar)
    )
    return Rendered(
        srgb8=srgb8,
        jpeg=jpeg,
        scar=layout.drawn_scar,
        skin=layout.drawn_skin,
        skin_class=skin_class,
        true_delta_e_00=site.true_delta_e_00,
        shown_delta_e_00=float(delta_e_00(lab_shown_skin, lab_shown_scar)),
        lab_scar=lab_scar,
        lab_skin=lab_skin,
        width_mm=narrow,
        area_mm2=layout.area_mm2,
        px_per_mm=layout.px_per_mm,
        pitch_mm=layout.pitch_mm,
        chart_corners=layout.chart_corners,
        light=look.light,
        blur_px=look.blur_px,
        tilt_deg=look.tilt_deg,
    )


def _scene(site: Site, layout: Layout, camera: Camera, random: np.random.Generator) -> Plane:
    """Raw light (h, w, 3) of skin, scar and chart, white at 1, before the camera's own faults."""
    size = (layout.height_px, layout.width_px)
    cover = _cover(layout)
    scale = layout.px_per_mm
    smooth = 1 - float(random.uniform(0.0, 0.6)) * cover
    amount = random.uniform(0.5, 1.5)
    melanin = amount * (0.035 * _cloud(random, size, 3.0 * scale) + 0.02 * _cloud(random, size, 0.8 * scale)) * smooth
    blood = amount * (0.025 * _cloud(random, size, 4.0 * scale) + 0.015 * _cloud(random, size, 1.0 * scale)) * smooth
    grain = amount * 0.03 * _cloud(random, size, max(0.6, 0.15 * scale)) * smooth
    base_skin, base_scar = camera.raw(site.skin), camera.raw(site.scar)
    probe = 0.01
    to_melanin = (np.log(camera.raw(skins.moved(site.skin, probe))) - np.log(base_skin)) / probe
    to_blood = (np.log(camera.raw(skins.moved(site.skin, 0.0, probe))) - np.log(base_skin)) / probe
    raw = np.empty((*size, 3), dtype=np.float32)
    for channel in range(3):
        step = np.float32(np.log(base_scar[channel] / base_skin[channel]))
        field = cover * step + melanin * np.float32(to_melanin[channel]) + blood * np.float32(to_blood[channel])
        raw[..., channel] = cv2.exp(field + grain) * np.float32(base_skin[channel])
    _lay_chart(raw, layout, camera, random)
    return raw


def _cover(layout: Layout) -> Plane:
    """How much of each pixel is scar, 0 to 1, with the soft edge of the scar itself."""
    mask = np.zeros((layout.height_px, layout.width_px), dtype=np.uint8)
    for piece in layout.true_scar:
        cv2.fillPoly(mask, [np.rint(piece.outer * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    cover = mask.astype(np.float32) / np.float32(255)
    return np.asarray(cv2.GaussianBlur(cover, (0, 0), max(0.3, layout.soft_mm * layout.px_per_mm)), dtype=np.float32)


def _cloud(random: np.random.Generator, size: tuple[int, int], scale_px: float) -> Plane:
    """Smooth noise (h, w) with a standard deviation of 1, features about scale_px across."""
    every = max(1.0, scale_px / 2)
    small = (max(4, round(size[0] / every)), max(4, round(size[1] / every)))
    noise = random.standard_normal(small, dtype=np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), max(0.5, scale_px / every / 2))
    noise /= np.float32(noise.std())
    if small != size:
        noise = cv2.resize(noise, (size[1], size[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(noise, dtype=np.float32)


def _lay_chart(raw: Plane, layout: Layout, camera: Camera, random: np.random.Generator) -> None:
    m, half = CARD_MARGIN_UNITS, PATCH_HALF_UNITS
    card = np.array([[-m, -m], [UNITS_WIDE + m, -m], [UNITS_WIDE + m, UNITS_HIGH + m], [-m, UNITS_HIGH + m]])
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    colours = camera.raw(optics.printed_chart(random))
    black = camera.raw(np.full(36, optics.CARD_BLACK))
    patches = [(centre + square, colour) for centre, colour in zip(patch_centre_units(), colours, strict=True)]
    for corners, colour in [(card, black), *patches]:
        at = project(layout.photo_from_units, corners)
        cv2.fillConvexPoly(raw, np.rint(at * 16).astype(np.int32), [float(v) for v in colour], cv2.LINE_8, 4)


def _photographed(raw: Plane, camera: Camera, look: Look, random: np.random.Generator) -> tuple[ByteArray, bytes]:
    height, width = raw.shape[:2]
    seen = cv2.GaussianBlur(raw * _light(height, width, look, random)[..., None], (0, 0), look.blur_px)
    seen += (camera.flare * np.array(cv2.mean(seen)[:3])).astype(np.float32)
    noise = random.standard_normal(seen.shape, dtype=np.float32)
    # Shot noise grows with the root of the light; the camera's own smoothing leaves it a little soft.
    sigma = cv2.sqrt(seen / np.float32(camera.electrons) + np.float32((camera.read_noise / camera.electrons) ** 2))
    seen += cv2.GaussianBlur(noise, (0, 0), 0.6) * sigma
    linear = cv2.transform(seen, camera.matrix.astype(np.float32))
    stored = _tone(camera.contrast)[np.clip(linear * np.float32(STEPS), 0, STEPS).astype(np.uint16)]
    halved = [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420]
    written, data = cv2.imencode(
        ".jpg", cv2.cvtColor(stored, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, look.quality, *halved]
    )
    if not written:
        raise ValueError("The render could not be written as JPEG.")
    read_back = cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
    return np.asarray(read_back, dtype=np.uint8), data.tobytes()


def _light(height: int, width: int, look: Look, random: np.random.Generator) -> Plane:
    """Light (h, w): a fall-off along one direction over the picture's long side, and darker corners."""
    x = np.linspace(-0.5, 0.5, width, dtype=np.float32)[None, :]
    y = (np.linspace(-0.5, 0.5, height, dtype=np.float32) * np.float32(height / width))[:, None]
    turn = random.uniform(0, 2 * np.pi)
    along = np.float32(np.cos(turn)) * x + np.float32(np.sin(turn)) * y
    corner = np.float32(0.25 * (1 + (height / width) ** 2))
    return np.asarray(
        (1 + np.float32(look.fall_off) * along) * (1 - np.float32(look.vignette) * (x**2 + y**2) / corner), np.float32
    )


def _tone(contrast: float) -> ByteArray:
    """8-bit value of each step of linear light: the sRGB curve with a gentle S laid over it."""
    encoded = srgb_from_linear_rgb(np.arange(STEPS + 1) / STEPS)
    curved = encoded + contrast * encoded * (1 - encoded) * (2 * encoded - 1)
    return np.asarray(np.rint(np.clip(curved, 0, 1) * 255), dtype=np.uint8)
