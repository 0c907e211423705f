"""Processes that are killed in the middle: what was acknowledged stands, what was begun is done once."""

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from sqlalchemy import text
from sqlmodel import select

from app.demo.album import SCENES
from app.demo.cast import Crew
from app.demo.photos import render
from app.messages import sending
from app.messages.models import PlannedMessage
from app.messages.sending import send_due
from app.platform import clock
from app.platform.audit_check import Verified, verify
from app.platform.jobs import LEASE, TRIES, Job, work_once
from app.platform.outbox import send
from app.platform.service import Service
from app.platform.settings import Settings
from app.platform.storage import Blob
from app.records.models import Photo
from app.records.photo_actions import add_photo
from app.tick import JOBS, Ticking, worker_process
from tests.conftest import PASSWORDS
from tests.healing.people import add_case, add_zone, begun
from tests.running import SAME_SITE, environment_of, free_port, run, running, signed_in, wait_for

pytestmark = pytest.mark.long

WRITERS = 6
ROUNDS = 5
DAY_1 = datetime(2026, 3, 17, 9, 1, tzinfo=UTC)


def write(address: str, cookies: httpx.Cookies, writer: str, acknowledged: list[str]) -> None:
    """Adds clients until the service is gone; notes each that it said it had."""
    with httpx.Client(base_url=address, headers=SAME_SITE, cookies=cookies, timeout=20) as browser:
        for number in range(100_000):
            name = f"Client {writer}n{number}"
            try:
                answer = browser.post("/clients", data={"name": name, "language": "en", "phone": "01 555"})
            except httpx.TransportError:
                return
            assert answer.status_code == 303, answer.text
            acknowledged.append(name)


@contextmanager
def writing(address: str, round_: int) -> Iterator[list[str]]:
    acknowledged: list[str] = []
    with signed_in(address, "pia", PASSWORDS["pia"]) as desk:
        writers = [
            threading.Thread(target=write, args=(address, desk.cookies, f"r{round_}w{writer}", acknowledged))
            for writer in range(WRITERS)
        ]
    for writer in writers:
        writer.start()
    yield acknowledged
    for writer in writers:
        writer.join()


def test_what_a_killed_service_acknowledged_stands_and_the_trail_verifies(service: Service, tmp_path: Path) -> None:
    env = environment_of(service, EVENSEAM_PORT=str(free_port()))
    acknowledged: list[str] = []
    for round_ in range(ROUNDS):
        with running("serve", env=env, errors=tmp_path / "errors") as serve:
            address = serve.line("Evenseam listens").rsplit(" ", 1)[1]
            with writing(address, round_) as names:
                wait_for(lambda names=names: len(names) >= 20, "nothing is written")  # type: ignore[misc]  # a default
                time.sleep(0.07 * round_)
                serve.kill()
        acknowledged += names
        ended = run("check", env=env)
        assert ended.returncode == 0, ended.stdout + ended.stderr
    with service.database.engine.connect() as connection:
        kept = {row.name: row.id for row in connection.execute(text("SELECT id, name FROM clients"))}
        trail = connection.execute(text("SELECT subject FROM audit_entries WHERE action = 'records.client.added'"))
        in_trail = sorted(trail.scalars())
        words = set(connection.execute(text("SELECT client_id FROM search_words")).scalars())
        if service.database.is_sqlite:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert connection.execute(text("PRAGMA foreign_key_check")).first() is None
    assert set(acknowledged) <= set(kept)
    assert len(acknowledged) == len(set(acknowledged)) >= 20 * ROUNDS
    assert len(kept) <= len(acknowledged) + WRITERS * ROUNDS, "each writer had one on its way"
    assert in_trail == sorted(f"clients/{number}" for number in kept.values())
    assert words == set(kept.values())


def a_photo(service: Service, crew: Crew) -> None:
    picture = render(SCENES["forearm before"])
    height, width = picture.srgb8.shape[:2]
    stored = service.storage.put(picture.jpeg, "photo")
    with service.database.write() as db:
        case = add_case(db, crew)
        add_photo(db, case, add_zone(db, crew, case), purpose="before", taken_on=date(2026, 3, 16), original=stored,
                  width=width, height=height, camera="", by=crew.by("tomas"))


