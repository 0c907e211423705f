"""What stands on every page of the form, and what a client meets when a link or a pass is over."""

import re
from datetime import timedelta

import pytest
from sqlalchemy import text

from app.demo.cast import Crew
from app.intake import publishing, queries
from app.intake.filling import needs_time
from app.intake.models import Submission
from app.intake.question_list import QUESTION_SET
from app.intake.rule_actions import leave_out
from app.intake.visit_list import VISIT_SET
from app.platform import clock, links
from app.platform.service import Service
from tests.conftest import NOW, Browser, browser_of
from tests.intake.course import come_in, fill_in, held_in, open_course, posts_for, send_link, sign
from tests.intake.healthy import healthy, healthy_scar
from tests.intake.test_filling import answers_of

ADDRESS, SKIN = posts_for(healthy())[1]
LAST = posts_for(healthy())[-1]


@pytest.fixture
def client(service: Service, crew: Crew) -> Browser:
    return come_in(service, send_link(service, open_course(service, crew))[1])


def test_pausing_keeps_the_page_and_shows_an_empty_one_that_leads_back(client: Browser) -> None:
    away = client.post(f"/intake/{ADDRESS}", data={"shingles": "no", "go": "pause"}).headers["location"]
    assert away == f"/paused?back=/intake/{ADDRESS}"
    page = client.get(away).text
    assert "<title>Paused</title>" in page
    assert f'href="/intake/{ADDRESS}"' in page
    assert "Halloran" not in page
    assert 'value="no" checked' in client.get(f"/intake/{ADDRESS}").text


def test_going_on_never_leads_to_another_site(client: Browser) -> None:
    for back in ("https://example.org", "//example.org", "/\\example.org", "/\t/example.org", "/\r\n/example.org"):
        assert "example.org" not in client.get("/paused", params={"back": back}).text


def test_the_language_changes_on_any_page_and_what_stands_there_is_kept(client: Browser) -> None:
    answer = client.post(f"/intake/{ADDRESS}?then=", data={"shingles": "no", "then": "check", "go": "language-de"})
    assert answer.headers["location"] == f"/intake/{ADDRESS}?then=check"
    page = client.get(f"/intake/{ADDRESS}").text
    assert '<html lang="de"' in page
    assert 'value="no" checked' in page
    for code in ("en", "es", "fr", "de"):
        assert re.search(rf'value="language-{code}" lang="{code}"', page)
    assert '<html lang="de"' in client.get("/intake/check").text
    client.post("/choices", data={"go": "language-en", "back": "/intake"})
    assert '<html lang="en-GB"' in client.get("/intake").text


def test_larger_letters_stay_until_they_are_put_back(client: Browser) -> None:
    client.post(f"/intake/{ADDRESS}", data={"go": "letters-larger"})
    assert 'class="larger"' in client.get("/intake/check").text
    client.post("/choices", data={"go": "letters-usual", "back": "/intake/check"})
    assert 'class="larger"' not in client.get("/intake/check").text


def test_signing_in_another_language_keeps_what_was_typed(client: Browser) -> None:
    fill_in(client, healthy())
    version = held_in(client.get("/intake/sign").text, "version")
    page = client.post("/intake/sign", data={"go": "language-fr", "typed_name": "Robin Ash", "version": version})
    assert page.status_code == 200
    assert '<html lang="fr"' in page.text
    assert 'value="Robin Ash"' in page.text
    assert held_in(page.text, "version") == version


def test_the_language_of_the_client_is_kept_with_the_form(service: Service, client: Browser) -> None:
    fill_in(client, healthy())
    client.post("/choices", data={"go": "language-es", "back": "/intake"})
    sign(client)
    with service.database.read() as db:
        assert db.get_one(Submission, 1).language == "es"


def test_what_cannot_be_read_is_still_there_after_going_back(client: Browser) -> None:
    wrong = {"born_on.day": "31", "born_on.month": "2", "born_on.year": "90", "contact_phone": "next door, ring twice"}
    client.post("/intake/1", data={"name": "Robin Ash", **wrong, "go": "back"})
    page = client.get("/intake/1").text
    for typed in ("Robin Ash", "31", "90", "next door, ring twice"):
        assert f'value="{typed}"' in page
    right = {**wrong, "born_on.day": "3", "born_on.year": "1990"}
    client.post("/intake/1", data={"name": "Robin Ash", **right, "go": "back"})
    assert 'value="31"' not in client.get("/intake/1").text


@pytest.mark.parametrize(
    ("changes", "scar"),
    [({"hard_time": "yes"}, {}), ({"mind_often": "dont_know"}, {}), ({"held_back": "prefer_not"}, {}),
     ({}, {"cause": "injury", "self_harm": "yes", "last_time": "2020-01", "support": "have_not"})],
)  # fmt: skip
def test_who_may_need_time_is_given_it(changes: dict[str, str], scar: dict[str, str]) -> None:
    assert needs_time(healthy(healthy_scar(**scar), **changes))
    assert not needs_time(healthy())


