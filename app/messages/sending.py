"""Sends what is due: claims one row at a time, sends it outside any transaction, then says what became of it.

A claim is a lease. A sender that dies between claiming and marking loses it, and the row is sent again under the same
id, which a folder keeps as one file and a mail program shows as one message.
"""

import logging
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from sqlmodel import Session, col, or_, select

from app.consents import queries as consents
from app.messages import actions
from app.messages.models import PlannedMessage
from app.platform import clock, languages, links
from app.platform.audit import SYSTEM
from app.platform.outbox import Letter, NotSent, send
from app.platform.pages import TEMPLATES, speak
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Client
from app.studio import queries as studio_queries
from app.studio.models import Studio

LEASE = timedelta(minutes=10)
TRIES = 6
FIRST_DELAY = timedelta(minutes=5)
# A question about day 1 means nothing a week later; what was missed that long is dropped and said.
TOO_LATE = timedelta(days=7)
LINK_LASTS_AFTER = timedelta(days=30)
LINK_ASKED_FOR_LASTS = timedelta(days=1)
log = logging.getLogger("evenseam.messages")

# Plain text: the pages' own environment would write a name like O'Shea with its apostrophe as an entity.
_LETTERS = Environment(
    loader=FileSystemLoader(TEMPLATES),
    autoescape=False,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    extensions=["jinja2.ext.i18n"],
)
speak(_LETTERS)


@dataclass(frozen=True)
class Claim:
    """A row in one sender's hands: valid while the row still counts the same attempt."""

    message_id: int
    attempt: int


def send_due(service: Service) -> int:
    """Sends every message that is due, and says how many left. One that fails never holds up the others."""
    sent = 0
    while (claim := claim_next(service)) is not None:
        try:
            letter = prepare(service, claim)
            if letter is None:
                continue
            way = send(service.settings, letter[0], studio_name=letter[1])
        except NotSent as fault:
            give_back(service, claim, str(fault), final=fault.final)
        except Exception as fault:  # an unforeseen fault of one row is that row's, not the queue's
            log.exception("message %s", claim.message_id)
            give_back(service, claim, f"{type(fault).__name__}", final=False)
        else:
            with service.database.write() as db:
                row = db.get_one(PlannedMessage, claim.message_id)
                if row.state != "sent":
                    actions.mark_sent(db, row, way, by=SYSTEM)
            sent += 1
    return sent


def _free(now: datetime) -> object:
    return or_(col(PlannedMessage.claimed_until).is_(None), col(PlannedMessage.claimed_until) < now)


def claim_next(service: Service) -> Claim | None:
    """Takes the next due row under a lease. A client who has had today's message, or is being written to, waits."""
    now = clock.now()
    due = select(PlannedMessage).where(PlannedMessage.state == "planned", PlannedMessage.due_at <= now, _free(now))  # type: ignore[arg-type]  # SQL
    with service.database.read() as db:  # an idle sender takes no write lock
        if db.exec(due.limit(1)).first() is None:
            return None
        studio = studio_queries.studio(db)
    today = now.astimezone(ZoneInfo(studio.time_zone)).date()
    if now < actions.opening(today, studio.opens_at, studio.time_zone):
        return None
    midnight = datetime.combine(today, time(), ZoneInfo(studio.time_zone)).astimezone(UTC)
    # One a day for a person, whichever of their records a message was planned for.
    tree = records.persons()
    written = or_(col(PlannedMessage.sent_at) >= midnight, col(PlannedMessage.claimed_until) >= now)
    people = select(tree.c.kept_id).join(PlannedMessage, col(PlannedMessage.client_id) == tree.c.id).where(written)
    theirs = select(tree.c.id).where(tree.c.kept_id.in_(people))
    next_one = due.where(col(PlannedMessage.client_id).not_in(theirs))
    next_one = next_one.order_by(col(PlannedMessage.due_at), col(PlannedMessage.id))
    with service.database.write() as db:
        row = db.exec(next_one.limit(1).with_for_update(skip_locked=True)).first()
        if row is None or row.id is None:
            return None
        row.claimed_until, row.attempts = now + LEASE, row.attempts + 1
        db.add(row)
        return Claim(row.id, row.attempts)


