import json
import threading
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import select

from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.demo.cast import Crew
from app.healing import actions as healing
from app.healing.models import Course
from app.messages import sending
from app.messages.actions import IMPORTANCE
from app.messages.models import PlannedMessage
from app.messages.sending import LEASE, claim_next, prepare, send_due
from app.platform import clock, links
from app.platform.audit import SYSTEM, AuditEntry
from app.platform.outbox import Letter, NotSent, send
from app.platform.service import Service
from app.platform.settings import Settings
from app.records import actions as records
from app.records import forms as record_forms
from app.records.models import Client
from tests.healing.people import add_case, add_zone, begin, begun

DAY_1 = datetime(2026, 3, 17, 9, 1, tzinfo=UTC)


def outbox(service: Service) -> list[dict[str, Any]]:
    return [json.loads(path.read_text()) for path in sorted(service.settings.outbox.glob("*"))]


def row(service: Service, message_id: int = 1) -> PlannedMessage:
    with service.database.read() as db:
        return db.get_one(PlannedMessage, message_id)


def refuse(*, final: bool) -> Any:
    def fail(settings: Settings, letter: Letter, *, studio_name: str) -> str:
        raise NotSent("the mail server answered 550" if final else "the mail server could not be reached", final=final)

    return fail


def test_nothing_leaves_before_the_studio_opens(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with clock.stopped_at(DAY_1.replace(hour=8, minute=59)):
        assert send_due(service) == 0
    with clock.stopped_at(DAY_1):
        assert send_due(service) == 1
        assert send_due(service) == 0
    assert row(service).state == "sent"
    assert row(service).sent_by_way_of == "folder"


def test_the_letter_is_neutral_and_its_link_opens_the_clients_page(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    with clock.stopped_at(DAY_1):
        send_due(service)
        (letter,) = outbox(service)
        token = letter["text"].split("/l/")[1].split()[0]
        with service.database.read() as db:
            link = links.find(db, token)
    assert letter["id"] == "message-1"
    assert letter["to"] == "nora@example.org"
    assert letter["subject"] == "A note from Quiet Line Studio"
    assert letter["text"].startswith("Hello Nora,\n")
    assert "To get no more of these notes" in letter["text"]
    for word in ("scar", "pigment", "skin", "heal", "tattoo", "aftercare", "treat", "arm", "O'Shea", "&#39;"):
        assert word not in letter["text"].lower().split("/l/")[0]
    assert link is not None
    assert (link.purpose, link.subject_id) == ("aftercare", course.id)
    assert link.expires_at.date() == date(2027, 3, 16) + timedelta(days=30)  # 30 days after the 12-month question


def test_every_template_is_neutral_plain_text(service: Service) -> None:
    for template in IMPORTANCE:
        text = sending._LETTERS.get_template(f"mail/{template}.txt").render(
            first_name="D'Arcy", studio_name="Studio", phone="01", email="", address="http://x/l/t")
        assert "D'Arcy" in text
        assert "http://x/l/t" in text
        assert not any(word in text.lower() for word in ("scar", "pigment", "skin", "heal", "tattoo", "patch"))


def test_sending_is_in_the_trail(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with clock.stopped_at(DAY_1):
        send_due(service)
    with service.database.read() as db:
        entry = db.exec(select(AuditEntry).where(AuditEntry.action == "messages.message.sent")).one()
    assert (entry.actor_kind, entry.subject) == ("system", "planned_messages/1")


@pytest.mark.parametrize(("change", "reason"), [
    ("no address", "no e-mail address"), ("said no", "not agreed"), ("hold", "on hold"), ("late", "in time"),
])  # fmt: skip
def test_what_may_not_leave_is_cancelled_with_the_reason(
    service: Service, crew: Crew, change: str, reason: str
) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        client = db.get_one(Client, course.client_id)
        if change == "no address":
            form = record_forms.ChangeClient(name=client.name, revision=client.revision)
            records.change_client(db, client, form, by=SYSTEM)
        elif change == "said no":
            given = consent_queries.permissions_of(db, course.client_id)
            (answer,) = [one for one in given if one.kind == "reminders_email"]
            consents.revoke(db, answer, by=SYSTEM)
        elif change == "hold":
            records.hold_client(db, client, "pregnancy", by=SYSTEM)
    with clock.stopped_at(DAY_1 + (timedelta(days=8) if change == "late" else timedelta())):
        assert send_due(service) == (1 if change == "late" else 0)  # day 3 is still worth asking about on day 9
    assert row(service).state == "cancelled"
    assert reason in row(service).fault


def test_after_the_course_ended_only_the_outcome_is_asked_for(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        healing.end_course(db, db.get_one(Course, course.id), by=crew.by("tomas"))
    with clock.stopped_at(DAY_1):
        assert send_due(service) == 0
    with clock.stopped_at(datetime(2026, 9, 16, 9, 0, tzinfo=UTC)):
        assert send_due(service) == 1


def test_a_client_of_two_courses_gets_one_message_a_day_even_when_one_is_late(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zones = [add_zone(db, crew, case), add_zone(db, crew, case)]
        begin(db, crew, case, zones[:1], key="1")
        begin(db, crew, case, zones[1:], key="2")
    # Nothing ran for three days: the backlog leaves one message a day.
    for day in (19, 20, 21):
        with clock.stopped_at(datetime(2026, 3, day, 12, tzinfo=UTC)):
            assert send_due(service) == 1
            assert send_due(service) == 0


def test_one_that_fails_holds_up_nobody(service: Service, crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    begun(service, crew)
    with service.database.write() as db:
        case = add_case(db, crew, name="Ada Byrne", email="ada@example.org")
        begin(db, crew, case, [add_zone(db, crew, case)], key="2")

    def some(settings: Settings, letter: Letter, *, studio_name: str) -> str:
        if letter.to.startswith("nora"):
            raise RuntimeError("broken")
        return send(settings, letter, studio_name=studio_name)

    monkeypatch.setattr(sending, "send", some)
    with clock.stopped_at(DAY_1):
        assert send_due(service) == 1
    assert [letter["to"] for letter in outbox(service)] == ["ada@example.org"]
    assert row(service).state == "planned"


def test_a_message_refused_for_good_has_failed(service: Service, crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    begun(service, crew)
    monkeypatch.setattr(sending, "send", refuse(final=True))
    with clock.stopped_at(DAY_1):
        send_due(service)
    assert (row(service).state, row(service).fault) == ("failed", "the mail server answered 550")


def test_a_message_is_put_off_ever_longer_and_fails_after_six_tries(
    service: Service, crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun(service, crew)
    monkeypatch.setattr(sending, "send", refuse(final=False))
    now, delays = DAY_1, []
    for _ in range(5):
        with clock.stopped_at(now):
            claim = claim_next(service)
            assert claim is not None
            assert claim.message_id == 1
            sending.give_back(service, claim, "the mail server could not be reached", final=False)
        delays.append(row(service).due_at - now)
        now = row(service).due_at
        if not 9 <= now.hour < 23:  # the studio is shut: the next try waits until it opens
            now = now.replace(hour=9, minute=30) + timedelta(days=now.hour >= 23)
    assert delays == [timedelta(minutes=5 * 4**n) for n in range(5)]
    assert row(service).state == "planned"
    with service.database.write() as db:
        planned = db.get_one(PlannedMessage, 1)
        planned.attempts = sending.TRIES - 1
        db.add(planned)
    with clock.stopped_at(datetime(2026, 3, 19, 12, tzinfo=UTC)):
        send_due(service)
    assert row(service).state == "failed"


def test_two_senders_never_send_one_row_twice(service: Service, crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    with service.database.write() as db:
        for number in range(6):
            case = add_case(db, crew, name=f"Client {number}", email=f"c{number}@example.org")
            begin(db, crew, case, [add_zone(db, crew, case)], key=str(number))
    seen: list[str] = []

    def count(settings: Settings, letter: Letter, *, studio_name: str) -> str:
        seen.append(letter.id)
        return send(settings, letter, studio_name=studio_name)

    monkeypatch.setattr(sending, "send", count)
    with clock.stopped_at(DAY_1):
        senders = [threading.Thread(target=send_due, args=(service,)) for _ in range(3)]
        for sender in senders:
            sender.start()
        for sender in senders:
            sender.join()
    assert len(seen) == len(set(seen)) == len(outbox(service)) == 6


def test_two_senders_never_write_to_one_client_twice_a_day(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with clock.stopped_at(DAY_1 + timedelta(days=3)):  # two are due
        assert claim_next(service) is not None
        assert claim_next(service) is None


def test_a_sender_that_died_after_sending_leaves_one_file_under_one_id(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with clock.stopped_at(DAY_1):
        claim = claim_next(service)
        assert claim is not None
        ready = prepare(service, claim)
        assert ready is not None
        send(service.settings, ready[0], studio_name=ready[1])  # and here it is killed
        assert send_due(service) == 0
    with clock.stopped_at(DAY_1 + LEASE + timedelta(seconds=1)):
        assert send_due(service) == 1
        assert send_due(service) == 0
    assert [letter["id"] for letter in outbox(service)] == ["message-1"]


def test_a_claim_that_was_lost_can_no_longer_send(service: Service, crew: Crew) -> None:
    begun(service, crew)
    with clock.stopped_at(DAY_1):
        slow = claim_next(service)
    with clock.stopped_at(DAY_1 + LEASE + timedelta(seconds=1)):
        assert claim_next(service) is not None
        assert slow is not None
        assert prepare(service, slow) is None
