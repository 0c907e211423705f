import json
from datetime import timedelta

from app.demo.cast import Crew
from app.intake import queries
from app.intake.models import Draft
from app.platform import clock, links
from app.platform.links import Link
from app.platform.service import Service
from tests.conftest import NOW, browser_of
from tests.intake.course import come_in, fill_in, open_course, posts_for, send_link
from tests.intake.healthy import healthy, healthy_scar


def answers_of(service: Service, submission_id: int) -> dict[str, object]:
    with service.database.read() as db:
        kept: dict[str, object] = json.loads(db.get_one(Draft, submission_id).answers)
    return kept


def test_one_topic_a_page_leads_to_the_check_and_back_without_loss(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    assert fill_in(browser, healthy()) == "/intake/check"
    assert "Page 1 of" in browser.get("/intake/1").text
    back = browser.post("/intake/2", data={"go": "back"})
    assert back.headers["location"] == "/intake/1"
    assert 'value="Robin Ash"' in browser.get("/intake/1").text
    assert answers_of(service, submission_id)["diabetes"] == "no"


def test_no_address_says_what_is_asked(service: Service, crew: Crew) -> None:
    addresses = [address for address, _ in posts_for(healthy(healthy_scar("s1", another="yes"), healthy_scar("s2")))]
    assert all(address.replace("-", "").isdigit() for address in addresses)


def test_an_answer_is_kept_as_it_is_given_and_the_form_goes_on_at_the_first_open_page(
    service: Service, crew: Crew
) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    first, *rest = posts_for(healthy())
    browser.post(f"/intake/{first[0]}", data={**first[1], "go": "on"})
    assert browser.post("/intake/2/draft", data={"shingles": "no"}).status_code == 204
    assert answers_of(service, submission_id)["shingles"] == "no"
    assert 'href="/intake/2"' in come_in(service, token).get("/intake").text
    assert rest


def test_what_is_wrong_stands_beside_the_field_and_nothing_is_lost(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    page = browser.post(
        "/intake/1", data={"name": "Robin Ash", "born_on.day": "31", "born_on.month": "2", "born_on.year": "1990"}
    )
    assert page.status_code == 422
    assert 'id="f_born_on_error"' in page.text
    assert 'value="31"' in page.text
    assert 'value="Robin Ash"' in page.text


def test_an_answer_that_calls_for_another_question_shows_it_on_the_same_page(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    _, data = posts_for(healthy())[1]
    answer = browser.post("/intake/2", data={**data, "herpes_now": "yes", "go": "on"})
    assert answer.headers["location"] == "/intake/2?more=yes&then=#q6"
    assert "When had it healed completely?" in browser.get("/intake/2?more=yes").text


def test_a_question_that_a_kept_draft_called_for_is_shown_and_not_called_missing(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    _, data = posts_for(healthy())[1]
    seen = {**data, "herpes_now": ["yes"], "shown": [*data]}
    assert browser.post("/intake/2/draft", data=seen).status_code == 204
    answer = browser.post("/intake/2", data={**seen, "go": "on"})
    assert answer.headers["location"] == "/intake/2?more=yes&then=#q6"
    again = browser.post("/intake/2", data={**seen, "shown": [*data, "herpes_healed_on"], "go": "on"})
    assert again.status_code == 422
    assert 'id="f_herpes_healed_on_error"' in again.text


def test_a_page_that_does_not_apply_is_not_there(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    care = [address for address, _ in posts_for(healthy(healthy_scar(cause="injury", self_harm="no")))]
    here = [address for address, _ in posts_for(healthy())]
    (only_there,) = set(care) - set(here)
    assert browser.get(f"/intake/{only_there}").status_code == 404
    assert browser.get("/intake/99").status_code == 404


def test_another_scar_brings_its_own_pages_and_can_be_left_out_again(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    assert (
        fill_in(browser, healthy(healthy_scar("s1", another="yes"), healthy_scar("s2", site="knee"))) == "/intake/check"
    )
    assert "scar 2" in browser.get("/intake/3-2").text
    assert browser.post("/intake/scars/s2/removal").headers["location"] == "/intake/check"
    scars = answers_of(service, submission_id)["scars"]
    assert isinstance(scars, list)
    assert [scar["id"] for scar in scars] == ["s1"]
    assert "This is right" in browser.get("/intake/check").text
    assert browser.post("/intake/scars/s2/removal").status_code == 404


def test_changing_an_answer_from_the_check_leads_back_to_it(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    assert 'name="then" value="check"' in browser.get("/intake/2?then=check").text
    _, data = posts_for(healthy())[1]
    assert browser.post("/intake/2", data={**data, "then": "check", "go": "on"}).headers["location"] == "/intake/check"


def test_gaps_are_named_at_the_check_and_stand_before_signing(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    browser.post("/intake/1/draft", data={"name": "Robin Ash"})
    assert "still need" in browser.get("/intake/check").text
    assert browser.get("/intake/sign").headers["location"] == "/intake/check"


def test_a_stranger_and_a_pass_for_something_else_find_nothing(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, _ = send_link(service, course)
    assert browser_of(service).get("/intake").status_code == 404
    with service.database.write() as db:
        token = links.make(db, "aftercare", submission_id, course.client_id, lasts=timedelta(days=1), by=course.by)
    other = browser_of(service)
    other.post(f"/l/{token}")
    assert other.get("/intake").status_code == 404
    with service.database.write() as db:
        wrong = links.make(db, "intake", submission_id, 999, lasts=timedelta(days=1), by=course.by)
    assert come_in(service, wrong).get("/intake").status_code == 404


def test_one_client_never_reads_another_ones_answers(service: Service, crew: Crew) -> None:
    mine, theirs = open_course(service, crew), open_course(service, crew, "Kit Moor")
    my_browser, their_browser = (come_in(service, send_link(service, each)[1]) for each in (mine, theirs))
    my_browser.post("/intake/1/draft", data={"name": "Robin Ash"})
    assert "Robin Ash" not in their_browser.get("/intake/1").text


def test_a_link_that_was_taken_back_or_ran_out_opens_nothing(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    with clock.stopped_at(NOW + timedelta(days=31)):
        assert "has run out" in browser_of(service).post(f"/l/{token}").text
        assert browser.get("/intake").status_code == 410
    with service.database.write() as db:
        links.revoke_all(db, "intake", submission_id, by=course.by)
    assert browser.get("/intake").status_code == 410
    with service.database.read() as db:
        assert db.get(Link, 1) is not None
        assert queries.submission_of_case(db, course.case_id) is not None
