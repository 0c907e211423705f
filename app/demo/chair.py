"""Work at the chair in the made-up studio: started, tapped in and finished as on the sheet."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import timedelta

from app.demo.hands import Hands
from app.platform import clock
from app.records.models import Case, Zone
from app.sessions import actions, queries
from app.sessions.forms import AddItem, SentTap, StartSession
from app.sessions.models import WorkSession
from app.studio import queries as studio_queries

USED = ("needle 3", "antiseptic", "numbing", "film")


def start(
    hands: Hands, case: Case, zones: Sequence[Zone], *, by: str, kind: str = "full", pass_reason: str = ""
) -> WorkSession:
    """Starts a session: every start check must be met, as for anybody."""
    hands.answer_short(case, by=by)
    form = StartSession.model_validate(
        {
            "kind": kind,
            "artist_id": hands.crew.member(by).id,
            "room": "Room 2",
            "zones": [zone.id for zone in zones],
            "is_same": True,
            "agreed": True,
            "pass_reason": pass_reason,
        }
    )
    with hands.service.database.write() as db:
        return actions.start(
            db, db.get_one(Case, case.id), form, [db.get_one(Zone, zone.id) for zone in zones], by=hands.crew.by(by)
        )


def tap(
    hands: Hands,
    session: WorkSession,
    zone: Zone,
    taps: Mapping[str, str | int | float],
    *,
    by: str,
    techniques: Sequence[str] = ("dots",),
    used: Sequence[str] = USED,
) -> None:
    """Taps in what was used and seen on one zone."""
    at = clock.now().isoformat()
    sent = [(name, str(value)) for name, value in taps.items()] + [("techniques", tag) for tag in techniques]
    with hands.service.database.write() as db:
        row, held = db.get_one(WorkSession, session.id), db.get_one(Zone, zone.id)
        there = {item.item_id for item in queries.items_of(db, row.id or 0)}
        for key in used:
            if hands.items[key].id not in there:
                form = AddItem(tap_id=str(uuid.uuid4()), shelf_id=hands.items[key].id)
                actions.add_item(db, row, held, form, shelf=hands.items[key], by=hands.crew.by(by))
        for name, value in sent:
            one = SentTap(tap_id=str(uuid.uuid4()), name=name, value=value, tapped_at=at)
            actions.tap(db, row, held, one, by=hands.crew.by(by))


def finish(hands: Hands, session: WorkSession, *, by: str, minutes: int = 95) -> None:
    with clock.stopped_at(clock.now() + timedelta(minutes=minutes)), hands.service.database.write() as db:
        row = db.get_one(WorkSession, session.id)
        actions.finish(db, row, {}, studio=studio_queries.studio(db), by=hands.crew.by(by))
