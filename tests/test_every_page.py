"""Every GET route, as everybody: nobody gets a fault, strangers get 404, and each page is a page."""

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from sqlalchemy import text

from app.demo.cast import Crew
from app.main import ROUTERS
from app.platform import links
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.studio import access
from app.studio import actions as studio_actions
from tests.conftest import Template, browser_of

TABLES = {
    "client_id": "clients",
    "other_id": "clients",
    "merge_id": "merges",
    "case_id": "cases",
    "zone_id": "zones",
    "photo_id": "photos",
    "upload_id": "photo_uploads",
    "screening_id": "screenings",
    "finding_id": "findings",
    "item_id": "items",
    "recipe_id": "recipes",
    "session_id": "sessions",
    "visit_id": "visits",
    "course_id": "courses",
    "check_in_id": "check_ins",
    "signature_id": "signatures",
    "alert_id": "alerts",
    "member_id": "members",
    "permission_id": "permissions",
    "publication_id": "publications",
    "attachment_id": "attachments",
    "letter_request_id": "letter_requests",
    "task_id": "tasks",
    "card_id": "capture_cards",
    "chart_kind_id": "chart_kinds",
}
OTHERS = {
    "token": "not-a-token",
    "number": "0",
    "address": "1",
    "asked": "teaching",
    "text_kind": "treatment",
    "text_language": "es",
    "rule_id": "pregnant",
    "question_key": "health_other",
    "topic_key": "health",
}
DOORS = (
    access.Access,
    access.PublicAccess,
    access.FirstRunAccess,
    access.MachineAccess,
    access.GuestAccess,
    access.TabletAccess,
)
# All that a handed-over tablet shows while no form is open on it.
NEUTRAL = {"/tablet", "/tablet/sign-in", "/paused", "/health", "/l/{token}"}


def routes() -> list[APIRoute]:
    found: list[APIRoute] = []

    def walk(router: Any) -> None:
        for route in router.routes:
            if isinstance(route, APIRoute):
                found.append(route)
            elif hasattr(route, "routes"):
                walk(route)
            elif hasattr(route, "original_router"):
                walk(route.original_router)

    for router in ROUTERS:
        walk(router)
    return found


ROUTES = routes()


def door(route: APIRoute) -> Any:
    doors = [one.call for one in route.dependant.dependencies if isinstance(one.call, DOORS)]
    assert len(doors) == 1, f"{route.path} names {len(doors)} kinds of access"
    return doors[0]


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: f"{'/'.join(sorted(route.methods))} {route.path}")
def test_access_is_named_on_every_route(route: APIRoute) -> None:
    assert door(route) is not None


def test_safe_methods_and_writes_never_share_a_route() -> None:
    for route in ROUTES:
        assert route.methods in ({"GET"}, {"POST"}), route.path


def address(route: APIRoute, ids: dict[str, int]) -> str:
    values: dict[str, Any] = {}
    for name in re.findall(r"{(\w+)}", route.path):
        assert name in TABLES or name in OTHERS, f"{route.path}: tell this test what {name} is"
        values[name] = ids[TABLES[name]] if name in TABLES else OTHERS[name]
    return route.path.format(**values)


def first_ids(service: Service) -> dict[str, int]:
    with service.database.engine.connect() as connection:
        return {
            table: connection.execute(text(f"SELECT MIN(id) FROM {table}")).scalar() or 1 for table in TABLES.values()
        }


def gets() -> Iterator[APIRoute]:
    return (route for route in ROUTES if route.methods == {"GET"})


def is_page(body: str) -> bool:
    return (
        bool(re.search(r"<title>\s*[^<\s]", body))
        and len(re.findall(r"<h1[\s>]", body)) == 1
        and '<html lang="en' in body
    )


@pytest.fixture
def browsers(told: Service, told_template: Template) -> dict[str, TestClient]:
    crew: Crew = told_template.crew
    return {
        "nobody": browser_of(told),
        "desk": browser_of(told, crew.pia),
        "artist": browser_of(told, crew.tomas),
        "other": browser_of(told, crew.ruth),
        "owner": browser_of(told, crew.owner),
    }


def test_every_get_answers_everybody_rightly(told: Service, browsers: dict[str, TestClient]) -> None:
    ids, faults = first_ids(told), []
    for route in gets():
        kind, path = door(route), address(route, ids)
        for name, browser in browsers.items():
            answer = browser.get(path)
            roles = {"nobody": "", "desk": "desk", "artist": "artist", "other": "artist", "owner": "owner"}
            if isinstance(kind, access.Access):
                expected = {303} if name == "nobody" else {200, 303, 404} if roles[name] in kind.roles else {404}
            elif isinstance(kind, access.MachineAccess):
                expected = {200}
            elif isinstance(kind, access.PublicAccess):
                expected = {200, 303, 404}
            elif isinstance(kind, access.TabletAccess):
                expected = {303}
            else:
                expected = {404}
            if answer.status_code not in expected:
                faults.append(f"{name} {path}: {answer.status_code}, expected {sorted(expected)}")
            elif (
                answer.headers.get("content-type", "").startswith("text/html")
                and answer.status_code != 303
                and "<html" in answer.text
                and not is_page(answer.text)
            ):
                faults.append(f"{name} {path}: not a page")
    assert faults == []


