from app.demo.cast import Crew
from app.intake import queries
from app.intake.models import Draft, Submission
from app.platform.service import Service
from tests.intake.course import Browse, come_in, open_course, send_link, submitted, trail


def token_in(page: str) -> str:
    return page.split("/l/", 1)[1].split('"', 1)[0]


def test_making_a_link_shows_its_address_once_and_is_in_the_trail(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    page = browse("tomas").post(f"/cases/{course.case_id}/intake")
    assert page.status_code == 200
    assert f"http://testserver/l/{token_in(page.text)}" in page.text
    assert "intake.submission.asked" in trail(service)
    assert come_in(service, token_in(page.text)).get("/intake").status_code == 200


def test_the_desk_makes_links_and_reads_no_title(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    page = browse("desk").post(f"/cases/{course.case_id}/intake")
    assert page.status_code == 200
    assert "Robin Ash" in page.text
    assert "Forearm" not in page.text


def test_nobody_signed_out_makes_a_link(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    assert browse("nobody").post(f"/cases/{course.case_id}/intake").status_code == 401


def test_a_restricted_case_is_not_there_for_another_artist(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    assert browse("ruth").post(f"/cases/{course.case_id}/intake").status_code == 404
    assert browse("tomas").post("/cases/999/intake").status_code == 404


def test_asking_again_keeps_the_answers_and_ends_the_earlier_link(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, first = send_link(service, course)
    old = come_in(service, first)
    old.post("/intake/1/draft", data={"name": "Robin Ash"})
    again, second = send_link(service, course)
    assert again == submission_id
    assert "withdrawn by the studio" in old.get("/intake").text
    assert "Welcome back" in come_in(service, second).get("/intake").text


def test_after_a_form_was_sent_a_new_one_starts_with_the_scars_but_no_health_answer(
    service: Service, crew: Crew
) -> None:
    course = open_course(service, crew)
    submitted(service, course)
    submission_id, token = send_link(service, course)
    with service.database.read() as db:
        draft = db.get_one(Draft, submission_id)
        assert '"id":"s1"' in draft.answers
        assert "diabetes" not in draft.answers
        newest = queries.submission_of_case(db, course.case_id)
        assert newest is not None
        assert newest.id == submission_id
        assert db.get_one(Submission, submission_id).submitted_at is None
    assert come_in(service, token).get("/intake/1").status_code == 200


def test_opening_it_on_this_device_signs_the_member_out_first(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    browser = browse("tomas")
    token = token_in(browser.post(f"/cases/{course.case_id}/intake").text)
    answer = browser.post(f"/cases/{course.case_id}/intake/here", data={"token": token})
    assert answer.headers["location"] == "/intake"
    assert browser.get("/intake").status_code == 200
    assert browser.get("/account").headers["location"] == "/intake"


def test_a_link_of_another_client_does_not_open_here(service: Service, crew: Crew, browse: Browse) -> None:
    course, other = open_course(service, crew), open_course(service, crew, "Kit Moor")
    browser = browse("tomas")
    token = token_in(browser.post(f"/cases/{other.case_id}/intake").text)
    assert browser.post(f"/cases/{course.case_id}/intake/here", data={"token": token}).status_code == 404
    assert browser.get("/account").status_code == 200
