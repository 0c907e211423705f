"""Putting one answer right: a new form of its own kind, screened anew, that says who changed what and why."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlmodel import Session

from app.intake import publishing, queries
from app.intake.dates import AGO_YEARS
from app.intake.models import Screening, Submission
from app.intake.questions import QuestionSet, applicable, scars_of
from app.intake.rescreening import joined
from app.intake.submit_actions import submit
from app.intake.visit_list import VISIT_SET
from app.platform import clock
from app.platform.audit import SYSTEM, Actor, audited, note
from app.platform.forms import Refused
from app.studio.country import CountryPack

NOT_NEWEST = "The client answered again since. Put the newer answers right."
NOTHING_CHANGED = "This is what stands there already. Change the answer first."


def questions_to_put_right(db: Session, screening: Screening) -> QuestionSet:
    """The questions in use now, with the short ones where the answers hold some of them."""
    in_use = publishing.current(db).questions
    _, told = queries.told_of(db, db.get_one(Submission, screening.submission_id))
    return joined(in_use) if VISIT_SET.keys <= told.keys else in_use


@audited("intake.answer.changed")
def put_right(
    db: Session,
    screening: Screening,
    answers: Mapping[str, Any],
    why: str,
    *,
    country: CountryPack,
    on: date,
    by: Actor,
) -> Screening:
    """Keeps the corrected answers as a submission of their own, on which the newer screening stands.

    `answers` are whole. The earlier form stays as it was signed.
    """
    newest = queries.newest_screening(db, screening.case_id)
    if newest is None or newest.id != screening.id:
        raise Refused("_answers", NOT_NEWEST)
    questions = questions_to_put_right(db, screening)
    before, _ = queries.told_of(db, db.get_one(Submission, screening.submission_id))
    if applicable(answers, questions) == applicable(before, questions):
        raise Refused("_answers", NOTHING_CHANGED)
    publishing.keep_questions(db, questions, by=SYSTEM)
    submission = Submission(
        case_id=screening.case_id,
        questions_version=questions.version,
        language=db.get_one(Submission, screening.submission_id).language,
        asked_at=clock.now(),
        kind="change",
        base_id=screening.submission_id,
        why=why,
        changed_by=by.id,
    )
    db.add(submission)
    db.flush()
    note(db, why=why)
    told = {**answers, "answered_on": _answered_on(answers, before, questions, on)}
    return submit(db, submission, told, country=country, on=on, language=submission.language, by=by)


def _answered_on(after: Mapping[str, Any], before: Mapping[str, Any], questions: QuestionSet, on: date) -> str:
    """"More than 2 years ago" counts from the day it was said: from today, where it is a new answer."""
    old = {scar["id"]: scar for scar in scars_of(before)}
    places = [(after, before, False), *((scar, old.get(scar["id"], {}), True) for scar in scars_of(after))]
    for now, then, is_scar in places:
        for question in questions.questions:
            if question.about_scar is is_scar and question.kind == "date":
                value = now.get(question.field)
                if value in AGO_YEARS and value != then.get(question.field):
                    return on.isoformat()
    return str(before.get("answered_on") or on.isoformat())
