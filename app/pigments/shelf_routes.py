from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.colour.spaces import lab_to_srgb8_hex
from app.pigments import actions, forms, queries, shelf
from app.pigments.models import Item, Swatch
from app.pigments.proposals import lab_words
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.studio.access import Artist, Who, today

router = APIRouter()
KINDS = list(shelf.KINDS.items())


@dataclass(frozen=True)
class ShownSwatch:
    row: Swatch
    words: str
    numbers: str
    hex: str
    counts: bool
    white: str


def _shown(swatches: list[Swatch], whites: list[Item]) -> list[ShownSwatch]:
    counting = {swatch.id for swatch in queries.newest_of_each(swatches)}
    names = {white.id: white.name for white in whites}
    labs = [(each.lab_l, each.lab_a, each.lab_b) for each in swatches]
    return [ShownSwatch(each, shelf.swatch_words(each.white_share), lab_words(lab), lab_to_srgb8_hex(lab),
                        each.id in counting, names.get(each.white_id, ""))
            for each, lab in zip(swatches, labs, strict=True)]


@router.get("/shelf")
def shelf_page(request: Request, service: Here, who: Artist) -> HTMLResponse:
    on = today(request)
    with service.database.read() as db:
        lines = queries.shelf_lines(db, on)
    return show(request, "pigments/shelf.html", nav="shelf", groups=queries.groups(lines),
                first=queries.seen_first(lines, on))


def _item_form(request: Request, item: Item | None, form: Filled[Any], status: int = 200) -> HTMLResponse:
    return show(request, "pigments/item_form.html", nav="shelf", item=item, form=form, kinds=KINDS, status=status)


@router.get("/shelf/new")
def new_item(request: Request, who: Artist) -> HTMLResponse:
    return _item_form(request, None, shown({"kind": "skin_tone", "ml_per_drop": forms.ML_PER_DROP}))


@router.post("/shelf")
def add_item(request: Request, service: Here, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.NewItem, posted)
    if not filled.ok:
        return _item_form(request, None, filled, 422)
    with service.database.write() as db:
        item = actions.add_item(db, filled.sure, by=who.actor)
    return see(f"/shelf/{item.id}")


def _item_page(request: Request, service: Here, who: Who, item_id: int, form: Filled[Any] | None = None,
               status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        item = queries.item_for(db, who, item_id)
        line = queries.line_of(db, item, today(request))
        swatches = _shown(queries.swatches_of(db, item_id), queries.whites(db))
        uses = queries.uses_of(db, who, item_id)
    return show(request, "pigments/item.html", nav="shelf", item=item, line=line, swatches=swatches, uses=uses,
                kinds=shelf.KINDS, is_coloured=item.kind in queries.COLOURED,
                form=form or shown({"revision": item.revision}), status=status)


@router.get("/shelf/{item_id}")
def item_page(request: Request, service: Here, item_id: Id, who: Artist) -> HTMLResponse:
    return _item_page(request, service, who, item_id)


@router.get("/shelf/{item_id}/edit")
def edit_item(request: Request, service: Here, item_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        item = queries.item_for(db, who, item_id)
    ticks = {name: "yes" if getattr(item, name) else "" for name in ("lot_unreadable", "is_low")}
    return _item_form(request, item, shown({**item.model_dump(), **ticks}))


@router.post("/shelf/{item_id}")
def change_item(request: Request, service: Here, item_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.ChangeItem, posted)
    with service.database.read() as db:
        item = queries.item_for(db, who, item_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.change_item(db, queries.item_for(db, who, item_id), filled.sure, by=who.actor)
            return see(f"/shelf/{item_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _item_form(request, item, filled, 422)


@router.post("/shelf/{item_id}/state")
def change_state(request: Request, service: Here, item_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.StateChange, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.change_state(db, queries.item_for(db, who, item_id), filled.sure, by=who.actor)
            return see(f"/shelf/{item_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _item_page(request, service, who, item_id, filled, 422)


def _swatches_page(request: Request, service: Here, who: Who, item_id: int, form: Filled[Any],
                   status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        item = queries.item_for(db, who, item_id)
        line = queries.line_of(db, item, today(request))
        whites = queries.whites(db)
        swatches = _shown(queries.swatches_of(db, item_id), whites)
    return show(request, "pigments/swatches.html", nav="shelf", item=item, line=line, swatches=swatches, form=form,
                is_coloured=item.kind in queries.COLOURED,
                whites=[(white.id, f"{white.name}, {white.lot_words}") for white in whites], status=status)


@router.get("/shelf/{item_id}/swatches")
def swatches_page(request: Request, service: Here, item_id: Id, who: Artist) -> HTMLResponse:
    form = shown({"white_percent": "0", "measured_on": today(request), "measured_by": "typed from an instrument"})
    return _swatches_page(request, service, who, item_id, form)


@router.post("/shelf/{item_id}/swatches")
def add_swatch(request: Request, service: Here, item_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.NewSwatch, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.add_swatch(db, queries.item_for(db, who, item_id), filled.sure, by=who.actor)
            return see(f"/shelf/{item_id}/swatches")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _swatches_page(request, service, who, item_id, filled, 422)
