"""The client's form in a real browser: by touch, by keys, in each language, with the network cut, on two tablets."""

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from app.demo.cast import Crew
from app.intake import actions
from app.intake.models import Submission
from app.platform import clock
from app.platform.service import Service
from tests.conftest import NOW
from tests.flows import form_hands as hands
from tests.flows import steps
from tests.flows.browser import OFFLINE, TABLET, Watch, chromium
from tests.flows.keyboard import tab_to
from tests.flows.live import live
from tests.flows.test_looks import axe_faults, overflow, seen
from tests.intake.course import open_course, posts_for, send_link
from tests.intake.healthy import healthy, healthy_scar

pytestmark = pytest.mark.browser

ANSWERS = dict(posts_for(healthy()))
LAST = list(ANSWERS)[-1]
NOTE = "Hay fever tablets in May"
REFUSED = "the server responded with a status of"


@dataclass
class Desk:
    """A form that was asked for, and the browser it is filled in with."""

    service: Service
    browser: Browser
    address: str
    watch: Watch
    submission_id: int
    token: str

    def tablet(self, **more: Any) -> BrowserContext:
        return self.watch.context(self.browser, self.address, **{**TABLET, **more})

    def begin(self, page: Page) -> None:
        page.goto(f"/l/{self.token}")
        page.locator("main button").tap()
        page.wait_for_url("**/intake")
        page.locator("main .actions a").first.tap()
        page.wait_for_url("**/intake/*")

    def hold(self, answers: dict[str, Any]) -> None:
        with self.service.database.write() as db:
            actions.save_draft(db, self.submission_id, answers)

    @property
    def row(self) -> Submission:
        with self.service.database.read() as db:
            return db.get_one(Submission, self.submission_id)


@pytest.fixture
def desk(service: Service, crew: Crew) -> Iterator[Desk]:
    submission_id, token = send_link(service, open_course(service, crew))
    with ExitStack() as stack:
        browser, address = stack.enter_context(chromium()), stack.enter_context(live(service))
        yield Desk(service, browser, address, Watch(ignored=[REFUSED, OFFLINE]), submission_id, token)


def all_but(*addresses: str) -> dict[str, Any]:
    """A form of which everything is answered but the last pages."""
    told = healthy()
    for address in addresses:
        for name in ANSWERS[address]:
            told.pop(name.split(".")[0], None)
    return told


def cut_in_the_middle(context: BrowserContext, page: Page) -> None:
    """The network goes while the page is filled in: nothing leaves the page, nothing is lost, and then it is sent."""
    context.set_offline(True)
    page.locator("textarea").first.tap()
    page.locator("textarea").first.press_sequentially(NOTE)
    hands.says(page, "No connection. What you typed is kept on this page")
    address = page.url
    hands.tap_on(page)
    page.wait_for_timeout(300)
    assert page.url == address
    expect(page.locator("textarea").first).to_have_value(NOTE)
    context.set_offline(False)
    hands.says(page, "Saved at")


def sign(page: Page) -> None:
    page.locator("main .actions a").last.tap()
    page.get_by_label("Or type your full name").fill("Robin Ash")
    hands.tap(page, "typed_reason", "hard")
    hands.tap_on(page)
    page.wait_for_url("**/intake/done")


def test_a_tablet_by_touch_alone_with_the_network_cut_in_the_middle(desk: Desk) -> None:
    desk.hold(all_but(LAST))
    context = desk.tablet()
    page = context.new_page()
    desk.begin(page)
    steps.heading(page, "What you hope for")
    cut_in_the_middle(context, page)
    hands.fill(page, ANSWERS, hands.tap, hands.tap_on)
    expect(page.get_by_text(NOTE)).to_be_visible()
    sign(page)
    assert NOTE in desk.row.answers
    assert page.evaluate("localStorage.length + sessionStorage.length") == 0
    assert desk.watch.faults == []


@pytest.mark.long
def test_the_whole_form_by_touch_alone_with_the_network_cut_in_the_middle(desk: Desk) -> None:
    context = desk.tablet()
    page = context.new_page()
    desk.begin(page)
    before = {address: ANSWERS[address] for address in list(ANSWERS)[:7]}
    for address in before:
        page.wait_for_url(f"**/intake/{address}")
        for name, values in before[address].items():
            for value in values:
                hands.tap(page, name, value)
        hands.tap_on(page)
    page.wait_for_url(f"**/intake/{list(ANSWERS)[7]}")
    page.goto(f"/intake/{LAST}")
    cut_in_the_middle(context, page)
    page.goto(f"/intake/{list(ANSWERS)[7]}")
    hands.fill(page, ANSWERS, hands.tap, hands.tap_on)
    sign(page)
    assert desk.row.submitted_at is not None
    assert desk.watch.faults == []


