"""What an artist owes a client on a day: a talk in place of a message, a letter that runs out. Never the desk's."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from app.platform import clock
from app.platform.audit import Actor, about, audited
from app.platform.forms import Refused
from app.records.models import Case, Client, Task
from app.records.queries import case_for, case_ids_of, cases_of, client_for
from app.studio.access import NotFound, Who


@dataclass(frozen=True)
class TaskLine:
    task: Task
    client: Client
    case: Case | None


@audited("records.task.planned")
def plan_task(
    db: Session,
    *,
    unique_key: str,
    client_id: int,
    case_id: int | None,
    kind: str,
    words: str,
    address: str,
    due_on: date,
    by: Actor,
) -> Task:
    """Plans a task once for its key; what was planned stays as it is, done or not."""
    task = db.exec(select(Task).where(Task.unique_key == unique_key)).first()
    if task is None:
        task = Task(
            unique_key=unique_key, client_id=client_id, case_id=case_id, kind=kind, words=words, address=address,
            due_on=due_on, made_at=clock.now(),
        )  # fmt: skip
        db.add(task)
        db.flush()
    about(db, task)
    return task


@audited("records.task.finished")
def finish_task(db: Session, task: Task, words: str, *, by: Actor) -> Task:
    """Says that it was done, and how; a second time is refused."""
    if task.done_at is not None:
        raise Refused("words", "This was done already. Reload the page to see by whom.")
    task.done_at, task.done_words = clock.now(), words
    task.done_by = by.id if by.kind == "member" else None
    db.add(task)
    return task


def open_tasks(db: Session, key: str) -> list[Task]:
    """What is still to be done of one matter: its tasks have keys that begin with "key/"."""
    mine = col(Task.unique_key).startswith(f"{key}/", autoescape=True)
    wanted = select(Task).where(mine, col(Task.done_at).is_(None))
    return list(db.exec(wanted.order_by(col(Task.id))).all())


def count_of(db: Session, key: str) -> int:
    """How many tasks one matter has had, done or not."""
    return len(db.exec(select(Task.id).where(col(Task.unique_key).startswith(f"{key}/", autoescape=True))).all())


def task_for(db: Session, who: Who, task_id: int) -> Task:
    """A task of a case that this member may open, or of a client all of whose cases they may."""
    task = db.get(Task, task_id)
    if task is None or not _is_open_to(db, who, task):
        raise NotFound
    return task


def tasks_due(db: Session, who: Who, on: date) -> list[TaskLine]:
    """What is due by a day for clients who are not on hold, the oldest first; nothing for the desk."""
    wanted = select(Task).where(col(Task.done_at).is_(None), Task.due_on <= on)
    lines = []
    for task in db.exec(wanted.order_by(col(Task.due_on), col(Task.id))).all():
        if not _is_open_to(db, who, task):
            continue
        client = client_for(db, who, task.client_id)
        case = db.get_one(Case, task.case_id) if task.case_id is not None else None
        if client.held_at is None and (case is None or case.closed_on is None):
            lines.append(TaskLine(task, client, case))
    return lines


def tasks_of_case(db: Session, case_id: int) -> list[Task]:
    """Every task of a case, the open ones first, then by their day."""
    wanted = select(Task).where(Task.case_id == case_id)
    return sorted(db.exec(wanted).all(), key=lambda task: (task.done_at is not None, task.due_on, task.id or 0))


def _is_open_to(db: Session, who: Who, task: Task) -> bool:
    if not who.sees_health:
        return False
    if task.case_id is None:
        return may_open_all(db, who, task.client_id)
    try:
        case_for(db, who, task.case_id)
    except NotFound:
        return False
    return True


def may_open_all(db: Session, who: Who, client_id: int) -> bool:
    """Whether nothing of a client is restricted from this member: what belongs to no case may belong to any."""
    return who.sees_health and len(cases_of(db, who, client_id)) == len(case_ids_of(db, client_id))
