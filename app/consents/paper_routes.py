"""What was signed, on the screen and as PDF, and the check of who signed it on site."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import forms, paper_queries, papers, queries, site_actions
from app.consents.drawing import keep_picture
from app.consents.models import Signature
from app.consents.paper_pdf import make_paper
from app.consents.paper_queries import SignedPaper
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.platform.storage import Blob
from app.studio.access import Artist, NotFound

router = APIRouter()


@router.get("/signatures/{signature_id}")
def signature(request: Request, service: Here, signature_id: Id, who: Artist) -> HTMLResponse:
    """The text as it was signed, for reading and for paper."""
    with service.database.read() as db:
        paper = paper_queries.paper_for(db, who, signature_id)
    return show(
        request, "consents/paper.html", nav="clients", paper=paper, grouped=papers.grouped,
        identities=site_actions.IDENTITIES,
    )  # fmt: skip


@router.get("/signatures/{signature_id}/drawing", response_class=Response)
def drawing(service: Here, signature_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        blob = paper_queries.drawing_for(db, who, signature_id)
    return _picture(service, blob)


@router.get("/signatures/{signature_id}/guardian-drawing", response_class=Response)
def guardian_drawing(service: Here, signature_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        blob = paper_queries.guardian_drawing_for(db, who, signature_id)
    return _picture(service, blob)


def _picture(service: Service, blob: Blob) -> Response:
    if blob.kind != "image/png":
        raise NotFound
    return Response(service.storage.get(blob), media_type="image/png")


@router.get("/signatures/{signature_id}/paper.pdf", response_class=Response)
def paper_pdf(request: Request, service: Here, signature_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        paper = paper_queries.paper_for(db, who, signature_id)
    return pdf_of(request, service, paper)


def pdf_of(request: Request, service: Service, paper: SignedPaper) -> Response:
    """The paper as a file. Its name says nothing of what was signed."""
    with service.database.read() as db:
        blobs = paper_queries.drawings_of(db, paper)
    drawing, guardian = (service.storage.get(blob) if blob is not None else b"" for blob in blobs)
    made = make_paper(paper, request.state.studio.time_zone, drawing, guardian)
    named = f'inline; filename="signed-{paper.id}.pdf"'
    return Response(made, media_type="application/pdf", headers={"Content-Disposition": named})


def _site_page(
    request: Request, service: Here, signature_id: int, who: Artist, form: Filled[forms.SiteCheck], status: int = 200
) -> Response:
    with service.database.read() as db:
        paper = paper_queries.paper_for(db, who, signature_id)
        age, pack = queries.age_of(db, paper.client), queries.pack(db)
    if not paper.is_treatment or not paper.hash:
        raise NotFound
    if paper.site is not None and not form.errors:
        return see(f"/signatures/{signature_id}")
    return show(
        request, "consents/site_check.html", nav="clients", paper=paper, age=age, pack=pack, form=form,
        identities=list(site_actions.IDENTITIES.items()), status=status,
    )  # fmt: skip


@router.get("/signatures/{signature_id}/site-check")
def site_page(request: Request, service: Here, signature_id: Id, who: Artist) -> Response:
    return _site_page(request, service, signature_id, who, shown({}))


@router.post("/signatures/{signature_id}/site-check")
def confirm(request: Request, service: Here, signature_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.SiteCheck, posted)
    with service.database.read() as db:
        paper_queries.paper_for(db, who, signature_id)
    if not filled.ok:
        return _site_page(request, service, signature_id, who, filled, 422)
    try:
        guardian = keep_picture(service, filled.sure) if filled.sure.drawing else None
        with service.database.write() as db:
            site_actions.countersign(
                db, db.get_one(Signature, signature_id), filled.sure, guardian_drawing=guardian, by=who.actor
            )
    except Refused as refused:
        return _site_page(request, service, signature_id, who, filled.refuse(refused.name, refused.message), 422)
    return see(f"/signatures/{signature_id}")
