"""The hold of a client, from their page and, in one tap, from a screening that says something new."""

import re

from fastapi import APIRouter, Request, Response

from app.intake import hold_actions
from app.platform.forms import Refused, Sent, fill
from app.platform.pages import see
from app.platform.routing import Here, Id
from app.records import forms, queries
from app.records.client_routes import client_page_of
from app.studio.access import Artist, today

router = APIRouter()


@router.post("/clients/{client_id}/hold")
def hold(request: Request, service: Here, client_id: Id, posted: Sent, who: Artist) -> Response:
    filled, back = fill(forms.Hold, posted), posted.one("back")
    if filled.ok:
        try:
            with service.database.write() as db:
                client = queries.client_for(db, who, client_id)
                hold_actions.hold(db, client, filled.sure.reason, by=who.actor)
            return see(back if re.fullmatch(r"/screenings/[0-9]{1,10}", back, re.ASCII) else f"/clients/{client_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return client_page_of(request, service, client_id, who, filled, 422)


@router.post("/clients/{client_id}/release")
def release(request: Request, service: Here, client_id: Id, who: Artist) -> Response:
    with service.database.write() as db:
        hold_actions.release(db, queries.client_for(db, who, client_id), today(request), by=who.actor)
    return see(f"/clients/{client_id}")
