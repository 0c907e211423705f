"""Every page as everybody sees it: nothing runs over the edge, axe-core finds nothing, the console says nothing."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute
from playwright.sync_api import Browser, Page
from sqlalchemy import text

from app.consents import actions as consents
from app.demo.answers import answers, scar
from app.intake import actions as intake
from app.intake import merging, queries
from app.intake.answers import pages
from app.intake.filling import address_of
from app.platform import links
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records.models import Case, Client
from app.records.queries import zones_of
from app.studio import access
from tests.conftest import Template, browser_of
from tests.consents.papers import born, sign_drawn
from tests.flows import steps
from tests.flows.browser import Watch, chromium
from tests.flows.live import live
from tests.intake.course import decided, open_course, submitted
from tests.intake.healthy import healthy
from tests.test_every_page import TABLES, address, door, first_ids, gets

pytestmark = [pytest.mark.browser, pytest.mark.long]

WIDTHS = (1280, 1024, 390)
AXE = (Path(__file__).parents[1] / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
# Not pages: parts that a page fetches, pictures, a file, and what says to machines that the service is up.
NO_PAGES = ("/health", "/review.csv", "/examination", "/reading", "/shown", "/thumb", "/map", "/drawing",
            "/guardian-drawing", "/paper.pdf", "/card.pdf", "/papers/{signature_id}", "/download",
            "/uploads/{upload_id}", "/carrying/found", "/observers/apart")  # fmt: skip
# Pages of things that the made-up studio has none of: test_pages_of_rare_states_… makes those and looks at them.
RARE = ("/site-check", "/same/{other_id}", "/own-decision", "/undoing")
BOTH = ("light", "dark")


def is_page(route: APIRoute) -> bool:
    return not route.path.endswith((*NO_PAGES, *RARE))


def overflow(page: Page) -> int:
    """By how many pixels the page is wider than its window."""
    wide: int = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return wide


def axe_faults(page: Page) -> list[str]:
    page.evaluate(AXE)
    found: list[dict[str, Any]] = page.evaluate("rules => axe.run(document, rules).then(it => it.violations)", RULES)
    return [f"{each['id']}: {node['html'][:160]}" for each in found for node in each["nodes"]]


def looked_at(page: Page, path: str, schemes: tuple[str, ...] = ("light",)) -> list[str]:
    """Goes to a page, which must be there, and looks at it."""
    answer = page.goto(path)
    if answer is None or answer.status >= 400:
        return [f"{path}: {answer.status if answer else 'no answer'}"]
    return seen(page, path, schemes)


def seen(page: Page, path: str, schemes: tuple[str, ...] = ("light",)) -> list[str]:
    """What is wrong with the look of the page that stands there, at every width and in every scheme."""
    faults: list[str] = []
    for scheme in schemes:
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            if (wide := overflow(page)) > 0:
                faults.append(f"{path} at {width}: {wide} px over the edge")
            faults += [f"{path} at {width}, {scheme}: {fault}" for fault in axe_faults(page)]
    return faults


@pytest.fixture
def window(told: Service) -> Iterator[Callable[[], tuple[Page, Watch]]]:
    """Opens windows on the made-up studio."""

    def opened(browser: Browser, base: str) -> tuple[Page, Watch]:
        watch = Watch()
        return watch.context(browser, base).new_page(), watch

    with ExitStack() as stack:
        browser, base = stack.enter_context(chromium()), stack.enter_context(live(told))
        yield partial(opened, browser, base)


def ids_of(service: Service) -> dict[str, list[int]]:
    """Of each kind of thing the first and the last: other states show other parts of a page."""
    found: dict[str, list[int]] = {}
    with service.database.engine.connect() as connection:
        for table in set(TABLES.values()):
            ids = list(connection.execute(text(f"SELECT id FROM {table} ORDER BY id")).scalars())
            found[table] = sorted({ids[0], ids[-1]}) if ids else []
    return found


def staff_addresses(service: Service, role: str) -> Iterator[str]:
    several, first = ids_of(service), first_ids(service)
    for route in gets():
        kind = door(route)
        if not isinstance(kind, access.Access) or role not in kind.roles or not is_page(route):
            continue
        named = [TABLES[name] for name in TABLES if f"{{{name}}}" in route.path]
        if not named:
            yield address(route, first)
        for table in named:
            yield from (address(route, {**first, table: one}) for one in several[table])


@pytest.mark.parametrize("half", [0, 1])
def test_every_page_of_the_studio_is_whole_and_open_to_all(
    told: Service, window: Callable[[], tuple[Page, Watch]], half: int
) -> None:
    """As the owner, who sees them all; in two halves, for two processors."""
    page, watch = window()
    steps.sign_in(page, "ines")
    paths = list(staff_addresses(told, "owner"))
    assert len(paths) > 60
    faults = [fault for path in paths[half::2] for fault in looked_at(page, path)]
    assert faults + watch.faults == []


@pytest.mark.parametrize(
    ("login", "paths"),
    [
        ("ruth", ["/today", "/review", "/clients/1", "/cases/2"]),
        ("pia", ["/today", "/clients", "/clients/1", "/clients/new"]),
    ],
)
def test_pages_that_differ_by_role_are_whole_and_open_to_all(
    window: Callable[[], tuple[Page, Watch]], login: str, paths: list[str]
) -> None:
    page, watch = window()
    steps.sign_in(page, login)
    faults = [fault for path in paths for fault in looked_at(page, path, BOTH)]
    assert faults + watch.faults == []


def test_pages_of_rare_states_are_whole_and_open_to_all(
    told: Service, told_template: Template, window: Callable[[], tuple[Page, Watch]]
) -> None:
    """Who signed is not confirmed yet, two records may be one person's, a clinician leaves a decision to the client."""
    crew = told_template.crew
    browser = browser_of(told, crew.owner)
    course = open_course(told, crew)
    number = sign_drawn(told, lambda _: browser, course)
    born(told, course)
    screening_id = submitted(told, course, healthy(thyroid="yes"))
    decided(told, course, screening_id)
    with told.database.read() as db:
        found = queries.findings_of(db, screening_id)
        [finding] = [row for row in found if "informed_decision" in row.proofs.split()][:1]
    asked = {"findings": [finding.rule], "to_whom": "Harbour Lane Practice"}
    letter = browser.post(f"/screenings/{screening_id}/letters", data=asked).headers["location"]
    said = browser.post(f"{letter}/answer", data={"answer": "declines", "answered_on": "2026-03-10"})
    assert said.status_code == 303
    double = open_course(told, crew, "Robin Ash-Lind")
    born(told, double)
    page, watch = window()
    steps.sign_in(page, "ines")
    same = f"/clients/{course.client_id}/same/{double.client_id}"
    faults = [
        fault
        for path in (f"/signatures/{number}/site-check", f"/findings/{finding.id}/own-decision", same)
        for fault in looked_at(page, path, BOTH)
    ]
    with told.database.write() as db:
        kept, merged = db.get_one(Client, course.client_id), db.get_one(Client, double.client_id)
        merge = merging.merge(db, kept, merged, "The same person", by=crew.by("tomas"))
    faults += looked_at(page, f"/merges/{merge.id}/undoing", BOTH)
    assert faults + watch.faults == []


