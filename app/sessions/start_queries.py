"""The facts behind the start checks, as they stood on a day."""

from datetime import date
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.consents import queries as consents
from app.healing import queries as healing
from app.healing.models import Course, CourseZone
from app.intake import visit_queries as visits
from app.intake.models import Clearance, Evidence
from app.platform import clock
from app.records import queries as records
from app.records.models import Case, Zone
from app.sessions.models import SessionZone, WorkSession
from app.sessions.start_checks import StartCheck, StartFacts, start_check
from app.studio import queries as studio_queries


def session_key(root_id: int) -> str:
    """How other domains name the work of a session through all its versions."""
    return f"sessions/{root_id}"


def may_start(db: Session, zone: Zone, on: date, kind: str) -> StartCheck:
    """What stands against starting work on a zone on a day, but for what is asked again that day."""
    return start_check(facts_on(db, zone, on, kind), on, kind)


def facts_on(db: Session, zone: Zone, on: date, kind: str, *, but: int | None = None) -> StartFacts:
    """What was on file; `but` is the first version of a session whose own work does not count against itself."""
    assert zone.id is not None
    case = db.get_one(Case, zone.case_id)
    client = records.kept_client(db, case.client_id)
    clearance = clearance_on(db, zone.id, on)
    clocks = _clocks_on(db, zone.id, on, but)
    is_now = on >= clock.today(studio_queries.studio(db).time_zone)
    permission = consents.treatment_in_force(db, zone.id, on, kind)
    told = visits.day_answers(db, zone.case_id, on)
    return StartFacts(
        cleared=clearance.days if clearance is not None else None,
        clearance_until=clearance.until_on if clearance is not None else None,
        has_permission=permission is not None,
        is_confirmed=permission is None or consents.is_confirmed(db, permission),
        floor_on=clocks.floor_on if clocks is not None else None,
        earliest_on=clocks.earliest_on if clocks is not None else None,
        # What is unread or on hold now says nothing about a day that is over.
        has_red_flag=is_now and healing.has_unread_red_flag(db, case.client_id),
        has_unread_patch=_has_unread_patch(db, case.client_id, on, but),
        hold_reason=client.hold_reason or "no reason on file" if is_now and client.held_at is not None else "",
        is_closed=case.closed_on is not None and case.closed_on <= on,
        finished_on=zone.finished_on if zone.finished_on is not None and zone.finished_on <= on else None,
        has_open_session=is_now and open_on_zone(db, zone.id) is not None,
        whole_form_due_on=visits.whole_form_due_on(db, zone.case_id, on),
        said=told.said,
        is_asked_about=visits.scar_keys(db, [zone]) <= told.asked_scars,
    )


def clearance_on(db: Session, zone_id: int, on: date) -> Clearance | None:
    """The newest clearance that had been decided by a day, so that a later one does not judge an earlier day."""
    time_zone = ZoneInfo(studio_queries.studio(db).time_zone)
    rows = db.exec(select(Clearance).where(Clearance.zone_id == zone_id).order_by(col(Clearance.id).desc())).all()
    return next((row for row in rows if row.decided_at.astimezone(time_zone).date() <= on), None)


def _clocks_on(db: Session, zone_id: int, on: date, but: int | None) -> CourseZone | None:
    """The clocks of the last work up to a day; those of later work say nothing about an earlier day."""
    latest = healing.clocks_of(db, zone_id)
    if but is None and (latest is None or db.get_one(Course, latest.course_id).worked_on <= on):
        return latest
    wanted = select(CourseZone, Course).join(Course).where(CourseZone.zone_id == zone_id, Course.worked_on <= on)
    rows = db.exec(wanted.order_by(col(Course.worked_on).desc(), col(Course.id).desc())).all()
    own = session_key(but) if but is not None else None
    return next((clocks for clocks, course in rows if own is None or course.session_key.split(".")[0] != own), None)


def patches_of(db: Session, client_id: int) -> list[WorkSession]:
    """The allergy patches of a person that were placed, in their current versions."""
    replaced = select(WorkSession.replaces_id).where(col(WorkSession.replaces_id).is_not(None))
    wanted = (
        select(WorkSession)
        .join(Case, col(Case.id) == col(WorkSession.case_id))
        .where(col(Case.client_id).in_(records.person_ids(db, client_id)), WorkSession.kind == "allergy_patch")
        .where(col(WorkSession.state).in_(("finished", "stopped")), col(WorkSession.id).not_in(replaced))
    )
    return list(db.exec(wanted.order_by(col(WorkSession.worked_on), col(WorkSession.id))).all())


def root_id(db: Session, session: WorkSession) -> int:
    """The first version of a session, by which its work is known."""
    while session.replaces_id is not None:
        session = db.get_one(WorkSession, session.replaces_id)
    assert session.id is not None
    return session.id


def reading_of(db: Session, session: WorkSession) -> Evidence | None:
    """What a patch or a spot showed, once it was read."""
    key = session_key(root_id(db, session))
    wanted = select(Evidence).where(Evidence.kind == session.kind)
    wanted = wanted.where((col(Evidence.source_key) == key) | col(Evidence.source_key).startswith(f"{key}/"))
    return db.exec(wanted.order_by(col(Evidence.id)).limit(1)).first()


def _has_unread_patch(db: Session, client_id: int, on: date, but: int | None) -> bool:
    for patch in patches_of(db, client_id):
        if patch.worked_on > on or root_id(db, patch) == but:
            continue
        read = reading_of(db, patch)
        if read is None or read.seen_on > on:
            return True
    return False


def open_on_zone(db: Session, zone_id: int) -> int | None:
    """The sheet that is open on a zone."""
    wanted = select(WorkSession.id).join(SessionZone, col(SessionZone.session_id) == col(WorkSession.id))
    return db.exec(wanted.where(SessionZone.zone_id == zone_id, WorkSession.state == "open").limit(1)).first()
