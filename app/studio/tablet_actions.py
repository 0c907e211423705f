"""Handing a tablet to a client, and taking it back."""

import secrets
from datetime import timedelta
from typing import Literal

from sqlmodel import Session

from app.platform import clock
from app.platform.audit import Actor, audited, note
from app.platform.links import hash_of
from app.studio.actions import sign_out
from app.studio.models import HandOver

HAND_OVER_LASTS = timedelta(hours=12)
# OWASP's session guidance leaves the number open; with the plainest PINs refused, five tries find one of four digits
# once in two thousand hand-overs.
PIN_TRIES = 5

How = Literal["pin", "sign_in", "tries", "expired"]


def begin_hand_over(db: Session, member_id: int, sign_in_id: int, *, by: Actor) -> str:
    """Ends the member's sign-in on this device and gives the secret that stands in its place."""
    sign_out(db, sign_in_id, by=by)
    secret = secrets.token_urlsafe(32)
    _begin(db, member_id, secret, by=by)
    return secret


@audited("studio.hand_over.begun")
def _begin(db: Session, member_id: int, secret: str, *, by: Actor) -> HandOver:
    now = clock.now()
    row = HandOver(secret_hash=hash_of(secret), member_id=member_id, begun_at=now, expires_at=now + HAND_OVER_LASTS)
    db.add(row)
    return row


def count_try(db: Session, hand_over_id: int) -> bool:
    """Counts a try before anybody looks at it, so that tries at the same moment are no more than five either."""
    row = db.get_one(HandOver, hand_over_id)
    if row.ended_at is not None or row.pin_tries >= PIN_TRIES:
        return False
    row.pin_tries += 1
    db.add(row)
    return True


@audited("studio.pin.refused")
def refuse_pin(db: Session, hand_over_id: int, *, by: Actor) -> HandOver:
    row = db.get_one(HandOver, hand_over_id)
    note(db, tries=row.pin_tries)
    return row


@audited("studio.hand_over.ended")
def end_hand_over(db: Session, hand_over_id: int, how: How, *, by: Actor) -> HandOver:
    """The row says how; one that has ended already stays as it ended."""
    row = db.get_one(HandOver, hand_over_id)
    if row.ended_at is None:
        row.ended_at, row.ended_how = clock.now(), how
        db.add(row)
    return row