def test_the_look_finds_what_is_wrong(window: Callable[[], tuple[Page, Watch]]) -> None:
    """A page that is too wide, with words too faint and a picture without words: each is named."""
    page, _ = window()
    page.goto("/sign-in")
    page.evaluate("""() => {
        const made = document.createElement('p');
        made.textContent = 'faint';
        made.style.cssText = 'color: #bbb; background: #fff; width: 3000px';
        document.querySelector('main').append(made, new Image());
    }""")
    found = " ".join(seen(page, "/sign-in"))
    for fault in ("over the edge", "color-contrast", "image-alt"):
        assert fault in found


def guest_page(told: Service, page: Page, purpose: str, subject: int, client: int) -> None:
    with told.database.write() as db:
        token = links.make(db, purpose, subject, client, lasts=timedelta(days=1), by=SYSTEM)
    assert looked_at(page, f"/l/{token}") == []
    page.get_by_role("button", name="Start").click()


def test_pages_of_clients_are_whole_and_open_to_all(told: Service, window: Callable[[], tuple[Page, Watch]]) -> None:
    page, watch = window()
    faults: list[str] = []
    with told.database.engine.connect() as connection:
        courses = [tuple(row) for row in connection.execute(text("SELECT id, client_id FROM courses ORDER BY id"))]
        sent = connection.execute(text("SELECT course_id, id FROM check_ins ORDER BY id")).first()
    assert sent is not None
    for course, client in courses:
        guest_page(told, page, "aftercare", course, client)
        paths = ["/aftercare", "/aftercare/check-in", "/aftercare/clinician"]
        paths += [f"/aftercare/check-ins/{sent.id}"] if course == sent.course_id else []
        faults += [fault for path in paths for fault in looked_at(page, path, BOTH)]
    assert faults + watch.faults == []


