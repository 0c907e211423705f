"""A tablet in a client's hands, and somebody who tries to get out: to the records, or to another client's answers."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import pytest
from playwright.sync_api import BrowserContext, Error, Page, expect

from app.demo.cast import Crew
from app.intake import actions as intake
from app.platform import links
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records.models import Case
from app.studio import actions
from app.studio.access import cookie_name
from app.studio.models import Member
from app.studio.passwords import hash_password
from tests.flows import before_work, keyboard, steps
from tests.flows.browser import TABLET, Watch, chromium
from tests.flows.live import live
from tests.intake.course import open_course
from tests.intake.healthy import healthy

pytestmark = pytest.mark.browser

NAME, PIN = "Robin Ash", "2580"
# What a person types who wants to know what else there is.
TYPED = (
    "/",
    "/today",
    "/clients",
    "/clients/1",
    "/cases/1",
    "/account",
    "/studio",
    "/sign-in",
    "/review",
    "/hand-over",
)


TYPED_IN = "main input:not([type=hidden]):not([type=radio]):not([type=checkbox])"


@dataclass
class Held:
    """A tablet, as the client gets it: with the studio's pages behind it in its history and in a second tab."""

    service: Service
    page: Page
    second: Page
    submission_id: int
    token: str

    @property
    def code(self) -> str:
        with self.service.database.write() as db:
            link = links.find(db, self.token)
            assert link is not None
            return links.make_code(db, link.id or 0, by=SYSTEM)

    @property
    def context(self) -> BrowserContext:
        return self.page.context

    def open_form(self) -> None:
        self.page.get_by_label("Your code").fill(self.code.lower())
        steps.press(self.page, "Open")
        steps.heading(self.page, re.compile("Before your visit|Welcome back"))


@contextmanager
def handed_over(service: Service, crew: Crew) -> Iterator[Held]:
    course = open_course(service, crew, NAME)
    with service.database.write() as db:
        tomas = actions.set_pin(db, db.get_one(Member, crew.tomas.id), hash_password(PIN), by=crew.by("tomas"))
        submission, token = intake.ask(db, db.get_one(Case, course.case_id), by=course.by)
        secret = actions.sign_in(db, tomas)
    watch = Watch()
    watch.ignored += ["the server responded with a status of 404", "the server responded with a status of 405"]
    with chromium(with_page_cache=True) as browser, live(service) as address:
        context = watch.context(browser, address, **TABLET)
        context.add_cookies([{"name": cookie_name(service), "value": secret, "url": address}])
        page, second = context.new_page(), context.new_page()
        second.goto("/clients/1")
        steps.heading(second, NAME)
        for path in ("/today", "/clients/1", "/cases/1"):
            page.goto(path)
        steps.follow(page, "Give the tablet to a client")
        steps.press(page, "Hand it over")
        neutral(page)
        yield Held(service, page, second, submission.id or 0, token)
        page.wait_for_load_state("networkidle")
        assert watch.faults == []


def neutral(page: Page) -> None:
    expect(page).to_have_url(re.compile("/tablet$"))
    expect(page.get_by_label("Your code")).to_be_visible()
    nothing_shows(page)


def nothing_shows(page: Page) -> None:
    """Nothing of the client and nothing of the studio's own: not in what is seen, nor in what is not."""
    words = page.content()
    for telling in (NAME, "Tomas", "Sign out", "Today"):
        assert telling not in words, telling


def back_leads_nowhere(page: Page, times: int = 8) -> None:
    for _ in range(times):
        page.go_back()
        page.wait_for_load_state()
        nothing_shows(page)
    page.goto("/tablet")
    page.evaluate("history.go(-3)")
    page.wait_for_timeout(400)
    nothing_shows(page)
    page.goto("/tablet")


def asked_by_script(page: Page, path: str) -> str:
    """What a script on the page, or a console, gets by asking."""
    words: str = page.evaluate("path => fetch(path, {cache: 'force-cache'}).then(it => it.text())", path)
    return words


def test_nothing_leads_off_a_handed_over_tablet_but_the_pin(service: Service, crew: Crew) -> None:
    with handed_over(service, crew) as held:
        page = held.page
        expect(held.second).to_have_url(re.compile("/tablet$"))  # the tab that showed the record went along
        nothing_shows(held.second)
        back_leads_nowhere(page, times=5)
        for path in TYPED[:6]:  # tests/test_every_page.py asks for all of them
            page.goto(path)
            neutral(page)
            assert NAME not in asked_by_script(page, path)
        page.reload()
        neutral(page)
        page.get_by_text("For the studio").click()
        page.get_by_label("PIN").fill("2581")
        steps.press(page, "Take the tablet back")
        expect(page.get_by_role("alert")).to_contain_text("This is not the PIN.")
        page.get_by_label("PIN").fill(PIN)
        steps.press(page, "Take the tablet back")
        steps.heading(page, "Today")
        expect(page.get_by_text("Tomas Verhey")).to_be_visible()


