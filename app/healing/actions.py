"""What begins and ends healing, and what is reported while it lasts."""

from collections.abc import Mapping, Sequence
from datetime import date

from sqlmodel import Session, col, select

from app.healing import schedule
from app.healing.aftercare import AFTERCARE_VERSION, Answer, worst_level
from app.healing.aftercare_edits import without_for
from app.healing.facts import OUTCOMES, SERIOUS, course_key, facts_of, intervals
from app.healing.models import CheckIn, Course, CourseZone
from app.messages import actions as messages
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.records import queries as records
from app.records.models import Case, Zone
from app.studio.models import Studio


@audited("healing.course.begun")
def begin(
    db: Session,
    *,
    case: Case,
    zones: Sequence[Zone],
    session_key: str,
    work: str,
    worked_on: date,
    studio: Studio,
    lots: str = "[]",
    by: Actor,
) -> Course:
    """Begins the healing after one session, once for its key: clocks for each zone, and the times to ask the client.

    Full work makes the plans of an earlier course on the same zones pointless: that course ends. What would have been
    asked before today (a session entered later from paper) is not asked any more.
    """
    known = db.exec(select(Course).where(Course.session_key == session_key)).first()
    if known is not None:
        return known
    if not zones:
        raise Refused("zones", "Healing needs the zones that were worked on.")
    kind = _work(work)
    assert case.id is not None
    course = Course(
        case_id=case.id,
        client_id=case.client_id,
        session_key=session_key,
        work=kind,
        worked_on=worked_on,
        school="dry" if studio.aftercare_school == "dry" else "film",
        aftercare_version=AFTERCARE_VERSION,
        without=canonical(_without(db, case, zones)),
        is_sensitive=any(zone.is_sensitive for zone in zones),
        lots=lots,
        begun_at=clock.now(),
    )
    db.add(course)
    db.flush()
    about(db, course)
    clocks = [schedule.clocks(worked_on, facts_of(case, zone, kind), intervals(studio)) for zone in zones]
    for zone, one in zip(zones, clocks, strict=True):
        _keep_clocks(db, course, zone, one)
    if kind == "full":
        _supersede(db, course, zones, by)
    _plan_contacts(db, course, clocks, studio, by)
    return course


def _without(db: Session, case: Case, zones: Sequence[Zone]) -> list[str]:
    """What the aftercare text leaves out, by the alerts that stand as healing begins."""
    kinds = records.kinds_of(db, case.client_id)
    return sorted(without_for(kinds, is_grafted=any(zone.is_grafted for zone in zones)))


def _work(work: str) -> schedule.Work:
    if work == "full":
        return "full"
    if work == "test_spot":
        return "test_spot"
    if work == "allergy_patch":
        return "allergy_patch"
    raise ValueError(f"no such work: {work}")


def _reasons(reasons: Sequence[schedule.Reason]) -> str:
    return canonical([{"words": one.words, "source": one.source} for one in reasons])


def _keep_clocks(db: Session, course: Course, zone: Zone, clocks: schedule.Clocks) -> None:
    """An allergy patch places no colour in the zone: it moves no clock of it, and gets none."""
    if clocks.judge_on is None or clocks.outcome_6m_on is None or clocks.outcome_12m_on is None:
        return
    assert course.id is not None
    assert zone.id is not None
    db.add(
        CourseZone(
            course_id=course.id,
            zone_id=zone.id,
            floor_on=clocks.floor_on,
            earliest_on=clocks.earliest_on,
            earliest_reasons=_reasons(clocks.earliest_reasons),
            judge_on=clocks.judge_on,
            judge_reasons=_reasons(clocks.judge_reasons),
            outcome_6m_on=clocks.outcome_6m_on,
            outcome_12m_on=clocks.outcome_12m_on,
        )
    )


def last_clocks(clocks: Sequence[schedule.Clocks]) -> schedule.Clocks:
    """The clocks that end last: a course asks for its review when every zone may be judged."""
    return max(clocks, key=lambda one: one.judge_on or one.earliest_on)


