"""What is sent from the chair: starting, finishing, stopping, items. The whole record in one form: `record_form`."""

from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StringConstraints

from app.platform.forms import BLANK_IS_NONE, Day, Form, OptionalCount, OptionalDay, OptionalText, Text

# Outside the bounds, which a None would not pass.
Kind = Literal["full", "test_spot", "allergy_patch"]
ItemKind = Literal["strong", "skin_tone", "white", "diluent", "needle", "numbing", "antiseptic", "dressing"]
Line = Annotated[OptionalText, StringConstraints(max_length=120)]
Reason = Annotated[Text, StringConstraints(min_length=1, max_length=400)]
TapId = Annotated[Text, StringConstraints(pattern=r"^[0-9a-fA-F-]{36}$")]


class StartSession(Form):
    kind: Kind
    artist_id: int
    room: Line = ""
    assistant: Line = ""
    zones: list[int] = []
    is_same: bool = False  # the answers of last evening, read to the client
    agreed: bool = False
    pass_reason: Annotated[OptionalText, StringConstraints(max_length=400)] = ""


class SentTap(Form):
    """One tap, as the sheet sends it: `on` is 0 when a tick is taken away."""

    tap_id: TapId
    name: Annotated[Text, StringConstraints(min_length=1, max_length=40)]
    value: Annotated[Text, StringConstraints(max_length=2000)] = ""
    on: Literal["0", "1"] = "1"
    tapped_at: Annotated[Text, StringConstraints(max_length=40)] = ""


class TapOnly(Form):
    tap_id: TapId


class AddItem(Form):
    """An item from the shelf by its id, or typed from its label."""

    tap_id: TapId
    zone: OptionalCount = None
    shelf_id: OptionalCount = None
    kind: ItemKind | Literal[""] = ""
    label: Line = ""
    lot: Line = ""
    lot_unreadable: bool = False


class ChangeMix(Form):
    tap_id: TapId
    recipe_id: int
    how: Literal["instead", "too"] = "instead"


class StopSession(Form):
    reason: Reason
    before_work: bool = False


class FoundLot(Form):
    """What the finishing page asked for about one gap; what stays blank goes on the follow-up list."""

    label: Line = ""
    lot: Line = ""
    lot_unreadable: bool = False
    no_pigment: bool = False

    @property
    def is_blank(self) -> bool:
        return not (self.label or self.lot or self.lot_unreadable or self.no_pigment)


class ReadPatch(Form):
    result: Literal["clear", "reaction", "unclear"]
    note: Annotated[OptionalText, StringConstraints(max_length=500)] = ""


class ZoneWork(Form):
    """What was done on one zone, as the whole record states it."""

    zone_id: int
    needle: Line = ""
    device: Line = ""
    device_setting: Line = ""
    device_unit: Literal["V", "Hz", "1/min", "step"] = "V"
    hang_mm: Annotated[Annotated[FiniteFloat, Field(ge=0, le=10)] | None, BLANK_IS_NONE] = None
    passes: Annotated[Annotated[int, Field(ge=0, le=50)] | None, BLANK_IS_NONE] = None
    techniques: list[str] = []
    first_dots: Literal["", "holding", "too_light", "too_strong"] = ""
    bleeding: Annotated[Annotated[int, Field(ge=0, le=3)] | None, BLANK_IS_NONE] = None
    redness: Annotated[Annotated[int, Field(ge=0, le=3)] | None, BLANK_IS_NONE] = None
    sensitivity: Annotated[Annotated[int, Field(ge=0, le=10)] | None, BLANK_IS_NONE] = None
    no_pigment: bool = False
    recipe_id: OptionalCount = None
    is_untouched: bool = False
    note: Annotated[OptionalText, StringConstraints(max_length=2000)] = ""


class UsedItem(Form):
    """An item from the shelf by its id, or as its label says; what is typed counts before what the shelf says."""

    kind: ItemKind | Literal[""] = ""
    label: Line = ""
    lot: Line = ""
    lot_unreadable: bool = False
    zone_id: OptionalCount = None
    shelf_id: OptionalCount = None
    drops: Annotated[Annotated[int, Field(ge=1, le=999)] | None, BLANK_IS_NONE] = None
    expires_on: OptionalDay = None
    caution: Annotated[OptionalText, StringConstraints(max_length=200)] = ""


class WholeSession(Form):
    """A session as one form: from paper, or a correction that says why."""

    kind: Kind
    state: Literal["finished", "stopped", "stopped_before_work"] = "finished"
    artist_id: int
    worked_on: Day
    room: Line = ""
    assistant: Line = ""
    needle_minutes: Annotated[Annotated[int, Field(ge=0, le=1440)] | None, BLANK_IS_NONE] = None
    stop_reason: Annotated[OptionalText, StringConstraints(max_length=400)] = ""
    note: Annotated[OptionalText, StringConstraints(max_length=2000)] = ""
    said_again: bool = False
    why: Annotated[OptionalText, StringConstraints(max_length=400)] = ""
    works: list[ZoneWork] = []
    items: list[UsedItem] = []
