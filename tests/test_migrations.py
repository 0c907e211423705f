"""The migrations make exactly the tables of the models, and put the trail's guards in place."""

from pathlib import Path

import numpy as np
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import CheckConstraint, func, inspect, select, text

from app.colour.geometry import Piece
from app.colour.reading import Reading
from app.demo.cast import Crew
from app.platform.audit_check import missing_triggers
from app.platform.db import Database
from app.platform.migrate import _config, faults, is_current, migrate
from app.platform.service import Service
from app.platform.storage import Stored
from app.records.outline_actions import draw_outlines
from app.records.photo_actions import add_photo, keep_reading
from app.records.selectors import Outlines
from app.tables import METADATA
from tests.conftest import NOW, settings_for
from tests.records.cast import begin


def test_models_and_database_agree(service: Service) -> None:
    with service.database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []


def test_upgrading_twice_changes_nothing_and_keeps_the_triggers(service: Service) -> None:
    migrate(service.database)
    assert is_current(service.database)
    assert faults(service.database) == []


def test_a_lost_trigger_is_a_fault_until_the_next_upgrade(service: Service) -> None:
    with service.database.engine.connect() as connection:
        if service.database.is_sqlite:
            connection.execute(text("DROP TRIGGER audit_entries_no_update"))
        else:
            connection.execute(text("DROP TRIGGER audit_entries_guard ON audit_entries"))
        connection.commit()
        assert missing_triggers(connection)
    assert "run `evenseam migrate`" in faults(service.database)[0]
    migrate(service.database)
    assert faults(service.database) == []


def test_going_down_and_up_again_works(tmp_path: Path) -> None:
    database = Database(settings_for(tmp_path / "data"))
    migrate(database)
    command.downgrade(_config(database), "base")
    with database.engine.connect() as connection:
        left = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'")).scalars().all()
    assert set(left) <= {"alembic_version", "sqlite_sequence"}
    migrate(database)
    assert is_current(database)
    database.close()


def rows_of(database: Database) -> dict[str, int]:
    with database.engine.connect() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in METADATA.sorted_tables
        }


def test_a_studio_at_work_comes_through_going_down_and_up(service: Service, crew: Crew) -> None:
    """SQLite makes a table anew to change it while rows of other tables point there, which it must be let do."""
    by, begun = crew.by("tomas"), begin(service, crew)
    ring = np.array([[10.0, 10.0], [50.0, 10.0], [50.0, 50.0]])
    outlines = Outlines((Piece(ring),), (Piece(ring + 30),))
    with service.database.write() as db:
        photo = add_photo(db, begun.case, begun.zone, purpose="before", taken_on=NOW.date(), width=90, height=90,
                          original=Stored("ab" * 16, "0" * 64, 1, "photo", "k"), camera="", by=by)  # fmt: skip
        keep_reading(db, photo, draw_outlines(db, photo, outlines, by=by), Reading("relative", "", ()), by=by)
    before = rows_of(service.database)
    assert before["readings"] == before["outline_sets"] == before["photos"] == 1
    command.downgrade(_config(service.database), "-1")
    migrate(service.database)
    assert rows_of(service.database) == before
    assert faults(service.database) == []
    if service.database.is_sqlite:
        with service.database.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_the_sqlite_driver_is_free_of_the_wal_fault(tmp_path: Path) -> None:
    database = Database(settings_for(tmp_path / "data"))
    with database.engine.connect() as connection:
        version = tuple(
            int(part) for part in str(connection.execute(text("SELECT sqlite_version()")).scalar()).split(".")
        )
        settings = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers")
        }
    assert version >= (3, 51, 3)
    assert settings == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1}
    database.close()


def test_the_checks_of_the_models_stand_in_the_database(service: Service) -> None:
    """SQLite makes a table anew to change it, and drops the checks that nobody names."""
    with service.database.engine.connect() as connection:
        for table in METADATA.sorted_tables:
            wanted = {str(check.name) for check in table.constraints if isinstance(check, CheckConstraint)}
            assert wanted <= {str(check["name"]) for check in inspect(connection).get_check_constraints(table.name)}
