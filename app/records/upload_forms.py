import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints

from app.platform.forms import Form, OptionalDay, OptionalText, Text

MAX_PHOTO = 60 * 1024 * 1024  # bytes; 50 megapixels as JPEG or HEIC stay well below
PIECE_SIZE = 1024 * 1024  # bytes; on a slow phone network one takes half a minute, and only one is ever lost
KEY = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class AboutPhoto(Form):
    """What is said of a photo as it is sent."""

    purpose: Literal["before", "fresh", "check_in", "settled"]
    frame: Literal["", "context", "middle", "close", "oblique"] = ""
    taken_on: OptionalDay = None
    chaperone: Annotated[OptionalText, StringConstraints(max_length=120)] = ""


def _key(text: str) -> str:
    if not KEY.fullmatch(text.lower()):
        raise ValueError("This is no key: send a UUID.")
    return text.lower()


def _hash(text: str) -> str:
    if text and not re.fullmatch(r"[0-9a-f]{64}", text.lower()):
        raise ValueError("This is no SHA-256: send 64 hexadecimal digits.")
    return text.lower()


class BeginUpload(AboutPhoto):
    """A photo that will come in pieces. `key` is made by the page, so that asking twice begins once."""

    key: Annotated[Text, AfterValidator(_key)]
    name: Annotated[OptionalText, StringConstraints(max_length=300)] = ""
    size: Annotated[int, Field(ge=1)]


class EndUpload(Form):
    sha256: Annotated[OptionalText, AfterValidator(_hash)] = ""
