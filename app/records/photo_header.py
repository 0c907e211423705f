"""What a photo file says of itself before its pixels are used: its upright size, its camera, and its day."""

import io
import warnings
from dataclasses import dataclass
from datetime import date, datetime

from PIL import Image

from app.platform.images import FORMATS, NotAPhoto, look

# Cameras whose clock was never set say 1970 or 2000: such a date says nothing.
FIRST_YEAR = 2005
ORIENTATION, TAKEN, CHANGED, EXIF, MAKER, MODEL = 274, 36867, 306, 0x8769, 271, 272
LYING = (5, 6, 7, 8)  # EXIF orientations that stand on their side


@dataclass(frozen=True)
class Header:
    """Width and height of the upright picture in px; the day its camera wrote, if it wrote one."""

    width: int
    height: int
    camera: str
    taken_on: date | None


def read_header(content: bytes) -> Header:
    """Reads the header and makes sure that the file is whole.

    Raises NotAPhoto, with a sentence for who sent it, for anything but a whole JPEG or PNG of at most 50 megapixels.
    """
    kind, width, height = look(content)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                # A PNG may carry its EXIF behind the pixels, which are not opened for it: the examination does.
                exif = image.getexif() if kind == "JPEG" or "exif" in image.info else Image.Exif()
                words = " ".join(str(exif.get(tag, "")).strip("\x00 ") for tag in (MAKER, MODEL)).strip()
                taken = _day(str(exif.get_ifd(EXIF).get(TAKEN) or exif.get(CHANGED) or ""))
                lying = exif.get(ORIENTATION) in LYING
                if kind == "JPEG":  # decoded at an eighth of its size: quick, and it reaches the end of the file
                    image.draft("RGB", (max(1, width // 8), max(1, height // 8)))
                    image.load()
            if kind == "PNG":
                with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                    image.verify()  # sums each chunk, to the last
    except Exception as error:
        raise NotAPhoto("The photo is cut short or damaged. Send it again.") from error
    if lying:
        width, height = height, width
    return Header(width, height, "".join(c for c in words if c.isprintable())[:120], taken)


def _day(text: str) -> date | None:
    try:
        return datetime.strptime(text.strip("\x00 "), "%Y:%m:%d %H:%M:%S").date()
    except ValueError:
        return None


def sensible_day(header: Header, today: date) -> date | None:
    """The camera's day, unless it lies ahead or comes from a clock that was never set."""
    day = header.taken_on
    return day if day is not None and day.year >= FIRST_YEAR and day <= today else None
