"""What plans, puts off and ends messages. Who is written to when is a row; sending reads it."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.messages.models import PlannedMessage
from app.platform import clock
from app.platform.audit import Actor, about, audited, note
from app.records import queries as records
from app.studio import queries as studio_queries
from app.studio.models import Studio

# What cannot wait first: a patch is readable for two days, a red flag is asked for at its turn; a booking, an outcome
# and a provisional photo lose nothing by a few days. A template that is not named here comes last.
IMPORTANCE = (
    "patch_reading", "short_questions", "permissions_link", "check_in", "review_booking", "outcome_6m", "outcome_12m",
    "provisional_photo",
)  # fmt: skip
# What the client asked for is no reminder: it needs no yes to reminders, and its link serves once, for a day.
ASKED_FOR = frozenset({"permissions_link"})
# What means nothing on another day: it is sent on its own day and not late in the evening, or not at all.
ONLY_THAT_DAY = frozenset({"short_questions"})
# A later note may wake somebody. Common practice, no source.
LATEST_AT = time(21)
# What is worth asking after a hold, however long it was; the newest of a course. A question about one day is over.
WORTH_ASKING_LATE = frozenset({"review_booking", "outcome_6m", "outcome_12m", "provisional_photo", "wait_over"})
ON_HOLD = "The client’s plans are on hold."
NO_ADDRESS = "There is no e-mail address."
NOT_AGREED = "The client has not agreed to e-mails."
NOT_IN_TIME = "It could not be sent in time."
DAY_TAKEN = "Another message has that day."
_NOT_ENDED = (ON_HOLD, NO_ADDRESS, NOT_AGREED, NOT_IN_TIME, DAY_TAKEN)


def opening(day: date, opens_at: str, time_zone: str) -> datetime:
    """The moment the studio opens on a day. An hour that the clocks leap over is taken as far after the leap."""
    hour, minute = opens_at.split(":")
    return datetime.combine(day, time(int(hour), int(minute)), ZoneInfo(time_zone)).astimezone(UTC)


def _rank(template: str) -> int:
    return IMPORTANCE.index(template) if template in IMPORTANCE else len(IMPORTANCE)


def _days_of(db: Session, client_id: int) -> dict[date, PlannedMessage]:
    """The days on which a person is written to or has been, over all courses and records."""
    mine = col(PlannedMessage.client_id).in_(records.person_ids(db, client_id))
    counted = select(PlannedMessage).where(mine, PlannedMessage.state != "cancelled")
    return {row.due_on: row for row in db.exec(counted.order_by(col(PlannedMessage.id))).all()}


def _settle(db: Session, row: PlannedMessage, time_zone: str, opens_at: str) -> None:
    """Gives each day to the most important message; what has to give way moves to its next free day, or is not sent."""
    taken, waits, on = _days_of(db, row.client_id), row, row.due_on
    while True:
        held = taken.get(on)
        gives_way = held is not None and held.state == "planned" and _rank(held.template) > _rank(waits.template)
        if held is None or gives_way:
            at = opens_at if waits is row else studio_queries.studio(db).opens_at
            waits.due_on, waits.due_at = on, opening(on, at, time_zone)
            db.add(waits)
            taken[on] = waits
            if held is None:
                return
            waits = held
        if waits.template in ONLY_THAT_DAY:
            waits.state, waits.fault, waits.claimed_until = "cancelled", DAY_TAKEN, None
            db.add(waits)
            return
        on += timedelta(days=1)


@audited("messages.message.planned")
def plan(
    db: Session,
    *,
    unique_key: str,
    client_id: int,
    template: str,
    purpose: str,
    subject_id: int,
    due_on: date,
    time_zone: str,
    opens_at: str,
    course_key: str = "",
    by: Actor,
) -> PlannedMessage:
    """Plans a message once for its key, on the first day from `due_on` on that leaves the client one message a day.

    What means nothing on another day is cancelled at once where its day is taken.
    """
    known = db.exec(select(PlannedMessage).where(PlannedMessage.unique_key == unique_key)).first()
    if known is not None:
        return known
    row = PlannedMessage(
        unique_key=unique_key,
        client_id=client_id,
        template=template,
        purpose=purpose,
        subject_id=subject_id,
        course_key=course_key,
        due_on=due_on,
        due_at=opening(due_on, opens_at, time_zone),
        made_at=clock.now(),
    )
    _settle(db, row, time_zone, opens_at)
    db.flush()
    about(db, row)
    return row


@audited("messages.plan.cancelled")
def cancel(
    db: Session, course_key: str, *, reason: str = "The course is over.", but: tuple[str, ...] = (), by: Actor
) -> list[PlannedMessage]:
    """Ends what is still planned for one course, but for the templates named."""
    planned = select(PlannedMessage).where(PlannedMessage.course_key == course_key, PlannedMessage.state == "planned")
    rows = [row for row in db.exec(planned.order_by(col(PlannedMessage.id))).all() if row.template not in but]
    for row in rows:
        row.state, row.fault = "cancelled", reason
        db.add(row)
    note(db, course=course_key, reason=reason)
    return rows


@audited("messages.message.cancelled")
def cancel_one(db: Session, row: PlannedMessage, reason: str, *, by: Actor) -> PlannedMessage:
    row.state, row.fault, row.claimed_until = "cancelled", reason, None
    db.add(row)
    return row


@audited("messages.message.sent")
def mark_sent(db: Session, row: PlannedMessage, by_way_of: str, *, by: Actor) -> PlannedMessage:
    row.state, row.sent_at, row.sent_by_way_of = "sent", clock.now(), by_way_of
    row.fault, row.claimed_until = "", None
    db.add(row)
    return row


@audited("messages.message.failed")
def mark_failed(db: Session, row: PlannedMessage, fault: str, *, by: Actor) -> PlannedMessage:
    row.state, row.fault, row.claimed_until = "failed", fault[:500], None
    db.add(row)
    return row


@audited("messages.message.put_off")
def put_off(db: Session, row: PlannedMessage, until: datetime, fault: str, *, by: Actor) -> PlannedMessage:
    row.due_at, row.fault, row.claimed_until = until, fault[:500], None
    db.add(row)
    return row


@audited("messages.plan.resumed")
def resume(db: Session, client_id: int, on: date, *, studio: Studio, by: Actor) -> list[PlannedMessage]:
    """After a hold: what was not sent because of it and is still worth asking is planned from the next day on."""
    mine = col(PlannedMessage.client_id).in_(records.person_ids(db, client_id))
    wanted = select(PlannedMessage).where(mine).order_by(col(PlannedMessage.due_on), col(PlannedMessage.id))
    rows = db.exec(wanted).all()
    ended = {row.course_key for row in rows if row.state == "cancelled" and row.fault not in _NOT_ENDED}
    newest = {
        row.course_key or row.unique_key: row
        for row in rows
        if row.fault == ON_HOLD and row.template in WORTH_ASKING_LATE and row.course_key not in ended
    }
    again = [
        plan(
            db, unique_key=f"{row.unique_key}/after/{on.isoformat()}", client_id=row.client_id, template=row.template,
            purpose=row.purpose, subject_id=row.subject_id, due_on=on + timedelta(days=1), time_zone=studio.time_zone,
            opens_at=studio.opens_at, course_key=row.course_key, by=by,
        )
        for row in newest.values()
    ]  # fmt: skip
    note(db, client=client_id, again=len(again))
    return again
