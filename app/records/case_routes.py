from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import actions, forms, queries
from app.studio import queries as studio
from app.studio.access import Artist, Who

router = APIRouter()


def _form_page(request: Request, service: Here, client_id: int, who: Who, form: Filled[Any],
               status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        client = queries.client_for(db, who, client_id)
        artists = [(member.id, member.name) for member in studio.artists(db)]
    return show(request, "records/case_form.html", nav="clients", client=client, artists=artists, form=form,
                status=status)


@router.get("/clients/{client_id}/cases/new")
def new_case(request: Request, service: Here, client_id: Id, who: Artist) -> HTMLResponse:
    return _form_page(request, service, client_id, who, shown({"lead_id": who.id}))


@router.post("/clients/{client_id}/cases")
def open_case(request: Request, service: Here, client_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.NewCase, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                case = actions.open_case(db, queries.client_for(db, who, client_id), filled.sure, by=who.actor)
            return see(f"/cases/{case.id}" if who.is_owner or who.id in (case.lead_id, case.deputy_id)
                       or not case.is_restricted else f"/clients/{client_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _form_page(request, service, client_id, who, filled, 422)