def test_an_artist_reaches_every_page_of_their_case(told: Service, browsers: dict[str, TestClient]) -> None:
    ids = first_ids(told)
    with told.database.engine.connect() as connection:  # on an older screening nothing is decided or put right
        newest = {"screenings": connection.execute(text("SELECT MAX(id) FROM screenings")).scalar() or 1}
    unreached = []
    for route in gets():
        kind = door(route)
        if isinstance(kind, access.Access) and "artist" in kind.roles and re.search(r"{\w+}", route.path):
            answers = [
                browsers["owner"].get(address(route, {**ids, "cases": case, "zones": case, "sessions": work, **more}))
                for case, work, more in ((1, 1, {}), (4, 4, newest), (4, 5, {}), (2, 2, {}))
            ]
            if not any(answer.status_code in (200, 303) for answer in answers):
                unreached.append(route.path)
    # An item of its own has to be made for these: nothing of the kind stands in the made-up studio.
    # The letter on file is a picture, so it is no PDF to save; no clinician there left a decision to the client, and
    # nobody is on file twice.
    assert set(unreached) <= {
        *(f"/signatures/{{signature_id}}/{what}" for what in ("drawing", "guardian-drawing", "site-check")),
        "/attachments/{attachment_id}/download",
        "/uploads/{upload_id}",
        "/findings/{finding_id}/own-decision",
        "/clients/{client_id}/same/{other_id}",
        "/merges/{merge_id}/undoing",
    }


@pytest.mark.parametrize("odd", ["2147483647", "2147483648", "0", "x"])
def test_ids_of_nothing_are_404_to_all(told: Service, browsers: dict[str, TestClient], odd: str) -> None:
    for route in gets():
        if "_id}" in route.path:
            path = re.sub(r"{\w+}", odd, route.path)
            assert browsers["owner"].get(path).status_code == 404, path


def test_a_restricted_case_is_not_there_for_another_artist(told: Service, browsers: dict[str, TestClient]) -> None:
    with told.database.engine.connect() as connection:
        case = connection.execute(text("SELECT id FROM cases WHERE is_restricted")).scalar()
        screening = connection.execute(text(f"SELECT id FROM screenings WHERE case_id = {case}")).scalar()
        finding = connection.execute(text(f"SELECT MIN(id) FROM findings WHERE screening_id = {screening}")).scalar()
    for path in (
        f"/cases/{case}",
        f"/screenings/{screening}",
        f"/findings/{finding}/lifting",
        f"/cases/{case}/zones/new",
        f"/cases/{case}/sessions/new",
        f"/cases/{case}/signing",
        f"/cases/{case}/clinician",
    ):
        assert browsers["other"].get(path).status_code == 200, path  # Ruth leads it
        assert browsers["owner"].get(path).status_code == 200, path
        assert browsers["artist"].get(path).status_code == 404, path
        assert browsers["desk"].get(path).status_code == 404, path


@pytest.mark.parametrize("purpose", ["intake", "aftercare", "signing", "permissions"])
def test_a_pass_opens_its_own_pages_and_nothing_else(told: Service, purpose: str) -> None:
    ids = first_ids(told)
    with told.database.engine.connect() as connection:
        client = connection.execute(text("SELECT client_id FROM courses ORDER BY id")).scalar()
        subject = {"intake": ids["cases"], "aftercare": ids["courses"], "signing": ids["cases"],
                   "permissions": client or 1}[purpose]  # fmt: skip
    with told.database.write() as db:
        token = links.make(db, purpose, subject, client or 1, lasts=timedelta(days=1), by=SYSTEM)
    browser = browser_of(told)
    assert browser.post(f"/l/{token}").headers["location"] == f"/{purpose}"
    for route in gets():
        kind, answer = door(route), browser.get(address(route, ids))
        if isinstance(kind, access.Access):
            assert answer.status_code == 303, route.path
            assert answer.headers["location"].startswith("/sign-in"), route.path
        elif isinstance(kind, access.GuestAccess):
            assert answer.status_code in ({200, 303, 404} if kind.purpose == purpose else {404}), route.path


def test_a_handed_over_tablet_shows_its_neutral_screen_and_nothing_else(
    told: Service, told_template: Template, browsers: dict[str, TestClient]
) -> None:
    """Even with a member's own cookie beside that of the hand-over, whoever left or put it there."""
    ids, owner = first_ids(told), browsers["owner"]
    assert owner.post("/hand-over").headers["location"] == "/tablet"
    with told.database.write() as db:
        owner.cookies.set(access.cookie_name(told), studio_actions.sign_in(db, told_template.crew.owner))
    with told.database.engine.connect() as connection:
        names = list(connection.execute(text("SELECT name FROM clients UNION SELECT name FROM members")).scalars())
    shown = set()
    for route in gets():
        answer = owner.get(address(route, ids))
        if answer.status_code in (200, 404) and route.path != "/first-run":
            shown.add(route.path)
            assert not any(name in answer.text for name in names), route.path
        elif route.path != "/first-run":
            assert (answer.status_code, answer.headers["location"]) == (303, "/tablet"), route.path
    assert shown == NEUTRAL
