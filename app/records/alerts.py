"""The alerts that stand for a person, over all their records, and for whom."""

from collections.abc import Collection

from sqlalchemy import ColumnElement
from sqlmodel import Session, col, select

from app.records.alert_kinds import CONTACT
from app.records.models import Alert
from app.records.people import person_ids, persons
from app.studio.access import NotFound, Who


def alerts_of(db: Session, client_id: int, *, medical: bool) -> list[Alert]:
    """What stands, each kind once: set-up alerts for all, medical ones only when asked for."""
    wanted = select(Alert).where(col(Alert.client_id).in_(person_ids(db, client_id)), col(Alert.ended_at).is_(None))
    if not medical:
        wanted = wanted.where(Alert.audience == "setup")
    rows = db.exec(wanted.order_by(col(Alert.audience), col(Alert.id))).all()
    once: dict[str, Alert] = {}
    for row in rows:
        held = once.get(row.kind)
        # One that was never answered away counts more than one that a later form no longer says.
        if held is None or (held.answered_no_on is not None and row.answered_no_on is None):
            once[row.kind] = row
    return list(once.values())


def kinds_of(db: Session, client_id: int) -> frozenset[str]:
    """The kinds that stand, whoever is to see them."""
    return frozenset(alert.kind for alert in alerts_of(db, client_id, medical=True))


def setup_lines(db: Session, client_ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    """For lists of many clients: kept record's id to what is to be set up, in words that everybody may see."""
    return _lines(db, client_ids, col(Alert.kind) != CONTACT)


def contact_lines(db: Session, client_ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    """For lists with telephone numbers: kept record's id to how that person may be reached, where it is restricted."""
    return _lines(db, client_ids, col(Alert.kind) == CONTACT)


def _lines(db: Session, client_ids: Collection[int], which: ColumnElement[bool]) -> dict[int, tuple[str, ...]]:
    tree = persons()
    wanted = select(Alert, tree.c.kept_id).join(tree, col(Alert.client_id) == tree.c.id)
    wanted = wanted.where(tree.c.kept_id.in_(set(client_ids)), Alert.audience == "setup", which)
    found: dict[int, tuple[str, ...]] = {}
    for alert, kept_id in db.exec(wanted.where(col(Alert.ended_at).is_(None)).order_by(col(Alert.id))).all():
        if alert.words not in found.get(kept_id, ()):
            found[kept_id] = (*found.get(kept_id, ()), alert.words)
    return found


def alert_for(db: Session, who: Who, alert_id: int) -> Alert:
    alert = db.get(Alert, alert_id)
    if alert is None or alert.ended_at is not None or not who.sees_health:
        raise NotFound
    return alert
