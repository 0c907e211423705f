from dataclasses import dataclass

from sqlalchemy import ColumnElement
from sqlmodel import Session, col, select

from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.sessions.gaps import Gap, UsedLot, WorkedZone, gaps
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.sessions.sheet import Sheet, sheet_of
from app.sessions.start_queries import may_start, open_on_zone, patches_of, reading_of, root_id, session_key
from app.studio.access import NotFound, Who

__all__ = [
    "Sheet", "gaps_of", "is_replaced", "item_in", "items_of", "may_start", "missing_records",
    "open_on_zone",
    "open_sessions", "patches_of", "reading_of", "root_id",
    "row_for", "session_for", "session_key", "sessions_of", "sessions_on_zone", "unread_patches", "zone_in", "zones_in",
]  # fmt: skip

DONE = ("finished", "stopped")


@dataclass(frozen=True)
class MissingRecord:
    """A session whose record still lacks something."""

    session: WorkSession
    case: Case
    client: Client
    gaps: tuple[Gap, ...]


@dataclass(frozen=True)
class UnreadPatch:
    session: WorkSession
    case: Case
    client: Client


def row_for(db: Session, who: Who, session_id: int) -> WorkSession:
    session = db.get(WorkSession, session_id)
    if session is None:
        raise NotFound
    records.case_for(db, who, session.case_id)
    return session


def session_for(db: Session, who: Who, session_id: int) -> Sheet:
    """The whole sheet of a session."""
    row = row_for(db, who, session_id)
    assert row.id is not None
    return sheet_of(db, row, zones_in(db, row.id), items_of(db, row.id), gaps_of(db, row))


def _current() -> ColumnElement[bool]:
    return col(WorkSession.id).not_in(select(WorkSession.replaces_id).where(col(WorkSession.replaces_id).is_not(None)))


def is_replaced(db: Session, session: WorkSession) -> bool:
    return db.exec(select(WorkSession.id).where(WorkSession.replaces_id == session.id)).first() is not None


def sessions_of(db: Session, case_id: int) -> list[WorkSession]:
    """The sessions of a case in their current versions, by the day of the work."""
    wanted = select(WorkSession).where(WorkSession.case_id == case_id, _current())
    return list(db.exec(wanted.order_by(col(WorkSession.worked_on), col(WorkSession.id))).all())


def sessions_on_zone(db: Session, zone_id: int) -> list[tuple[WorkSession, SessionZone]]:
    """The finished work on a zone, by its day; what was planned and not touched is left out."""
    wanted = (
        select(WorkSession, SessionZone)
        .join(SessionZone, col(SessionZone.session_id) == col(WorkSession.id))
        .where(SessionZone.zone_id == zone_id, col(SessionZone.is_untouched).is_(False), _current())
        .where(col(WorkSession.state).in_(DONE))
    )
    return list(db.exec(wanted.order_by(col(WorkSession.worked_on), col(WorkSession.id))).all())


def zones_in(db: Session, session_id: int) -> list[tuple[Zone, SessionZone]]:
    wanted = select(Zone, SessionZone).join(SessionZone, col(SessionZone.zone_id) == col(Zone.id))
    return list(db.exec(wanted.where(SessionZone.session_id == session_id).order_by(col(SessionZone.id))).all())


def items_of(db: Session, session_id: int) -> list[SessionItem]:
    used = select(SessionItem).where(SessionItem.session_id == session_id).order_by(col(SessionItem.id))
    return list(db.exec(used).all())


def item_in(db: Session, session: WorkSession, item_id: int) -> SessionItem:
    item = db.get(SessionItem, item_id)
    if item is None or item.session_id != session.id:
        raise NotFound
    return item


def zone_in(db: Session, session: WorkSession, zone_id: int) -> tuple[Zone, SessionZone]:
    """One zone of a session."""
    assert session.id is not None
    found = next(((zone, work) for zone, work in zones_in(db, session.id) if zone.id == zone_id), None)
    if found is None:
        raise NotFound
    return found


def gaps_of(db: Session, session: WorkSession) -> tuple[Gap, ...]:
    """What the record of a session lacks."""
    assert session.id is not None
    zones = [
        WorkedZone(work.zone_id, zone.label, work.no_pigment, work.is_untouched)
        for zone, work in zones_in(db, session.id)
    ]
    used = [UsedLot(item.id or 0, item.zone_id, item.kind, item.label, item.lot, item.lot_unreadable)
            for item in items_of(db, session.id)]  # fmt: skip
    return gaps(session.kind, session.state, zones, used)


def _open_to(db: Session, who: Who, sessions: list[WorkSession]) -> list[tuple[WorkSession, Case, Client]]:
    found = []
    for session in sessions:
        try:
            case = records.case_for(db, who, session.case_id)
        except NotFound:
            continue
        found.append((session, case, records.kept_client(db, case.client_id)))
    return found


def missing_records(db: Session, who: Who) -> list[MissingRecord]:
    """Finished sessions whose lots are still to be found, oldest first, of the cases this member may open."""
    wanted = select(WorkSession).where(col(WorkSession.state).in_(DONE), _current())
    rows = list(db.exec(wanted.order_by(col(WorkSession.worked_on), col(WorkSession.id))).all())
    found = [
        MissingRecord(session, case, client, gaps_of(db, session)) for session, case, client in _open_to(db, who, rows)
    ]
    return [record for record in found if record.gaps]


def unread_patches(db: Session, who: Who) -> list[UnreadPatch]:
    """Allergy patches that were placed and not read, oldest first."""
    wanted = select(WorkSession).where(
        col(WorkSession.state).in_(DONE), WorkSession.kind == "allergy_patch", _current()
    )
    rows = list(db.exec(wanted.order_by(col(WorkSession.worked_on), col(WorkSession.id))).all())
    return [UnreadPatch(*found) for found in _open_to(db, who, rows) if reading_of(db, found[0]) is None]


def open_sessions(db: Session, who: Who) -> list[tuple[WorkSession, Case, Client]]:
    """Sheets that are open, oldest first."""
    rows = db.exec(select(WorkSession).where(WorkSession.state == "open").order_by(col(WorkSession.id))).all()
    return _open_to(db, who, list(rows))
