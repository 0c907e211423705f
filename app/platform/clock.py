"""The only place that tells the time, so that tests and the demo can stand on another day."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

_stopped_at: datetime | None = None


def now() -> datetime:
    return _stopped_at or datetime.now(UTC)


def today(time_zone: str) -> date:
    """The calendar date where the studio stands."""
    return now().astimezone(ZoneInfo(time_zone)).date()


@contextmanager
def stopped_at(moment: datetime) -> Iterator[None]:
    """Holds the clock of the whole process: for tests and for building the demo's past."""
    global _stopped_at
    if moment.tzinfo is None:
        raise ValueError("a moment needs a time zone")
    before, _stopped_at = _stopped_at, moment.astimezone(UTC)
    try:
        yield
    finally:
        _stopped_at = before
