"""Asking a clinician for a letter, and what came of it."""

from datetime import date

from sqlmodel import Session

from app.intake import queries, wait_actions
from app.intake.clearing import finding_key
from app.intake.decision_actions import settle
from app.intake.grading import today
from app.intake.letter_forms import AskForLetter, LetterAnswer
from app.intake.models import Finding, LetterRequest, Screening
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.records import attachment_actions, tasks
from app.records import queries as records
from app.records.attachment_forms import ReadLetter
from app.records.models import Attachment, Case


def may_be_asked(finding: Finding) -> bool:
    """Whether a letter can lift it, or a clinician's answer opens the way to the client's own decision."""
    return finding.kind != "legal_bar" and "letter" in finding.proofs.split()


@audited("intake.letter.asked")
def ask_for_letter(db: Session, screening: Screening, form: AskForLetter, *, by: Actor) -> LetterRequest:
    """A letter asked for about chosen findings of a screening; it is printed from this row."""
    assert screening.id is not None
    rows = {finding_key(row.rule, row.scar_key): row for row in queries.findings_of(db, screening.id)}
    keys = list(dict.fromkeys(form.findings))
    if not keys:
        raise Refused("findings", "Choose at least one finding to ask about.")
    if any(key not in rows or not may_be_asked(rows[key]) for key in keys):
        raise Refused("findings", "A letter does not lift one of these. Choose again.")
    request = LetterRequest(
        case_id=screening.case_id,
        screening_id=screening.id,
        findings=canonical(keys),
        to_whom=form.to_whom,
        asked_on=today(db),
        asked_by=by.id,
        asked_at=clock.now(),
    )
    db.add(request)
    db.flush()
    about(db, request)
    return request


@audited("intake.letter.answered")
def record_answer(
    db: Session, request: LetterRequest, form: LetterAnswer, letter: Attachment | None, *, by: Actor
) -> LetterRequest:
    """What the clinician answered. What it lifts is lifted by the rules themselves, and every zone is graded anew.

    An answer put right takes the place of the one before; the trail keeps both.
    """
    on = today(db)
    _refuse_days(form, on)
    case = db.get_one(Case, request.case_id)
    if letter is not None and letter.client_id not in records.person_ids(db, case.client_id):
        raise Refused("attachment_id", "This letter belongs to somebody else.")
    if request.answer:
        note(db, before=request.answer, before_on=request.answered_on.isoformat() if request.answered_on else "")
    request.answer, request.answered_on, request.answer_words = form.answer, form.answered_on, form.words
    request.good_until = form.good_until if form.answer == "agrees" else None
    request.attachment_id = letter.id if letter is not None else None
    request.recorded_by, request.recorded_at = by.id, clock.now()
    db.add(request)
    db.flush()
    if letter is not None and letter.read_at is None:
        read = ReadLetter(from_whom=letter.from_whom or request.to_whom, dated_on=form.answered_on,
                          expires_on=form.good_until, note=letter.note)  # fmt: skip
        attachment_actions.read_letter(db, letter, read, by=by)
    newest = queries.newest_screening(db, request.case_id)
    if newest is not None:
        settle(db, newest, case, by=by)
    _plan_end(db, request, case, on, by)
    return request


def _refuse_days(form: LetterAnswer, on: date) -> None:
    if form.answered_on > on:
        raise Refused("answered_on", "This day lies ahead.")
    if form.good_until is not None and form.answer != "agrees":
        raise Refused("good_until", "Only a letter that agrees can run out. Leave this empty.")
    if form.good_until is not None and form.good_until < max(on, form.answered_on):
        raise Refused("good_until", "This has run out already. Ask for a new one.")


def _plan_end(db: Session, request: LetterRequest, case: Case, on: date, by: Actor) -> None:
    """A task before the letter runs out; one for a day that counts no more is taken off."""
    key = wait_actions.letter_key(request)
    for task in tasks.open_tasks(db, key):
        tasks.finish_task(db, task, "The letter was put on file again.", by=by)
    if request.good_until is not None:
        address = f"/letter-requests/{request.id}"
        wait_actions.plan_letter_end(db, case, key, request.good_until, address, on, by=by)
