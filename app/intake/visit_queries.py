"""Visits and their short questions, and for whom: the desk arranges them and never learns what was answered."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.consents import queries as consents
from app.intake import queries
from app.intake.answers import summary
from app.intake.models import Draft, Finding, Screening, Submission, Visit, VisitZone
from app.intake.questions import scars_of
from app.intake.visit_days import Said, evening_of, first_answers, said_on, whole_form_due, with_answers
from app.messages import queries as messages
from app.platform import languages
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who


def course_key(visit: Visit) -> str:
    """How messages and tasks name what belongs to a visit."""
    return f"visits/{visit.id}"


def visit_for(db: Session, who: Who, visit_id: int) -> Visit:
    """A visit, for whoever arranges it: an artist who may open its case, or the desk."""
    visit = db.get(Visit, visit_id)
    if visit is None:
        raise NotFound
    records.case_to_arrange(db, who, visit.case_id)
    return visit


def visits_of(db: Session, case_id: int) -> list[Visit]:
    """The visits of a case, the latest day first."""
    wanted = select(Visit).where(Visit.case_id == case_id)
    return list(db.exec(wanted.order_by(col(Visit.planned_on).desc(), col(Visit.id).desc())).all())


def visit_on(db: Session, case_id: int, on: date) -> Visit | None:
    """The visit of a day that was not cancelled."""
    wanted = select(Visit).where(Visit.case_id == case_id, Visit.planned_on == on, col(Visit.cancelled_at).is_(None))
    return db.exec(wanted.order_by(col(Visit.id).desc()).limit(1)).first()


def visit_zones(db: Session, visit: Visit) -> list[Zone]:
    wanted = select(Zone).join(VisitZone, col(VisitZone.zone_id) == col(Zone.id)).where(VisitZone.visit_id == visit.id)
    return list(db.exec(wanted.order_by(col(Zone.id))).all())


def open_zones(db: Session, case_id: int) -> list[Zone]:
    """The zones that a visit is about when nothing else is said."""
    return [zone for zone in records.zones_of(db, case_id) if zone.finished_on is None]


def short_forms(db: Session, visit: Visit) -> list[Submission]:
    """The short forms of a visit, sent or not, the oldest first."""
    wanted = select(Submission).where(Submission.visit_id == visit.id)
    return list(db.exec(wanted.order_by(col(Submission.id))).all())


def sent_on(db: Session, form: Submission) -> date | None:
    """The day on which a form was sent, where the studio stands."""
    zone = ZoneInfo(studio_queries.studio(db).time_zone)
    return form.submitted_at.astimezone(zone).date() if form.submitted_at is not None else None


def form_to_fill(db: Session, visit: Visit) -> Submission | None:
    """The short form that is still open."""
    return next((row for row in short_forms(db, visit) if row.submitted_at is None), None)


def scar_keys(db: Session, zones: list[Zone]) -> set[str]:
    """The declared scars that these zones are joined to."""
    return {scar.key for zone in zones for scar in queries.scars_of_zone(db, zone)}


def draft_for(db: Session, visit: Visit) -> dict[str, Any]:
    """What a short form of this visit begins with: the places of its scars, and what was answered for it before."""
    base = queries.base_of(db, visit.case_id)
    if base is None:
        return {"scars": []}
    first = first_answers(json.loads(base.answers), scar_keys(db, visit_zones(db, visit)))
    sent = [row for row in short_forms(db, visit) if row.submitted_at is not None]
    unsent = form_to_fill(db, visit)
    begun = db.get(Draft, unsent.id) if unsent is not None else None
    if begun is not None:
        return with_answers(first, json.loads(begun.answers))
    return with_answers(first, json.loads(sent[-1].answers)) if sent else first


@dataclass(frozen=True)
class Told:
    """A short form that was sent, and what came of it."""

    form: Submission
    screening: Screening


@dataclass(frozen=True)
class DayAnswers:
    """The short answers for one day of a case, and what they come to."""

    visit: Visit | None
    told: tuple[Told, ...]  # the oldest first

    @property
    def newest(self) -> Told | None:
        return self.told[-1] if self.told else None

    @property
    def said(self) -> Said:
        if self.newest is None:
            return "none"
        return said_on(self.newest.screening.decision, self.newest.form.stage)

    @property
    def asked_scars(self) -> frozenset[str]:
        """The scars that the newest answers are about."""
        told = json.loads(self.newest.form.answers) if self.newest is not None else {}
        return frozenset(str(scar["id"]) for scar in scars_of(told))


def told_of(db: Session, visit: Visit) -> tuple[Told, ...]:
    wanted = select(Submission, Screening).join(Screening, col(Screening.submission_id) == col(Submission.id))
    rows = db.exec(wanted.where(Submission.visit_id == visit.id).order_by(col(Submission.id))).all()
    return tuple(Told(form, screening) for form, screening in rows)


def day_answers(db: Session, case_id: int, on: date) -> DayAnswers:
    visit = visit_on(db, case_id, on)
    return DayAnswers(visit, told_of(db, visit) if visit is not None else ())


@dataclass(frozen=True)
class ToldLine:
    question: str
    answer: str
    is_plain: bool  # nothing to look at: "No", "It healed well"


@dataclass(frozen=True)
class ToldPart:
    """A short form as an artist reads it, in the studio's language."""

    form: Submission
    screening: Screening
    asked_by: str  # who asked aloud; empty where the client filled it in
    lines: tuple[ToldLine, ...]


