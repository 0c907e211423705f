import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from app.demo.cast import Crew
from app.platform import clock, links
from app.platform.audit import SYSTEM, AuditEntry
from app.platform.service import Service
from app.studio import actions
from app.studio.access import TABLET_PASS_LASTS, cookie_name
from app.studio.models import HandOver, Member
from app.studio.passwords import hash_password
from tests.conftest import PASSWORDS, browser_of
from tests.intake.course import come_in, fill_in, open_course, placed, send_link, sign
from tests.intake.healthy import healthy

Browse = Callable[[str], TestClient]
PIN = "2580"
PIN_HASH = hash_password(PIN)
LOST = "This code does not open anything."


@pytest.fixture
def tomas(service: Service, crew: Crew) -> Member:
    """A member with a PIN."""
    with service.database.write() as db:
        return actions.set_pin(db, db.get_one(Member, crew.tomas.id), PIN_HASH, by=crew.by("tomas"))


def handed_over(service: Service, member: Member) -> TestClient:
    browser = browser_of(service, member)
    answer = browser.post("/hand-over")
    assert answer.headers["location"] == "/tablet"
    assert answer.headers["clear-site-data"] == '"cache"'
    assert f'{cookie_name(service)}=""' in str(answer.headers)
    browser.cookies.delete(cookie_name(service), domain="")  # this client files cookies set by hand under no address
    return browser


def code_of(service: Service, token: str) -> str:
    with service.database.write() as db:
        link = links.find(db, token)
        assert link is not None
        assert link.id is not None
        return links.make_code(db, link.id, by=SYSTEM)


def trail(service: Service) -> list[str]:
    with service.database.read() as db:
        return [row.action for row in db.exec(select(AuditEntry).order_by(AuditEntry.seq)).all()]  # type: ignore[arg-type]


def row(service: Service) -> HandOver:
    with service.database.read() as db:
        return db.exec(select(HandOver)).one()


# The PIN


def test_a_pin_needs_the_password_and_only_its_hash_is_kept(service: Service, browse: Browse, crew: Crew) -> None:
    browser = browse("tomas")
    wrong = browser.post("/account/pin", data={"pin_password": "not it", "pin": PIN})
    assert wrong.status_code == 422
    assert "This is not your password." in wrong.text
    right = browser.post("/account/pin", data={"pin_password": PASSWORDS["tomas"], "pin": PIN})
    assert right.headers["location"] == "/account"
    assert "Change the PIN" in browser.get("/account").text
    with service.database.read() as db:
        member = db.get_one(Member, crew.tomas.id)
    assert member.pin_hash.startswith("$argon2id$")
    assert trail(service)[-1] == "studio.pin.set"


@pytest.mark.parametrize("plain", ["123", "123456789", "12a4", "1111", "1234", "87654321", "8901", "٤٢٥٨", ""])
def test_a_pin_is_digits_and_not_the_one_that_is_guessed_first(browse: Browse, plain: str) -> None:
    answer = browse("tomas").post("/account/pin", data={"pin_password": PASSWORDS["tomas"], "pin": plain})
    assert answer.status_code == 422
    assert "f_pin_error" in answer.text


# Handing over


def test_handing_over_ends_the_sign_in_and_keeps_only_a_hash(service: Service, tomas: Member) -> None:
    browser = browser_of(service, tomas)
    secret = browser.cookies[cookie_name(service)]
    browser.post("/hand-over")
    other = browser_of(service)
    other.cookies.set(cookie_name(service), secret)  # whoever kept the cookie has nothing
    assert other.get("/account").headers["location"].startswith("/sign-in")
    assert browser.cookies[cookie_name(service, "tablet")] not in str(row(service).model_dump())
    assert trail(service)[-2:] == ["studio.sign_in.ended", "studio.hand_over.begun"]


def test_the_cookie_of_the_hand_over_wins_over_a_members_own(service: Service, crew: Crew, tomas: Member) -> None:
    browser = handed_over(service, tomas)
    with service.database.write() as db:
        browser.cookies.set(cookie_name(service), actions.sign_in(db, crew.owner))
    for path in ("/", "/today", "/clients", "/account", "/studio", "/sign-in", "/code", "/hand-over", "/aftercare"):
        assert browser.get(path).headers["location"] == "/tablet", path
    for path in ("/account/password", "/studio/members", "/sign-in", "/sign-out", "/cases/1/intake", "/hand-over"):
        assert browser.post(path, data={"login": "tomas"}).headers["location"] == "/tablet", path
    assert browser.get("/today", headers={"HX-Request": "true"}).status_code == 401
    browser.cookies.delete(cookie_name(service, "tablet"))
    assert browser.get("/account").status_code == 200  # it was the cookie


