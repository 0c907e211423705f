"""Asking, filling in, submitting, deciding and lifting. The clearances that follow stand in `grading`."""

import json
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from sqlmodel import Session

from app.consents import actions as consents
from app.consents.texts import DECLARATION
from app.intake import findings as found_of
from app.intake import queries
from app.intake.answers import Unreadable, check_answers, missing
from app.intake.clearing import finding_key, open_waits
from app.intake.filling import carried_over
from app.intake.forms import Lifting
from app.intake.grading import keep_findings, regrade, regrade_case, today, write_evidence
from app.intake.models import Draft, Finding, RuleSet, Screening, Submission
from app.intake.question_list import QUESTION_SET
from app.intake.questions import applicable, question_set_to_dict
from app.intake.rule_set import RULE_SET
from app.intake.rules import EVALUATOR_VERSION, rule_set_to_dict
from app.intake.screening import screen, screening_to_dict
from app.platform import clock, links
from app.platform.audit import SYSTEM, Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.platform.storage import Stored
from app.records import actions as records
from app.records.forms import ChangeZone, PlaceZone
from app.records.models import Case, Client, Zone
from app.studio.country import CountryPack

__all__ = [
    "ask", "change_zone", "decide", "lift", "place_zone", "regrade", "save_draft", "submit", "write_evidence",
]  # fmt: skip

LINK_LASTS = timedelta(days=30)


@audited("intake.submission.asked")
def ask(db: Session, case: Case, *, by: Actor) -> tuple[Submission, str]:
    """A form and its link. A form that is not sent yet is asked for again: its answers stay, its earlier links end."""
    assert case.id is not None
    submission = queries.submission_of_case(db, case.id)
    if submission is None or submission.submitted_at is not None:
        last = submission
        submission = Submission(case_id=case.id, questions_version=QUESTION_SET.version, asked_at=clock.now())
        db.add(submission)
        db.flush()
        if last is not None and submission.id is not None:
            save_draft(db, submission.id, carried_over(json.loads(last.answers)))
    assert submission.id is not None
    links.revoke_all(db, "intake", submission.id, by=by)
    token = links.make(db, "intake", submission.id, case.client_id, lasts=LINK_LASTS, by=by)
    about(db, submission)
    return submission, token


def save_draft(db: Session, submission_id: int, answers: Mapping[str, Any]) -> Draft:
    """Keeps the answers so far, outside the trail; they are gone when the form is sent."""
    draft = db.get(Draft, submission_id) or Draft(submission_id=submission_id, saved_at=clock.now())
    draft.answers, draft.saved_at = canonical(dict(answers)), clock.now()
    db.add(draft)
    return draft


def place_zone(db: Session, case: Case, form: PlaceZone, *, by: Actor) -> Zone:
    """Places a zone and grades it by the scars of the screening that it is joined to."""
    zone = records.place_zone(db, case, form, by=by)
    regrade(db, zone, by=by)
    return zone


def change_zone(db: Session, zone: Zone, form: ChangeZone, *, by: Actor) -> Zone:
    """Changes a zone and grades it anew: it may be joined to other scars now."""
    records.change_zone(db, zone, form, by=by)
    regrade(db, zone, by=by)
    return zone


@audited("intake.submission.submitted")
def submit(
    db: Session,
    submission: Submission,
    answers: Mapping[str, Any],
    *,
    country: CountryPack,
    on: date,
    typed_name: str = "",
    drawing: Stored | None = None,
    permissions: Sequence[tuple[str, bool]] = (),
    by: Actor,
) -> Screening:
    """Sends the form: signed, screened under the rules of today, with everything that follows, in one step."""
    if submission.submitted_at is not None:
        raise Refused("typed_name", "This form was sent already.")
    if missing(answers):
        raise Refused("answers", "A few questions still need an answer. Go back to them first.")
    try:
        check_answers(answers, on=on)
    except Unreadable as problem:
        raise Refused("answers", f"An answer cannot be taken: {problem}") from problem
    case = db.get_one(Case, submission.case_id)
    told = {
        **applicable(answers, QUESTION_SET),
        "answered_on": on.isoformat(),
        "scars_made": answers.get("scars_made", 0),
    }
    _sign(db, submission, case, typed_name, drawing, permissions, by)
    _keep_answers(db, submission, case, told)
    found = screen(told, on=on, country=country)
    screening = _keep_screening(db, submission, found, by)
    _file_scars(db, case, told, by)
    for alert in found.alerts:
        records.raise_alert(
            db, case.client_id, kind=alert.code, words=alert.words, audience=alert.audience, source="intake", by=by
        )
    regrade_case(db, case, by)
    about(db, screening)
    return screening


def _sign(
    db: Session,
    submission: Submission,
    case: Case,
    typed_name: str,
    drawing: Stored | None,
    permissions: Sequence[tuple[str, bool]],
    by: Actor,
) -> None:
    document = consents.keep_document(db, DECLARATION.kind, DECLARATION.version, DECLARATION.text, by=by)
    signature = consents.sign(db, case.client_id, document, typed_name=typed_name, drawing=drawing, by=by)
    for kind, granted in permissions:
        consents.answer(db, case.client_id, kind, granted, signature, by=by)
    submission.signature_id = signature.id


