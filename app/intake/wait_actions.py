"""What a wait leaves behind: a word to the client on the day it is over, or, where it must not be written, a talk.

Nobody learns from a message what is treated, where, or why. Where a finding or a zone is sensitive nothing is sent and
no day is told: the lead artist gets a task to speak with the client.
"""

from collections.abc import Sequence
from datetime import date, timedelta

from sqlmodel import Session

from app.intake import findings as found_of
from app.intake.clearing import Cleared
from app.intake.models import Finding, LetterRequest, Screening
from app.messages import actions as messages
from app.messages import queries as message_queries
from app.platform.audit import Actor
from app.platform.pages import day_words
from app.records import queries as records
from app.records import tasks
from app.records.models import Case
from app.studio import queries as studio_queries

DECIDED_ANEW = "It was decided anew."
# Time enough to write to a practice and get an answer. Common practice, no source.
BEFORE_A_LETTER_ENDS = timedelta(days=14)
TALK_WORDS = "Speak with the client: a time to wait is over."


def course_key(screening_id: int) -> str:
    """How messages and tasks name what belongs to a screening."""
    return f"screening/{screening_id}"


def end_plans(db: Session, screening: Screening, *, by: Actor) -> None:
    """Ends the word and the talk that were planned for a decision which counts no more."""
    assert screening.id is not None
    key = course_key(screening.id)
    if any(row.state == "planned" for row in message_queries.of_course(db, key)):
        messages.cancel(db, key, reason=DECIDED_ANEW, by=by)
    for task in tasks.open_tasks(db, f"{key}/wait"):
        tasks.finish_task(db, task, DECIDED_ANEW, by=by)


def plan_wait_over(db: Session, screening: Screening, days: Sequence[date], *, sensitive: bool, by: Actor) -> None:
    """A word to the client, or a task for the lead artist, for each day on which a wait of this decision lifts."""
    assert screening.id is not None
    key, case = course_key(screening.id), db.get_one(Case, screening.case_id)
    studio = studio_queries.studio(db)
    # Deciding again may name the same day: each plan has a number of its own, since a cancelled one stays cancelled.
    planned = len(message_queries.of_course(db, key)) + tasks.count_of(db, f"{key}/wait")
    for number, day in enumerate(sorted(set(days)), planned + 1):
        if sensitive:
            tasks.plan_task(
                db, unique_key=f"{key}/wait/{number}", client_id=case.client_id, case_id=case.id, kind="talk",
                words=TALK_WORDS, address=f"/screenings/{screening.id}", due_on=day, by=by,
            )  # fmt: skip
        else:
            messages.plan(
                db, unique_key=f"{key}/wait_over/{number}", client_id=case.client_id, template="wait_over",
                purpose="", subject_id=0, due_on=day, time_zone=studio.time_zone, opens_at=studio.opens_at,
                course_key=key, by=by,
            )  # fmt: skip


def days_of(decision: str, wait_until: date | None, may: Sequence[Cleared], on: date) -> list[date]:
    """The days still to come on which a decision opens something: the day waited for, or that of each scar."""
    if decision == "wait":
        return [wait_until] if wait_until is not None and wait_until > on else []
    return [one.from_on for one in may if one.grade and one.from_on > on] if decision == "accepted" else []


def is_sensitive(db: Session, screening: Screening, found: found_of.Screening, rows: Sequence[Finding]) -> bool:
    """Whether anything about the case must not be written of: a finding, also one that was lifted, or a zone."""
    zones = records.zones_of(db, screening.case_id)
    return found.is_sensitive or any(row.is_sensitive for row in rows) or any(zone.is_sensitive for zone in zones)


def plan_letter_end(
    db: Session, case: Case, key: str, until: date, address: str, on: date, *, by: Actor
) -> None:
    """A task for the artists 14 days before a proof runs out; its key holds the day, so that a new day has its own."""
    tasks.plan_task(
        db, unique_key=f"{key}/ends/{until.isoformat()}", client_id=case.client_id, case_id=case.id,
        kind="letter_ends", words=f"A letter runs out on {day_words(until)}: ask for a new one.", address=address,
        due_on=max(on, until - BEFORE_A_LETTER_ENDS), by=by,
    )  # fmt: skip


def letter_key(request: LetterRequest) -> str:
    return f"letter/{request.id}"
