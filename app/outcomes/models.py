from datetime import date, datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.platform.rows import Row

GRADES = ("poor", "fair", "good", "excellent")  # from worst to best


class Verdict(Row, table=True):
    """The judgement of a settled zone; a later one does not wipe out an earlier one."""

    __tablename__ = "verdicts"
    __table_args__ = (
        CheckConstraint("grade IN ('poor', 'fair', 'good', 'excellent')", name="grade"),
        CheckConstraint("seen IN ('photo', 'in_person')", name="seen"),
        CheckConstraint("next_step IN ('finished', 'another_session', 'wait')", name="next_step"),
        CheckConstraint("visibility BETWEEN 0 AND 10 AND satisfaction BETWEEN 0 AND 10", name="scores"),
    )
    id: int | None = Field(default=None, primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    grade: str
    grade_second_light: str = ""
    seen: str
    visibility: int | None = None
    satisfaction: int | None = None
    before_reading_id: int | None = Field(default=None, foreign_key="readings.id")
    after_reading_id: int | None = Field(default=None, foreign_key="readings.id")
    before_photo_id: int | None = Field(default=None, foreign_key="photos.id")
    after_photo_id: int | None = Field(default=None, foreign_key="photos.id")
    sessions_used: int
    was_settled: bool
    next_step: str
    note: str = ""
    judged_on: date
    judged_by: int = Field(foreign_key="members.id")
    by_treating_artist: bool
    judged_at: datetime

    @property
    def counts(self) -> str:
        """The grade that counts: the worse of the two lights."""
        return min((self.grade, self.grade_second_light or self.grade), key=GRADES.index)
