from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import Row


class Course(Row, table=True):
    """The healing that begins with a session."""

    __tablename__ = "courses"
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    session_key: str = Field(unique=True)  # whose work began it
    work: str  # full, test_spot, allergy_patch
    worked_on: date
    school: str
    aftercare_version: str
    without: str = "[]"  # canonical JSON list: what the aftercare text leaves out, by the alerts of its first day
    is_sensitive: bool = False
    lots: str = "[]"  # canonical JSON list of {label, lot}: what touched the client, for whoever treats them later
    begun_at: datetime
    ended_at: datetime | None = None


class CourseZone(Row, table=True):
    """The two clocks of one zone, with every reason that moved them. An allergy patch moves no clock and has none."""

    __tablename__ = "course_zones"
    __table_args__ = (UniqueConstraint("course_id", "zone_id"),)
    id: int | None = Field(default=None, primary_key=True)
    course_id: int = Field(foreign_key="courses.id", index=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    floor_on: date
    earliest_on: date
    earliest_reasons: str  # canonical JSON list
    judge_on: date
    judge_reasons: str
    outcome_6m_on: date
    outcome_12m_on: date
    judged_on: date | None = None


class CheckIn(Row, table=True):
    """What a client reports while healing."""

    __tablename__ = "check_ins"
    __table_args__ = (CheckConstraint("level IN ('none', 'studio', 'days', 'today', 'emergency')", name="level"),)
    id: int | None = Field(default=None, primary_key=True)
    course_id: int = Field(foreign_key="courses.id", index=True)
    day_number: int
    answers: str
    words: str = ""
    level: str
    photo_id: int | None = Field(default=None, foreign_key="photos.id")
    sent_at: datetime
    read_by: int | None = Field(default=None, foreign_key="members.id")
    read_at: datetime | None = None
    reply: str = ""
