"""The trail of every change: a chain of salted commitments, written in the transaction of the change itself.

An action opens one named entry with `@audited("domain.noun.verbed")`. A flush listener adds the rows that change while
it is open. A change to an audited table with no open entry raises. Entries are appended last, just before commit. What
was changed stands in `audit_bodies`, which erasure may delete; the chain then still verifies, since it holds only
commitments.
"""

import hashlib
import json
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import wraps
from typing import Any, Literal, ParamSpec, TypeVar, cast

from sqlalchemy import LargeBinary, event, insert, inspect, select
from sqlalchemy.orm import ORMExecuteState, Session, UOWTransaction
from sqlmodel import Field, SQLModel

from app.platform import clock
from app.platform.rows import METADATA, OFF, Row

GENESIS = "0" * 64

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True)
class Actor:
    """Who acts: a member, a client through a link, the tablet, the system itself, or an import."""

    kind: Literal["member", "client", "tablet", "system", "import"]
    id: int | None = None
    on_behalf_of: int | None = None


SYSTEM = Actor("system")


class AuditEntry(Row, table=True):
    __tablename__ = "audit_entries"
    __table_args__ = {"info": OFF}
    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    at: datetime
    actor_kind: str
    actor_id: int | None = None
    action: str = Field(index=True)
    subject: str = Field(default="", index=True)
    prev: str
    commitment: str
    hash: str


class AuditBody(Row, table=True):
    __tablename__ = "audit_bodies"
    __table_args__ = {"info": OFF}
    seq: int = Field(primary_key=True, foreign_key="audit_entries.seq", sa_column_kwargs={"autoincrement": False})
    salt: bytes = Field(sa_type=LargeBinary)
    body: str


class AuditErasure(Row, table=True):
    """Allows one body to be deleted, and says why for as long as the chain stands."""

    __tablename__ = "audit_erasures"
    __table_args__ = {"info": OFF}
    seq: int = Field(primary_key=True, foreign_key="audit_entries.seq", sa_column_kwargs={"autoincrement": False})
    at: datetime
    reason: str


class Unaudited(RuntimeError):
    """A change to an audited table outside any named entry."""


@dataclass
class Entry:
    action: str
    by: Actor
    subject: str = ""
    rows: list[dict[str, Any]] = field(default_factory=list)
    note: dict[str, Any] = field(default_factory=dict)


@dataclass
class Trail:
    """The entries of one write handle, in the order they were opened."""

    entries: list[Entry] = field(default_factory=list)
    open: list[Entry] = field(default_factory=list)


def subject_of(row: SQLModel) -> str:
    return f"{row.__tablename__}/{getattr(row, 'id', '')}"


@contextmanager
def entry(db: Session, action: str, by: Actor) -> Iterator[Entry]:
    """Opens a named entry; changes flushed while it is the innermost belong to it."""
    trail = _trail(db)
    db.flush()
    opened = Entry(action, by)
    trail.entries.append(opened)
    trail.open.append(opened)
    try:
        yield opened
        db.flush()
    finally:
        trail.open.remove(opened)