def test_a_member_without_a_pin_is_told_so_and_signs_in_fully(service: Service, crew: Crew, browse: Browse) -> None:
    assert "You have no PIN yet" in browse("ruth").get("/hand-over").text
    browser = handed_over(service, crew.ruth)
    page = browser.get("/tablet").text
    assert 'name="pin"' not in page
    assert browser.post("/tablet/pin", data={"pin": PIN}).headers["location"] == "/tablet/sign-in"


def test_there_is_no_neutral_screen_where_nothing_was_handed_over(browse: Browse) -> None:
    for name in ("nobody", "tomas"):
        assert browse(name).get("/tablet").headers["location"] == "/"
        assert browse(name).post("/tablet/pin", data={"pin": PIN}).headers["location"] == "/"


# Taking it back


def test_the_right_pin_signs_in_whoever_handed_over(service: Service, tomas: Member) -> None:
    browser = handed_over(service, tomas)
    answer = browser.post("/tablet/pin", data={"pin": PIN})
    assert answer.headers["location"] == "/today"
    assert answer.headers["clear-site-data"] == '"cache"'
    assert cookie_name(service, "tablet") not in browser.cookies
    assert "Tomas Verhey" in browser.get("/account").text
    assert row(service).ended_how == "pin"
    assert trail(service)[-2:] == ["studio.hand_over.ended", "studio.sign_in.started"]


def test_five_wrong_pins_end_it_and_then_only_the_password_leads_in(service: Service, tomas: Member) -> None:
    browser = handed_over(service, tomas)
    kept = browser.cookies[cookie_name(service, "tablet")]
    for wrong in ("2581", "0000", "25800", "x"):
        answer = browser.post("/tablet/pin", data={"pin": wrong})
        assert answer.status_code == 422
        assert "This is not the PIN." in answer.text
        assert f'value="{wrong}"' not in answer.text
    last = browser.post("/tablet/pin", data={"pin": "2582"})
    assert last.headers["location"] == "/sign-in?why=tries"
    assert cookie_name(service, "tablet") not in browser.cookies
    assert row(service).ended_how == "tries"
    assert trail(service)[-6:] == ["studio.pin.refused"] * 5 + ["studio.hand_over.ended"]
    browser.cookies.set(cookie_name(service, "tablet"), kept)
    assert browser.post("/tablet/pin", data={"pin": PIN}).headers["location"] == "/"
    assert browser.get("/today").headers["location"].startswith("/sign-in")


def test_tries_are_counted_over_the_whole_hand_over(service: Service, tomas: Member) -> None:
    browser = handed_over(service, tomas)
    for hour in range(4):
        with clock.stopped_at(clock.now() + timedelta(hours=hour)):
            assert browser.post("/tablet/pin", data={"pin": "7777"}).status_code == 422
    assert browser.post("/tablet/pin", data={"pin": ""}).status_code == 422  # nothing typed is no try
    assert browser.post("/tablet/pin", data={"pin": PIN}).headers["location"] == "/today"


def test_pins_of_one_member_are_throttled_over_several_tablets(service: Service, tomas: Member) -> None:
    for _ in range(3):
        browser = handed_over(service, tomas)
        statuses = [browser.post("/tablet/pin", data={"pin": "7777"}).status_code for _ in range(4)]
    assert statuses[-1] == 429
    assert browser.post("/tablet/pin", data={"pin": PIN}).status_code == 429


def test_a_full_sign_in_ends_the_hand_over_whoever_it_is(service: Service, tomas: Member) -> None:
    browser = handed_over(service, tomas)
    wrong = browser.post("/tablet/sign-in", data={"login": "ruth", "password": "not the password"})
    assert wrong.status_code == 422
    right = browser.post("/tablet/sign-in", data={"login": "ruth", "password": PASSWORDS["ruth"]})
    assert right.headers["location"] == "/today"
    assert row(service).ended_how == "sign_in"
    assert "Ruth" in browser.get("/account").text


