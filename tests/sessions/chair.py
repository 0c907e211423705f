"""A client who may be worked on today, and what is tapped at the chair."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import select

from app.consents import actions as consents
from app.consents.forms import SiteCheck
from app.consents.models import Signature
from app.consents.site_actions import countersign
from app.consents.texts import TREATMENT, TYPED_REASONS
from app.demo.answers import short
from app.demo.cast import Crew
from app.intake import actions as intake
from app.intake import visit_actions as visits
from app.intake import visit_queries
from app.intake.visit_forms import PlanVisit
from app.pigments import actions as pigments
from app.pigments.forms import NewItem
from app.platform import clock
from app.platform.audit import Actor, AuditEntry
from app.platform.service import Service
from app.records import actions as records
from app.records.models import Case, Client, Zone
from app.sessions import actions
from app.sessions.forms import StartSession, WholeSession
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.studio import queries as studio_queries
from app.studio.country import country_pack
from tests.conftest import Browser
from tests.intake.course import Course, decided, open_course, placed, submitted


@dataclass(frozen=True)
class Chair:
    course: Course
    zone_id: int

    @property
    def case_id(self) -> int:
        return self.course.case_id


def permit(service: Service, course: Course, zone_id: int) -> None:
    with service.database.write() as db:
        document = consents.keep_document(db, TREATMENT.kind, TREATMENT.version, TREATMENT.text, by=course.by)
        signature = consents.sign(db, course.client_id, document, typed_name="Robin Ash", drawing=None, by=course.by)
        zone = db.get_one(Zone, zone_id)
        consents.answer(db, course.client_id, "treatment", True, signature, zones=[zone], by=course.by)
    seen = SiteCheck.model_validate({"identity_kind": "identity_card", "countersigned": "yes"})
    with service.database.write() as db:
        countersign(db, db.get_one(Signature, signature.id), seen, by=course.by)


def prove(service: Service, course: Course, zone_id: int, kind: str, seen_on: date = date(2026, 3, 10)) -> None:
    with service.database.write() as db:
        intake.write_evidence(
            db,
            client_id=course.client_id,
            zone_id=zone_id,
            kind=kind,
            result="clear",
            seen_on=seen_on,
            source_key=f"before/{kind}/{zone_id}",
            placed_on=date(2025, 12, 1),
            by=course.by,
        )


def cleared(service: Service, crew: Crew, answers: Mapping[str, Any] | None = None, **case: Any) -> Chair:
    """A zone on which every start check for full work is met on 16 March 2026."""
    course = open_course(service, crew, **case)
    screening_id = submitted(service, course, answers)
    zone_id = placed(service, course, "s1")
    decided(service, course, screening_id)
    prove(service, course, zone_id, "allergy_patch")
    prove(service, course, zone_id, "test_spot")
    permit(service, course, zone_id)
    chair = Chair(course, zone_id)
    asked(service, chair)
    return chair


def asked(
    service: Service, chair: Chair, stage: str = "arrival", on: date | None = None, **changes: Any
) -> int:
    """The short questions for a day, answered with nothing new but for the changes; the id of their screening."""
    on = on or clock.today("Europe/Dublin")
    with service.database.write() as db:
        case, by = db.get_one(Case, chair.case_id), chair.course.by
        visit = visit_queries.visit_on(db, chair.case_id, on)
        if visit is None:
            zones = visit_queries.open_zones(db, chair.case_id)
            visit = visits.plan_visit(db, case, PlanVisit(planned_on=on), zones, by=by)
        if stage == "arrival":
            visits.ask_at_arrival(db, visit, by=by)
        form = visit_queries.form_to_fill(db, visit)
        assert form is not None
        assert form.stage == stage
        told = short(visit_queries.draft_for(db, visit), **changes)
        screening = intake.submit(
            db, form, told, country=country_pack("IE"), on=clock.today("Europe/Dublin"), typed_name="Robin Ash",
            typed_reason=TYPED_REASONS["screen"], by=Actor("client", chair.course.client_id),
        )  # fmt: skip
    return screening.id or 0


def start_form(chair: Chair, **changes: Any) -> dict[str, Any]:
    return {
        "kind": "full",
        "artist_id": str(chair.course.by.id),
        "zones": [str(chair.zone_id)],
        "agreed": "yes",
        **changes,
    }


def started(service: Service, chair: Chair, kind: str = "full", **changes: Any) -> int:
    form = StartSession.model_validate(start_form(chair, kind=kind, **changes))
    with service.database.read() as db:
        is_asked = bool(visit_queries.day_answers(db, chair.case_id, clock.today("Europe/Dublin")).told)
    if not is_asked:
        asked(service, chair)
    with service.database.write() as db:
        session = actions.start(db, chair.course.case, form, [db.get_one(Zone, chair.zone_id)], by=chair.course.by)
    return session.id or 0


def finished(service: Service, session_id: int) -> None:
    with service.database.write() as db:
        session = db.get_one(WorkSession, session_id)
        actions.finish(db, session, {}, studio=studio_queries.studio(db), by=crew_of(session))


def crew_of(session: WorkSession) -> Actor:
    return Actor("member", session.artist_id)


def recorded(service: Service, chair: Chair, worked_on: date, **changes: Any) -> int:
    """A session put on file from paper; its id."""
    work = {"zone_id": chair.zone_id, "no_pigment": True}
    form = WholeSession.model_validate(
        {
            "kind": "full",
            "artist_id": chair.course.by.id,
            "worked_on": worked_on,
            "works": [work],
            "items": [{"kind": "needle", "label": "7 round", "lot": "N-1"}],
            "said_again": True,
            **changes,
        }
    )
    with service.database.write() as db:
        session = actions.record_past(db, chair.course.case, form, by=chair.course.by)
    return session.id or 0


def tap(browser: Browser, session_id: int, name: str, value: str, *, zone: int = 0, **more: str) -> Any:
    data = {
        "tap_id": str(uuid.uuid4()),
        "name": name,
        "value": value,
        "on": "1",
        "tapped_at": "2026-03-16T10:00:00Z",
        **more,
    }
    return browser.post(f"/sessions/{session_id}/taps?zone={zone}", data=data)


def work_of(service: Service, session_id: int) -> SessionZone:
    with service.database.read() as db:
        return db.exec(select(SessionZone).where(SessionZone.session_id == session_id)).one()


def session_of(service: Service, session_id: int) -> WorkSession:
    with service.database.read() as db:
        return db.get_one(WorkSession, session_id)


def items(service: Service, session_id: int) -> list[SessionItem]:
    with service.database.read() as db:
        return list(db.exec(select(SessionItem).where(SessionItem.session_id == session_id)).all())


def shelved(service: Service, crew: Crew, **values: Any) -> int:
    given: Mapping[str, Any] = {"kind": "needle", "label": "7 round shader", "lot": "C-2291", **values}
    with service.database.write() as db:
        item = pigments.add_item(db, NewItem.model_validate(given), by=crew.by("ines"))
    return item.id or 0


def hold(service: Service, chair: Chair) -> None:
    with service.database.write() as db:
        records.hold_client(db, db.get_one(Client, chair.course.client_id), "moving house", by=chair.course.by)


def trail(service: Service) -> list[str]:
    with service.database.read() as db:
        return [row.action for row in db.exec(select(AuditEntry)).all()]
