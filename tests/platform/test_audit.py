import json

import pytest
from sqlalchemy import insert, text, update
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, col, select

from app.demo.cast import Crew
from app.platform.audit import Actor, AuditBody, AuditEntry, AuditErasure, Unaudited, audited, entry
from app.platform.audit_check import Fault, Verified, anchor, install_triggers, missing_triggers, verify, verify_anchors
from app.platform.clock import now
from app.platform.service import Service
from app.studio.models import Member, Studio

BY = Actor("member", 1)


def checked(service: Service) -> Verified | Fault:
    with service.database.engine.connect() as connection:
        return verify(connection)


def newest(db: Session) -> tuple[AuditEntry, dict[str, object]]:
    found = db.exec(select(AuditEntry, AuditBody).join(AuditBody).order_by(col(AuditEntry.seq).desc())).first()
    assert found is not None
    row, body = found
    return row, json.loads(body.body)


@audited("studio.studio.renamed")
def rename(db: Session, name: str, *, by: Actor) -> Studio:
    studio = db.get_one(Studio, 1)
    studio.name = name
    db.add(studio)
    return studio


def test_an_action_leaves_one_entry_with_old_and_new(service: Service) -> None:
    with service.database.write() as db:
        rename(db, "Calm Line", by=BY)
    with service.database.read() as db:
        row, body = newest(db)
    assert (row.action, row.subject, row.actor_kind, row.actor_id) == (
        "studio.studio.renamed",
        "studios/1",
        "member",
        1,
    )
    assert body["rows"] == [
        {"table": "studios", "id": 1, "op": "changed", "set": {"name": ["Quiet Line Studio", "Calm Line"]}}
    ]
    assert isinstance(checked(service), Verified)


def test_nested_actions_keep_their_own_changes(service: Service, crew: Crew) -> None:
    with service.database.write() as db, entry(db, "studio.member.moved", BY) as outer:
        member = db.get_one(Member, crew.ruth.id)
        member.name = "Ruth Adeyemi"
        db.add(member)
        rename(db, "Other", by=BY)
        outer.subject = "members/3"
    with service.database.read() as db:
        newest_first = select(AuditEntry, AuditBody).join(AuditBody).order_by(col(AuditEntry.seq).desc())
        last_two = db.exec(newest_first.limit(2)).all()
    assert [line.action for line, _ in reversed(last_two)] == ["studio.member.moved", "studio.studio.renamed"]
    assert [json.loads(body.body)["rows"][0]["table"] for _, body in reversed(last_two)] == ["members", "studios"]


def test_a_change_outside_an_entry_is_refused(service: Service, crew: Crew) -> None:
    with pytest.raises(Unaudited), service.database.write() as db:
        member = db.get_one(Member, crew.ruth.id)
        member.name = "Nobody said so"
        db.add(member)
    with service.database.read() as db:
        assert db.get_one(Member, crew.ruth.id).name == "Ruth Okonjo"


def test_a_bulk_change_is_refused_even_inside_an_entry(service: Service) -> None:
    with pytest.raises(Unaudited), service.database.write() as db, entry(db, "studio.member.changed", BY):
        db.execute(update(Member).values(name="All the same"))
    with pytest.raises(Unaudited), service.database.write() as db, entry(db, "studio.member.changed", BY):
        db.execute(
            insert(Member).values(
                name="x", login="x", role="desk", password_hash="", is_active=True, made_at=now(), revision=1
            )
        )


def test_a_read_handle_cannot_write(service: Service) -> None:
    with pytest.raises((Unaudited, DBAPIError)), service.database.read() as db:
        studio = db.get_one(Studio, 1)
        studio.name = "x"
        db.add(studio)
        db.flush()


def test_passwords_never_reach_the_trail(service: Service) -> None:
    with service.database.read() as db:
        bodies = db.exec(select(AuditBody.body)).all()
    assert not any("argon2" in body for body in bodies)
    assert any("(redacted)" in body for body in bodies)


def test_nothing_is_kept_when_the_block_raises(service: Service) -> None:
    before = checked(service)
    with pytest.raises(ZeroDivisionError), service.database.write() as db:
        rename(db, "Gone", by=BY)
        raise ZeroDivisionError
    assert checked(service) == before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE audit_entries SET action = 'x' WHERE seq = 2",
        "DELETE FROM audit_entries WHERE seq = 2",
        "UPDATE audit_bodies SET body = '{}' WHERE seq = 2",
        "DELETE FROM audit_bodies WHERE seq = 2",
        "INSERT INTO audit_entries SELECT seq + 40, at, actor_kind, actor_id, action, subject, prev, commitment, hash"
        " FROM audit_entries WHERE seq = 1",
    ],
)
def test_triggers_stop_changes_to_the_trail(service: Service, statement: str) -> None:
    with pytest.raises(DBAPIError), service.database.engine.connect() as connection:
        connection.execute(text(statement))
        connection.commit()
    assert isinstance(checked(service), Verified)


