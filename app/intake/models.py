from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import OFF, Row


class Submission(Row, table=True):
    """A form sent to a client; once submitted, its answers stand as they were given."""

    __tablename__ = "submissions"
    __table_args__ = (CheckConstraint("kind IN ('full', 'visit', 'change')", name="kind"),)
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    questions_version: str
    language: str = "en"
    asked_at: datetime
    submitted_at: datetime | None = None
    answers: str = ""  # canonical JSON, set on submitting
    signature_id: int | None = Field(default=None, foreign_key="signatures.id")
    kind: str = "full"  # the whole form; the short set before a visit; or one answer put right
    base_id: int | None = Field(default=None, foreign_key="submissions.id")  # the answers on which these stand
    visit_id: int | None = Field(default=None, foreign_key="visits.id", index=True)
    stage: str = ""  # of a visit: the evening before, or at arrival
    why: str = ""  # why an answer was put right, and by whom below
    changed_by: int | None = Field(default=None, foreign_key="members.id")


class Visit(Row, table=True):
    """A day on which a client comes, for which the short questions are asked."""

    __tablename__ = "visits"
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    planned_on: date = Field(index=True)
    planned_at: str = ""  # HH:MM where the studio stands
    made_by: int | None = Field(default=None, foreign_key="members.id")
    made_at: datetime
    cancelled_at: datetime | None = None
    cancelled_why: str = ""
    revision: int = 1


