"""`evenseam check`: holds trail, triggers and files against one another and names the first fault."""

from collections.abc import Callable
from pathlib import Path

from sqlmodel import select

from app.platform.audit_check import Fault, verify, verify_anchors
from app.platform.migrate import is_current
from app.platform.service import Service
from app.platform.settings import BadSetting, Settings
from app.platform.storage import Blob, Damaged


def check(settings: Settings, say: Callable[..., None]) -> int:
    """0 when everything verifies; otherwise 1, after saying the first fault."""
    file = Path(settings.database_url.removeprefix("sqlite:///"))
    if settings.database_url.startswith("sqlite") and not file.exists():
        raise BadSetting(f"there is no studio in {settings.data}; give its folder with --data or EVENSEAM_DATA")
    service = Service.open(settings)
    if not is_current(service.database):
        say("FAULT: the database is not at this version's tables; run: evenseam migrate")
        return 1
    with service.database.engine.connect() as connection:
        result = verify(connection)
        fault = result if isinstance(result, Fault) else verify_anchors(connection, settings.data / "audit-heads.jsonl")
    if fault is not None:
        say(f"FAULT: {fault.words}")
        return 1
    assert not isinstance(result, Fault)
    with service.database.read() as db:
        blobs = db.exec(select(Blob).order_by(Blob.id)).all()  # type: ignore[arg-type]  # SQLModel types a column as its value
    for blob in blobs:
        try:
            service.storage.get(blob)
        except Damaged as damaged:
            say(f"FAULT: {damaged}")
            return 1
    say(
        f"Everything verifies: {result.entries} audit entries (the content of {result.erased} erased), "
        f"{len(blobs)} stored files."
    )
    say(f"Head of the trail: {result.head}")
    return 0
