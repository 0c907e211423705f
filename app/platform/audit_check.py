"""Holds the trail against itself: triggers that forbid changing it, and the walk that finds the first break."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, select, text

from app.platform.audit import GENESIS, commit_to, link_hash
from app.platform.rows import METADATA

# RAISE stops UPDATE and DELETE; the insert trigger stops INSERT OR REPLACE, which would pass a delete trigger by.
SQLITE_TRIGGERS = {
    "audit_entries_no_update": """CREATE TRIGGER audit_entries_no_update BEFORE UPDATE ON audit_entries
        BEGIN SELECT RAISE(ABORT, 'the audit trail cannot be changed'); END""",
    "audit_entries_no_delete": """CREATE TRIGGER audit_entries_no_delete BEFORE DELETE ON audit_entries
        BEGIN SELECT RAISE(ABORT, 'the audit trail cannot be cut'); END""",
    "audit_entries_in_order": """CREATE TRIGGER audit_entries_in_order BEFORE INSERT ON audit_entries
        WHEN NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM audit_entries)
        BEGIN SELECT RAISE(ABORT, 'audit entries come in order'); END""",
    "audit_bodies_no_update": """CREATE TRIGGER audit_bodies_no_update BEFORE UPDATE ON audit_bodies
        BEGIN SELECT RAISE(ABORT, 'an audit body cannot be changed'); END""",
    "audit_bodies_only_new": """CREATE TRIGGER audit_bodies_only_new BEFORE INSERT ON audit_bodies
        WHEN EXISTS (SELECT 1 FROM audit_bodies WHERE seq = NEW.seq)
          OR EXISTS (SELECT 1 FROM audit_erasures WHERE seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'an audit body is written once'); END""",
    "audit_bodies_erasure_only": """CREATE TRIGGER audit_bodies_erasure_only BEFORE DELETE ON audit_bodies
        WHEN NOT EXISTS (SELECT 1 FROM audit_erasures WHERE seq = OLD.seq)
        BEGIN SELECT RAISE(ABORT, 'an audit body goes by erasure only'); END""",
    "audit_erasures_no_update": """CREATE TRIGGER audit_erasures_no_update BEFORE UPDATE ON audit_erasures
        BEGIN SELECT RAISE(ABORT, 'an erasure cannot be changed'); END""",
    "audit_erasures_no_delete": """CREATE TRIGGER audit_erasures_no_delete BEFORE DELETE ON audit_erasures
        BEGIN SELECT RAISE(ABORT, 'an erasure cannot be taken back'); END""",
}

POSTGRES_FUNCTION = """CREATE OR REPLACE FUNCTION audit_guard() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'TRUNCATE' THEN RAISE EXCEPTION 'the audit trail cannot be cut'; END IF;
    IF TG_OP = 'INSERT' THEN
        IF NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM audit_entries) THEN
            RAISE EXCEPTION 'audit entries come in order';
        END IF;
        RETURN NEW;
    END IF;
    IF TG_OP = 'DELETE' AND TG_TABLE_NAME = 'audit_bodies' THEN
        IF EXISTS (SELECT 1 FROM audit_erasures WHERE seq = OLD.seq) THEN RETURN OLD; END IF;
    END IF;
    RAISE EXCEPTION 'the audit trail cannot be changed';
