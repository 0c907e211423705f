"""Embedded profiles against littleCMS itself, asked directly in doubles and without its shortcuts; the profiles are
made by littleCMS, too. Code points and gAMA, which become profiles of ours, against colour-science.
"""

import ctypes
import ctypes.util
import io
import struct
import zlib
from functools import cache
from pathlib import Path
from typing import Any

import colour
import numpy as np
import PIL
import pytest
from numpy.typing import NDArray
from PIL import Image

from app.platform.images import decode

Bytes = NDArray[np.uint8]
Doubles = NDArray[np.float64]
RELATIVE, BLACK_POINT, NO_SHORTCUTS = 1, 0x2000, 0x0100  # lcms2.h
RGB_DOUBLES = 1 << 22 | 4 << 16 | 3 << 3  # TYPE_RGB_DBL
GREY_DOUBLES = 1 << 22 | 3 << 16 | 1 << 3  # TYPE_GRAY_DBL
CMYK_DOUBLES = 1 << 22 | 6 << 16 | 4 << 3  # TYPE_CMYK_DBL, 0 to 100
D65 = (0.3127, 0.3290, 1.0)


@cache
def lcms() -> ctypes.CDLL:
    """littleCMS: the library that Pillow brings, or the system's."""
    beside = [*Path(PIL.__file__).parent.parent.glob("pillow.libs/liblcms2*"),
              *Path(PIL.__file__).parent.glob(".dylibs/liblcms2*")]  # fmt: skip
    library = ctypes.CDLL(str(beside[0]) if beside else ctypes.util.find_library("lcms2"))
    for name in ("CreateRGBProfile", "CreateGrayProfile", "BuildGamma", "BuildParametricToneCurve",
                 "OpenProfileFromMem", "Create_sRGBProfile", "CreateTransform", "CreateProfilePlaceholder",
                 "PipelineAlloc", "StageAllocCLut16bit"):  # fmt: skip
        getattr(library, f"cms{name}").restype = ctypes.c_void_p
    return library


def pointer(value: Any) -> ctypes.c_void_p:
    return ctypes.c_void_p(value)


def saved(profile: Any) -> bytes:
    size = ctypes.c_uint32(0)
    assert lcms().cmsSaveProfileToMem(pointer(profile), None, ctypes.byref(size))
    out = ctypes.create_string_buffer(size.value)
    assert lcms().cmsSaveProfileToMem(pointer(profile), out, ctypes.byref(size))
    return out.raw


