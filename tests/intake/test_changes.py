"""Answers that change, put right by an artist or given again: what is shown, and what goes on to hold."""

import json
from datetime import date
from typing import Any

from sqlmodel import select

from app.demo.cast import Crew
from app.intake import actions, queries
from app.intake.models import Finding, Screening, Submission
from app.intake.visit_list import VISIT_SET
from app.platform import clock
from app.platform.audit import Actor, entry
from app.platform.service import Service
from app.studio.country import country_pack
from tests.intake.course import ON, Browse, Course, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy, healthy_scar
from tests.intake.test_letters import AGREES, asked, grade

JUNE = date(2026, 6, 10)


def screening_of(service: Service, screening_id: int) -> Screening:
    with service.database.read() as db:
        return db.get_one(Screening, screening_id)


def put_right(service: Service, course: Course, screening_id: int, **changes: Any) -> int:
    with service.database.write() as db:
        screening = db.get_one(Screening, screening_id)
        told, _ = queries.told_of(db, db.get_one(Submission, screening.submission_id))
        newer = actions.put_right(db, screening, {**told, **changes}, "The client rang.", country=country_pack("IE"),
                                  on=ON, by=course.by)  # fmt: skip
        return newer.id or 0


def visited(service: Service, course: Course, screening_id: int, **answers: Any) -> int:
    """The short questions, sent by the client; the id of their screening."""
    plain = {"visit_healed": "no_session", "pregnant": "no", "visit_diagnosis": "no", "visit_medicine": "no",
             "vaccinated": "no", "ill": "no", "herpes_now": "no", "visit_affected": "no"}  # fmt: skip
    scar = {"id": "s1", "open": "no", "sun": "no", "tan_left": "no", "self_tan": "no", "procedures": ["none"]}
    with service.database.write() as db:
        base = db.get_one(Screening, screening_id).submission_id
        with entry(db, "intake.submission.asked", course.by):
            form = Submission(case_id=course.case_id, questions_version=VISIT_SET.version, asked_at=clock.now(),
                              kind="visit", base_id=base)  # fmt: skip
            db.add(form)
            db.flush()
        newer = actions.submit(db, form, {**plain, "scars": [scar], **answers}, country=country_pack("IE"), on=ON,
                               typed_name="Robin Ash", by=Actor("client", course.client_id))  # fmt: skip
        return newer.id or 0


