"""Which colours the numbers of a picture mean, and the way from there to sRGB, by littleCMS.

An embedded profile is honoured; so are code points (HEIC, AVIF and the cICP chunk of PNG) and gAMA with cHRM of a PNG
that says neither, from which a profile is made. Whatever says nothing is taken as sRGB, as is common practice. The
conversion is relative colorimetric with black point compensation: white stays white, colours inside sRGB stay what they
are, and those outside are clipped.
"""

import io
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from PIL import Image, ImageCms

from app.platform.image_boxes import CodePoints

D65 = (0.3127, 0.3290)
# ITU-T H.273, table 2: red, green, blue and white as CIE 1931 x, y.
PRIMARIES: dict[int, tuple[str, tuple[tuple[float, float], ...]]] = {
    1: ("sRGB", ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060), D65)),
    5: ("BT.601, 625 lines", ((0.640, 0.330), (0.290, 0.600), (0.150, 0.060), D65)),
    6: ("BT.601, 525 lines", ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070), D65)),
    7: ("SMPTE 240", ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070), D65)),
    9: ("BT.2020", ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046), D65)),
    12: ("Display P3", ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), D65)),
}
GAMMAS = {4: 2.2, 5: 2.8, 8: 1.0}  # H.273, table 3: the transfers that are a power
HIGH_RANGE = (16, 18)  # PQ and HLG: numbers that mean light far above white, which no printed chart can calibrate
SRGB_GAMMA = 0.45455  # a PNG's gAMA of an ordinary picture
D50 = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2022, 7.2.16: the white of the connection space
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
# IEC 61966-2-1, as the parametric curve of ICC.1:2022, 10.18, function type 3: g, a, b, c, d.
SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
GIVEN_UP = "a profile that cannot be read, taken as sRGB"


@dataclass(frozen=True)
class ColourSpace:
    """What the numbers mean: its name, the profile that says so (empty: sRGB), and whether it is high dynamic range."""

    name: str
    profile: bytes = b""
    is_high_range: bool = False


def colour_space_of(info: Mapping[Any, Any], points: CodePoints | None, kind: str) -> ColourSpace:
    """The colour space of an opened picture, from Pillow's `info` and the code points of its container."""
    profile = info.get("icc_profile") or b""
    if profile and not (kind == "PNG" and points is not None):
        return ColourSpace(_name_of(profile), profile)
    if points is not None:
        return _of_code_points(points)
    if kind == "PNG" and "srgb" not in info and ("gamma" in info or "chromaticity" in info):
        return _of_png_gamma(info.get("gamma"), info.get("chromaticity"))
    return ColourSpace("sRGB" if "srgb" in info else "not said, taken as sRGB")


def _name_of(profile: bytes) -> str:
    try:
        name = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return GIVEN_UP
    return "".join(sign for sign in name if sign.isprintable()).strip()[:60] or "a profile without a name"


def _of_code_points(points: CodePoints) -> ColourSpace:
    name, primaries = PRIMARIES.get(points.primaries, PRIMARIES[1])
    if points.transfer in HIGH_RANGE:
        return ColourSpace(f"{name}, high dynamic range", is_high_range=True)
    gamma = GAMMAS.get(points.transfer)
    if gamma is None:  # the camera curves of television are shown with the sRGB curve, as is common practice
        return ColourSpace(name, b"" if primaries is PRIMARIES[1][1] else matrix_profile(primaries, name))
    return ColourSpace(f"{name}, gamma {gamma}", matrix_profile(primaries, name, gamma))


def _of_png_gamma(gamma: Any, chromaticity: Any) -> ColourSpace:
    """gAMA is the encoding exponent; its inverse decodes. cHRM alone is read with the sRGB curve."""
    primaries = PRIMARIES[1][1]
    if isinstance(chromaticity, tuple) and len(chromaticity) == 8:
        white, *colours = zip(chromaticity[::2], chromaticity[1::2], strict=True)
        primaries = (*colours, white)
    decoding = None
    if isinstance(gamma, float) and 0.1 <= gamma <= 10 and abs(gamma / SRGB_GAMMA - 1) > 0.02:
        decoding = 1 / gamma
    try:
        is_ordinary = np.allclose(primaries, PRIMARIES[1][1], atol=0.002)
        if is_ordinary and decoding is None:
            return ColourSpace("sRGB by gAMA")
        return ColourSpace("by gAMA and cHRM", matrix_profile(primaries, "gAMA and cHRM", decoding))
    except (np.linalg.LinAlgError, struct.error, ZeroDivisionError, ValueError):
        return ColourSpace("gAMA and cHRM that make no sense, taken as sRGB")


def matrix_profile(primaries: tuple[tuple[float, float], ...], name: str, gamma: float | None = None) -> bytes:
    """An ICC profile (version 4, matrix and curves) from the x, y of red, green, blue and white; `gamma` None: the
    sRGB curve.

    The matrix is that of RP 177 (the sum of the colours is the white), adapted to D50 by Bradford's transform.
    """
    xyz = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries])
    matrix = xyz[:3].T * np.linalg.solve(xyz[:3].T, xyz[3])
    cones = (BRADFORD @ D50) / (BRADFORD @ xyz[3])
    adapted = np.linalg.inv(BRADFORD) @ np.diag(cones) @ BRADFORD
    matrix = adapted @ matrix
    curve = _curve((gamma,) if gamma else SRGB_CURVE, 0 if gamma else 3)
    tags = {
        b"desc": _words(name),
        b"cprt": _words("none"),
        b"wtpt": _xyz(D50),
        b"chad": b"sf32\0\0\0\0" + _fixed(*adapted.ravel()),
        **{tag: _xyz(matrix[:, column]) for column, tag in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))},
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    return _profile(tags)


def _fixed(*values: float) -> bytes:
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def _xyz(values: Any) -> bytes:
    return b"XYZ \0\0\0\0" + _fixed(*values)


def _curve(parameters: tuple[float, ...], function: int) -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", function, 0) + _fixed(*parameters)


def _words(text: str) -> bytes:
    coded = text.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"GB", len(coded), 28) + coded


def _profile(tags: Mapping[bytes, bytes]) -> bytes:
    """Head, table of tags and tags of a display profile (ICC.1:2022, 7.2 and 7.3)."""
    table, bodies, at = b"", b"", 128 + 4 + 12 * len(tags)
    for tag, body in tags.items():
        padded = body + b"\0" * (-len(body) % 4)
        table += struct.pack(">4sII", tag, at, len(body))
        bodies, at = bodies + padded, at + len(padded)
    head = struct.pack(">I4s4s4s4s4s", at, b"\0" * 4, b"\x04\x40\0\0", b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H4s", 2026, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 24 + struct.pack(">I", 1)  # 1: relative
    head += b"\0" * (68 - len(head)) + _fixed(*D50)
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + bodies


def to_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    """The picture (L, RGB or CMYK) as sRGB through its profile; one that cannot be read is as good as none.

    An RGB picture is changed in place, so that a large one is never held twice.
    """
    if not profile:
        return _as_rgb(image)
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if image.mode == "L" and source.profile.xcolor_space.strip() == "RGB":
            image = _as_rgb(image)
        transform = ImageCms.buildTransform(
            source, ImageCms.createProfile("sRGB"), image.mode, "RGB",
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC, flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )  # fmt: skip
        changed = ImageCms.applyTransform(image, transform, inPlace=image.mode == "RGB")
        return changed or image
    except (ImageCms.PyCMSError, OSError, ValueError):
        return _as_rgb(image)


def _as_rgb(image: Image.Image) -> Image.Image:
    return image if image.mode == "RGB" else image.convert("RGB")
