"""Slow work as rows: claimed by lease, tried again, finished once. One worker process does them."""

import json
import logging
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, select

from app.platform import clock
from app.platform.db import Database
from app.platform.rows import OFF, Row

LEASE = timedelta(minutes=5)
TRIES = 3
log = logging.getLogger("evenseam.jobs")


class Job(Row, table=True):
    __tablename__ = "jobs"
    __table_args__ = (CheckConstraint("state IN ('waiting', 'done', 'failed')", name="state"), {"info": OFF})
    id: int | None = Field(default=None, primary_key=True)
    kind: str
    subject_id: int
    unique_key: str = Field(unique=True)
    about: str = "{}"
    state: str = Field(default="waiting", index=True)
    not_before: datetime
    leased_until: datetime | None = None
    attempts: int = 0
    progress: str = ""
    fault: str = ""


Work = Callable[[Any, Job], None]


def plan(db: Session, kind: str, subject_id: int, *, about: dict[str, Any] | None = None) -> Job:
    """Asks for work, once for each subject that waits."""
    key = f"{kind}/{subject_id}"
    job = db.exec(select(Job).where(Job.unique_key == key)).first()
    if job is None:
        job = Job(kind=kind, subject_id=subject_id, unique_key=key, not_before=clock.now())
    job.about, job.state, job.attempts, job.leased_until, job.fault = json.dumps(about or {}), "waiting", 0, None, ""
    job.not_before, job.progress = clock.now(), ""
    db.add(job)
    db.flush()
    return job


def claim(database: Database) -> Job | None:
    """Takes the next due job under a lease, so that a second worker passes it by and a dead one loses it."""
    now = clock.now()
    with database.read() as db:  # an idle worker takes no write lock
        if db.exec(select(Job.id).where(Job.state == "waiting", Job.not_before <= now).limit(1)).first() is None:
            return None
    with database.write() as db:
        free = (Job.leased_until == None) | (Job.leased_until < now)  # type: ignore[operator]  # noqa: E711  # SQL
        due = select(Job).where(Job.state == "waiting", Job.not_before <= now, free).order_by(Job.not_before, Job.id)  # type: ignore[arg-type]
        for job in db.exec(due.with_for_update(skip_locked=True)):
            db.add(job)
            if job.attempts < TRIES:
                job.leased_until, job.attempts = now + LEASE, job.attempts + 1
                return job
            # Workers died with it in their hands, and would for ever.
            job.state, job.leased_until, job.fault = "failed", None, "The work broke off three times."
        return None


def settle(database: Database, job_id: int, fault: str = "") -> None:
    """Ends a job, or puts a failing one off so that it never stands in the way of the next."""
    with database.write() as db:
        job = db.get_one(Job, job_id)
        if job.state == "waiting" and job.leased_until is None:
            return  # asked for once more while it was being done: that work is still to do
        job.leased_until, job.fault = None, fault[:500]
        if not fault:
            job.state = "done"
        elif job.attempts >= TRIES:
            job.state = "failed"
        else:
            job.not_before = clock.now() + timedelta(seconds=5 * 4**job.attempts)
        db.add(job)


def say(database: Database, job_id: int, progress: str) -> None:
    """Shows on the page how far the work is, and keeps its lease: what goes on is nobody else's to begin again."""
    with database.write() as db:
        job = db.get_one(Job, job_id)
        job.progress = progress
        if job.leased_until is not None:
            job.leased_until = clock.now() + LEASE
        db.add(job)


def work_once(service: Any, kinds: Mapping[str, Work]) -> bool:
    """Does one due job; false when none was due."""
    job = claim(service.database)
    if job is None or job.id is None:
        return False
    try:
        kinds[job.kind](service, job)
    except Exception as error:
        log.exception("job %s failed", job.id)
        settle(service.database, job.id, f"{type(error).__name__}: {error}")
    else:
        settle(service.database, job.id)
    return True