@pytest.mark.parametrize("why", ["expired", "left", "password"])
def test_after_twelve_hours_or_when_the_account_changed_only_a_full_sign_in_serves(
    service: Service, crew: Crew, tomas: Member, why: str
) -> None:
    browser = handed_over(service, tomas)
    with service.database.write() as db:
        member = db.get_one(Member, tomas.id)
        if why == "left":
            actions.retire_member(db, member, by=SYSTEM)
        elif why == "password":
            actions.change_password(db, member, hash_password("a quite different one"), by=SYSTEM)
    later = timedelta(hours=13 if why == "expired" else 0)
    with clock.stopped_at(clock.now() + later):
        browser.cookies.set(cookie_name(service, "tablet"), browser.cookies[cookie_name(service, "tablet")])
        page = browser.get("/tablet").text
        assert "Please give it back to the studio." in page
        assert 'name="code"' not in page
        assert browser.get("/today").headers["location"] == "/tablet"
        assert browser.post("/tablet/pin", data={"pin": PIN}).headers["location"] == "/tablet/sign-in"
        assert browser.post("/tablet/code", data={"code": "2222-2222"}).headers["location"] == "/tablet"
        signed = browser.post("/tablet/sign-in", data={"login": "ruth", "password": PASSWORDS["ruth"]})
        assert signed.headers["location"] == "/today"
    assert row(service).ended_how == "expired"


# The form on the tablet


def test_a_code_opens_one_form_and_nothing_beside_it(service: Service, crew: Crew, tomas: Member) -> None:
    course = open_course(service, crew)
    _, token = send_link(service, course)
    browser = handed_over(service, tomas)
    typed = code_of(service, token).lower().replace("-", " - ")
    assert browser.post("/tablet/code", data={"code": typed}).headers["location"] == "/intake"
    assert browser.get("/intake").status_code == 200
    for path in ("/today", f"/clients/{course.client_id}", "/sign-in", "/aftercare", "/signing"):
        assert browser.get(path).headers["location"] == "/intake", path
    other = handed_over(service, tomas)
    again = other.post("/tablet/code", data={"code": typed})
    assert again.status_code == 422
    assert LOST in again.text


def test_the_neutral_screen_closes_the_form_for_good(service: Service, crew: Crew, tomas: Member) -> None:
    _, token = send_link(service, open_course(service, crew))
    browser = handed_over(service, tomas)
    browser.post("/tablet/code", data={"code": code_of(service, token)})
    secret = browser.cookies[cookie_name(service, "intake")]
    fill_in(browser, healthy())
    answer = browser.get("/tablet")
    assert answer.headers["clear-site-data"] == '"cache"'
    assert "Robin Ash" not in answer.text
    assert cookie_name(service, "intake") not in browser.cookies
    browser.cookies.set(cookie_name(service, "intake"), secret)  # a copy of the cookie has nothing either
    assert browser.get("/intake/1").headers["location"] == "/tablet"
    assert "Robin Ash" in come_in(service, token).get("/intake/1").text  # what was answered stays with the studio


def test_reset_leaves_nothing_of_the_client_on_any_device(service: Service, crew: Crew, tomas: Member) -> None:
    _, token = send_link(service, open_course(service, crew))
    for browser, to in ((handed_over(service, tomas), "/tablet"), (browser_of(service), "/code")):
        browser.post(f"/l/{token}")
        browser.post("/language", data={"language": "fr", "back": "/intake"})
        answer = browser.post("/tablet/reset")
        assert answer.headers["location"] == to
        assert answer.headers["clear-site-data"] == '"cache"'
        assert set(browser.cookies) <= {cookie_name(service, "tablet")}
        assert browser.get("/intake").status_code == (303 if to == "/tablet" else 404)


def test_after_sending_every_page_of_the_form_only_says_thank_you(service: Service, crew: Crew, tomas: Member) -> None:
    _, token = send_link(service, open_course(service, crew))
    browser = handed_over(service, tomas)
    browser.post(f"/l/{token}")
    fill_in(browser, healthy())
    assert sign(browser).headers["location"] == "/intake/done"
    for path in ("/intake", "/intake/1", "/intake/check", "/intake/sign", "/today"):
        answer = browser.get(path, follow_redirects=True)
        assert answer.url.path == "/intake/done"
        assert "Thank you" in answer.text
        assert "Robin Ash" not in answer.text
    assert 'action="/tablet/reset"' in answer.text


