"""Forms and screenings, and for whom. What a screening means today is worked out under its own rules.

Proofs stand in `proofs`, what zones may have in `clearances`; the names that other domains use are given here too.
"""

import json
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.exc import NoResultFound
from sqlmodel import Session, col, select

from app.intake import findings as found_of
from app.intake import publishing
from app.intake.clearances import clearance_of, desk_line, grade_on, scars_of_zone, zone_cleared
from app.intake.clearing import finding_key
from app.intake.models import Draft, Finding, LetterRequest, Screening, Submission, Visit
from app.intake.proofs import Seen, proofs_of, seen_for
from app.intake.questions import QuestionSet
from app.intake.rescreening import joined, rescreen_answers
from app.intake.screening import screen
from app.intake.visit_days import to_stand_on, with_unasked
from app.intake.visit_list import VISIT_SET
from app.platform.links import Guest
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries
from app.studio.access import Elsewhere, NotFound, Who
from app.studio.country import country_pack

__all__ = [
    "clearance_of", "decision_mark",
    "desk_line", "filling_for_guest", "finding_for", "findings_of", "grade_on", "letter_request_for",
    "newest_screening", "open_count", "open_findings", "open_stops", "passed_of", "proofs_of", "questions_for",
    "questions_of", "scars_of_zone", "screened_on", "screening_for", "screening_for_guest", "screenings_of", "seen_of",
    "submission_of_case", "told_of", "waiting_screenings", "zone_cleared",
]  # fmt: skip

QUESTIONS_KIND = publishing.QUESTIONS_KIND


@dataclass(frozen=True)
class Filling:
    """A form that a client is filling in, or has sent."""

    submission: Submission
    answers: dict[str, Any]
    questions: QuestionSet
    version: int  # of the draft: counts up with each change
    pages: dict[str, Any]  # by page: which open page wrote it last, and what was typed there in vain
    before: dict[str, Any] = field(default_factory=dict)  # what was answered for the same visit before
    before_on: date | None = None

    @property
    def id(self) -> int:
        return self.submission.id or 0

    @property
    def is_visit(self) -> bool:
        return self.submission.kind == "visit"

    @property
    def is_sent(self) -> bool:
        return self.submission.submitted_at is not None


@dataclass(frozen=True)
class Waiting:
    """A screening on which nobody has decided yet."""

    screening: Screening
    case: Case
    client: Client


def filling_for_guest(db: Session, guest: Guest) -> Filling:
    submission = db.get(Submission, guest.subject_id)
    if submission is None or submission.id is None:
        raise NotFound
    case = db.get_one(Case, submission.case_id)
    if case.client_id != guest.client_id:
        raise NotFound
    if not is_asked(db, guest):
        raise Elsewhere("/intake/call")
    draft = db.get(Draft, submission.id) or Draft(submission_id=submission.id, saved_at=submission.asked_at)
    return Filling(
        submission,
        json.loads(draft.answers),
        questions_for(db, submission),
        draft.version,
        json.loads(draft.pages),
        *answered_before(db, submission),
    )


def answered_before(db: Session, form: Submission) -> tuple[dict[str, Any], date | None]:
    """What was answered for the same visit before this form, to be shown beside each question, and on which day."""
    if form.visit_id is None:
        return {}, None
    wanted = select(Submission).where(Submission.visit_id == form.visit_id, Submission.id != form.id)
    wanted = wanted.where(col(Submission.submitted_at).is_not(None)).order_by(col(Submission.id).desc())
    before = db.exec(wanted.limit(1)).first()
    if before is None or before.submitted_at is None:
        return {}, None
    zone = ZoneInfo(studio_queries.studio(db).time_zone)
    return json.loads(before.answers), before.submitted_at.astimezone(zone).date()


def is_asked(db: Session, guest: Guest) -> bool:
    """Whether a form is still to be filled in or read: the short one not while the client is on hold, nor when nobody
    comes."""
    submission = db.get(Submission, guest.subject_id)
    if submission is None or submission.visit_id is None or submission.submitted_at is not None:
        return True
    is_cancelled = db.get_one(Visit, submission.visit_id).cancelled_at is not None
    return not is_cancelled and records.kept_client(db, guest.client_id).held_at is None


def screening_for_guest(db: Session, guest: Guest) -> Screening:
    """The result of the form that this pass is for."""
    filling = filling_for_guest(db, guest)
    screening = db.exec(select(Screening).where(Screening.submission_id == filling.submission.id)).first()
    if screening is None:
        raise NotFound
    return screening


def submission_of_case(db: Session, case_id: int) -> Submission | None:
    """The newest whole form of a case, sent or not; an answer put right and a short form are no form of their own."""
    wanted = select(Submission).where(Submission.case_id == case_id, Submission.kind == "full")
    return db.exec(wanted.order_by(col(Submission.id).desc()).limit(1)).first()


def base_of(db: Session, case_id: int) -> Submission | None:
    """The newest answers of a whole form, put right or not: what short ones are laid over."""
    wanted = select(Submission).where(Submission.case_id == case_id, col(Submission.submitted_at).is_not(None))
    wanted = wanted.where(col(Submission.kind).in_(("full", "change")))
    return db.exec(wanted.order_by(col(Submission.id).desc()).limit(1)).first()


