from datetime import timedelta

from sqlmodel import select

from app.platform import clock, jobs
from app.platform.jobs import LEASE, Job, work_once
from app.platform.service import Service


def planned(service: Service, subject: int = 1) -> None:
    with service.database.write() as db:
        jobs.plan(db, "test.count", subject)


def job(service: Service) -> Job:
    with service.database.read() as db:
        return db.exec(select(Job)).one()


def test_a_job_is_done_once(service: Service) -> None:
    planned(service)
    planned(service)
    seen: list[int] = []
    kinds = {"test.count": lambda _, job: seen.append(job.subject_id)}
    assert work_once(service, kinds)
    assert not work_once(service, kinds)
    assert seen == [1]
    assert job(service).state == "done"


def test_a_claimed_job_is_passed_by_until_its_lease_is_over(service: Service) -> None:
    planned(service)
    assert jobs.claim(service.database) is not None
    assert jobs.claim(service.database) is None
    with clock.stopped_at(clock.now() + LEASE + timedelta(seconds=1)):
        again = jobs.claim(service.database)
    assert again is not None
    assert again.attempts == 2


def test_a_failing_job_is_put_off_and_does_not_stand_in_the_way(service: Service) -> None:
    planned(service, 1)
    planned(service, 2)
    seen: list[int] = []

    def work(_: object, job: Job) -> None:
        if job.subject_id == 1:
            raise OSError("disk")
        seen.append(job.subject_id)

    assert work_once(service, {"test.count": work})
    assert work_once(service, {"test.count": work})
    assert seen == [2]
    for later in (1, 2):
        with clock.stopped_at(clock.now() + timedelta(hours=later)):
            work_once(service, {"test.count": work})
    with service.database.read() as db:
        failed = db.exec(select(Job).where(Job.subject_id == 1)).one()
    assert (failed.state, failed.attempts) == ("failed", 3)
    assert "disk" in failed.fault
