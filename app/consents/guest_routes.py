"""A client's own permissions: taken back one by one, given one by one, and read as they were signed."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import actions, forms, guest_queries, paper_queries
from app.consents.drawing import keep_drawing
from app.consents.paper_routes import pdf_of
from app.consents.texts import TYPED_REASONS
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.studio.access import PermissionsGuest

router = APIRouter()


@router.get("/permissions")
def own_permissions(request: Request, service: Here, guest: PermissionsGuest) -> HTMLResponse:
    with service.database.read() as db:
        page = guest_queries.own_page(db, guest, request.state.language)
    return show(request, "consents/own.html", page=page, titles=paper_queries.TITLES,
                other_title=paper_queries.OTHER_TITLE)  # fmt: skip


@router.get("/permissions/{permission_id}/taking-back")
def taking_back_page(request: Request, service: Here, permission_id: Id, guest: PermissionsGuest) -> HTMLResponse:
    with service.database.read() as db:
        standing = guest_queries.own_standing(db, guest, permission_id, request.state.language)
    return show(request, "consents/taking_back.html", standing=standing)


@router.post("/permissions/{permission_id}/taking-back")
def take_back(service: Here, permission_id: Id, guest: PermissionsGuest, _posted: Sent) -> Response:
    """Pressing twice, or in two windows, takes back once."""
    with service.database.write() as db:
        answer = guest_queries.own_permission(db, guest, permission_id)
        if answer.is_granted and answer.revoked_at is None:
            actions.revoke(db, answer, by=guest.actor)
    return see("/permissions")


def _yes_page(
    request: Request, service: Here, asked: str, guest: PermissionsGuest, form: Filled[forms.Signed], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        words = guest_queries.may_be_given(db, guest, asked)
    text = actions.one_yes(request.state.language)
    return show(request, "consents/one_yes.html", words=words, text=text, typed_reasons=TYPED_REASONS,
                form=form, status=status)  # fmt: skip


@router.get("/permissions/yes/{asked}")
def yes_page(request: Request, service: Here, asked: str, guest: PermissionsGuest) -> HTMLResponse:
    return _yes_page(request, service, asked, guest, shown({}))


@router.post("/permissions/yes/{asked}")
def say_yes(request: Request, service: Here, asked: str, posted: Sent, guest: PermissionsGuest) -> Response:
    filled = fill(forms.Signed, posted)
    if not filled.ok:
        return _yes_page(request, service, asked, guest, filled, 422)
    signed = filled.sure
    try:
        drawing = keep_drawing(service, signed)
        with service.database.write() as db:
            guest_queries.may_be_given(db, guest, asked)
            actions.give_one(
                db,
                guest.client_id,
                asked,
                typed_name=signed.typed_name,
                drawing=drawing,
                strokes=signed.lines,
                typed_reason=signed.why_typed,
                language=request.state.language,
                text_version=signed.text_version,
                by=guest.actor,
            )
    except Refused as refused:
        return _yes_page(request, service, asked, guest, filled.refuse(refused.name, refused.message), 422)
    return see("/permissions")


@router.get("/permissions/papers/{signature_id}", response_class=Response)
def own_paper(request: Request, service: Here, signature_id: Id, guest: PermissionsGuest) -> Response:
    with service.database.read() as db:
        paper = paper_queries.paper_for_guest(db, guest, signature_id)
    return pdf_of(request, service, paper)