def audited(action: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Marks an action `(db, …, by=actor)`: its row changes are one entry, about the row it returns."""

    def mark(function: Callable[P, R]) -> Callable[P, R]:
        @wraps(function)
        def run(*args: P.args, **kwargs: P.kwargs) -> R:
            db, by = cast(Session, args[0]), cast(Actor, kwargs["by"])
            with entry(db, action, by) as opened:
                result = function(*args, **kwargs)
                db.flush()
                if not opened.subject and isinstance(result, SQLModel):
                    opened.subject = subject_of(result)
            return result

        return run

    return mark


def about(db: Session, row: SQLModel) -> None:
    """Names the row that the innermost open entry is about."""
    db.flush()
    _trail(db).open[-1].subject = subject_of(row)


def note(db: Session, **words: Any) -> None:
    """Adds to the innermost open entry what no row change says: a reason, a breach."""
    _trail(db).open[-1].note.update(words)


def _trail(db: Session) -> Trail:
    trail = db.info.get("trail")
    if not isinstance(trail, Trail):
        raise Unaudited("this handle cannot write")
    return trail


def plain(value: Any) -> Any:
    """A value as the body keeps it: canonical, UTC, bytes by their hash."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bytes):
        return "sha256:" + hashlib.sha256(value).hexdigest()
    return value


def _change(row: Any, op: str) -> dict[str, Any] | None:
    state = inspect(row)
    table = state.mapper.local_table
    values: dict[str, Any] = {}
    for attribute in state.mapper.column_attrs:
        column = attribute.columns[0]
        mark = column.info.get("audit")
        if mark == "off":
            continue
        past = state.attrs[attribute.key].history
        new = None if mark == "redacted" else plain(getattr(row, attribute.key))
        if op == "added":
            values[column.name] = "(redacted)" if mark == "redacted" else new
        elif op == "changed" and past.has_changes() and list(past.deleted) != list(past.added):
            old = plain(past.deleted[0]) if past.deleted else None
            values[column.name] = "(redacted)" if mark == "redacted" else [old, new]
    if op == "changed" and not values:
        return None
    return {"table": table.name, "id": plain(state.mapper.primary_key_from_instance(row)[0]), "op": op, "set": values}


def _on_flush(db: Session, _context: UOWTransaction) -> None:
    trail = db.info.get("trail")
    for rows, op in ((db.new, "added"), (db.dirty, "changed"), (db.deleted, "removed")):
        for row in rows:
            if inspect(row).mapper.local_table.info.get("audit") == "off":
                if trail is None:
                    raise Unaudited("a read handle cannot change anything")
                continue
            change = _change(row, op)
            if change is None:
                continue
            if not isinstance(trail, Trail) or not trail.open:
                raise Unaudited(f"{change['table']} {op} outside a named entry")
            trail.open[-1].rows.append(change)


def _on_execute(state: ORMExecuteState) -> None:
    """Bulk statements would pass the flush listener by, so audited tables refuse them."""
    if not (state.is_insert or state.is_update or state.is_delete):
        return
    table = getattr(state.statement, "table", None)
    if table is None or table.info.get("audit") != "off":
        raise Unaudited(f"bulk change of {getattr(table, 'name', 'unknown')}: change rows one by one in an action")


event.listen(Session, "after_flush", _on_flush)
event.listen(Session, "do_orm_execute", _on_execute)


def canonical(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def commit_to(salt: bytes, body: str) -> str:
    return hashlib.sha256(salt + body.encode("utf-8")).hexdigest()


def link_hash(
    seq: int, at: datetime, actor_kind: str, actor_id: int | None, action: str, subject: str, prev: str, commitment: str
) -> str:
    """The hash that chains an entry to the one before it."""
    line = canonical([seq, plain(at), actor_kind, actor_id, action, subject, prev, commitment])
    return hashlib.sha256(line.encode("utf-8")).hexdigest()


def append(db: Session) -> None:
    """Appends the handle's entries to the chain; called once, just before commit, under the write lock."""
    trail = _trail(db)
    if not trail.entries:
        return
    entries, bodies = METADATA.tables["audit_entries"], METADATA.tables["audit_bodies"]
    head = db.execute(select(entries.c.seq, entries.c.hash).order_by(entries.c.seq.desc()).limit(1)).first()
    seq, prev = (head.seq, head.hash) if head else (0, GENESIS)
    at = clock.now()
    connection = db.connection()
    for done in trail.entries:
        seq += 1
        salt = secrets.token_bytes(32)
        content: dict[str, Any] = {"rows": done.rows}
        if done.note:
            content["note"] = done.note
        if done.by.on_behalf_of is not None:
            content["on_behalf_of"] = done.by.on_behalf_of
        body = canonical(content)
        commitment = commit_to(salt, body)
        digest = link_hash(seq, at, done.by.kind, done.by.id, done.action, done.subject, prev, commitment)
        connection.execute(
            insert(entries).values(
                seq=seq,
                at=at,
                actor_kind=done.by.kind,
                actor_id=done.by.id,
                action=done.action,
                subject=done.subject,
                prev=prev,
                commitment=commitment,
                hash=digest,
            )
        )
        connection.execute(insert(bodies).values(seq=seq, salt=salt, body=body))
        prev = digest
    trail.entries.clear()
