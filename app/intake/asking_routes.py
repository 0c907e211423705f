"""Asking a client to fill in the form: the link, its code, and this device handed over."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents.device import code_for, hand_over
from app.intake import actions
from app.platform.forms import Sent
from app.platform.pages import show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries as records
from app.studio.access import AnyMember

router = APIRouter()


def _asked_page(request: Request, service: Service, case_id: int, who: AnyMember, token: str) -> HTMLResponse:
    """The address, which is shown here only, and a code for it, which is new each time."""
    with service.database.write() as db:
        case = records.case_to_arrange(db, who, case_id)
        client = records.client_for(db, who, case.client_id)
        code, until = code_for(db, token, who, purpose="intake", client_id=case.client_id)
    return show(
        request,
        "intake/asked.html",
        nav="clients",
        case=case,
        client=client,
        token=token,
        lasts=actions.LINK_LASTS.days,
        address=f"{service.settings.address}/l/{token}",
        code=code,
        code_until=until,
    )


@router.post("/cases/{case_id}/intake")
def ask(request: Request, service: Here, case_id: Id, who: AnyMember) -> HTMLResponse:
    """Makes the link and shows its address, once."""
    with service.database.write() as db:
        _, token = actions.ask(db, records.case_to_arrange(db, who, case_id), by=who.actor)
    return _asked_page(request, service, case_id, who, token)


@router.post("/cases/{case_id}/intake/code")
def new_code(request: Request, service: Here, case_id: Id, posted: Sent, who: AnyMember) -> HTMLResponse:
    """Another code for the same link; the earlier one ends."""
    return _asked_page(request, service, case_id, who, posted.one("token"))


@router.post("/cases/{case_id}/intake/here")
def open_here(service: Here, case_id: Id, posted: Sent, who: AnyMember) -> Response:
    """Ends the member's sign-in on this device and opens the form for the client."""
    with service.database.read() as db:
        case = records.case_to_arrange(db, who, case_id)
    return hand_over(service, who, posted.one("token"), purpose="intake", client_id=case.client_id)
