"""What plans, puts off and ends messages. Who is written to when is a row; sending reads it."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.messages.models import PlannedMessage
from app.platform import clock
from app.platform.audit import Actor, about, audited, note

# What cannot wait first: a patch is readable for two days, a red flag is asked for at its turn; a booking, an outcome
# and a provisional photo lose nothing by a few days. A template that is not named here comes last.
IMPORTANCE = ("patch_reading", "check_in", "review_booking", "outcome_6m", "outcome_12m", "provisional_photo")


def opening(day: date, opens_at: str, time_zone: str) -> datetime:
    """The moment the studio opens on a day. An hour that the clocks leap over is taken as far after the leap."""
    hour, minute = opens_at.split(":")
    return datetime.combine(day, time(int(hour), int(minute)), ZoneInfo(time_zone)).astimezone(UTC)


def _rank(template: str) -> int:
    return IMPORTANCE.index(template) if template in IMPORTANCE else len(IMPORTANCE)


def _days_of(db: Session, client_id: int) -> dict[date, PlannedMessage]:
    """The days on which a client is written to or has been, over all courses."""
    counted = select(PlannedMessage).where(PlannedMessage.client_id == client_id, PlannedMessage.state != "cancelled")
    return {row.due_on: row for row in db.exec(counted.order_by(col(PlannedMessage.id))).all()}


def _settle(db: Session, row: PlannedMessage, time_zone: str, opens_at: str) -> None:
    """Gives each day to the most important message; what has to give way moves to its next free day."""
    taken, waits, on = _days_of(db, row.client_id), row, row.due_on
    while True:
        held = taken.get(on)
        gives_way = held is not None and held.state == "planned" and _rank(held.template) > _rank(waits.template)
        if held is None or gives_way:
            waits.due_on, waits.due_at = on, opening(on, opens_at, time_zone)
            db.add(waits)
            taken[on] = waits
            if held is None:
                return
            waits = held
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
    """Plans a message once for its key, on the first day from `due_on` on that leaves the client one message a day."""
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
