"""Printed capture cards: made, printed, measured with a ruler, retired."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.colour.marker import side_as_printed
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import capture_forms, card_actions, card_queries
from app.records.card_pdf import PAPER_WORDS, Paper, make_card_pdf
from app.studio.access import Artist, Owner

router = APIRouter()


def _cards_page(request: Request, service: Here, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        cards = card_queries.cards(db)
    return show(request, "records/cards.html", nav="studio", cards=cards, form=form, status=status)


@router.get("/studio/cards")
def cards_page(request: Request, service: Here, who: Artist) -> HTMLResponse:
    return _cards_page(request, service, shown({}))


@router.post("/studio/cards")
def make_card(request: Request, service: Here, who: Owner) -> Response:
    try:
        with service.database.write() as db:
            card = card_actions.make_card(db, by=who.actor)
    except Refused as refused:
        return _cards_page(request, service, shown({}).refuse(refused.name, refused.message), 422)
    return see(f"/studio/cards/{card.id}")


def _card_page(request: Request, service: Here, card_id: int, form: Filled[Any] | None = None,
               status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        card = card_queries.card_for(db, card_id)
    side_mm = side_as_printed(card.marker_mm, card.bar_mm)
    form = form or shown({"bar_mm": card.bar_mm, "revision": card.revision})
    return show(request, "records/card.html", nav="studio", card=card, side_mm=side_mm, papers=PAPER_WORDS, form=form,
                status=status)


@router.get("/studio/cards/{card_id}")
def card_page(request: Request, service: Here, card_id: Id, who: Artist) -> HTMLResponse:
    return _card_page(request, service, card_id)


@router.get("/studio/cards/{card_id}/card.pdf", response_class=Response)
def card_pdf(request: Request, service: Here, card_id: Id, who: Artist, paper: Paper = "a5") -> Response:
    with service.database.read() as db:
        card = card_queries.card_for(db, card_id)
    made = make_card_pdf(card, paper, request.state.studio.name)
    named = f'inline; filename="capture-card-{card.marker_id}-{paper}.pdf"'
    return Response(made, media_type="application/pdf", headers={"Content-Disposition": named})


@router.post("/studio/cards/{card_id}/bar")
def measure_bar(request: Request, service: Here, card_id: Id, posted: Sent, who: Owner) -> Response:
    filled = fill(capture_forms.MeasureBar, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                card_actions.measure_bar(db, card_queries.card_for(db, card_id), filled.sure, by=who.actor)
            return see(f"/studio/cards/{card_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _card_page(request, service, card_id, filled, 422)


@router.post("/studio/cards/{card_id}/retiring")
def retire_card(request: Request, service: Here, card_id: Id, posted: Sent, who: Owner) -> Response:
    filled = fill(capture_forms.RetireCard, posted)
    if not filled.ok:
        return _card_page(request, service, card_id, status=422)
    with service.database.write() as db:
        card_actions.retire_card(db, card_queries.card_for(db, card_id), filled.sure, by=who.actor)
    return see("/studio/cards")
