from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import select

from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.consents.texts import DECLARATION
from app.demo.answers import short
from app.demo.cast import Crew
from app.intake import actions, hold_actions, queries, visit_queries
from app.intake import visit_actions as visits
from app.intake.models import Submission, Visit
from app.intake.visit_days import (
    evening_of,
    may_ask_evening,
    said_on,
    said_words,
    to_stand_on,
    whole_form_due,
    with_unasked,
)
from app.intake.visit_forms import ChangeVisit, PlanVisit
from app.intake.visit_list import VISIT_SET
from app.messages import actions as messages
from app.messages import queries as message_queries
from app.messages.models import PlannedMessage
from app.messages.sending import send_due
from app.platform import clock, links
from app.platform.audit import Actor
from app.platform.forms import Refused
from app.platform.service import Service
from app.records import actions as records
from app.records import forms as record_forms
from app.records.models import Case, Client, Task, Zone
from app.studio import queries as studio_queries
from app.studio.country import country_pack
from tests.conftest import NOW
from tests.intake.course import ON, Browse, Course, come_in, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy

TOMORROW = ON + timedelta(days=1)
EVENING = datetime(2026, 3, 16, 18, 0, tzinfo=UTC)  # Dublin is on UTC in March until the 29th


def cleared(service: Service, crew: Crew, **case: Any) -> Course:
    """A decided case with one zone, of a client who gets e-mails."""
    course = open_course(service, crew, **case)
    decided(service, course, submitted(service, course))
    placed(service, course, "s1")
    with service.database.write() as db:
        client = db.get_one(Client, course.client_id)
        form = record_forms.ChangeClient(name=client.name, email="robin@example.org", language="en",
                                         revision=client.revision)  # fmt: skip
        records.change_client(db, client, form, by=course.by)
        document = consents.keep_document(db, DECLARATION.kind, DECLARATION.version, DECLARATION.text, by=course.by)
        signature = consents.sign(db, course.client_id, document, typed_name="Robin Ash", drawing=None, by=course.by)
        consents.answer(db, course.client_id, "reminders_email", True, signature, by=course.by)
    return course


def planned(service: Service, course: Course, on: date = TOMORROW, at: str = "10:00") -> Visit:
    with service.database.write() as db:
        zones = visit_queries.open_zones(db, course.case_id)
        form = PlanVisit(planned_on=on, planned_at=at)
        return visits.plan_visit(db, db.get_one(Case, course.case_id), form, zones, by=course.by)


def rows(service: Service, visit: Visit) -> list[PlannedMessage]:
    with service.database.read() as db:
        return message_queries.of_course(db, visit_queries.course_key(visit))


def state_of(service: Service, visit: Visit, on: date = ON) -> str:
    with service.database.read() as db:
        return visit_queries.line_of(db, db.get_one(Visit, visit.id), on).state


def answered(service: Service, course: Course, visit: Visit, **changes: Any) -> str:
    """The open short form of a visit, sent with nothing new but for the changes; what was decided by itself."""
    with service.database.write() as db:
        held = db.get_one(Visit, visit.id)
        form = visit_queries.form_to_fill(db, held)
        assert form is not None
        told = short(visit_queries.draft_for(db, held), **changes)
        screening = actions.submit(
            db, form, told, country=country_pack("IE"), on=clock.today("Europe/Dublin"), typed_name="Robin Ash",
            by=Actor("client", course.client_id),
        )  # fmt: skip
        return screening.decision


def arrival(service: Service, course: Course, visit: Visit) -> str:
    with service.database.write() as db:
        return visits.ask_at_arrival(db, db.get_one(Visit, visit.id), by=course.by)


