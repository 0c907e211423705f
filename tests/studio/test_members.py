from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from app.demo.cast import Crew
from app.platform.service import Service

Browse = Callable[[str], TestClient]
NEW = {"name": "Oda Brandt", "login": "oda", "role": "artist", "password": "four green bicycles"}
DETAILS = {
    "name": "Quiet Line",
    "country": "IE",
    "zone": "Europe/Dublin",
    "opens_at": "08:30",
    "aftercare_school": "dry",
    "earliest_weeks": "9",
    "judge_weeks": "11",
    "judge_weeks_slow": "13",
    "revision": "1",
}


@pytest.mark.parametrize("path", ["/studio", "/studio/members/new", "/studio/trail"])
@pytest.mark.parametrize("name", ["tomas", "desk"])
def test_the_studio_is_the_owners(browse: Browse, path: str, name: str) -> None:
    assert browse("owner").get(path).status_code == 200
    assert browse(name).get(path).status_code == 404


def test_an_added_member_can_sign_in(browse: Browse) -> None:
    owner = browse("owner")
    assert owner.post("/studio/members", data=NEW).status_code == 303
    assert browse("nobody").post("/sign-in", data={"login": "oda", "password": NEW["password"]}).status_code == 303
    again = owner.post("/studio/members", data=NEW)
    assert again.status_code == 422
    assert "has this sign-in name already" in again.text
    assert "Oda Brandt" in again.text


def test_only_the_owner_adds(browse: Browse) -> None:
    assert browse("tomas").post("/studio/members", data=NEW).status_code == 404
    assert browse("nobody").post("/studio/members", data=NEW).status_code == 401


def test_settings_have_a_floor_and_keep_what_was_typed(browse: Browse) -> None:
    low = browse("owner").post("/studio", data={**DETAILS, "earliest_weeks": "3"})
    assert low.status_code == 422
    assert "Give 4 or more." in low.text
    assert 'value="11"' in low.text
    assert browse("owner").post("/studio", data=DETAILS).status_code == 303


def test_two_owners_editing_at_once_are_both_shown(browse: Browse) -> None:
    owner = browse("owner")
    assert owner.post("/studio", data=DETAILS).status_code == 303
    stale = owner.post("/studio", data={**DETAILS, "name": "Mine"})
    assert stale.status_code == 409
    assert "Mine" in stale.text
    assert "Quiet Line" in stale.text


def test_the_trail_shows_who_did_what(service: Service, browse: Browse, crew: Crew) -> None:
    owner = browse("owner")
    owner.post("/studio/members", data=NEW)
    page = owner.get("/studio/trail").text
    assert "studio.member.added" in page
    assert crew.owner.name in page
    assert NEW["password"] not in page
