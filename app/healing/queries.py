"""Courses, clocks and check-ins, and for whom."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import cast

from sqlmodel import Session, col, select

from app.healing import schedule
from app.healing.aftercare import LEVELS, QUIZ
from app.healing.aftercare_edits import EDITS, Without
from app.healing.facts import OUTCOMES, SERIOUS, course_key, facts_of, intervals
from app.healing.models import CheckIn, Course, CourseZone
from app.messages import queries as messages
from app.messages.models import PlannedMessage
from app.platform.links import Guest
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who

# An artist's task stands until somebody spoke with the client, and not for ever.
TASK_STANDS = timedelta(days=14)
KIND_WORDS = {
    "patch_reading": "Look at the patch",
    "check_in": "Ask how it heals",
    "provisional_photo": "Provisional photo",
    "review_booking": "Book the review",
    "outcome_6m": "Outcome at 6 months",
    "outcome_12m": "Outcome at 12 months",
}
WORK_WORDS = {"full": "Work", "test_spot": "Test spot", "allergy_patch": "Allergy patch"}
LEVEL_WORDS = {
    "emergency": "emergency",
    "today": "a doctor the same day",
    "days": "a doctor within days",
    "studio": "for the studio to look at",
    "none": "nothing that worries",
}
_QUESTIONS = {question.key: question.words for question in QUIZ}


@dataclass(frozen=True)
class Lot:
    label: str
    lot: str


@dataclass(frozen=True)
class ZoneClocks:
    """The clocks of one zone with their reasons, as the course page shows them."""

    zone: Zone
    clocks: CourseZone
    earliest_reasons: tuple[schedule.Reason, ...]
    judge_reasons: tuple[schedule.Reason, ...]


@dataclass(frozen=True)
class CourseSheet:
    course: Course
    case: Case
    client: Client
    zones: tuple[ZoneClocks, ...]
    messages: tuple[PlannedMessage, ...]
    check_ins: tuple[CheckIn, ...]
    tasks: tuple["Task", ...]
    lots: tuple[Lot, ...]
    left_out: tuple[str, ...]  # of the aftercare text, as it was given


@dataclass(frozen=True)
class CheckInSheet:
    check_in: CheckIn
    course: Course
    client: Client
    answers: tuple[tuple[str, str], ...]  # question, answer; what is not a plain no comes first
    read_by: str


@dataclass(frozen=True)
class UnreadCheckIn:
    check_in: CheckIn
    course: Course
    client: Client

    @property
    def level_words(self) -> str:
        return LEVEL_WORDS[self.check_in.level]


@dataclass(frozen=True)
class Task:
    """A talk that an artist owes a client to whom nothing is sent."""

    course_id: int
    case_id: int
    client_id: int
    client_name: str
    kind: str
    words: str
    due_on: date


def course_for(db: Session, who: Who, course_id: int) -> Course:
    course = db.get(Course, course_id)
    if course is None:
        raise NotFound
    records.case_for(db, who, course.case_id)
    return course


def course_for_guest(db: Session, guest: Guest) -> Course:
    course = db.get(Course, guest.subject_id)
    if course is None or course.client_id != guest.client_id:
        raise NotFound
    return course


def courses_of(db: Session, case_id: int) -> list[Course]:
    """Newest work first."""
    wanted = select(Course).where(Course.case_id == case_id)
    return list(db.exec(wanted.order_by(col(Course.worked_on).desc(), col(Course.id).desc())).all())


def clocks_of(db: Session, zone_id: int) -> CourseZone | None:
    """The clocks of the latest work on a zone. Allergy patches have none, so they never set a zone back."""
    wanted = select(CourseZone).join(Course).where(CourseZone.zone_id == zone_id)
    return db.exec(wanted.order_by(col(Course.worked_on).desc(), col(Course.id).desc()).limit(1)).first()


def clock_rows(db: Session, course: Course) -> list[CourseZone]:
    wanted = select(CourseZone).where(CourseZone.course_id == course.id)
    return list(db.exec(wanted.order_by(col(CourseZone.id))).all())


def judge_on(db: Session, course: Course) -> date | None:
    """When every zone of a course may be judged; None for an allergy patch."""
    return max((row.judge_on for row in clock_rows(db, course)), default=None)


def reasons(text: str) -> tuple[schedule.Reason, ...]:
    return tuple(schedule.Reason(one["words"], one["source"]) for one in json.loads(text))


def without_of(course: Course) -> frozenset[Without]:
    """What the text left out when healing began."""
    return frozenset(cast(list[Without], json.loads(course.without)))


def lots_of(course: Course) -> tuple[Lot, ...]:
    return tuple(Lot(one["label"], one["lot"]) for one in json.loads(course.lots))


def check_ins_of(db: Session, course: Course) -> list[CheckIn]:
    wanted = select(CheckIn).where(CheckIn.course_id == course.id)
    return list(db.exec(wanted.order_by(col(CheckIn.sent_at).desc(), col(CheckIn.id).desc())).all())


def check_in_for_guest(db: Session, guest: Guest, check_in_id: int) -> CheckIn:
    course, row = course_for_guest(db, guest), db.get(CheckIn, check_in_id)
    if row is None or row.course_id != course.id:
        raise NotFound
    return row


def check_in_for(db: Session, who: Who, check_in_id: int) -> CheckIn:
    row = db.get(CheckIn, check_in_id)
    if row is None:
        raise NotFound
    course_for(db, who, row.course_id)
    return row


def answers_of(row: CheckIn) -> dict[str, str]:
    return cast(dict[str, str], json.loads(row.answers))


def check_in_sheet(db: Session, who: Who, check_in_id: int) -> CheckInSheet:
    row = check_in_for(db, who, check_in_id)
    course = course_for(db, who, row.course_id)
    given = sorted(answers_of(row).items(), key=lambda one: (one[1] == "no", list(_QUESTIONS).index(one[0])))
    read_by = studio_queries.names(db).get(row.read_by or 0, "")
    client = records.client_for(db, who, course.client_id)
    return CheckInSheet(row, course, client, tuple((_QUESTIONS[key], answer) for key, answer in given), read_by)


def course_sheet(db: Session, who: Who, course_id: int, on: date) -> CourseSheet:
    course = course_for(db, who, course_id)
    zones = {zone.id: zone for zone in records.zones_of(db, course.case_id)}
    clocks = tuple(
        ZoneClocks(zones[row.zone_id], row, reasons(row.earliest_reasons), reasons(row.judge_reasons))
        for row in clock_rows(db, course)
    )
    return CourseSheet(
        course=course,
        case=records.case_for(db, who, course.case_id),
        client=records.client_for(db, who, course.client_id),
        zones=clocks,
        messages=tuple(messages.of_course(db, course_key(course))),
        check_ins=tuple(check_ins_of(db, course)),
        tasks=tuple(_all_tasks(db, course)),
        lots=lots_of(course),
        left_out=tuple(EDITS[name].words for name in sorted(without_of(course))),
    )


def _is_open_to(db: Session, who: Who, case_id: int) -> bool:
    try:
        records.case_for(db, who, case_id)
    except NotFound:
        return False
    return True


def unread_check_ins(db: Session, who: Who) -> list[UnreadCheckIn]:
    """What nobody has read yet in the cases this member may open: the worst first, then the oldest."""
    wanted = select(CheckIn, Course).join(Course, col(CheckIn.course_id) == col(Course.id))
    wanted = wanted.where(col(CheckIn.read_at).is_(None))
    found = [
        UnreadCheckIn(row, course, records.kept_client(db, course.client_id))
        for row, course in db.exec(wanted).all()
        if _is_open_to(db, who, course.case_id)
    ]
    order = (*LEVELS, "none")
    return sorted(found, key=lambda one: (order.index(one.check_in.level), one.check_in.sent_at, one.check_in.id))


def has_unread_red_flag(db: Session, client_id: int) -> bool:
    """Whether a report that needs a doctor the same day, or at once, was read by nobody: no work starts before."""
    mine = col(Course.client_id).in_(records.person_ids(db, client_id))
    wanted = select(CheckIn.id).join(Course).where(mine, col(CheckIn.read_at).is_(None))
    return db.exec(wanted.where(col(CheckIn.level).in_(SERIOUS)).limit(1)).first() is not None


def _all_tasks(db: Session, course: Course) -> list[Task]:
    """Every talk of a course to which nothing is sent by itself."""
    if not course.is_sensitive or course.id is None:
        return []
    client = records.kept_client(db, course.client_id)
    contacts = schedule.planned_contacts(course.worked_on, kept_clocks(db, course), True)
    return [
        Task(course.id, course.case_id, client.id or 0, client.name, one.kind, KIND_WORDS[one.kind], one.due_on)
        for one in contacts
    ]


def kept_clocks(db: Session, course: Course) -> schedule.Clocks:
    """The course's clocks as they were kept, the latest of its zones."""
    rows = clock_rows(db, course)
    if not rows:
        studio, case = studio_queries.studio(db), db.get_one(Case, course.case_id)
        zones = records.zones_of(db, course.case_id)
        return schedule.clocks(course.worked_on, facts_of(case, zones[0], "allergy_patch"), intervals(studio))
    last = max(rows, key=lambda row: row.judge_on)
    return schedule.Clocks(
        work="test_spot" if course.work == "test_spot" else "full",
        floor_on=last.floor_on,
        earliest_on=last.earliest_on,
        earliest_reasons=(),
        judge_on=last.judge_on,
        judge_reasons=(),
        outcome_6m_on=last.outcome_6m_on,
        outcome_12m_on=last.outcome_12m_on,
    )


