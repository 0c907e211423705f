import json
import uuid
from datetime import timedelta

from app.demo.cast import Crew
from app.platform import clock
from app.platform.service import Service
from tests.conftest import NOW
from tests.intake.course import ON, Browse
from tests.sessions import chair as at


def test_the_strip_says_who_which_side_and_what_must_not_be_forgotten(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = at.cleared(service, crew)
    page = browse("tomas").get(f"/sessions/{at.started(service, chair)}").text
    strip = page.split("</header>")[0]
    assert "R. A., 35" in strip
    assert "client’s LEFT forearm" in strip
    assert "no figure is suggested here" in page


def test_every_tap_is_kept_at_once(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    for name, value in (
        ("first_dots", "too_strong"),
        ("redness", "2"),
        ("bleeding", "1"),
        ("sensitivity", "10"),
        ("passes", "2"),
        ("hang_mm", "1.2"),
        ("configuration", "7 round shader"),
        ("device_unit", "Hz"),
        ("techniques", "dots"),
        ("techniques", "loops"),
        ("note", "dense near the edge"),
    ):
        assert at.tap(browser, session_id, name, value, zone=chair.zone_id).status_code == 204, name
    at.tap(browser, session_id, "techniques", "dots", zone=chair.zone_id, on="0")
    work = at.work_of(service, session_id)
    assert (work.first_dots, work.redness, work.bleeding, work.sensitivity, work.passes) == ("too_strong", 2, 1, 10, 2)
    assert (work.hang_mm, work.needle, work.device_unit, work.note) == (
        1.2,
        "7 round shader",
        "Hz",
        "dense near the edge",
    )
    assert json.loads(work.techniques) == ["loops"]
    page = browser.get(f"/sessions/{session_id}").text
    assert "too dark is worse than too light" in page
    assert at.trail(service).count("sessions.sheet.tapped") == 12


def test_a_tap_sent_twice_is_stored_once(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser, one = at.started(service, chair), browse("tomas"), str(uuid.uuid4())
    assert at.tap(browser, session_id, "redness", "1", zone=chair.zone_id, tap_id=one).status_code == 204
    at.tap(browser, session_id, "redness", "3", zone=chair.zone_id)
    assert at.tap(browser, session_id, "redness", "1", zone=chair.zone_id, tap_id=one.upper()).status_code == 204
    assert at.work_of(service, session_id).redness == 3


def test_of_two_taps_that_come_in_late_the_later_one_counts(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    at.tap(browser, session_id, "bleeding", "2", zone=chair.zone_id, tapped_at="2026-03-16T09:30:00Z")
    at.tap(browser, session_id, "bleeding", "0", zone=chair.zone_id, tapped_at="2026-03-16T09:10:00Z")
    at.tap(browser, session_id, "redness", "1", zone=chair.zone_id, tapped_at="2026-03-16T09:10:00Z")
    work = at.work_of(service, session_id)
    assert (work.bleeding, work.redness) == (2, 1)


def test_a_clock_that_runs_ahead_does_not_lock_an_entry(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    at.tap(browser, session_id, "redness", "1", zone=chair.zone_id, tapped_at="2031-01-01T00:00:00Z")
    with clock.stopped_at(NOW + timedelta(minutes=1)):
        at.tap(browser, session_id, "redness", "2", zone=chair.zone_id, tapped_at="2026-03-16T10:01:00Z")
    assert at.work_of(service, session_id).redness == 2


def test_needle_time_runs_and_rests(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    at.tap(browser, session_id, "needle", "0")
    with clock.stopped_at(NOW + timedelta(minutes=7, seconds=5)):
        assert "7:05 at work" in browser.get(f"/sessions/{session_id}").text
        at.tap(browser, session_id, "needle", "425", on="0", tapped_at="2026-03-16T10:07:05Z")
    with clock.stopped_at(NOW + timedelta(minutes=30)):
        assert "7:05 worked" in browser.get(f"/sessions/{session_id}").text
        at.finished(service, session_id)
    assert at.session_of(service, session_id).needle_minutes == 7


def test_what_the_sheet_does_not_know_is_refused(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    for name, value in (
        ("bleeding", "4"),
        ("hang_mm", "deep"),
        ("techniques", "carving"),
        ("state", "finished"),
        ("needle", "-1"),
    ):
        assert at.tap(browser, session_id, name, value, zone=chair.zone_id).status_code == 422, name
    assert at.tap(browser, session_id, "redness", "1", zone=chair.zone_id, tap_id="one").status_code == 422
    assert at.tap(browser, session_id, "redness", "1", zone=999).status_code == 404
    assert at.work_of(service, session_id).bleeding is None


def test_the_sheet_works_without_scripts(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    address = f"/sessions/{session_id}/sheet?zone={chair.zone_id}"
    hand = {"part": "hand", "configuration": "3 round", "device_setting": "7.0", "device_unit": "V", "hang_mm": "0.8"}
    assert browser.post(address, data=hand).status_code == 303
    done = {
        "part": "work",
        "first_dots": "holding",
        "techniques": ["dots", "whip"],
        "redness": "1",
        "note": "fine",
        "passes": "",
    }
    assert browser.post(address, data=done).status_code == 303
    work = at.work_of(service, session_id)
    assert (work.needle, work.hang_mm, work.first_dots, work.passes) == ("3 round", 0.8, "holding", None)
    assert json.loads(work.techniques) == ["dots", "whip"]
    wrong = browser.post(address, data={**hand, "hang_mm": "deep", "device": "my own device"})
    assert wrong.status_code == 422
    assert 'value="deep"' in wrong.text
    assert 'value="my own device"' in wrong.text


def test_an_item_is_copied_from_the_shelf_with_its_lot(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    needle = at.shelved(service, crew, expires_on="2028-05-31")
    session_id, browser = at.started(service, chair), browse("tomas")
    form = {"tap_id": str(uuid.uuid4()), "shelf_id": str(needle)}
    for _ in range(2):
        assert browser.post(f"/sessions/{session_id}/items?zone={chair.zone_id}", data=form).status_code == 303
    item = at.items(service, session_id)[0]
    assert len(at.items(service, session_id)) == 1
    assert (item.label, item.lot, item.item_id, item.caution) == ("7 round shader", "C-2291", needle, "")
    assert at.work_of(service, session_id).needle == "7 round shader"
    assert "lot C-2291, use by 31 May 2028" in browser.get(f"/sessions/{session_id}").text
    assert browser.post(f"/sessions/{session_id}/items/{item.id}/removal").status_code == 303
    assert at.items(service, session_id) == []


def test_an_expired_item_is_kept_with_a_caution_that_shows(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    old = at.shelved(
        service, crew, kind="antiseptic", label="Skin cleanser", expires_on=(ON - timedelta(days=1)).isoformat()
    )
    session_id, browser = at.started(service, chair), browse("tomas")
    browser.post(
        f"/sessions/{session_id}/items?zone={chair.zone_id}", data={"tap_id": str(uuid.uuid4()), "shelf_id": str(old)}
    )
    assert "Past its date, 15 March 2026" in at.items(service, session_id)[0].caution
    assert "Past its date, 15 March 2026" in browser.get(f"/sessions/{session_id}").text
    at.finished(service, session_id)
    assert "Past its date, 15 March 2026" in browser.get(f"/sessions/{session_id}/record").text


def test_a_typed_item_may_have_an_unreadable_lot_and_numbing_brings_its_caution(
    service: Service, crew: Crew, browse: Browse
) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    address = f"/sessions/{session_id}/items?zone={chair.zone_id}"
    form = {"tap_id": str(uuid.uuid4()), "kind": "numbing", "label": "Cream 4 %", "lot_unreadable": "yes"}
    assert browser.post(address, data={**form, "label": "", "lot": "half-typed"}).status_code == 422
    assert 'value="half-typed"' in browser.post(address, data={**form, "label": "", "lot": "half-typed"}).text
    assert browser.post(address, data=form).status_code == 303
    page = browser.get(f"/sessions/{session_id}").text
    assert "stronger than 4 %" in page
    assert "lot unreadable" in page


def test_no_pigment_used_is_an_answer(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    form = {"tap_id": str(uuid.uuid4()), "on": "1"}
    assert browser.post(f"/sessions/{session_id}/no-pigment?zone={chair.zone_id}", data=form).status_code == 303
    assert at.work_of(service, session_id).no_pigment


def test_a_finished_sheet_takes_no_more_taps(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    session_id, browser = at.started(service, chair), browse("tomas")
    at.finished(service, session_id)
    assert at.tap(browser, session_id, "redness", "1", zone=chair.zone_id).status_code == 409
    assert browser.get(f"/sessions/{session_id}").headers["location"] == f"/sessions/{session_id}/record"
    assert at.work_of(service, session_id).redness is None