_PLAIN = ("No", "None", "None of these", "It healed well", "I have had no session yet")


def told_parts(db: Session, told: tuple[Told, ...]) -> tuple[ToldPart, ...]:
    names, translate = studio_queries.names(db), languages.translator(studio_queries.studio(db).language)
    parts = []
    for one in told:
        answers, questions = json.loads(one.form.answers), queries.questions_of(db, one.form)
        pairs = zip(summary(answers, questions), summary(answers, questions, translate), strict=True)
        lines = tuple(ToldLine(read.question, read.answer, plain.answer in _PLAIN) for plain, read in pairs)
        parts.append(ToldPart(one.form, one.screening, names.get(one.form.changed_by or 0, ""), lines))
    return tuple(parts)


def is_sensitive(db: Session, visit: Visit) -> bool:
    """Whether nothing about this visit may be written to the client: a finding of the case, or a zone."""
    newest = queries.newest_screening(db, visit.case_id)
    found = json.loads(newest.result)["findings"] if newest is not None else []
    lifted = select(Finding.id).where(
        Finding.screening_id == (newest.id if newest is not None else 0), col(Finding.is_sensitive)
    )
    if any(item["sensitive"] or item["because"] == "withheld" for item in found) or db.exec(lifted).first() is not None:
        return True
    return any(zone.is_sensitive for zone in records.zones_of(db, visit.case_id))


@dataclass(frozen=True)
class VisitLine:
    """A visit in a sentence: for the desk, too, so it never says why."""

    visit: Visit
    case: Case
    client: Client
    zones: int
    state: str
    set_up: tuple[str, ...] = ()

    @property
    def is_cancelled(self) -> bool:
        return self.visit.cancelled_at is not None

    @property
    def is_held(self) -> bool:
        return not self.is_cancelled and self.client.held_at is not None


IN, NOT_YET, ASK, ARRIVAL = "answers are in", "not answered yet", "ask the artist", "ask at arrival"
GOES_OUT, WHOLE_FORM, HELD, CANCELLED = "asked the evening before", "the whole form is still to be answered", \
    "on hold", "cancelled"


def line_of(db: Session, visit: Visit, on: date) -> VisitLine:
    case = db.get_one(Case, visit.case_id)
    client = records.kept_client(db, case.client_id)
    set_up = records.setup_lines(db, [client.id or 0]).get(client.id or 0, ())
    zones = len(db.exec(select(VisitZone.zone_id).where(VisitZone.visit_id == visit.id)).all())
    return VisitLine(visit, case, client, zones, _state(db, visit, client, on), set_up)


