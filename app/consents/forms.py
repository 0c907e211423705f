from typing import Annotated, Literal

from pydantic import BeforeValidator, StringConstraints

from app.consents.strokes import MAX_TEXT, read_strokes
from app.consents.texts import PERMISSIONS, PROCEDURES, TYPED_REASONS
from app.platform.forms import Form, OptionalText, Text

Answer = Literal["yes", "no", ""]
MAX_DRAWING = 3_000_000  # characters of a data URL: far more than a signature needs
Short = Annotated[OptionalText, StringConstraints(max_length=200)]


def _as_list(value: object) -> object:
    return [value] if isinstance(value, str) else value


class Signed(Form):
    """A signature: drawn, or a typed name with the reason why it was typed. With the version of the text that was
    shown, so that nothing else is signed."""

    typed_name: Annotated[OptionalText, StringConstraints(max_length=120)] = ""
    typed_reason: Literal["", "hard", "screen", "help", "other"] = ""
    typed_words: Short = ""
    drawing: Annotated[OptionalText, StringConstraints(max_length=MAX_DRAWING)] = ""
    strokes: Annotated[OptionalText, StringConstraints(max_length=MAX_TEXT)] = ""
    text_version: Annotated[OptionalText, StringConstraints(max_length=64)] = ""

    @property
    def why_typed(self) -> str:
        """The reason in words; nothing where the signature was drawn."""
        if self.drawing or not self.typed_reason:
            return ""
        return self.typed_words if self.typed_reason == "other" else TYPED_REASONS[self.typed_reason]

    @property
    def lines(self) -> str:
        """The drawn lines as they are kept. Raises strokes.Unreadable for what are none."""
        return read_strokes(self.strokes) if self.drawing else ""


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
    reminders_text: Answer = ""
    voice_notes: Answer = ""

    @property
    def answered(self) -> tuple[tuple[str, bool], ...]:
        """The permissions that were answered, each with its yes or no."""
        given = ((words.kind, getattr(self, words.kind)) for words in PERMISSIONS)
        return tuple((kind, answer == "yes") for kind, answer in given if answer)


class Treatment(Permissions):
    """The one answer that has to be given, and the others that need not."""

    treatment: Literal["yes", "no"]


def _known(value: object) -> object:
    if isinstance(value, list) and not set(value) <= set(PROCEDURES):
        raise ValueError("Choose from this list.")
    return value


class AskToSign(Form):
    zones: Annotated[list[Annotated[Text, StringConstraints(pattern=r"^\d{1,18}$")]], BeforeValidator(_as_list)] = []
    procedures: Annotated[list[Text], BeforeValidator(_known), BeforeValidator(_as_list)] = []


class OwnWording(Form):
    body: Annotated[Text, StringConstraints(min_length=1, max_length=20_000)]
    reason: Annotated[Text, StringConstraints(min_length=1, max_length=500)]


class BackToShipped(Form):
    reason: Annotated[Text, StringConstraints(min_length=1, max_length=500)]


class SiteCheck(Form):
    """What the artist saw beside the client. The document is named, never copied, and no number of it is asked for."""

    identity_kind: Literal["passport", "identity_card", "driving_licence", "residence_permit", "other"]
    identity_words: Short = ""
    interpreter: Short = ""
    guardian_name: Short = ""
    guardian_relation: Short = ""
    guardian_identity: Short = ""
    drawing: Annotated[OptionalText, StringConstraints(max_length=MAX_DRAWING)] = ""  # the guardian's signature
    strokes: Annotated[OptionalText, StringConstraints(max_length=MAX_TEXT)] = ""
    countersigned: Literal["yes", ""] = ""
