import json
from datetime import timedelta
from typing import Any

from sqlmodel import select

from app.demo.cast import Crew
from app.healing import queries as healing
from app.healing.models import Course, CourseZone
from app.intake import queries as intake
from app.intake.models import Evidence
from app.platform import clock
from app.platform.service import Service
from app.sessions import queries
from app.sessions.models import WorkSession
from app.studio.access import Who
from tests.conftest import NOW
from tests.intake.course import ON, Browse, open_course, placed, submitted
from tests.sessions import chair as at

OWNER = Who(1, "Ines", "owner", 1)


def courses(service: Service) -> list[Course]:
    with service.database.read() as db:
        return list(db.exec(select(Course).order_by(Course.id)).all())  # type: ignore[arg-type]  # SQL


def whole(chair: at.Chair, **changes: Any) -> dict[str, Any]:
    z = f"z{chair.zone_id}_"
    return {
        "kind": "full",
        "state": "finished",
        "artist_id": str(chair.course.by.id),
        "worked_on": ON.isoformat(),
        "zones": [str(chair.zone_id)],
        z + "needle": "5 round",
        z + "device_unit": "V",
        z + "no_pigment": "yes",
        z + "techniques": ["dots"],
        z + "redness": "1",
        "i1_kind": "needle",
        "i1_label": "5 round",
        "i1_lot": "N-77",
        "said_again": "yes",
        **changes,
    }