@pytest.mark.long
@pytest.mark.parametrize("language", ["es", "fr", "de"])
def test_the_whole_form_by_keys_alone_in_each_language(desk: Desk, language: str) -> None:
    page = desk.tablet(has_touch=False).new_page()
    page.goto(f"/l/{desk.token}")
    tab_to(page, f"here.value === 'language-{language}'")
    page.keyboard.press("Enter")
    expect(page.locator("html")).to_have_attribute("lang", language)
    tab_to(page, "here.closest('main') !== null && here.localName === 'button'")
    page.keyboard.press("Enter")
    page.wait_for_url("**/intake")
    tab_to(page, "here.closest('main .actions') !== null")
    page.keyboard.press("Enter")
    page.wait_for_url("**/intake/1")
    hands.fill(page, ANSWERS, hands.press, hands.press_on)
    expect(page.locator("html")).to_have_attribute("lang", language)
    tab_to(page, "here.closest('main .actions') !== null")
    page.keyboard.press("Enter")
    page.wait_for_url("**/intake/sign*")
    hands.press(page, "record_photos", "no")
    hands.press(page, "typed_name", "Robin Ash")
    hands.press(page, "typed_reason", "screen")
    hands.press_on(page)
    page.wait_for_url("**/intake/done")
    assert desk.row.language == language
    assert desk.watch.faults == []


@pytest.mark.long
def test_escape_hides_the_page_and_enter_shows_it_again(desk: Desk) -> None:
    page = desk.tablet(has_touch=False).new_page()
    page.goto(f"/l/{desk.token}")
    page.get_by_role("button", name="Start").click()
    page.goto("/intake/1")
    page.get_by_label("What is your name?").fill("Robin")
    page.keyboard.press("Escape")
    assert page.title() == "Paused"
    expect(page.get_by_text("About you")).not_to_be_visible()
    expect(page.get_by_role("button", name="Paused. Touch to go on.")).to_be_focused()
    page.keyboard.press("Escape")
    assert page.title() == "Paused"
    page.keyboard.press("Enter")
    expect(page.get_by_label("What is your name?")).to_have_value("Robin")
    # Enter in a field goes on; it neither hides the page nor changes the language.
    page.get_by_label("What is your name?").press("Enter")
    expect(page.get_by_role("alert")).to_be_focused()
    assert desk.watch.faults == []


@pytest.mark.long
def test_without_scripts_the_page_is_hidden_by_the_server(desk: Desk) -> None:
    page = desk.tablet(java_script_enabled=False).new_page()
    desk.begin(page)
    page.get_by_label("What is your name?").fill("Robin")
    page.get_by_role("button", name="Pause and hide").tap()
    expect(page).to_have_title("Paused")
    page.get_by_role("link", name="Paused. Touch to go on.").tap()
    expect(page.get_by_label("What is your name?")).to_have_value("Robin")
    page.get_by_role("button", name="Español").tap()
    expect(page.locator('[name="name"]')).to_have_value("Robin")
    expect(page.locator("html")).to_have_attribute("lang", "es")


@pytest.mark.long
def test_answers_tapped_faster_than_they_are_sent_go_one_after_another(desk: Desk) -> None:
    """Two on their way at once could arrive in the wrong order: the older would write over the newer."""
    page = desk.tablet().new_page()
    desk.begin(page)
    page.goto("/intake/2")
    page.evaluate("""() => {
        const send = window.fetch;
        let underway = 0;
        window.mostAtOnce = 0;
        window.fetch = async (...sent) => {
            underway += 1;
            window.mostAtOnce = Math.max(window.mostAtOnce, underway);
            await new Promise((go) => setTimeout(go, 500));
            try { return await send(...sent); } finally { underway -= 1; }
        };
    }""")
    for name in ("dark_marks", "poor_healing", "herpes_before", "shingles"):
        hands.tap(page, name, "no")
    hands.says(page, "Saved at")
    expect(page.locator("form[data-unsent]")).to_have_count(0)
    assert page.evaluate("window.mostAtOnce") == 1
    page.reload()
    expect(page.locator("main [value=no]:checked")).to_have_count(4)


@pytest.mark.long
def test_the_page_asks_two_minutes_before_it_hides_and_one_touch_goes_on(desk: Desk) -> None:
    page = desk.tablet().new_page()
    page.clock.install()
    desk.begin(page)
    asking = page.get_by_role("alertdialog", name="Are you still there?")
    page.clock.fast_forward(57 * 60 * 1000)
    expect(asking).not_to_be_visible()
    page.clock.fast_forward(70 * 1000)
    expect(asking).to_be_visible()
    assert axe_faults(page) == []
    page.get_by_role("button", name="I am still here").tap()
    expect(asking).not_to_be_visible()
    page.clock.fast_forward(57 * 60 * 1000)
    expect(asking).not_to_be_visible()
    page.clock.fast_forward(70 * 1000)
    expect(asking).to_be_visible()
    page.clock.fast_forward(119 * 1000)
    page.clock.fast_forward(10 * 1000)
    expect(asking).not_to_be_visible()
    assert page.title() == "Paused"


