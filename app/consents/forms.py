from typing import Annotated, Literal

from pydantic import BeforeValidator, StringConstraints

from app.consents.texts import PERMISSIONS
from app.platform.forms import Form, OptionalText, Text

Answer = Literal["yes", "no", ""]
MAX_DRAWING = 3_000_000  # characters of a data URL: far more than a signature needs


def _as_list(value: object) -> object:
    return [value] if isinstance(value, str) else value


class Signed(Form):
    """A signature: a typed name, a drawing, or both."""

    typed_name: Annotated[OptionalText, StringConstraints(max_length=120)] = ""
    drawing: Annotated[OptionalText, StringConstraints(max_length=MAX_DRAWING)] = ""


class Permissions(Signed):
    """Each permission by itself; none is chosen beforehand, and none has to be answered."""

    numbing: Answer = ""
    record_photos: Answer = ""
    show_in_studio: Answer = ""
    teaching: Answer = ""
    website: Answer = ""
    social_media: Answer = ""
    recognisable: Answer = ""
    contact_clinician: Answer = ""
    reminders_email: Answer = ""

    @property
    def answered(self) -> tuple[tuple[str, bool], ...]:
        """The permissions that were answered, each with its yes or no."""
        given = ((words.kind, getattr(self, words.kind)) for words in PERMISSIONS)
        return tuple((kind, answer == "yes") for kind, answer in given if answer)


class Treatment(Permissions):
    treatment: Literal["yes", "no"]


class AskToSign(Form):
    zones: Annotated[list[Annotated[Text, StringConstraints(pattern=r"^\d{1,18}$")]], BeforeValidator(_as_list)] = []
