"""A drawn signature on its way in: from a data URL to a clean, stored picture, before anything is written down."""

import base64
import binascii

from app.consents.forms import Signed
from app.platform.forms import Refused
from app.platform.images import NotAPhoto, encode_signature
from app.platform.service import Service
from app.platform.storage import Stored

BEGINS = "data:image/png;base64,"
UNREADABLE = "The signature could not be read. Draw it again, or type your name."


def keep_drawing(service: Service, signed: Signed) -> Stored | None:
    """The drawing on disk, or None where the name was typed; refused where there is neither."""
    if not signed.drawing:
        if not signed.typed_name:
            raise Refused("typed_name", "Type your full name, or draw your signature.")
        return None
    if not signed.drawing.startswith(BEGINS):
        raise Refused("drawing", UNREADABLE)
    try:
        content = base64.b64decode(signed.drawing.removeprefix(BEGINS), validate=True)
        clean = encode_signature(content)
    except (binascii.Error, NotAPhoto, OSError, ValueError) as error:
        raise Refused("drawing", UNREADABLE) from error
    return service.storage.put(clean, "image/png")