def test_a_visit_is_planned_and_its_questions_go_out_the_evening_before(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = cleared(service, crew)
    answer = browse("tomas").post(
        f"/cases/{course.case_id}/visits", data={"planned_on": "2026-03-17", "planned_at": "10:30", "zones": ["1"]}
    )
    assert answer.headers["location"] == "/visits/1"
    with service.database.read() as db:
        visit = db.get_one(Visit, 1)
    (row,) = rows(service, visit)
    assert (row.due_at, row.template, row.purpose) == (EVENING, "short_questions", "intake")
    with clock.stopped_at(EVENING - timedelta(minutes=1)):
        assert send_due(service) == 0
    assert state_of(service, visit) == "asked the evening before"
    with clock.stopped_at(EVENING):
        assert send_due(service) == 1
    assert state_of(service, visit) == "not answered yet"
    letter = next(iter(service.settings.outbox.glob("*"))).read_text()
    assert not any(word in letter.lower() for word in ("scar", "pigment", "skin", "tattoo", "narbe", "haut"))
    with clock.stopped_at(EVENING + timedelta(hours=1)):
        assert answered(service, course, visit) == "accepted"  # nothing new needs no second decision
    assert state_of(service, visit) == "answers are in"
    assert "intake.visit.planned" in trail(service)


def test_a_wrong_form_comes_back_and_strangers_find_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    course = cleared(service, crew, is_restricted=True)
    visit = planned(service, course)
    wrong = {"planned_on": "2026-03-15", "planned_at": "25:00", "zones": ["1"]}
    page = browse("tomas").post(f"/cases/{course.case_id}/visits", data=wrong)
    assert page.status_code == 422
    assert "like 14:30" in page.text
    assert 'value="2026-03-15"' in page.text
    page = browse("tomas").post(f"/cases/{course.case_id}/visits", data={**wrong, "planned_at": ""})
    assert "This day is over." in page.text
    for path in (f"/cases/{course.case_id}/visits/new", f"/visits/{visit.id}", f"/visits/{visit.id}/edit",
                 f"/visits/{visit.id}/aloud"):  # fmt: skip
        assert browse("ruth").get(path).status_code == 404, path
    for path in (f"/cases/{course.case_id}/visits", f"/visits/{visit.id}", f"/visits/{visit.id}/cancellation",
                 f"/visits/{visit.id}/arrival", f"/visits/{visit.id}/aloud", f"/cases/{course.case_id}/visits/today"):
        assert browse("ruth").post(path, data={"why": "x", "planned_on": "2026-03-18"}).status_code == 404, path
    assert browse("desk").get(f"/visits/{visit.id}/aloud").status_code == 404


def test_the_desk_reads_beside_a_plan_whether_to_ask_and_what_is_planned(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course, desk = cleared(service, crew), browse("desk")
    address = f"/cases/{course.case_id}/visits"
    assert "Ask the artist." not in desk.get(f"{address}/new").text
    visit = desk.post(address, data={"planned_on": "2026-03-20"}).headers["location"]
    assert f'href="{visit}"' in desk.get(f"{address}/new").text
    submitted(service, course, healthy(pregnant="yes"))
    for path in (f"{address}/new", visit):
        page = desk.get(path).text
        assert "Ask the artist." in page, path
        assert "regnan" not in page, path


def test_the_desk_plans_the_day_and_reads_no_reason(service: Service, crew: Crew, browse: Browse) -> None:
    course = cleared(service, crew)
    desk = browse("desk")
    assert "Forearm" not in desk.get(f"/cases/{course.case_id}/visits/new").text
    assert desk.post(f"/cases/{course.case_id}/visits", data={"planned_on": "2026-03-16"}).status_code == 303
    with service.database.read() as db:
        visit = db.get_one(Visit, 1)
    assert rows(service, visit) == []  # planned on its own day: nothing is sent
    arrival(service, course, visit)
    assert answered(service, course, visit, pregnant="yes") == ""
    for path in ("/today", "/visits/1"):
        page = desk.get(path).text
        assert "ask the artist" in page, path
        assert "regnan" not in page, path
    assert "1 zone" in desk.get("/visits/1").text
    desk.post("/visits/1/cancellation", data={"why": "She rang: unwell"})
    assert "unwell" not in desk.get("/visits/1").text
    assert "unwell" in browse("tomas").get("/visits/1").text
    assert "intake.visit.cancelled" in trail(service)


def test_yesterdays_answers_are_shown_at_arrival_and_what_is_new_waits(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = cleared(service, crew)
    visit = planned(service, course)
    with clock.stopped_at(EVENING + timedelta(hours=2)):
        assert answered(service, course, visit, vaccinated="no") == "accepted"
    with clock.stopped_at(NOW + timedelta(days=1)):
        client = come_in(service, arrival(service, course, visit))
        page = client.get("/intake/1").text
        assert "You said yesterday: No" in page
        assert 'value="no" checked' in page
        assert answered(service, course, visit, visit_medicine="yes", visit_medicine_words="A new one") == ""
        assert "Put the client on hold" not in browse("tomas").get("/screenings/2").text  # the older one
    assert state_of(service, visit) == "ask the artist"


def test_an_artist_asks_aloud_and_the_answers_stand_under_their_name(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = cleared(service, crew)
    visit = planned(service, course, ON)
    artist = browse("tomas")
    address = f"/visits/{visit.id}/aloud"
    assert "asked aloud by" in artist.get(address).text
    data = aloud(service, visit)
    gap = artist.post(address, data={key: value for key, value in data.items() if key != "c-ill"})
    assert gap.status_code == 422
    assert 'name="c-pregnant" value="no" checked' in gap.text
    more = artist.post(address, data={**data, "c-visit_medicine": "yes"})
    assert more.status_code == 422
    assert "a little more to ask" in more.text
    assert artist.post(address, data=data).headers["location"] == f"/visits/{visit.id}"
    with service.database.read() as db:
        (form,) = visit_queries.short_forms(db, visit)
    assert (form.stage, form.changed_by, form.signature_id) == ("arrival", crew.tomas.id, None)
    page = artist.get(f"/visits/{visit.id}").text
    assert f"asked aloud by {crew.tomas.name}" in page
    assert "Nothing new was said" in page


def aloud(service: Service, visit: Visit) -> dict[str, str]:
    with service.database.read() as db:
        told = short(visit_queries.draft_for(db, visit))
    data = {f"c-{key}": str(value) for key, value in told.items() if key != "scars"}
    for number, scar in enumerate(told["scars"], 1):
        for key, value in scar.items():
            if key not in ("id", "site", "side", "words"):
                data[f"{number}-{key}"] = value[0] if isinstance(value, list) else str(value)
    return data


def test_what_began_at_home_is_gone_on_with_on_the_tablet(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    visit = planned(service, course)
    with service.database.write() as db:
        form = visit_queries.form_to_fill(db, visit)
        assert form is not None
        actions.save_draft(db, form.id or 0, {**visit_queries.draft_for(db, visit), "pregnant": "no"})
    with clock.stopped_at(NOW + timedelta(days=1)):
        arrival(service, course, visit)
    with service.database.read() as db:
        (form,) = visit_queries.short_forms(db, visit)
        assert (form.stage, visit_queries.draft_for(db, visit)["pregnant"]) == ("arrival", "no")


def test_a_sensitive_case_sends_nothing_and_gives_the_artist_a_task(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    with service.database.write() as db:
        zone = db.get_one(Zone, 1)
        values = {**zone.model_dump(), "is_sensitive": True, "declared": ["s1"]}
        actions.change_zone(db, zone, record_forms.ChangeZone.model_validate(values), by=course.by)
    visit = planned(service, course)
    assert rows(service, visit) == []
    assert state_of(service, visit) == "ask at arrival"
    with service.database.read() as db:
        (task,) = [task for task in db.exec(select(Task)).all() if task.kind == "ask"]
    assert (task.due_on, task.address) == (TOMORROW, f"/visits/{visit.id}")
    with service.database.write() as db:
        visits.cancel_visit(db, db.get_one(Visit, visit.id), "Not today", by=course.by)
        assert db.get_one(Task, task.id).done_at is not None


@pytest.mark.parametrize("missing", ["address", "consent"])
def test_who_cannot_be_written_to_is_asked_at_arrival(service: Service, crew: Crew, missing: str) -> None:
    course = cleared(service, crew)
    visit = planned(service, course)
    with service.database.write() as db:
        if missing == "address":
            client = db.get_one(Client, course.client_id)
            form = record_forms.ChangeClient(name=client.name, revision=client.revision)
            records.change_client(db, client, form, by=course.by)
        else:
            for answer in consent_queries.permissions_of(db, course.client_id):
                consents.revoke(db, answer, by=course.by)
    assert state_of(service, visit) == "ask at arrival"
    with clock.stopped_at(EVENING):
        assert send_due(service) == 0


def test_one_message_a_day_and_none_in_the_night(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    first = planned(service, course)
    with clock.stopped_at(EVENING + timedelta(hours=3)):
        assert send_due(service) == 0
    assert rows(service, first)[-1].fault == messages.NOT_IN_TIME
    assert state_of(service, first, TOMORROW) == "ask at arrival"
    # An evening that has begun may still be used; after nine nothing is planned any more.
    with clock.stopped_at(EVENING + timedelta(days=1, hours=2, minutes=59)):
        assert rows(service, planned(service, course, ON + timedelta(days=2)))[0].state == "planned"
    with clock.stopped_at(EVENING + timedelta(days=2, hours=3)):
        assert rows(service, planned(service, course, ON + timedelta(days=3))) == []


def test_a_question_of_less_weight_gives_way_and_a_patch_does_not(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    with service.database.write() as db:
        studio = studio_queries.studio(db)
        for template in ("patch_reading", "check_in"):
            messages.plan(
                db, unique_key=template, client_id=course.client_id, template=template, purpose="", subject_id=0,
                due_on=ON + timedelta(days=9), time_zone=studio.time_zone, opens_at=studio.opens_at, by=course.by,
            )  # fmt: skip
    (taken,) = rows(service, planned(service, course, ON + timedelta(days=10)))  # the evening of the ninth day
    assert (taken.state, taken.fault) == ("cancelled", messages.DAY_TAKEN)
    (row,) = rows(service, planned(service, course, ON + timedelta(days=11)))
    with service.database.read() as db:
        check_in = db.exec(select(PlannedMessage).where(PlannedMessage.unique_key == "check_in")).one()
    assert (row.state, row.due_at.hour) == ("planned", 18)
    assert (check_in.due_on, check_in.due_at.hour) == (ON + timedelta(days=11), 9)  # at the studio's own hour


def test_a_visit_that_moves_asks_on_its_new_evening_and_answers_keep_their_day(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    visit = planned(service, course)

    def move(held: Visit, on: date) -> Visit:
        with service.database.write() as db:
            row = db.get_one(Visit, held.id)
            form = ChangeVisit(planned_on=on, planned_at="11:00", revision=row.revision)
            return visits.change_visit(db, row, form, visit_queries.visit_zones(db, row), by=course.by)

    moved = move(visit, ON + timedelta(days=5))
    assert moved.id == visit.id
    assert [(row.state, row.due_on) for row in rows(service, visit)] == [
        ("cancelled", ON), ("planned", ON + timedelta(days=4)),
    ]  # fmt: skip
    assert answered(service, course, visit) == "accepted"
    again = move(moved, ON + timedelta(days=6))
    assert again.id != visit.id
    assert state_of(service, visit) == "cancelled"
    assert state_of(service, again) == "asked the evening before"


def test_two_visits_two_sets_and_one_day_is_planned_once(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    planned(service, course)
    with pytest.raises(Refused, match="planned for that day already"):
        planned(service, course)
    with pytest.raises(Refused, match="more than two years"):
        planned(service, course, date(2029, 1, 1))
    second = planned(service, course, ON + timedelta(days=30))
    with service.database.read() as db:
        forms = db.exec(select(Submission).where(Submission.kind == "visit")).all()
    assert [(form.visit_id, form.stage) for form in forms] == [(1, "evening"), (second.id, "evening")]


def test_what_a_visit_said_of_its_own_day_is_over_at_the_next(service: Service, crew: Crew) -> None:
    course = cleared(service, crew)
    first, second = planned(service, course, ON), planned(service, course, ON + timedelta(days=40))
    arrival(service, course, first)
    assert answered(service, course, first, visit_affected="yes") == ""
    with service.database.read() as db:
        newest = visit_queries.told_of(db, first)[-1].screening
    decided(service, course, newest.id or 0)
    with clock.stopped_at(NOW + timedelta(days=39, hours=9)):
        assert answered(service, course, second) == "accepted"
    with service.database.read() as db:
        told, _ = queries.told_of(db, visit_queries.told_of(db, second)[-1].form)
    assert told["visit_affected"] == "no"


def test_a_hold_stops_all_and_a_release_lets_go_on_what_still_means_something(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = cleared(service, crew)
    soon, later = planned(service, course), planned(service, course, ON + timedelta(days=9))
    with service.database.write() as db:
        studio = studio_queries.studio(db)
        for template in ("outcome_6m", "check_in"):
            messages.plan(
                db, unique_key=template, client_id=course.client_id, template=template, purpose="", subject_id=0,
                due_on=ON + timedelta(days=2), time_zone=studio.time_zone, opens_at=studio.opens_at, by=course.by,
            )  # fmt: skip
    token = link_of(service, course, soon)
    artist = browse("tomas")
    assert artist.post(f"/clients/{course.client_id}/hold", data={"reason": "Pregnant"}).status_code == 303
    client = come_in(service, token)
    assert client.get("/intake").headers["location"] == "/intake/call"
    assert "Please call us" in client.get("/intake/call").text
    with pytest.raises(Refused, match="on hold"):
        planned(service, course, ON + timedelta(days=20))
    assert state_of(service, later) == "on hold"
    with clock.stopped_at(NOW + timedelta(days=8, hours=9)):  # six in the evening of the eighth day
        assert send_due(service) == 0
        assert rows(service, later)[0].fault == messages.ON_HOLD
        with service.database.write() as db:
            held = db.get_one(Client, course.client_id)
            hold_actions.release(db, held, ON + timedelta(days=8), by=course.by)
        assert state_of(service, soon) == "cancelled"
        assert rows(service, later)[-1].state == "planned"
        with service.database.read() as db:
            ahead = message_queries.planned_for(db, course.client_id)
        assert [(row.template, row.due_on) for row in ahead] == [
            ("short_questions", ON + timedelta(days=8)), ("outcome_6m", ON + timedelta(days=9)),
        ]  # fmt: skip
        assert send_due(service) == 1
    assert {"intake.plans.held", "intake.plans.released"} <= set(trail(service))


def link_of(service: Service, course: Course, visit: Visit) -> str:
    with service.database.write() as db:
        form = visit_queries.form_to_fill(db, visit)
        assert form is not None
        return links.make(
            db, "intake", form.id or 0, course.client_id, lasts=timedelta(days=2), language="en", by=course.by
        )


def test_a_new_stop_offers_the_hold_in_one_tap(service: Service, crew: Crew, browse: Browse) -> None:
    course = cleared(service, crew)
    visit = planned(service, course, ON)
    arrival(service, course, visit)
    answered(service, course, visit, pregnant="yes")
    artist = browse("tomas")
    assert "Put the client on hold" in artist.get("/screenings/2").text
    held = artist.post(f"/clients/{course.client_id}/hold", data={"reason": "See there.", "back": "/screenings/2"})
    assert held.headers["location"] == "/screenings/2"
    assert "The client is on hold" in artist.get("/screenings/2").text
    elsewhere = {"reason": "x", "back": "https://example.org"}
    assert artist.post(f"/clients/{course.client_id}/hold", data=elsewhere).status_code == 422  # on hold already


def test_the_whole_form_is_due_again_after_a_year(service: Service, crew: Crew, browse: Browse) -> None:
    course = cleared(service, crew)
    with clock.stopped_at(datetime(2027, 3, 16, 12, 0, tzinfo=UTC)):
        assert "Whole form due" not in browse("desk").get("/today").text
    with clock.stopped_at(datetime(2027, 3, 17, 12, 0, tzinfo=UTC)):
        assert "whole form due since 17 March 2027" in browse("desk").get("/today").text
        assert "due again since" in browse("tomas").get(f"/cases/{course.case_id}").text


def test_short_questions_need_a_whole_form(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    placed(service, course)
    visit = planned(service, course, ON)
    assert state_of(service, visit) == "the whole form is still to be answered"
    with pytest.raises(Refused, match="whole form comes first"):
        arrival(service, course, visit)


@pytest.mark.parametrize(
    ("zone", "moment", "planned_on", "may"),
    [
        ("Europe/Dublin", "2026-03-28T20:59", "2026-03-29", True),  # the night the clocks go forward
        ("Europe/Dublin", "2026-03-28T21:00", "2026-03-29", False),
        ("Europe/Dublin", "2026-10-24T19:59", "2026-10-25", True),  # and back: still summer time in the evening
        ("Europe/Dublin", "2026-10-24T20:00", "2026-10-25", False),
        ("America/Los_Angeles", "2026-03-17T03:59", "2026-03-17", True),  # there it is the evening of the 16th
        ("Pacific/Auckland", "2026-03-16T12:00", "2026-03-17", False),  # there it is the 17th already
        ("Europe/Dublin", "2026-03-16T00:00", "2026-03-16", False),  # midnight of the day itself
        ("Europe/Dublin", "2026-03-15T23:59", "2026-03-17", True),
    ],
)
def test_the_evening_before_is_the_studios(zone: str, moment: str, planned_on: str, may: bool) -> None:
    now = datetime.fromisoformat(moment).replace(tzinfo=UTC)
    assert may_ask_evening(date.fromisoformat(planned_on), now, zone, messages.LATEST_AT) is may


def test_six_in_the_evening_is_six_where_the_studio_stands_on_both_sides_of_a_clock_change() -> None:
    for day, hour in ((date(2026, 3, 28), 18), (date(2026, 3, 29), 17), (date(2026, 10, 24), 17)):
        assert messages.opening(day, "18:00", "Europe/Dublin").hour == hour
    assert evening_of(date(2026, 3, 1)) == date(2026, 2, 28)


def test_a_whole_form_is_good_to_the_day() -> None:
    assert whole_form_due(date(2024, 2, 29), 12) == date(2025, 3, 1)
    assert whole_form_due(date(2025, 8, 31), 6) == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("decision", "stage", "said"),
    [(None, "", "none"), ("", "arrival", "undecided"), ("wait", "arrival", "refused"),
     ("declined", "evening", "refused"), ("accepted", "evening", "evening"), ("accepted", "arrival", "arrival")],
)  # fmt: skip
def test_what_the_answers_of_a_day_come_to(decision: str | None, stage: str, said: str) -> None:
    assert said_on(decision, stage) == said


def test_what_nobody_was_asked_about_stays_as_it_was_told() -> None:
    base: Mapping[str, Any] = {"visit_affected": "yes", "ill": "no", "scars": [{"id": "s1", "sun": "no"}, {"id": "s2"}]}
    assert "visit_affected" not in to_stand_on(base)
    visit = with_unasked(base, {"scars": [{"id": "s2", "sun": "yes"}]})
    assert {scar["id"]: scar.get("sun") for scar in visit["scars"]} == {"s1": "no", "s2": "yes"}
    said = said_words({"ill": "no", "scars": [{"id": "s2", "sun": "no"}]}, VISIT_SET, "s2")
    assert said == {"sun": "No"}
    assert said_words({}, VISIT_SET, None) == {}