def test_replacing_an_entry_is_stopped_on_sqlite(service: Service) -> None:
    if not service.database.is_sqlite:
        return  # PostgreSQL has no INSERT OR REPLACE
    with pytest.raises(DBAPIError), service.database.engine.connect() as connection:
        connection.execute(
            text(
                "INSERT OR REPLACE INTO audit_entries SELECT seq, at, actor_kind, actor_id, 'x', subject, prev,"
                " commitment,"
                " hash FROM audit_entries WHERE seq = 2"
            )
        )


def drop_triggers(service: Service) -> None:
    with service.database.engine.connect() as connection:
        if service.database.is_sqlite:
            for name in (
                connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            ):
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            for table in ("audit_entries", "audit_bodies", "audit_erasures"):
                connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        connection.commit()


def tamper(service: Service, statement: str) -> Verified | Fault:
    """Changes the trail behind the triggers' back, puts them in place again, and checks."""
    drop_triggers(service)
    with service.database.engine.connect() as connection:
        connection.execute(text(statement))
        connection.commit()
        install_triggers(connection)
        if not service.database.is_sqlite:
            for table in ("audit_entries", "audit_bodies", "audit_erasures"):
                connection.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER USER"))
        connection.commit()
    return checked(service)


@pytest.mark.parametrize(
    ("statement", "words", "seq"),
    [
        ("UPDATE audit_entries SET subject = 'members/9' WHERE seq = 3", "entry 3 was changed", 3),
        ("UPDATE audit_entries SET at = '2026-01-01 00:00:00+00' WHERE seq = 2", "entry 2 was changed", 2),
        ("UPDATE audit_bodies SET body = '{}' WHERE seq = 2", "the content of entry 2 was changed", 2),
        ("DELETE FROM audit_bodies WHERE seq = 3", "the content of entry 3 is gone without an erasure", 3),
    ],
)
def test_the_first_break_is_named_by_its_number(service: Service, statement: str, words: str, seq: int) -> None:
    result = tamper(service, statement)
    assert isinstance(result, Fault)
    assert (result.words, result.seq) == (words, seq)


def test_a_cut_out_entry_is_named(service: Service) -> None:
    drop_triggers(service)
    with service.database.engine.connect() as connection:
        connection.execute(text("DELETE FROM audit_bodies WHERE seq = 2"))
        connection.execute(text("DELETE FROM audit_entries WHERE seq = 2"))
        connection.commit()
    result = tamper(service, "SELECT 1")
    assert isinstance(result, Fault)
    assert (result.words, result.seq) == ("entry 2 is missing", 2)


def test_a_missing_trigger_is_named(service: Service) -> None:
    drop_triggers(service)
    result = checked(service)
    assert isinstance(result, Fault)
    assert "trigger" in result.words


def test_a_trigger_that_does_nothing_counts_as_missing(service: Service) -> None:
    if not service.database.is_sqlite:
        return  # PostgreSQL's triggers all share one function
    with service.database.engine.connect() as connection:
        connection.execute(text("DROP TRIGGER audit_entries_no_delete"))
        connection.execute(
            text("CREATE TRIGGER audit_entries_no_delete BEFORE DELETE ON audit_entries BEGIN SELECT 1; END")
        )
        connection.commit()
        assert missing_triggers(connection) == ["audit_entries_no_delete"]


def test_an_erasure_lets_content_go_and_the_trail_still_verifies(service: Service) -> None:
    with service.database.write() as db:
        db.add(AuditErasure(seq=2, at=now(), reason="asked for by the person"))
    with service.database.engine.connect() as connection:
        connection.execute(text("DELETE FROM audit_bodies WHERE seq = 2"))
        connection.commit()
    result = checked(service)
    assert isinstance(result, Verified)
    assert result.erased == 1


def test_a_cut_tail_no_longer_agrees_with_the_written_head(service: Service) -> None:
    file = service.settings.data / "audit-heads.jsonl"
    with service.database.write() as db:
        rename(db, "Once more", by=BY)
    with service.database.engine.connect() as connection:
        anchor(connection, file, now())
        anchor(connection, file, now())
        assert verify_anchors(connection, file) is None
    assert len(file.read_text().splitlines()) == 1
    drop_triggers(service)
    with service.database.engine.connect() as connection:
        last = connection.execute(text("SELECT MAX(seq) FROM audit_entries")).scalar()
        connection.execute(text(f"DELETE FROM audit_bodies WHERE seq = {last}"))
        connection.execute(text(f"DELETE FROM audit_entries WHERE seq = {last}"))
        connection.commit()
        fault = verify_anchors(connection, file)
    assert fault is not None
    assert fault.seq == last
