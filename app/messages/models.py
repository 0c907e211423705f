from datetime import date, datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.platform.rows import OFF, Row


class PlannedMessage(Row, table=True):
    """What is to be sent to a client, and when; a row that one sender claims once."""

    __tablename__ = "planned_messages"
    __table_args__ = (CheckConstraint("state IN ('planned', 'sent', 'failed', 'cancelled')", name="state"),)
    id: int | None = Field(default=None, primary_key=True)
    unique_key: str = Field(unique=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    template: str
    purpose: str  # of the link it carries; empty for none
    subject_id: int  # of that link
    course_key: str = Field(default="", index=True)  # whose plan it belongs to
    due_on: date = Field(index=True)
    due_at: datetime = Field(index=True)
    state: str = "planned"
    sent_at: datetime | None = None
    sent_by_way_of: str = ""
    fault: str = ""
    claimed_until: datetime | None = Field(default=None, sa_column_kwargs={"info": OFF})
    attempts: int = Field(default=0, sa_column_kwargs={"info": OFF})
    made_at: datetime