def _held(db: Session, claim: Claim) -> PlannedMessage | None:
    row = db.get_one(PlannedMessage, claim.message_id)
    return row if row.state == "planned" and row.attempts == claim.attempt else None


def why_not(db: Session, row: PlannedMessage, client: Client) -> str:
    """Why this message must not leave; empty when it may."""
    if client.held_at is not None:
        return actions.ON_HOLD
    if not client.email:
        return actions.NO_ADDRESS
    if row.template not in actions.ASKED_FOR and not consents.is_granted(db, row.client_id, "reminders_email"):
        return actions.NOT_AGREED
    if row.template in actions.ONLY_THAT_DAY:
        return actions.NOT_IN_TIME if _is_past_its_day(db, row) else ""
    if clock.now() - row.due_at > TOO_LATE and row.attempts == 1:
        return actions.NOT_IN_TIME
    return ""


def _is_past_its_day(db: Session, row: PlannedMessage) -> bool:
    here = clock.now().astimezone(ZoneInfo(studio_queries.studio(db).time_zone))
    return here.date() != row.due_on or here.time() >= actions.LATEST_AT


def prepare(service: Service, claim: Claim) -> tuple[Letter, str] | None:
    """The letter with a fresh link, and the studio's name; None when it may not leave, which is then on file."""
    with service.database.write() as db:
        row = _held(db, claim)
        if row is None:
            return None
        if row.attempts > TRIES:  # senders died with it in their hands
            actions.mark_failed(db, row, "Sending broke off six times.", by=SYSTEM)
            return None
        client, studio = records.kept_client(db, row.client_id), studio_queries.studio(db)
        reason = why_not(db, row, client)
        if reason:
            actions.cancel_one(db, row, reason, by=SYSTEM)
            return None
        address = ""
        if row.purpose:
            token = links.make(
                db, row.purpose, row.subject_id, row.client_id, lasts=_lasts(db, row),
                uses=1 if row.template in actions.ASKED_FOR else None, language=client.language, by=SYSTEM,
            )  # fmt: skip
            address = f"{service.settings.address}/l/{token}"
    return _letter(row, client, studio, address), " ".join(studio.name.split())


def _lasts(db: Session, row: PlannedMessage) -> timedelta:
    """Until 30 days after the last message of the course, and never less than 30 days; for one day's questions until
    the end of the day after their evening."""
    if row.template in actions.ONLY_THAT_DAY:
        ends = datetime.combine(row.due_on + timedelta(days=2), time(), ZoneInfo(studio_queries.studio(db).time_zone))
        return ends - clock.now()
    if row.template in actions.ASKED_FOR:
        return LINK_ASKED_FOR_LASTS
    same = select(PlannedMessage.due_at).where(PlannedMessage.course_key == row.course_key)
    stands = same.where(PlannedMessage.state != "cancelled")
    last = max((*db.exec(stands).all(), clock.now())) if row.course_key else clock.now()
    return last - clock.now() + LINK_LASTS_AFTER


def _letter(row: PlannedMessage, client: Client, studio: Studio, address: str) -> Letter:
    name = " ".join(studio.name.split())
    with languages.speaking(client.language):
        text = _LETTERS.get_template(f"mail/{row.template}.txt").render(
            first_name=(client.name.split() or [""])[0], studio_name=name, phone=studio.phone, email=studio.email,
            address=address,
        )  # fmt: skip
        subject = languages.gettext("A note from {studio}").replace("{studio}", name)
    return Letter(f"message-{row.id}", client.email, subject, text.strip() + "\n")


def give_back(service: Service, claim: Claim, fault: str, *, final: bool) -> None:
    """Puts a message off by a growing delay; after six tries, or when trying is no use, it has failed."""
    with service.database.write() as db:
        row = _held(db, claim)
        if row is None:
            return
        if final or row.attempts >= TRIES:
            actions.mark_failed(db, row, fault, by=SYSTEM)
        else:
            until = clock.now() + FIRST_DELAY * 4 ** (row.attempts - 1)
            actions.put_off(db, row, until, fault, by=SYSTEM)
