"""Placing a zone and changing it: records describes it, and here it is graded by the screening in the same step."""

from fastapi import APIRouter, Request, Response

from app.intake import actions
from app.platform.forms import Refused, Sent, fill
from app.platform.pages import see
from app.platform.routing import Here, Id
from app.records import forms, queries
from app.records.zone_routes import form_page
from app.studio.access import Artist

router = APIRouter()


@router.post("/cases/{case_id}/zones")
def place_zone(request: Request, service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.PlaceZone, posted)
    with service.database.read() as db:
        case = queries.case_for(db, who, case_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                zone = actions.place_zone(db, queries.case_for(db, who, case_id), filled.sure, by=who.actor)
            return see(f"/zones/{zone.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return form_page(request, service, case, None, filled, 422)


@router.post("/zones/{zone_id}")
def change_zone(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.ChangeZone, posted)
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.change_zone(db, queries.zone_for(db, who, zone_id), filled.sure, by=who.actor)
            return see(f"/zones/{zone_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return form_page(request, service, case, zone, filled, 422)
