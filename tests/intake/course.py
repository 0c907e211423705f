"""A client, a case and a form on its way, as the intake tests need them."""

import html
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, select

from app.demo.cast import Crew
from app.intake import actions
from app.intake.answers import asked_on, field_values
from app.intake.filling import address_of
from app.intake.models import Screening, Submission
from app.intake.question_list import QUESTION_SET
from app.intake.questions import pages_for
from app.platform.audit import Actor, AuditEntry
from app.platform.service import Service
from app.records import actions as records
from app.records.forms import NewCase, NewClient, PlaceZone
from app.records.models import Case, Client, Zone
from app.studio.country import country_pack
from tests.conftest import Browser, browser_of
from tests.intake.healthy import healthy

ON = date(2026, 3, 16)
Browse = Callable[[str], Browser]


@dataclass(frozen=True)
class Course:
    client: Client
    case: Case
    client_id: int
    case_id: int
    by: Actor


def open_course(service: Service, crew: Crew, name: str = "Robin Ash", **case: Any) -> Course:
    by = crew.by("tomas")
    with service.database.write() as db:
        client = records.add_client(db, NewClient(name=name), by=by)
        opened = records.open_case(db, client, NewCase(title="Forearm", lead_id=by.id or 0, **case), by=by)
    return Course(client, opened, client.id or 0, opened.id or 0, by)


def send_link(service: Service, course: Course) -> tuple[int, str]:
    with service.database.write() as db:
        submission, token = actions.ask(db, db.get_one(Case, course.case_id), by=course.by)
    return submission.id or 0, token


def come_in(service: Service, token: str) -> Browser:
    """A client's browser that has come through a link."""
    browser = browser_of(service)
    assert browser.post(f"/l/{token}").status_code == 303
    return browser


def submitted(service: Service, course: Course, answers: Mapping[str, Any] | None = None, on: date = ON) -> int:
    """A form sent by the action itself; the id of its screening."""
    submission_id, _ = send_link(service, course)
    with service.database.write() as db:
        screening = actions.submit(
            db,
            db.get_one(Submission, submission_id),
            answers or healthy(),
            country=country_pack("IE"),
            on=on,
            typed_name="Robin Ash",
            by=Actor("client", course.client_id),
        )
    return screening.id or 0


def decided(
    service: Service, course: Course, screening_id: int, decision: str = "accepted", reason: str = "", **more: Any
) -> None:
    with service.database.write() as db:
        actions.decide(db, db.get_one(Screening, screening_id), decision, reason, by=course.by, **more)


def placed(service: Service, course: Course, *keys: str, label: str = "Forearm") -> int:
    """A zone joined to declared scars; its id."""
    form = PlaceZone.model_validate(
        {"label": label, "site": "forearm", "side": "left", "scar_kind": "flat_pale", "declared": [*keys]}
    )
    with service.database.write() as db:
        zone = actions.place_zone(db, db.get_one(Case, course.case_id), form, by=course.by)
    return zone.id or 0


def zone_row(db: Session, zone_id: int) -> Zone:
    return db.get_one(Zone, zone_id)


def posts_for(answers: Mapping[str, Any]) -> list[tuple[str, dict[str, list[str]]]]:
    """Every page of the form in order, with what a client posts on it."""
    posts = []
    for page in pages_for(answers, QUESTION_SET):
        data: dict[str, list[str]] = {}
        for question in asked_on(page, answers):
            data.update(field_values(question, answers, page.scar))
        posts.append((address_of(page), data))
    return posts


def fill_in(browser: Browser, answers: Mapping[str, Any]) -> str:
    """Posts page after page; where the last one leads."""
    to = ""
    for address, data in posts_for(answers):
        answer = browser.post(f"/intake/{address}", data={**data, "go": "on"})
        if answer.headers.get("location", "").startswith(f"/intake/{address}?more"):
            answer = browser.post(f"/intake/{address}", data={**data, "go": "on"})
        assert answer.status_code == 303, (address, answer.text)
        to = answer.headers["location"]
    return to


def sign(browser: Browser, **more: str) -> Any:
    """Signs what the page shows, as a client does who has just looked it through."""
    page = browser.get("/intake/sign").text
    held = {name: held_in(page, name) for name in ("version", "text_version")}
    data = {**held, "typed_name": "Robin Ash", "typed_reason": "hard", **more}
    return browser.post("/intake/sign", data=data)


def held_in(page: str, name: str) -> str:
    """What a hidden field of a page holds."""
    found = re.search(rf'<input type="hidden" name="{name}" value="([^"]*)"', page)
    return html.unescape(found[1]) if found is not None else ""


def trail(service: Service) -> list[str]:
    with service.database.read() as db:
        return [row.action for row in db.exec(select(AuditEntry)).all()]
