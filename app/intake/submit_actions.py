"""Sending a form: signed where the client sends it, screened under the rules of the day, held against what was before.

A short form before a visit that says nothing new takes over the decision that stood, so that a truthful "nothing new"
needs no second one. Anything new waits for a decision, and nothing starts until then. A lift whose proof still holds is
carried over to the same finding, as long as it rests on the same kind of answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session

from app.consents import actions as consents
from app.consents.papers import hash_of
from app.consents.texts import FIRST_KINDS
from app.intake import findings as found_of
from app.intake import publishing, queries, wait_actions
from app.intake.alerts_raised import follow_answers
from app.intake.answers import Unreadable, check_answers, missing
from app.intake.clearing import finding_key
from app.intake.decision_actions import follow_up
from app.intake.grading import keep_findings, regrade_case
from app.intake.models import Draft, Screening, Submission
from app.intake.questions import QuestionSet, applicable
from app.intake.rescreening import Changes, answer_changes, changes
from app.intake.screening import screen, screening_to_dict
from app.platform import clock
from app.platform.audit import SYSTEM, Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.platform.pages import day_words
from app.platform.storage import Stored
from app.records import actions as records
from app.records.models import Case, Client
from app.studio.country import CountryPack

SENT_ALREADY = "This form was sent already."
GAPS = "A few questions still need an answer. Go back to them first."
CANNOT_BE_TAKEN = "An answer cannot be taken. Look through your answers once more."


@dataclass(frozen=True)
class Signed:
    """How a form was signed: the name or the drawing, and which text in which language stood above it."""

    typed_name: str
    drawing: Stored | None
    strokes: str
    typed_reason: str
    permissions: Sequence[tuple[str, bool]]
    language: str
    text_version: str


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
    strokes: str = "",
    typed_reason: str = "",
    permissions: Sequence[tuple[str, bool]] = (),
    language: str = "en",
    text_version: str = "",
    by: Actor,
) -> Screening:
    """Sends the form: signed, screened under the rules of today, with everything that follows, in one step."""
    if submission.submitted_at is not None:
        raise Refused("typed_name", SENT_ALREADY)
    questions = queries.questions_for(db, submission)
    if submission.kind != "change" and missing(answers, questions):
        raise Refused("answers", GAPS)
    try:
        check_answers(answers, on=on, questions=questions)
    except Unreadable as problem:
        note(db, unreadable=str(problem))
        raise Refused("answers", CANNOT_BE_TAKEN) from problem
    case = db.get_one(Case, submission.case_id)
    if submission.kind == "visit" and (base := queries.base_of(db, submission.case_id)) is not None:
        submission.base_id = base.id  # a whole form may have come in since these were asked for
    told = _told(answers, questions, on, keeps_day=submission.kind == "change")
    # Short questions that an artist asked aloud stand under the name of who asked.
    if submission.kind != "change" and submission.changed_by is None:
        signed = Signed(typed_name, drawing, strokes, typed_reason, permissions, language, text_version)
        _sign(db, submission, case, signed, told, by)
    submission.language = language
    _keep_answers(db, submission, case, told, questions)
    screening = _screen(db, submission, case, country, on, by)
    about(db, screening)
    return screening


def _told(answers: Mapping[str, Any], questions: QuestionSet, on: date, *, keeps_day: bool) -> dict[str, Any]:
    """The answers as they are kept. One put right keeps the day of the others, from which "2 years ago" counts."""
    answered_on = answers.get("answered_on") if keeps_day else None
    return {
        **applicable(answers, questions),
        "answered_on": answered_on or on.isoformat(),
        "scars_made": answers.get("scars_made", 0),
    }


def _sign(
    db: Session,
    submission: Submission,
    case: Case,
    signed: Signed,
    told: Mapping[str, Any],
    by: Actor,
) -> None:
    """The signature stands under these answers to these questions and no others: their hash is in its paper."""
    assert submission.id is not None
    signature = consents.sign_declaration(
        db,
        case.client_id,
        typed_name=signed.typed_name,
        drawing=signed.drawing,
        strokes=signed.strokes,
        typed_reason=signed.typed_reason,
        language=signed.language,
        text_version=signed.text_version,
        permissions=signed.permissions,
        asked=() if submission.kind == "visit" else FIRST_KINDS,
        case_id=case.id,
        concerning={"form": submission.id, "answers_sha256": hash_of(canonical(dict(told)))},
        by=by,
    )
    submission.signature_id = signature.id


def _keep_answers(
    db: Session, submission: Submission, case: Case, told: Mapping[str, Any], questions: QuestionSet
) -> None:
    # The questions are kept whole beside the answers, so that the form can be read as it was asked.
    publishing.keep_questions(db, questions, by=SYSTEM)
    submission.questions_version, submission.answers = questions.version, canonical(dict(told))
    submission.submitted_at = clock.now()
    db.add(submission)
    draft = db.get(Draft, submission.id)
    if draft is not None:
        db.delete(draft)
    db.flush()
    if "born_on" not in told:
        return
    client, born_on = db.get_one(Client, case.client_id), date.fromisoformat(told["born_on"])
    if client.born_on is None:
        client.born_on = born_on
        client.revision += 1
        db.add(client)
    elif client.born_on != born_on:
        note(db, born_on_differs=True)


def _screen(
    db: Session, submission: Submission, case: Case, country: CountryPack, on: date, by: Actor
) -> Screening:
    answers, questions = queries.told_of(db, submission)
    rule_set = publishing.rules_for(publishing.current(db), questions)
    found = screen(answers, on=on, country=country, rule_set=rule_set, questions=questions)
    before = queries.newest_screening(db, submission.case_id)
    publishing.keep_rule_set(db, rule_set)
    screening = _keep_screening(db, submission, found, before)
    changed = _hold_against(db, screening, before, on) if before is not None else None
    if submission.kind != "visit":
        _file_scars(db, case, answers, by)
    follow_answers(db, case, found, before, rule_set, kind=submission.kind, by=by)
    if before is not None:
        wait_actions.end_plans(db, before, by=by)
    if submission.kind == "visit" and before is not None and changed is not None:
        _take_over(db, screening, before, changed, on)
    regrade_case(db, case, by)
    if screening.decision:
        follow_up(db, screening, queries.screened_on(db, screening, on), on, by=by)
    return screening


def _keep_screening(
    db: Session, submission: Submission, found: found_of.Screening, before: Screening | None
) -> Screening:
    assert submission.id is not None
    screening = Screening(
        submission_id=submission.id,
        case_id=submission.case_id,
        screened_on=found.on,
        country=found.country,
        rule_set_hash=found.rule_set_version,
        result=canonical(screening_to_dict(found)),
        previous_id=before.id if before is not None else None,
    )
    db.add(screening)
    db.flush()
    keep_findings(db, screening, found)
    if before is not None:
        _carry_lifts(db, before, screening, found.on)
    return screening


def _carry_lifts(db: Session, before: Screening, screening: Screening, on: date) -> None:
    """A lift holds on for the same finding on the same kind of answer, until its proof runs out."""
    lifted = {
        finding_key(row.rule, row.scar_key): row
        for row in queries.findings_of(db, before.id or 0)
        if row.lifted_with and (row.proof_until is None or row.proof_until >= on)
    }
    for row in queries.findings_of(db, screening.id or 0):
        held = lifted.get(finding_key(row.rule, row.scar_key))
        if held is None or held.because != row.because or held.lifted_with not in row.proofs.split():
            continue
        row.lifted_with, row.proof_on, row.proof_until = held.lifted_with, held.proof_on, held.proof_until
        row.lifted_by, row.lifted_at, row.lifted_reason = held.lifted_by, held.lifted_at, held.lifted_reason
        row.carried_from = held.id
        db.add(row)
    db.flush()


def _hold_against(db: Session, screening: Screening, before: Screening, on: date) -> Changes:
    """What differs from the screening before, both as they stand today with their proofs; kept with the newer one."""
    changed = changes(queries.screened_on(db, before, on), queries.screened_on(db, screening, on))
    old, _ = queries.told_of(db, db.get_one(Submission, before.submission_id))
    new, questions = queries.told_of(db, db.get_one(Submission, screening.submission_id))
    screening.changes = canonical(
        {
            "answers": [
                {"key": one.key, "scar_id": one.scar_id, "question": one.question, "before": one.before,
                 "after": one.after}
                for one in answer_changes(old, new, questions)
            ],
            "come": [_finding(item) for item in changed.come],
            "gone": [_finding(item) for item in changed.gone],
            "moved": [
                {**_finding(one.after), "before": _day(one.before.clear_from), "because_before": one.before.because}
                for one in changed.moved
            ],
            "full_from": [_day(day) for day in changed.full_from],
        }
    )  # fmt: skip
    db.add(screening)
    return changed


def _finding(item: found_of.Finding) -> dict[str, Any]:
    return {"rule": item.rule_id, "scar_id": item.scar_id, "title": item.title, "kind": item.kind,
            "because": item.because, "after": _day(item.clear_from)}  # fmt: skip


def _day(day: date | None) -> str:
    return day.isoformat() if day is not None else ""


def _take_over(db: Session, screening: Screening, before: Screening, changed: Changes, on: date) -> None:
    """The decision that stood goes on to stand where nothing new was said; it is nobody's second decision."""
    if not before.decision or changed.come or changed.moved:
        return
    if before.decision == "wait" and (before.wait_until is None or before.wait_until <= on):
        return
    screening.decision, screening.wait_until, screening.passed = before.decision, before.wait_until, before.passed
    screening.decided_by, screening.decided_at = before.decided_by, clock.now()
    words = f"Nothing new since the answers of {day_words(before.screened_on)}."
    screening.reason = words if before.reason.startswith("Nothing new since") or not before.reason else (
        f"{words} Then: {before.reason}"[:2000]
    )
    db.add(screening)
    note(db, taken_over_from=before.id, decided_by="system")


def _file_scars(db: Session, case: Case, told: Mapping[str, Any], by: Actor) -> None:
    scars = [
        {
            "key": scar["id"],
            "site": scar["site"],
            "side": scar["side"],
            "happened": scar.get("happened", ""),
            "words": scar.get("words", ""),
            "kind": scar["kind"] if scar.get("kind") not in (None, "dont_know") else "",
        }
        for scar in told["scars"]
    ]
    records.declare_scars(db, case, scars, by=by)
