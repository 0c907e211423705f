"""Two tablets on one form: nothing that one wrote is lost on the other without being shown."""

from typing import Any

from app.demo.cast import Crew
from app.platform.service import Service
from tests.conftest import Browser
from tests.intake.course import come_in, fill_in, held_in, open_course, posts_for, send_link
from tests.intake.healthy import healthy, healthy_scar
from tests.intake.test_filling import answers_of

ADDRESS, SKIN = posts_for(healthy())[1]


def opened(browser: Browser, address: str = ADDRESS) -> dict[str, Any]:
    """The page's own fields, as a browser holds them from the moment it opened the page."""
    page = browser.get(f"/intake/{address}").text
    return {name: held_in(page, name) for name in ("opened", "seen", "scar")}


def two(service: Service, crew: Crew, answers: dict[str, Any] | None = None) -> tuple[int, Browser, Browser]:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    first = come_in(service, token)
    if answers is not None:
        fill_in(first, answers)
    return submission_id, first, come_in(service, token)


def test_an_outdated_page_shows_both_answers_and_takes_its_own_when_pressed_again(service: Service, crew: Crew) -> None:
    submission_id, first, second = two(service, crew)
    mine, theirs = opened(first), opened(second)
    second.post(f"/intake/{ADDRESS}", data={**SKIN, **theirs, "shingles": "yes", "shingles_now": "no", "go": "on"})
    page = first.post(f"/intake/{ADDRESS}", data={**SKIN, **mine, "shingles": "dont_know", "go": "on"})
    assert page.status_code == 409
    assert "On another device this was changed to: <strong>Yes</strong>" in page.text
    assert 'value="dont_know" checked' in page.text
    assert answers_of(service, submission_id)["shingles"] == "yes"
    again = {name: held_in(page.text, name) for name in ("opened", "seen", "scar")}
    assert again["seen"] != mine["seen"]
    answer = first.post(f"/intake/{ADDRESS}", data={**SKIN, **again, "shingles": "dont_know", "go": "on"})
    assert answer.status_code == 303
    assert answers_of(service, submission_id)["shingles"] == "dont_know"


def test_what_only_one_of_them_answered_is_kept_from_each(service: Service, crew: Crew) -> None:
    submission_id, first, second = two(service, crew)
    mine, theirs = opened(first), opened(second)
    second.post(f"/intake/{ADDRESS}/draft", data={**theirs, "shingles": "no"})
    kept = first.post(f"/intake/{ADDRESS}/draft", data={**mine, "dark_marks": "yes"})
    assert kept.status_code == 204
    # Its next save still shows nothing for the other answer, and takes nothing back.
    more = {**mine, "seen": kept.headers["evenseam-seen"], "dark_marks": "yes", "poor_healing": "no"}
    assert first.post(f"/intake/{ADDRESS}/draft", data=more).status_code == 204
    stored = answers_of(service, submission_id)
    assert (stored["shingles"], stored["dark_marks"], stored["poor_healing"]) == ("no", "yes", "no")


def test_an_outdated_draft_overwrites_nothing_and_says_so(service: Service, crew: Crew) -> None:
    submission_id, first, second = two(service, crew)
    mine, theirs = opened(first), opened(second)
    second.post(f"/intake/{ADDRESS}/draft", data={**theirs, "shingles": "no"})
    assert first.post(f"/intake/{ADDRESS}/draft", data={**mine, "shingles": "yes"}).status_code == 409
    assert answers_of(service, submission_id)["shingles"] == "no"


def test_a_page_whose_save_was_never_answered_is_no_other_device(service: Service, crew: Crew) -> None:
    submission_id, first, _ = two(service, crew)
    mine = opened(first)
    for answer in ("yes", "no", "dont_know"):
        assert first.post(f"/intake/{ADDRESS}/draft", data={**mine, "shingles": answer}).status_code == 204
    assert answers_of(service, submission_id)["shingles"] == "dont_know"


def test_an_answer_given_elsewhere_is_not_called_missing(service: Service, crew: Crew) -> None:
    submission_id, first, second = two(service, crew)
    mine, theirs = opened(first), opened(second)
    second.post(f"/intake/{ADDRESS}/draft", data={**theirs, "shingles": "no"})
    without = {name: value for name, value in SKIN.items() if name != "shingles"}
    assert first.post(f"/intake/{ADDRESS}", data={**without, **mine, "go": "on"}).status_code == 303
    assert answers_of(service, submission_id)["shingles"] == "no"


def test_a_scar_left_out_elsewhere_keeps_what_was_typed_and_leaves_the_others_alone(
    service: Service, crew: Crew
) -> None:
    both = healthy(healthy_scar("s1", another="yes"), healthy_scar("s2", site="knee"))
    submission_id, first, second = two(service, crew, both)
    gone, moved = opened(first, "3-1"), opened(first, "3-2")
    second.post("/intake/scars/s1/removal")
    page = first.post("/intake/3-1", data={**gone, "site": "calf", "words": "near the ankle", "go": "on"})
    assert page.status_code == 409
    assert "left out on another device" in page.text
    assert "near the ankle" in page.text
    assert first.post("/intake/3-1/draft", data={**gone, "site": "calf"}).status_code == 409
    # The page of the second scar still means that scar, though it is the first one now.
    first.post("/intake/3-2/draft", data={**moved, "site": "thigh", "side": "left"})
    scars: Any = answers_of(service, submission_id)["scars"]
    assert [(scar["id"], scar["site"]) for scar in scars] == [("s2", "thigh")]


def test_a_page_that_another_device_made_superfluous_leads_on(service: Service, crew: Crew) -> None:
    care = healthy(healthy_scar(cause="injury", self_harm="no"))
    submission_id, first, second = two(service, crew, care)
    (address,) = {address for address, _ in posts_for(care)} - {address for address, _ in posts_for(healthy())}
    mine, where = opened(first, address), opened(second, "3-1")
    data = dict(posts_for(healthy()))["3-1"]
    second.post("/intake/3-1", data={**data, **where, "go": "on"})
    assert first.post(f"/intake/{address}", data={**mine, "self_harm": "no", "go": "on"}).status_code == 303
    assert answers_of(service, submission_id)["scars"]