def test_the_questions_are_whole_and_open_to_all(told: Service, window: Callable[[], tuple[Page, Watch]]) -> None:
    page, watch = window()
    given = answers("Juno Castell", "1999-12-05", scar("s1", "forearm", "left", "2019", cause="prefer_not"))
    with told.database.write() as db:
        case = db.get_one(Case, 1)
        submission, _ = intake.ask(db, case, by=SYSTEM)
        assert submission.id is not None
        intake.save_draft(db, submission.id, given)
    guest_page(told, page, "intake", submission.id, case.client_id)
    paths = [f"/intake/{address_of(one)}" for one in pages(given)]
    assert len(paths) > 10
    faults = [fault for path in paths for fault in looked_at(page, path)]
    faults += [fault for path in ("/intake", "/intake/check", "/intake/sign") for fault in looked_at(page, path, BOTH)]
    page.goto("/intake/sign")
    page.get_by_label("Or type your full name").fill("Juno Castell")
    steps.choose(page, "Why do you type it?", "I find drawing hard")
    steps.press(page, "Sign and send")
    page.wait_for_url("**/intake/done")
    faults += looked_at(page, "/intake/done")
    assert faults + watch.faults == []


def test_signing_is_whole_and_open_to_all(told: Service, window: Callable[[], tuple[Page, Watch]]) -> None:
    page, watch = window()
    with told.database.write() as db:
        token = consents.ask_to_sign(db, db.get_one(Case, 3), zones_of(db, 3), by=SYSTEM)
    faults = looked_at(page, f"/l/{token}", BOTH)
    steps.press(page, "Start")
    faults += looked_at(page, "/signing", BOTH)
    assert faults + watch.faults == []


def test_a_clients_own_permissions_are_whole_and_open_to_all(
    told: Service, window: Callable[[], tuple[Page, Watch]]
) -> None:
    page, watch = window()
    with told.database.write() as db:
        token = consents.make_permissions_link(db, db.get_one(Client, 1), by=SYSTEM)
    page.goto(f"/l/{token}")
    steps.press(page, "Start")
    page.wait_for_url("**/permissions")
    back = page.get_by_role("link", name="Take back").first.get_attribute("href") or ""
    paths = ("/permissions", back, "/permissions/yes/website")
    faults = [fault for path in paths for fault in looked_at(page, path, BOTH)]
    assert faults + watch.faults == []


def test_wrong_forms_and_closed_doors_are_whole_and_open_to_all(
    told: Service, window: Callable[[], tuple[Page, Watch]]
) -> None:
    """Pages that no address leads to: a form with its errors, a link that is over, the page that is not there."""
    page, watch = window()
    watch.ignored.append("the server responded with a status of 404")
    faults: list[str] = []
    for path in ("/l/over", "/sign-in"):
        page.goto(path)
        faults += seen(page, path, BOTH)
    steps.sign_in(page, "ines")
    page.goto("/nothing-here")
    faults += seen(page, "/nothing-here", BOTH)
    for path, words in (
        ("/clients/new", "Save"),
        ("/cases/1/zones/new", "Place the zone"),
        ("/shelf/new", None),
        ("/zones/3/verdict", "Keep the verdict"),
        ("/cases/3/sessions/paper", "Put it on file"),
        ("/studio/texts/treatment/fr", "Use these words from now on"),
    ):
        page.goto(path)
        page.locator("main form").last.get_by_role("button", name=words).last.click()
        page.get_by_role("alert").wait_for()
        faults += seen(page, f"{path} with errors", BOTH)
    assert faults + watch.faults == []
