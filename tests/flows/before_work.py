"""The course until the first session: asked, answered, accepted, placed, measured, mixed, agreed."""

import pytest
from playwright.sync_api import Page, expect

from app.demo.photos import Rendered
from tests.flows import steps

NAME, BORN = "Wren Ashdown", ("9", "9", "1985")
INTAKE = {
    "On which side?": "Your left",
    "Which fits best?": "Flat and paler",
    "How did it come about?": "An operation",
    "When did it happen?": "More than 2 years ago",
    "Has a doctor said": "None of these",
    "Has any of this been done": "None",
    "Are you allergic to latex": "Yes",
    "What result would make you happy?": "It stands out less",
}


def ask_for_answers(desk: Page, artist: Page) -> str:
    """The desk adds the client, the artist opens the case, the desk makes the link."""
    steps.sign_in(desk, "pia")
    steps.follow(desk, "add a client")
    desk.get_by_label("Full name").fill(NAME)
    desk.get_by_label("E-mail").fill("wren@example.org")
    steps.press(desk, "Save")
    steps.heading(desk, NAME)
    steps.sign_in(artist, "tomas")
    artist.get_by_label("Find a client").fill("Ashd")
    steps.press(artist, "Find")
    steps.follow(artist, NAME)
    steps.follow(artist, "Open a case")
    artist.get_by_label("Title").fill("Forearm")
    steps.press(artist, "Open the case")
    steps.heading(artist, "Forearm")
    desk.reload()
    desk.get_by_role("button", name="Make an intake link").click()
    return desk.get_by_label("Address").input_value()


def begin_answers(client: Page, link: str) -> None:
    """A first page with a mistake on it, which keeps what was typed."""
    client.goto(link)
    client.get_by_role("button", name="Start").click()
    steps.heading(client, "Before your visit")
    client.get_by_role("link", name="Begin").click()
    steps.heading(client, "About you")
    client.get_by_label("What is your name?").fill(NAME)
    client.get_by_label("Year").fill(BORN[2])
    client.get_by_role("button", name="Continue").click()
    expect(client.get_by_role("alert")).to_contain_text("Please look at this again")
    expect(client.get_by_role("alert")).to_be_focused()
    expect(client.get_by_label("What is your name?")).to_have_value(NAME)
    expect(client.get_by_label("Year")).to_have_value(BORN[2])
    client.get_by_label("Day").fill(BORN[0])
    client.get_by_label("Month").fill(BORN[1])
    steps.answer_the_rest(client, INTAKE)
    client.get_by_role("button", name="Continue").click()
    steps.heading(client, "Your skin")


def answer_pages(client: Page, until: str) -> None:
    """Page by page with the same few answers, until a page with this heading stands there."""
    for _ in range(20):
        title = client.get_by_role("heading", level=1).inner_text()
        if title == until:
            return
        if (where := client.get_by_label("Where on your body is it?")).count():
            where.select_option(label="Forearm")
        steps.answer_the_rest(client, INTAKE)
        on = client.get_by_role("button", name="Continue")
        assert on.count(), f"stuck at “{title}”: {client.locator('main').inner_text()}"
        on.click()
        client.wait_for_function("title => document.querySelector('h1').innerText !== title", arg=title)
    pytest.fail(f"never came to “{until}”")


def stop_and_come_back(client: Page, link: str) -> Page:
    """Closes the tab in the middle of a page; the link leads back to the same page with what was tapped on it."""
    steps.heading(client, "Medicines and creams")
    steps.choose(client, "Do you take a medicine that thins your blood", "No")
    client.get_by_label("Which other medicines do you take?").fill("Hay fever tablets in May")
    expect(client.locator("[data-saved]")).to_contain_text("Saved")
    client.wait_for_timeout(900)  # the pause after the last key, which is when the typing is sent
    client.close()
    again = client.context.new_page()
    again.goto(link)
    steps.heading(again, "Welcome back")
    again.get_by_role("link", name="Go on").click()
    steps.heading(again, "Medicines and creams")
    expect(again.get_by_label("Which other medicines do you take?")).to_have_value("Hay fever tablets in May")
    thinner = steps.group(again, "Do you take a medicine that thins your blood")
    expect(thinner.locator("input:checked")).to_have_value("no")
    return again


