from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import OFF, Row


class Submission(Row, table=True):
    """A form sent to a client; once submitted, its answers stand as they were given."""

    __tablename__ = "submissions"
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    questions_version: str
    language: str = "en"
    asked_at: datetime
    submitted_at: datetime | None = None
    answers: str = ""  # canonical JSON, set on submitting
    signature_id: int | None = Field(default=None, foreign_key="signatures.id")


class Draft(Row, table=True):
    """Answers as they are being given; not in the trail, gone on submitting."""

    __tablename__ = "drafts"
    __table_args__ = ({"info": OFF},)
    submission_id: int = Field(primary_key=True, foreign_key="submissions.id")
    answers: str = "{}"
    saved_at: datetime


class RuleSet(Row, table=True):
    """A merged set of rules as it was when a screening used it, whole, under its hash."""

    __tablename__ = "rule_sets"
    hash: str = Field(primary_key=True)
    evaluator_version: str
    body: str
    stored_at: datetime


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


class Clearance(Row, table=True):
    """What a zone may have: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work. The newest row counts."""

    __tablename__ = "clearances"
    __table_args__ = (CheckConstraint("grade BETWEEN 0 AND 3", name="grade"),)
    id: int | None = Field(default=None, primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", index=True)
    screening_id: int = Field(foreign_key="screenings.id")
    grade: int
    from_on: date
    until_on: date | None = None  # the day the first proof behind it runs out
    reasons: str = ""
    decided_by: int | None = Field(default=None, foreign_key="members.id")  # nobody: it follows from newer answers
    decided_at: datetime


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
    placed_on: date | None = None  # the day a patch or spot was placed, from which its watch counts
    source_key: str
