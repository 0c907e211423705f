"""Photos in and out: decoded within bounds, one at a time, and shown only as pixels that we encoded ourselves."""

import io
import threading
import warnings
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

MAX_PIXELS = 50_000_000
FORMATS = ("JPEG", "PNG")
DISPLAY_EDGE = 1600
THUMB_EDGE = 320
Image.MAX_IMAGE_PIXELS = MAX_PIXELS
_one_at_a_time = threading.Semaphore(1)  # a 50 megapixel photo takes several hundred megabytes while it is open


class NotAPhoto(ValueError):
    """A file that cannot be read as a photo, with the reason in words for who sent it."""


@dataclass(frozen=True)
class Decoded:
    """An upright sRGB image: `srgb8` (h, w, 3) uint8; when the camera says it was taken, if it says so."""

    srgb8: NDArray[np.uint8]
    taken_at: datetime | None
    camera: str


def look(content: bytes) -> tuple[str, int, int]:
    """Format and size from the header alone, refused when it is no photo we take."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                size = image.size
                kind = image.format or ""
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise NotAPhoto("The photo has more than 50 megapixels. Send a smaller one.") from error
    except Exception as error:
        raise NotAPhoto("This is not a JPEG or PNG photo that can be read. Send the photo as JPEG or PNG.") from error
    if size[0] * size[1] > MAX_PIXELS:
        raise NotAPhoto("The photo has more than 50 megapixels. Send a smaller one.")
    if min(size) < 16:
        raise NotAPhoto("The photo is too small to show anything.")
    return kind, size[0], size[1]


def _upright(image: Image.Image) -> Image.Image:
    profile = image.info.get("icc_profile")
    turned = ImageOps.exif_transpose(image)
    if turned.mode in ("I;16", "I;16B", "I"):
        turned = Image.fromarray((np.asarray(turned).astype(np.float64) / 257).clip(0, 255).astype(np.uint8))
    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        ground = Image.new("RGBA", turned.size, (119, 119, 119, 255))
        turned = Image.alpha_composite(ground, turned.convert("RGBA")).convert("RGB")
    if profile and turned.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            changed = ImageCms.profileToProfile(turned, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
            turned = changed or turned
        except (ImageCms.PyCMSError, OSError):
            pass  # a profile that cannot be read is as good as none: the pixels are taken as sRGB
    return turned.convert("RGB")


def decode(content: bytes) -> Decoded:
    """The photo's pixels, upright, in sRGB.

    Raises NotAPhoto for anything that is not a whole JPEG or PNG of at most 50 megapixels.
    """
    look(content)
    with _one_at_a_time:
        try:
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                exif = image.getexif()
                image.load()
                upright = _upright(image)
        except NotAPhoto:
            raise
        except Exception as error:
            raise NotAPhoto("The photo is cut short or damaged. Send it again.") from error
    camera = " ".join(str(exif.get(tag, "")).strip("\x00 ") for tag in (271, 272)).strip()[:120]
    return Decoded(np.asarray(upright), _taken(exif), "".join(c for c in camera if c.isprintable()))


def _taken(exif: Image.Exif) -> datetime | None:
    text = str(exif.get_ifd(0x8769).get(36867) or exif.get(306) or "")
    try:
        return datetime.strptime(text.strip("\x00 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def encode_jpeg(srgb8: NDArray[np.uint8], edge: int, quality: int = 88) -> bytes:
    """Those pixels and nothing else as a JPEG whose longer edge is at most `edge`."""
    image = Image.fromarray(srgb8)
    image.thumbnail((edge, edge), Image.Resampling.LANCZOS)
    image.info.clear()
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def encode_signature(content: bytes) -> bytes:
    """A drawn signature as a small clean PNG."""
    kind, width, height = look(content)
    if kind != "PNG" or width * height > 4_000_000:
        raise NotAPhoto("The signature could not be read. Draw it again, or type your name.")
    with Image.open(io.BytesIO(content), formats=("PNG",)) as image:
        flat = Image.alpha_composite(
            Image.new("RGBA", image.size, (255, 255, 255, 255)), image.convert("RGBA")
        ).convert("L")
    out = io.BytesIO()
    flat.info.clear()
    flat.save(out, "PNG")
    return out.getvalue()
