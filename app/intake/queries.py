"""Forms, screenings and clearances, and for whom. What a screening means today is worked out under its own rules."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from sqlmodel import Session, col, select

from app.consents import queries as consents
from app.intake import findings as found_of
from app.intake.clearing import Cleared, cleared, together
from app.intake.models import Clearance, Draft, Evidence, Finding, RuleSet, Screening, Submission
from app.intake.question_list import QUESTION_SET
from app.intake.questions import QuestionSet, question_set_from_dict
from app.intake.rules import LIFTING_RESULT, Proof, Result, rule_set_from_dict
from app.intake.screening import screen
from app.platform.links import Guest
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import Case, Client, DeclaredScar, Zone
from app.studio.access import NotFound, Who
from app.studio.country import country_pack

ASK_THE_ARTIST = "Ask the artist."
QUESTIONS_KIND = "intake_questions"


@dataclass(frozen=True)
class Filling:
    """A form that a client is filling in, or has sent."""

    submission: Submission
    answers: dict[str, Any]

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
    draft = db.get(Draft, submission.id)
    return Filling(submission, json.loads(draft.answers) if draft is not None else {})


def screening_for_guest(db: Session, guest: Guest) -> Screening:
    """The result of the form that this pass is for."""
    filling = filling_for_guest(db, guest)
    screening = db.exec(select(Screening).where(Screening.submission_id == filling.submission.id)).first()
    if screening is None:
        raise NotFound
    return screening


def submission_of_case(db: Session, case_id: int) -> Submission | None:
    """The newest form of a case, sent or not."""
    return db.exec(
        select(Submission).where(Submission.case_id == case_id).order_by(col(Submission.id).desc()).limit(1)
    ).first()


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
    return next(iter(screenings_of(db, case_id)), None)


def findings_of(db: Session, screening_id: int) -> list[Finding]:
    return list(db.exec(select(Finding).where(Finding.screening_id == screening_id).order_by(col(Finding.id))).all())


def finding_for(db: Session, who: Who, finding_id: int) -> Finding:
    finding = db.get(Finding, finding_id)
    if finding is None:
        raise NotFound
    screening_for(db, who, finding.screening_id)
    return finding


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
            waiting.append(Waiting(screening, case, db.get_one(Client, case.client_id)))
    return waiting


def questions_of(db: Session, submission: Submission) -> QuestionSet:
    """The questions as they were asked."""
    if submission.questions_version == QUESTION_SET.version:
        return QUESTION_SET
    kept = consents.document_of(db, QUESTIONS_KIND, submission.questions_version)
    return question_set_from_dict(json.loads(kept.text))


def screened_on(db: Session, screening: Screening, on: date) -> found_of.Screening:
    """The findings of the answers given then, on another day, under the rules of then and with the proofs on file."""
    submission = db.get_one(Submission, screening.submission_id)
    rule_set = rule_set_from_dict(json.loads(db.get_one(RuleSet, screening.rule_set_hash).body))
    return screen(
        json.loads(submission.answers),
        on=on,
        country=country_pack(screening.country),
        rule_set=rule_set,
        evidence=proofs_of(db, screening),
        questions=questions_of(db, submission),
    )


def proofs_of(db: Session, screening: Screening) -> tuple[found_of.Evidence, ...]:
    """What was seen for this screening, and the patches and spots of the client."""
    proofs = []
    for finding in findings_of(db, screening.id or 0):
        if finding.lifted_with and finding.proof_on is not None:
            kind = cast(Proof, finding.lifted_with)
            proofs.append(
                found_of.Evidence(
                    kind,
                    finding.proof_on,
                    LIFTING_RESULT[kind],
                    (finding.rule,),
                    finding.scar_key or None,
                    finding.proof_until,
                )
            )
    case = db.get_one(Case, screening.case_id)
    scars_of_zone: dict[int, list[str]] = {}
    for scar in records.declared_of(db, screening.case_id):
        if scar.zone_id is not None:
            scars_of_zone.setdefault(scar.zone_id, []).append(scar.key)
    for row in db.exec(select(Evidence).where(Evidence.client_id == case.client_id).order_by(col(Evidence.id))).all():
        keys: list[str | None] = [*scars_of_zone.get(row.zone_id or 0, [])]
        for key in [None] if row.kind == "allergy_patch" else keys:
            proofs.append(
                found_of.Evidence(
                    cast(Proof, row.kind), row.placed_on or row.seen_on, cast(Result, row.result), (), key
                )
            )
    return tuple(proofs)


def clearance_of(db: Session, zone_id: int) -> Clearance | None:
    """The newest clearance of a zone; `grade_on` says what it allows on a day."""
    return db.exec(
        select(Clearance).where(Clearance.zone_id == zone_id).order_by(col(Clearance.id).desc()).limit(1)
    ).first()


def grade_on(db: Session, zone_id: int, on: date) -> int:
    """What a zone may have on a day: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work."""
    newest = clearance_of(db, zone_id)
    if newest is None or on < newest.from_on or (newest.until_on is not None and on > newest.until_on):
        return 0
    return newest.grade


def scars_of_zone(db: Session, zone: Zone) -> list[DeclaredScar]:
    return [scar for scar in records.declared_of(db, zone.case_id) if scar.zone_id == zone.id]


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


def zone_cleared(
    db: Session, screening: Screening, zone: Zone, found: found_of.Screening, decided_on: date
) -> Cleared | None:
    """What a zone may have by a screening, or None where none of its scars was screened."""
    known = {scar.scar_id for scar in found.scars}
    keys = [scar.key for scar in scars_of_zone(db, zone) if scar.key in known]
    passed = json.loads(screening.passed)
    return together([cleared(found, key, passed=passed, from_on=decided_on) for key in keys]) if keys else None


def desk_line(db: Session, case_id: int, on: date) -> str:
    """What the desk may know for booking: "Not before DATE.", "Ask the artist.", or nothing that stands against it."""
    screening = newest_screening(db, case_id)
    if screening is None or screening.decision in ("", "declined"):
        return ASK_THE_ARTIST
    is_sensitive = any(finding.is_sensitive for finding in findings_of(db, screening.id or 0))
    if screening.decision == "wait":
        return _not_before(screening.wait_until, on, is_sensitive)
    newest = [clearance_of(db, zone.id or 0) for zone in records.zones_of(db, case_id)]
    standing = [
        row for row in newest if row is not None and row.grade > 0 and (row.until_on is None or row.until_on >= on)
    ]
    if not standing:
        return ASK_THE_ARTIST
    first = min(row.from_on for row in standing)
    return "" if first <= on else _not_before(first, on, is_sensitive)


def _not_before(day: date | None, on: date, is_sensitive: bool) -> str:
    if day is None or day <= on or is_sensitive:
        return ASK_THE_ARTIST
    return f"Not before {day_words(day)}."
