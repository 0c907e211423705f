"""The page of a zone: what it is, its photos and readings, and how they changed over its course."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from app.casebook.change_queries import zone_change
from app.platform.pages import show
from app.platform.routing import Here, Id
from app.records import queries
from app.records.models import Reading
from app.records.photo_words import ReadingWords, reading_words
from app.records.scars import FRAME_NAMES, PURPOSE_WORDS
from app.records.zone_routes import point_of, said, zone_facts
from app.studio.access import Artist, today

router = APIRouter()


@dataclass(frozen=True)
class ShownReading:
    row: Reading
    words: ReadingWords


@router.get("/zones/{zone_id}")
def zone_page(request: Request, service: Here, zone_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
        client = queries.client_for(db, who, case.client_id)
        photos = queries.photos_of(db, zone_id)
        rows = queries.readings_of(db, zone_id)
        changed = zone_change(db, zone, case, photos, rows, today(request))
        declared = [said(scar) for scar in queries.declared_of(db, zone.case_id) if scar.zone_id == zone_id]
        alerts = queries.alerts_of(db, case.client_id, medical=True)
    readings = [ShownReading(row, reading_words(row, case.skin_class)) for row in rows]
    return show(
        request,
        "casebook/zone.html",
        nav="clients",
        zone=zone,
        case=case,
        client=client,
        photos=photos,
        readings=readings,
        changed=changed,
        declared=declared,
        alerts=alerts,
        facts_known=zone_facts(zone),
        point=point_of(zone),
        purposes=PURPOSE_WORDS,
        frames=FRAME_NAMES,
        is_open=not zone.is_sensitive or open == "1",
    )
