"""The healing that begins with a session, and what a correction of the session means for it."""

from collections.abc import Sequence
from datetime import date, timedelta

from sqlmodel import Session, col, select

from app.healing import actions as healing
from app.healing.models import Course, CourseZone
from app.healing.schedule import PATCH_READING_DAYS
from app.platform.audit import Actor, canonical
from app.records.models import Case, Zone
from app.sessions.models import SessionItem, WorkSession
from app.sessions.start_queries import root_id, session_key
from app.studio.models import Studio


def lots_used(items: Sequence[SessionItem]) -> str:
    """What touched the client, for whoever treats them later."""
    seen: dict[tuple[str, str], None] = {}
    for item in items:
        seen[(item.label, item.lot or ("unreadable" if item.lot_unreadable else "not on file"))] = None
    return canonical([{"label": label, "lot": lot} for label, lot in seen])


def begin_course(
    db: Session, session: WorkSession, zones: Sequence[Zone], studio: Studio, by: Actor, *, key: str = ""
) -> Course:
    return healing.begin(
        db,
        case=db.get_one(Case, session.case_id),
        zones=zones,
        session_key=key or session_key(root_id(db, session)),
        work=session.kind,
        worked_on=session.worked_on,
        studio=studio,
        lots=lots_used(_items(db, session)),
        by=by,
    )


def course_of(db: Session, session: WorkSession) -> Course | None:
    """The newest course of a session, through all its versions."""
    key = session_key(root_id(db, session))
    wanted = select(Course).where((col(Course.session_key) == key) | col(Course.session_key).startswith(f"{key}."))
    return db.exec(wanted.order_by(col(Course.id).desc()).limit(1)).first()


def follow_correction(
    db: Session, session: WorkSession, zones: Sequence[Zone], studio: Studio, number: int, by: Actor
) -> None:
    """Lots are put right in the course as it stands. Another day, kind or zone takes the wrong clocks away (the trail
    keeps them) and begins a course that is right."""
    course = course_of(db, session)
    if course is not None:
        held = set(db.exec(select(CourseZone.zone_id).where(CourseZone.course_id == course.id)).all())
        same_zones = session.kind == "allergy_patch" or held == {zone.id for zone in zones}
        if zones and same_zones and (course.worked_on, course.work) == (session.worked_on, session.kind):
            course.lots = lots_used(_items(db, session))
            db.add(course)
            return
        for row in db.exec(select(CourseZone).where(CourseZone.course_id == course.id)).all():
            db.delete(row)
        healing.end_course(db, course, reason="The record was corrected.", keeps_outcomes=False, by=by)
    if zones:
        key = session_key(root_id(db, session)) + (f".{number}" if course is not None else "")
        begin_course(db, session, zones, studio, by, key=key)


def readable_from(db: Session, session: WorkSession) -> date:
    """A patch is first read the day after; a spot when its colour may be judged."""
    course = course_of(db, session)
    clocks = [] if course is None else db.exec(select(CourseZone).where(CourseZone.course_id == course.id)).all()
    days = [row.judge_on for row in clocks]
    return max(days) if days else session.worked_on + timedelta(days=PATCH_READING_DAYS[0])


def _items(db: Session, session: WorkSession) -> list[SessionItem]:
    used = select(SessionItem).where(SessionItem.session_id == session.id).order_by(col(SessionItem.id))
    return list(db.exec(used).all())
