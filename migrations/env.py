"""Alembic's way in: foreign keys off while tables are rebuilt and checked after; triggers put in place anew."""

from collections.abc import Iterator
from contextlib import contextmanager

from alembic import context
from sqlalchemy import text
from sqlalchemy.engine import Connection

from app.platform.audit_check import install_triggers
from app.platform.db import Database
from app.platform.settings import read_settings
from app.tables import METADATA


@contextmanager
def unguarded(connection: Connection) -> Iterator[None]:
    """SQLite rebuilds a table to change it, which foreign keys forbid while other rows point there.

    Inside a transaction the pragma does nothing, without a word, and whatever SQLAlchemy runs is inside one: it is
    given to the driver itself.
    """
    driver = connection.connection.driver_connection
    if connection.dialect.name != "sqlite" or driver is None:
        yield
        return
    driver.execute("PRAGMA foreign_keys=OFF")
    try:
        yield
    finally:
        connection.rollback()  # nothing, when all went well
        driver.execute("PRAGMA foreign_keys=ON")


def run(connection: Connection) -> None:
    sqlite = connection.dialect.name == "sqlite"
    context.configure(connection=connection, target_metadata=METADATA, render_as_batch=True, compare_type=True)
    with context.begin_transaction():
        context.run_migrations()
        if sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").first()):
            raise RuntimeError(f"the migration left a row without its parent: {tuple(broken)}")
        if connection.dialect.has_table(connection, "audit_entries"):
            install_triggers(connection)
        role = context.config.attributes.get("app_role", "")
        if role and not sqlite:
            for statement in grants(role):
                connection.execute(text(statement))
    connection.commit()


def grants(role: str) -> list[str]:
    """What the app's own role may do: everything but change or cut the trail."""
    if not role.replace("_", "").isalnum():
        raise ValueError("the app's database role may only have letters, digits and underscores")
    return [
        f"GRANT USAGE ON SCHEMA public TO {role}",
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}",
        f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {role}",
        f"REVOKE UPDATE, DELETE ON audit_entries, audit_erasures FROM {role}",
        f"REVOKE UPDATE ON audit_bodies FROM {role}",
    ]


def main() -> None:
    given = context.config.attributes.get("database")
    database = given or Database(read_settings())
    with database.engine.connect() as connection, unguarded(connection):
        run(connection)
    if given is None:
        database.close()


main()