def screening_for(db: Session, who: Who, screening_id: int) -> Screening:
    screening = db.get(Screening, screening_id)
    if screening is None:
        raise NotFound
    records.case_for(db, who, screening.case_id)
    return screening


def screenings_of(db: Session, case_id: int) -> list[Screening]:
    """The screenings of a case, newest first."""
    return list(db.exec(select(Screening).where(Screening.case_id == case_id).order_by(col(Screening.id).desc())).all())


def newest_screening(db: Session, case_id: int) -> Screening | None:
    wanted = select(Screening).where(Screening.case_id == case_id).order_by(col(Screening.id).desc())
    return db.exec(wanted.limit(1)).first()


def passed_of(screening: Screening) -> tuple[str, ...]:
    """The keys of the waits that were gone past by its decision."""
    return tuple(json.loads(screening.passed))


def decision_mark(screening: Screening) -> str:
    """Which decision stands, to tell it from a later one; empty for none."""
    return screening.decided_at.isoformat() if screening.decided_at is not None else ""


def findings_of(db: Session, screening_id: int) -> list[Finding]:
    return list(db.exec(select(Finding).where(Finding.screening_id == screening_id).order_by(col(Finding.id))).all())


def finding_for(db: Session, who: Who, finding_id: int) -> Finding:
    finding = db.get(Finding, finding_id)
    if finding is None:
        raise NotFound
    screening_for(db, who, finding.screening_id)
    return finding


def seen_of(db: Session, finding: Finding) -> list[Seen]:
    """The proofs that name a finding, oldest first."""
    screening = db.get_one(Screening, finding.screening_id)
    return seen_for(db, screening).get(finding_key(finding.rule, finding.scar_key), [])


def letter_request_for(db: Session, who: Who, letter_request_id: int) -> LetterRequest:
    """A letter asked for in a case that this member may open."""
    request = db.get(LetterRequest, letter_request_id)
    if request is None:
        raise NotFound
    records.case_for(db, who, request.case_id)
    return request


def waiting_screenings(db: Session, who: Who) -> list[Waiting]:
    """Screenings that nobody has decided on, oldest first, of the cases this member may open."""
    waiting = []
    for screening in db.exec(select(Screening).where(Screening.decision == "").order_by(col(Screening.id))).all():
        try:
            case = records.case_for(db, who, screening.case_id)
        except NotFound:
            continue
        newest = newest_screening(db, screening.case_id)
        if newest is not None and newest.id == screening.id and case.closed_on is None:
            waiting.append(Waiting(screening, case, records.kept_client(db, case.client_id)))
    return waiting


def questions_of(db: Session, submission: Submission) -> QuestionSet:
    """The questions as they were asked."""
    if submission.questions_version == VISIT_SET.version:
        return VISIT_SET
    return publishing.questions_of(db, submission.questions_version)


def questions_for(db: Session, submission: Submission) -> QuestionSet:
    """What a guest fills in: the questions that the form was asked with, whatever was published since."""
    try:
        return questions_of(db, submission)
    except NoResultFound:
        # Asked by an earlier version of the program, which kept the questions only when the form was sent.
        return VISIT_SET if submission.kind == "visit" else publishing.current(db).questions


def told_of(db: Session, submission: Submission) -> tuple[dict[str, Any], QuestionSet]:
    """The answers that a form is screened by, with their questions: short ones are laid over the form they stand on."""
    answers, questions = json.loads(submission.answers), questions_of(db, submission)
    if submission.kind != "visit" or submission.base_id is None:
        return answers, questions
    before, asked = told_of(db, db.get_one(Submission, submission.base_id))
    # An answer put right after a visit stands on both sets already.
    both = asked if questions.keys <= asked.keys else joined(asked, questions)
    # What an earlier visit said of its own day is over, and of a scar that this visit is not about nobody was asked.
    told = to_stand_on(before)
    return rescreen_answers(told, with_unasked(told, answers), asked, questions), both


def screened_on(db: Session, screening: Screening, on: date) -> found_of.Screening:
    """The findings of the answers given then, on another day, under the rules of then and with the proofs on file."""
    answers, questions = told_of(db, db.get_one(Submission, screening.submission_id))
    return screen(
        answers,
        on=on,
        country=country_pack(screening.country),
        rule_set=publishing.rules_of(db, screening.rule_set_hash),
        evidence=proofs_of(db, screening),
        questions=questions,
    )


def open_count(db: Session, screening: Screening, on: date) -> int:
    """How many findings stand on a day that ask for more than care."""
    return sum(item.kind != "caution" for item in screened_on(db, screening, on).findings)


def open_findings(db: Session, zone_id: int, on: date, *kinds: found_of.FindingKind) -> tuple[found_of.Finding, ...]:
    """The findings that stand for a zone on a day, of some kinds, or of all."""
    zone = db.get_one(Zone, zone_id)
    screening = newest_screening(db, zone.case_id)
    if screening is None:
        return ()
    keys = {None, *(scar.key for scar in scars_of_zone(db, zone))}
    found = screened_on(db, screening, on)
    return tuple(item for item in found.findings if item.scar_id in keys and (not kinds or item.kind in kinds))


def open_stops(db: Session, zone_id: int, on: date) -> tuple[found_of.Finding, ...]:
    """What stands against any work on a zone on a day: legal bars, stops, private talks."""
    return open_findings(db, zone_id, on, "legal_bar", "stop", "talk")
