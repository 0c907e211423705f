"""What raises and ends alerts. An alert belongs to the record it was raised for and stands for the whole person."""

import hashlib
from collections.abc import Collection
from datetime import date

from sqlmodel import Session, col, select

from app.platform import clock
from app.platform.audit import Actor, audited, note
from app.platform.forms import Refused
from app.platform.search import fold
from app.records import forms
from app.records.alert_kinds import KINDS, OWN
from app.records.alerts import kinds_of
from app.records.models import Alert, Client
from app.records.people import person_ids

BY_ANSWERS, BY_HAND = "intake", "hand"


@audited("records.alert.raised")
def raise_alert(db: Session, client_id: int, *, kind: str, words: str, audience: str, source: str, by: Actor) -> Alert:
    """Raises an alert, once for each kind; one that was ended stands again, one that was answered away does so too."""
    alert = db.exec(select(Alert).where(Alert.client_id == client_id, Alert.kind == kind)).first()
    if alert is None:
        alert = Alert(client_id=client_id, kind=kind, words=words, audience=audience, raised_at=clock.now())
    elif alert.ended_at is not None:
        alert.raised_at, alert.ended_at = clock.now(), None
    alert.words, alert.audience, alert.source, alert.answered_no_on = words, audience, source, None
    db.add(alert)
    return alert


def raise_by_hand(db: Session, client: Client, form: forms.RaiseAlert, *, by: Actor) -> Alert:
    """An artist raises one: of the fixed list, in its words, or in their own."""
    assert client.id is not None
    kind, words, audience = form.kind, " ".join(form.words.split()), form.audience
    if kind == OWN:
        if not words:
            raise Refused("words", "Write what must be seen, in a few words.")
        # The same words again are the same alert.
        kind = f"{OWN}/{hashlib.sha256(fold(words).encode()).hexdigest()[:12]}"
    else:
        words, audience = KINDS[kind].words, KINDS[kind].audience
    if kind in kinds_of(db, client.id):
        raise Refused("kind", "This alert stands already.")
    return raise_alert(db, client.id, kind=kind, words=words, audience=audience, source=BY_HAND, by=by)


def mark_answered_no(db: Session, client_id: int, kinds: Collection[str], on: date, *, by: Actor) -> list[Alert]:
    """Says of alerts that followed from answers that a later form no longer says so. They stand until an artist ends
    them: a person may forget, and an allergy seldom goes."""
    standing = select(Alert).where(col(Alert.client_id).in_(person_ids(db, client_id)), col(Alert.ended_at).is_(None))
    standing = standing.where(Alert.source == BY_ANSWERS, col(Alert.kind).in_(set(kinds)))
    rows = db.exec(standing.where(col(Alert.answered_no_on).is_(None)).order_by(col(Alert.id))).all()
    return [_answered_no(db, row, on, by=by) for row in rows]


@audited("records.alert.answered_no")
def _answered_no(db: Session, alert: Alert, on: date, *, by: Actor) -> Alert:
    alert.answered_no_on = on
    db.add(alert)
    return alert


@audited("records.alert.ended")
def end_alert(db: Session, alert: Alert, reason: str, *, by: Actor) -> Alert:
    """Ends an alert on every record of the person; the reason stands in the trail."""
    note(db, reason=reason)
    same = select(Alert).where(col(Alert.client_id).in_(person_ids(db, alert.client_id)), Alert.kind == alert.kind)
    for row in db.exec(same.where(col(Alert.ended_at).is_(None))).all():
        row.ended_at = clock.now()
        db.add(row)
    return alert