def test_a_form_left_open_on_a_sleeping_tablet_is_closed_by_the_server(
    service: Service, crew: Crew, tomas: Member
) -> None:
    _, token = send_link(service, open_course(service, crew))
    browser = handed_over(service, tomas)
    browser.post("/tablet/code", data={"code": code_of(service, token)})
    for minutes in (60, 120, 180):  # somebody who is busy with it keeps it open
        with clock.stopped_at(clock.now() + timedelta(minutes=minutes)):
            assert browser.get("/intake").status_code == 200
    with clock.stopped_at(clock.now() + timedelta(minutes=180) + TABLET_PASS_LASTS):
        assert browser.get("/intake").headers["location"] == "/tablet"


def test_the_tablet_opens_forms_and_texts_to_sign_and_no_other_link(
    service: Service, crew: Crew, tomas: Member
) -> None:
    with service.database.write() as db:
        token = links.make(db, "aftercare", 1, 1, lasts=timedelta(days=1), by=SYSTEM)
    browser = handed_over(service, tomas)
    assert browser.get(f"/l/{token}").headers["location"] == "/tablet"
    assert browser.post(f"/l/{token}").headers["location"] == "/tablet"
    code = code_of(service, token)
    assert browser.post("/tablet/code", data={"code": code}).status_code == 422
    at_home = browser_of(service)
    assert at_home.post("/code", data={"code": code}).headers["location"] == "/aftercare"  # it was not spent


# The studio's side of a code


@pytest.mark.parametrize("kind", ["intake", "signing"])
def test_the_page_with_the_link_shows_a_code_and_makes_new_ones(
    service: Service, crew: Crew, browse: Browse, kind: str
) -> None:
    course = open_course(service, crew)
    zone, artist = placed(service, course), browse("tomas")
    first = artist.post(f"/cases/{course.case_id}/{kind}", data={"zones": str(zone), "procedures": "full"}).text
    token = first.split("/l/", 1)[1].split('"', 1)[0]
    second = artist.post(f"/cases/{course.case_id}/{kind}/code", data={"token": token}).text
    codes = [re.search(r"[2-9A-Z]{4}-[2-9A-Z]{4}", page)[0] for page in (first, second)]  # type: ignore[index]
    assert codes[0] != codes[1]
    assert "10:15" in second
    client = browser_of(service)
    assert LOST in client.post("/code", data={"code": codes[0]}).text
    assert client.post("/code", data={"code": codes[1]}).headers["location"] == f"/{kind}"
    assert trail(service).count("platform.code.made") == 2
    assert artist.post(f"/cases/{course.case_id}/{kind}/code", data={"token": "x"}).status_code == 404
    assert browse("nobody").post(f"/cases/{course.case_id}/{kind}/code", data={"token": token}).status_code == 401


def test_many_wrong_codes_wait(browse: Browse) -> None:
    browser = browse("nobody")
    for _ in range(30):
        assert browser.post("/code", data={"code": "2222-2222"}).status_code == 422
    assert browser.post("/code", data={"code": "2222-2222"}).status_code == 429


def test_the_owner_sets_what_the_tablet_and_the_forms_go_by(service: Service, browse: Browse) -> None:
    details = {
        "name": "Quiet Line", "country": "US", "zone": "America/Chicago", "opens_at": "08:30",
        "aftercare_school": "dry", "earliest_weeks": "9", "judge_weeks": "11", "judge_weeks_slow": "13",
        "language": "es", "region": "TN", "intake_months": "6", "idle_minutes": "5", "revision": "1",
    }  # fmt: skip
    owner = browse("owner")
    assert owner.post("/studio", data={**details, "idle_minutes": "2"}).status_code == 422
    assert owner.post("/studio", data=details).status_code == 303
    page = owner.get("/studio").text
    assert '<option value="TN" selected>Tennessee</option>' in page
    assert '<option value="es" selected>Español</option>' in page
    assert "for 5 minutes" in owner.get("/hand-over").text
    elsewhere = {**details, "country": "IE", "revision": "2"}
    assert owner.post("/studio", data=elsewhere).status_code == 303
    assert "Tennessee" not in owner.get("/studio").text
