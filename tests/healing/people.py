"""A client with a case and zones, and a healing course of theirs, made by the real actions."""

from datetime import UTC, date, datetime, timedelta
from typing import Literal

from sqlmodel import Session

from app.consents import actions as consents
from app.demo.cast import Crew
from app.healing import actions
from app.healing.models import Course
from app.platform import links
from app.platform.audit import SYSTEM
from app.platform.links import swap
from app.platform.service import Service
from app.records import actions as records
from app.records import forms
from app.records.models import Case, Client, Zone
from app.studio.access import cookie_name
from app.studio.models import Studio
from tests.conftest import Browser, browser_of

WORKED_ON = date(2026, 3, 16)
LOTS = '[{"label":"Sand 3","lot":"L-2231"},{"label":"Needle 0.30","lot":""}]'


def add_case(db: Session, crew: Crew, *, email: str = "nora@example.org", name: str = "Nora O'Shea",
             agrees: bool = True, photos: bool = True, restricted: bool = False,
             skin_class: Literal["", "light", "dark"] = "light") -> Case:
    by = crew.by("tomas")
    client = records.add_client(db, forms.NewClient(name=name, email=email, phone="01 555"), by=by)
    assert client.id is not None
    assert crew.tomas.id is not None
    for kind in ["reminders_email"] * agrees + ["record_photos"] * photos:
        document = consents.keep_document(db, "permissions", "1", "May we write?", by=by)
        signature = consents.sign(db, client.id, document, typed_name=name, drawing=None, by=by)
        consents.answer(db, client.id, kind, True, signature, by=by)
    new = forms.NewCase(title="Arm", lead_id=crew.tomas.id, skin_class=skin_class, is_restricted=restricted)
    return records.open_case(db, client, new, by=by)


def add_zone(db: Session, crew: Crew, case: Case, *, sensitive: bool = False, padding: str = "padded") -> Zone:
    form = forms.PlaceZone.model_validate({
        "label": "Under the sleeve", "site": "forearm", "side": "left", "scar_kind": "flat_pale", "padding": padding,
        "is_sensitive": sensitive})
    return records.place_zone(db, case, form, by=crew.by("tomas"))


def begin(db: Session, crew: Crew, case: Case, zones: list[Zone], *, key: str = "1", work: str = "full",
          worked_on: date = WORKED_ON) -> Course:
    return actions.begin(db, case=case, zones=zones, session_key=key, work=work, worked_on=worked_on,
                         studio=db.get_one(Studio, 1), lots=LOTS, by=crew.by("tomas"))


def begun(service: Service, crew: Crew, **kind: bool) -> Course:
    """A course of full work on one zone that began on 16 March 2026."""
    with service.database.write() as db:
        case = add_case(db, crew)
        return begin(db, crew, case, [add_zone(db, crew, case, sensitive=kind.get("sensitive", False))])


def client_of(service: Service, course: Course) -> Client:
    with service.database.read() as db:
        return db.get_one(Client, course.client_id)


def as_guest(service: Service, course: Course) -> Browser:
    """A browser that came in through the client's link."""
    assert course.id is not None
    with service.database.write() as db:
        token = links.make(db, "aftercare", course.id, course.client_id, lasts=timedelta(days=400), by=SYSTEM)
        swapped = swap(db, token)
    assert swapped is not None
    browser = browser_of(service)
    browser.cookies.set(cookie_name(service, "aftercare"), swapped[1])
    return browser


def noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
