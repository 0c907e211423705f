from datetime import UTC, date, datetime, timedelta

import pytest

from app.demo.cast import Crew
from app.healing import actions as healing
from app.healing.models import CheckIn, Course
from app.intake import visit_actions as visits
from app.intake.visit_forms import PlanVisit
from app.platform import clock
from app.platform.service import Service
from app.records.models import Case, Zone
from app.sessions import queries
from app.sessions.start_checks import StartFacts, start_check
from app.studio.access import Who
from tests.conftest import NOW
from tests.intake.course import ON, Browse, decided, open_course, placed, submitted
from tests.intake.healthy import healthy, healthy_scar
from tests.sessions import chair as at


def codes(service: Service, zone_id: int, on: date = ON, kind: str = "full") -> list[str]:
    with service.database.read() as db:
        return [item.code for item in queries.may_start(db, db.get_one(Zone, zone_id), on, kind).missing]


def test_a_session_starts_when_everything_is_met(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    assert codes(service, chair.zone_id) == []
    browser = browse("tomas")
    assert "Every start check on file is met" in browser.get(f"/cases/{chair.case_id}/sessions/new").text
    answer = browser.post(f"/cases/{chair.case_id}/sessions/new", data=at.start_form(chair, room="2"))
    assert answer.status_code == 303
    assert browser.get(answer.headers["location"]).status_code == 200
    session = at.session_of(service, 1)
    assert (session.state, session.worked_on, session.room) == ("open", ON, "2")
    assert session.reaffirmed_at == NOW
    assert "Nothing new since the answers of 16 March 2026." in session.reaffirmed
    assert session.submission_id == 2
    assert "sessions.session.started" in at.trail(service)


def test_every_missing_thing_is_named_with_what_lifts_it(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course)
    zone_id = placed(service, course, "s1")
    assert codes(service, zone_id) == ["clearance", "permission", "rescreening"]
    page = browse("tomas").get(f"/cases/{course.case_id}/sessions/new").text
    assert "view only" in page
    assert "What lifts it:" in page
    assert "Open the sheet" not in page
    with service.database.read() as db:
        assert all(item.what_lifts for item in queries.may_start(db, db.get_one(Zone, zone_id), ON, "full").missing)


def test_a_start_is_refused_with_the_list_and_keeps_what_was_typed(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    submitted(service, course)
    chair = at.Chair(course, placed(service, course, "s1"))
    page = browse("tomas").post(f"/cases/{course.case_id}/sessions/new", data=at.start_form(chair, room="Blue room"))
    assert page.status_code == 422
    assert "Nothing is cleared here" in page.text
    assert "No permission to treat this zone" in page.text
    assert "sessions.session.started" not in at.trail(service)


def test_without_the_agreement_of_the_day_nothing_starts(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    not_agreed = at.start_form(chair, room="Blue")
    del not_agreed["agreed"]
    answer = browse("tomas").post(f"/cases/{chair.case_id}/sessions/new", data=not_agreed)
    assert answer.status_code == 422
    assert "has not said today that the work may begin" in answer.text
    assert 'value="Blue"' in answer.text


def test_nobody_goes_below_the_floor_and_a_wait_needs_a_reason(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    at.recorded(service, chair, ON - timedelta(days=27))
    assert codes(service, chair.zone_id) == ["floor"]
    browser = browse("tomas")
    form = at.start_form(chair, pass_reason="The client travels.")
    assert browser.post(f"/cases/{chair.case_id}/sessions/new", data=form).status_code == 422
    assert codes(service, chair.zone_id, ON + timedelta(days=1)) == ["wait", "rescreening"]
    with clock.stopped_at(NOW + timedelta(days=1)):
        at.asked(service, chair)
        browser = browse("tomas")
        bare = browser.post(f"/cases/{chair.case_id}/sessions/new", data=at.start_form(chair))
        assert bare.status_code == 422
        assert "name the reason" in bare.text
        answer = browser.post(f"/cases/{chair.case_id}/sessions/new", data=form)
    assert answer.status_code == 303
    session = at.session_of(service, 2)
    assert session.passed_reason == "The client travels."
    assert '"code":"wait"' in session.passed


def test_a_reason_is_not_counted_where_there_was_no_wait(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    session = at.session_of(service, at.started(service, chair, pass_reason="just so"))
    assert (session.passed, session.passed_reason) == ("[]", "")


def test_hold_red_flag_unread_patch_and_open_sheet_stand_against_it(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    patch = at.recorded(service, chair, ON - timedelta(days=2), kind="allergy_patch")
    assert codes(service, chair.zone_id) == ["patch_unread"]
    with service.database.write() as db:
        course = db.get_one(Course, 1)
        row = healing.check_in(db, course, day_number=2, answers={"pus": "yes"}, by=chair.course.by)
    assert codes(service, chair.zone_id) == ["red_flag", "patch_unread"]
    with service.database.write() as db:
        healing.read_check_in(db, db.get_one(CheckIn, row.id), "Rang the client.", by=chair.course.by)
    at.hold(service, chair)
    assert codes(service, chair.zone_id) == ["hold", "patch_unread"]
    assert at.session_of(service, patch).state == "finished"


def test_an_open_sheet_is_gone_on_with_not_opened_twice(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    at.started(service, chair)
    assert codes(service, chair.zone_id) == ["open_session"]


def test_a_withdrawn_permission_counts_from_its_day(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    assert codes(service, chair.zone_id, ON - timedelta(days=1)) == ["clearance", "permission", "rescreening"]


@pytest.mark.parametrize(
    ("grade", "kind", "met"),
    [
        (0, "allergy_patch", False),
        (1, "allergy_patch", True),
        (1, "test_spot", False),
        (2, "test_spot", True),
        (2, "full", False),
        (3, "full", True),
    ],
)
def test_a_clearance_covers_its_grade_and_what_lies_below(grade: int, kind: str, met: bool) -> None:
    patch, spot, full = (ON if cleared <= grade else None for cleared in (1, 2, 3))
    assert start_check(StartFacts((patch, spot, full), has_permission=True), ON, kind).is_met is met


def test_the_day_itself_clears_and_the_last_day_of_a_clearance_counts() -> None:
    day = timedelta(days=1)
    facts = StartFacts((ON, ON, ON), clearance_until=ON, has_permission=True, floor_on=ON, earliest_on=ON)
    assert start_check(facts, ON, "full").is_met
    assert [item.code for item in start_check(facts, ON - day, "full").missing] == ["clearance_later", "floor"]
    assert [item.code for item in start_check(facts, ON + day, "full").missing] == ["clearance_over"]


def test_a_patch_may_be_placed_while_full_work_waits(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    zone_id = placed(service, course, "s1")
    decided(service, course, screening_id)
    at.permit(service, course, zone_id)
    at.asked(service, at.Chair(course, zone_id))
    assert codes(service, zone_id, kind="allergy_patch") == []
    assert codes(service, zone_id, kind="test_spot") == ["clearance_later"]
    assert codes(service, zone_id) == ["clearance_later"]
    assert codes(service, zone_id, date(2026, 6, 9)) == ["clearance_later", "rescreening"]
    assert codes(service, zone_id, date(2026, 6, 10)) == ["rescreening"]


def test_the_day_of_a_session_is_the_studios_also_when_clocks_change(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    # Dublin is an hour ahead of UTC from 29 March: this is a quarter past midnight on the 30th.
    with clock.stopped_at(datetime(2026, 3, 29, 23, 15, tzinfo=UTC)):
        summer = at.started(service, chair)
    assert at.session_of(service, summer).worked_on == date(2026, 3, 30)
    at.finished(service, summer)
    with service.database.read() as db:
        assert db.get_one(Course, 1).worked_on == date(2026, 3, 30)


def test_strangers_and_the_desk_find_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew, is_restricted=True)
    session_id = at.started(service, chair)
    addresses = [
        f"/cases/{chair.case_id}/sessions/new",
        f"/cases/{chair.case_id}/sessions/paper",
        f"/sessions/{session_id}",
        f"/sessions/{session_id}/finish",
        f"/sessions/{session_id}/record",
        f"/sessions/{session_id}/correction",
    ]
    for name in ("ruth", "desk"):
        browser = browse(name)
        for address in addresses:
            assert browser.get(address).status_code == 404, address
        for part in (
            "taps",
            "sheet",
            "items",
            "mix",
            "no-pigment",
            "items/1/drop",
            "items/1/removal",
            "finish",
            "stop",
            "reading-of-patch",
            "correction",
        ):
            sent = {
                "tap_id": "0" * 36,
                "name": "note",
                "recipe_id": "1",
                "reason": "x",
                "result": "clear",
                "shelf_id": "1",
            }
            assert browser.post(f"/sessions/{session_id}/{part}", data=sent).status_code == 404, part
        assert browser.post(addresses[0], data=at.start_form(chair)).status_code == 404
        assert browser.post(addresses[1], data={}).status_code == 404
    with service.database.read() as db:
        assert queries.open_sessions(db, Who(crew.ruth.id or 0, "Ruth", "artist", 1)) == []


def test_something_new_at_arrival_stops_the_start_until_it_is_decided(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = at.cleared(service, crew)
    screening_id = at.asked(service, chair, visit_medicine="yes", visit_medicine_words="Something for the heart")
    assert codes(service, chair.zone_id) == ["clearance", "rescreening"]
    page = browse("tomas").get(f"/cases/{chair.case_id}/sessions/new").text
    assert "nobody has decided on it" in page
    assert "Something for the heart" in page
    decided(service, chair.course, screening_id, "declined", "Ask the doctor first.")
    assert codes(service, chair.zone_id)[-1] == "rescreening"


def test_the_answers_of_the_evening_count_once_they_are_read_again(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = at.cleared(service, crew)
    with service.database.write() as db:
        case, tomorrow = db.get_one(Case, chair.case_id), PlanVisit(planned_on=ON + timedelta(days=1))
        visits.plan_visit(db, case, tomorrow, [db.get_one(Zone, chair.zone_id)], by=chair.course.by)
    with clock.stopped_at(NOW + timedelta(hours=9)):
        at.asked(service, chair, "evening", tomorrow.planned_on)
    with clock.stopped_at(NOW + timedelta(days=1)):
        assert codes(service, chair.zone_id, tomorrow.planned_on) == []
        browser, address = browse("tomas"), f"/cases/{chair.case_id}/sessions/new"
        assert "The evening before" in browser.get(address).text
        bare = browser.post(address, data=at.start_form(chair))
        assert bare.status_code == 422
        assert "not asked again today" in bare.text
        assert browser.post(address, data=at.start_form(chair, is_same="yes")).status_code == 303
    session = at.session_of(service, 1)
    assert "answers of last evening were read" in session.reaffirmed
    assert session.submission_id == 3


def test_a_zone_that_the_questions_were_not_about_is_not_started(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew, healthy(healthy_scar("s1"), healthy_scar("s2")))
    second = placed(service, chair.course, "s2", label="Second")
    at.permit(service, chair.course, second)
    assert codes(service, second) == ["rescreening"]
    assert codes(service, chair.zone_id) == []  # and the other stays as it was cleared


def test_a_whole_form_that_is_too_old_is_asked_again(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    year = date(2027, 3, 16)
    assert "intake_old" not in codes(service, chair.zone_id, year)
    assert "intake_old" in codes(service, chair.zone_id, year + timedelta(days=1))


def test_a_permission_that_nobody_confirmed_on_site_starts_nothing() -> None:
    facts = StartFacts((ON, ON, ON), has_permission=True, is_confirmed=False, said="none")
    assert [item.code for item in start_check(facts, ON, "full").missing] == ["site_check", "rescreening"]