def tasks(db: Session, who: Who, on: date) -> list[Task]:
    """The talks that are due: from their day on, until somebody spoke with or heard from the client."""
    due: list[Task] = []
    for course in db.exec(select(Course).where(col(Course.is_sensitive)).order_by(col(Course.id))).all():
        client = records.kept_client(db, course.client_id)
        if client.held_at is not None or not _is_open_to(db, who, course.case_id):
            continue
        heard = _last_heard(check_ins_of(db, course), course.worked_on)
        owed = [one for one in _all_tasks(db, course) if heard < one.due_on <= on < one.due_on + TASK_STANDS]
        due += [one for one in owed if course.ended_at is None or (one.kind in OUTCOMES and _is_latest(db, course))]
    return sorted(due, key=lambda one: (one.due_on, one.course_id))


def _is_latest(db: Session, course: Course) -> bool:
    """Whether some zone was not worked on again since: only then does the outcome belong to this course."""
    latest = (clocks_of(db, row.zone_id) for row in clock_rows(db, course))
    return any(row is not None and row.course_id == course.id for row in latest)


def _last_heard(rows: Sequence[CheckIn], worked_on: date) -> date:
    """The day of healing on which the client was last heard from."""
    return worked_on + timedelta(days=max((row.day_number for row in rows), default=0))
