"""Carrying outlines over from another photo of the zone: asked for, waited for, looked at."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries, selectors
from app.records.carrying import carried_of, not_carried_words, source_of
from app.records.outline_actions import ask_to_carry
from app.records.outline_forms import CarryOutlines, read_landmarks
from app.records.outline_routes import Easel, easel
from app.records.outlines import for_page, said_of
from app.studio.access import Artist, Who

router = APIRouter()


def _page(request: Request, service: Service, who: Who, view: Easel, form: Filled[Any], *, template: str = "carrying",
          status: int = 200) -> HTMLResponse:
    source = source_of(service, view.carrying)
    drawn = selectors.read(source[1].outlines) if source else None
    with service.database.read() as db:
        is_source_hidden = queries.is_hidden(db, source[0]) if source else False
    return show(request, f"records/{template}.html", nav="clients", view=view, photo=view.photo, zone=view.zone,
                form=form, source=source[0] if source else None, source_set=source[1] if source else None,
                source_outlines=for_page(drawn) if drawn else "", said=said_of(drawn) if drawn else "",
                is_source_hidden=is_source_hidden, job=view.carrying, carried=carried_of(view.carrying),
                why_not=not_carried_words(view.carrying), status=status)


@router.get("/photos/{photo_id}/carrying")
def carrying_page(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    return _page(request, service, who, easel(service, who, photo_id), shown({}))


@router.get("/photos/{photo_id}/carrying/found")
def carrying_found(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    return _page(request, service, who, easel(service, who, photo_id), shown({}), template="_carrying")


@router.post("/photos/{photo_id}/carrying")
def carry(request: Request, service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    view = easel(service, who, photo_id)
    filled = fill(CarryOutlines, posted)
    found = {drawn.id: drawn for _, drawn in view.others}
    if filled.ok and filled.sure.source not in found:
        filled = filled.refuse("_form", "These outlines are not on file any more as they were. Choose again.")
    if not filled.ok:
        return _page(request, service, who, view, filled, status=422)
    sent = filled.sure
    with service.database.write() as db:
        ask_to_carry(db, queries.photo_for(db, who, photo_id), found[sent.source], read_landmarks(sent.landmarks))
    return see(f"/photos/{photo_id}/carrying")