def _keep_answers(db: Session, submission: Submission, case: Case, told: Mapping[str, Any]) -> None:
    # The questions are kept whole beside the answers, so that the form can be read as it was asked.
    questions = canonical(question_set_to_dict(QUESTION_SET))
    consents.keep_document(db, queries.QUESTIONS_KIND, QUESTION_SET.version, questions, by=SYSTEM)
    submission.questions_version, submission.answers, submission.submitted_at = (
        QUESTION_SET.version,
        canonical(dict(told)),
        clock.now(),
    )
    db.add(submission)
    draft = db.get(Draft, submission.id)
    if draft is not None:
        db.delete(draft)
    client, born_on = db.get_one(Client, case.client_id), date.fromisoformat(told["born_on"])
    if client.born_on is None:
        client.born_on = born_on
        client.revision += 1
        db.add(client)
    elif client.born_on != born_on:
        note(db, born_on_differs=True)


def _keep_screening(db: Session, submission: Submission, found: found_of.Screening, by: Actor) -> Screening:
    assert submission.id is not None
    if db.get(RuleSet, found.rule_set_version) is None:
        db.add(
            RuleSet(
                hash=found.rule_set_version,
                evaluator_version=str(EVALUATOR_VERSION),
                body=canonical(rule_set_to_dict(RULE_SET)),
                stored_at=clock.now(),
            )
        )
        db.flush()
    screening = Screening(
        submission_id=submission.id,
        case_id=submission.case_id,
        screened_on=found.on,
        country=found.country,
        rule_set_hash=found.rule_set_version,
        result=canonical(screening_to_dict(found)),
    )
    db.add(screening)
    db.flush()
    keep_findings(db, screening, found)
    return screening


def _file_scars(db: Session, case: Case, told: Mapping[str, Any], by: Actor) -> None:
    scars = [
        {
            "key": scar["id"],
            "site": scar["site"],
            "side": scar["side"],
            "happened": scar.get("happened", ""),
            "words": scar.get("words", ""),
            "kind": scar["kind"] if scar.get("kind") != "dont_know" else "",
        }
        for scar in told["scars"]
    ]
    records.declare_scars(db, case, scars, by=by)


@audited("intake.screening.decided")
def decide(
    db: Session,
    screening: Screening,
    decision: str,
    reason: str = "",
    wait_until: date | None = None,
    *,
    past_waits: bool = False,
    by: Actor,
) -> Screening:
    """An artist's decision. Accepting writes what each zone may have; a later decision takes the place of this one."""
    on = today(db)
    newest = queries.newest_screening(db, screening.case_id)
    if newest is None or newest.id != screening.id:
        raise Refused("decision", "The client answered again since. Decide on the newer answers.")
    found = queries.screened_on(db, screening, on)
    waits = open_waits(found)
    if decision == "accepted":
        _refuse_acceptance(found, waits, past_waits, reason)
    elif not reason:
        raise Refused("reason", "Say why.")
    if decision == "wait" and (wait_until is None or wait_until <= on):
        raise Refused("wait_until", "Give a day that is still to come.")
    passed = (
        [finding_key(item.rule_id, item.scar_id) for item in waits] if decision == "accepted" and past_waits else []
    )
    screening.decision, screening.reason, screening.passed = decision, reason, canonical(passed)
    screening.wait_until = wait_until if decision == "wait" else None
    screening.decided_by, screening.decided_at = by.id, clock.now()
    db.add(screening)
    note(db, reason=reason, passed_waits=passed)
    keep_findings(db, screening, found)
    regrade_case(db, db.get_one(Case, screening.case_id), by)
    return screening


def _refuse_acceptance(
    found: found_of.Screening, waits: Sequence[found_of.Finding], past_waits: bool, reason: str
) -> None:
    if found.of_kind("legal_bar"):
        raise Refused("decision", "The law stands against it, and nobody can accept past that.")
    if past_waits and not waits:
        raise Refused("decision", "No wait is open. Accept without going past one.")
    if past_waits and not reason:
        raise Refused("reason", "Say why you go past the wait. It stands on the record and in the review.")


@audited("intake.finding.lifted")
def lift(db: Session, finding: Finding, form: Lifting, *, by: Actor) -> Finding:
    """Lifts a finding by a proof its rule names; a legal bar never, and a patch or spot only by doing it."""
    on, proofs = today(db), finding.proofs.split()
    if finding.kind == "legal_bar":
        raise Refused("proof", "Nobody lifts what the law sets.")
    if form.proof not in proofs:
        raise Refused("proof", "This proof does not lift it. " + finding.what_lifts)
    if form.seen_on > on:
        raise Refused("seen_on", "This day lies ahead.")
    if form.until is not None and form.until < max(on, form.seen_on):
        raise Refused("until", "This has run out already. Ask for a new one.")
    finding.lifted_by, finding.lifted_at, finding.lifted_reason = by.id, clock.now(), form.reason
    finding.lifted_with, finding.proof_on, finding.proof_until = form.proof, form.seen_on, form.until
    db.add(finding)
    screening = db.get_one(Screening, finding.screening_id)
    regrade_case(db, db.get_one(Case, screening.case_id), by)
    return finding
