"""Drawing outlines in a real browser: by mouse, by touch, with keys and buttons alone, and without scripts."""

import json
import math
import re
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

import pytest
from playwright.sync_api import CDPSession, Page, expect

from app.demo.cast import Crew
from app.demo.hands import Hands
from app.demo.photos import Rendered
from app.platform.service import Service
from tests.flows import keyboard, steps
from tests.flows.browser import DESK, PHONE, Watch, chromium
from tests.flows.live import live
from tests.records.cast import begin

pytestmark = pytest.mark.browser

Open = Callable[[dict[str, Any]], Page]


@pytest.fixture
def opened(service: Service, crew: Crew, photo_before: Rendered) -> Iterator[Open]:
    """Opens the page on which an artist outlines a photo, on a device."""
    hands = Hands(service, crew, date(2026, 3, 16), {"arm": photo_before})
    hands.photo(begin(service, crew).zone, "arm", "before", by="tomas", measured=False)
    watch = Watch()
    with chromium() as browser, live(service) as address:

        def on(device: dict[str, Any]) -> Page:
            page = watch.context(browser, address, **device).new_page()
            steps.sign_in(page, "tomas")
            page.goto("/photos/1/outlines")
            return page

        yield on
        assert watch.faults == []


def sent(page: Page) -> dict[str, list[dict[str, Any]]]:
    """What would be kept now."""
    found: dict[str, list[dict[str, Any]]] = json.loads(page.locator("input[name=outlines]").input_value() or "{}")
    return found


def said(page: Page, words: str | re.Pattern[str]) -> None:
    expect(page.locator(".outline-said")).to_contain_text(words, timeout=20_000)


