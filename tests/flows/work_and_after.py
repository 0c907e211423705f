"""The course from the first session on: at the chair, healing at home, and how it came out."""

import json
import re
from collections.abc import Callable

from playwright.sync_api import Page, Response, expect

from app.platform.service import Service
from tests.flows import steps
from tests.flows.before_work import NAME

FEVER = "Is your temperature 38"


def start_session(artist: Page) -> None:
    """Asks the short questions aloud, with nothing new, and opens the sheet."""
    artist.goto("/cases/1")
    steps.follow(artist, "Start a session")
    expect(artist.get_by_text("The short questions of today are not answered.")).to_be_visible()
    steps.press(artist, "Ask the short questions")
    steps.follow(artist, "Ask aloud")
    for box in artist.locator("form fieldset").all():
        box.locator("label.tap").filter(has_text=re.compile(r"^\s*(No|None|I have had no session yet)\s*$")).click()
    steps.press(artist, "Keep these answers")
    expect(artist.get_by_text("Nothing new was said.")).to_be_visible()
    steps.follow(artist, "Start a session")
    artist.locator("label.tap").filter(has_text="Work on Forearm, broad patch today").click()
    steps.press(artist, "Open the sheet")
    expect(artist.get_by_role("alert")).to_be_visible()
    artist.locator("label.tap").filter(has_text="The client agrees to the work today").click()
    steps.press(artist, "Open the sheet")
    expect(artist.locator(".side")).to_contain_text("LEFT")
    expect(artist.locator(".who-strip")).to_contain_text("Latex-free room")


def tap(sheet: Page, legend: str, *words: str) -> None:
    for each in words:
        steps.group(sheet, legend).locator("label.tap").filter(has_text=re.compile(rf"^\s*{each}")).first.tap()


def sent(words: str) -> Callable[[Response], bool]:
    """A tap with these words in it was taken by the server."""
    return lambda answer: answer.ok and "/taps" in answer.url and words in (answer.request.post_data or "")


def work(sheet: Page) -> None:
    """What is used and seen, tapped in; one tap falls into a gap of the connection."""
    for label in ("3 round", "Skin antiseptic", "Breathable film"):
        shelf = sheet.locator("details", has=sheet.get_by_text("From the shelf", exact=True)).first
        if shelf.get_attribute("open") is None:
            shelf.locator("summary").click()
        shelf.get_by_role("button", name=re.compile(rf"^{label}")).click()
        expect(sheet.get_by_role("button", name=re.compile(rf"Not used\s*: {label}"))).to_be_visible()
    sheet.get_by_role("button", name="Needle on").click()
    tap(sheet, "First dots", "Holding")
    tap(sheet, "Strokes", "Dots")
    with sheet.expect_response(sent("soft_edge")):
        tap(sheet, "Strokes", "Soft edge")
    said = sheet.locator("[data-saved]").first
    expect(said).to_contain_text("Saved")
    sheet.context.set_offline(True)
    tap(sheet, "Redness", "Pink")
    expect(said).to_contain_text("1 entry is kept on this page")
    tap(sheet, "How does it feel, from 0 to 10?", "4")
    expect(said).to_contain_text("2 entries are kept on this page")
    with sheet.expect_response(sent("sensitivity")):
        sheet.context.set_offline(False)
    expect(said).to_contain_text("Saved")
    with sheet.expect_response(sent("needle")):
        sheet.get_by_role("button", name="Pause").click()
    sheet.reload()
    for legend, value in (("First dots", "holding"), ("Redness", "1"), ("How does it feel, from 0 to 10?", "4")):
        expect(steps.group(sheet, legend).locator("input:checked")).to_have_value(value)


def finish(sheet: Page) -> None:
    sheet.get_by_role("link", name="Finish").click()
    expect(sheet.get_by_text("Nothing is missing.")).to_be_visible()
    sheet.get_by_role("button", name="Finish", exact=True).click()
    expect(sheet.get_by_role("heading", level=1)).to_contain_text("Full work, 16 March 2026")
    expect(sheet.get_by_role("region", name="Items and lots")).to_contain_text("N3-8841")


def link_in_outbox(service: Service) -> str:
    """The address in the newest letter; its subject says nothing of health."""
    letters = sorted(service.settings.outbox.glob("*.json"), key=lambda file: file.stat().st_mtime)
    letter = json.loads(letters[-1].read_text(encoding="utf-8"))
    assert letter["to"] == "wren@example.org"
    assert "scar" not in (letter["subject"] + letter["text"]).lower()
    found = re.search(r"http\S+/l/\S+", letter["text"])
    assert found is not None
    return found[0]


def report_fever(client: Page, link: str) -> None:
    """Opens the page by the letter's link and reports a fever: the answer is to get help today."""
    client.goto(link)
    client.get_by_role("button", name="Start").click()
    expect(client.locator("section.alarm")).to_be_visible()
    client.get_by_role("link", name="Something worries me").click()
    client.get_by_role("button", name="Send").click()
    expect(client.get_by_role("alert")).to_contain_text("questions are still open")
    for box in client.locator("form fieldset").all():
        words = "Yes" if (box.locator("legend").text_content() or "").strip().startswith(FEVER) else "No"
        box.locator("label.tap").filter(has_text=re.compile(rf"^\s*{words}\s*$")).first.tap()
    client.get_by_label("Anything else?").fill("Shivering since last night")
    client.get_by_role("button", name="Send").click()
    expect(client.locator("section.alarm").get_by_role("heading", level=1)).to_be_visible()
    expect(client.locator("section.alarm")).to_contain_text("today")


def read_check_in(artist: Page) -> None:
    """It stands first on Today; read with an answer, it is gone from there."""
    artist.goto("/today")
    expect(artist.get_by_role("heading", name="Read these first")).to_be_visible()
    artist.get_by_role("link", name=f"check-in of {NAME}").click()
    expect(artist.get_by_text("Shivering since last night")).to_be_visible()
    artist.get_by_label("What was done, or your answer").fill("Spoke at 10: sees the doctor this morning.")
    steps.press(artist, "I have read it")
    expect(artist.get_by_text("Read by Tomas Verhey")).to_be_visible()
    artist.goto("/today")
    expect(artist.get_by_role("heading", name="Read these first")).to_have_count(0)


def judge(artist: Page) -> None:
    artist.goto("/zones/1/verdict")
    expect(artist.get_by_text("From the first to the second the difference is")).to_be_visible()
    steps.choose(artist, "Colour match in the first light", "Good")
    steps.choose(artist, "Colour match in a second", "Good")
    steps.choose(artist, "How did you look?", "In person")
    steps.choose(artist, "Client: how much do you see the scar?", "2")
    steps.choose(artist, "What comes next?", "Finished")
    steps.press(artist, "Keep the verdict")
    expect(artist.get_by_role("heading", name="Verdicts so far")).to_be_visible()


def review(owner: Page) -> None:
    """The settled zone stands in the owner's review with its change and its verdict."""
    steps.follow(owner, "Review")
    line = owner.get_by_role("row").filter(has_text="Forearm, broad patch")
    expect(line).to_contain_text("Good, Tomas Verhey, who treated it")
    expect(line).to_contain_text(re.compile(r"\d+(\.\d)? to \d+(\.\d)?, then \d"))
    expect(line).to_contain_text("smaller")
