"""Alembic's way in: foreign keys off while tables are rebuilt and checked after; triggers put in place anew."""

from alembic import context
from sqlalchemy import text
from sqlalchemy.engine import Connection

from app.platform.audit_check import install_triggers
from app.platform.db import Database
from app.platform.settings import read_settings
from app.tables import METADATA


def run(connection: Connection) -> None:
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        # Rebuilding a table with foreign keys on would delete its children row by row, without a word.
        connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
        connection.commit()
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
    with database.engine.connect() as connection:
        run(connection)
        if database.is_sqlite:
            connection.exec_driver_sql("PRAGMA foreign_keys=ON")
    if given is None:
        database.close()


main()
