"""What waits today, for an artist or the owner, and the part of it that the desk may know: names, never why."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from app.casebook.states import SOON
from app.healing import queries as healing
from app.intake import queries as intake
from app.intake.models import Submission
from app.intake.visit_queries import Due, VisitLine, coming, whole_forms_due
from app.messages import queries as messages
from app.messages.models import PlannedMessage
from app.outcomes.queries import may_see
from app.outcomes.review_queries import ZoneOnFile, worked_zones
from app.records import queries as records
from app.records.attachment_queries import LetterLine, letters_to_read, unread_count
from app.records.models import Case, Client
from app.records.tasks import TaskLine, tasks_due
from app.sessions import queries as sessions
from app.sessions.models import WorkSession
from app.studio.access import Who

URGENT = ("emergency", "today")


@dataclass(frozen=True)
class ToJudge:
    on_file: ZoneOnFile
    client: Client
    judge_on: date
    is_now: bool


@dataclass(frozen=True)
class Failed:
    """A message that could not be sent: whom to reach another way."""

    client: Client
    message: PlannedMessage


@dataclass(frozen=True)
class Asked:
    """A form that was sent out and has not come back."""

    client: Client
    case: Case
    asked_at: datetime


@dataclass(frozen=True)
class Today:
    """Everything that waits, each list in the order in which it presses. Health lists are empty for the desk."""

    urgent: tuple[healing.UnreadCheckIn, ...]
    check_ins: tuple[healing.UnreadCheckIn, ...]
    screenings: tuple[intake.Waiting, ...]
    sheets: tuple[tuple[WorkSession, Case, Client], ...]
    patches: tuple[sessions.UnreadPatch, ...]
    to_judge: tuple[ToJudge, ...]
    tasks: tuple[healing.Task, ...]
    letters: tuple[LetterLine, ...]
    owed: tuple[TaskLine, ...]
    unread_letters: int  # all that the desk may know of them
    missing: tuple[sessions.MissingRecord, ...]
    failed: tuple[Failed, ...]
    asked: tuple[Asked, ...]
    held: tuple[Client, ...]
    coming: tuple[VisitLine, ...] = ()
    due: tuple[Due, ...] = ()  # whole forms that are too old

    @property
    def is_quiet(self) -> bool:
        return not any((self.urgent, self.check_ins, self.screenings, self.sheets, self.patches, self.to_judge,
                        self.tasks, self.letters, self.owed, self.missing, self.failed, self.asked,
                        self.held, self.coming, self.due))  # fmt: skip

    @property
    def judge_now(self) -> tuple[ToJudge, ...]:
        return tuple(one for one in self.to_judge if one.is_now)

    @property
    def judge_soon(self) -> tuple[ToJudge, ...]:
        return tuple(one for one in self.to_judge if not one.is_now)


@dataclass(frozen=True)
class PersonLines:
    """What stands beside a client in a list, by the kept record's id: how they may be reached, and what to set up."""

    contact: dict[int, tuple[str, ...]]
    setup: dict[int, tuple[str, ...]]


def person_lines(db: Session, today: Today) -> PersonLines:
    """Of the lists from which somebody rings, writes or prepares; nothing in them says what a client has."""
    clients = [*(one.client for one in today.failed), *(one.client for one in today.asked), *today.held]
    ids = [client.id or 0 for client in clients]
    return PersonLines(records.contact_lines(db, ids), records.setup_lines(db, ids))


def today_for(db: Session, who: Who, on: date) -> Today:
    failed, asked, held = _failed(db), _asked(db, who), _held(db)
    if not who.sees_health:
        return Today((), (), (), (), (), (), (), (), (), unread_count(db), (), failed, asked, held,
                     coming(db, who, on), whole_forms_due(db, who, on))
    unread = healing.unread_check_ins(db, who)
    return Today(
        urgent=tuple(one for one in unread if one.check_in.level in URGENT),
        check_ins=tuple(one for one in unread if one.check_in.level not in URGENT),
        screenings=tuple(intake.waiting_screenings(db, who)),
        sheets=tuple(sessions.open_sessions(db, who)),
        patches=tuple(sessions.unread_patches(db, who)),
        to_judge=_to_judge(db, who, on),
        tasks=tuple(healing.tasks(db, who, on)),
        letters=tuple(letters_to_read(db, who)),
        owed=tuple(tasks_due(db, who, on)),
        unread_letters=0,
        missing=tuple(sessions.missing_records(db, who)),
        failed=failed,
        asked=asked,
        held=held,
        coming=coming(db, who, on),
        due=whole_forms_due(db, who, on),
    )


def _to_judge(db: Session, who: Who, on: date) -> tuple[ToJudge, ...]:
    """Zones whose colour may be judged now or soon and has not been, by the day it may be."""
    open_zones = [one for one in worked_zones(db, who) if one.zone.finished_on is None and one.case.closed_on is None]
    waiting = [one for one in open_zones if one.standing is None and one.clock is not None]
    clients = records.kept_clients(db, {one.case.client_id for one in waiting})
    found = []
    for one in waiting:
        client = clients[one.case.client_id]
        if one.clock is not None and one.clock.judge_on <= on + SOON and client.held_at is None:
            found.append(ToJudge(one, client, one.clock.judge_on, one.clock.judge_on <= on))
    return tuple(sorted(found, key=lambda one: (one.judge_on, one.on_file.zone.id or 0)))


def _failed(db: Session) -> tuple[Failed, ...]:
    """The newest failure of each client who can be reached another way."""
    failed, newest = messages.failed(db), dict[int, Failed]()
    people = records.kept_clients(db, {message.client_id for message in failed})
    for message in failed:
        client = people[message.client_id]
        newest.setdefault(client.id or 0, Failed(client, message))
    return tuple(sorted(newest.values(), key=lambda one: one.client.sort_name))


def _asked(db: Session, who: Who) -> tuple[Asked, ...]:
    """Forms of open cases that are out, oldest first; the newest of each case. The desk arranges for all cases."""
    tree = records.persons()
    wanted = select(Submission, Case, Client).join(Case, col(Submission.case_id) == Case.id)
    wanted = wanted.join(tree, col(Case.client_id) == tree.c.id).join(Client, col(Client.id) == tree.c.kept_id)
    wanted = wanted.where(col(Case.closed_on).is_(None), Submission.kind == "full")
    rows = db.exec(wanted.order_by(col(Submission.id))).all()
    newest = {row.case_id: (row, case, client) for row, case, client in rows}
    known = may_see(db, who, list(newest)) if who.sees_health else newest
    return tuple(
        Asked(client, case, row.asked_at)
        for case_id, (row, case, client) in newest.items()
        if row.submitted_at is None and client.held_at is None and case_id in known
    )


def _held(db: Session) -> tuple[Client, ...]:
    held = select(Client).where(col(Client.held_at).is_not(None), col(Client.merged_into).is_(None))
    return tuple(db.exec(held.order_by(Client.sort_name)).all())
