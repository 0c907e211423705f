from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import Row


class Client(Row, table=True):
    __tablename__ = "clients"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    sort_name: str = Field(index=True)
    born_on: date | None = None
    phone: str = ""
    phone_key: str = Field(default="", index=True)  # the number as E.164, by which two records are found to be one
    email: str = ""
    language: str = "en"
    hold_reason: str = ""
    held_at: datetime | None = None
    merged_into: int | None = Field(default=None, foreign_key="clients.id")
    made_at: datetime
    revision: int = 1

    @property
    def initials(self) -> str:
        return " ".join(part[0].upper() + "." for part in self.name.split()[:3])


class SearchWord(Row, table=True):
    """One word by which a client is found; kept by the actions that change the client."""

    __tablename__ = "search_words"
    __table_args__ = ({"info": {"audit": "off"}},)
    word: str = Field(primary_key=True)
    client_id: int = Field(primary_key=True, foreign_key="clients.id", index=True)


class Case(Row, table=True):
    """One client's course of camouflage; its state is worked out where it is shown, from what happened in it."""

    __tablename__ = "cases"
    __table_args__ = (CheckConstraint("skin_class IN ('', 'light', 'dark')", name="skin_class"),)
    id: int | None = Field(default=None, primary_key=True)
    number: int = Field(unique=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    lead_id: int = Field(foreign_key="members.id", index=True)
    deputy_id: int | None = Field(default=None, foreign_key="members.id")
    title: str
    is_restricted: bool = False
    skin_class: str = ""  # set once by the first calibrated reading; fixes the thresholds of the case
    opened_on: date
    closed_on: date | None = None
    revision: int = 1


class DeclaredScar(Row, table=True):
    """A scar as the client declared it; becomes a zone or is joined to one."""

    __tablename__ = "declared_scars"
    __table_args__ = (UniqueConstraint("case_id", "key"),)
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    key: str  # the stable id the form gave it
    site: str
    side: str
    words: str = ""
    kind: str = ""
    happened: str = ""  # a partial date, or older_2, older_5, dont_know
    zone_id: int | None = Field(default=None, foreign_key="zones.id", index=True)


class Zone(Row, table=True):
    """One scar, or a part of it, treated as a unit."""

    __tablename__ = "zones"
    __table_args__ = (
        CheckConstraint("view IN ('front', 'back')", name="view"),
        CheckConstraint("side IN ('left', 'right', 'middle', 'both')", name="side"),
        CheckConstraint("padding IN ('over_bone', 'thin', 'padded')", name="padding"),
        CheckConstraint("x >= 0 AND x <= 1 AND y >= 0 AND y <= 1", name="place"),
    )
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    label: str
    site: str
    side: str
    view: str
    x: float
    y: float
    scar_kind: str
    cause: str = ""
    happened: str = ""
    padding: str = "padded"
    texture: str = ""
    is_irradiated: bool = False
    is_grafted: bool = False
    darkens: bool = False  # tends to dark marks after injury
    is_sensitive: bool = False
    finished_on: date | None = None
    revision: int = 1

    @property
    def name(self) -> str:
        sides = {"left": "client’s left", "right": "client’s right", "middle": "midline", "both": "both sides"}
        return f"{self.label}, {sides[self.side]}"


class Photo(Row, table=True):
    """A photo as it came in, and what was found in it. The original is never altered."""

    __tablename__ = "photos"
    __table_args__ = (
        CheckConstraint("state IN ('waiting', 'ready', 'failed')", name="state"),
        CheckConstraint(
            "purpose IN ('before', 'fresh', 'settled', 'check_in', 'swatch', 'label', 'letter')", name="purpose"
        ),
    )
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    zone_id: int | None = Field(default=None, foreign_key="zones.id", index=True)
    purpose: str
    taken_on: date
    by_client: bool = False
    original_id: int = Field(foreign_key="blobs.id")
    shown_id: int | None = Field(default=None, foreign_key="blobs.id")
    thumb_id: int | None = Field(default=None, foreign_key="blobs.id")
    width: int
    height: int
    camera: str = ""
    frame: str = ""  # context, middle, close, oblique; empty when nobody said
    chaperone: str = ""  # who else was in the room, where the place is a sensitive one
    taken_at: datetime | None = None  # as the camera's own clock says, taken as the studio's time; never where
    facts: str = "{}"  # canonical JSON of what the camera wrote of itself: exposure, light, lens; never where
    upload_key: str | None = Field(default=None, unique=True)  # made in the page, so that sending twice stores once
    reference: str = ""  # what its colours stand on: chart, grey, none; empty until it is examined
    chart_kind_id: int | None = Field(default=None, foreign_key="chart_kinds.id", index=True)  # None: the shipped chart
    placed: str = ""  # canonical JSON of chart or grey corners that a member placed by hand; empty when found
    card_id: int | None = Field(default=None, foreign_key="capture_cards.id", index=True)
    marker: str = ""  # canonical JSON of the marker found on a capture card: id, corners in px
    state: str = "waiting"
    chart: str = "{}"  # canonical JSON of what was found: corners, patches
    calibration: str = ""  # canonical JSON; empty when the photo cannot be calibrated
    calibration_state: str = ""  # measured, caution, refused, none
    loo_delta_e_00: float | None = None
    words: str = ""  # what can and cannot be said from it
    added_at: datetime
    added_by: int | None = Field(default=None, foreign_key="members.id")


class OutlineSet(Row, table=True):
    """Scar and skin outlined on one photo; a change is a new version."""

    __tablename__ = "outline_sets"
    __table_args__ = (UniqueConstraint("photo_id", "version"),)
    id: int | None = Field(default=None, primary_key=True)
    photo_id: int = Field(foreign_key="photos.id", index=True)
    version: int
    outlines: str  # canonical JSON: W3C Web Annotations with SVG selectors, in pixels of the upright original
    origin: str = "drawn"  # drawn, or carried over from another photo and looked at
    carried_from_id: int | None = Field(default=None, foreign_key="outline_sets.id")
    is_second: bool = False  # a second observer's, to compare; it never stands in for the first
    drawn_by: int | None = Field(default=None, foreign_key="members.id")
    drawn_at: datetime


class Reading(Row, table=True):
    """What the colours in a photo were measured to be."""

    __tablename__ = "readings"
    __table_args__ = (UniqueConstraint("outline_set_id", "method_version"),)
    id: int | None = Field(default=None, primary_key=True)
    photo_id: int = Field(foreign_key="photos.id", index=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    outline_set_id: int = Field(foreign_key="outline_sets.id", index=True)
    state: str  # measured, caution, relative, unmeasured
    taken_on: date
    read_at: datetime
    method_version: str
    scar_l: float | None = None
    scar_a: float | None = None
    scar_b: float | None = None
    skin_l: float | None = None
    skin_a: float | None = None
    skin_b: float | None = None
    delta_e_00: float | None = None
    delta_e_00_low: float | None = None
    delta_e_00_high: float | None = None
    area_cm2: float | None = None
    grade: str = ""  # every grade the interval allows, by the case's fixed skin class: "match", "match or close", …
    share_within: float | None = None  # share of the scar within the match threshold
    map_id: int | None = Field(default=None, foreign_key="blobs.id")  # the difference map as a picture
    result: str  # canonical JSON of the whole reading: intervals, direction, findings
    replaces_id: int | None = Field(default=None, foreign_key="readings.id", unique=True)

    @property
    def is_measured(self) -> bool:
        return self.delta_e_00 is not None


class Alert(Row, table=True):
    """Something that whoever works on the client must see. Set-up alerts are an instruction and shown to all."""

    __tablename__ = "alerts"
    __table_args__ = (
        CheckConstraint("audience IN ('setup', 'medical')", name="audience"), UniqueConstraint("client_id", "kind"),
    )
    id: int | None = Field(default=None, primary_key=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    kind: str
    words: str
    audience: str
    source: str = ""
    raised_at: datetime
    answered_no_on: date | None = None  # a later form no longer says it; an artist decides whether it ends
    ended_at: datetime | None = None


class Attachment(Row, table=True):
    """A letter on file: as it came in, with its own date and the day it runs out. The desk files it unread."""

    __tablename__ = "attachments"
    __table_args__ = (CheckConstraint("kind IN ('letter')", name="kind"),)
    id: int | None = Field(default=None, primary_key=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    case_id: int | None = Field(default=None, foreign_key="cases.id", index=True)
    kind: str = "letter"
    blob_id: int = Field(foreign_key="blobs.id")
    shown_id: int | None = Field(default=None, foreign_key="blobs.id")  # a picture of it that we encoded ourselves
    name: str
    from_whom: str = ""
    dated_on: date | None = None
    expires_on: date | None = None
    note: str = ""
    filed_by: int | None = Field(default=None, foreign_key="members.id")
    filed_at: datetime
    read_by: int | None = Field(default=None, foreign_key="members.id")
    read_at: datetime | None = None


class Task(Row, table=True):
    """Something an artist owes a client on a day: a talk, a call, a letter to look at. None of the desk's business."""

    __tablename__ = "tasks"
    id: int | None = Field(default=None, primary_key=True)
    unique_key: str = Field(unique=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    case_id: int | None = Field(default=None, foreign_key="cases.id", index=True)
    kind: str
    words: str
    address: str = ""  # the page on which it is done
    due_on: date = Field(index=True)
    made_at: datetime
    done_at: datetime | None = None
    done_by: int | None = Field(default=None, foreign_key="members.id")
    done_words: str = ""


class Merge(Row, table=True):
    """Two records found to be one person. Nothing is moved: one leads to the other until it is undone."""

    __tablename__ = "merges"
    id: int | None = Field(default=None, primary_key=True)
    kept_id: int = Field(foreign_key="clients.id", index=True)
    merged_id: int = Field(foreign_key="clients.id", index=True)
    why: str = ""
    merged_by: int | None = Field(default=None, foreign_key="members.id")
    merged_at: datetime
    undone_by: int | None = Field(default=None, foreign_key="members.id")
    undone_at: datetime | None = None
    undone_why: str = ""


class NotTheSame(Row, table=True):
    """Two records that look alike and are two people, as somebody said; they are not offered again."""

    __tablename__ = "not_the_same"
    first_id: int = Field(foreign_key="clients.id", primary_key=True)
    second_id: int = Field(foreign_key="clients.id", primary_key=True, index=True)
    said_by: int | None = Field(default=None, foreign_key="members.id")
    said_at: datetime
