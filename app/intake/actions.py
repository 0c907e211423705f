"""Asking for a form and keeping what is filled in. What else people do with screenings is named here too: sending in
`submit_actions`, deciding and lifting in `decision_actions`, letters in `letter_actions`, grading in `grading`."""

import json
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from sqlmodel import Session

from app.intake import publishing, queries
from app.intake.change_actions import put_right
from app.intake.decision_actions import decide, lift, lift_by_decision
from app.intake.filling import carried_over
from app.intake.grading import regrade, write_evidence
from app.intake.letter_actions import ask_for_letter, record_answer
from app.intake.models import Draft, Submission
from app.intake.submit_actions import submit
from app.platform import clock, links
from app.platform.audit import SYSTEM, Actor, about, audited, canonical
from app.records import actions as records
from app.records import queries as record_queries
from app.records.forms import ChangeZone, PlaceZone
from app.records.models import Case, Zone

__all__ = [
    "ask", "ask_for_letter", "change_zone", "decide", "lift", "lift_by_decision", "place_zone", "put_right",
    "record_answer", "regrade", "save_draft", "submit", "write_evidence",
]  # fmt: skip

LINK_LASTS = timedelta(days=30)


@audited("intake.submission.asked")
def ask(db: Session, case: Case, *, by: Actor) -> tuple[Submission, str]:
    """A form and its link. A form that is not sent yet is asked for again: its answers stay, its earlier links end."""
    assert case.id is not None
    submission = queries.submission_of_case(db, case.id)
    if submission is None or submission.submitted_at is not None:
        last = submission
        # Kept whole now: who left the form open goes on with the questions it was asked with, whatever comes after.
        questions = publishing.current(db).questions
        publishing.keep_questions(db, questions, by=SYSTEM)
        submission = Submission(case_id=case.id, questions_version=questions.version, asked_at=clock.now())
        db.add(submission)
        db.flush()
        if last is not None and submission.id is not None:
            save_draft(db, submission.id, carried_over(json.loads(last.answers)))
    assert submission.id is not None
    links.revoke_all(db, "intake", submission.id, by=by)
    language = record_queries.kept_client(db, case.client_id).language
    token = links.make(db, "intake", submission.id, case.client_id, lasts=LINK_LASTS, language=language, by=by)
    about(db, submission)
    return submission, token


def save_draft(db: Session, submission_id: int, answers: Mapping[str, Any]) -> Draft:
    """Keeps the answers so far, outside the trail; they are gone when the form is sent."""
    draft = db.get(Draft, submission_id) or Draft(submission_id=submission_id, saved_at=clock.now())
    text = canonical(dict(answers))
    if draft.answers != text:
        draft.version += 1
    draft.answers, draft.saved_at = text, clock.now()
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
