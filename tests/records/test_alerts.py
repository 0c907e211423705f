"""From an answer to an alert, to every page on which somebody works on the client, to what follows from it."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import select

from app.demo.cast import Crew
from app.healing.models import Course
from app.intake.rule_set import RULE_SET
from app.platform import clock
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records import actions, queries
from app.records.alert_kinds import KINDS, OWN
from app.records.forms import NewCase, RaiseAlert
from app.records.models import Alert, Client
from app.sessions.actions import add_item
from app.sessions.forms import AddItem
from app.sessions.item_cautions import CAUTIONS, item_breaches, item_cautions
from app.sessions.models import WorkSession
from tests.conftest import NOW, Browser
from tests.healing.people import as_guest
from tests.intake.course import open_course, submitted
from tests.intake.healthy import healthy, healthy_scar
from tests.records.cast import trail_of
from tests.sessions.chair import cleared, recorded, started

Browse = Callable[[str], Browser]
# Each alert that the issue names, with the answer it follows from and what else it changes.
ANSWERS: dict[str, dict[str, Any]] = {
    "latex": {"latex_allergy": "yes"},
    "adhesive": {"adhesive_allergy": "yes"},
    "may_faint": {"fainting": "yes"},
    "contact": {"no_messages": "yes"},
    "no_numbing": {"numbing_reaction": "yes"},
    "antiseptic": {"antiseptic_allergy": "yes"},
}
ALL: dict[str, Any] = {key: value for answers in ANSWERS.values() for key, value in answers.items()}


def standing(service: Service, client_id: int) -> dict[str, Alert]:
    with service.database.read() as db:
        return {alert.kind: alert for alert in queries.alerts_of(db, client_id, medical=True)}


@pytest.mark.parametrize("kind", ANSWERS)
def test_an_alert_follows_from_its_answer(service: Service, crew: Crew, kind: str) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(**ANSWERS[kind]))
    found = standing(service, course.client_id)
    assert (found[kind].words, found[kind].audience) == (KINDS[kind].words, KINDS[kind].audience)
    assert set(ANSWERS) & set(found) == {kind}


def test_a_scar_that_feels_less_or_is_grafted_raises_its_own(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    scar = healthy_scar(numb="yes", graft="yes", graft_on="2025-12", graft_tight="no")
    submitted(service, course, healthy(scar))
    assert {"numb", "graft"} <= set(standing(service, course.client_id))


def test_the_kinds_raised_by_hand_say_what_the_shipped_rules_say() -> None:
    raised = {rule.alert.code: rule.alert for rule in RULE_SET.rules if rule.alert is not None}
    for code, kind in KINDS.items():
        assert (raised[code].words, raised[code].audience) == (kind.words, kind.audience)


@dataclass(frozen=True)
class AtWork:
    client_id: int
    case_id: int
    zone_id: int
    session_id: int
    pages: tuple[str, ...]


@pytest.fixture
def at_work(service: Service, crew: Crew) -> AtWork:
    """A client who answered yes to everything here, with a sheet open on them."""
    chair = cleared(service, crew, healthy(**ALL))
    session_id, case_id, client_id = started(service, chair), chair.case_id, chair.course.client_id
    pages = (
        f"/clients/{client_id}", f"/cases/{case_id}", f"/zones/{chair.zone_id}", f"/cases/{case_id}/sessions/new",
        f"/cases/{case_id}/sessions/paper", f"/sessions/{session_id}", f"/sessions/{session_id}/finish",
        f"/cases/{case_id}/clinician",
    )  # fmt: skip
    return AtWork(client_id, case_id, chair.zone_id, session_id, pages)


def test_alerts_stand_wherever_somebody_works_on_the_client(browse: Browse, at_work: AtWork) -> None:
    browser = browse("tomas")
    for page in at_work.pages:
        text = browser.get(page).text
        for kind in (*(kind for kind in ANSWERS if kind != "contact"), "future_laser"):
            assert KINDS[kind].words in text, (page, kind)
        reached = page.startswith("/clients") or not any(at in page for at in ("clinician", "/sessions/"))
        assert (KINDS["contact"].words in text) is (reached or page.endswith(("new", "paper"))), page


def test_the_desk_sees_the_set_up_line_and_how_to_reach_and_nothing_medical(
    service: Service, browse: Browse, at_work: AtWork
) -> None:
    text = browse("desk").get(f"/clients/{at_work.client_id}").text
    for kind in ANSWERS:
        assert KINDS[kind].words in text
    assert KINDS["future_laser"].words not in text
    assert "/alerts/" not in text
    assert browse("desk").get(f"/clients/{at_work.client_id}/alerts/new").status_code == 404
    browse("tomas").post(f"/cases/{at_work.case_id}/intake")  # a form is out: the desk may ring about it
    today = browse("desk").get("/today").text
    assert KINDS["contact"].words in today
    assert KINDS["latex"].words in today
    assert KINDS["future_laser"].words not in today


def use(service: Service, session_id: int, kind: str) -> None:
    with service.database.write() as db:
        session = db.get_one(WorkSession, session_id)
        form = AddItem.model_validate({"tap_id": str(uuid.uuid4()), "kind": kind, "label": "Tube", "lot": "L 1"})
        add_item(db, session, None, form, by=SYSTEM)


def test_the_sheet_warns_and_a_numbing_product_stands_on_the_record_as_a_breach(
    service: Service, browse: Browse, at_work: AtWork
) -> None:
    browser, sheet = browse("tomas"), f"/sessions/{at_work.session_id}"
    text = browser.get(sheet).text
    for one in CAUTIONS:
        assert one.words in text  # before anything is taken, beside its kind on the shelf
    assert "Against an alert" not in browser.get(f"{sheet}/finish").text
    use(service, at_work.session_id, "numbing")
    breach = next(one.breach for one in CAUTIONS if one.alert == "no_numbing")
    assert breach in browser.get(f"{sheet}/finish").text
    assert browser.post(f"{sheet}/finish", data={}).status_code == 303
    record = browser.get(f"{sheet}/record").text
    assert breach in record
    assert KINDS["latex"].words in record


def test_a_record_from_paper_lists_what_was_used_against_an_alert_that_stood_by_then(
    service: Service, crew: Crew
) -> None:
    chair = cleared(service, crew, healthy(**ANSWERS["no_numbing"]))
    items = [{"kind": "numbing", "label": "Gel", "lot": "G 1"}]
    on_the_day = recorded(service, chair, NOW.date(), items=items)
    long_before = recorded(service, chair, date(2024, 5, 2), items=items)
    with service.database.read() as db:
        assert "no_numbing" in db.get_one(WorkSession, on_the_day).breaches
        assert "no_numbing" not in db.get_one(WorkSession, long_before).breaches


def test_what_an_alert_says_about_items() -> None:
    assert item_cautions([]) == {}
    said = item_cautions(["no_numbing", "adhesive", "antiseptic", "latex"])
    assert set(said) == {"numbing", "dressing", "antiseptic"}
    assert item_breaches(["needle", "dressing"], ["no_numbing", "adhesive"]) == ()


def test_aftercare_leaves_out_what_an_alert_speaks_against_and_keeps_what_was_given(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = cleared(service, crew, healthy(healthy_scar(numb="yes"), **ANSWERS["adhesive"], **ANSWERS["latex"]))
    recorded(service, chair, NOW.date())
    with service.database.read() as db:
        course = db.exec(select(Course)).one()
    assert course.without == '["adhesives","cold","latex"]'
    with clock.stopped_at(NOW + timedelta(days=1)):
        text = as_guest(service, course).get("/aftercare").text
    assert "film" not in text
    assert "Use a cool pack" not in text
    assert "No plaster and no sticky tape" in text
    page = browse("tomas").get(f"/courses/{course.id}").text
    assert "by the alerts: no film, no plasters, no cool packs and no latex gloves" in page


def test_an_alert_raised_while_it_heals_changes_the_clients_page_from_then_on(service: Service, crew: Crew) -> None:
    chair = cleared(service, crew)
    recorded(service, chair, NOW.date())
    with service.database.read() as db:
        course = db.exec(select(Course)).one()
    assert "Leave the film on" in as_guest(service, course).get("/aftercare").text
    raise_by_hand(service, chair.course.client_id, kind="adhesive")
    assert "film" not in as_guest(service, course).get("/aftercare").text


def raise_by_hand(service: Service, client_id: int, **form: str) -> None:
    with service.database.write() as db:
        client = db.get_one(Client, client_id)
        actions.raise_by_hand(db, client, RaiseAlert.model_validate(form), by=SYSTEM)


def test_a_later_form_that_answers_no_marks_the_alert_and_does_not_end_it(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(**ANSWERS["latex"]))
    raise_by_hand(service, course.client_id, kind="pacemaker")
    submitted(service, course, healthy(), on=date(2026, 4, 1))
    page = browse("tomas").get(f"/clients/{course.client_id}").text
    assert KINDS["latex"].words in page
    assert page.count("Answered no on 1 April 2026") == 1  # and not of the one that an artist raised
    assert trail_of(service, "records.alert.answered_no") == 1
    submitted(service, course, healthy(**ANSWERS["latex"]), on=date(2026, 5, 1))
    assert "Answered no" not in browse("tomas").get(f"/clients/{course.client_id}").text


def test_a_form_about_another_scar_says_nothing_of_this_one(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(healthy_scar(numb="yes")))
    with service.database.write() as db:
        form = NewCase(title="Shin", lead_id=crew.tomas.id or 0)
        other = actions.open_case(db, db.get_one(Client, course.client_id), form, by=SYSTEM)
    submitted(service, replace(course, case=other, case_id=other.id or 0), healthy(), on=date(2026, 4, 1))
    assert standing(service, course.client_id)["numb"].answered_no_on is None


def test_an_artist_raises_an_alert_by_hand(service: Service, crew: Crew, browse: Browse) -> None:
    course, browser = open_course(service, crew), browse("tomas")
    address = f"/clients/{course.client_id}/alerts"
    assert browser.get(f"{address}/new").status_code == 200
    assert browser.post(address, data={"kind": "latex"}).status_code == 303
    assert browser.post(address, data={"kind": OWN, "words": "Chair flat", "audience": "setup"}).status_code == 303
    assert browser.post(address, data={"kind": OWN, "words": "Sees a cardiologist"}).status_code == 303
    wrong = browser.post(address, data={"kind": OWN, "words": " "})
    assert (wrong.status_code, "Write what must be seen" in wrong.text) == (422, True)
    again = browser.post(address, data={"kind": OWN, "words": "chair  FLAT", "audience": "setup"})
    assert (again.status_code, "This alert stands already" in again.text) == (422, True)
    assert browser.post(address, data={"kind": "nonsense"}).status_code == 422
    assert browse("desk").post(address, data={"kind": "latex"}).status_code == 404
    assert browser.post("/clients/999/alerts", data={"kind": "latex"}).status_code == 404
    desk = browse("desk").get(f"/clients/{course.client_id}").text
    assert "Chair flat" in desk
    assert "cardiologist" not in desk
    assert trail_of(service, "records.alert.raised") == 3