@pytest.mark.long
def test_the_studios_tablet_goes_back_to_its_neutral_screen(desk: Desk) -> None:
    page = desk.tablet().new_page()
    page.clock.install()
    steps.sign_in(page, "tomas")
    page.goto("/clients/1")
    page.get_by_role("button", name="Make an intake link").click()
    steps.press(page, "Hand this device over")
    page.goto("/intake/1")
    page.get_by_label("What is your name?").fill("Robin")
    page.clock.fast_forward(1000)
    hands.says(page, "Saved at")
    page.clock.fast_forward(8 * 60 * 1000 + 6000)
    expect(page.get_by_role("alertdialog")).to_be_visible()
    page.clock.fast_forward(2 * 60 * 1000 + 6000)
    page.wait_for_url("**/tablet")
    assert "Robin" not in page.content()


@pytest.mark.long
def test_two_tablets_on_one_form_show_each_other_and_lose_nothing(desk: Desk) -> None:
    desk.hold(healthy())
    first, second = desk.tablet().new_page(), desk.tablet().new_page()
    for page in (first, second):
        desk.begin(page)
        page.goto("/intake/2")
    hands.tap(second, "dark_marks", "dont_know")
    hands.says(second, "Saved at")
    hands.tap(first, "dark_marks", "yes")
    hands.says(first, "Another device changed something on this page")
    hands.tap_on(first)
    expect(first.get_by_role("alert")).to_contain_text("Another device changed this page")
    assert axe_faults(first) == []
    expect(first.locator(".elsewhere")).to_have_text("On another device this was changed to: I don't know")
    expect(first.locator("[name=dark_marks]:checked")).to_have_value("yes")
    hands.tap_on(first)
    first.wait_for_url("**/intake/3-1")
    second.reload()
    expect(second.locator("[name=dark_marks]:checked")).to_have_value("yes")
    assert desk.watch.faults == []


@pytest.mark.long
def test_a_server_that_fails_and_a_pass_that_ran_out_keep_the_page(desk: Desk) -> None:
    desk.hold(all_but(LAST))
    context = desk.tablet()
    page = context.new_page()
    desk.begin(page)
    page.route("**/draft", lambda route: route.fulfill(status=503))
    desk.watch.faults.clear()
    page.locator("textarea").first.fill(NOTE)
    hands.says(page, "computer does not answer")
    hands.tap_on(page)
    expect(page.locator("textarea").first).to_have_value(NOTE)
    page.unroute("**/draft")
    hands.says(page, "Saved at")
    with clock.stopped_at(NOW + timedelta(days=3)):
        page.locator("textarea").first.fill(NOTE + ", and one more")
        hands.says(page, "Open your link again in another tab")
        hands.tap_on(page)
        other = context.new_page()
        other.goto(f"/l/{desk.token}")
        other.get_by_role("button", name="Start").tap()
        hands.fill(page, ANSWERS, hands.tap, hands.tap_on)
        expect(page.get_by_text(NOTE + ", and one more")).to_be_visible()


@pytest.mark.long
def test_every_page_of_the_form_is_whole_in_large_letters_on_narrow_windows_and_from_right_to_left(desk: Desk) -> None:
    care = healthy_scar("s1", another="yes", cause="injury", self_harm="yes", last_time="2020", support="have_not")
    told = healthy(care, healthy_scar("s2", site="knee"), hard_time="yes")
    desk.hold(told)
    page = desk.tablet().new_page()
    desk.begin(page)
    page.goto("/intake/1")
    with page.expect_navigation():
        page.get_by_role("button", name="Larger letters").tap()
    faults = []
    paths = [f"/intake/{address}" for address, _ in posts_for(told)]
    for path in [*paths, "/intake", "/intake/check", "/intake/sign", "/intake/time", "/paused?back=/intake"]:
        page.goto(path)
        faults += seen(page, path)
        for turned in ("ltr", "rtl"):
            page.evaluate("way => { document.documentElement.dir = way; }", turned)
            for width in (320, 390):
                page.set_viewport_size({"width": width, "height": 800})
                if (wide := overflow(page)) > 0:
                    faults.append(f"{path} at {width}, {turned}: {wide} px over the edge")
        faults += _sides(page, path)
    assert faults + desk.watch.faults == []


def _sides(page: Page, path: str) -> list[str]:
    """From right to left the box of a choice stands on the right of its words."""
    boxes = page.locator("main .choices .tap input").first
    if not boxes.count():
        return []
    box, tap = boxes.bounding_box(), page.locator("main .choices .tap").first.bounding_box()
    assert box is not None
    assert tap is not None
    return [] if box["x"] > tap["x"] + tap["width"] / 2 else [f"{path}: a box on the left of words that begin right"]
