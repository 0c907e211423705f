"""Every table, for Alembic and the tests."""

import app.consents.models
import app.healing.models
import app.intake.models
import app.messages.models
import app.outcomes.models
import app.pigments.models
import app.records.capture_models
import app.records.models
import app.sessions.models
import app.studio.models
from app.platform import audit, jobs, links, storage, throttle
from app.platform.rows import METADATA

__all__ = ["METADATA", "app", "audit", "jobs", "links", "storage", "throttle"]