def test_an_answer_is_put_right_on_its_page_and_everything_is_screened_anew(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    first = submitted(service, course, healthy(epilepsy="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, first)
    browser = browse("tomas")
    pages = browser.get(f"/screenings/{first}/answers/new").text
    assert "Your health" in pages
    address = next(
        part.split('"')[0]
        for part in pages.split(f"/screenings/{first}/answers/new?page=")[1:]
        if "pilepsy" in browser.get(f"/screenings/{first}/answers/new?page={part.split(chr(34))[0]}").text
    )
    page = browser.get(f"/screenings/{first}/answers/new?page={address}").text
    shown = [part.split('"')[0] for part in page.split('name="shown" value="')[1:]]
    plain = {name: "no" for name in shown if healthy().get(name) == "no"}
    data: dict[str, Any] = {"page": address, "shown": shown, **plain}
    bare = browser.post(f"/screenings/{first}/answers", data=data)
    assert bare.status_code == 422
    assert "f_why_error" in bare.text
    same = browser.post(f"/screenings/{first}/answers", data={**data, "epilepsy": "yes", "why": "No reason."})
    assert same.status_code == 422
    more = browser.post(f"/screenings/{first}/answers", data={**data, "diabetes": "yes", "why": "The client rang."})
    assert more.status_code == 422
    assert "a little more to ask" in more.text
    answer = browser.post(f"/screenings/{first}/answers", data={**data, "why": "The client mixed two questions up."})
    assert answer.status_code == 303, answer.text
    newer = answer.headers["location"]
    text = browser.get(newer).text
    assert "What changed" in text
    assert "The client mixed two questions up." in text
    assert "Epilepsy" in text
    assert grade(service, zone) == 0
    assert browser.get(f"/screenings/{first}/answers/new").headers["location"] == f"{newer}/answers/new"
    assert browser.post(f"/screenings/{first}/answers", data=data).status_code == 404
    assert {"intake.answer.changed", "intake.submission.submitted"} <= set(trail(service))
    with service.database.read() as db:
        row = db.exec(select(Submission).where(Submission.kind == "change")).one()
    assert (row.changed_by, row.why, row.signature_id) == (crew.tomas.id, "The client mixed two questions up.", None)


def test_what_has_come_gone_and_moved_is_kept_with_the_newer_screening(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    first = submitted(service, course, healthy(healthy_scar(happened="2025-06-10"), epilepsy="yes"))
    scar = healthy_scar(happened="2025-08-10")
    newer = screening_of(service, put_right(service, course, first, epilepsy="no", pacemaker="yes", scars=[scar]))
    kept = json.loads(newer.changes)
    assert newer.previous_id == first
    assert [one["rule"] for one in kept["come"]] == ["pacemaker"]
    assert [one["rule"] for one in kept["gone"]] == ["epilepsy"]
    assert [(one["rule"], one["before"], one["after"]) for one in kept["moved"]] == [
        ("scar_age", "2026-06-10", "2026-08-10")
    ]
    assert {one["key"] for one in kept["answers"]} == {"epilepsy", "pacemaker", "scar.happened"}
    assert newer.decision == ""


def test_more_than_two_years_ago_counts_from_the_day_it_was_said(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    first = submitted(service, course, healthy(healthy_scar(happened="2023")), on=date(2026, 1, 5))
    scar = healthy_scar(happened="more_than_2_years")
    middle = screening_of(service, put_right(service, course, first, epilepsy="yes"))
    with service.database.read() as db:
        old = db.get_one(Submission, middle.submission_id)
        assert json.loads(old.answers)["answered_on"] == "2026-01-05"
    second = screening_of(service, put_right(service, course, first + 1, scars=[scar]))
    with service.database.read() as db:
        assert json.loads(db.get_one(Submission, second.submission_id).answers)["answered_on"] == ON.isoformat()


def test_a_lift_is_carried_over_while_its_proof_holds_and_the_answer_is_of_the_same_kind(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    first = submitted(service, course, healthy(blood_infection="prefer_not", heart="yes"))
    zone = placed(service, course, "s1")
    with service.database.read() as db:
        heart = next(row for row in queries.findings_of(db, first) if row.rule.startswith("heart"))
        talk = next(row for row in queries.findings_of(db, first) if row.kind == "talk")
    browser = browse("tomas")
    spoken = {"proof": "talk", "seen_on": "2026-03-16", "reason": "We talked."}
    assert browser.post(f"/findings/{talk.id}/lifting", data=spoken).status_code == 303
    browser.post(asked(browser, first, heart.rule) + "/answer", data=AGREES)
    decided(service, course, first)
    assert grade(service, zone) == 3
    second = submitted(service, course, healthy(blood_infection="prefer_not", heart="yes"))
    decided(service, course, second)
    assert grade(service, zone) == 3
    with service.database.read() as db:
        carried = db.exec(select(Finding).where(Finding.screening_id == second, Finding.rule == talk.rule)).one()
    assert carried.carried_from == talk.id
    # Now it is known to be so: neither the talk about a withheld answer nor its lift speaks to that.
    third = submitted(service, course, healthy(blood_infection="yes", heart="dont_know"))
    decided(service, course, third)
    assert grade(service, zone) == 0


def test_nothing_new_before_a_visit_takes_over_the_decision(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    first = submitted(service, course, healthy(healthy_scar(happened="2025-06-10")))
    zone = placed(service, course, "s1")
    decided(service, course, first, reason="Pale and flat.", passed=["scar_age/s1"])
    second = screening_of(service, visited(service, course, first))
    assert (second.decision, second.decided_by, second.passed) == ("accepted", course.by.id, '["scar_age/s1"]')
    assert second.reason == "Nothing new since the answers of 16 March 2026. Then: Pale and flat."
    assert grade(service, zone) == 3


def test_anything_new_before_a_visit_waits_for_a_decision(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    first = submitted(service, course)
    zone = placed(service, course, "s1")
    decided(service, course, first)
    second = screening_of(service, visited(service, course, first, visit_medicine="yes"))
    assert second.decision == ""
    assert [one["rule"] for one in json.loads(second.changes)["come"]] == ["visit_medicine"]
    assert grade(service, zone) == 0


def test_an_undecided_form_is_not_decided_by_a_visit(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    first = submitted(service, course)
    assert screening_of(service, visited(service, course, first)).decision == ""
