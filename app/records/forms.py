import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints, model_validator

from app.platform.forms import Form, OptionalCount, OptionalDay, OptionalText, Text
from app.platform.search import fold
from app.records.alert_kinds import KINDS, OWN
from app.records.happened import joined, read_happened
from app.records.scars import CAUSES, SCAR_KINDS
from app.records.sites import SITE, Padding, Position, Side, View, position

PHONE_DOUBT = "This does not look like a telephone number. Check it."
LANGUAGES = {"en": "English", "de": "German", "es": "Spanish", "fr": "French", "ga": "Irish", "pl": "Polish",
             "pt": "Portuguese", "uk": "Ukrainian"}
# A title stands on screens that others may see: it says where or what for, never how the scar came about.
CAUSE_WORDS = ("abus", "accident", "acid", "amput", "attack", "burn", "cancer", "cut myself", "cutting", "injur",
               "mastectom", "operat", "self-harm", "self harm", "selfharm", "suicid", "surger", "tumour", "tumor",
               "trauma", "violen")


def _phone(text: str) -> str:
    """Whatever has a digit is taken: what cannot be read is kept as typed, and the page says so."""
    if text and not any(sign.isdigit() for sign in text):
        raise ValueError(PHONE_DOUBT)
    return text


def _email(text: str) -> str:
    if text and not re.fullmatch(r"[^@\s]+@[^@\s]+\.[^@\s]+", text):
        raise ValueError("Give an e-mail address, like anna@example.org.")
    return text


def _without_cause(title: str) -> str:
    folded = fold(title)
    if any(word in folded for word in CAUSE_WORDS):
        raise ValueError("Leave out how the scar came about: others may see this. Name the place, like “Forearm”.")
    return title


def _known_site(code: str) -> str:
    if code not in SITE:
        raise ValueError("Choose one of these.")
    return code


def _known_kind(code: str) -> str:
    if code not in SCAR_KINDS:
        raise ValueError("Choose one of these.")
    return code


def _known_cause(code: str) -> str:
    if code and code not in CAUSES:
        raise ValueError("Choose one of these.")
    return code


def _known_alert(kind: str) -> str:
    if kind != OWN and kind not in KINDS:
        raise ValueError("Choose one of these.")
    return kind


def _blank(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


Name = Annotated[Text, StringConstraints(min_length=1, max_length=120)]
Line = Annotated[OptionalText, StringConstraints(max_length=200)]
Reason = Annotated[Text, StringConstraints(min_length=1, max_length=400)]
Fraction = Annotated[Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)] | None, BeforeValidator(_blank)]


class NewClient(Form):
    name: Name
    born_on: OptionalDay = None
    phone: Annotated[OptionalText, StringConstraints(max_length=60), AfterValidator(_phone)] = ""
    email: Annotated[OptionalText, StringConstraints(max_length=120), AfterValidator(_email)] = ""
    language: Literal["en", "de", "es", "fr", "ga", "pl", "pt", "uk"] = "en"


class ChangeClient(NewClient):
    revision: int


class Hold(Form):
    reason: Reason


class EndAlert(Form):
    reason: Reason


class RaiseAlert(Form):
    """One of the alerts that answers raise, or one in the artist's own words with the audience it is meant for."""

    kind: Annotated[Text, AfterValidator(_known_alert)]
    words: Annotated[OptionalText, StringConstraints(max_length=120)] = ""
    audience: Literal["setup", "medical"] = "medical"


class MergeRecords(Form):
    keep: int
    why: Reason


class UndoMerge(Form):
    why: Reason


class NewCase(Form):
    title: Annotated[Text, StringConstraints(min_length=1, max_length=80), AfterValidator(_without_cause)]
    lead_id: int
    deputy_id: OptionalCount = None
    is_restricted: bool = False
    skin_class: Literal["", "light", "dark"] = ""


class PlaceZone(Form):
    label: Annotated[Text, StringConstraints(min_length=1, max_length=80), AfterValidator(_without_cause)]
    site: Annotated[Text, AfterValidator(_known_site)]
    side: Side
    view: Annotated[View | None, BeforeValidator(_blank)] = None
    x: Fraction = None
    y: Fraction = None
    scar_kind: Annotated[Text, AfterValidator(_known_kind)]
    cause: Annotated[OptionalText, AfterValidator(_known_cause)] = ""
    happened: Annotated[OptionalText, AfterValidator(read_happened)] = ""
    padding: Annotated[Padding | None, BeforeValidator(_blank)] = None
    texture: Line = ""
    is_irradiated: bool = False
    is_grafted: bool = False
    darkens: bool = False
    is_sensitive: bool = False
    declared: list[str] = []

    @model_validator(mode="before")
    @classmethod
    def _from_page(cls, given: Any) -> Any:
        """The page sends a tapped point as place_x, place_y, place_view and the date in three parts or as a choice."""
        if not isinstance(given, Mapping):
            return given
        values = dict(given)
        for name in ("x", "y", "view"):
            if name not in values and f"place_{name}" in values:
                values[name] = values[f"place_{name}"]
        if "happened" not in values:
            typed = [str(values.get(f"happened_{part}", "")) for part in "dmy"]
            # A gap is left for the field's own reading to refuse, so that its message stands beside the field.
            try:
                text = joined(*typed)
            except ValueError:
                text = "-".join([typed[2], "00", typed[0].strip().zfill(2)])
            values["happened"] = text or str(values.get("happened_about", ""))
        return values

    @property
    def place(self) -> Position:
        """The tapped point, or where the chosen site stands on the figure."""
        if self.view is None or self.x is None or self.y is None:
            return position(SITE[self.site], self.side)
        return Position(self.view, self.x, self.y)

    @property
    def padding_felt(self) -> Padding:
        return self.padding or SITE[self.site].padding

    @property
    def hides_photos(self) -> bool:
        """Photos of an intimate place are always hidden until asked for."""
        return self.is_sensitive or SITE[self.site].sensitive


class ChangeZone(PlaceZone):
    revision: int
