from datetime import UTC, date, datetime, timedelta

import pytest
from sqlmodel import Session, select

from app.demo.cast import Crew
from app.messages import actions, queries
from app.messages.models import PlannedMessage
from app.platform.audit import SYSTEM, AuditEntry
from app.platform.service import Service
from tests.healing.people import add_case

DAY = date(2026, 3, 20)


def plan(db: Session, client_id: int, key: str, on: date = DAY, *, template: str = "check_in",
         course: str = "course/1") -> PlannedMessage:
    return actions.plan(db, unique_key=key, client_id=client_id, template=template, purpose="aftercare", subject_id=1,
                        due_on=on, time_zone="Europe/Dublin", opens_at="09:00", course_key=course, by=SYSTEM)


@pytest.fixture
def client_id(service: Service, crew: Crew) -> int:
    with service.database.write() as db:
        return add_case(db, crew).client_id


def days(service: Service, client_id: int) -> dict[str, date]:
    with service.database.read() as db:
        return {row.unique_key: row.due_on for row in queries.planned_for(db, client_id)}


def test_a_message_is_planned_once_for_its_key_and_audited(service: Service, client_id: int) -> None:
    for _ in range(2):
        with service.database.write() as db:
            plan(db, client_id, "a")
    assert days(service, client_id) == {"a": DAY}
    with service.database.read() as db:
        entry = db.exec(select(AuditEntry).where(AuditEntry.action == "messages.message.planned")).first()
        assert entry is not None
        assert entry.subject == "planned_messages/1"


def test_a_client_is_written_to_once_a_day_over_all_courses(service: Service, client_id: int) -> None:
    with service.database.write() as db:
        plan(db, client_id, "a")
        plan(db, client_id, "b", course="course/2")
        plan(db, client_id, "c", course="course/3")
    assert days(service, client_id) == {"a": DAY, "b": DAY + timedelta(days=1), "c": DAY + timedelta(days=2)}


def test_what_can_wait_gives_way_to_what_cannot(service: Service, client_id: int) -> None:
    with service.database.write() as db:
        plan(db, client_id, "photo", template="provisional_photo")
        plan(db, client_id, "review", DAY + timedelta(days=1), template="review_booking")
        plan(db, client_id, "check")
    assert days(service, client_id) == {
        "check": DAY, "review": DAY + timedelta(days=1), "photo": DAY + timedelta(days=2)}  # fmt: skip


def test_two_clients_may_be_written_to_on_one_day(service: Service, crew: Crew, client_id: int) -> None:
    with service.database.write() as db:
        other = add_case(db, crew, name="Ada Byrne").client_id
        plan(db, client_id, "a")
        assert plan(db, other, "b").due_on == DAY


def test_a_cancelled_course_frees_its_days_and_leaves_the_others(service: Service, client_id: int) -> None:
    with service.database.write() as db:
        plan(db, client_id, "a")
        plan(db, client_id, "b", course="course/2")
        actions.cancel(db, "course/1", by=SYSTEM)
        assert plan(db, client_id, "c").due_on == DAY
    assert set(days(service, client_id)) == {"b", "c"}


@pytest.mark.parametrize(("day", "opens_at", "utc"), [
    (date(2026, 3, 28), "09:00", datetime(2026, 3, 28, 9, tzinfo=UTC)),   # winter time
    (date(2026, 3, 29), "09:00", datetime(2026, 3, 29, 8, tzinfo=UTC)),   # the clocks went forward that night
    (date(2026, 10, 24), "09:00", datetime(2026, 10, 24, 8, tzinfo=UTC)),
    (date(2026, 10, 25), "09:00", datetime(2026, 10, 25, 9, tzinfo=UTC)),  # and back
    (date(2026, 3, 29), "01:30", datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),  # an hour that does not exist: 02:30
    (date(2026, 10, 25), "01:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),  # one that comes twice: the first
])  # fmt: skip
def test_the_opening_hour_is_the_studios_on_both_sides_of_a_change_of_clocks(
    day: date, opens_at: str, utc: datetime
) -> None:
    assert actions.opening(day, opens_at, "Europe/Dublin") == utc
