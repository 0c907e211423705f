"""Photos in and out: decoded within bounds, one at a time, and shown only as pixels that we encoded ourselves."""

import io
import threading
import warnings
from dataclasses import dataclass
from datetime import datetime

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image

from app.platform import image_boxes
from app.platform.image_boxes import Contents
from app.platform.image_colour import ColourSpace, colour_space_of, to_srgb

MAX_PIXELS = 50_000_000
# What cameras and phones write. A JPEG with more pictures behind it (MPO) counts as JPEG: its first is the photo.
FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")
DISPLAY_EDGE = 1600
THUMB_EDGE = 320
ORIENTATION, EXIF = 274, 0x8769
# EXIF's orientations and what turns them upright. HEIC and AVIF turn by their own boxes, which their readers see to.
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
LYING = (5, 6, 7, 8)  # those that change width and height for each other
GROUND = (119, 119, 119)  # what shows behind transparent pixels: middle grey, which is neither scar nor skin
Image.MAX_IMAGE_PIXELS = MAX_PIXELS
# Thumbnails, depth maps and gain maps inside the file are left alone: the picture itself is what was photographed.
pillow_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False, decode_threads=2)
_one_at_a_time = threading.Semaphore(1)  # a 50 megapixel photo takes several hundred megabytes while it is open

