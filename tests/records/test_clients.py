from collections.abc import Callable

import pytest

from app.demo.cast import Crew
from app.platform.audit import Actor
from app.platform.service import Service
from app.records import actions, queries
from app.studio.access import Who
from tests.conftest import Browser
from tests.records.cast import begin, trail_of

Browse = Callable[[str], Browser]
DETAILS = {"name": "Ана Søndergård", "born_on": "1988-02-29", "phone": "087 765 4321", "email": "ana.s@example.org"}


def test_a_new_client_is_on_file_and_in_the_trail(service: Service, browse: Browse) -> None:
    answer = browse("desk").post("/clients", data=DETAILS)
    assert answer.status_code == 303
    page = browse("tomas").get(answer.headers["location"])
    assert "Ана Søndergård" in page.text
    assert "29 February 1988" in page.text
    assert trail_of(service, "records.client.added") == 1


def test_a_wrong_form_keeps_what_was_typed(browse: Browse) -> None:
    answer = browse("tomas").post("/clients", data={**DETAILS, "email": "nowhere", "born_on": "2990-01-01"})
    assert answer.status_code == 422
    assert "like anna@example.org" in answer.text
    assert 'value="087 765 4321"' in answer.text


def test_a_birthday_that_lies_ahead_is_refused_beside_its_field(browse: Browse) -> None:
    answer = browse("tomas").post("/clients", data={**DETAILS, "born_on": "2031-01-01"})
    assert answer.status_code == 422
    assert "This day lies ahead" in answer.text


@pytest.mark.parametrize("words", ["sond", "ана", "087 765", "0877654321", "ana.s@ex", "SØNDER ана"])
def test_a_client_is_found_by_the_beginnings_of_words(browse: Browse, words: str) -> None:
    browser = browse("tomas")
    browser.post("/clients", data=DETAILS)
    assert "Søndergård" in browser.get("/clients", params={"q": words}).text


@pytest.mark.parametrize("words", ["gard", "Nobody", "%", "_na", "999"])
def test_a_client_is_not_found_by_anything_else(browse: Browse, words: str) -> None:
    browser = browse("tomas")
    browser.post("/clients", data=DETAILS)
    assert "Søndergård" not in browser.get("/clients", params={"q": words}).text


