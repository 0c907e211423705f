"""Zones that were worked on, measured and judged, as the tests of outcomes and of the casebook need them."""

import io
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any

from PIL import Image
from sqlmodel import Session, select

from app.colour.reading import Estimate
from app.colour.reading import Reading as Measured
from app.demo.cast import Crew
from app.healing import actions as healing
from app.outcomes import actions, forms, queries
from app.outcomes.models import Verdict
from app.pigments.models import Recipe
from app.platform import audit
from app.platform.audit import AuditEntry
from app.platform.service import Service
from app.records import actions as records
from app.records import forms as record_forms
from app.records.models import Case, Photo, Zone
from app.records.photo_actions import Examination
from app.records.photo_permission import may_photograph
from app.records.selectors import Outlines
from app.sessions.models import SessionZone, WorkSession
from app.studio import queries as studio
from app.studio.access import Who
from tests.records.cast import answer_photos

LONG_AGO = date(2025, 10, 1)  # its colour may be judged on the day on which the tests stand


@dataclass(frozen=True)
class Treated:
    client_id: int
    case_id: int
    zone_id: int


def treated(
    service: Service,
    crew: Crew,
    *,
    name: str = "Maren Solberg",
    title: str = "Elbow",
    lead: str = "tomas",
    restricted: bool = False,
    **zone: Any,
) -> Treated:
    """A client of Tomas with a case and one zone."""
    by = crew.by(lead)
    with service.database.write() as db:
        client = records.add_client(db, record_forms.NewClient(name=name, phone="+353 87 123 4567"), by=by)
        new = record_forms.NewCase(title=title, lead_id=by.id or 0, is_restricted=restricted, skin_class="light")
        case = records.open_case(db, client, new, by=by)
        placed = records.place_zone(db, case, zone_form(**zone), by=by)
        return Treated(client.id or 0, case.id or 0, placed.id or 0)


def zone_form(**changes: Any) -> record_forms.PlaceZone:
    given = {"label": "Elbow", "site": "elbow", "side": "right", "scar_kind": "flat_pale", **changes}
    return record_forms.PlaceZone.model_validate(given)


def another_zone(service: Service, crew: Crew, about: Treated, **zone: Any) -> Treated:
    with service.database.write() as db:
        placed = records.place_zone(db, db.get_one(Case, about.case_id), zone_form(**zone), by=crew.by("tomas"))
        return Treated(about.client_id, about.case_id, placed.id or 0)


def worked(
    service: Service,
    crew: Crew,
    about: Treated,
    on: date,
    *,
    artist: str = "tomas",
    kind: str = "full",
    recipe: bool = True,
    state: str = "finished",
) -> int:
    """A session on the zone, as it stands on file afterwards, and the healing that it began; its id."""
    by, at = crew.by(artist), datetime.combine(on, time(10), UTC)
    with service.database.write() as db:
        with audit.entry(db, "sessions.session.finished", by):
            session = WorkSession(
                case_id=about.case_id,
                artist_id=by.id or 0,
                kind=kind,
                state=state,
                worked_on=on,
                started_at=at,
                entered_at=at,
                finished_at=None if state == "open" else at,
            )
            kept = Recipe(zone_id=about.zone_id, kind="own", name="own mix", kept_by=by.id or 0, kept_at=at)
            db.add_all([session, kept] if recipe else [session])
            db.flush()
            db.add(
                SessionZone(session_id=session.id or 0, zone_id=about.zone_id, recipe_id=kept.id if recipe else None)
            )
        if state != "open":
            healing.begin(
                db,
                case=db.get_one(Case, about.case_id),
                zones=[db.get_one(Zone, about.zone_id)],
                work=kind,
                session_key=f"sessions/{session.id}",
                worked_on=on,
                studio=studio.studio(db),
                by=by,
            )
        return session.id or 0


def jpeg(grey: int = 150) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (grey, grey - 20, grey - 35)).save(out, "JPEG")
    return out.getvalue()


def photographed(
    service: Service,
    crew: Crew,
    about: Treated,
    purpose: str,
    on: date,
    apart: tuple[float, float] | None = None,
    *,
    calibrated: bool = True,
    loose: bool = False,
    scar: tuple[float, float, float] = (68.0, 8.0, 14.0),
) -> Photo:
    """A photo of the zone; with `apart` also what was measured in it."""
    by, content = crew.by("tomas"), jpeg()
    stored = service.storage.put(content, "photo")
    shown, thumb = service.storage.put(content, "photo"), service.storage.put(content, "photo")
    with service.database.write() as db:
        if not may_photograph(db, about.client_id):
            answer_photos(db, about.client_id, "Maren Solberg", by=by)
        zone = None if loose else db.get_one(Zone, about.zone_id)
        photo = records.add_photo(
            db,
            db.get_one(Case, about.case_id),
            zone,
            purpose=purpose,
            taken_on=on,
            original=stored,
            width=64,
            height=48,
            camera="",
            by=by,
        )
        found = Examination(
            "ready", "", 64, 48, calibration_state="measured" if calibrated else "none", shown=shown, thumb=thumb
        )
        records.keep_examination(db, photo, found, by=by)
        if apart is not None:
            drawn = records.draw_outlines(db, photo, Outlines((), ()), by=by)
            records.keep_reading(db, photo, drawn, reading(apart, scar), by=by)
        return photo


def reading(apart: tuple[float, float], scar: tuple[float, float, float]) -> Measured:
    low, high = apart
    return Measured(
        "measured",
        "",
        (),
        ("lighter",),
        scar,
        (62.0, 10.0, 18.0),
        (0.3, 0.2, 0.2),
        (0.3, 0.2, 0.2),
        (low + high) / 2,
        low,
        high,
        Estimate(3, 1, 5),
        Estimate(0, -1, 1),
        Estimate(0, -1, 1),
        ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
        1.0,
        320.0,
    )


def verdict_form(**changes: Any) -> forms.JudgeZone:
    given = {"grade": "good", "grade_second_light": "good", "seen": "in_person", "next_step": "wait", **changes}
    return forms.JudgeZone.model_validate(given)


def judged(service: Service, crew: Crew, about: Treated, on: date, by: str = "ruth", **changes: Any) -> Verdict:
    """A verdict given today, with the clocks as they stand on `on`."""
    member = {"ruth": crew.ruth, "tomas": crew.tomas, "ines": crew.owner}[by]
    who = Who(member.id or 0, member.name, member.role, 1)
    with service.database.write() as db:
        seen = queries.judging_of(db, who, about.zone_id, on)
        return actions.judge(
            db,
            db.get_one(Zone, about.zone_id),
            verdict_form(**changes),
            sessions_used=seen.sessions_used,
            was_settled=seen.is_settled,
            by=crew.by(by),
        )


def trail(db: Session) -> list[str]:
    return [row.action for row in db.exec(select(AuditEntry)).all()]
