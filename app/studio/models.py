from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.platform.rows import OFF, REDACTED, Row


class Studio(Row, table=True):
    """The studio itself: one row."""

    __tablename__ = "studios"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)
    id: int = Field(default=1, primary_key=True, sa_column_kwargs={"autoincrement": False})
    name: str
    country: str
    time_zone: str
    phone: str = ""
    email: str = ""
    aftercare_school: str = "film"
    earliest_weeks: int = 8
    judge_weeks: int = 10
    judge_weeks_slow: int = 12
    opens_at: str = "09:00"
    language: str = "en"  # in which the artists read what clients answered
    region: str = ""  # the state or province, where the country's rules differ from one to the next
    intake_months: int = 12  # after so many months the whole form is asked again
    idle_minutes: int = 10  # after so long without a touch a handed-over tablet goes back to its neutral screen
    made_at: datetime
    revision: int = 1


class Member(Row, table=True):
    __tablename__ = "members"
    __table_args__ = (CheckConstraint("role IN ('owner', 'artist', 'desk')", name="role"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str
    login: str = Field(unique=True)
    role: str
    password_hash: str = Field(sa_column_kwargs={"info": REDACTED})
    pin_hash: str = Field(default="", sa_column_kwargs={"info": REDACTED})  # takes a handed-over tablet back
    is_active: bool = True
    made_at: datetime
    revision: int = 1


class SignIn(Row, table=True):
    """A member signed in on one browser; signing out ends the row."""

    __tablename__ = "sign_ins"
    id: int | None = Field(default=None, primary_key=True)
    secret_hash: str = Field(unique=True, sa_column_kwargs={"info": REDACTED})
    member_id: int = Field(foreign_key="members.id", index=True)
    started_at: datetime
    last_seen_at: datetime = Field(sa_column_kwargs={"info": OFF})
    expires_at: datetime
    ended_at: datetime | None = None


class HandOver(Row, table=True):
    """A tablet in a client's hands: no member is signed in on it until a PIN, or a full sign-in, takes it back."""

    __tablename__ = "hand_overs"
    __table_args__ = (CheckConstraint("ended_how IN ('', 'pin', 'sign_in', 'tries', 'expired')", name="ended_how"),)
    id: int | None = Field(default=None, primary_key=True)
    secret_hash: str = Field(unique=True, sa_column_kwargs={"info": REDACTED})
    member_id: int = Field(foreign_key="members.id", index=True)
    begun_at: datetime
    expires_at: datetime
    pin_tries: int = Field(default=0, sa_column_kwargs={"info": OFF})
    ended_at: datetime | None = None
    ended_how: str = ""
