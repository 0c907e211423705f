"""What is tapped on the sheet. Each tap has an id that its page gave it: sent twice, it is stored once."""

import json
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from sqlmodel import Session, col, select

from app.pigments import queries as pigments
from app.pigments.models import Item
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical
from app.platform.forms import Posted, Refused, fill
from app.records.models import Zone
from app.sessions import queries
from app.sessions.forms import AddItem, ChangeMix, SentTap, ZoneWork
from app.sessions.models import SessionItem, SessionZone, Tap, WorkSession
from app.sessions.sheet import MIX_KINDS, shelf_caution
from app.sessions.terms import TECHNIQUE

# The name on the sheet and the column it sets.
ZONE_FIELDS: Mapping[str, str] = {
    "configuration": "needle", "device": "device", "device_setting": "device_setting", "device_unit": "device_unit",
    "hang_mm": "hang_mm", "passes": "passes", "first_dots": "first_dots", "bleeding": "bleeding", "redness": "redness",
    "sensitivity": "sensitivity", "note": "note",
}  # fmt: skip
TICKS = ("no_pigment", "is_untouched")
SESSION_FIELDS: Mapping[str, str] = {"room": "room", "assistant": "assistant", "session_note": "note"}


def refuse_closed(session: WorkSession) -> None:
    if not session.is_open:
        raise Refused("session", "This session is over. Nothing finished is edited: write a correction instead.")


def tap(db: Session, session: WorkSession, zone: Zone | None, sent: SentTap, *, by: Actor) -> WorkSession:
    """Stores one tap, once. Of two that set the same thing the one tapped later counts, whichever came in first."""
    return _once(db, session, sent.tap_id, lambda: _keep_tap(db, session, zone, sent, by=by))


def _once(db: Session, session: WorkSession, tap_id: str, do: Callable[[], object]) -> WorkSession:
    known = db.get(Tap, tap_id.lower())
    if known is not None and known.session_id != session.id:
        raise Refused("tap_id", "This entry belongs to another session.")
    if known is None:
        refuse_closed(session)
        do()
    return session


def _store(db: Session, session: WorkSession, tap_id: str, field: str, at: datetime) -> bool:
    """Keeps the id; says whether nothing tapped later has set the same thing."""
    assert session.id is not None
    earlier = select(Tap.tapped_at).where(Tap.session_id == session.id, Tap.field == field)
    newest = db.exec(earlier.order_by(col(Tap.tapped_at).desc()).limit(1)).first()
    db.add(Tap(uuid=tap_id.lower(), session_id=session.id, field=field, tapped_at=at))
    return newest is None or newest <= at


def _moment(text: str) -> datetime:
    """When it was tapped by the device's clock, which may be wrong: never later than now."""
    now = clock.now()
    try:
        at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        return now
    return min(at.astimezone(UTC), now) if at.tzinfo is not None else now


@audited("sessions.sheet.tapped")
def _keep_tap(db: Session, session: WorkSession, zone: Zone | None, sent: SentTap, *, by: Actor) -> WorkSession:
    at = _moment(sent.tapped_at)
    part = f"/{sent.value[:40]}" if sent.name == "techniques" else ""
    counts = _store(db, session, sent.tap_id, f"{zone.id if zone is not None else ''}/{sent.name}{part}", at)
    about(db, session)
    if not counts:
        return session
    if sent.name == "needle":
        _set_needle(session, sent, at)
    elif sent.name in SESSION_FIELDS:
        setattr(session, SESSION_FIELDS[sent.name], sent.value[:2000])
    elif zone is not None:
        work = queries.zone_in(db, session, zone.id or 0)[1]
        _set_on_zone(work, sent)
        db.add(work)
    else:
        raise Refused(sent.name, "The sheet has no such entry.")
    db.add(session)
    return session


def _set_needle(session: WorkSession, sent: SentTap, at: datetime) -> None:
    if not sent.value.isdecimal() or int(sent.value) > 86_400:
        raise Refused("needle", "This is not a time.")
    session.needle_seconds = int(sent.value)
    session.needle_since = at if sent.on == "1" else None


def _set_on_zone(work: SessionZone, sent: SentTap) -> None:
    if sent.name == "techniques":
        if sent.value not in TECHNIQUE:
            raise Refused("techniques", "The sheet has no such stroke.")
        held = _techniques(work)
        held = [key for key in held if key != sent.value] + ([sent.value] if sent.on == "1" else [])
        work.techniques = canonical(held)
    elif sent.name in TICKS:
        setattr(work, sent.name, sent.on == "1")
    elif sent.name in ZONE_FIELDS:
        column = ZONE_FIELDS[sent.name]
        setattr(work, column, getattr(_read(work.zone_id, {column: [sent.value]}, sent.name), column))
    else:
        raise Refused(sent.name, "The sheet has no such entry.")


def _techniques(work: SessionZone) -> list[str]:
    return list(json.loads(work.techniques))


def _read(zone_id: int, texts: Mapping[str, list[str]], name: str) -> ZoneWork:
    filled = fill(ZoneWork, Posted({**texts, "zone_id": [str(zone_id)]}, {}))
    if not filled.ok:
        raise Refused(name, next(iter(filled.errors.values())))
    return filled.sure


