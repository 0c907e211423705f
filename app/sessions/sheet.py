"""A session as its pages show it: the sheet at the chair and the record."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from app.intake.models import Evidence
from app.pigments import queries as pigments
from app.pigments.models import Item, Recipe
from app.platform import clock
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import Alert, Case, Client, Zone
from app.sessions.gaps import COLOUR_KINDS, Gap
from app.sessions.item_cautions import item_breaches, item_cautions
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.sessions.start_queries import reading_of, root_id
from app.sessions.terms import TECHNIQUE, side_and_place, tissue_cautions
from app.studio import queries as studio_queries

MIX_KINDS = (*COLOUR_KINDS, "diluent")
ITEM_WORDS = {
    "strong": "Pigment", "skin_tone": "Pigment", "white": "White", "diluent": "Diluent", "needle": "Needle",
    "numbing": "Numbing", "antiseptic": "Antiseptic", "dressing": "Dressing",
}  # fmt: skip


@dataclass(frozen=True)
class Breach:
    zone: str
    words: str


@dataclass(frozen=True)
class LastTime:
    """What was set the last time and what came of it: shown, never proposed."""

    worked_on: date
    words: str


@dataclass(frozen=True)
class ZoneSheet:
    zone: Zone
    work: SessionZone
    place: str
    recipe: Recipe | None
    recipes: tuple[Recipe, ...]
    mix: tuple[SessionItem, ...]
    techniques: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def technique_words(self) -> list[str]:
        return [TECHNIQUE[key].words if key in TECHNIQUE else key for key in self.techniques]


@dataclass(frozen=True)
class Version:
    id: int
    number: int
    entered_at: datetime
    entered_by: str
    why: str


@dataclass(frozen=True)
class Sheet:
    session: WorkSession
    case: Case
    client: Client
    age: int | None
    artist: str
    zones: tuple[ZoneSheet, ...]
    items: tuple[SessionItem, ...]  # all of them, those of the mixes too
    alerts: tuple[Alert, ...]
    gaps: tuple[Gap, ...]
    breaches: tuple[Breach, ...]
    passed: tuple[Breach, ...]
    reaffirmed: tuple[tuple[str, str], ...]
    versions: tuple[Version, ...]
    reading: Evidence | None
    needle_seconds: int
    cautions: Mapping[str, str]  # what the client's alerts say about kinds of items

    @property
    def item_breaches(self) -> tuple[str, ...]:
        """What is written down as used against an alert, while the sheet is open."""
        used, kinds = {item.kind for item in self.items}, {alert.kind for alert in self.alerts}
        return tuple(one.breach for one in item_breaches(used, kinds))

    @property
    def others(self) -> list[SessionItem]:
        return [item for item in self.items if item.kind not in MIX_KINDS]

    @property
    def worked(self) -> list[ZoneSheet]:
        return [sheet for sheet in self.zones if not sheet.work.is_untouched]

    def zone(self, zone_id: int | None) -> ZoneSheet:
        """The zone asked for, or the first."""
        return next((sheet for sheet in self.zones if sheet.zone.id == zone_id), self.zones[0])


def sheet_of(
    db: Session, session: WorkSession, zones: Sequence[tuple[Zone, SessionZone]], items: Sequence[SessionItem],
    gaps: Sequence[Gap],
) -> Sheet:  # fmt: skip
    case = db.get_one(Case, session.case_id)
    client = records.kept_client(db, case.client_id)
    assert client.id is not None
    alerts = records.alerts_of(db, client.id, medical=True)
    return Sheet(
        session=session,
        case=case,
        client=client,
        age=age_on(client.born_on, session.worked_on),
        artist=studio_queries.names(db).get(session.artist_id, ""),
        zones=tuple(_zone_sheet(db, zone, work, items) for zone, work in zones),
        items=tuple(items),
        alerts=tuple(alerts),
        gaps=tuple(gaps),
        breaches=_named(session.breaches),
        passed=_named(session.passed),
        reaffirmed=tuple((one["asked"], one["answer"]) for one in json.loads(session.reaffirmed)),
        versions=tuple(_versions(db, session)),
        reading=reading_of(db, session) if session.kind in ("allergy_patch", "test_spot") else None,
        needle_seconds=needle_seconds(session),
        cautions=item_cautions([alert.kind for alert in alerts]),
    )


def age_on(born_on: date | None, on: date) -> int | None:
    if born_on is None:
        return None
    return on.year - born_on.year - ((on.month, on.day) < (born_on.month, born_on.day))


def needle_seconds(session: WorkSession) -> int:
    """Time with the needle on, up to now when it is on."""
    counted = session.needle_seconds or 0
    if session.needle_since is None:
        return counted
    return counted + max(0, int((clock.now() - session.needle_since).total_seconds()))


def _zone_sheet(db: Session, zone: Zone, work: SessionZone, items: Sequence[SessionItem]) -> ZoneSheet:
    assert zone.id is not None
    recipes = pigments.recipes_of(db, zone.id)
    recipe = db.get(Recipe, work.recipe_id) if work.recipe_id is not None else None
    mix = tuple(item for item in items if item.kind in MIX_KINDS and item.zone_id in (None, zone.id))
    cautions = tissue_cautions(padding=zone.padding, is_irradiated=zone.is_irradiated, is_grafted=zone.is_grafted)
    return ZoneSheet(zone, work, side_and_place(zone.side, zone.label), recipe, tuple(recipes), mix,
                     tuple(json.loads(work.techniques)), cautions)  # fmt: skip


def _named(text: str) -> tuple[Breach, ...]:
    return tuple(Breach(one["zone"], one["words"]) for one in json.loads(text))


def _versions(db: Session, session: WorkSession) -> list[Version]:
    """Every version of a session, the first first."""
    names = studio_queries.names(db)
    rows: list[Version] = []
    row: WorkSession | None = db.get_one(WorkSession, root_id(db, session))
    while row is not None and row.id is not None:
        rows.append(Version(row.id, len(rows) + 1, row.entered_at, names.get(row.entered_by or 0, ""), row.why))
        row = db.exec(select(WorkSession).where(WorkSession.replaces_id == row.id)).first()
    return rows


def last_time(db: Session, zone: Zone, session: WorkSession) -> LastTime | None:
    """What was set on this zone before, and how the first dots and the skin answered."""
    replaced = select(WorkSession.replaces_id).where(col(WorkSession.replaces_id).is_not(None))
    wanted = (
        select(WorkSession, SessionZone)
        .join(SessionZone, col(SessionZone.session_id) == col(WorkSession.id))
        .where(SessionZone.zone_id == zone.id, WorkSession.id != session.id, WorkSession.state == "finished")
        .where(col(WorkSession.id).not_in(replaced), WorkSession.worked_on <= session.worked_on)
        .order_by(col(WorkSession.worked_on).desc(), col(WorkSession.id).desc())
    )
    found = db.exec(wanted.limit(1)).first()
    return LastTime(found[0].worked_on, set_words(found[1])) if found is not None else None


def set_words(work: SessionZone) -> str:
    """7 round shader, hang 1.2 mm as set, 7.0 V; first dots holding; bleeding 1"""
    parts = [work.needle] if work.needle else []
    if work.hang_mm is not None:
        parts.append(f"hang {work.hang_mm:g} mm as set")
    if work.device_setting:
        parts.append(f"{work.device_setting} {work.device_unit}")
    came = [f"first dots {work.first_dots.replace('_', ' ')}"] if work.first_dots else []
    skin = (("redness", work.redness), ("bleeding", work.bleeding))
    came += [f"{name} {value}" for name, value in skin if value is not None]
    return "; ".join(part for part in (", ".join(parts), ", ".join(came)) if part) or "nothing was written down"


def shelf_caution(item: Item, on: date) -> str:
    """What stands against using an item on a day. It is said and kept with the record; it refuses nothing."""
    said = {"quarantined": "In quarantine: do not use.", "recalled": "Recalled by its maker: do not use.",
            "empty": "On file as empty."}  # fmt: skip
    if item.state in said:
        return said[item.state]
    if item.use_by is not None and item.use_by < on:
        return f"Past its date, {day_words(item.use_by)}: do not use."
    return ""
