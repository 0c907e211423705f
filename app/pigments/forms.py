"""What a person may send about the shelf and about recipes."""

from datetime import date, timedelta
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    FiniteFloat,
    StringConstraints,
    ValidationInfo,
    field_validator,
)

from app.platform import clock
from app.platform.forms import BLANK_IS_NONE, Day, Form, OptionalCount, OptionalDay, OptionalText, Posted, Text

Kind = Literal["strong", "skin_tone", "white", "diluent", "needle", "numbing", "antiseptic", "dressing"]
ML_PER_DROP = 0.05  # 20 drops a millilitre; common practice, no source
MOST_DROPS = 16  # a page must come back within a second; more drops gain nothing (see colour.recipes)
MOST_SEARCHED = 10  # with four bottles, for the same reason


def _as_number(value: Any) -> Any:
    """Instruments and keyboards write a minus and a decimal comma in their own ways."""
    return value.strip().replace("\u2212", "-").replace(",", ".") if isinstance(value, str) else value


def _optional_number(value: Any) -> Any:
    return _as_number(value) or None if isinstance(value, str) else value


def _usual_drop(value: Any) -> Any:
    return ML_PER_DROP if isinstance(value, str) and not value.strip() else _as_number(value)


def _not_later(day: date | None) -> date | None:
    # One day of grace: the studio may stand east of UTC.
    if day is not None and day > clock.now().date() + timedelta(days=1):
        raise ValueError("This day has not come yet.")
    return day


Line = Annotated[OptionalText, StringConstraints(max_length=200)]
Lightness = Annotated[FiniteFloat, BeforeValidator(_as_number), Field(ge=0, le=100)]
Opponent = Annotated[FiniteFloat, BeforeValidator(_as_number), Field(ge=-128, le=127)]
OptionalLightness = Annotated[Annotated[FiniteFloat, Field(ge=0, le=100)] | None, BeforeValidator(_optional_number)]
OptionalOpponent = Annotated[Annotated[FiniteFloat, Field(ge=-128, le=127)] | None, BeforeValidator(_optional_number)]
Layer = Annotated[int, Field(ge=1, le=20)]
Lab = tuple[float, float, float]


class NewItem(Form):
    kind: Kind
    label: Annotated[Text, StringConstraints(min_length=1, max_length=80)]
    colour_index: Line = ""
    lot_unreadable: bool = False
    lot: Annotated[Text, StringConstraints(max_length=60), Field(validate_default=True)] = ""
    expires_on: OptionalDay = None
    opened_on: Annotated[OptionalDay, AfterValidator(_not_later)] = None
    use_within_days: Annotated[Annotated[int, Field(ge=1, le=3650)] | None, BLANK_IS_NONE] = None
    ml_per_drop: Annotated[FiniteFloat, BeforeValidator(_usual_drop), Field(gt=0, le=1)] = ML_PER_DROP
    is_low: bool = False
    note: Annotated[OptionalText, StringConstraints(max_length=400)] = ""

    @field_validator("lot")
    @classmethod
    def _lot_or_unreadable(cls, lot: str, info: ValidationInfo) -> str:
        unreadable = bool(info.data.get("lot_unreadable"))
        if not lot and not unreadable:
            raise ValueError("Type the lot as it stands on the label, or tick that it cannot be read.")
        if lot and unreadable:
            raise ValueError("Either a lot or “cannot be read”, not both.")
        return lot


class ChangeItem(NewItem):
    revision: int


class StateChange(Form):
    state: Literal["usable", "quarantined", "empty"]
    reason: Annotated[OptionalText, StringConstraints(max_length=400), Field(validate_default=True)] = ""
    revision: int

    @field_validator("reason")
    @classmethod
    def _why_kept_apart(cls, reason: str, info: ValidationInfo) -> str:
        if not reason and info.data.get("state") != "empty":
            raise ValueError("Say why, so that nobody has to guess later.")
        return reason


class NewSwatch(Form):
    white_percent: Annotated[FiniteFloat, BeforeValidator(_as_number), Field(ge=0, lt=100)]
    white_id: OptionalCount = None
    lab_l: Lightness
    lab_a: Opponent
    lab_b: Opponent
    measured_on: Annotated[Day, AfterValidator(_not_later)]
    measured_by: Annotated[Text, StringConstraints(min_length=1, max_length=80)]
    is_checked: bool = False

    @property
    def white_share(self) -> float:
        return self.white_percent / 100


class TypedTarget(Form):
    """A target may be typed where no reading gives one; all three numbers or none."""

    layer: Layer = 1
    target_l: OptionalLightness = None
    target_a: OptionalOpponent = None
    target_b: Annotated[OptionalOpponent, Field(validate_default=True)] = None

    @field_validator("target_b")
    @classmethod
    def _all_or_none(cls, b: float | None, info: ValidationInfo) -> float | None:
        given = [info.data.get("target_l"), info.data.get("target_a"), b]
        if any(value is None for value in given) and any(value is not None for value in given):
            raise ValueError("Give L*, a* and b*, or leave all three empty.")
        return b

    @property
    def typed_lab_d65(self) -> Lab | None:
        if self.target_l is None or self.target_a is None or self.target_b is None:
            return None
        return self.target_l, self.target_a, self.target_b


class RecipeAsk(TypedTarget):
    drops: Annotated[int, Field(ge=1, le=MOST_DROPS)] = 12
    max_paints: Annotated[int, Field(ge=1, le=4)] = 3
    leave_out: list[int] = []

    @field_validator("max_paints")
    @classmethod
    def _in_good_time(cls, count: int, info: ValidationInfo) -> int:
        if count == 4 and info.data.get("drops", 0) > MOST_SEARCHED:
            raise ValueError(f"With four bottles, ask for at most {MOST_SEARCHED} drops.")
        return count


class KeepProposal(RecipeAsk):
    """Which of the proposals is meant. What is predicted of it is never taken from the page."""

    parts: Annotated[Text, StringConstraints(pattern=r"^\d{1,19}:\d{1,2}(,\d{1,19}:\d{1,2}){0,3}$")]
    offer_key: Annotated[Text, StringConstraints(max_length=64)]


class OwnMix(TypedTarget):
    name: Annotated[Text, StringConstraints(min_length=1, max_length=80)]
    words: Annotated[OptionalText, StringConstraints(max_length=400)] = ""
    is_darker_accepted: bool = False
    do: Literal["predict", "keep"] = "keep"


def read_drops(posted: Posted) -> tuple[dict[int, int], dict[str, str]]:
    """The drops typed beside each bottle (`drops_12`), and what is wrong beside which."""
    drops: dict[int, int] = {}
    errors: dict[str, str] = {}
    for name in posted.texts:
        key = name.removeprefix("drops_")
        text = posted.one(name).strip()
        if key == name or not (key.isascii() and key.isdigit()) or not text or text == "0":
            continue
        if text.isascii() and text.isdigit() and len(text) <= 2:
            drops[int(key)] = int(text)
        else:
            errors[name] = "Count whole drops, 1 to 99."
    return {key: count for key, count in drops.items() if count}, errors
