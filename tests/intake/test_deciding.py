from datetime import date

from app.demo.cast import Crew
from app.intake import actions, queries
from app.intake.models import Screening, Submission
from app.platform.service import Service
from app.records import actions as records
from app.records.models import Zone
from app.studio.access import Who
from tests.intake.course import ON, Browse, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy, healthy_scar

REASON_WORDS = ("keloid", "diabetes", "Scar is young", "isotretinoin", "letter", "cancer")


def grade(service: Service, zone_id: int, on: date = ON) -> int:
    with service.database.read() as db:
        return queries.grade_on(db, zone_id, on)


def desk_line(service: Service, case_id: int, on: date = ON) -> str:
    with service.database.read() as db:
        return queries.desk_line(db, case_id, on)


def test_accepting_clears_each_zone_of_a_screened_scar(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course)
    zone = placed(service, course, "s1")
    assert grade(service, zone) == 0
    answer = browse("tomas").post(f"/screenings/{screening_id}/decision", data={"decision": "accepted"})
    assert answer.headers["location"] == f"/screenings/{screening_id}"
    assert grade(service, zone) == 3
    assert "intake.screening.decided" in trail(service)
    assert "Accepted" in browse("owner").get(f"/screenings/{screening_id}").text


def test_who_did_not_see_the_decision_of_another_does_not_write_over_it(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    address = f"/screenings/{submitted(service, course)}"
    undecided = {"decision": "accepted", "seen": ""}
    first = {"decision": "declined", "reason": "We spoke; not now.", "seen": ""}
    assert browse("owner").post(f"{address}/decision", data=first).status_code == 303
    late = browse("tomas").post(f"{address}/decision", data=undecided)
    assert late.status_code == 422
    assert "Somebody decided meanwhile" in late.text
    seen = late.text.partition('name="seen" value="')[2].partition('"')[0]
    assert browse("tomas").post(f"{address}/decision", data={**undecided, "seen": seen}).status_code == 303


def test_a_screening_names_the_rules_and_questions_it_was_made_from(
    service: Service, crew: Crew, browse: Browse
) -> None:
    screening_id = submitted(service, open_course(service, crew))
    with service.database.read() as db:
        screening = db.get_one(Screening, screening_id)
        questions = db.get_one(Submission, screening.submission_id).questions_version
    page = browse("tomas").get(f"/screenings/{screening_id}").text
    assert screening.rule_set_hash in page
    assert questions in page


def test_a_rule_about_one_scar_does_not_hold_another_zone(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(
        service, course, healthy(healthy_scar("s1", keloid="yes", another="yes"), healthy_scar("s2"))
    )
    kept, free = placed(service, course, "s1"), placed(service, course, "s2", label="Knee")
    decided(service, course, screening_id)
    assert (grade(service, kept), grade(service, free)) == (0, 3)


def test_a_zone_of_two_scars_may_have_the_least_of_both(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(
        service, course, healthy(healthy_scar("s1", thin="yes", another="yes"), healthy_scar("s2"))
    )
    zone = placed(service, course, "s1", "s2")
    decided(service, course, screening_id)
    assert grade(service, zone) == 2


def test_a_zone_placed_later_is_graded_when_it_is_placed(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    decided(service, course, submitted(service, course))
    assert grade(service, placed(service, course, "s1")) == 3
    assert grade(service, placed(service, course, label="Not declared")) == 0
    with service.database.write() as db:
        zone = records.finish_zone(db, db.get_one(Zone, 1), ON, by=course.by)
        before = queries.clearance_of(db, zone.id or 0)
        assert actions.regrade(db, zone, by=course.by) == before


def test_a_wait_clears_from_its_day_and_no_earlier(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    assert grade(service, zone, date(2026, 6, 9)) == 1
    assert grade(service, zone, date(2026, 6, 10)) == 3


def test_going_past_a_wait_needs_a_reason_and_is_kept(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    zone = placed(service, course, "s1")
    address = f"/screenings/{screening_id}/decision"
    past = {"decision": "accepted", "passed": ["scar_age/s1"]}
    page = browse("tomas").post(address, data={**past, "reason": ""})
    assert page.status_code == 422
    assert 'id="f_reason_error"' in page.text
    browse("tomas").post(address, data={**past, "reason": "Pale and flat since January."})
    assert grade(service, zone) == 3
    assert "Pale and flat since January." in browse("tomas").get(f"/screenings/{screening_id}").text
    with service.database.read() as db:
        assert queries.screening_for(db, crew_who(crew), screening_id).passed == '["scar_age/s1"]'
        newest = queries.clearance_of(db, zone)
        assert newest is not None
        assert "gone past" in newest.reasons
    assert "Pale and flat since January." in browse("owner").get("/review").text
    assert "Pale and flat since January." not in browse("ruth").get("/review").text


def test_a_wait_gone_past_before_does_not_stand_against_declining_now(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    address, tomas = f"/screenings/{screening_id}/decision", browse("tomas")
    ticked = {"passed": ["scar_age/s1"], "reason": "Pale and flat since January."}
    assert tomas.post(address, data={"decision": "declined", **ticked}).status_code == 422  # it was ticked just now
    assert tomas.post(address, data={"decision": "accepted", **ticked}).status_code == 303
    assert tomas.post(address, data={"decision": "declined", **ticked}).status_code == 303
    with service.database.read() as db:
        assert queries.screening_for(db, crew_who(crew), screening_id).passed == "[]"


def test_each_wait_is_gone_past_by_itself_and_only_an_open_one(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    scars = healthy_scar("s1", happened="2025-06-10", another="yes"), healthy_scar("s2", happened="2025-08-10")
    screening_id = submitted(service, course, healthy(*scars))
    first, second = placed(service, course, "s1"), placed(service, course, "s2", label="Knee")
    browser, address = browse("tomas"), f"/screenings/{screening_id}/decision"
    past = {"decision": "accepted", "passed": ["scar_age/s1"], "reason": "Pale and flat."}
    for wrong in ({"passed": ["scar_age/s1", "keloid_here/s1"]}, {"decision": "declined"}):
        page = browser.post(address, data={**past, **wrong})
        assert page.status_code == 422
        assert "Pale and flat." in page.text
    assert browser.post(address, data=past).status_code == 303
    assert (grade(service, first), grade(service, second)) == (3, 1)


def crew_who(crew: Crew) -> Who:
    return Who(crew.tomas.id or 0, "Tomas", "artist", 1)


def test_nobody_goes_below_a_floor(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(isotretinoin="yes", isotretinoin_on="2026-01-10"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id, reason="The prescriber was asked.", passed=["isotretinoin"])
    assert grade(service, zone, date(2026, 7, 9)) == 0
    assert grade(service, zone, date(2026, 7, 10)) == 3


def test_what_the_law_bars_cannot_be_accepted(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(born_on="2010-05-14"))
    zone = placed(service, course, "s1")
    page = browse("owner").post(
        f"/screenings/{screening_id}/decision", data={"decision": "accepted", "reason": "Parents agree."}
    )
    assert page.status_code == 422
    assert grade(service, zone) == 0


def test_waiting_and_declining_need_their_reason_and_day(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    address = f"/screenings/{submitted(service, course)}/decision"
    browser = browse("tomas")
    assert browser.post(address, data={"decision": "declined"}).status_code == 422
    assert browser.post(address, data={}).status_code == 422
    page = browser.post(address, data={"decision": "wait", "reason": "After the summer.", "wait_until": "2026-03-16"})
    assert page.status_code == 422
    assert "After the summer." in page.text
    waits = {"decision": "wait", "reason": "After the summer.", "wait_until": "2026-09-01"}
    assert browser.post(address, data=waits).status_code == 303
    assert desk_line(service, course.case_id) == "Not before 1 September 2026."
    assert browser.post(address, data={"decision": "declined", "reason": "Not here."}).status_code == 303
    assert desk_line(service, course.case_id) == "Ask the artist."


def test_declining_after_accepting_takes_the_clearance_back(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course)
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    decided(service, course, screening_id, "declined", "New facts.")
    assert grade(service, zone) == 0


def test_newer_answers_hold_a_zone_until_they_are_decided_on(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    first = submitted(service, course)
    zone = placed(service, course, "s1")
    decided(service, course, first)
    second = submitted(service, course)
    assert grade(service, zone) == 0
    assert browse("tomas").post(f"/screenings/{first}/decision", data={"decision": "accepted"}).status_code == 422
    decided(service, course, second)
    assert grade(service, zone) == 3


def test_the_sheet_shows_findings_with_reason_source_and_day(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10"), diabetes="yes"))
    page = browse("tomas").get(f"/screenings/{screening_id}").text
    assert "Healing may be slow." in page
    assert "hospital manual" in page
    assert "Clear from 10 June 2026." in page
    assert "Do you have diabetes?" in page


def test_the_desk_and_strangers_find_no_screening(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    screening_id = submitted(service, course)
    for who in ("desk", "ruth"):
        assert browse(who).get(f"/screenings/{screening_id}").status_code == 404
        assert (
            browse(who).post(f"/screenings/{screening_id}/decision", data={"decision": "accepted"}).status_code == 404
        )
        assert browse(who).get("/findings/1/lifting").status_code == 404


def test_the_desk_reads_when_and_never_why(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    placed(service, course, "s1")
    assert desk_line(service, course.case_id) == "Ask the artist."
    decided(service, course, screening_id)
    line = desk_line(service, course.case_id)
    assert line == "Not before 10 June 2026; an allergy patch may be booked now."
    assert not any(word.lower() in line.lower() for word in REASON_WORDS)
    assert desk_line(service, course.case_id, date(2026, 6, 10)) == ""


def test_the_desk_reads_no_date_of_a_sensitive_wait(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(cancer_before="yes", cancer_before_on="2026-01"))
    decided(service, course, screening_id, "wait", "Spoken to.", wait_until=date(2026, 9, 1))
    assert desk_line(service, course.case_id) == "Ask the artist."