def test_finishing_asks_only_for_what_is_missing_and_begins_the_healing_with_the_lots(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    page = browser.get(f"/sessions/{session_id}/finish").text
    assert "The needle and its lot" in page
    assert "The pigments of Forearm" in page
    sent = {"needle_label": "7 round", "needle_lot": "C-9", f"zone_{chair.zone_id}_no_pigment": "yes"}
    assert browser.post(f"/sessions/{session_id}/finish", data=sent).status_code == 303
    course = courses(service)[0]
    assert (course.work, course.worked_on, course.session_key) == ("full", ON, f"sessions/{session_id}")
    assert json.loads(course.lots) == [{"label": "7 round", "lot": "C-9"}]
    with service.database.read() as db:
        clocks = healing.clocks_of(db, chair.zone_id)
        assert clocks is not None
        assert clocks.floor_on == ON + timedelta(weeks=4)
        assert queries.missing_records(db, OWNER) == []
        assert [row.id for row, _ in queries.sessions_on_zone(db, chair.zone_id)] == [session_id]
    assert at.session_of(service, session_id).state == "finished"
    assert "sessions.session.finished" in at.trail(service)
    record = browser.get(f"/sessions/{session_id}/record").text
    assert "No pigment used." in record
    assert "C-9" in record


def test_what_stays_blank_goes_on_the_follow_up_list(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew, is_restricted=True)
    session_id = at.started(service, chair)
    assert browse("tomas").post(f"/sessions/{session_id}/finish", data={}).status_code == 303
    with service.database.read() as db:
        (missing,) = queries.missing_records(db, OWNER)
        assert [gap.about for gap in missing.gaps] == ["needle", "zone"]
        assert queries.missing_records(db, Who(crew.ruth.id or 0, "Ruth", "artist", 1)) == []


def test_unreadable_is_an_answer(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id = at.started(service, chair)
    zone = f"zone_{chair.zone_id}"
    too_long = {"needle_label": "n" * 121, "needle_lot": "kept"}
    wrong = browse("tomas").post(f"/sessions/{session_id}/finish", data=too_long)
    assert wrong.status_code == 422
    assert 'value="kept"' in wrong.text
    browse("tomas").post(
        f"/sessions/{session_id}/finish", data={"needle_lot_unreadable": "yes", f"{zone}_lot_unreadable": "yes"}
    )
    with service.database.read() as db:
        assert queries.missing_records(db, OWNER) == []
    assert json.loads(courses(service)[0].lots)[0] == {"label": "Needle", "lot": "unreadable"}


def test_stopped_before_work_begins_no_healing_and_needs_no_lot(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    assert browser.post(f"/sessions/{session_id}/stop", data={"reason": "", "before_work": "yes"}).status_code == 422
    sent = {"reason": "A cold sore.", "before_work": "yes"}
    assert browser.post(f"/sessions/{session_id}/stop", data=sent).status_code == 303
    assert courses(service) == []
    with service.database.read() as db:
        assert queries.missing_records(db, OWNER) == []
        assert queries.sessions_on_zone(db, chair.zone_id) == []
    assert "A cold sore." in browser.get(f"/sessions/{session_id}/record").text


def test_a_session_that_was_stopped_heals_like_any_other(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id = at.started(service, chair)
    browse("tomas").post(f"/sessions/{session_id}/stop", data={"reason": "Felt faint."})
    assert at.session_of(service, session_id).state == "stopped"
    assert len(courses(service)) == 1


def test_a_zone_that_was_not_touched_gets_no_clock(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    at.tap(browser, session_id, "is_untouched", "yes", zone=chair.zone_id)
    assert browser.post(f"/sessions/{session_id}/finish", data={}).status_code == 422
    assert courses(service) == []


def test_recording_is_never_refused_and_breaches_are_listed(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course)
    chair, browser = at.Chair(course, placed(service, course, "s1")), browse("tomas")
    address = f"/cases/{course.case_id}/sessions/paper"
    assert browser.get(address).status_code == 200
    sent = whole(chair, worked_on="2026-03-12")
    del sent["said_again"]
    answer = browser.post(address, data=sent)
    assert answer.status_code == 303
    record = browser.get(answer.headers["location"]).text
    assert "What was not met" in record
    assert "Nothing is cleared here" in record
    assert "No permission to treat this zone" in record
    assert "Entered later from paper" in record
    assert "Worked on 12 March 2026" in record
    assert "Entered 16 March 2026" in record
    session = at.session_of(service, 1)
    assert {one["code"] for one in json.loads(session.breaches)} == {
        "clearance", "permission", "rescreening", "not_reaffirmed",
    }  # fmt: skip
    assert courses(service)[0].worked_on.isoformat() == "2026-03-12"
    assert "sessions.session.recorded" in at.trail(service)


def test_later_work_is_no_breach_of_earlier_work(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    at.recorded(service, chair, ON)
    earlier = at.recorded(service, chair, ON - timedelta(days=100))
    assert "floor" not in {one["code"] for one in json.loads(at.session_of(service, earlier).breaches)}
    soon = at.recorded(service, chair, ON - timedelta(days=90))
    assert "floor" in {one["code"] for one in json.loads(at.session_of(service, soon).breaches)}


def test_a_wrong_page_keeps_what_was_typed(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    z = f"z{chair.zone_id}_"
    sent = whole(chair, worked_on="someday", i2_label="Umber", **{z + "bleeding": "7", z + "note": "kept words"})
    page = browse("tomas").post(f"/cases/{chair.case_id}/sessions/paper", data=sent)
    assert page.status_code == 422
    for words in (
        "kept words",
        'value="someday"',
        'value="Umber"',
        f'id="f_{z}bleeding_error"',
        'id="f_i2_label_error"',
    ):
        assert words in page.text
    later = browse("tomas").post(f"/cases/{chair.case_id}/sessions/paper", data=whole(chair, worked_on="2026-03-17"))
    assert later.status_code == 422
    assert "still to come" in later.text


def test_a_correction_is_a_new_version_and_both_stay_visible(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    browser.post(
        f"/sessions/{session_id}/finish", data={f"zone_{chair.zone_id}_no_pigment": "yes", "needle_label": "5 round"}
    )
    form = browser.get(f"/sessions/{session_id}/correction").text
    assert 'value="5 round"' in form
    assert browser.post(f"/sessions/{session_id}/correction", data=whole(chair)).status_code == 422
    answer = browser.post(f"/sessions/{session_id}/correction", data=whole(chair, why="The box was found."))
    assert answer.headers["location"] == "/sessions/2/record"
    record, before = browser.get("/sessions/2/record").text, browser.get("/sessions/1/record").text
    assert "The box was found." in record
    assert "N-77" in record
    assert "This version was corrected" in before
    assert "N-77" not in before
    with service.database.read() as db:
        assert [row.id for row in queries.sessions_of(db, chair.case_id)] == [2]
        assert [row.id for row, _ in queries.sessions_on_zone(db, chair.zone_id)] == [2]
        assert queries.missing_records(db, OWNER) == []
    (course,) = courses(service)
    assert json.loads(course.lots) == [{"label": "5 round", "lot": "N-77"}]
    again = browser.post(f"/sessions/{session_id}/correction", data=whole(chair, why="once more"))
    assert again.status_code == 422
    assert "corrected already" in again.text
    assert (
        browser.post("/sessions/2/correction", data=whole(chair, why="once more")).headers["location"]
        == "/sessions/3/record"
    )
    assert at.trail(service).count("sessions.session.corrected") == 2


def test_a_corrected_day_moves_the_clocks(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    at.recorded(service, chair, ON)
    sent = whole(chair, worked_on="2026-03-02", why="The day was misread.")
    assert browse("tomas").post("/sessions/1/correction", data=sent).status_code == 303
    with service.database.read() as db:
        (clocks,) = db.exec(select(CourseZone)).all()
        assert clocks.floor_on == (ON - timedelta(days=14)) + timedelta(weeks=4)
    assert [course.ended_at is None for course in courses(service)] == [False, True]
    assert "floor" not in at.session_of(service, 2).breaches


def test_a_patch_is_read_from_the_day_after_and_its_result_grades(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair, kind="allergy_patch"), browse("tomas")
    browser.post(f"/sessions/{session_id}/finish", data={f"zone_{chair.zone_id}_no_pigment": "yes"})
    address = f"/sessions/{session_id}/reading-of-patch"
    early = browser.post(address, data={"result": "clear"})
    assert early.status_code == 422
    assert "17 March 2026" in early.text
    with service.database.read() as db:
        assert [one.session.id for one in queries.unread_patches(db, OWNER)] == [session_id]
    with clock.stopped_at(NOW + timedelta(days=2)):
        browser = browse("tomas")
        assert browser.post(address, data={"result": "looks fine"}).status_code == 422
        assert browser.post(address, data={"result": "reaction"}).status_code == 303
        with service.database.read() as db:
            row = db.exec(select(Evidence).where(Evidence.source_key == f"sessions/{session_id}")).one()
            assert (row.kind, row.result, row.placed_on) == ("allergy_patch", "reacted", ON)
            assert intake.grade_on(db, chair.zone_id, ON + timedelta(days=2)) < 3
            assert queries.unread_patches(db, OWNER) == []
        assert "A reaction" in browser.get(f"/sessions/{session_id}/record").text
    assert "sessions.patch.read" in at.trail(service)


def test_a_spot_is_not_read_before_its_clock(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.recorded(service, chair, ON, kind="test_spot"), browse("tomas")
    address = f"/sessions/{session_id}/reading-of-patch"
    assert browser.post(address, data={"result": "clear"}).status_code == 422
    with service.database.read() as db:
        clocks = healing.clocks_of(db, chair.zone_id)
        assert clocks is not None
    with clock.stopped_at(NOW + (clocks.judge_on - ON)):
        assert browse("tomas").post(address, data={"result": "clear"}).status_code == 303
    assert browser.post("/sessions/999/reading-of-patch", data={"result": "clear"}).status_code == 404


def test_full_work_has_no_patch_to_read(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id = at.recorded(service, chair, ON - timedelta(days=3))
    answer = browse("tomas").post(f"/sessions/{session_id}/reading-of-patch", data={"result": "clear"})
    assert answer.status_code == 422
    with service.database.read() as db:
        assert db.get_one(WorkSession, session_id).state == "finished"
