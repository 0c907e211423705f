"""What one running service holds: its settings, database and files."""

import secrets
from dataclasses import dataclass, field

from app.platform.db import Database
from app.platform.settings import Settings
from app.platform.storage import Storage


@dataclass
class Service:
    settings: Settings
    database: Database
    storage: Storage
    first_run_code: str = field(default_factory=lambda: "-".join(f"{secrets.randbelow(10_000):04d}" for _ in range(3)))

    @classmethod
    def open(cls, settings: Settings) -> "Service":
        return cls(settings, Database(settings), Storage(settings))
