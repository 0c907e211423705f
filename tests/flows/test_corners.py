"""The corners of a chart placed with nothing but keys: chosen by number, moved by arrows; the fields follow."""

import pytest
from playwright.sync_api import Page, expect

from app.demo.cast import Crew
from app.platform.service import Service
from tests.conftest import browser_of
from tests.flows import keyboard, steps
from tests.flows.browser import Watch, chromium
from tests.flows.live import live
from tests.records.cast import begin, photographed, upload, work_all

pytestmark = [pytest.mark.browser, pytest.mark.long]


def number(page: Page, name: str) -> float:
    return float(page.locator(f"#f_{name}").input_value())


@pytest.mark.parametrize("with_chart", [True, False])
def test_corners_are_placed_by_keys_and_the_photo_is_looked_at_again(
    service: Service, crew: Crew, with_chart: bool
) -> None:
    begun = begin(service, crew)
    at = upload(browser_of(service, crew.tomas), begun.zone, photographed(with_chart).jpeg)
    work_all(service)
    with live(service) as base, chromium() as browser:
        watch = Watch()
        page = watch.context(browser, base).new_page()
        steps.sign_in(page, "tomas")
        page.goto(f"{at}/corners")
        keyboard.tab_to(page, "here.classList.contains('outline-stage')")
        if with_chart:
            before = number(page, "x2")
            page.keyboard.press("2")
            page.keyboard.press("Shift+ArrowLeft")
            page.keyboard.press("ArrowRight")
            assert number(page, "x2") < before
            assert number(page, "x1") == number(page, "x1")
        else:  # nothing was found: the corners start in the middle, and each is moved to its own side
            for key, ways in (("1", "LU"), ("2", "RU"), ("3", "RD"), ("4", "LD")):
                page.keyboard.press(key)
                for way in ways:
                    for _ in range(12):
                        page.keyboard.press("Shift+Arrow" + {"L": "Left", "R": "Right", "U": "Up", "D": "Down"}[way])
            assert number(page, "x1") < number(page, "x2")
            assert number(page, "y1") < number(page, "y4")
        expect(page.locator(".corner-patch")).to_have_count(24)
        expect(page.locator(".outline-said")).to_contain_text("across")
        keyboard.press(page, "Keep and look again")
        expect(page.get_by_text("Its corners were placed by hand.")).to_be_visible(timeout=30_000)
        heading = "Calibrated" if with_chart else "The chart cannot be used"
        expect(page.get_by_role("heading", name=heading)).to_be_visible()
        assert not watch.faults