def test_a_client_is_found_by_the_number_of_a_case(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    assert "Maren Solberg" in browse("desk").get("/clients", params={"q": str(begun.case.number)}).text


def test_an_old_name_no_longer_finds_a_client(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    browser = browse("tomas")
    answer = browser.post(f"/clients/{begun.client.id}", data={"name": "Maren Lind", "revision": "1", "language": "en"})
    assert answer.status_code == 303
    assert "Maren" not in browser.get("/clients", params={"q": "solberg"}).text
    assert "Maren Lind" in browser.get("/clients", params={"q": "lind"}).text
    assert trail_of(service, "records.client.changed") == 1


def test_a_second_edit_of_the_same_state_is_shown_against_the_first(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun = begin(service, crew)
    browser = browse("tomas")
    sent = {"name": "Maren One", "revision": "1", "language": "en"}
    assert browser.post(f"/clients/{begun.client.id}", data=sent).status_code == 303
    answer = browser.post(f"/clients/{begun.client.id}", data={**sent, "name": "Maren Two"})
    assert answer.status_code == 409
    assert "Maren Two" in answer.text  # what was sent is not lost
    assert "Maren One" in browser.get(f"/clients/{begun.client.id}").text


def test_nobody_signed_in_sees_no_client(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    assert browse("nobody").get(f"/clients/{begun.client.id}").status_code == 303
    assert browse("tomas").get("/clients/999").status_code == 404


def _raise(service: Service, client_id: int, kind: str, audience: str) -> None:
    with service.database.write() as db:
        actions.raise_alert(db, client_id, kind=kind, words=f"Words of {kind}", audience=audience, source="intake",
                            by=Actor("system"))


def test_the_desk_sees_contacts_and_set_up_alerts_but_no_health(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    assert begun.client.id is not None
    _raise(service, begun.client.id, "latex", "setup")
    _raise(service, begun.client.id, "keloid", "medical")
    browse("tomas").post(f"/clients/{begun.client.id}/hold", data={"reason": "Waits for her oncologist"})
    page = browse("desk").get(f"/clients/{begun.client.id}").text
    assert "Words of latex" in page
    assert "+353 87 123 4567" in page
    assert "Ask the artist" in page
    for secret in ("Words of keloid", "Forearm", "oncologist", "/ending", "/permissions"):
        assert secret not in page
    assert "Words of keloid" in browse("ruth").get(f"/clients/{begun.client.id}").text


def test_an_alert_is_raised_once_and_ends_with_a_reason(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    assert begun.client.id is not None
    for _ in range(2):
        _raise(service, begun.client.id, "latex", "setup")
    with service.database.read() as db:
        [alert] = queries.alerts_of(db, begun.client.id, medical=True)
    browser = browse("tomas")
    assert browse("desk").get(f"/alerts/{alert.id}/ending").status_code == 404
    assert browser.post(f"/alerts/{alert.id}/ending", data={"reason": " "}).status_code == 422
    assert browser.post(f"/alerts/{alert.id}/ending", data={"reason": "Mixed up"}).status_code == 303
    assert "Words of latex" not in browser.get(f"/clients/{begun.client.id}").text
    assert trail_of(service, "records.alert.ended") == 1
    _raise(service, begun.client.id, "latex", "setup")
    assert "Words of latex" in browser.get(f"/clients/{begun.client.id}").text


def test_a_client_is_held_with_a_reason_and_released(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    browser = browse("tomas")
    assert browser.post(f"/clients/{begun.client.id}/hold", data={"reason": ""}).status_code == 422
    assert browse("desk").post(f"/clients/{begun.client.id}/hold", data={"reason": "x"}).status_code == 404
    browser.post(f"/clients/{begun.client.id}/hold", data={"reason": "Moving house"})
    assert "Moving house" in browser.get(f"/clients/{begun.client.id}").text
    browser.post(f"/clients/{begun.client.id}/release")
    assert "Moving house" not in browser.get(f"/clients/{begun.client.id}").text
    assert trail_of(service, "records.client.held") == trail_of(service, "records.client.released") == 1


def test_cases_are_numbered_and_a_restricted_one_is_not_there_for_others(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun = begin(service, crew, restricted=True)
    assert crew.tomas.id is not None
    address = f"/clients/{begun.client.id}/cases"
    answer = browse("ruth").post(address, data={"title": "Shin", "lead_id": str(crew.ruth.id)})
    assert answer.headers["location"] == f"/cases/{(begun.case.id or 0) + 1}"
    page = browse("ruth").get(f"/clients/{begun.client.id}").text
    assert f"Case {begun.case.number + 1}, Shin" in page
    assert "Forearm" not in page
    assert browse("ruth").get(f"/zones/{begun.zone.id}").status_code == 404
    assert browse("desk").get(f"/zones/{begun.zone.id}").status_code == 404
    for name in ("tomas", "owner"):
        assert browse(name).get(f"/zones/{begun.zone.id}").status_code == 200
    with service.database.read() as db:
        who = Who(crew.tomas.id, "Tomas", "artist", 1)
        assert queries.case_for(db, who, begun.case.id or 0).number == begun.case.number
    assert trail_of(service, "records.case.opened") == 2


def test_a_title_that_says_how_the_scar_came_about_is_refused(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    sent = {"title": "Mastectomy scar", "lead_id": str(crew.tomas.id)}
    answer = browse("tomas").post(f"/clients/{begun.client.id}/cases", data=sent)
    assert answer.status_code == 422
    assert "Leave out how the scar came about" in answer.text
    assert 'value="Mastectomy scar"' in answer.text


def test_the_desk_leads_no_case(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    sent = {"title": "Shin", "lead_id": str(crew.pia.id)}
    answer = browse("tomas").post(f"/clients/{begun.client.id}/cases", data=sent)
    assert answer.status_code == 422
    assert "Choose who leads the case" in answer.text