def curve(gamma: float | None) -> Any:
    """A power, or the sRGB curve (parametric curve 4 of littleCMS)."""
    if gamma is not None:
        return lcms().cmsBuildGamma(None, ctypes.c_double(gamma))
    numbers = (ctypes.c_double * 5)(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    return lcms().cmsBuildParametricToneCurve(None, 4, numbers)


def rgb_profile(primaries: tuple[tuple[float, float], ...], gamma: float | None) -> bytes:
    white = (ctypes.c_double * 3)(*D65)
    corners = (ctypes.c_double * 9)(*(value for x, y in primaries for value in (x, y, 1.0)))
    curves = (ctypes.c_void_p * 3)(*[curve(gamma)] * 3)
    return saved(lcms().cmsCreateRGBProfile(white, corners, curves))


def grey_profile(gamma: float) -> bytes:
    return saved(lcms().cmsCreateGrayProfile((ctypes.c_double * 3)(*D65), pointer(curve(gamma))))


def cmyk_profile() -> bytes:
    """Inks of our own making: each takes its part of the light; a table from CMYK to Lab as a press profile has."""
    library, steps = lcms(), np.linspace(0, 1, 9)
    c, m, y, k = np.meshgrid(steps, steps, steps, steps, indexing="ij")
    light = (1 - 0.93 * k) * np.array([1 - 0.8 * c, 1 - 0.75 * m, 1 - 0.85 * y])
    lab = np.stack([100 * light.mean(0) ** 0.8, 70 * (light[0] - light[1]), 70 * (light[1] - light[2])], -1)
    coded = np.stack([lab[..., 0] * 652.8, (lab[..., 1] + 128) * 256, (lab[..., 2] + 128) * 256], -1)  # ICC version 2
    table = np.ascontiguousarray(coded.clip(0, 65280).round().astype(np.uint16))
    profile, lut = library.cmsCreateProfilePlaceholder(None), library.cmsPipelineAlloc(None, 4, 3)
    stage = library.cmsStageAllocCLut16bit(None, 9, 4, 3, table.ctypes.data_as(ctypes.c_void_p))
    library.cmsPipelineInsertStage(pointer(lut), 1, pointer(stage))
    library.cmsSetProfileVersion(pointer(profile), ctypes.c_double(2.4))
    for set_, signature in (("SetDeviceClass", b"prtr"), ("SetColorSpace", b"CMYK"), ("SetPCS", b"Lab ")):
        getattr(library, f"cms{set_}")(pointer(profile), int.from_bytes(signature, "big"))
    assert library.cmsWriteTag(pointer(profile), int.from_bytes(b"A2B0", "big"), pointer(lut))
    return saved(profile)


def directly(values: Doubles, profile: bytes, layout: int) -> Doubles:
    """What littleCMS makes of them: sRGB, 0 to 255, unrounded."""
    library = lcms()
    source = library.cmsOpenProfileFromMem(profile, len(profile))
    flags = BLACK_POINT | NO_SHORTCUTS
    transform = library.cmsCreateTransform(pointer(source), layout, pointer(library.cmsCreate_sRGBProfile()),
                                           RGB_DOUBLES, RELATIVE, flags)  # fmt: skip
    given = np.ascontiguousarray(values)
    out = np.zeros((len(given), 3))
    library.cmsDoTransform(pointer(transform), given.ctypes.data_as(ctypes.c_void_p),
                           out.ctypes.data_as(ctypes.c_void_p), len(given))  # fmt: skip
    return out.clip(0, 1) * 255


def colours() -> Bytes:
    """A grid of the whole cube and many skin-like colours between: 64 by 64."""
    grid = np.stack(np.meshgrid(*[np.linspace(0, 255, 12)] * 3), -1).reshape(-1, 3)
    chance = np.random.default_rng(4)
    skins = np.array([190, 150, 120]) + chance.normal(0, 30, (4096 - len(grid), 3))
    return np.concatenate([grid, skins]).clip(0, 255).round().astype(np.uint8).reshape(64, 64, 3)


def png(pixels: Bytes, *chunks: tuple[bytes, bytes], **more: Any) -> bytes:
    """A PNG with more chunks before its pixels."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", **more)
    plain = out.getvalue()
    inserted = b"".join(struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
                        for kind, body in chunks)  # fmt: skip
    return plain[:33] + inserted + plain[33:]


DISPLAY_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
ADOBE_RGB = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))


@pytest.mark.parametrize(("primaries", "gamma"), [(DISPLAY_P3, None), (ADOBE_RGB, 563 / 256), (ADOBE_RGB, 1.0)])
def test_a_wide_profile_is_honoured_as_littlecms_does(
    primaries: tuple[tuple[float, float], ...], gamma: float | None
) -> None:
    pixels, profile = colours(), rgb_profile(primaries, gamma)
    seen = decode(png(pixels, icc_profile=profile)).srgb8.reshape(-1, 3)
    expected = directly(pixels.reshape(-1, 3) / 255, profile, RGB_DOUBLES)
    apart = np.abs(seen - expected)
    assert apart.max() < 1.6, "a code and the rounding"
    assert apart.mean() < 0.4
    assert np.abs(seen.astype(int) - pixels.reshape(-1, 3)).max() > 20, "it is no sRGB"


def test_a_grey_profile_is_honoured_as_littlecms_does() -> None:
    pixels, profile = np.tile(np.arange(256, dtype=np.uint8), (16, 1)), grey_profile(1.8)
    seen = decode(png(pixels, icc_profile=profile)).srgb8[0]
    assert np.abs(seen - directly(np.arange(256)[:, None] / 255, profile, GREY_DOUBLES)).max() < 1.6


def test_inks_are_honoured_as_littlecms_does() -> None:
    inks = np.random.default_rng(6).integers(0, 256, (8, 8, 4), dtype=np.uint8)
    profile, out = cmyk_profile(), io.BytesIO()
    large = Image.fromarray(inks.repeat(16, 0).repeat(16, 1), mode="CMYK")
    large.save(out, "JPEG", quality=100, icc_profile=profile)
    seen = decode(out.getvalue()).srgb8[8::16, 8::16].reshape(-1, 3)
    expected = directly(inks.reshape(-1, 4) / 255 * 100, profile, CMYK_DOUBLES)
    assert np.abs(seen - expected).max() < 3.5, "JPEG rounds the inks once more"


@pytest.mark.parametrize(("number", "name"), [(12, "Display P3"), (9, "ITU-R BT.2020")])
def test_code_points_are_read_as_their_colour_space(number: int, name: str) -> None:
    pixels = colours()
    seen = decode(png(pixels, (b"cICP", bytes([number, 13, 0, 1])))).srgb8.reshape(-1, 3)
    linear = colour.models.eotf_sRGB(pixels.reshape(-1, 3) / 255)
    turned = colour.RGB_to_RGB(linear, colour.RGB_COLOURSPACES[name], colour.RGB_COLOURSPACES["sRGB"], "Bradford")
    expected = colour.models.eotf_inverse_sRGB(np.clip(turned, 0, 1)) * 255
    assert np.abs(seen - expected).max() < 1.6


def test_the_gamma_of_a_png_is_undone() -> None:
    pixels = colours()
    seen = decode(png(pixels, (b"gAMA", struct.pack(">I", 100_000)))).srgb8.reshape(-1, 3)
    expected = colour.models.eotf_inverse_sRGB(pixels.reshape(-1, 3) / 255) * 255
    assert np.abs(seen - expected).max() < 1.6
    for ordinary in ((b"gAMA", struct.pack(">I", 45_455)), (b"sRGB", b"\0")):
        assert np.array_equal(decode(png(pixels, ordinary)).srgb8, pixels)