def sign_answers(client: Page) -> None:
    """Signs by typing the name."""
    expect(client.get_by_text("still needs")).to_have_count(0)
    client.get_by_role("link", name="This is right, go on to sign").click()
    steps.heading(client, "Sign and send")
    for box in client.locator("form fieldset").all():
        box.locator("label.tap").first.tap()
    client.get_by_label("Or type your full name").fill(NAME)
    client.get_by_role("button", name="Sign and send").click()
    steps.heading(client, "Thank you")


def accept(artist: Page) -> None:
    """The artist reads what was found and accepts."""
    artist.goto("/today")
    steps.follow(artist, f"Answers of {NAME}")
    steps.heading(artist, "Screening")
    expect(artist.get_by_role("heading", name="Findings")).to_be_visible()
    expect(artist.get_by_text("Full work", exact=False).first).to_be_visible()
    steps.choose(artist, "What is decided?", "Accept")
    artist.locator("#decide ~ form").get_by_role("button", name="Decide").click()
    expect(artist.locator(".notice").first).to_contain_text("Accept")


def place_zone(artist: Page) -> None:
    steps.follow(artist, "case 1")
    steps.follow(artist, "Add a zone")
    artist.locator("#f_declared label.tap").first.click()
    artist.get_by_label("Name of the zone").fill("Forearm, broad patch")
    artist.get_by_label("Place on the body").select_option(label="Forearm")
    steps.choose(artist, "Side", "Client’s left")
    steps.place_on_body(artist, "front", 0.82, 0.45)
    expect(artist.locator("[data-bodymap-said]")).to_contain_text("on the client’s left")
    artist.get_by_label("Kind of scar").select_option(index=1)
    steps.press(artist, "Place the zone")
    expect(artist.get_by_role("heading", level=1)).to_contain_text("Forearm, broad patch")


def measure(artist: Page, photo: Rendered, shows: str) -> None:
    """Uploads a photo, waits for what is found in it, outlines and reads."""
    steps.send_photo(artist, photo, shows)
    steps.outline_and_measure(artist, photo)


def ask_to_sign(artist: Page) -> str:
    """The treatment text for the zone, as a link of one use."""
    artist.goto("/cases/1")
    steps.follow(artist, "Ask for consent")
    steps.choose(artist, "Which zones?", "Forearm, broad patch")
    steps.choose(artist, "For what?", "Allergy patch", "Test spot", "Camouflage work")
    steps.press(artist, "Make the link")
    return artist.get_by_label("Address").input_value()


def sign_treatment(client: Page, link: str) -> None:
    """The client says yes to the work, no to all the rest, and draws a signature. What was agreed to before (photos on
    file, letters) is not asked again, so that "no to all" does not take it back."""
    client.goto(link)
    client.get_by_role("button", name="Start").click()
    steps.heading(client, "To read and sign")
    expect(client.get_by_role("listitem").filter(has_text="Forearm, broad patch")).to_be_visible()
    for box in client.locator("form fieldset").all():
        box.locator("label.tap").last.tap()
    expect(client.get_by_text("You said yes before to:")).to_be_visible()
    expect(client.get_by_role("listitem").filter(has_text="photos for the record")).to_be_visible()
    steps.choose(client, "Do you agree to the work", "Yes")
    steps.sign_by_hand(client)
    client.get_by_role("button", name="Sign", exact=True).click()
    steps.heading(client, "Thank you")


def confirm_on_site(artist: Page) -> None:
    """The artist sees the client's document and countersigns; without it no session starts."""
    artist.goto("/cases/1")
    steps.follow(artist, "All answers and what was signed")
    artist.get_by_role("link", name="See the identity document and countersign").click()
    steps.heading(artist, "Confirm on site")
    steps.choose(artist, "Which document did you see?", "Passport")
    artist.locator("label.tap").filter(has_text="I saw the document myself").click()
    steps.press(artist, "Confirm")
    expect(artist.get_by_role("heading", name="Confirmed on site")).to_be_visible()


def mix(artist: Page) -> None:
    """Searches the shelf for the measured skin and keeps the closest recipe."""
    artist.goto("/zones/1/recipe")
    expect(artist.get_by_role("heading", name="Target")).to_be_visible()
    if not artist.get_by_role("button", name="Keep this one").count():
        steps.press(artist, "Search")
    artist.get_by_role("button", name="Keep this one").first.click()
    expect(artist.get_by_role("heading", level=1)).to_contain_text("layer 1")
    expect(artist.get_by_text("Unproven until its zone is judged")).to_be_visible()
