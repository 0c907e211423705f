"""Brings a database up to this version's tables, and says whether it is."""

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from app.platform.audit_check import missing_triggers
from app.platform.db import Database
from app.platform.pages import ROOT


def _config(database: Database, app_role: str = "") -> Config:
    config = Config()
    config.set_main_option("script_location", str(ROOT / "migrations"))
    config.attributes["database"] = database
    config.attributes["app_role"] = app_role
    return config


def migrate(database: Database, app_role: str = "") -> None:
    command.upgrade(_config(database, app_role), "head")


def is_current(database: Database) -> bool:
    head = ScriptDirectory.from_config(_config(database)).get_current_head()
    with database.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() == head


def faults(database: Database) -> list[str]:
    """Why `serve` should not start on this database."""
    if not is_current(database):
        return ["the database is not at this version's tables: run `evenseam migrate`"]
    with database.engine.connect() as connection:
        return [
            f"the audit trigger {name} is missing or altered: run `evenseam migrate`"
            for name in missing_triggers(connection)
        ]