def on_screen(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a pixel of the photo stands in the window."""
    at = page.evaluate("""([x, y]) => {
        const p = new DOMPoint(x, y).matrixTransform(document.querySelector('.outline-stage').getScreenCTM());
        return [p.x, p.y];
    }""", [x, y])
    return float(at[0]), float(at[1])


def test_an_outline_is_taken_from_the_colour_ringed_holed_and_undone(opened: Open, photo_before: Rendered) -> None:
    page = opened(DESK)
    page.locator(".outline-stage").scroll_into_view_if_needed()
    steps.press(page, "Takes the colour")
    page.mouse.click(*on_screen(page, *map(float, photo_before.scar_outline.mean(axis=0))))
    said(page, "piece found")
    steps.press(page, "Propose a ring around the scar")
    said(page, "A ring of skin is proposed")
    expect(page.locator(".outline-sum")).to_contain_text("Skin around it: 1 piece")
    before = sent(page)
    steps.press(page, "Delete piece, or the chosen hole")
    said(page, "deleted")
    assert sent(page)["skin"] == []
    steps.press(page, "Undo")
    assert sent(page) == before
    steps.press(page, "Keep and measure")
    page.wait_for_url("**/photos/1#reading")


@pytest.mark.long
def test_fingers_draw_drag_and_pinch(opened: Open) -> None:
    page = opened(PHONE)
    page.locator(".outline-stage").scroll_into_view_if_needed()
    hand = page.context.new_cdp_session(page)
    stroke(hand, [on_screen(page, x, y) for x, y in circle(page)])
    said(page, "Outline closed. Scar: 1 piece.")
    [piece] = sent(page)["scar"]
    assert 8 <= len(piece["outer"]) < 60, "a stroke is kept with few points"
    loupe_while_dragging(page, hand, piece["outer"][0])
    page.get_by_role("button", name="Cuts a hole").tap()
    stroke(hand, [on_screen(page, x, y) for x, y in circle(page, 0.05)])
    said(page, "Hole cut.")
    assert len(sent(page)["scar"][0]["holes"]) == 1
    wide = on_screen(page, 1, 0)[0] - on_screen(page, 0, 0)[0]
    pinch(page, hand)
    assert on_screen(page, 1, 0)[0] - on_screen(page, 0, 0)[0] > 1.5 * wide
    page.get_by_role("button", name="Moves a piece").tap()
    before = sent(page)["scar"][0]["outer"][0]
    x, y = on_screen(page, *inside(page))
    stroke(hand, [(x, y), (x + 15, y), (x + 30, y)])
    said(page, "Piece moved.")
    assert sent(page)["scar"][0]["outer"][0][0] > before[0] + 5
    page.get_by_role("button", name="Undo").tap()
    assert sent(page)["scar"][0]["outer"][0] == before


def circle(page: Page, share: float = 0.2) -> list[tuple[float, float]]:
    """Points round the middle of the photo, in its pixels; the radius is a share of its height."""
    root = page.locator("[data-outline]")
    wide, high = (float(root.get_attribute(f"data-photo-{name}") or 0) for name in ("width", "height"))
    angles = [step / 24 * math.tau for step in range(25)]
    return [(wide / 2 + share * high * math.cos(a), high / 2 + share * high * math.sin(a)) for a in angles]


def inside(page: Page) -> tuple[float, float]:
    """A pixel of the photo between the hole and the edge."""
    return circle(page, 0.12)[12]


def touch(hand: CDPSession, kind: str, *points: tuple[float, float]) -> None:
    given = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
    hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": given})


def stroke(hand: CDPSession, points: list[tuple[float, float]]) -> None:
    touch(hand, "touchStart", points[0])
    for point in points[1:]:
        touch(hand, "touchMove", point)
    touch(hand, "touchEnd")


def loupe_while_dragging(page: Page, hand: CDPSession, point: list[float]) -> None:
    x, y = on_screen(page, point[0], point[1])
    touch(hand, "touchStart", (x, y))
    touch(hand, "touchMove", (x + 14, y))
    touch(hand, "touchMove", (x + 25, y + 5))
    expect(page.locator(".outline-loupe")).to_be_visible()
    touch(hand, "touchEnd")
    said(page, "Point moved.")
    expect(page.locator(".outline-loupe")).to_be_hidden()


def pinch(page: Page, hand: CDPSession) -> None:
    x, y = on_screen(page, *circle(page, 0.0)[0])
    touch(hand, "touchStart", (x - 20, y), (x + 20, y))
    for far in (30, 45, 60):
        touch(hand, "touchMove", (x - far, y), (x + far, y))
    touch(hand, "touchEnd")


@pytest.mark.long
def test_everything_a_drag_does_keys_and_buttons_do(opened: Open) -> None:
    page = opened(DESK)
    for role, shift in (("scar", 0), ("skin", 150)):
        keyboard.tab_to(page, "here.classList.contains('outline-stage')")
        for right, down in ((shift, 0), (60, 0), (0, 60), (-60, 0)):
            keyboard.arrows(page, right, down)
            page.keyboard.press("Space")
        page.keyboard.press("Enter")
        said(page, "Outline closed.")
        assert len(sent(page)[role]) == 1
        if role == "scar":
            keyboard.arrows(page, 60, -60)
            keyboard.press(page, "Skin around it")
    keyboard.tab_to(page, "here.classList.contains('outline-stage')")
    page.keyboard.press("n")
    said(page, "Point 1 of 4 chosen. Scar, piece 1.")
    page.keyboard.press("Tab")
    said(page, "Point 2 of 4 chosen.")
    before = sent(page)["scar"][0]["outer"]
    keyboard.arrows(page, 12, 0)
    assert sent(page)["scar"][0]["outer"][1][0] > before[1][0]
    page.keyboard.press("i")
    assert len(sent(page)["scar"][0]["outer"]) == 5
    page.keyboard.press("Delete")
    assert len(sent(page)["scar"][0]["outer"]) == 4
    page.keyboard.press("b")
    said(page, "chosen as a whole")
    keyboard.arrows(page, 0, 10)
    assert sent(page)["scar"][0]["outer"][0][1] > before[0][1]
    for _ in range(4):
        page.keyboard.press("+")
    said(page, re.compile(r"Shown \d"))
    page.keyboard.press("0")
    said(page, "The whole photo is shown.")
    page.keyboard.press("Control+z")
    page.keyboard.press("r")
    said(page, "Done again.")
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    assert page.evaluate("() => !document.activeElement.classList.contains('outline-stage')"), "nobody is held there"
    keyboard.press(page, "Keep and measure")
    page.wait_for_url("**/photos/1#reading")


@pytest.mark.long
def test_landmarks_are_placed_in_turns_and_without_scripts_the_page_says_what_it_needs(
    service: Service, crew: Crew, photo_before: Rendered, photo_settled: Rendered
) -> None:
    hands = Hands(service, crew, date(2026, 3, 16), {"arm": photo_before, "later": photo_settled})
    zone = begin(service, crew).zone
    hands.photo(zone, "arm", "before", by="tomas")
    hands.photo(zone, "later", "settled", by="tomas", measured=False)
    watch = Watch()
    with chromium() as browser, live(service) as address:
        page = watch.context(browser, address, **DESK).new_page()
        steps.sign_in(page, "tomas")
        page.goto("/photos/2/carrying")
        page.get_by_role("button", name=re.compile("^Photo of")).click()
        expect(page.get_by_role("heading", name="What came of it")).to_be_visible(timeout=40_000)
        left, right = page.locator(".outline-stage").first, page.locator(".outline-stage").last
        for x, y in ((60, 60), (300, 90), (200, 200)):
            left.click(position={"x": x, "y": y})
            right.click(position={"x": x, "y": y})
        expect(page.locator("[data-landmarks-said]")).to_contain_text("3 pairs stand")
        assert len(json.loads(page.locator("input[name=landmarks]").input_value())) == 3
        steps.press(page, "Carry over by these landmarks")
        expect(page.get_by_role("heading", name="What came of it")).to_be_visible(timeout=40_000)
        plain = watch.context(browser, address, java_script_enabled=False, **DESK).new_page()
        steps.sign_in(plain, "tomas")
        plain.goto("/photos/1/outlines")
        expect(plain.get_by_text("Drawing needs JavaScript")).to_be_visible()
        steps.press(plain, "Keep and measure")
        expect(plain).to_have_url(re.compile(r"/photos/1#reading$"))
        assert watch.faults == []
