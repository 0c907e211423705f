"""The database: a read handle that cannot write, and one write handle at a time, on SQLite and PostgreSQL alike."""

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlmodel import Session, SQLModel

from app.platform import audit
from app.platform.settings import Settings

Handle = Session  # what routes may name without reaching for the ORM
WRITE_LOCK = 0x5EA8  # one advisory lock for all writers: a studio's writes are few and short


def _sqlite_driver() -> Any:
    """A driver whose SQLite is 3.51.3 or newer: earlier ones can corrupt a WAL database when it is reset."""
    for name in ("pysqlite3.dbapi2", "sqlcipher3.dbapi2", "sqlite3"):
        try:
            module = importlib.import_module(name)
        except ImportError:
            continue
        if module.sqlite_version_info >= (3, 51, 3):
            return module
    raise RuntimeError("no SQLite 3.51.3 or newer found: install the project's dependencies again")


def _sqlite_engine(url: str) -> Engine:
    engine = create_engine(url, module=_sqlite_driver(), connect_args={"timeout": 15, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        cursor = connection.cursor()
        for pragma in (
            "journal_mode=WAL",
            "synchronous=FULL",
            "foreign_keys=ON",
            "trusted_schema=OFF",
            "recursive_triggers=ON",
            "busy_timeout=15000",
        ):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A deferred BEGIN that reads, then writes, fails at once under load, whatever the time-out: writers say so.
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


class Database:
    def __init__(self, settings: Settings) -> None:
        self.url = settings.database_url
        self.is_sqlite = self.url.startswith("sqlite")
        if self.is_sqlite:
            settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
            self.engine = _sqlite_engine(self.url)
        else:
            self.engine = create_engine(self.url, pool_pre_ping=True)
        self._reader = (
            self.engine.execution_options()
            if self.is_sqlite
            else self.engine.execution_options(postgresql_readonly=True)
        )
        self._writer = self.engine.execution_options(writing=True)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A handle that only reads; it closes before anything is written."""
        with Session(self._reader, autoflush=False, expire_on_commit=False) as db:
            yield db

    @contextmanager
    def write(self) -> Iterator[Session]:
        """The write handle: committed when the block ends, rolled back when it raises. Actions never commit."""
        with Session(self._writer, expire_on_commit=False) as db:
            db.info["trail"] = audit.Trail()
            if not self.is_sqlite:
                db.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": WRITE_LOCK})
            try:
                yield db
                db.flush()
                audit.append(db)
                db.commit()
            except BaseException:
                db.rollback()
                raise

    def answers(self) -> bool:
        with self.engine.connect() as connection:
            return bool(connection.execute(text("SELECT 1")).scalar() == 1)

    def close(self) -> None:
        self.engine.dispose()


class Stale(Exception):
    """The row was changed by someone else since the form was opened."""

    def __init__(self, row: SQLModel) -> None:
        super().__init__("changed by someone else meanwhile")
        self.on_file = row.model_dump()  # read now: the transaction is rolled back before anybody shows it


def take_revision(row: Any, posted: int) -> None:
    """Passes only the edit that saw the row as it stands now, and numbers the next one."""
    if row.revision != posted:
        raise Stale(row)
    row.revision += 1