class VisitZone(Row, table=True):
    __tablename__ = "visit_zones"
    visit_id: int = Field(foreign_key="visits.id", primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", primary_key=True, index=True)


class Draft(Row, table=True):
    """Answers as they are being given; not in the trail, gone on submitting."""

    __tablename__ = "drafts"
    __table_args__ = ({"info": OFF},)
    submission_id: int = Field(primary_key=True, foreign_key="submissions.id")
    answers: str = "{}"
    version: int = 0  # counts up with each change, so that nobody signs answers that they did not look through
    pages: str = "{}"  # canonical JSON, page by page: which open page wrote it last, and what it typed in vain
    saved_at: datetime


class RuleSet(Row, table=True):
    """A merged set of rules as it was when a screening used it, whole, under its hash."""

    __tablename__ = "rule_sets"
    hash: str = Field(primary_key=True)
    evaluator_version: str
    body: str
    stored_at: datetime


class RuleChange(Row, table=True):
    """An owner's change to one shipped rule; it counts from the next publication until it is ended."""

    __tablename__ = "rule_changes"
    id: int | None = Field(default=None, primary_key=True)
    rule: str = Field(index=True)
    body: str  # canonical JSON of the change
    reason: str
    changed_by: int | None = Field(default=None, foreign_key="members.id")
    changed_at: datetime
    ended_at: datetime | None = None
    ended_by: int | None = Field(default=None, foreign_key="members.id")


class QuestionChange(Row, table=True):
    """An owner's change to the questions: an optional one left out, or one of their own added."""

    __tablename__ = "question_changes"
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(index=True)
    body: str  # canonical JSON of the change
    reason: str
    changed_by: int | None = Field(default=None, foreign_key="members.id")
    changed_at: datetime
    ended_at: datetime | None = None
    ended_by: int | None = Field(default=None, foreign_key="members.id")


class Publication(Row, table=True):
    """The rules and questions put into use from a moment on; the newest counts, and screenings keep theirs."""

    __tablename__ = "publications"
    id: int | None = Field(default=None, primary_key=True)
    rule_set_hash: str = Field(foreign_key="rule_sets.hash")
    questions_version: str
    note: str = ""
    published_by: int | None = Field(default=None, foreign_key="members.id")
    published_at: datetime


class Screening(Row, table=True):
    """The result of a submission, and what an artist decided on it."""

    __tablename__ = "screenings"
    __table_args__ = (CheckConstraint("decision IN ('', 'accepted', 'wait', 'declined')", name="decision"),)
    id: int | None = Field(default=None, primary_key=True)
    submission_id: int = Field(foreign_key="submissions.id", unique=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    screened_on: date
    country: str
    rule_set_hash: str = Field(foreign_key="rule_sets.hash")
    result: str  # canonical JSON of the whole result
    decision: str = ""
    decided_by: int | None = Field(default=None, foreign_key="members.id")
    decided_at: datetime | None = None
    reason: str = ""
    wait_until: date | None = None
    previous_id: int | None = Field(default=None, foreign_key="screenings.id")  # the one before, of the same case
    changes: str = "{}"  # canonical JSON: what changed since the one before, in answers and in findings
    passed: str = "[]"  # canonical JSON: the waits that were gone past, each "rule" or "rule/scar"


class Finding(Row, table=True):
    __tablename__ = "findings"
    __table_args__ = (
        CheckConstraint("kind IN ('legal_bar', 'stop', 'wait', 'test', 'caution', 'talk')", name="kind"),
        UniqueConstraint("screening_id", "rule", "scar_key"),
    )
    id: int | None = Field(default=None, primary_key=True)
    screening_id: int = Field(foreign_key="screenings.id", index=True)
    rule: str
    kind: str
    scar_key: str = ""  # empty: about the client
    title: str
    because: str
    allows: str
    reason: str
    source: str
    what_lifts: str
    client_summary: str
    clear_from: date | None = None
    floor_until: date | None = None
    proofs: str = ""  # what lifts it, one word each: letter, talk, …
    is_sensitive: bool = False
    needs_letter: bool = False
    lifted_with: str = ""  # the proof that was seen
    proof_on: date | None = None
    proof_until: date | None = None
    lifted_by: int | None = Field(default=None, foreign_key="members.id")
    lifted_at: datetime | None = None
    lifted_reason: str = ""
    carried_from: int | None = Field(default=None, foreign_key="findings.id")  # lifted there, and the proof still holds


class Clearance(Row, table=True):
    """What a zone may have: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work. The newest row counts."""

    __tablename__ = "clearances"
    __table_args__ = (CheckConstraint("grade BETWEEN 0 AND 3", name="grade"),)
    id: int | None = Field(default=None, primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    screening_id: int = Field(foreign_key="screenings.id")
    grade: int
    from_on: date
    patch_from: date | None = None  # the first day of each grade; empty: not by time alone
    spot_from: date | None = None
    full_from: date | None = None
    until_on: date | None = None  # the day the first proof behind it runs out
    reasons: str = ""
    decided_by: int | None = Field(default=None, foreign_key="members.id")  # nobody: it follows from newer answers
    decided_at: datetime

    @property
    def days(self) -> tuple[date | None, date | None, date | None]:
        """The first day of a patch, a spot and full work. A row from before they were kept has one day for all."""
        days = (self.patch_from, self.spot_from, self.full_from)
        if self.grade == 0 or any(days):
            return days
        patch, spot, full = (self.from_on if grade <= self.grade else None for grade in (1, 2, 3))
        return patch, spot, full

    def grade_on(self, on: date) -> int:
        """The most that may be done on a day."""
        if self.until_on is not None and on > self.until_on:
            return 0
        return max((grade for grade, day in enumerate(self.days, 1) if day is not None and day <= on), default=0)


class Evidence(Row, table=True):
    """The result of a patch, a spot or a letter, written down by the domain that saw it."""

    __tablename__ = "evidence"
    __table_args__ = (UniqueConstraint("kind", "source_key"),)
    id: int | None = Field(default=None, primary_key=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    zone_id: int | None = Field(default=None, foreign_key="zones.id", index=True)
    kind: str
    result: str
    seen_on: date
    read_by: int | None = Field(default=None, foreign_key="members.id")
    may_read_from: date | None = None  # the day its waiting time was over
    note: str = ""
    placed_on: date | None = None  # the day a patch or spot was placed, from which its watch counts
    source_key: str


class LetterRequest(Row, table=True):
    """A clinician's letter that was asked for, about which findings, and what came of it."""

    __tablename__ = "letter_requests"
    __table_args__ = (CheckConstraint("answer IN ('', 'agrees', 'declines', 'advises_against')", name="answer"),)
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    screening_id: int = Field(foreign_key="screenings.id", index=True)
    findings: str  # canonical JSON: the findings it is about, each "rule" or "rule/scar"
    to_whom: str = ""
    asked_on: date
    asked_by: int | None = Field(default=None, foreign_key="members.id")
    asked_at: datetime
    answer: str = ""
    answered_on: date | None = None
    good_until: date | None = None
    attachment_id: int | None = Field(default=None, foreign_key="attachments.id")
    answer_words: str = ""
    recorded_by: int | None = Field(default=None, foreign_key="members.id")
    recorded_at: datetime | None = None