def _plan_contacts(
    db: Session, course: Course, clocks: Sequence[schedule.Clocks], studio: Studio, by: Actor
) -> None:
    today = clock.today(studio.time_zone)
    assert course.id is not None
    for contact in schedule.planned_contacts(course.worked_on, last_clocks(clocks), course.is_sensitive):
        if contact.by == "artist" or contact.due_on < today:
            continue
        messages.plan(
            db,
            unique_key=f"{course_key(course)}/{contact.kind}/{contact.day_number}",
            client_id=course.client_id,
            template=contact.kind,
            purpose="aftercare",
            subject_id=course.id,
            due_on=contact.due_on,
            time_zone=studio.time_zone,
            opens_at=studio.opens_at,
            course_key=course_key(course),
            by=by,
        )


def _supersede(db: Session, course: Course, zones: Sequence[Zone], by: Actor) -> None:
    """Ends earlier open courses whose every zone is worked on again."""
    worked = {zone.id for zone in zones}
    open_ones = select(Course).where(Course.case_id == course.case_id, col(Course.ended_at).is_(None))
    for earlier in db.exec(open_ones.order_by(col(Course.id))).all():
        held = set(db.exec(select(CourseZone.zone_id).where(CourseZone.course_id == earlier.id)).all())
        if earlier.id != course.id and held and held <= worked and earlier.worked_on <= course.worked_on:
            end_course(db, earlier, reason="Work was done again.", keeps_outcomes=False, by=by)


@audited("healing.course.ended")
def end_course(
    db: Session, course: Course, *, reason: str = "The course is over.", keeps_outcomes: bool = True, by: Actor
) -> Course:
    """Ends a course. Its questions stop; the photos at 6 and 12 months are asked for still, unless told otherwise."""
    if course.ended_at is None:
        course.ended_at = clock.now()
        db.add(course)
        note(db, reason=reason)
    messages.cancel(db, course_key(course), reason=reason, but=OUTCOMES if keeps_outcomes else (), by=by)
    return course


@audited("healing.zone.judged")
def zone_judged(db: Session, zone_id: int, on: date, *, by: Actor) -> list[Course]:
    """Says that the colour of a zone was judged: a course all of whose zones are judged is over."""
    open_ones = select(Course).join(CourseZone).where(CourseZone.zone_id == zone_id, col(Course.ended_at).is_(None))
    ended = []
    for course in db.exec(open_ones.order_by(col(Course.id))).all():
        rows = db.exec(select(CourseZone).where(CourseZone.course_id == course.id)).all()
        for row in rows:
            if row.zone_id == zone_id:
                row.judged_on = on
                db.add(row)
        if all(row.judged_on is not None for row in rows):
            ended.append(end_course(db, course, reason="The colour was judged.", by=by))
    return ended


@audited("healing.check_in.sent")
def check_in(
    db: Session,
    course: Course,
    *,
    day_number: int,
    answers: Mapping[str, Answer],
    words: str = "",
    photo_id: int | None = None,
    by: Actor,
) -> CheckIn:
    """Files what a client reports, at the level of its worst answer."""
    assert course.id is not None
    row = CheckIn(
        course_id=course.id,
        day_number=day_number,
        answers=canonical(dict(answers)),
        words=words,
        level=worst_level(answers) or "none",
        photo_id=photo_id,
        sent_at=clock.now(),
    )
    db.add(row)
    return row


@audited("healing.talk.noted")
def note_talk(db: Session, course: Course, words: str, *, day_number: int, by: Actor) -> CheckIn:
    """Files that a member spoke with the client: what a sensitive course has in place of messages."""
    assert course.id is not None
    now = clock.now()
    row = CheckIn(
        course_id=course.id, day_number=day_number, answers="{}", words=words, level="none", sent_at=now,
        read_by=by.id, read_at=now,
    )  # fmt: skip
    db.add(row)
    return row


@audited("healing.check_in.read")
def read_check_in(db: Session, row: CheckIn, reply: str, *, by: Actor) -> CheckIn:
    """Says that somebody read it. A serious one needs a note: reading it lets work begin again."""
    if row.read_at is not None:
        raise Refused("reply", "This was read already. Reload the page to see by whom.")
    if row.level in SERIOUS and not reply:
        raise Refused("reply", "Write what was done about it.")
    row.read_by, row.read_at, row.reply = by.id, clock.now(), reply
    db.add(row)
    return row
