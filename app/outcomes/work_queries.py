"""What was worked on zones, their clocks, readings and verdicts: many zones at once, in few queries."""

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal, TypeVar

from sqlmodel import Session, col, select

from app.colour.difference import Estimate
from app.healing.models import Course, CourseZone
from app.outcomes.models import Verdict
from app.records.models import Photo, Reading
from app.records.queries import AT_REST, second_sets
from app.sessions.models import SessionZone, WorkSession

T = TypeVar("T")
Early = Literal["wait", "floor"]


@dataclass(frozen=True)
class Worked:
    """One session that did work on one zone, as its newest version says."""

    session_id: int
    artist_id: int
    kind: str
    worked_on: date
    recipe_id: int | None

    @property
    def words(self) -> str:
        return {"full": "session", "test_spot": "test spot", "allergy_patch": "allergy patch"}[self.kind]


@dataclass(frozen=True)
class Clock:
    """The two clocks that one session set for a zone, with their reasons in words."""

    course_id: int
    work: str
    worked_on: date
    floor_on: date
    earliest_on: date
    earliest_reasons: tuple[str, ...]
    judge_on: date
    judge_reasons: tuple[str, ...]
    outcome_6m_on: date
    outcome_12m_on: date


def _grouped(pairs: Sequence[tuple[int, T]]) -> dict[int, list[T]]:
    groups: dict[int, list[T]] = {}
    for zone_id, thing in pairs:
        groups.setdefault(zone_id, []).append(thing)
    return groups


def work_on(db: Session, zone_ids: Collection[int]) -> dict[int, list[Worked]]:
    """Zone id to the finished or stopped sessions on it, oldest first; of corrected ones the newest version only."""
    replaced = select(WorkSession.replaces_id).where(col(WorkSession.replaces_id).is_not(None))
    wanted = (
        select(WorkSession, SessionZone)
        .join(SessionZone, col(SessionZone.session_id) == WorkSession.id)
        .where(col(SessionZone.zone_id).in_(zone_ids), col(WorkSession.state).in_(("finished", "stopped")))
        .where(col(SessionZone.is_untouched).is_(False), col(WorkSession.id).not_in(replaced))
        .order_by(col(WorkSession.worked_on), col(WorkSession.id))
    )
    found = []
    for session, part in db.exec(wanted).all():
        worked = Worked(session.id or 0, session.artist_id, session.kind, session.worked_on, part.recipe_id)
        found.append((part.zone_id, worked))
    return _grouped(found)


def clocks_on(db: Session, zone_ids: Collection[int]) -> dict[int, list[Clock]]:
    """Zone id to the clocks that were set for it, oldest first. An allergy patch sets none: it has no colour."""
    wanted = (
        select(Course, CourseZone)
        .join(CourseZone, col(CourseZone.course_id) == Course.id)
        .where(col(CourseZone.zone_id).in_(zone_ids), Course.work != "allergy_patch")
        .order_by(col(Course.worked_on), col(Course.id))
    )
    return _grouped([(part.zone_id, _clock(course, part)) for course, part in db.exec(wanted).all()])


def _clock(course: Course, part: CourseZone) -> Clock:
    return Clock(
        course.id or 0,
        course.work,
        course.worked_on,
        part.floor_on,
        part.earliest_on,
        reasons(part.earliest_reasons),
        part.judge_on,
        reasons(part.judge_reasons),
        part.outcome_6m_on,
        part.outcome_12m_on,
    )


def reasons(kept: str) -> tuple[str, ...]:
    """Reasons as they are kept, each in one line with its source."""
    lines = []
    for reason in json.loads(kept or "[]"):
        words, source = (reason, "") if isinstance(reason, str) else (reason["words"], reason.get("source", ""))
        lines.append(f"{words} ({source})" if source else words)
    return tuple(lines)


def readings_on(db: Session, zone_ids: Collection[int]) -> dict[int, list[Reading]]:
    """Zone id to its readings at rest that no newer one of the same photo replaced, oldest photo first."""
    replaced = select(Reading.replaces_id).where(col(Reading.replaces_id).is_not(None))
    at_rest = select(Photo.id).where(col(Photo.zone_id).in_(zone_ids), col(Photo.purpose).in_(AT_REST))
    wanted = select(Reading).where(
        col(Reading.zone_id).in_(zone_ids), col(Reading.id).not_in(replaced), col(Reading.photo_id).in_(at_rest),
        col(Reading.outline_set_id).not_in(second_sets()),
    )  # fmt: skip
    return _grouped(
        [(row.zone_id, row) for row in db.exec(wanted.order_by(col(Reading.taken_on), col(Reading.id))).all()]
    )


def verdicts_on(db: Session, zone_ids: Collection[int]) -> dict[int, list[Verdict]]:
    """Zone id to its verdicts, oldest first: a later one does not wipe out an earlier one."""
    wanted = select(Verdict).where(col(Verdict.zone_id).in_(zone_ids)).order_by(col(Verdict.judged_on), col(Verdict.id))
    return _grouped([(row.zone_id, row) for row in db.exec(wanted).all()])


def difference_of(reading: Reading | None) -> Estimate | None:
    """The colour difference of a reading, ΔE00, with its 90 % interval; None where it was not measured."""
    if reading is None or reading.delta_e_00 is None:
        return None
    if reading.delta_e_00_low is None or reading.delta_e_00_high is None:
        return None
    return Estimate(reading.delta_e_00, reading.delta_e_00_low, reading.delta_e_00_high)


def standing_verdict(verdicts: Sequence[Verdict], clocks: Sequence[Clock]) -> Verdict | None:
    """The newest settled verdict on the work as it stands: one from before the last session judged other work."""
    last = clocks[-1].worked_on if clocks else date.min
    return next((one for one in reversed(verdicts) if one.was_settled and one.judged_on > last), None)


def sessions_words(worked: Sequence[Worked]) -> str:
    """2 sessions and 1 test spot"""
    counts = [
        (sum(one.kind == kind for one in worked), words)
        for kind, words in (("full", "session"), ("test_spot", "test spot"))
    ]
    return " and ".join(f"{count} {words}{'' if count == 1 else 's'}" for count, words in counts if count) or "none"


def earliness(clocks: Sequence[Clock]) -> list[tuple[Clock, Clock, Early]]:
    """Work before the earliest date of the work before it: each with that work, and whether under its floor."""
    found: list[tuple[Clock, Clock, Early]] = []
    for before, after in pairwise(clocks):
        if after.worked_on < before.earliest_on:
            found.append((before, after, "floor" if after.worked_on < before.floor_on else "wait"))
    return found
