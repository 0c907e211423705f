"""What a photo file says of itself before its pixels are used: its upright size, its camera, and when it was taken.

Of what a camera writes, only what bears on colour and sharpness is kept, for comparing photos and noticing drift.
Place, serial numbers, the owner's name, comments and makers' notes are never read.
"""

import io
import warnings
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

from PIL import Image

from app.platform.audit import canonical
from app.platform.image_boxes import Contents
from app.platform.images import (
    CUT_SHORT,
    EXIF,
    FORMATS,
    LYING,
    ORIENTATION,
    NotAPhoto,
    camera_of,
    check_whole,
    contents_of,
    exif_of,
    look,
    space_of,
    taken_by,
)

# Cameras whose clock was never set say 1970 or 2000: such a date says nothing.
FIRST_YEAR = 2005
MAKER, MODEL, SOFTWARE, LENS = 271, 272, 305, 42036
EXPOSURE_S, F_NUMBER, ISO, BIAS, FLASH, FOCAL_MM, BALANCE, FOCAL_35 = (
    33434, 33437, 34855, 37380, 37385, 37386, 41987, 41989,
)  # fmt: skip
OFFSETS = (36881, 36880)  # how far the camera's clock is from UTC: for the shot, else for the file


@dataclass(frozen=True)
class CameraFacts:
    """What the camera wrote of how the photo was taken; None or empty where it wrote nothing."""

    make: str = ""
    model: str = ""
    lens: str = ""
    software: str = ""
    exposure_s: float | None = None
    f_number: float | None = None
    iso: int | None = None
    exposure_bias: float | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    flash: bool | None = None
    white_balance: str = ""  # auto, manual
    colour_space: str = ""
    format: str = ""
    bits: int | None = None

    def text(self) -> str:
        """Canonical JSON of what is known."""
        return canonical({name: value for name, value in asdict(self).items() if value not in (None, "")})


@dataclass(frozen=True)
class Header:
    """Width and height of the upright picture in px; the day and moment its camera wrote, if it wrote them."""

    width: int
    height: int
    camera: str
    taken_on: date | None
    taken_local: datetime | None = None  # by the camera's own clock
    offset: timedelta | None = None  # of that clock from UTC, where the camera says it
    facts: CameraFacts = field(default_factory=CameraFacts)


def read_header(content: bytes) -> Header:
    """Reads the header and makes sure that the file is whole.

    Raises NotAPhoto, with a sentence for who sent it, for anything but a whole photo of at most 50 megapixels.
    """
    kind, width, height = look(content)
    contents = contents_of(content, kind)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=FORMATS) as image:
                space = space_of(image, contents, kind)
                # A PNG may carry its EXIF behind the pixels, which are not opened for it: the examination does.
                exif = exif_of(image) if kind != "PNG" or "exif" in image.info else Image.Exif()
                bits = _bits(image, contents)
            check_whole(content, kind)
    except NotAPhoto:
        raise
    except Exception as error:
        raise NotAPhoto(CUT_SHORT) from error
    if exif.get(ORIENTATION) in LYING:
        width, height = height, width
    taken = taken_by(exif)
    inside = _inside(exif)
    return Header(width, height, camera_of(exif), taken.date() if taken else None, taken, _offset(inside),
                  _facts(exif, inside, space.name, kind, bits))  # fmt: skip


def _bits(image: Image.Image, contents: Contents) -> int | None:
    bits = contents.bits or image.info.get("bit_depth") or 0
    return bits if isinstance(bits, int) and 1 <= bits <= 16 else None


def _inside(exif: Image.Exif) -> dict[int, Any]:
    try:
        return dict(exif.get_ifd(EXIF))
    except Exception:  # a broken note about a photo is no reason to refuse the photo
        return {}


def _facts(exif: Image.Exif, inside: dict[int, Any], space: str, kind: str, bits: int | None) -> CameraFacts:
    flash, balance = _whole(inside.get(FLASH)), _whole(inside.get(BALANCE))
    return CameraFacts(
        make=_words(exif.get(MAKER)),
        model=_words(exif.get(MODEL)),
        lens=_words(inside.get(LENS)),
        software=_words(exif.get(SOFTWARE)),
        exposure_s=_number(inside.get(EXPOSURE_S), 1e-6, 3600),
        f_number=_number(inside.get(F_NUMBER), 0.3, 128),
        iso=_whole(inside.get(ISO)),
        exposure_bias=_number(inside.get(BIAS), -20, 20),
        focal_mm=_number(inside.get(FOCAL_MM), 0.1, 5000),
        focal_35mm=_number(inside.get(FOCAL_35), 1, 5000),
        flash=None if flash is None else bool(flash & 1),
        white_balance={0: "auto", 1: "manual"}.get(-1 if balance is None else balance, ""),
        colour_space=space,
        format=kind,
        bits=bits,
    )


def _words(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return "".join(sign for sign in value if sign.isprintable()).strip()[:80] if isinstance(value, str) else ""


def _first(value: Any) -> Any:
    return value[0] if isinstance(value, tuple) and value else value


def _number(value: Any, least: float, most: float) -> float | None:
    try:
        number = float(_first(value))
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return float(f"{number:.6g}") if least <= number <= most else None  # what is no number lies in no range


def _whole(value: Any) -> int | None:
    number = _number(value, 0, 10_000_000)
    return None if number is None else int(number)


def _offset(inside: dict[int, Any]) -> timedelta | None:
    for tag in OFFSETS:
        text = _words(inside.get(tag))
        try:
            return datetime.strptime(text, "%z").utcoffset() if text else None
        except ValueError:
            continue
    return None


def sensible_day(header: Header, today: date) -> date | None:
    """The camera's day, unless it lies ahead or comes from a clock that was never set."""
    day = header.taken_on
    return day if day is not None and day.year >= FIRST_YEAR and day <= today else None


def taken_at(header: Header, today: date, time_zone: str) -> datetime | None:
    """The moment of the shot: by the offset the camera wrote, else its clock is taken to show the studio's time."""
    if header.taken_local is None or sensible_day(header, today) is None:
        return None
    zone = ZoneInfo(time_zone) if header.offset is None else timezone(header.offset)
    return header.taken_local.replace(tzinfo=zone).astimezone(UTC)
