from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from app.demo.cast import Crew
from app.platform import clock
from app.platform.audit import AuditEntry
from app.platform.service import Service
from app.studio.access import cookie_name
from app.studio.models import SignIn
from tests.conftest import PASSWORDS, browser_of

Browse = Callable[[str], TestClient]


def actions_on_file(service: Service) -> list[str]:
    with service.database.read() as db:
        return list(db.exec(select(AuditEntry.action).order_by(AuditEntry.seq)).all())  # type: ignore[arg-type]


def test_the_right_password_leads_in(service: Service, browse: Browse) -> None:
    browser = browse("nobody")
    answer = browser.post("/sign-in", data={"login": "Tomas ", "password": PASSWORDS["tomas"], "next": "/account"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/account"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Tomas Verhey" in browser.get("/account").text
    assert actions_on_file(service)[-1] == "studio.sign_in.started"


@pytest.mark.parametrize("login", ["tomas", "nobody-here"])
def test_a_wrong_password_and_an_unknown_name_look_the_same(service: Service, browse: Browse, login: str) -> None:
    answer = browse("nobody").post("/sign-in", data={"login": login, "password": "wrong password"})
    assert answer.status_code == 422
    assert "do not go together" in answer.text
    assert f'value="{login}"' in answer.text
    assert "wrong password" not in answer.text
    assert actions_on_file(service)[-1] == "studio.sign_in.refused"


def test_the_eleventh_try_waits_even_with_the_right_password(service: Service, browse: Browse) -> None:
    browser = browse("nobody")
    for _ in range(10):
        browser.post("/sign-in", data={"login": "tomas", "password": "wrong password"})
    assert browser.post("/sign-in", data={"login": "tomas", "password": PASSWORDS["tomas"]}).status_code == 429
    with clock.stopped_at(clock.now() + timedelta(minutes=16)):
        assert browser.post("/sign-in", data={"login": "tomas", "password": PASSWORDS["tomas"]}).status_code == 303


def test_signing_out_ends_the_row(service: Service, crew: Crew) -> None:
    browser = browser_of(service, crew.tomas)
    secret = browser.cookies[cookie_name(service)]
    assert browser.post("/sign-out").status_code == 303
    browser.cookies.set(cookie_name(service), secret)  # whoever kept the cookie has nothing
    assert browser.get("/account").status_code == 303
    with service.database.read() as db:
        assert db.exec(select(SignIn)).one().ended_at == clock.now()


def test_an_idle_sign_in_ends(service: Service, crew: Crew) -> None:
    browser = browser_of(service, crew.tomas)
    assert browser.get("/account").status_code == 200
    with clock.stopped_at(clock.now() + timedelta(hours=13)):
        assert browser.get("/account").headers["location"] == "/sign-in?next=/account"


def test_a_crafted_address_cannot_lead_away(browse: Browse) -> None:
    for bad in ("https://evil.test/", "//evil.test", "/\\evil.test", "/\t/evil.test", "/\n\\evil.test"):
        answer = browse("nobody").post("/sign-in", data={"login": "tomas", "password": PASSWORDS["tomas"], "next": bad})
        assert answer.headers["location"] == "/"


def test_a_new_password_ends_every_other_sign_in(service: Service, crew: Crew) -> None:
    here, there = browser_of(service, crew.tomas), browser_of(service, crew.tomas)
    wrong = here.post("/account/password", data={"current": "not it", "password": "a quite different one"})
    assert wrong.status_code == 422
    answer = here.post("/account/password", data={"current": PASSWORDS["tomas"], "password": "a quite different one"})
    assert answer.status_code == 303
    assert here.get("/account").status_code == 200
    assert there.get("/account").status_code == 303


def test_a_member_who_left_is_out_at_once(service: Service, crew: Crew) -> None:
    owner, ruth = browser_of(service, crew.owner), browser_of(service, crew.ruth)
    assert owner.post(f"/studio/members/{crew.ruth.id}/leaving").status_code == 303
    assert ruth.get("/account").status_code == 303
    refused = owner.post(f"/studio/members/{crew.owner.id}/leaving")
    assert refused.status_code == 422
    assert "needs an owner" in refused.text
