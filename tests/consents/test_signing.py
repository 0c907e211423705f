from datetime import date, timedelta

import pytest

from app.consents import actions, queries, texts
from app.demo.cast import Crew
from app.platform import clock, links
from app.platform.forms import Refused
from app.platform.service import Service
from app.records.models import Case
from tests.conftest import NOW, Browser, browser_of
from tests.intake.course import ON, Browse, Course, come_in, open_course, placed, trail

YES = {"treatment": "yes", "typed_name": "Robin Ash", "typed_reason": "hard"}


def asked(browse: Browse, course: Course, *zones: int, procedures: tuple[str, ...] = ("full",)) -> str:
    data = {"zones": [str(zone) for zone in zones], "procedures": list(procedures)}
    page = browse("tomas").post(f"/cases/{course.case_id}/signing", data=data)
    assert page.status_code == 200, page.text
    return page.text.split("/l/", 1)[1].split('"', 1)[0]


def in_force(service: Service, zone: int, on: date = ON) -> bool:
    with service.database.read() as db:
        return queries.treatment_in_force(db, zone, on) is not None


def signed(browser: Browser, **more: str) -> int:
    return browser.post("/signing", data={**YES, **more}).status_code


def test_a_client_signs_for_the_named_zones_and_no_other(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    named, other = placed(service, course), placed(service, course, label="Knee")
    browser = come_in(service, asked(browse, course, named))
    page = browser.get("/signing").text
    assert "Forearm" in page
    assert "Knee" not in page
    assert 'value="yes" checked' not in page
    assert signed(browser, teaching="no", record_photos="yes") == 303
    assert "Thank you" in browser.get("/signing").text
    assert in_force(service, named)
    assert not in_force(service, other)
    assert not in_force(service, named, ON - timedelta(days=1))
    assert {"consents.signing.asked", "consents.document.signed", "consents.permission.answered"} <= set(trail(service))


def test_no_to_everything_else_leaves_the_treatment_standing(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    browser = come_in(service, asked(browse, course, zone))
    assert signed(browser, **{words.kind: "no" for words in texts.PERMISSIONS}) == 303
    assert in_force(service, zone)
    with service.database.read() as db:
        assert not any(queries.is_granted(db, course.client_id, words.kind) for words in texts.PERMISSIONS)


def test_a_yes_that_stands_is_not_asked_for_again(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    assert signed(come_in(service, asked(browse, course, zone)), record_photos="yes", website="no") == 303
    page = come_in(service, asked(browse, course, zone)).get("/signing").text
    assert "You said yes before to:" in page
    assert "<li>photos for the record</li>" in page
    assert 'name="record_photos"' not in page
    assert 'name="website"' in page
    assert 'name="numbing"' in page


def test_a_refusal_is_kept_as_a_refusal(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    assert signed(come_in(service, asked(browse, course, zone))) == 303
    assert signed(come_in(service, asked(browse, course, zone)), treatment="no") == 303
    assert not in_force(service, zone)


def test_what_is_missing_is_said_and_what_was_chosen_stays(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    browser = come_in(service, asked(browse, course, placed(service, course)))
    page = browser.post("/signing", data={"typed_name": "", "treatment": "yes", "teaching": "no"})
    assert page.status_code == 422
    assert 'id="f_typed_name_error"' in page.text
    assert 'value="no" checked' in page.text
    assert browser.post("/signing", data={"typed_name": "Robin Ash"}).status_code == 422


def test_a_link_to_sign_is_used_once_and_for_a_day(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    token = asked(browse, course, zone)
    browser = come_in(service, token)
    assert browser_of(service).post(f"/l/{token}").status_code == 410
    assert signed(browser) == 303
    assert "Thank you" in browser.post("/signing", data={**YES, "treatment": "no"}).text
    assert in_force(service, zone)
    with clock.stopped_at(NOW + timedelta(hours=25)):
        assert browser.get("/signing").status_code in (401, 410)


def test_asking_again_ends_the_earlier_link(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    old = come_in(service, asked(browse, course, zone))
    new = come_in(service, asked(browse, course, zone))
    assert old.get("/signing").status_code == 410
    assert new.get("/signing").status_code == 200


def test_no_zone_or_a_zone_of_another_case_cannot_be_signed_for(service: Service, crew: Crew, browse: Browse) -> None:
    course, other = open_course(service, crew), open_course(service, crew, "Kit Moor")
    strange = placed(service, other)
    placed(service, course)
    for zones in ([], [str(strange)], ["x"]):
        page = browse("tomas").post(f"/cases/{course.case_id}/signing", data={"zones": zones})
        assert page.status_code == 422


def test_the_desk_and_strangers_sign_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    placed(service, course)
    for who in ("desk", "ruth"):
        assert browse(who).get(f"/cases/{course.case_id}/signing").status_code == 404
        assert browse(who).post(f"/cases/{course.case_id}/signing", data={"zones": "1"}).status_code == 404
    assert browser_of(service).get("/signing").status_code == 404
    with service.database.write() as db:
        token = links.make(db, "signing", course.case_id, course.client_id, lasts=timedelta(days=1), by=course.by)
    assert come_in(service, token).get("/signing").status_code == 404


def test_opening_it_on_this_device_signs_the_member_out_first(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone, browser = placed(service, course), browse("tomas")
    token = asked(lambda _: browser, course, zone)
    assert (
        browser.post(f"/cases/{course.case_id}/signing/here", data={"token": token}).headers["location"] == "/signing"
    )
    assert browser.get("/signing").status_code == 200
    assert browser.get("/account").status_code == 303


def test_signing_twice_is_refused(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    browser = come_in(service, asked(browse, course, placed(service, course)))
    assert signed(browser) == 303
    with service.database.write() as db:
        guest = links.Guest(1, "signing", course.case_id, course.client_id)
        signing = queries.signing_for_guest(db, guest)
        with pytest.raises(Refused):
            actions.sign_treatment(
                db, signing, treatment=True, answers=(), typed_name="Robin Ash", drawing=None, by=course.by
            )
        assert db.get(Case, course.case_id) is not None


def test_the_text_says_what_has_to_be_said() -> None:
    for words in (
        "permanent",
        "promise",
        "several visits",
        "Infection",
        "allergy",
        "keloid",
        "mole",
        "tan",
        "Laser",
        "radiographer",
        "labels",
        "not medical advice",
        "look after my skin",
        "too light, too dark",
    ):
        assert words in texts.TREATMENT.text
    assert texts.Wording("treatment", texts.TREATMENT.text + ".").version != texts.TREATMENT.version
