"""Everything on file about one case, read at once for its page."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from app.casebook.states import CaseFacts, ZoneFacts
from app.consents import queries as consents
from app.intake import queries as intake
from app.intake.models import Clearance, Screening, Submission
from app.intake.visit_queries import VisitLine, visit_lines, whole_form_due_on
from app.outcomes.models import Verdict
from app.outcomes.review_queries import ZoneOnFile, zones_on_file
from app.pigments.models import Item, Recipe, RecipePart
from app.records import queries as records
from app.records.models import Alert, Case, Client, Photo, Task, Zone
from app.records.tasks import tasks_of_case
from app.sessions import queries as sessions
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.studio import queries as studio
from app.studio.access import Who


@dataclass(frozen=True)
class Mix:
    """A recipe with its counted drops."""

    recipe: Recipe
    parts: tuple[tuple[Item, int], ...]
    is_used: bool

    @property
    def drops(self) -> int:
        return sum(drops for _, drops in self.parts)


@dataclass(frozen=True)
class ZoneFile:
    """A zone with its work and what else its line on the page needs."""

    on_file: ZoneOnFile
    clearance: Clearance | None
    is_permitted: bool
    has_open_session: bool
    mix: Mix | None
    photo_count: int

    @property
    def zone(self) -> Zone:
        return self.on_file.zone

    @property
    def standing(self) -> Verdict | None:
        return self.on_file.standing


@dataclass(frozen=True)
class CaseFile:
    case: Case
    client: Client
    names: dict[int, str]
    submission: Submission | None
    screenings: tuple[Screening, ...]
    open_findings: int
    zones: tuple[ZoneFile, ...]
    sessions: tuple[WorkSession, ...]
    worked: dict[int, tuple[str, ...]]  # session id to the labels of its zones
    permissions: tuple[consents.PermissionLine, ...]
    loose_photos: tuple[Photo, ...]
    alerts: tuple[Alert, ...]
    tasks: tuple[Task, ...]
    visits: tuple[VisitLine, ...]
    form_due_on: date | None  # since when the whole form is too old

    def facts(self, on: date) -> CaseFacts:
        """What the state of the case follows from."""
        newest = self.screenings[0] if self.screenings else None
        return CaseFacts(
            zones=tuple(zone_facts(zone) for zone in self.zones),
            is_asked=self.submission is not None,
            answered_on=newest.screened_on if newest is not None else None,
            decision=newest.decision if newest is not None else None,
            wait_until=newest.wait_until if newest is not None else None,
            open_findings=self.open_findings,
            is_held=self.client.held_at is not None,
            closed_on=self.case.closed_on,
        )


def zone_facts(file: ZoneFile) -> ZoneFacts:
    clock, clearance, standing = file.on_file.clock, file.clearance, file.standing
    return ZoneFacts(
        label=file.zone.label,
        cleared=clearance.days if clearance is not None else None,
        cleared_until=clearance.until_on if clearance is not None else None,
        has_open_session=file.has_open_session,
        worked_on=clock.worked_on if clock is not None else None,
        is_spot=clock is not None and clock.work == "test_spot",
        earliest_on=clock.earliest_on if clock is not None else None,
        judge_on=clock.judge_on if clock is not None else None,
        standing=standing.counts if standing is not None else "",
        next_step=standing.next_step if standing is not None else "",
        finished_on=file.zone.finished_on,
    )


def case_file(db: Session, who: Who, case_id: int, on: date) -> CaseFile:
    case = records.case_for(db, who, case_id)
    client = records.client_for(db, who, case.client_id)
    screenings = intake.screenings_of(db, case_id)
    zones = records.zones_of(db, case_id)
    rows = sessions.sessions_of(db, case_id)
    return CaseFile(
        case,
        client,
        studio.names(db),
        intake.submission_of_case(db, case_id),
        tuple(screenings),
        intake.open_count(db, screenings[0], on) if screenings else 0,
        _zone_files(db, who, zones, on),
        tuple(rows),
        _worked_labels(db, zones, [row.id or 0 for row in rows]),
        tuple(consents.permission_lines(db, who, client)),
        _loose_photos(db, case_id),
        tuple(records.alerts_of(db, client.id or 0, medical=True)),
        tuple(tasks_of_case(db, case_id)),
        visit_lines(db, case_id, on),
        whole_form_due_on(db, case_id, on),
    )


def _zone_files(db: Session, who: Who, zones: list[Zone], on: date) -> tuple[ZoneFile, ...]:
    ids = [zone.id for zone in zones if zone.id is not None]
    clearances, mixes, photos, being_worked = (
        _clearances(db, ids),
        _recipes(db, ids),
        _photo_counts(db, ids),
        _in_open_sessions(db, ids),
    )
    files = []
    for one in zones_on_file(db, who, zones):
        zone_id = one.zone.id or 0
        used = next((work.recipe_id for work in reversed(one.work) if work.recipe_id is not None), None)
        files.append(
            ZoneFile(
                one,
                clearances.get(zone_id),
                consents.treatment_in_force(db, zone_id, on) is not None,
                zone_id in being_worked,
                _mix(mixes.get(zone_id, []), used),
                photos.get(zone_id, 0),
            )
        )
    return tuple(files)


def _clearances(db: Session, ids: Collection[int]) -> dict[int, Clearance]:
    """The newest of each zone."""
    wanted = select(Clearance).where(col(Clearance.zone_id).in_(ids)).order_by(col(Clearance.id))
    return {row.zone_id: row for row in db.exec(wanted).all()}


def _recipes(db: Session, ids: Collection[int]) -> dict[int, list[tuple[Recipe, tuple[tuple[Item, int], ...]]]]:
    wanted = select(Recipe).where(col(Recipe.zone_id).in_(ids)).order_by(col(Recipe.id))
    recipes = db.exec(wanted).all()
    counted: dict[int, list[tuple[Item, int]]] = {}
    parts = select(RecipePart, Item).join(Item).where(col(RecipePart.recipe_id).in_([row.id for row in recipes]))
    for part, item in db.exec(parts.order_by(col(RecipePart.drops).desc(), col(Item.id))).all():
        counted.setdefault(part.recipe_id, []).append((item, part.drops))
    found: dict[int, list[tuple[Recipe, tuple[tuple[Item, int], ...]]]] = {}
    for recipe in recipes:
        found.setdefault(recipe.zone_id, []).append((recipe, tuple(counted.get(recipe.id or 0, ()))))
    return found


def _mix(kept: list[tuple[Recipe, tuple[tuple[Item, int], ...]]], used: int | None) -> Mix | None:
    """The recipe that was used last, or else the newest that was kept."""
    replaced = {recipe.replaces_id for recipe, _ in kept}
    for recipe, parts in reversed(kept):
        if recipe.id == used or (used is None and recipe.id not in replaced):
            return Mix(recipe, parts, used is not None)
    return None


def _photo_counts(db: Session, ids: Collection[int]) -> dict[int, int]:
    counts: dict[int, int] = {}
    for zone_id in db.exec(select(Photo.zone_id).where(col(Photo.zone_id).in_(ids))).all():
        counts[zone_id or 0] = counts.get(zone_id or 0, 0) + 1
    return counts


def _in_open_sessions(db: Session, ids: Collection[int]) -> set[int]:
    wanted = select(SessionZone.zone_id).join(WorkSession).where(WorkSession.state == "open")
    return set(db.exec(wanted.where(col(SessionZone.zone_id).in_(ids))).all())


def _worked_labels(db: Session, zones: list[Zone], session_ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    labels = {zone.id: zone.label for zone in zones}
    found: dict[int, tuple[str, ...]] = {}
    wanted = select(SessionZone).where(
        col(SessionZone.session_id).in_(session_ids), col(SessionZone.is_untouched).is_(False)
    )
    for part in db.exec(wanted.order_by(col(SessionZone.id))).all():
        found[part.session_id] = (*found.get(part.session_id, ()), labels.get(part.zone_id, ""))
    return found


def _loose_photos(db: Session, case_id: int) -> tuple[Photo, ...]:
    """Photos of the case that belong to no zone."""
    wanted = select(Photo).where(Photo.case_id == case_id, col(Photo.zone_id).is_(None))
    return tuple(db.exec(wanted.order_by(col(Photo.taken_on), col(Photo.id))).all())


@dataclass(frozen=True)
class Used:
    label: str
    lot: str
    kind: str


@dataclass(frozen=True)
class Placed:
    """One day's work on one zone, as a clinician needs to know it."""

    zone: Zone
    worked_on: date
    artist: str
    work: str
    used: tuple[Used, ...]


def placed_in(db: Session, file: CaseFile) -> tuple[Placed, ...]:
    """What was put in where, with lots, newest first."""
    ids = [row.id for row in file.sessions if row.id is not None]
    items: dict[int, list[SessionItem]] = {}
    wanted = select(SessionItem).where(col(SessionItem.session_id).in_(ids)).order_by(col(SessionItem.id))
    for item in db.exec(wanted).all():
        items.setdefault(item.session_id, []).append(item)
    placed = []
    for zone in file.zones:
        for work in zone.on_file.work:
            used = (item for item in items.get(work.session_id, []) if item.zone_id in (None, zone.zone.id))
            lines = tuple(Used(item.label, _lot(item), item.kind) for item in used)
            placed.append(Placed(zone.zone, work.worked_on, file.names.get(work.artist_id, ""), work.words, lines))
    return tuple(sorted(placed, key=lambda one: one.worked_on, reverse=True))


def _lot(item: SessionItem) -> str:
    return "unreadable" if item.lot_unreadable else item.lot or "not on file"