def _state(db: Session, visit: Visit, client: Client, on: date) -> str:
    if visit.cancelled_at is not None:
        return CANCELLED
    if client.held_at is not None:
        return HELD
    sent = [row for row in short_forms(db, visit) if row.submitted_at is not None]
    if sent:
        screening = db.exec(select(Screening).where(Screening.submission_id == sent[-1].id)).one()
        return IN if screening.decision == "accepted" else ASK
    if queries.base_of(db, visit.case_id) is None:
        return WHOLE_FORM
    planned = messages.of_course(db, course_key(visit))
    if planned and planned[-1].state == "sent" and planned[-1].due_on == evening_of(visit.planned_on):
        return NOT_YET
    is_coming = bool(planned) and planned[-1].state == "planned" and on <= evening_of(visit.planned_on)
    reachable = bool(client.email) and consents.is_granted(db, client.id or 0, "reminders_email")
    return GOES_OUT if is_coming and reachable else ARRIVAL


def coming(db: Session, who: Who, on: date) -> tuple[VisitLine, ...]:
    """Who comes on a day, by the clock; of the cases that this member may arrange."""
    wanted = select(Visit, Case).join(Case, col(Case.id) == col(Visit.case_id))
    wanted = wanted.where(Visit.planned_on == on, col(Visit.cancelled_at).is_(None), col(Case.closed_on).is_(None))
    rows = db.exec(wanted.order_by(col(Visit.planned_at), col(Visit.id))).all()
    return tuple(line_of(db, visit, on) for visit, case in rows if _may_arrange(who, case))


def _may_arrange(who: Who, case: Case) -> bool:
    restricted = case.is_restricted and who.sees_health and not who.is_owner
    return not restricted or who.id in (case.lead_id, case.deputy_id)


def visit_lines(db: Session, case_id: int, on: date) -> tuple[VisitLine, ...]:
    """The visits of a case: those to come with the nearest first, then those that are over."""
    lines = [line_of(db, visit, on) for visit in visits_of(db, case_id)]
    ahead = [line for line in reversed(lines) if line.visit.planned_on >= on]
    return (*ahead, *(line for line in lines if line.visit.planned_on < on))


def visits_ahead(db: Session, case_id: int, on: date) -> tuple[VisitLine, ...]:
    """Who plans sees what is planned already; one that was cancelled is not."""
    return tuple(line for line in visit_lines(db, case_id, on) if line.visit.planned_on >= on and not line.is_cancelled)


def whole_form_due_on(db: Session, case_id: int, on: date) -> date | None:
    """The day since which the whole form of a case is due again, or was when that day stood; None while it is good."""
    zone = ZoneInfo(studio_queries.studio(db).time_zone)
    wanted = select(Submission).where(Submission.case_id == case_id, Submission.kind == "full")
    sent = [row.submitted_at.astimezone(zone).date() for row in db.exec(wanted).all() if row.submitted_at is not None]
    days = [day for day in sent if day <= on]
    if not days:
        return None
    due = whole_form_due(max(days), studio_queries.studio(db).intake_months)
    return due if on >= due else None


@dataclass(frozen=True)
class Due:
    """A case of which the whole form is too old."""

    case: Case
    client: Client
    since: date
    is_asked: bool


def whole_forms_due(db: Session, who: Who, on: date) -> tuple[Due, ...]:
    """Open cases with work still to do, of clients who are not on hold: the longest overdue first."""
    found = []
    for case in db.exec(select(Case).where(col(Case.closed_on).is_(None)).order_by(col(Case.id))).all():
        assert case.id is not None
        if not _may_arrange(who, case):
            continue
        since, client = whole_form_due_on(db, case.id, on), records.kept_client(db, case.client_id)
        screening = queries.newest_screening(db, case.id)
        declined = screening is not None and screening.decision == "declined"
        zones = records.zones_of(db, case.id)
        is_done = bool(zones) and all(zone.finished_on is not None for zone in zones)
        if since is not None and client.held_at is None and not declined and not is_done:
            newest = queries.submission_of_case(db, case.id)
            found.append(Due(case, client, since, newest is not None and newest.submitted_at is None))
    return tuple(sorted(found, key=lambda one: (one.since, one.case.id or 0)))
