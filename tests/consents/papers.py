"""Signatures to test with: drawn, and as a page sends them."""

from datetime import date

from app.consents import queries
from app.consents.models import Signature
from app.demo.handwriting import picture_of, strokes_of
from app.platform.audit import entry
from app.platform.service import Service
from app.records.models import Client
from tests.conftest import Browser
from tests.consents.test_signing import asked
from tests.intake.course import Browse, Course, come_in, held_in, placed

STROKES = strokes_of("Robin Ash")
DRAWN = {"treatment": "yes", "drawing": picture_of(STROKES), "strokes": STROKES}


def born(service: Service, course: Course, on: date = date(1990, 5, 4)) -> None:
    """Gives the client a birth date."""
    with service.database.write() as db, entry(db, "records.client.changed", course.by):
        db.get_one(Client, course.client_id).born_on = on


def reachable(service: Service, course: Course) -> None:
    """Gives the client an e-mail address."""
    with service.database.write() as db, entry(db, "records.client.changed", course.by):
        db.get_one(Client, course.client_id).email = "robin@example.org"


def sign_drawn(service: Service, browse: Browse, course: Course, **more: str) -> int:
    """Has one zone signed for with a drawn signature; the id of the signature."""
    browser = come_in(service, asked(browse, course, placed(service, course)))
    sent = browser.post("/signing", data={**DRAWN, "text_version": shown_version(browser), **more})
    assert sent.status_code == 303, sent.text
    with service.database.read() as db:
        return queries.permissions_of(db, course.client_id)[0].signature_id


def shown_version(browser: Browser) -> str:
    return held_in(browser.get("/signing").text, "text_version")


def signature_of(service: Service, signature_id: int) -> Signature:
    with service.database.read() as db:
        return db.get_one(Signature, signature_id)
