from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import actions, forms, queries
from app.consents.device import hand_over
from app.consents.drawing import keep_drawing
from app.consents.texts import TREATMENT, blocks, permission_words
from app.platform.db import Handle
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.records.models import Zone
from app.studio.access import Artist, NotFound, SigningGuest

router = APIRouter()


def _ask_page(
    request: Request, service: Here, case_id: int, who: Artist, form: Filled[forms.AskToSign], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
        client, zones = records.client_for(db, who, case.client_id), records.zones_of(db, case_id)
    return show(
        request,
        "consents/ask.html",
        nav="clients",
        case=case,
        client=client,
        zones=zones,
        form=form,
        blocks=blocks(TREATMENT.text),
        version=TREATMENT.version,
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
            client, zones = records.client_for(db, who, case.client_id), _chosen(db, case_id, filled.sure.zones)
            token = actions.ask_to_sign(db, case, zones, by=who.actor)
    except Refused as refused:
        return _ask_page(request, service, case_id, who, filled.refuse(refused.name, refused.message), 422)
    address = f"{service.settings.address}/l/{token}"
    return show(
        request,
        "consents/asked.html",
        nav="clients",
        case=case,
        client=client,
        zones=zones,
        token=token,
        address=address,
    )


def _chosen(db: Handle, case_id: int, ids: list[str]) -> list[Zone]:
    return [zone for zone in records.zones_of(db, case_id) if str(zone.id) in ids]


@router.post("/cases/{case_id}/signing/here")
def sign_here(service: Here, case_id: Id, posted: Sent, who: Artist) -> Response:
    """Ends the member's sign-in on this device and opens the text for the client."""
    with service.database.read() as db:
        case = records.case_for(db, who, case_id)
    return hand_over(service, who, posted.one("token"), purpose="signing", client_id=case.client_id)


def _signing_page(
    request: Request, service: Here, guest: SigningGuest, form: Filled[forms.Treatment], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        signing = queries.signing_for_guest(db, guest)
        # A yes that stands is not asked for again, where a quick "no to all" would take it back unmeant. Numbing is
        # about the places of this signing and is always asked.
        standing = [
            words for words in permission_words()
            if words.kind != "numbing" and queries.is_granted(db, guest.client_id, words.kind)
        ]  # fmt: skip
    if signing.request.signature_id is not None:
        return show(request, "consents/signed.html")
    asked = [words for words in permission_words() if words not in standing]
    return show(
        request, "consents/sign.html", signing=signing, permissions=asked, standing=[words.named for words in standing],
        form=form, status=status,
    )  # fmt: skip


@router.get("/signing")
def signing_page(request: Request, service: Here, guest: SigningGuest) -> HTMLResponse:
    return _signing_page(request, service, guest, shown({}))


@router.post("/signing")
def sign(request: Request, service: Here, posted: Sent, guest: SigningGuest) -> Response:
    filled = fill(forms.Treatment, posted)
    try:
        drawing = keep_drawing(service, filled.sure) if filled.ok else None
        if not filled.ok:
            return _signing_page(request, service, guest, filled, 422)
        with service.database.write() as db:
            signing = queries.signing_for_guest(db, guest)
            actions.sign_treatment(
                db,
                signing,
                treatment=filled.sure.treatment == "yes",
                answers=filled.sure.answered,
                typed_name=filled.sure.typed_name,
                drawing=drawing,
                by=guest.actor,
            )
    except Refused as refused:
        return _signing_page(request, service, guest, filled.refuse(refused.name, refused.message), 422)
    return see("/signing")


def _permissions_page(
    request: Request, service: Here, client_id: int, who: Artist, form: Filled[forms.Signed], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        client = records.client_for(db, who, client_id)
        lines, cases = queries.permission_lines(db, who, client), records.cases_of(db, who, client_id)
    return show(
        request,
        "consents/permissions.html",
        nav="clients",
        client=client,
        lines=lines,
        cases=cases,
        form=form,
        status=status,
    )


@router.get("/clients/{client_id}/permissions")
def permissions(request: Request, service: Here, client_id: Id, who: Artist) -> HTMLResponse:
    return _permissions_page(request, service, client_id, who, shown({}))


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


@router.get("/signatures/{signature_id}")
def signature(request: Request, service: Here, signature_id: Id, who: Artist) -> HTMLResponse:
    """The text as it was signed, for reading and for paper."""
    with service.database.read() as db:
        paper = queries.paper_for(db, who, signature_id)
    return show(request, "consents/paper.html", nav="clients", paper=paper)


@router.get("/signatures/{signature_id}/drawing", response_class=Response)
def drawing(service: Here, signature_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        blob = queries.drawing_for(db, who, signature_id)
    if blob.kind != "image/png":
        raise NotFound
    return Response(service.storage.get(blob), media_type="image/png")
