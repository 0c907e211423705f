import json

from sqlmodel import select

from app.consents import queries as consents
from app.consents.models import Signature
from app.demo.cast import Crew
from app.intake import queries
from app.intake.findings import Screening as Found
from app.intake.models import Draft, RuleSet, Screening
from app.intake.question_list import QUESTION_SET
from app.intake.rule_parts import NOT_HERE_WORDS, UNANSWERED_WORDS
from app.intake.screening import screening_to_dict
from app.platform.audit import canonical
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Client
from app.studio.access import Who
from tests.intake.course import (
    ON,
    Browse,
    come_in,
    fill_in,
    held_in,
    open_course,
    posts_for,
    send_link,
    sign,
    submitted,
    trail,
)
from tests.intake.healthy import healthy, healthy_scar

DOT = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAABAAAAAQCAIAAACQkWg2AAAAFUlEQVR4nGP8"
    "z0AaYCJR/aiGUQ1DSAMAQC4BH2bjRnMAAAAASUVORK5CYII="
)


def screening_row(service: Service) -> Screening:
    with service.database.read() as db:
        return db.exec(select(Screening)).one()


def test_a_client_goes_from_the_link_to_a_kind_page_and_the_studio_has_everything(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submission_id, token = send_link(service, course)
    browser = come_in(service, token)
    fill_in(browser, healthy(latex_allergy="yes", keloid_history="dont_know"))
    assert sign(browser, record_photos="yes", reminders_email="no").headers["location"] == "/intake/done"
    done = browser.get("/intake/done").text
    assert "Thank you" in done
    assert not any(word in done for word in ("keloid_history", "stop_until", "legal_bar", "consultation"))
    with service.database.read() as db:
        assert db.get(Draft, submission_id) is None
        assert db.get_one(Client, course.client_id).born_on is not None
        assert [scar.key for scar in records.declared_of(db, course.case_id)] == ["s1"]
        assert "latex" in {alert.kind for alert in records.alerts_of(db, course.client_id, medical=False)}
        assert consents.is_granted(db, course.client_id, "record_photos")
        assert not consents.is_granted(db, course.client_id, "reminders_email")
        assert db.exec(select(Signature)).one().typed_name == "Robin Ash"
        assert queries.findings_of(db, 1)
    assert "intake.submission.submitted" in trail(service)


def test_a_sent_form_cannot_be_changed_and_says_so(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    sign(browser)
    for address in ("/intake", "/intake/1", "/intake/check", "/intake/sign"):
        assert browser.get(address).headers["location"] == "/intake/done"
    assert browser.post("/intake/1", data={"name": "Someone"}).headers["location"] == "/intake/done"
    assert browser.post("/intake/1/draft", data={"name": "Someone"}).status_code == 410
    assert sign(browser).headers["location"] == "/intake/done"
    assert browser.get("/intake/done").status_code == 200


def test_signing_needs_a_name_or_a_drawing_and_keeps_what_was_chosen(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    page = sign(browser, typed_name=" ", record_photos="yes")
    assert page.status_code == 422
    assert 'id="f_typed_name_error"' in page.text
    assert 'value="yes" checked' in page.text
    assert sign(browser, typed_name="", drawing="data:image/png;base64,AAAA").status_code == 422
    assert sign(browser, typed_name="", drawing="nothing").status_code == 422
    assert browser.get("/intake/done").headers["location"] == "/intake"


def test_a_drawn_signature_is_kept_as_a_clean_picture(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    assert sign(browser, typed_name="", drawing=DOT).status_code == 303
    picture = browse("tomas").get("/signatures/1/drawing")
    assert picture.content.startswith(b"\x89PNG")
    assert browse("desk").get("/signatures/1").status_code == 404


def test_answers_that_changed_since_they_were_looked_through_are_not_signed(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    fill_in(browser, healthy())
    to_sign = held_in(browser.get("/intake/sign").text, "version")
    browser.post("/intake/1/draft", data={**posts_for(healthy())[0][1], "called": "Rob"})
    page = sign(browser, version=to_sign)
    assert page.status_code == 422
    assert "changed on another page" in page.text
    assert 'value="Robin Ash"' in page.text
    assert sign(browser).headers["location"] == "/intake/done"


def test_an_open_question_stands_against_sending(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    answers = healthy()
    fill_in(browser, answers)
    browser.post("/intake/2/draft", data={"shingles": ""})
    page = sign(browser)
    assert page.status_code == 422
    assert "look at them once more" in page.text
    assert "still need an answer" in browser.get("/intake/check").text


def test_answers_that_no_longer_apply_are_not_kept(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(healthy_scar(cause="operation", self_harm="yes")))
    with service.database.read() as db:
        submission = queries.submission_of_case(db, course.case_id)
        assert submission is not None
        assert "self_harm" not in submission.answers


def test_an_old_form_screened_again_under_its_stored_rules_gives_the_same(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submitted(
        service,
        course,
        healthy(healthy_scar(happened="2025-11", red="yes"), isotretinoin="yes", isotretinoin_on="2025-12"),
    )
    row = screening_row(service)
    with service.database.read() as db:
        again: Found = queries.screened_on(db, row, ON)
        assert db.get_one(RuleSet, row.rule_set_hash).hash == again.rule_set_version
        kept = consents.document_of(db, "intake_questions", QUESTION_SET.version)
    assert again.findings
    assert canonical(screening_to_dict(again)) == row.result
    assert json.loads(kept.text)["questions"]


def test_a_sensitive_result_shows_the_client_no_date(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    browser = come_in(service, send_link(service, course)[1])
    scar = healthy_scar(cause="injury", self_harm="yes", last_time="2026-01", support="have", happened="2025-06")
    fill_in(browser, healthy(scar))
    sign(browser)
    page = browser.get("/intake/done").text
    assert "2026" not in page
    assert "hurt" not in page


def test_a_no_for_good_is_not_told_to_somebody_who_only_does_not_know(service: Service, crew: Crew) -> None:
    for answer, is_told in (("dont_know", False), ("yes", True)):
        browser = come_in(service, send_link(service, open_course(service, crew))[1])
        fill_in(browser, healthy(healthy_scar(skin_cancer=answer)))
        sign(browser)
        page = browser.get("/intake/done").text
        assert (NOT_HERE_WORDS in page) == is_told
        assert (UNANSWERED_WORDS in page) != is_told


def test_the_studio_sees_the_new_screening_waiting(service: Service, crew: Crew) -> None:
    course = open_course(service, crew, is_restricted=True)
    submitted(service, course)
    tomas, ruth = (Who(member.id or 0, member.name, member.role, 1) for member in (crew.tomas, crew.ruth))
    with service.database.read() as db:
        assert [waiting.case.id for waiting in queries.waiting_screenings(db, tomas)] == [course.case_id]
        assert queries.waiting_screenings(db, ruth) == []