NOT_READ = "This is not a photo that can be read. Send it as JPEG, PNG, WebP, HEIC or AVIF."
TOO_LARGE = "The photo has more than 50 megapixels. Send a smaller one."
CUT_SHORT = "The photo is cut short or damaged. Send it again."
HIGH_RANGE = "This photo is stored in high dynamic range only, which cannot be measured. Send it as JPEG or HEIC."
# Files that people take for photos, by how they begin; brands of ISO files stand behind their first eight bytes.
KNOWN = (
    (0, (b"%PDF-",), "This is a PDF, not a photo. Send the photo itself."),
    (0, (b"GIF8",), "This is a GIF, which has too few colours to measure. Send the photo as JPEG, PNG, WebP or HEIC."),
    (0, (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"),
     "This is a TIFF or a camera’s raw file. Send the photo as JPEG, PNG, WebP, HEIC or AVIF."),
    (4, (b"ftypcrx ",), "This is a camera’s raw file. Send the photo as JPEG, PNG, WebP, HEIC or AVIF."),
    (4, (b"ftypqt", b"ftypmp4", b"ftypisom", b"ftypM4V", b"ftyp3g"), "This is a film, not a photo. Send a photo."),
    (0, (b"\0\0\0\x0cJXL ", b"\xff\x0a"), "This is JPEG XL, which is not read yet. Send the photo as JPEG or PNG."),
)  # fmt: skip


class NotAPhoto(ValueError):
    """A file that cannot be read as a photo, with the reason in words for who sent it."""


@dataclass(frozen=True)
class Decoded:
    """An upright sRGB image: `srgb8` (h, w, 3) uint8; when the camera says it was taken, if it says so."""

    srgb8: NDArray[np.uint8]
    taken_at: datetime | None
    camera: str


def look(content: bytes) -> tuple[str, int, int]:
    """Format and size from the header alone, refused when it is no photo we take. Its name and type say nothing."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                size = image.size
                kind = image.format or ""
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise NotAPhoto(TOO_LARGE) from error
    except Exception as error:
        raise NotAPhoto(_why_not(content)) from error
    if size[0] * size[1] > MAX_PIXELS:
        raise NotAPhoto(TOO_LARGE)
    if min(size) < 16:
        raise NotAPhoto("The photo is too small to show anything.")
    return "JPEG" if kind == "MPO" else kind, size[0], size[1]


def _why_not(content: bytes) -> str:
    for at, beginnings, words in KNOWN:
        if content[at:].startswith(beginnings):
            return words
    begins = content[:12]
    if begins.startswith((b"\xff\xd8\xff", image_boxes.PNG_BEGINS)) or begins[:4] + begins[8:] == b"RIFFWEBP":
        return CUT_SHORT
    if begins[4:8] == b"ftyp":
        return "This HEIC or AVIF photo is cut short, or of a kind that cannot be read. Send it again, or as JPEG."
    return NOT_READ


def contents_of(content: bytes, kind: str) -> Contents:
    """Depth and code points of a photo that was looked at; raises NotAPhoto when its container is broken."""
    try:
        return image_boxes.read_contents(content, kind)
    except image_boxes.Broken as error:
        raise NotAPhoto(CUT_SHORT) from error


def space_of(image: Image.Image, contents: Contents, kind: str) -> ColourSpace:
    """What its numbers mean; raises NotAPhoto for high dynamic range alone."""
    space = colour_space_of(image.info, contents.code_points, kind)
    if space.is_high_range:
        raise NotAPhoto(HIGH_RANGE)
    return space


def check_whole(content: bytes, kind: str) -> None:
    """Makes sure that the file is whole, without opening more of it than must be. Raises NotAPhoto."""
    try:
        image_boxes.check_whole(content, kind)
        if kind == "JPEG":  # decoded at an eighth of its size: quick, and it reaches the end of the file
            with _one_at_a_time, Image.open(io.BytesIO(content), formats=FORMATS) as image:
                image.draft("RGB", (max(1, image.width // 8), max(1, image.height // 8)))
                image.load()
        elif kind == "PNG":
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                image.verify()  # sums each chunk, to the last
    except Exception as error:
        raise NotAPhoto(CUT_SHORT) from error


def _eight_bits(deep: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """Rounded, in strips: 50 megapixels of three channels would not fit comfortably in wider numbers."""
    out = np.empty(deep.shape, np.uint8)
    for top in range(0, len(deep), 256):
        strip = deep[top : top + 256].astype(np.uint32)
        out[top : top + 256] = (strip * 255 + 32767) // 65535
    return out


def _deep_png(content: bytes) -> Image.Image:
    """A PNG of 16 bits a channel at its true lightness: Pillow cuts colour to the upper half of each number."""
    read = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_UNCHANGED)
    if read is None or read.dtype != np.uint16:
        raise NotAPhoto(CUT_SHORT)
    eight = _eight_bits(read)
    if eight.ndim == 2:
        return Image.fromarray(eight)
    order = cv2.COLOR_BGRA2RGBA if eight.shape[2] == 4 else cv2.COLOR_BGR2RGB
    return Image.fromarray(cv2.cvtColor(eight, order))


def _in_colour(image: Image.Image, profile: bytes) -> Image.Image:
    """sRGB through the profile; what is transparent shows middle grey."""
    if image.mode == "P" or ("transparency" in image.info and image.mode in ("L", "RGB")):
        image = image.convert("RGBA" if "transparency" in image.info else "RGB")
    elif image.mode in ("1", "La", "RGBa", "PA", "YCbCr", "LAB", "HSV"):
        image = image.convert({"1": "L", "La": "LA", "RGBa": "RGBA", "PA": "RGBA"}.get(image.mode, "RGB"))
    if image.mode not in ("LA", "RGBA"):
        return to_srgb(image, profile)
    alpha = image.getchannel("A")
    coloured = to_srgb(image.convert(image.mode[:-1]), profile)
    ground = Image.new("RGB", coloured.size, GROUND)
    ground.paste(coloured, mask=alpha)
    return ground


def _open(content: bytes, kind: str, contents: Contents) -> tuple[Image.Image, Image.Exif]:
    """The first picture of the file, upright and in sRGB, and what its camera wrote."""
    with Image.open(io.BytesIO(content), formats=FORMATS) as image:
        image.load()
        exif = exif_of(image)
        space = space_of(image, contents, kind)
        picture = _deep_png(content) if kind == "PNG" and contents.bits == 16 else image
        turn = TURNS.get(exif.get(ORIENTATION, 1))
        return _in_colour(picture if turn is None else picture.transpose(turn), space.profile), exif


def decode(content: bytes) -> Decoded:
    """The photo's pixels, upright, in sRGB.

    Raises NotAPhoto for anything that is not a whole photo of at most 50 megapixels in one of our formats.
    """
    kind, _, _ = look(content)
    contents = contents_of(content, kind)
    with _one_at_a_time:
        try:
            upright, exif = _open(content, kind, contents)
        except NotAPhoto:
            raise
        except Exception as error:
            raise NotAPhoto(CUT_SHORT) from error
        if upright.width * upright.height > MAX_PIXELS:  # a container may promise less than its picture holds
            raise NotAPhoto(TOO_LARGE)
        srgb8 = np.asarray(upright)
    return Decoded(srgb8, taken_by(exif), camera_of(exif))


def exif_of(image: Image.Image) -> Image.Exif:
    """What the camera wrote; nothing where it cannot be read."""
    try:
        return image.getexif()
    except Exception:  # a broken note about a photo is no reason to refuse the photo
        return Image.Exif()


def camera_of(exif: Image.Exif) -> str:
    """Maker and model, as the camera calls itself."""
    words = " ".join(str(exif.get(tag, "")).strip("\x00 ") for tag in (271, 272)).strip()
    return "".join(sign for sign in words if sign.isprintable())[:120]


def taken_by(exif: Image.Exif) -> datetime | None:
    """The moment of the shot by the camera's own clock, which knows no time zone."""
    try:
        text = str(exif.get_ifd(EXIF).get(36867) or exif.get(306) or "")
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
