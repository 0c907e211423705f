"""One client's whole course, on the pages, in a real browser: from the first link to the review."""

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from app.check_command import check
from app.demo.cast import Crew
from app.demo.hands import Hands
from app.demo.photos import Rendered
from app.demo.shelf import SHELF
from app.messages.sending import send_due
from app.platform import clock
from app.platform.service import Service
from tests.conftest import NOW
from tests.flows import before_work, keyboard, steps, work_and_after
from tests.flows.browser import DESK, OFFLINE, PHONE, TABLET, Watch, chromium
from tests.flows.live import live
from tests.records.cast import answer_photos

pytestmark = pytest.mark.browser

NEXT_MORNING = datetime(2026, 3, 17, 10, 0, tzinfo=UTC)
SETTLED = NOW + timedelta(weeks=13)


@dataclass
class Walk:
    """The studio and the browser in which its people each have a window of their own."""

    service: Service
    browser: Browser
    address: str
    watch: Watch
    times: ExitStack

    def somebody(self, device: dict[str, Any]) -> Page:
        return self.watch.context(self.browser, self.address, **device).new_page()

    def at(self, moment: datetime) -> None:
        """The whole studio stands at another moment from here on."""
        self.times.enter_context(clock.stopped_at(moment))


@pytest.fixture
def walk(service: Service, crew: Crew) -> Iterator[Walk]:
    hands = Hands(service, crew, date(2026, 3, 16), {})
    for bottle in SHELF:
        hands.stock(bottle, date(2026, 2, 2))
    with chromium() as browser, live(service) as address, ExitStack() as times:
        yield Walk(service, browser, address, Watch(), times)


def until_the_first_session(walk: Walk, artist: Page, photo: Rendered) -> None:
    desk, phone = walk.somebody(DESK), walk.somebody(PHONE)
    link = before_work.ask_for_answers(desk, artist)
    before_work.begin_answers(phone, link)
    before_work.answer_pages(phone, "Medicines and creams")
    phone = before_work.stop_and_come_back(phone, link)
    before_work.answer_pages(phone, "Your answers")
    before_work.sign_answers(phone)
    before_work.accept(artist)
    before_work.place_zone(artist)
    before_work.measure(artist, photo, "Before")
    to_sign = before_work.ask_to_sign(artist)
    before_work.sign_treatment(walk.somebody(PHONE), to_sign)
    assert phone.request.get(to_sign).status in (404, 410), "a link to sign works once"
    before_work.confirm_on_site(artist)
    before_work.mix(artist)


def at_the_chair(walk: Walk) -> None:
    tablet = walk.somebody(TABLET)
    walk.watch.ignored.append(OFFLINE)
    steps.sign_in(tablet, "tomas")
    work_and_after.start_session(tablet)
    work_and_after.work(tablet)
    walk.watch.ignored.remove(OFFLINE)
    work_and_after.finish(tablet)


def the_next_morning(walk: Walk, artist: Page) -> None:
    walk.at(NEXT_MORNING)
    assert send_due(walk.service) == 1
    work_and_after.report_fever(walk.somebody(PHONE), work_and_after.link_in_outbox(walk.service))
    steps.sign_in(artist, "tomas")  # a sign-in that was not used for a night has ended
    work_and_after.read_check_in(artist)


def thirteen_weeks_later(walk: Walk, artist: Page, photo: Rendered) -> None:
    walk.at(SETTLED)
    steps.sign_in(artist, "tomas")
    artist.goto("/zones/1")
    before_work.measure(artist, photo, "Settled")
    work_and_after.judge(artist)
    owner = walk.somebody(DESK)
    steps.sign_in(owner, "ines")
    work_and_after.review(owner)


@pytest.mark.long
def test_a_client_is_walked_from_the_first_link_to_the_outcome(
    walk: Walk, photo_before: Rendered, photo_settled: Rendered
) -> None:
    artist = walk.somebody(DESK)
    until_the_first_session(walk, artist, photo_before)
    at_the_chair(walk)
    the_next_morning(walk, artist)
    thirteen_weeks_later(walk, artist, photo_settled)
    said: list[str] = []
    assert check(walk.service.settings, said.append) == 0, said
    assert walk.watch.faults == []


def test_back_shows_nothing_of_the_records_after_signing_out(service: Service, crew: Crew) -> None:
    hands = Hands(service, crew, date(2026, 3, 16), {})
    hands.case(before_work.NAME, "1985-09-09", "Forearm", lead="tomas")
    watch = Watch()
    with chromium(with_page_cache=True) as browser, live(service) as address:
        page = watch.context(browser, address, **DESK).new_page()
        steps.sign_in(page, "tomas")
        page.goto("/clients/1")
        steps.follow(page, "Case 1, Forearm")
        steps.heading(page, "Forearm")
        steps.press(page, "Sign out")
        steps.heading(page, "Sign in")
        for _ in range(3):
            page.go_back()
            steps.heading(page, "Sign in")
            assert before_work.NAME not in page.content()
    assert watch.faults == []


@pytest.mark.long
def test_scar_and_skin_are_outlined_with_the_keyboard(service: Service, crew: Crew, photo_before: Rendered) -> None:
    hands = Hands(service, crew, date(2026, 3, 16), {"arm": photo_before})
    case = hands.case(before_work.NAME, "1985-09-09", "Forearm", lead="tomas")
    with service.database.write() as db:
        answer_photos(db, case.client_id, before_work.NAME, by=crew.by("tomas"))
    facts = {"label": "Forearm", "site": "forearm", "side": "left", "scar_kind": "flat_pale"}
    hands.photo(hands.zone(case, by="tomas", **facts), "arm", "before", by="tomas", measured=False)
    watch = Watch()
    with chromium() as browser, live(service) as address:
        page = watch.context(browser, address, **DESK).new_page()
        steps.sign_in(page, "tomas")
        page.goto("/photos/1/outlines")
        keyboard.outline(page, photo_before.scar_outline)
        keyboard.press(page, "Skin around it")
        keyboard.outline(page, photo_before.skin_outline)
        keyboard.press(page, "Keep and measure")
        steps.reading_stands(page)
    assert watch.faults == []
