from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.pigments import queries as pigments
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.sessions import actions, terms
from app.sessions.forms import StartSession, WholeSession
from app.sessions.record_form import MOST_ROWS, SPARE_ROWS, fill_whole
from app.sessions.sheet import ITEM_WORDS
from app.sessions.start_page import start_page
from app.studio import queries as studio_queries
from app.studio.access import Artist, NotFound, Who, today

router = APIRouter()


@router.get("/cases/{case_id}/sessions/new")
def new_session(request: Request, service: Here, case_id: Id, who: Artist, kind: str = "full") -> HTMLResponse:
    if kind not in terms.KINDS:
        raise NotFound
    return _start_page(request, service, case_id, who, kind, shown({"artist_id": who.id, "kind": kind, "zones": []}))


def _start_page(
    request: Request, service: Here, case_id: int, who: Who, kind: str, form: Filled[Any], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = start_page(db, who, case_id, today(request), kind)
    return show(request, "sessions/new.html", nav="clients", page=page, kind=kind, terms=terms, form=form,
                on=today(request), status=status)  # fmt: skip


@router.post("/cases/{case_id}/sessions/new")
def start(request: Request, service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(StartSession, posted)
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
        known = records.zones_of(db, case_id)
    if filled.ok:
        zones = [zone for zone in known if zone.id in filled.sure.zones]
        try:
            with service.database.write() as db:
                session = actions.start(db, case, filled.sure, zones, by=who.actor)
            return see(f"/sessions/{session.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    kind = posted.one("kind") if posted.one("kind") in terms.KINDS else "full"
    return _start_page(request, service, case_id, who, kind, filled, 422)


@router.get("/cases/{case_id}/sessions/paper")
def from_paper(request: Request, service: Here, case_id: Id, who: Artist) -> HTMLResponse:
    form = shown({"kind": "full", "state": "finished", "zones": [], "artist_id": who.id})
    return whole_page(request, service, case_id, who, form, f"/cases/{case_id}/sessions/paper")


def whole_page(
    request: Request, service: Here, case_id: int, who: Who, form: Filled[Any], address: str, *, rows: int = 8,
    corrects: int | None = None, status: int = 200,
) -> HTMLResponse:  # fmt: skip
    """The whole session as one form: for paper and for a correction."""
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
        client, zones = records.client_for(db, who, case.client_id), records.zones_of(db, case_id)
        artists = [member for member in studio_queries.members(db) if member.role != "desk"]
        shelf = [item for item in pigments.items(db) if item.state != "empty"]
        recipes = {zone.id: pigments.recipes_of(db, zone.id or 0) for zone in zones}
        alerts = records.alerts_of(db, case.client_id, medical=True)
    return show(request, "sessions/whole.html", nav="clients", case=case, client=client, zones=zones, artists=artists,
                alerts=alerts, shelf=shelf, recipes=recipes, terms=terms, item_words=ITEM_WORDS, form=form,
                address=address, rows=rows, corrects=corrects, status=status)  # fmt: skip


def rows_for(filled: Filled[WholeSession], held: int = 0) -> int:
    """As many rows as were sent or are on file, and a few to spare."""
    sent = [row for row in range(1, MOST_ROWS + 1) if filled.values.get(f"i{row}_label")]
    return min(max([held, *sent]) + SPARE_ROWS, MOST_ROWS)


@router.post("/cases/{case_id}/sessions/paper")
def record_past(request: Request, service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
        zone_ids = [zone.id or 0 for zone in records.zones_of(db, case_id)]
    filled = fill_whole(posted, zone_ids)
    if filled.ok:
        try:
            with service.database.write() as db:
                session = actions.record_past(db, case, filled.sure, by=who.actor)
            return see(f"/sessions/{session.id}/record")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    address = f"/cases/{case_id}/sessions/paper"
    return whole_page(request, service, case_id, who, filled, address, rows=rows_for(filled, 4), status=422)
