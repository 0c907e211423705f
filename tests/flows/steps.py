"""What people do on the pages, as small steps: sign in, answer, place, outline, look."""

import re

import cv2
import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Locator, Page, expect

from app.demo.photos import Rendered
from tests.conftest import PASSWORDS

Points = NDArray[np.float64]


def sign_in(page: Page, login: str) -> None:
    page.goto("/sign-in")
    page.get_by_label("Sign-in name").fill(login)
    page.get_by_label("Password").fill(PASSWORDS[login])
    press(page, "Sign in")
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")


def press(where: Page | Locator, words: str) -> None:
    where.get_by_role("button", name=words, exact=True).click()


def follow(where: Page | Locator, words: str) -> None:
    where.get_by_role("link", name=words, exact=True).first.click()


def heading(page: Page, words: str | re.Pattern[str]) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text(words)


def group(page: Page, legend: str) -> Locator:
    """The choices under a legend."""
    return page.locator("fieldset", has=page.locator("legend").filter(has_text=re.compile(f"^{re.escape(legend)}")))


def choose(page: Page, legend: str, *words: str) -> None:
    """Taps answers by their words, as a finger would: on the label, not on the box inside it."""
    for each in words:
        begins = re.compile(rf"^\s*{re.escape(each)}")
        group(page, legend).first.locator("label.tap").filter(has_text=begins).first.click()


def answer_the_rest(page: Page, answers: dict[str, str]) -> None:
    """Answers each question on a page of the intake form that has no answer yet: as told, or with a plain No."""
    for box in page.locator("form[data-draft-url] fieldset").all():
        if box.locator("input:checked").count() or not box.locator("label.tap").count():
            continue
        legend = (box.locator("legend").text_content() or "").strip()
        words = next((told for asked, told in answers.items() if legend.startswith(asked)), "No")
        box.locator("label.tap").filter(has_text=re.compile(rf"^\s*{re.escape(words)}")).first.tap()


def sign_by_hand(page: Page) -> None:
    """A few strokes on the drawing area."""
    canvas = page.locator("canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + box["height"] * 0.6)
    page.mouse.down()
    for step in range(1, 9):
        height = 0.35 if step % 2 else 0.7
        page.mouse.move(box["x"] + 30 + step * 22, box["y"] + box["height"] * height)
    page.mouse.up()
    expect(page.get_by_text("Signature drawn.")).to_be_visible()


def place_on_body(page: Page, view: str, x: float, y: float) -> None:
    """A tap on the figure, at parts of its width and height."""
    figure = page.locator(f'[data-bodymap-figure="{view}"]')
    figure.scroll_into_view_if_needed()
    box = figure.bounding_box()
    assert box is not None
    figure.click(position={"x": box["width"] * x, "y": box["height"] * y})


def fewer(outline: Points) -> Points:
    """The outline with as many points as a person would tap."""
    points: Points = cv2.approxPolyDP(outline.astype(np.float32), 6.0, True)[:, 0].astype(np.float64)
    return points


def tap_outline(page: Page, outline: Points) -> None:
    """Taps round an outline given in pixels of the photo, and closes it with the button."""
    stage = page.locator(".outline-stage")
    box = stage.bounding_box()
    width = page.locator("[data-outline]").get_attribute("data-photo-width")
    assert box is not None
    assert width is not None
    for x, y in fewer(outline) * (box["width"] / float(width)):
        stage.click(position={"x": float(x), "y": float(y)})
    press(page, "Close outline")


def send_photo(page: Page, photo: Rendered, shows: str) -> None:
    """Adds a photo to the zone whose page is open, and waits for what was found in it."""
    follow(page, "Add photos")
    page.get_by_label("Photos").set_input_files({"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": photo.jpeg})
    choose(page, "What they show", shows)
    press(page, "Add")


def outline_and_measure(page: Page, photo: Rendered) -> None:
    """From the photo's page: outlines scar and skin with taps and waits for the reading."""
    page.get_by_role("link", name="Outline scar and skin").click(timeout=30_000)
    heading(page, "Outline scar and skin")
    tap_outline(page, photo.scar_outline)
    press(page, "Skin around it")
    tap_outline(page, photo.skin_outline)
    press(page, "Keep and measure")
    reading_stands(page)


def reading_stands(page: Page) -> None:
    """The reading came, as an interval."""
    expect(page.get_by_role("heading", name="Reading", exact=True)).to_be_visible(timeout=30_000)
    expect(page.locator("#reading")).to_contain_text(re.compile(r"\d+(\.\d)? to \d+"))
