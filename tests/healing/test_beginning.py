import json
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlmodel import col, select

from app.demo.cast import Crew
from app.healing import actions, facts, queries
from app.healing.aftercare import AFTERCARE_VERSION
from app.healing.models import Course, CourseZone
from app.messages import queries as messages
from app.platform import clock
from app.platform.audit import AuditEntry
from app.platform.forms import Refused
from app.platform.service import Service
from app.records import actions as records
from app.records.models import Client
from app.studio.access import Who
from app.studio.models import Studio
from tests.conftest import Browser
from tests.healing.people import WORKED_ON, add_case, add_zone, begin, begun, noon

Browse = Callable[[str], Browser]


def artist(crew: Crew) -> Who:
    assert crew.tomas.id is not None
    return Who(crew.tomas.id, "Tomas", "artist", 1)


def test_each_zone_gets_its_own_clocks_with_reasons(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        soft, bony = add_zone(db, crew, case), add_zone(db, crew, case, padding="over_bone")
        course = begin(db, crew, case, [soft, bony])
    with service.database.read() as db:
        plain, slow = queries.clock_rows(db, course)
    assert plain.floor_on == slow.floor_on == WORKED_ON + timedelta(weeks=4)
    assert (plain.earliest_on, plain.judge_on) == (date(2026, 5, 11), date(2026, 5, 25))
    assert (slow.earliest_on, slow.judge_on) == (date(2026, 5, 25), date(2026, 6, 8))
    assert (plain.outcome_6m_on, plain.outcome_12m_on) == (date(2026, 9, 16), date(2027, 3, 16))
    (reason,) = json.loads(slow.earliest_reasons)
    assert "over bone" in reason["words"]
    assert reason["source"]
    assert (course.school, course.aftercare_version) == ("film", AFTERCARE_VERSION)


def test_the_studios_own_weeks_count(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        studio = db.get_one(Studio, 1)
        wide = Studio(**{**studio.model_dump(), "earliest_weeks": 11, "judge_weeks": 13, "judge_weeks_slow": 12})
        course = actions.begin(db, case=case, zones=[zone], session_key="1", work="full", worked_on=WORKED_ON,
                               studio=wide, by=crew.by("tomas"))  # fmt: skip
        (row,) = queries.clock_rows(db, course)
    assert row.earliest_on == WORKED_ON + timedelta(weeks=11)
    assert row.judge_on == WORKED_ON + timedelta(weeks=13)


def test_skin_that_was_never_measured_waits_longer_and_says_so(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew, skin_class="")
        (row,) = queries.clock_rows(db, begin(db, crew, case, [add_zone(db, crew, case)]))
    assert row.judge_on == WORKED_ON + timedelta(weeks=12)
    assert "not been measured" in row.judge_reasons


def test_beginning_twice_for_one_session_begins_once(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        first, second = begin(db, crew, case, [zone]), begin(db, crew, case, [zone])
        assert first.id == second.id
        assert len(messages.planned_for(db, case.client_id)) == 8


def test_the_client_is_asked_on_days_1_3_7_14_then_35_review_and_the_same_day_of_later_months(
    service: Service, crew: Crew
) -> None:
    course = begun(service, crew)
    with service.database.read() as db:
        planned = messages.planned_for(db, course.client_id)
    assert [(row.template, row.due_on) for row in planned] == [
        ("check_in", date(2026, 3, 17)), ("check_in", date(2026, 3, 19)), ("check_in", date(2026, 3, 23)),
        ("check_in", date(2026, 3, 30)), ("provisional_photo", date(2026, 4, 20)),
        ("review_booking", date(2026, 5, 25)), ("outcome_6m", date(2026, 9, 16)), ("outcome_12m", date(2027, 3, 16)),
    ]  # fmt: skip
    # The clocks went forward on 29 March: nine o'clock stays nine o'clock.
    assert [row.due_at.hour for row in planned][2:4] == [9, 8]


def test_a_leap_days_outcome_is_asked_for_on_the_last_of_february(service: Service, crew: Crew) -> None:
    with clock.stopped_at(datetime(2028, 2, 29, 12, tzinfo=UTC)), service.database.write() as db:
        case = add_case(db, crew)
        course = begin(db, crew, case, [add_zone(db, crew, case)], worked_on=date(2028, 2, 29))
        (row,) = queries.clock_rows(db, course)
    assert (row.outcome_6m_on, row.outcome_12m_on) == (date(2028, 8, 29), date(2029, 2, 28))


def test_what_should_have_been_asked_before_today_is_not_asked(service: Service, crew: Crew) -> None:
    with clock.stopped_at(noon(date(2026, 4, 27))), service.database.write() as db:
        case = add_case(db, crew)
        begin(db, crew, case, [add_zone(db, crew, case)])
        planned = messages.planned_for(db, case.client_id)
    assert [row.template for row in planned] == ["review_booking", "outcome_6m", "outcome_12m"]


def test_two_courses_on_one_day_never_plan_two_messages_for_a_day(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        begin(db, crew, case, [add_zone(db, crew, case)], key="1")
        begin(db, crew, case, [add_zone(db, crew, case)], key="2")
        days = [row.due_on for row in messages.planned_for(db, case.client_id)]
    assert len(days) == len(set(days)) == 16


def test_a_sensitive_course_sends_nothing_and_gives_the_artist_tasks(service: Service, crew: Crew) -> None:
    course = begun(service, crew, sensitive=True)
    with service.database.read() as db:
        assert messages.planned_for(db, course.client_id) == []
        assert queries.tasks(db, artist(crew), WORKED_ON) == []
        (task,) = queries.tasks(db, artist(crew), date(2026, 3, 18))
    assert (task.kind, task.due_on, task.client_name) == ("check_in", date(2026, 3, 17), "Nora O'Shea")
    with service.database.write() as db:
        actions.note_talk(db, db.get_one(Course, course.id), "All is well.", day_number=2, by=crew.by("tomas"))
        assert queries.tasks(db, artist(crew), date(2026, 3, 18)) == []
        assert len(queries.tasks(db, artist(crew), date(2026, 3, 19))) == 1
        records.hold_client(db, db.get_one(Client, course.client_id), "asked", by=crew.by("tomas"))
        assert queries.tasks(db, artist(crew), date(2026, 3, 19)) == []


def test_an_allergy_patch_never_resets_the_clock_of_the_colour(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        assert zone.id is not None
        work = begin(db, crew, case, [zone])
        patch = begin(db, crew, case, [zone], key="2", work="allergy_patch", worked_on=WORKED_ON + timedelta(days=20))
        found = queries.clocks_of(db, zone.id)
        assert found is not None
        assert found.course_id == work.id
        assert queries.judge_on(db, patch) is None
        assert db.get_one(Course, work.id).ended_at is None
        templates = [row.template for row in messages.of_course(db, facts.course_key(patch))]
    assert templates == ["patch_reading", "patch_reading", "check_in"]


def test_the_latest_work_counts_also_when_earlier_work_is_entered_later(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        assert zone.id is not None
        begin(db, crew, case, [zone])
        begin(db, crew, case, [zone], key="paper", worked_on=WORKED_ON - timedelta(weeks=20))
        found = queries.clocks_of(db, zone.id)
        assert found is not None
        assert found.earliest_on == date(2026, 5, 11)


def test_full_work_on_the_same_zones_ends_the_earlier_course_and_its_plans(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone, other = add_zone(db, crew, case), add_zone(db, crew, case)
        first = begin(db, crew, case, [zone])
        both = begin(db, crew, case, [zone, other], key="2", worked_on=WORKED_ON + timedelta(weeks=9))
        third = begin(db, crew, case, [zone], key="3", worked_on=WORKED_ON + timedelta(weeks=18))
        assert first.ended_at is not None
        assert both.ended_at is None  # its other zone still heals
        assert third.ended_at is None
        states = {row.state for row in messages.of_course(db, facts.course_key(first))}
    assert states == {"cancelled"}


def test_a_course_is_over_when_its_last_zone_is_judged_and_its_outcome_is_still_asked_for(
    service: Service, crew: Crew
) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zones = [add_zone(db, crew, case), add_zone(db, crew, case)]
        course = begin(db, crew, case, zones)
        assert zones[0].id is not None
        assert zones[1].id is not None
        assert actions.zone_judged(db, zones[0].id, date(2026, 5, 25), by=crew.by("tomas")) == []
        assert course.ended_at is None
        actions.zone_judged(db, zones[1].id, date(2026, 5, 25), by=crew.by("tomas"))
        assert course.ended_at is not None
        left = [row.template for row in messages.planned_for(db, case.client_id)]
    assert left == ["outcome_6m", "outcome_12m"]


def test_healing_needs_a_zone(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        with pytest.raises(Refused):
            begin(db, crew, case, [])


def test_beginning_and_its_plan_are_in_the_trail(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with service.database.read() as db:
        wanted = select(AuditEntry).where(col(AuditEntry.action).startswith("healing."))
        entry = db.exec(wanted).one()
        clocks = db.exec(select(CourseZone)).all()
    assert (entry.action, entry.subject) == ("healing.course.begun", "courses/1")
    assert len(clocks) == 1


def test_the_course_page_says_the_dates_their_reasons_and_what_will_be_sent(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun(service, crew)
    page = browse("tomas").get("/courses/1")
    assert page.status_code == 200
    for words in ("No work there before 11 May 2026", "First judgement of the colour on 25 May 2026", "NHS East Kent",
                  "17 March 2026: Ask how it heals", "L-2231"):  # fmt: skip
        assert words in page.text, words


def test_the_course_page_is_not_for_the_desk_nor_for_strangers_to_a_restricted_case(
    service: Service, crew: Crew, browse: Browse
) -> None:
    with service.database.write() as db:
        case = add_case(db, crew, restricted=True)
        begin(db, crew, case, [add_zone(db, crew, case)])
    assert [browse(who).get("/courses/1").status_code for who in ("owner", "tomas", "ruth", "desk")] == [
        200, 200, 404, 404]  # fmt: skip
    assert browse("nobody").get("/courses/1").status_code == 303
    assert browse("ruth").post("/courses/1/ending").status_code == 404
    assert browse("owner").get("/courses/99").status_code == 404


def test_an_artist_hands_out_a_link_that_is_shown_once(service: Service, crew: Crew, browse: Browse) -> None:
    begun(service, crew)
    tomas = browse("tomas")
    page = tomas.post("/courses/1/link")
    token = page.text.split("/l/")[1].split("<")[0]
    assert token not in tomas.get("/courses/1").text
    client = browse("nobody")
    assert client.post(f"/l/{token}").headers["location"] == "/aftercare"
    assert client.get("/aftercare").status_code == 200


def test_a_talk_needs_words_and_is_kept(service: Service, crew: Crew, browse: Browse) -> None:
    begun(service, crew, sensitive=True)
    tomas = browse("tomas")
    assert tomas.post("/courses/1/talks", data={"words": " "}).status_code == 422
    assert tomas.post("/courses/1/talks", data={"words": "Feels fine."}).status_code == 303
    assert "Feels fine." in tomas.get("/courses/1").text


def test_an_artist_ends_a_course(service: Service, crew: Crew, browse: Browse) -> None:
    begun(service, crew)
    assert browse("tomas").post("/courses/1/ending").status_code == 303
    assert "Over since" in browse("tomas").get("/courses/1").text