def test_a_calm_page_follows_and_never_says_why(client: Browser) -> None:
    assert fill_in(client, healthy(hard_time="yes")) == "/intake/time"
    page = client.get("/intake/time").text
    assert "116 123" in page
    assert "112" in page
    assert "We will take time with you" in page
    assert not any(word in page.lower() for word in ("because you", "answered", "hurt", "distress", "disorder"))
    assert 'href="/intake/check"' in page


def test_the_calm_page_is_not_there_for_others(client: Browser) -> None:
    client.post(f"/intake/{LAST[0]}", data={**LAST[1], "go": "on"})
    assert client.get("/intake/time").headers["location"] == "/intake"


def test_a_page_left_open_past_its_pass_is_not_lost(service: Service, crew: Crew) -> None:
    submission_id, token = send_link(service, open_course(service, crew))
    browser = come_in(service, token)
    with clock.stopped_at(NOW + timedelta(days=3)):
        assert browser.post(f"/intake/{ADDRESS}/draft", data={"shingles": "no"}).status_code == 401
        page = browser.post(f"/intake/{ADDRESS}", data={**SKIN, "shingles": "no", "go": "on"})
        assert page.status_code == 401
        assert "open your link again" in page.text
        assert held_in(page.text, "shingles") == "no"
        assert "Robin Ash" not in browser.get("/intake/1").text
        # The link is opened in another tab of the same browser, and the page is sent as it stood.
        assert browser.post(f"/l/{token}").status_code == 303
        assert browser.post(f"/intake/{ADDRESS}", data={**SKIN, "shingles": "no", "go": "on"}).status_code == 303
    assert answers_of(service, submission_id)["shingles"] == "no"


@pytest.mark.parametrize(
    ("how", "words"), [("used", "has been used"), ("expired", "has run out"), ("revoked", "was withdrawn")]
)
def test_a_link_that_is_over_says_how_and_what_to_do_and_not_whose_it_was(
    service: Service, crew: Crew, how: str, words: str
) -> None:
    course = open_course(service, crew)
    submission_id, _ = send_link(service, course)
    with service.database.engine.begin() as connection:
        connection.execute(text("UPDATE studios SET phone = '+44 20 7946 0018'"))
    with service.database.write() as db:
        token = links.make(
            db, "intake", submission_id, course.client_id, lasts=timedelta(days=1), uses=1, by=course.by
        )
    if how == "used":
        come_in(service, token)
    if how == "revoked":
        with service.database.write() as db:
            links.revoke_all(db, "intake", submission_id, by=course.by)
    with clock.stopped_at(NOW + timedelta(days=2 if how == "expired" else 0)):
        for answer in (browser_of(service).get(f"/l/{token}"), browser_of(service).post(f"/l/{token}")):
            assert answer.status_code == 410
            assert words in answer.text
            assert "Call us: +44 20 7946 0018" in answer.text
            assert "Robin" not in answer.text
    assert browser_of(service).get("/l/none-of-ours").status_code == 404


def test_a_form_goes_on_under_the_questions_it_was_asked_with(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    browser.post(f"/intake/{ADDRESS}/draft", data={"shingles": "no"})
    with service.database.write() as db:
        leave_out(db, "pronouns", "Not asked here", by=course.by)
    with service.database.write() as db:
        publishing.publish(db, "Shorter", by=course.by)
    with service.database.read() as db:
        assert publishing.current(db).questions.version != QUESTION_SET.version
        assert queries.questions_for(db, db.get_one(Submission, submission_id)).version == QUESTION_SET.version
    assert fill_in(browser, healthy()) == "/intake/check"
    assert sign(browser).headers["location"] == "/intake/done"
    other = send_link(service, open_course(service, crew, "Kit Moor"))[0]
    with service.database.read() as db:
        assert "pronouns" not in queries.questions_for(db, db.get_one(Submission, other)).keys


def test_the_short_questions_before_a_visit_go_through_the_same_pages(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    with service.database.engine.begin() as connection:
        asked = {"version": VISIT_SET.version, "id": submission_id}
        change = "UPDATE submissions SET kind = 'visit', stage = 'evening', questions_version = :version WHERE id = :id"
        connection.execute(text(change), asked)
    browser = come_in(service, token)
    start = browser.get("/intake").text
    assert "about 3 minutes" in start
    assert "never costs you your deposit" in start
    page = browser.get("/intake/1").text
    assert f"Page 1 of {len(VISIT_SET.topics)}" in page
    assert VISIT_SET.topics[0].title in page
    browser.post("/intake/1/draft", data={"visit_healed": "well"})
    assert answers_of(service, submission_id)["visit_healed"] == "well"


def test_a_phone_number_is_asked_for_with_the_keys_of_a_phone(client: Browser) -> None:
    assert re.search(r'name="contact_phone" type="tel"[^>]*inputmode="tel"', client.get("/intake/1").text)


def test_the_last_page_says_from_when_to_come_and_how_to_get_ready(client: Browser) -> None:
    fill_in(client, healthy(ill="yes", ill_on="2026-03-14"))
    sign(client)
    page = client.get("/intake/done").text
    assert re.search(r"you can come from \d+ \w+ 2026", page)
    assert "How to get ready" in page
    assert "never costs you your deposit" in page