@audited("sessions.sheet.saved")
def save_zone(db: Session, session: WorkSession, zone: Zone, values: Mapping[str, Any], *, by: Actor) -> WorkSession:
    """Saves a part of the sheet as one form: for a browser that sends no taps."""
    refuse_closed(session)
    work = queries.zone_in(db, session, zone.id or 0)[1]
    for column, value in values.items():
        setattr(work, column, canonical(value) if column == "techniques" else value)
    db.add(work)
    about(db, session)
    return session


def add_item(
    db: Session, session: WorkSession, zone: Zone | None, form: AddItem, *, shelf: Item | None = None, by: Actor
) -> WorkSession:
    """Writes down an item with its lot: copied from the shelf, or as its label says."""
    return _once(db, session, form.tap_id, lambda: _keep_item(db, session, zone, form, shelf, by=by))


@audited("sessions.item.added")
def _keep_item(
    db: Session, session: WorkSession, zone: Zone | None, form: AddItem, shelf: Item | None, *, by: Actor
) -> SessionItem:
    assert session.id is not None
    _store(db, session, form.tap_id, "item", clock.now())
    if shelf is None and not (form.kind and form.label):
        raise Refused("label", "Say what it is: its kind, and its name as the label says.")
    kind = shelf.kind if shelf is not None else form.kind
    is_mix = kind in MIX_KINDS
    if is_mix and zone is None:
        raise Refused("zone", "Say for which zone.")
    zone_id = zone.id if is_mix and zone is not None else None
    if shelf is not None:
        item = copied(session.id, shelf, zone_id, 1 if is_mix else None, session.worked_on)
    else:
        item = SessionItem(
            session_id=session.id,
            zone_id=zone_id,
            kind=kind,
            label=form.label,
            lot=form.lot,
            lot_unreadable=form.lot_unreadable and not form.lot,
            drops=1 if is_mix else None,
        )
    db.add(item)
    if kind == "needle":
        _take_in_hand(db, session, zone, item.label)
    return item


def _take_in_hand(db: Session, session: WorkSession, zone: Zone | None, label: str) -> None:
    """The needle just written down is the one in hand, unless another was named already."""
    if zone is None:
        return
    work = queries.zone_in(db, session, zone.id or 0)[1]
    if not work.needle:
        work.needle = label[:120]
        db.add(work)


def copied(session_id: int, shelf: Item, zone_id: int | None, drops: int | None, on: date) -> SessionItem:
    """An item as the shelf has it now; the record stands whatever becomes of the shelf."""
    return SessionItem(
        session_id=session_id, zone_id=zone_id, item_id=shelf.id, kind=shelf.kind, label=shelf.label, lot=shelf.lot,
        lot_unreadable=shelf.lot_unreadable, expires_on=shelf.use_by, drops=drops, caution=shelf_caution(shelf, on),
    )  # fmt: skip


def add_mix(db: Session, session: WorkSession, zone: Zone, recipe_id: int, on: date) -> None:
    """The bottles of a recipe, each with its lot and its drops."""
    assert session.id is not None
    for item, drops in pigments.parts_of(db, recipe_id):
        db.add(copied(session.id, item, zone.id, drops, on))


def change_mix(db: Session, session: WorkSession, zone: Zone, form: ChangeMix, *, by: Actor) -> WorkSession:
    """Another kept recipe of the zone: instead of the mix on the sheet, or used after it."""
    return _once(db, session, form.tap_id, lambda: _keep_mix(db, session, zone, form, by=by))


@audited("sessions.mix.changed")
def _keep_mix(db: Session, session: WorkSession, zone: Zone, form: ChangeMix, *, by: Actor) -> WorkSession:
    assert session.id is not None
    assert zone.id is not None
    if form.recipe_id not in {recipe.id for recipe in pigments.recipes_of(db, zone.id)}:
        raise Refused("recipe_id", "This recipe is not kept for the zone.")
    _store(db, session, form.tap_id, "mix", clock.now())
    work = queries.zone_in(db, session, zone.id)[1]
    if form.how == "instead":
        for item in queries.items_of(db, session.id):
            if item.zone_id == zone.id and item.kind in MIX_KINDS:
                db.delete(item)
    add_mix(db, session, zone, form.recipe_id, session.worked_on)
    work.recipe_id = form.recipe_id
    db.add(work)
    about(db, session)
    return session


def add_drop(db: Session, session: WorkSession, item: SessionItem, tap_id: str, *, by: Actor) -> WorkSession:
    """One more drop of a bottle."""
    return _once(db, session, tap_id, lambda: _keep_drop(db, session, item, tap_id, by=by))


@audited("sessions.drop.added")
def _keep_drop(db: Session, session: WorkSession, item: SessionItem, tap_id: str, *, by: Actor) -> SessionItem:
    _store(db, session, tap_id, f"drop/{item.id}", clock.now())
    item.drops = (item.drops or 0) + 1
    db.add(item)
    return item


@audited("sessions.item.removed")
def remove_item(db: Session, session: WorkSession, item: SessionItem, *, by: Actor) -> WorkSession:
    """Takes an item off that was not used after all; the trail keeps that it stood there."""
    refuse_closed(session)
    db.delete(item)
    about(db, session)
    return session
