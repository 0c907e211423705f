"""A link to a client's own page of permissions, sent to the address on file: by the studio, or as the client asks."""

from datetime import date

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.messages import actions
from app.platform.audit import Actor
from app.platform.db import Handle
from app.platform.forms import Sent
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.records.models import Client
from app.studio.access import AftercareGuest, Artist, today
from app.studio.models import Studio

router = APIRouter()


def _plan(db: Handle, client: Client, studio: Studio, on: date, by: Actor) -> bool:
    """Once a day for one client; False where there is no address to send to."""
    if not client.email or client.id is None:
        return False
    actions.plan(
        db, unique_key=f"permissions-link/{client.id}/{on}", client_id=client.id, template="permissions_link",
        purpose="permissions", subject_id=client.id, due_on=on, time_zone=studio.time_zone, opens_at=studio.opens_at,
        by=by,
    )  # fmt: skip
    return True


@router.post("/clients/{client_id}/permissions/message")
def send_link(request: Request, service: Here, client_id: Id, who: Artist) -> Response:
    with service.database.write() as db:
        client = records.client_for(db, who, client_id)
        is_planned = _plan(db, client, request.state.studio, today(request), who.actor)
    return see(f"/clients/{client.id}/permissions" + ("?sent=yes" if is_planned else ""))


@router.post("/aftercare/permissions-link")
def ask_for_link(request: Request, service: Here, guest: AftercareGuest, _posted: Sent) -> HTMLResponse:
    """The pass of the aftercare page, which serves for months, opens no permissions: the address on file does."""
    with service.database.write() as db:
        client = records.kept_client(db, guest.client_id)  # whose address the message goes to
        is_planned = _plan(db, client, request.state.studio, today(request), guest.actor)
    return show(request, "consents/link_asked.html", is_planned=is_planned)
