"""Guided capture in a real browser: by the keyboard with a camera, on a phone without one, and without scripts."""

import pytest
from playwright.sync_api import Page, expect

from app.demo.cast import Crew
from app.platform.service import Service
from app.records import queries
from app.records.models import Photo
from tests.flows import keyboard, steps
from tests.flows.browser import PHONE, TABLET, Watch, chromium
from tests.flows.live import live
from tests.flows.test_looks import axe_faults, overflow
from tests.records.cast import begin

pytestmark = [pytest.mark.browser, pytest.mark.long]

PATIENCE_MS = 20_000


def _photos(service: Service, zone_id: int) -> list[Photo]:
    with service.database.read() as db:
        return queries.photos_of(db, zone_id)


def _take(page: Page, words: str) -> None:
    """Two presses of Enter: the shutter has the focus, and then the button that keeps."""
    expect(page.get_by_role("button", name="Take the picture")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Keep this picture")).to_be_focused(timeout=PATIENCE_MS)
    page.keyboard.press("Enter")
    expect(page.locator("[data-said]")).to_have_text(f"{words}: kept.", timeout=PATIENCE_MS)


def test_three_frames_are_taken_by_keyboard_with_the_last_one_as_a_ghost(service: Service, crew: Crew) -> None:
    begun, watch = begin(service, crew), Watch()
    zone_id = begun.zone.id or 0
    with chromium(with_camera=True) as browser, live(service) as address:
        page = watch.context(browser, address, **TABLET).new_page()
        steps.sign_in(page, "tomas")
        page.goto(f"/zones/{zone_id}/capture")
        keyboard.press(page, "Open the camera")
        expect(page.locator("[data-words]")).to_contain_text("See for yourself", timeout=PATIENCE_MS)
        for words in ("Context", "Middle"):
            _take(page, words)
        expect(page.locator("[data-words]")).to_contain_text("No colour chart in view", timeout=PATIENCE_MS)
        _take(page, "Close")
        assert axe_faults(page) == []
        assert overflow(page) == 0
        assert [(photo.frame, photo.purpose) for photo in _photos(service, zone_id)] == [
            ("context", "before"), ("middle", "before"), ("close", "before")]  # fmt: skip
        expect(page.locator("[data-ghost]")).to_be_hidden()
        _until_examined(page, service, zone_id)

        page.reload()
        page.get_by_role("button", name="Open the camera").click()
        ghost = page.locator("[data-ghost]")
        expect(ghost).to_be_visible()
        first = _photos(service, zone_id)[0]
        assert (ghost.get_attribute("src") or "") == f"/photos/{first.id}/shown"
        page.get_by_label("How strongly it shows").press("ArrowRight")
        assert ghost.evaluate("it => it.style.opacity") == "0.45"
        page.get_by_label("Lay the last picture over it").press("Space")
        expect(ghost).to_be_hidden()
    assert watch.faults == []


def _until_examined(page: Page, service: Service, zone_id: int) -> None:
    for _ in range(100):
        if all(photo.shown_id for photo in _photos(service, zone_id)):
            return
        page.wait_for_timeout(200)
    raise AssertionError("the worker did not look at the pictures")


def test_a_phone_without_a_camera_for_pages_is_led_to_the_fields(service: Service, crew: Crew) -> None:
    begun, watch = begin(service, crew, site="breast"), Watch()
    with chromium() as browser, live(service) as address:
        page = watch.context(browser, address, **PHONE).new_page()
        page.add_init_script("Object.defineProperty(navigator, 'mediaDevices', { value: undefined })")
        steps.sign_in(page, "tomas")
        page.goto(f"/zones/{begun.zone.id}/capture")
        expect(page.get_by_text("needs HTTPS")).to_be_visible()
        expect(page.get_by_role("button", name="Open the camera")).to_be_hidden()
        assert page.locator("input[type=file][capture=environment]").count() == 4
        assert axe_faults(page) == []
        assert overflow(page) == 0
    assert watch.faults == []
