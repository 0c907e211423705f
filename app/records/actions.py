"""What changes clients, cases, zones and alerts; the actions of `photo_actions` are named here too."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from sqlmodel import Session, col, select

from app.platform import clock
from app.platform.audit import Actor, about, audited
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.platform.search import fold, words_of
from app.records import forms
from app.records.alert_actions import end_alert, mark_answered_no, raise_alert, raise_by_hand
from app.records.happened import first_day
from app.records.models import Case, Client, DeclaredScar, SearchWord, Zone
from app.records.outline_actions import draw_outlines
from app.records.phones import phone_of
from app.records.photo_actions import (
    add_photo,
    examine_again,
    keep_examination,
    keep_reading,
    open_photo,
)
from app.studio import queries as studio_queries

__all__ = [
    "add_client", "add_photo", "change_client", "change_zone", "declare_scars", "draw_outlines", "end_alert",
    "examine_again", "finish_zone", "hold_client", "keep_examination", "keep_reading", "mark_answered_no", "open_case",
    "open_photo", "place_zone", "raise_alert", "raise_by_hand", "read_phone_again", "release_client", "reopen_zone",
]  # fmt: skip

# Places where it is already tomorrow are up to 14 hours ahead of UTC.
AHEAD = timedelta(hours=14)


def _refuse_ahead(day: date | None, field: str, message: str) -> None:
    if day is not None and day > (clock.now() + AHEAD).date():
        raise Refused(field, message)


def _keep_words(db: Session, client: Client) -> None:
    """The words by which a client is found, as they stand now."""
    assert client.id is not None
    numbers = db.exec(select(Case.number).where(Case.client_id == client.id)).all()
    wanted = words_of(client.name, client.phone, client.email) | {str(number) for number in numbers}
    phone = phone_of(client.phone)  # on file in international form, so that no country needs to be known
    wanted |= phone.searched if phone is not None else set()
    held = {row.word: row for row in db.exec(select(SearchWord).where(SearchWord.client_id == client.id)).all()}
    for word in wanted - held.keys():
        db.add(SearchWord(word=word, client_id=client.id))
    for word in held.keys() - wanted:
        db.delete(held[word])


def _write(db: Session, client: Client, form: forms.NewClient) -> None:
    _refuse_ahead(form.born_on, "born_on", "This day lies ahead. Check the date of birth.")
    client.name, client.sort_name, client.born_on = form.name, fold(form.name), form.born_on
    client.email, client.language = form.email, form.language
    _write_phone(client, form.phone, studio_queries.studio(db).country)


def _write_phone(client: Client, typed: str, region: str) -> None:
    """In international form where it can be read, else as it was typed: an unusual number is better than none."""
    phone = phone_of(typed, region)
    client.phone, client.phone_key = (phone.words, phone.key) if phone is not None else (typed, "")


@audited("records.client.phone_read")
def read_phone_again(db: Session, client: Client, *, by: Actor) -> Client:
    """Gives a number that was filed before numbers were read its international form; its words find it as before."""
    _write_phone(client, client.phone, studio_queries.studio(db).country)
    db.add(client)
    db.flush()
    _keep_words(db, client)
    return client


@audited("records.client.added")
def add_client(db: Session, form: forms.NewClient, *, by: Actor) -> Client:
    client = Client(name=form.name, sort_name="", made_at=clock.now())
    _write(db, client, form)
    db.add(client)
    db.flush()
    _keep_words(db, client)
    return client


@audited("records.client.changed")
def change_client(db: Session, client: Client, form: forms.ChangeClient, *, by: Actor) -> Client:
    take_revision(client, form.revision)
    _write(db, client, form)
    db.add(client)
    _keep_words(db, client)
    return client


@audited("records.client.held")
def hold_client(db: Session, client: Client, reason: str, *, by: Actor) -> Client:
    """Stops all plans of a client: nothing is sent and nothing starts until it is released."""
    client.hold_reason, client.held_at = reason, clock.now()
    client.revision += 1
    db.add(client)
    return client


@audited("records.client.released")
def release_client(db: Session, client: Client, *, by: Actor) -> Client:
    client.hold_reason, client.held_at = "", None
    client.revision += 1
    db.add(client)
    return client


@audited("records.case.opened")
def open_case(db: Session, client: Client, form: forms.NewCase, *, by: Actor) -> Case:
    """Opens a case under the next number; numbers are given under the write lock, so none is given twice."""
    assert client.id is not None
    artists = {member.id for member in studio_queries.artists(db)}
    if form.lead_id not in artists:
        raise Refused("lead_id", "Choose who leads the case.")
    if form.deputy_id is not None and (form.deputy_id not in artists or form.deputy_id == form.lead_id):
        raise Refused("deputy_id", "Choose another artist as deputy, or nobody.")
    last = db.exec(select(Case.number).order_by(col(Case.number).desc()).limit(1)).first()
    opened_on = clock.today(studio_queries.studio(db).time_zone)
    case = Case(number=(last or 0) + 1, client_id=client.id, lead_id=form.lead_id, deputy_id=form.deputy_id,
                title=form.title, is_restricted=form.is_restricted, skin_class=form.skin_class, opened_on=opened_on)
    db.add(case)
    db.flush()
    _keep_words(db, client)
    return case


@audited("records.scars.declared")
def declare_scars(db: Session, case: Case, scars: Sequence[Mapping[str, str]], *, by: Actor) -> list[DeclaredScar]:
    """Files scars as the client declared them, once for each key: key, site, side, words, kind, happened."""
    assert case.id is not None
    held = {row.key: row for row in db.exec(select(DeclaredScar).where(DeclaredScar.case_id == case.id)).all()}
    rows = []
    for scar in scars:
        row = held.get(scar["key"]) or DeclaredScar(case_id=case.id, key=scar["key"], site="", side="")
        for name in ("site", "side", "words", "kind", "happened"):
            setattr(row, name, scar.get(name, ""))
        db.add(row)
        rows.append(row)
    about(db, case)
    return rows


def _describe(zone: Zone, form: forms.PlaceZone) -> None:
    _refuse_ahead(first_day(form.happened), "happened", "This lies ahead. Check the date.")
    place = form.place
    zone.label, zone.site, zone.side = form.label, form.site, form.side
    zone.view, zone.x, zone.y = place.view, place.x, place.y
    zone.scar_kind, zone.cause, zone.happened = form.scar_kind, form.cause, form.happened
    zone.padding, zone.texture = form.padding_felt, form.texture
    zone.is_irradiated, zone.is_grafted, zone.darkens = form.is_irradiated, form.is_grafted, form.darkens
    zone.is_sensitive = form.hides_photos


def _join(db: Session, zone: Zone, keys: Sequence[str]) -> None:
    """Joins the named declared scars to the zone, and lets go of its others."""
    rows = db.exec(select(DeclaredScar).where(DeclaredScar.case_id == zone.case_id)).all()
    free = {row.key: row for row in rows if row.zone_id is None or row.zone_id == zone.id}
    if not free.keys() >= set(keys):
        raise Refused("declared", "One of these scars belongs to another zone by now. Choose again.")
    for key, row in free.items():
        row.zone_id = zone.id if key in keys else None
        db.add(row)


@audited("records.zone.placed")
def place_zone(db: Session, case: Case, form: forms.PlaceZone, *, by: Actor) -> Zone:
    assert case.id is not None
    zone = Zone(case_id=case.id, label="", site="", side=form.side, view="front", x=0, y=0, scar_kind="")
    _describe(zone, form)
    db.add(zone)
    db.flush()
    _join(db, zone, form.declared)
    return zone


@audited("records.zone.changed")
def change_zone(db: Session, zone: Zone, form: forms.ChangeZone, *, by: Actor) -> Zone:
    take_revision(zone, form.revision)
    _describe(zone, form)
    db.add(zone)
    _join(db, zone, form.declared)
    return zone


@audited("records.zone.finished")
def finish_zone(db: Session, zone: Zone, on: date, *, by: Actor) -> Zone:
    zone.finished_on = on
    zone.revision += 1
    db.add(zone)
    return zone


@audited("records.zone.reopened")
def reopen_zone(db: Session, zone: Zone, *, by: Actor) -> Zone:
    zone.finished_on = None
    zone.revision += 1
    db.add(zone)
    return zone
