"""What every table is built on: names for constraints, and marks that say what the audit trail leaves out."""

from typing import Any

from sqlalchemy import MetaData
from sqlmodel import SQLModel

OFF: dict[str, Any] = {"audit": "off"}  # on a table or a column: changes to it are not in the trail
REDACTED: dict[str, Any] = {"audit": "redacted"}  # on a column: that it changed is in the trail, its value is not

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
METADATA = MetaData(naming_convention=NAMES)
MAX_ID = 2**31 - 1  # ids are integers of four bytes on PostgreSQL


class Row(SQLModel):
    """The base of every table. These classes do not validate: forms do, and CHECK constraints stand behind them."""

    metadata = METADATA
