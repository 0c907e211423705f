"""A drawn signature on its way in: from a data URL to a clean, stored picture, before anything is written down."""

import base64
import binascii

from app.consents import strokes
from app.consents.forms import Signed, SiteCheck
from app.platform.forms import Refused
from app.platform.images import NotAPhoto, encode_signature
from app.platform.service import Service
from app.platform.storage import Stored

BEGINS = "data:image/png;base64,"
UNREADABLE = "The signature could not be read. Draw it again, or type your name."


def keep_drawing(service: Service, signed: Signed) -> Stored | None:
    """The drawing on disk, or None where the name was typed, with its reason; refused where there is neither."""
    if not signed.drawing:
        if not signed.typed_name:
            raise Refused("typed_name", "Type your full name, or draw your signature.")
        if not signed.typed_reason:
            raise Refused("typed_reason", "Choose why you type your name. If you can, draw your signature instead.")
        if signed.typed_reason == "other" and not signed.typed_words:
            raise Refused("typed_words", "Say in a few words why you type your name.")
        return None
    return keep_picture(service, signed)


def keep_picture(service: Service, signed: Signed | SiteCheck) -> Stored:
    """The drawing on disk; refused where the picture or its lines cannot be read."""
    if not signed.drawing.startswith(BEGINS):
        raise Refused("drawing", UNREADABLE)
    try:
        strokes.read_strokes(signed.strokes)
        content = base64.b64decode(signed.drawing.removeprefix(BEGINS), validate=True)
        clean = encode_signature(content)
    except (binascii.Error, NotAPhoto, OSError, ValueError) as error:
        raise Refused("drawing", UNREADABLE) from error
    return service.storage.put(clean, "image/png")
