"""Two records become one person's, and two again. Nothing is moved, so that undoing leaves no trace but the trail."""

from sqlmodel import Session, select

from app.platform import clock
from app.platform.audit import Actor, about, audited, note
from app.platform.forms import Refused
from app.records.doubles import pair
from app.records.models import Client, Merge, NotTheSame

ALREADY = "already"  # the field of a refusal that no second try can mend
CHANGED = "Somebody merged one of these records meanwhile. Look at the list of merged records, then decide again."
HELD = "The other record is on hold and this one is not. Put this one on hold too, or release the other, then merge."


@audited("records.client.merged")
def merge(db: Session, kept: Client, merged: Client, why: str, *, by: Actor) -> Merge:
    """Lets one record lead to the other. Both must stand for themselves: whoever merges the other way round at the same
    time is refused, and a circle cannot come about."""
    if kept.id is None or merged.id is None or kept.id == merged.id:
        raise Refused(ALREADY, "These are one record already.")
    db.refresh(kept)
    db.refresh(merged)
    if kept.merged_into is not None or merged.merged_into is not None:
        raise Refused(ALREADY, CHANGED)
    if merged.held_at is not None and kept.held_at is None:
        raise Refused("keep", HELD)
    apart = db.get(NotTheSame, pair(kept.id, merged.id))
    if apart is not None:
        db.delete(apart)
    merged.merged_into = kept.id
    merged.revision += 1
    db.add(merged)
    row = Merge(kept_id=kept.id, merged_id=merged.id, why=why, merged_by=by.id, merged_at=clock.now())
    db.add(row)
    note(db, why=why)
    return row


@audited("records.merge.undone")
def undo(db: Session, row: Merge, why: str, *, by: Actor) -> Merge:
    """Makes two persons of them again, each with what was filed under it; those merged into either stay with it."""
    if row.undone_at is not None:
        raise Refused("why", "Somebody undid this meanwhile.")
    merged = db.get_one(Client, row.merged_id)
    merged.merged_into = None
    merged.revision += 1
    row.undone_by, row.undone_at, row.undone_why = by.id, clock.now(), why
    db.add(merged)
    db.add(row)
    note(db, why=why)
    return row


@audited("records.client.told_apart")
def tell_apart(db: Session, one: Client, other: Client, *, by: Actor) -> NotTheSame:
    """Says that two records are two people: they are not offered again."""
    if one.id is None or other.id is None or one.id == other.id:
        raise Refused(ALREADY, CHANGED)
    first, second = pair(one.id, other.id)
    row = db.exec(select(NotTheSame).where(NotTheSame.first_id == first, NotTheSame.second_id == second)).first()
    if row is None:
        row = NotTheSame(first_id=first, second_id=second, said_by=by.id, said_at=clock.now())
        db.add(row)
    about(db, one)
    note(db, other=other.id)
    return row