END $$"""
POSTGRES_TRIGGERS = {
    "audit_entries_guard": "BEFORE INSERT OR UPDATE OR DELETE ON audit_entries FOR EACH ROW",
    "audit_entries_no_truncate": "BEFORE TRUNCATE ON audit_entries FOR EACH STATEMENT",
    "audit_bodies_guard": "BEFORE UPDATE OR DELETE ON audit_bodies FOR EACH ROW",
    "audit_bodies_no_truncate": "BEFORE TRUNCATE ON audit_bodies FOR EACH STATEMENT",
    "audit_erasures_guard": "BEFORE UPDATE OR DELETE ON audit_erasures FOR EACH ROW",
    "audit_erasures_no_truncate": "BEFORE TRUNCATE ON audit_erasures FOR EACH STATEMENT",
}


@dataclass(frozen=True)
class Fault:
    """The first thing found wrong, by the number of its entry where it has one."""

    words: str
    seq: int | None = None


@dataclass(frozen=True)
class Verified:
    entries: int
    erased: int
    head: str


def install_triggers(connection: Connection) -> None:
    """Puts every trigger in place anew; a rebuilt table loses its own without a word."""
    if connection.dialect.name == "sqlite":
        for name, statement in SQLITE_TRIGGERS.items():
            connection.execute(text(f"DROP TRIGGER IF EXISTS {name}"))
            connection.execute(text(statement))
        return
    connection.execute(text(POSTGRES_FUNCTION))
    for name, when in POSTGRES_TRIGGERS.items():
        table = when.split(" ON ")[1].split()[0]
        connection.execute(text(f"DROP TRIGGER IF EXISTS {name} ON {table}"))
        connection.execute(text(f"CREATE TRIGGER {name} {when} EXECUTE FUNCTION audit_guard()"))


def missing_triggers(connection: Connection) -> list[str]:
    if connection.dialect.name == "sqlite":
        found = {
            row.name: row.sql
            for row in connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
        }
        # One of the right name that does nothing is as good as none, so the words are compared too.
        return [
            name
            for name, sql in SQLITE_TRIGGERS.items()
            if " ".join((found.get(name) or "").split()) != " ".join(sql.split())
        ]
    rows = connection.execute(text("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"))
    present = set(rows.scalars())
    return [name for name in POSTGRES_TRIGGERS if name not in present]


def verify(connection: Connection) -> Verified | Fault:
    """Walks the chain from its first entry; names the first break by its number."""
    if missing := missing_triggers(connection):
        return Fault(f"trigger {missing[0]} is missing or altered")
    entries, bodies, erasures = (METADATA.tables[f"audit_{name}"] for name in ("entries", "bodies", "erasures"))
    kept = {row.seq: row for row in connection.execute(select(bodies))}
    erased = set(connection.execute(select(erasures.c.seq)).scalars())
    prev, count = GENESIS, 0
    for row in connection.execute(select(entries).order_by(entries.c.seq)):
        count += 1
        if row.seq != count:
            return Fault(f"entry {count} is missing", count)
        if row.prev != prev:
            return Fault(f"entry {row.seq} does not follow the one before it", row.seq)
        expected = link_hash(
            row.seq, row.at, row.actor_kind, row.actor_id, row.action, row.subject, row.prev, row.commitment
        )
        if row.hash != expected:
            return Fault(f"entry {row.seq} was changed", row.seq)
        body = kept.pop(row.seq, None)
        if body is None and row.seq not in erased:
            return Fault(f"the content of entry {row.seq} is gone without an erasure", row.seq)
        if body is not None and commit_to(bytes(body.salt), body.body) != row.commitment:
            return Fault(f"the content of entry {row.seq} was changed", row.seq)
        prev = row.hash
    if kept:
        return Fault(f"content without an entry: {min(kept)}", min(kept))
    return Verified(count, len(erased), prev)


def anchor(connection: Connection, file: Path, at: datetime) -> None:
    """Writes the head of the chain into a file beside the database: a tail cut later no longer agrees with it."""
    entries = METADATA.tables["audit_entries"]
    head = connection.execute(select(entries.c.seq, entries.c.hash).order_by(entries.c.seq.desc()).limit(1)).first()
    if head is None:
        return
    lines = file.read_text().splitlines() if file.exists() else []
    last = _mark(lines[-1]) if lines else None
    if last is not None and last[0] == head.seq:
        return
    with file.open("a") as out:
        out.write(json.dumps({"seq": head.seq, "hash": head.hash, "at": at.isoformat()}) + "\n")


def _mark(line: str) -> tuple[int, str, str] | None:
    """Number, hash and moment of a written-down head; None for a line that is not one."""
    try:
        read = json.loads(line)
        return int(read["seq"]), str(read["hash"]), str(read["at"])
    except (ValueError, KeyError, TypeError):
        return None


def verify_anchors(connection: Connection, file: Path) -> Fault | None:
    """Every head ever written down must still stand in the chain."""
    entries = METADATA.tables["audit_entries"]
    for number, line in enumerate(file.read_text().splitlines() if file.exists() else [], start=1):
        mark = _mark(line)
        if mark is None:
            return Fault(f"line {number} of {file.name} cannot be read")
        seq, expected, at = mark
        found = connection.execute(select(entries.c.hash).where(entries.c.seq == seq)).scalar()
        if found != expected:
            return Fault(f"entry {seq} is not the one written down on {at[:10]}: the trail was cut or replaced", seq)
    return None
