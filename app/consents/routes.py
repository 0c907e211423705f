from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import actions, forms, paper_queries, queries
from app.consents.device import code_for, hand_over
from app.consents.guest_routes import router as guest_routes
from app.consents.paper_routes import router as paper_routes
from app.consents.signing_routes import router as signing_routes
from app.consents.text_queries import text_in_use
from app.consents.text_routes import router as text_routes
from app.consents.texts import PROCEDURE_NAMES, permission_words
from app.platform.db import Handle
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Zone
from app.studio.access import Artist

router = APIRouter()
for part in (signing_routes, guest_routes, paper_routes, text_routes):
    router.include_router(part)


def _ask_page(
    request: Request, service: Here, case_id: int, who: Artist, form: Filled[forms.AskToSign], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
        client, zones = records.client_for(db, who, case.client_id), records.zones_of(db, case_id)
        text, age, pack = text_in_use(db, "treatment", client.language), queries.age_of(db, client), queries.pack(db)
    return show(
        request,
        "consents/ask.html",
        nav="clients",
        case=case,
        client=client,
        zones=zones,
        form=form,
        text=text,
        age=age,
        pack=pack,
        procedures=list(PROCEDURE_NAMES.items()),
        permissions=permission_words(),
        status=status,
    )


@router.get("/cases/{case_id}/signing")
def ask_page(request: Request, service: Here, case_id: Id, who: Artist) -> HTMLResponse:
    return _ask_page(request, service, case_id, who, shown({}))


@router.post("/cases/{case_id}/signing")
def ask_to_sign(request: Request, service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.AskToSign, posted)
    if not filled.ok:
        return _ask_page(request, service, case_id, who, filled, 422)
    try:
        with service.database.write() as db:
            case = records.case_for(db, who, case_id)
            zones = _chosen(db, case_id, filled.sure.zones)
            token = actions.ask_to_sign(db, case, zones, procedures=filled.sure.procedures, by=who.actor)
    except Refused as refused:
        return _ask_page(request, service, case_id, who, filled.refuse(refused.name, refused.message), 422)
    return _asked_page(request, service, case_id, who, token)


def _asked_page(request: Request, service: Service, case_id: int, who: Artist, token: str) -> HTMLResponse:
    """The address, which is shown here only, and a code for it, which is new each time."""
    with service.database.write() as db:
        case = records.case_for(db, who, case_id)
        client = records.client_for(db, who, case.client_id)
        code, until = code_for(db, token, who, purpose="signing", client_id=case.client_id)
        signing = queries.signing_of_link(db, token)
    return show(
        request,
        "consents/asked.html",
        nav="clients",
        case=case,
        client=client,
        zones=signing.zones,
        procedures=[PROCEDURE_NAMES[kind] for kind in signing.procedures],
        token=token,
        address=f"{service.settings.address}/l/{token}",
        code=code,
        code_until=until,
    )


@router.post("/cases/{case_id}/signing/code")
def new_code(request: Request, service: Here, case_id: Id, posted: Sent, who: Artist) -> HTMLResponse:
    """Another code for the same link; the earlier one ends."""
    return _asked_page(request, service, case_id, who, posted.one("token"))


def _chosen(db: Handle, case_id: int, ids: list[str]) -> list[Zone]:
    return [zone for zone in records.zones_of(db, case_id) if str(zone.id) in ids]


@router.post("/cases/{case_id}/signing/here")
def sign_here(service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    """Ends the member's sign-in on this device and opens the text for the client."""
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
    return hand_over(service, who, posted.one("token"), purpose="signing", client_id=case.client_id)


def _permissions_page(
    request: Request, service: Here, client_id: int, who: Artist, form: Filled[forms.Signed], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        client = records.client_for(db, who, client_id)
        lines, cases = queries.permission_lines(db, who, client), records.cases_of(db, who, client_id)
        papers = paper_queries.papers_of(db, who, client_id)
        may_show = queries.opens_every_case(db, who, client_id)
    return show(
        request,
        "consents/permissions.html",
        nav="clients",
        client=client,
        lines=lines,
        cases=cases,
        papers=papers,
        may_show=may_show,
        procedure_names=PROCEDURE_NAMES,
        form=form,
        status=status,
    )


@router.get("/clients/{client_id}/permissions")
def permissions(request: Request, service: Here, client_id: Id, who: Artist, sent: str = "") -> HTMLResponse:
    return _permissions_page(request, service, client_id, who, shown({"sent": sent[:3]}))


@router.post("/clients/{client_id}/permissions/address")
def make_link(request: Request, service: Here, client_id: Id, who: Artist) -> Response:
    """Shows the address of the client's own page once; it names zones, so only who may open every case makes it."""
    with service.database.read() as db:
        client = records.client_for(db, who, client_id)
        may_show = queries.opens_every_case(db, who, client_id)
    if not may_show:
        form: Filled[forms.Signed] = shown({}).refuse(
            "_link", "Only who may open every case of this client can do this."
        )
        return _permissions_page(request, service, client_id, who, form, 422)
    with service.database.write() as db:
        token = actions.make_permissions_link(db, client, by=who.actor)
    address = f"{service.settings.address}/l/{token}"
    return show(request, "consents/permissions_link.html", nav="clients", client=client, address=address)


@router.post("/permissions/{permission_id}/revocation")
def revoke(request: Request, service: Here, permission_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        client_id = queries.permission_for(db, who, permission_id).client_id
    try:
        with service.database.write() as db:
            actions.revoke(db, queries.permission_for(db, who, permission_id), by=who.actor)
    except Refused as refused:
        return _permissions_page(
            request, service, client_id, who, shown({}).refuse("permissions", refused.message), 422
        )
    return see(f"/clients/{client_id}/permissions")
