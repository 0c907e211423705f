"""Planning a visit, changing and cancelling it, and asking its short questions: the evening before and at arrival.

Nothing is sent where a word to the client could tell somebody else what it is about: of a sensitive case the artist
gets a task to ask at arrival. What cannot be sent for another reason is asked at arrival, too, and the visit says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from app.intake import publishing, queries, visit_queries
from app.intake.answers import pages, parse_topic
from app.intake.filling import flat
from app.intake.models import Draft, Screening, Submission, Visit, VisitZone
from app.intake.submit_actions import submit
from app.intake.visit_days import EVENING_AT, FURTHEST, Asking, end_of, evening_of, may_ask_evening, prefix_of
from app.intake.visit_forms import ChangeVisit, PlanVisit
from app.intake.visit_list import VISIT_SET
from app.messages import actions as messages
from app.messages import queries as message_queries
from app.platform import clock, links
from app.platform.audit import SYSTEM, Actor, about, audited, canonical, note
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.records import queries as records
from app.records import tasks
from app.records.models import Case, Zone
from app.studio import queries as studio_queries
from app.studio.country import CountryPack
from app.studio.models import Studio

CHANGED = "The visit was changed."
TASK_WORDS = "Ask the short questions at arrival: nothing is sent to this client."
NO_FORM = "The whole form comes first: nothing was answered yet."


@audited("intake.visit.planned")
def plan_visit(
    db: Session, case: Case, form: PlanVisit, zones: Sequence[Zone], *, by: Actor
) -> Visit:
    """A day for a case; its short questions go out the evening before, where that evening is still to come."""
    assert case.id is not None
    _refuse(db, case, form.planned_on, zones, None)
    visit = Visit(
        case_id=case.id, planned_on=form.planned_on, planned_at=form.planned_at, made_by=by.id, made_at=clock.now()
    )  # fmt: skip
    db.add(visit)
    db.flush()
    for zone in zones:
        db.add(VisitZone(visit_id=visit.id or 0, zone_id=zone.id or 0))
    about(db, visit)
    _ask_ahead(db, visit, case, by)
    return visit


def _refuse(db: Session, case: Case, planned_on: date, zones: Sequence[Zone], visit: Visit | None) -> None:
    on = clock.today(studio_queries.studio(db).time_zone)
    if case.closed_on is not None:
        raise Refused("planned_on", "The case is closed.")
    if records.kept_client(db, case.client_id).held_at is not None:
        raise Refused("planned_on", "The client is on hold.")
    if planned_on < on:
        raise Refused("planned_on", "This day is over.")
    if planned_on - on > FURTHEST:
        raise Refused("planned_on", "This is more than two years ahead. Check the year.")
    if not zones:
        raise Refused("zones", "Choose at least one zone. Where there is none yet, an artist places the first.")
    known = visit_queries.visit_on(db, case.id or 0, planned_on)
    if known is not None and (visit is None or known.id != visit.id):
        raise Refused("planned_on", "A visit of this case is planned for that day already.")


@audited("intake.visit.changed")
def change_visit(db: Session, visit: Visit, form: ChangeVisit, zones: Sequence[Zone], *, by: Actor) -> Visit:
    """Another day, another hour, other zones. Answers belong to their day: where some were given, a visit that moves
    is cancelled and planned anew."""
    _refuse_over(visit)
    case, moves = db.get_one(Case, visit.case_id), form.planned_on != visit.planned_on
    take_revision(visit, form.revision)
    _refuse(db, case, form.planned_on, zones, visit)
    if moves and any(row.submitted_at is not None for row in visit_queries.short_forms(db, visit)):
        cancel_visit(db, visit, "Moved to another day.", by=by)
        return plan_visit(db, case, form, zones, by=by)
    _set_zones(db, visit, zones)
    visit.planned_on, visit.planned_at = form.planned_on, form.planned_at
    db.add(visit)
    db.flush()
    about(db, visit)
    unsent = visit_queries.form_to_fill(db, visit)
    if unsent is not None:
        _write_draft(db, unsent, visit_queries.draft_for(db, visit))
    if moves:
        _end_plans(db, visit, CHANGED, by)
        _ask_ahead(db, visit, case, by)
    return visit


def _set_zones(db: Session, visit: Visit, zones: Sequence[Zone]) -> None:
    wanted = {zone.id or 0 for zone in zones}
    for row in db.exec(select(VisitZone).where(VisitZone.visit_id == visit.id)).all():
        if row.zone_id in wanted:
            wanted.discard(row.zone_id)
        else:
            db.delete(row)
    for zone_id in sorted(wanted):
        db.add(VisitZone(visit_id=visit.id or 0, zone_id=zone_id))
    db.flush()


def _refuse_over(visit: Visit) -> None:
    if visit.cancelled_at is not None:
        raise Refused("planned_on", "This visit was cancelled. Plan a new one.")


@audited("intake.visit.cancelled")
def cancel_visit(db: Session, visit: Visit, why: str, *, by: Actor) -> Visit:
    """Nothing is asked any more; what was answered stays on file."""
    _refuse_over(visit)
    visit.cancelled_at, visit.cancelled_why = clock.now(), why
    visit.revision += 1
    db.add(visit)
    _end_plans(db, visit, "The visit was cancelled.", by)
    for form in visit_queries.short_forms(db, visit):
        links.revoke_all(db, "intake", form.id or 0, by=by)
    about(db, visit)
    return visit


def _end_plans(db: Session, visit: Visit, reason: str, by: Actor) -> None:
    key = visit_queries.course_key(visit)
    if any(row.state == "planned" for row in message_queries.of_course(db, key)):
        messages.cancel(db, key, reason=reason, by=by)
    for task in tasks.open_tasks(db, key):
        tasks.finish_task(db, task, reason, by=by)


def _ask_ahead(db: Session, visit: Visit, case: Case, by: Actor) -> None:
    """Plans the note of the evening before, or a task to ask at arrival where nothing may be written."""
    studio = studio_queries.studio(db)
    if visit_queries.is_sensitive(db, visit):
        key = visit_queries.course_key(visit)
        tasks.plan_task(
            db, unique_key=f"{key}/ask/{tasks.count_of(db, key) + 1}", client_id=case.client_id, case_id=case.id,
            kind="ask", words=TASK_WORDS, address=f"/visits/{visit.id}", due_on=visit.planned_on, by=by,
        )  # fmt: skip
        return
    if not may_ask_evening(visit.planned_on, clock.now(), studio.time_zone, messages.LATEST_AT):
        return
    if queries.base_of(db, visit.case_id) is not None:
        _plan_note(db, visit, case, studio, by)


def _plan_note(db: Session, visit: Visit, case: Case, studio: Studio, by: Actor) -> None:
    form, key = _form(db, visit, "evening"), visit_queries.course_key(visit)
    messages.plan(
        db, unique_key=f"{key}/evening/{len(message_queries.of_course(db, key)) + 1}", client_id=case.client_id,
        template="short_questions", purpose="intake", subject_id=form.id or 0, due_on=evening_of(visit.planned_on),
        time_zone=studio.time_zone, opens_at=EVENING_AT, course_key=key, by=by,
    )  # fmt: skip


def _form(db: Session, visit: Visit, stage: str) -> Submission:
    """The short form that is open, or a new one. One that was begun at home is gone on with at arrival."""
    draft, form = visit_queries.draft_for(db, visit), visit_queries.form_to_fill(db, visit)
    base = queries.base_of(db, visit.case_id)
    if base is None:
        raise Refused("_form", NO_FORM)
    if form is not None:
        form.base_id = base.id
        form.stage = stage
        db.add(form)
        return form
    client = records.kept_client(db, db.get_one(Case, visit.case_id).client_id)
    publishing.keep_questions(db, VISIT_SET, by=SYSTEM)
    form = Submission(
        case_id=visit.case_id, questions_version=VISIT_SET.version, language=client.language, asked_at=clock.now(),
        kind="visit", base_id=base.id, visit_id=visit.id, stage=stage,
    )  # fmt: skip
    db.add(form)
    db.flush()
    _write_draft(db, form, draft)
    return form


def _write_draft(db: Session, form: Submission, answers: Mapping[str, Any]) -> None:
    draft = db.get(Draft, form.id) or Draft(submission_id=form.id or 0, saved_at=clock.now())
    text = canonical(dict(answers))
    draft.version += draft.answers != text
    draft.answers, draft.saved_at = text, clock.now()
    db.add(draft)
    db.flush()


def _refuse_arrival(db: Session, visit: Visit, on: date) -> None:
    _refuse_over(visit)
    if records.kept_client(db, db.get_one(Case, visit.case_id).client_id).held_at is not None:
        raise Refused("_form", "The client is on hold.")
    if visit.planned_on != on:
        raise Refused("_form", "The short questions are asked again on the day of the visit.")


@audited("intake.visit.asked")
def ask_at_arrival(db: Session, visit: Visit, *, by: Actor) -> str:
    """The token of a link to the short questions of today, which begin with what was answered for this visit."""
    studio = studio_queries.studio(db)
    _refuse_arrival(db, visit, clock.today(studio.time_zone))
    form, case = _form(db, visit, "arrival"), db.get_one(Case, visit.case_id)
    about(db, visit)
    links.revoke_all(db, "intake", form.id or 0, by=by)
    lasts = end_of(visit.planned_on, studio.time_zone) - clock.now()
    return links.make(db, "intake", form.id or 0, case.client_id, lasts=lasts, language=form.language, by=by)


@audited("intake.visit.taken_in")
def visit_today(db: Session, case: Case, *, by: Actor) -> Visit:
    """The visit of today: the one that is planned, or, for whoever came without one, a new one on every open zone."""
    on = clock.today(studio_queries.studio(db).time_zone)
    known = visit_queries.visit_on(db, case.id or 0, on)
    return known or plan_visit(db, case, PlanVisit(planned_on=on), visit_queries.open_zones(db, case.id or 0), by=by)


@dataclass(frozen=True)
class Aloud:
    """The page of questions that an artist asks aloud, as it was sent."""

    values: dict[str, Any]
    errors: dict[str, str]
    has_more: bool
    screening: Screening | None = None  # where everything was answered, and so sent


@audited("intake.visit.asked_aloud")
def answer_aloud(
    db: Session, visit: Visit, posted: Mapping[str, list[str]], *, country: CountryPack, by: Actor
) -> Aloud:
    """Keeps what the client answered aloud; when nothing is open it is sent, under the name of who asked."""
    on = clock.today(studio_queries.studio(db).time_zone)
    _refuse_arrival(db, visit, on)
    form = _form(db, visit, "arrival")
    about(db, visit)
    answers: dict[str, Any] = visit_queries.draft_for(db, visit)
    values: dict[str, Any] = {}
    errors: dict[str, str] = {}
    more: list[str] = []
    for page in pages(answers, VISIT_SET):
        mine = Asking(prefix_of(page.scar))
        parsed = parse_topic(
            page.topic, mine.mine(posted), answers, on=on, scar=page.scar, questions=VISIT_SET,
            country=country.phone_region,
        )  # fmt: skip
        answers = parsed.answers
        values.update(mine.named(flat(parsed.typed)))
        errors.update(mine.named(parsed.errors))
        more += parsed.asks_next
    _write_draft(db, form, answers)
    if errors or more:
        return Aloud(values, errors, bool(more))
    form.changed_by, form.why = by.id, "Asked aloud at arrival."
    screening = submit(
        db, form, answers, country=country, on=on, language=studio_queries.studio(db).language, by=by
    )
    note(db, asked_by=by.id)
    return Aloud(values, {}, False, screening)


def resume_visits(db: Session, client_id: int, held_at: datetime, on: date, *, by: Actor) -> list[Visit]:
    """After a hold: visits whose day has passed meanwhile are cancelled; for the others the questions go out again."""
    cases = select(Case.id).where(col(Case.client_id).in_(records.person_ids(db, client_id)))
    standing = select(Visit).where(col(Visit.case_id).in_(cases), col(Visit.cancelled_at).is_(None))
    zone = studio_queries.studio(db).time_zone
    first, found = held_at.astimezone(end_of(on, zone).tzinfo).date(), []
    for visit in db.exec(standing.where(Visit.planned_on >= first).order_by(col(Visit.id))).all():
        if visit.planned_on < on:
            cancel_visit(db, visit, "The client was on hold.", by=by)
        else:
            _go_on(db, visit, by)
        found.append(visit)
    return found


def _go_on(db: Session, visit: Visit, by: Actor) -> None:
    """The note of the evening before, where the hold has kept it back and the evening is still to come."""
    studio, case = studio_queries.studio(db), db.get_one(Case, visit.case_id)
    rows = message_queries.of_course(db, visit_queries.course_key(visit))
    if not rows or rows[-1].state != "cancelled" or rows[-1].fault != messages.ON_HOLD:
        return
    if may_ask_evening(visit.planned_on, clock.now(), studio.time_zone, messages.LATEST_AT):
        _plan_note(db, visit, case, studio, by)
