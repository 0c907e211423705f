"""What the page that starts a session shows: each zone with what stands against it today."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.intake import visit_queries as visits
from app.records import queries as records
from app.records.models import Alert, Case, Client, Zone
from app.sessions import queries
from app.sessions.start_checks import StartCheck
from app.studio import queries as studio_queries
from app.studio.access import Who
from app.studio.models import Member


@dataclass(frozen=True)
class ZoneLine:
    zone: Zone
    check: StartCheck
    open_id: int | None  # of a sheet that is open on it

    @property
    def can_start(self) -> bool:
        return not self.check.refusals


@dataclass(frozen=True)
class StartPage:
    case: Case
    client: Client
    lines: tuple[ZoneLine, ...]
    artists: tuple[Member, ...]
    alerts: tuple[Alert, ...]
    visit_id: int | None  # of today
    said: str
    told: tuple[visits.ToldPart, ...]
    due_on: date | None

    @property
    def can_start(self) -> bool:
        return any(line.can_start for line in self.lines)

    @property
    def has_waits(self) -> bool:
        return any(line.can_start and line.check.waits for line in self.lines)


def start_page(db: Session, who: Who, case_id: int, on: date, kind: str) -> StartPage:
    case = records.case_for(db, who, case_id)
    client = records.client_for(db, who, case.client_id)
    lines = tuple(
        ZoneLine(zone, queries.may_start(db, zone, on, kind), queries.open_on_zone(db, zone.id or 0))
        for zone in records.zones_of(db, case_id)
    )
    alerts = records.alerts_of(db, case.client_id, medical=True)
    told = visits.day_answers(db, case_id, on)
    return StartPage(
        case, client, lines, tuple(studio_queries.artists(db)), tuple(alerts),
        told.visit.id if told.visit is not None else None, told.said, visits.told_parts(db, told.told),
        visits.whole_form_due_on(db, case_id, on),
    )  # fmt: skip
