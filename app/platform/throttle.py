"""Tries counted in the database, so that several workers agree on when to say "wait"."""

from datetime import datetime, timedelta

from sqlmodel import Field, Session

from app.platform import clock
from app.platform.rows import OFF, Row


class Throttle(Row, table=True):
    __tablename__ = "throttles"
    __table_args__ = ({"info": OFF},)
    key: str = Field(primary_key=True)
    since: datetime
    tries: int = 0


def spend(db: Session, key: str, *, limit: int, window: timedelta) -> bool:
    """Counts one try; false once there were more than `limit` in the window."""
    now = clock.now()
    row = db.get(Throttle, key) or Throttle(key=key, since=now)
    if now - row.since > window:
        row.since, row.tries = now, 0
    row.tries += 1
    db.add(row)
    return row.tries <= limit


def clear(db: Session, key: str) -> None:
    if row := db.get(Throttle, key):
        db.delete(row)
