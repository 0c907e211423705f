"""What a wait leaves behind: a neutral word to the client, or, where it must not be written of, a task to speak."""

from datetime import date, timedelta
from typing import Any

from sqlmodel import select

from app.demo.cast import Crew
from app.intake.models import Screening
from app.messages import sending
from app.messages.models import PlannedMessage
from app.platform import clock
from app.platform.audit import entry
from app.platform.service import Service
from app.records import actions as records
from app.records import tasks
from app.records.forms import ChangeClient
from app.records.models import Client, Task, Zone
from app.studio import queries as studio_queries
from app.studio.access import Who
from tests.conftest import NOW
from tests.intake.course import ON, Browse, Course, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy, healthy_scar

YOUNG = healthy_scar(happened="2025-06-10")
JUNE, SEPTEMBER = date(2026, 6, 10), date(2026, 9, 1)


def rows(service: Service, model: type[Any]) -> list[Any]:
    with service.database.read() as db:
        return list(db.exec(select(model).order_by(model.id)).all())


def planned(service: Service) -> list[tuple[str, date]]:
    return [(row.template, row.due_on) for row in rows(service, PlannedMessage) if row.state == "planned"]


def open_tasks(service: Service) -> list[Task]:
    return [row for row in rows(service, Task) if row.done_at is None]


def who(crew: Crew, name: str) -> Who:
    member = {"tomas": crew.tomas, "ruth": crew.ruth, "desk": crew.pia}[name]
    return Who(member.id or 0, member.name, member.role, 1)


def sensitive(service: Service, crew: Crew) -> tuple[Course, int]:
    course = open_course(service, crew)
    return course, submitted(service, course, healthy(cancer_before="yes", cancer_before_on="2026-01"))


def test_a_wait_writes_a_word_for_the_day_it_lifts_and_deciding_anew_cancels_it(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course)
    decided(service, course, screening_id, "wait", "After the summer.", wait_until=SEPTEMBER)
    assert planned(service) == [("wait_over", SEPTEMBER)]
    decided(service, course, screening_id, "wait", "After the summer.", wait_until=SEPTEMBER)
    assert planned(service) == [("wait_over", SEPTEMBER)]
    decided(service, course, screening_id, "declined", "Not here.")
    assert planned(service) == []
    assert open_tasks(service) == []


def test_accepting_with_a_date_to_come_writes_for_that_date_and_going_past_it_does_not(
    service: Service, crew: Crew
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(YOUNG))
    placed(service, course, "s1")
    decided(service, course, screening_id)
    assert planned(service) == [("wait_over", JUNE)]
    decided(service, course, screening_id, reason="Pale and flat.", passed=["scar_age/s1"])
    assert planned(service) == []


def test_a_newer_form_ends_what_the_earlier_decision_planned(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    decided(service, course, submitted(service, course), "wait", "Later.", wait_until=SEPTEMBER)
    submitted(service, course)
    assert planned(service) == []


def test_the_word_is_neutral_and_needs_consent(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course)
    with service.database.write() as db:
        client = db.get_one(Client, course.client_id)
        form = ChangeClient(name="Robin Ash", email="robin@example.org", revision=client.revision)
        records.change_client(db, client, form, by=course.by)
    decided(service, course, screening_id, "wait", "Later.", wait_until=ON + timedelta(days=1))
    with clock.stopped_at(NOW + timedelta(days=1)):
        assert sending.send_due(service) == 0
    row = rows(service, PlannedMessage)[0]
    assert (row.state, "not agreed" in row.fault) == ("cancelled", True)
    with service.database.read() as db:
        studio = studio_queries.studio(db)
        letter = sending._letter(row, db.get_one(Client, course.client_id), studio, "")
    assert "The time we spoke of is over" in letter.text
    assert "/l/" not in letter.text
    for never in ("scar", "wait", "tattoo", "skin", "screening", "date"):
        assert never not in letter.text.lower(), never


def test_a_sensitive_wait_sends_nothing_and_gives_a_task(service: Service, crew: Crew, browse: Browse) -> None:
    course, screening_id = sensitive(service, crew)
    decided(service, course, screening_id, "wait", "Spoken to.", wait_until=SEPTEMBER)
    assert planned(service) == []
    task = open_tasks(service)[0]
    assert (task.due_on, task.kind, task.address) == (SEPTEMBER, "talk", f"/screenings/{screening_id}")
    with service.database.read() as db:
        assert tasks.tasks_due(db, who(crew, "tomas"), SEPTEMBER - timedelta(days=1)) == []
        assert [one.task.id for one in tasks.tasks_due(db, who(crew, "tomas"), SEPTEMBER)] == [task.id]
        assert tasks.tasks_due(db, who(crew, "desk"), SEPTEMBER) == []
    with clock.stopped_at(NOW + timedelta(days=169)):
        browser = browse("tomas")
        assert "a time to wait is over" in browser.get("/today").text
        assert "a time to wait is over" not in browse("desk").get("/today").text
        assert browse("desk").post(f"/tasks/{task.id}/done").status_code == 404
        assert browser.post(f"/tasks/{task.id}/done", data={"words": "Rang, they want to go on."}).status_code == 303
        assert browser.post(f"/tasks/{task.id}/done", data={"words": "Again."}).status_code == 303
    done = rows(service, Task)[0]
    assert (done.done_words, done.done_by) == ("Rang, they want to go on.", crew.tomas.id)
    assert "records.task.finished" in trail(service)


def test_a_sensitive_zone_is_enough_to_send_nothing(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(YOUNG))
    zone_id = placed(service, course, "s1")
    with service.database.write() as db, entry(db, "records.zone.changed", course.by):
        zone = db.get_one(Zone, zone_id)
        zone.is_sensitive = True
        db.add(zone)
    decided(service, course, screening_id)
    assert planned(service) == []
    assert [task.due_on for task in open_tasks(service)] == [JUNE]
    decided(service, course, screening_id, "declined", "Not here.")
    assert open_tasks(service) == []


def test_tasks_of_a_restricted_case_are_for_those_who_may_open_it(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    screening_id = submitted(service, course, healthy(cancer_before="yes", cancer_before_on="2026-01"))
    decided(service, course, screening_id, "wait", "Spoken to.", wait_until=SEPTEMBER)
    task = open_tasks(service)[0]
    assert browse("ruth").post(f"/tasks/{task.id}/done").status_code == 404
    with service.database.write() as db:
        assert tasks.tasks_due(db, who(crew, "ruth"), SEPTEMBER) == []
        loose = tasks.plan_task(db, unique_key="x/1", client_id=course.client_id, case_id=None, kind="call",
                                words="Ring.", address="", due_on=ON, by=course.by)  # fmt: skip
        again = tasks.plan_task(db, unique_key="x/1", client_id=course.client_id, case_id=None, kind="call",
                                words="Other.", address="", due_on=ON, by=course.by)  # fmt: skip
        assert (again.id, again.words) == (loose.id, "Ring.")
        # Of no case, it may be about the restricted one.
        assert tasks.tasks_due(db, who(crew, "ruth"), ON) == []
        assert [one.task.id for one in tasks.tasks_due(db, who(crew, "tomas"), ON)] == [loose.id]
        assert [one.id for one in tasks.tasks_of_case(db, course.case_id)] == [task.id]
        assert db.get_one(Screening, screening_id).wait_until == SEPTEMBER