def the_job(service: Service) -> Job:
    with service.database.read() as db:
        return db.exec(select(Job)).one()


def has_begun(service: Service) -> bool:
    return the_job(service).progress != ""


def test_a_photo_whose_worker_was_killed_is_examined_once_when_the_lease_is_over(service: Service, crew: Crew) -> None:
    a_photo(service, crew)
    worker = multiprocessing.get_context("spawn").Process(target=worker_process, args=(service.settings,))
    worker.start()
    wait_for(lambda: has_begun(service), "the examination did not begin")
    worker.kill()
    worker.join()
    job = the_job(service)
    assert (job.state, job.attempts) == ("waiting", 1)
    assert job.leased_until is not None
    with clock.stopped_at(job.leased_until - timedelta(seconds=1)):
        assert not work_once(service, JOBS), "it may still be at work"
    with clock.stopped_at(job.leased_until + timedelta(seconds=1)):
        assert work_once(service, JOBS)
        assert not work_once(service, JOBS)
    assert the_job(service).state == "done"
    with service.database.read() as db:
        photo = db.exec(select(Photo)).one()
        assert photo.state == "ready"
        for blob in db.exec(select(Blob)).all():
            assert service.storage.get(blob)
    with service.database.engine.connect() as connection:
        assert isinstance(verify(connection), Verified)


def test_a_photo_that_kills_every_worker_is_given_up(service: Service, crew: Crew) -> None:
    a_photo(service, crew)
    for attempt in range(1, TRIES + 1):
        with clock.stopped_at(clock.now() + attempt * (LEASE + timedelta(seconds=1))):
            assert service.database.answers()
            taken = work_until_killed(service)
            assert taken == attempt
    with clock.stopped_at(clock.now() + timedelta(days=1)):
        assert not work_once(service, JOBS)
    job = the_job(service)
    assert (job.state, job.fault) == ("failed", "The work broke off three times.")


def _claim_and_die(settings: Settings, now: datetime) -> None:
    def die(_service: object, _job: Job) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    with clock.stopped_at(now):
        work_once(Service.open(settings), dict.fromkeys(JOBS, die))


def work_until_killed(service: Service) -> int:
    child = multiprocessing.get_context("spawn").Process(target=_claim_and_die, args=(service.settings, clock.now()))
    child.start()
    child.join()
    assert child.exitcode == -signal.SIGKILL
    return the_job(service).attempts


def test_a_worker_that_is_killed_is_followed_by_another(service: Service) -> None:
    with Ticking(service) as ticking:
        first = ticking.worker
        first.kill()
        wait_for(lambda: ticking.worker is not first and ticking.worker.is_alive(), "no worker followed")
    assert not ticking.worker.is_alive()


def _send_and_die(settings: Settings) -> None:
    """The steps of sending up to the moment before the row is marked."""
    service = Service.open(settings)
    with clock.stopped_at(DAY_1):
        claim = sending.claim_next(service)
        assert claim is not None
        ready = sending.prepare(service, claim)
        assert ready is not None
        send(service.settings, ready[0], studio_name=ready[1])
        os.kill(os.getpid(), signal.SIGKILL)


def test_a_sender_that_was_killed_before_it_could_say_so_leaves_one_letter(service: Service, crew: Crew) -> None:
    begun(service, crew)
    child = multiprocessing.get_context("spawn").Process(target=_send_and_die, args=(service.settings,))
    child.start()
    child.join()
    assert child.exitcode == -signal.SIGKILL
    with clock.stopped_at(DAY_1):
        assert send_due(service) == 0, "the dead one still holds it"
    with clock.stopped_at(DAY_1 + sending.LEASE + timedelta(seconds=1)):
        assert send_due(service) == 1
        assert send_due(service) == 0
    assert [path.name for path in service.settings.outbox.iterdir()] == ["message-1.json"]
    with service.database.read() as db:
        assert db.get_one(PlannedMessage, 1).state == "sent"
    with service.database.engine.connect() as connection:
        assert isinstance(verify(connection), Verified)