@pytest.mark.long
def test_after_sending_nobody_gets_back_to_the_answers(service: Service, crew: Crew) -> None:
    with handed_over(service, crew) as held:
        page = held.page
        with service.database.write() as db:
            intake.save_draft(db, held.submission_id, healthy())
        held.open_form()
        for path in (*TYPED, "/aftercare", "/signing"):
            page.goto(path)  # only this form, wherever one goes
            expect(page).to_have_url(re.compile("/intake$"))
            assert "Today" not in asked_by_script(page, path)
        page.goto("/intake/1")
        expect(page.get_by_label("What is your name?")).to_have_value(NAME)
        expect(page.locator(f"{TYPED_IN}:not([autocomplete=off])")).to_have_count(0)
        other = held.context.new_page()
        other.goto("/intake/check")
        expect(other.get_by_text(NAME).first).to_be_visible()
        page.goto("/intake/check")
        before_work.sign_answers(page)
        for path in ("/intake", "/intake/1", "/intake/check", "/intake/sign"):
            page.goto(path)
            steps.heading(page, "Thank you")
            assert NAME not in page.content()
        page.clock.install()
        page.reload()
        page.clock.fast_forward("02:30")  # nobody taps Done
        neutral(page)
        expect(other).to_have_url(re.compile("/tablet$"))
        nothing_shows(other)
        back_leads_nowhere(page, times=20)
        for path in ("/intake", "/intake/1", "/intake/check", "/intake/done", f"/l/{held.token}"):
            page.goto(path)
            nothing_shows(page)
            assert NAME not in asked_by_script(page, path)
        cookies = {cookie["name"] for cookie in held.context.cookies()}
        assert cookies == {cookie_name(service, "tablet")}
        assert page.evaluate("[localStorage.length, sessionStorage.length]") == [0, 0]
        assert page.evaluate("caches === undefined ? 0 : caches.keys().then(it => it.length)") == 0
        third = held.context.new_page()
        third.goto("/intake")
        neutral(third)


@pytest.mark.long
def test_back_by_mistake_keeps_the_form_and_idle_time_closes_it(service: Service, crew: Crew) -> None:
    with handed_over(service, crew) as held:
        page = held.page
        held.open_form()
        page.go_back()
        expect(page).to_have_url(re.compile("/intake$"))
        page.goto("/intake/1")
        page.get_by_label("What is your name?").fill(NAME)
        expect(page.locator("[data-saved]")).to_contain_text("Saved")
        page.clock.install()
        page.goto("/intake/1")
        expect(page.get_by_label("What is your name?")).to_have_value(NAME)
        page.clock.fast_forward("08:30")
        expect(page.get_by_role("alertdialog")).to_be_visible()
        page.clock.fast_forward("02:00")
        neutral(page)
        back_leads_nowhere(page, times=4)
        page.goto("/intake/1")
        neutral(page)


@pytest.mark.long
def test_five_wrong_pins_leave_only_the_full_sign_in(service: Service, crew: Crew) -> None:
    with handed_over(service, crew) as held:
        page = held.page
        page.get_by_text("For the studio").click()
        for wrong in ("2581", "9999", "1470", "0258"):
            page.get_by_label("PIN").fill(wrong)
            steps.press(page, "Take the tablet back")
            expect(page.get_by_role("alert")).to_contain_text("This is not the PIN.")
        page.get_by_label("PIN").fill("8520")
        steps.press(page, "Take the tablet back")
        steps.heading(page, "Sign in")
        expect(page.get_by_text("The PIN was wrong five times.")).to_be_visible()
        page.go_back()
        nothing_shows(page)
        page.goto("/tablet")
        steps.heading(page, "Sign in")
        steps.sign_in(page, "ruth")


@pytest.mark.long
def test_the_neutral_screen_is_reached_by_keys_and_offers_nothing_typed_before(service: Service, crew: Crew) -> None:
    with handed_over(service, crew) as held:
        page = held.page
        fields = page.locator("form[action^='/tablet'] input:not([type=hidden])")
        assert {field.get_attribute("autocomplete") for field in fields.all()} == {"off", "one-time-code"}
        assert all(
            form.get_attribute("autocomplete") == "off" for form in page.locator("form[action^='/tablet']").all()
        )
        keyboard.tab_to(page, "here.id === 'f_code'")
        page.keyboard.type("2222 2222")
        page.keyboard.press("Enter")
        expect(page.get_by_role("alert")).to_contain_text("This code does not open anything.")
        keyboard.tab_to(page, "here.localName === 'summary'")
        page.keyboard.press("Enter")
        keyboard.tab_to(page, "here.id === 'f_pin'")
        page.keyboard.type(PIN)
        keyboard.press(page, "Take the tablet back")
        steps.heading(page, "Today")
        page.goto("/hand-over")
        keyboard.press(page, "Hand it over")
        page.get_by_text("For the studio").click()
        steps.follow(page, "Sign in fully instead")
        assert page.get_by_label("Sign-in name").get_attribute("autocomplete") == "off"
        assert page.get_by_label("Password").get_attribute("autocomplete") == "new-password"
        try:
            page.goto(f"view-source:{page.url.rsplit('/', 2)[0]}/clients/1")
        except Error:
            return  # this Chromium opens no source by address
        assert NAME not in page.content()
