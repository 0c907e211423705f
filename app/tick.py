"""What happens without a request: due messages, slow work, and keeping the house. One loop, which stops cleanly."""

import logging
import multiprocessing
import signal
import threading
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.context import SpawnProcess
from types import FrameType

from sqlmodel import select

from app.messages.sending import send_due
from app.platform import clock
from app.platform.audit_check import anchor
from app.platform.jobs import Work, work_once
from app.platform.service import Service
from app.platform.settings import Settings
from app.platform.storage import Blob
from app.records.carry_job import carry_outlines
from app.records.examine import examine, measure_outlines
from app.records.outline_actions import CARRY
from app.records.phone_duty import read_phones
from app.records.photo_actions import EXAMINE, MEASURE
from app.records.upload_actions import give_up_stale
from app.records.upload_queries import piece_files

log = logging.getLogger("evenseam.tick")
WORKER_LOOKED_AT_SECONDS = 2.0

JOBS: dict[str, Work] = {EXAMINE: examine, MEASURE: measure_outlines, CARRY: carry_outlines}


def write_anchor(service: Service) -> None:
    with service.database.engine.connect() as connection:
        anchor(connection, service.settings.data / "audit-heads.jsonl", clock.now())


def sweep_files(service: Service) -> None:
    with service.database.read() as db:
        known = set(db.exec(select(Blob.name)).all()) | piece_files(db)
    service.storage.sweep(known)


def sweep_uploads(service: Service) -> None:
    """Photos that were begun more than a day ago and never came whole."""
    with service.database.write() as db:
        files = give_up_stale(db)
    for name in files:
        service.storage.drop(name)


@dataclass(frozen=True)
class Recurring:
    every_seconds: float
    what: Callable[[Service], object]


RECURRING = (
    Recurring(30, send_due),
    Recurring(3600, write_anchor),
    Recurring(3600, read_phones),
    Recurring(3600, sweep_uploads),
    Recurring(24 * 3600, sweep_files),
)


def run_recurring(service: Service, stop: threading.Event) -> None:
    """The tick loop: each duty in its time; one that fails is logged and does not hold up the others."""
    due = dict.fromkeys(range(len(RECURRING)), 0.0)
    elapsed = 0.0
    while not stop.is_set():
        for index, duty in enumerate(RECURRING):
            if elapsed >= due[index]:
                due[index] = elapsed + duty.every_seconds
                try:
                    duty.what(service)
                except Exception:
                    log.exception("a duty failed")
        stop.wait(1.0)
        elapsed += 1.0


def work_until(service: Service, stop: threading.Event) -> None:
    while not stop.is_set():
        try:
            if not work_once(service, JOBS):
                stop.wait(0.3)
        except Exception:
            log.exception("the worker could not reach its jobs")
            stop.wait(5)


def _end_with_parent(stop: threading.Event) -> None:
    """A service that was killed cannot end its worker; the next one brings its own."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        stop.set()


def worker_process(settings: Settings) -> None:
    """The process that does the slow work, so that pages stay quick meanwhile."""
    stop = threading.Event()

    def end(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent ends us
    threading.Thread(target=_end_with_parent, args=(stop,), daemon=True).start()
    work_until(Service.open(settings), stop)


class Ticking:
    """The tick loop and one worker, begun and ended together; a worker that dies is followed by another."""

    def __init__(self, service: Service) -> None:
        self.settings = service.settings
        self.stop = threading.Event()
        self.threads = (
            threading.Thread(target=run_recurring, args=(service, self.stop), name="tick", daemon=True),
            threading.Thread(target=self._keep_a_worker, name="keeper", daemon=True),
        )
        self.worker = self._new_worker()

    def _new_worker(self) -> SpawnProcess:
        worker = multiprocessing.get_context("spawn").Process(
            target=worker_process, args=(self.settings,), daemon=True
        )
        worker.start()
        return worker

    def _keep_a_worker(self) -> None:
        while not self.stop.wait(WORKER_LOOKED_AT_SECONDS):
            if not self.worker.is_alive():  # a photo too large for the machine's memory ends it, too
                log.error("the worker ended (%s); another begins", self.worker.exitcode)
                self.worker = self._new_worker()

    def __enter__(self) -> "Ticking":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop.set()
        for thread in self.threads:
            thread.join(20)
        self.worker.terminate()
        self.worker.join(20)
        if self.worker.is_alive():
            self.worker.kill()  # its job is taken up again when the lease is over
            self.worker.join(5)


def run(service: Service) -> None:
    """`evenseam tick`: until it is told to stop."""
    stop = threading.Event()

    def end(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    with Ticking(service):
        stop.wait()
