from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import Row


class WorkSession(Row, table=True):
    """The work done at the chair on one day. Nothing finished is edited: a correction is a new row that says why."""

    __tablename__ = "sessions"
    __table_args__ = (
        CheckConstraint("kind IN ('full', 'test_spot', 'allergy_patch')", name="kind"),
        CheckConstraint("state IN ('open', 'finished', 'stopped', 'stopped_before_work')", name="state"),
    )
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    artist_id: int = Field(foreign_key="members.id", index=True)
    kind: str
    state: str = "open"
    worked_on: date
    started_at: datetime
    finished_at: datetime | None = None
    entered_at: datetime
    entered_by: int | None = Field(default=None, foreign_key="members.id")
    from_paper: bool = False
    assistant: str = ""
    room: str = ""
    needle_seconds: int | None = None  # time with the needle on, without its pauses
    needle_since: datetime | None = None  # on since then; empty while it rests
    reaffirmed_at: datetime | None = None  # the client said again, on the day, that nothing changed and work may begin
    reaffirmed: str = "[]"  # canonical JSON list of what was asked, in the words of then, and the answers
    submission_id: int | None = Field(default=None, foreign_key="submissions.id")  # the short questions of that day
    passed: str = "[]"  # canonical JSON list: the waits that were gone past when it was started
    passed_reason: str = ""
    breaches: str = "[]"  # canonical JSON list: start checks that were not met when it was recorded
    stop_reason: str = ""
    note: str = ""
    replaces_id: int | None = Field(default=None, foreign_key="sessions.id", unique=True)
    why: str = ""

    @property
    def is_open(self) -> bool:
        return self.state == "open"

    @property
    def needle_minutes(self) -> int | None:
        return None if self.needle_seconds is None else round(self.needle_seconds / 60)


class SessionZone(Row, table=True):
    __tablename__ = "session_zones"
    __table_args__ = (
        UniqueConstraint("session_id", "zone_id"),
        CheckConstraint("bleeding BETWEEN 0 AND 3", name="bleeding"),
        CheckConstraint("redness BETWEEN 0 AND 3", name="redness"),
        CheckConstraint("sensitivity BETWEEN 0 AND 10", name="sensitivity"),
        CheckConstraint("first_dots IN ('', 'holding', 'too_light', 'too_strong')", name="first_dots"),
    )
    id: int | None = Field(default=None, primary_key=True)
    session_id: int = Field(foreign_key="sessions.id", index=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    recipe_id: int | None = Field(default=None, foreign_key="recipes.id", index=True)
    no_pigment: bool = False
    is_untouched: bool = False  # in the plan of the day, not worked on after all
    needle: str = ""  # configuration: count and grouping
    device: str = ""
    device_setting: str = ""
    device_unit: str = "V"
    hang_mm: float | None = None
    passes: int | None = None
    techniques: str = "[]"  # canonical JSON list of tags
    first_dots: str = ""
    bleeding: int | None = None
    redness: int | None = None
    sensitivity: int | None = None
    note: str = ""


class SessionItem(Row, table=True):
    """An item with its lot as it was used; the lot is copied, so the record stands whatever becomes of the shelf."""

    __tablename__ = "session_items"
    id: int | None = Field(default=None, primary_key=True)
    session_id: int = Field(foreign_key="sessions.id", index=True)
    zone_id: int | None = Field(default=None, foreign_key="zones.id", index=True)
    item_id: int | None = Field(default=None, foreign_key="items.id", index=True)
    kind: str
    label: str
    lot: str = Field(default="", index=True)
    lot_unreadable: bool = False
    expires_on: date | None = None
    caution: str = ""  # what stood against using it when it was written down: past its date, in quarantine
    drops: int | None = None


class Tap(Row, table=True):
    """A tap on the sheet by the id that its page gave it, so that sending twice stores once."""

    __tablename__ = "taps"
    __table_args__ = ({"info": {"audit": "off"}},)
    uuid: str = Field(primary_key=True)
    session_id: int = Field(foreign_key="sessions.id", index=True)
    field: str = ""  # what it set, with its zone: of two taps that come in late, the later one counts
    tapped_at: datetime
