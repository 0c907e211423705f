import uuid
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.pigments import queries as pigments
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.sessions import actions, queries, terms
from app.sessions.forms import AddItem, ChangeMix, SentTap, TapOnly, ZoneWork
from app.sessions.record_form import sheet_values
from app.sessions.sheet import ITEM_WORDS, MIX_KINDS, last_time, shelf_caution
from app.sessions.tap_actions import ZONE_FIELDS
from app.studio.access import Artist, NotFound, Who
from app.studio.country import country_pack

router = APIRouter()
HAND = ("configuration", "device", "device_setting", "device_unit", "hang_mm")


@router.get("/sessions/{session_id}")
def sheet(request: Request, service: Here, session_id: Id, who: Artist, zone: int = 0) -> Response:
    with service.database.read() as db:
        row = queries.row_for(db, who, session_id)
    if not row.is_open:
        return see(f"/sessions/{session_id}/record")
    return _sheet_page(request, service, session_id, who, zone)


def _sheet_page(
    request: Request, service: Here, session_id: int, who: Who, zone_id: int, form: Filled[Any] | None = None,
    status: int = 200,
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
        one = page.zone(zone_id)
        others = [
            zone for zone in records.zones_of(db, page.case.id or 0) if zone.id not in {s.zone.id for s in page.zones}
        ]
        last = last_time(db, one.zone, page.session)
        shelf = [
            (item, shelf_caution(item, page.session.worked_on)) for item in pigments.items(db) if item.state != "empty"
        ]
    values = shown(sheet_values(one.work, one.techniques)).values
    if form is not None:
        form = Filled({**values, **form.values}, form.errors)
    return show(request, "sessions/sheet.html", page=page, one=one, others=others, last=last, shelf=shelf, terms=terms,
                item_words=ITEM_WORDS, mix_kinds=MIX_KINDS, numbing=country_pack(request.state.studio.country),
                new_id=lambda: str(uuid.uuid4()), form=form or shown(values), status=status)  # fmt: skip


@router.post("/sessions/{session_id}/taps")
def tap(service: Here, session_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    filled = fill(SentTap, posted)
    if not filled.ok:
        return Response(status_code=422)
    try:
        with service.database.write() as db:
            session = queries.row_for(db, who, session_id)
            on_zone = queries.zone_in(db, session, zone)[0] if zone else None
            actions.tap(db, session, on_zone, filled.sure, by=who.actor)
    except Refused as refused:
        return Response(refused.message, 409 if refused.name in ("session", "tap_id") else 422, media_type="text/plain")
    return Response(status_code=204)


@router.post("/sessions/{session_id}/sheet")
def save(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    """Saves one part of the sheet for a browser that sends no taps."""
    is_hand = posted.one("part") == "hand"
    names = [name for name in ZONE_FIELDS if (name in HAND) == is_hand]
    filled = fill(ZoneWork, _columns(posted, names, zone))
    if not filled.ok:
        back = {column: name for name, column in ZONE_FIELDS.items()}
        errors = {back.get(name, name): words for name, words in filled.errors.items()}
        values = {**{name: posted.one(name) for name in names}, **filled.values}
        return _sheet_page(request, service, session_id, who, zone, Filled(values, errors), 422)
    columns = [ZONE_FIELDS[name] for name in names] + ([] if is_hand else ["techniques", "is_untouched"])
    try:
        with service.database.write() as db:
            session = queries.row_for(db, who, session_id)
            values = {column: getattr(filled.sure, column) for column in columns}
            actions.save_zone(db, session, queries.zone_in(db, session, zone)[0], values, by=who.actor)
    except Refused:
        return see(f"/sessions/{session_id}/record")
    return see(f"/sessions/{session_id}?zone={zone}")


def _columns(posted: Posted, names: list[str], zone_id: int) -> Posted:
    texts = {ZONE_FIELDS[name]: posted.texts.get(name, [""]) for name in names}
    more = {"techniques": posted.texts.get("techniques", []), "is_untouched": posted.texts.get("is_untouched", ["no"])}
    return Posted({**texts, **more, "zone_id": [str(zone_id)]}, {})


@router.post("/sessions/{session_id}/items")
def add_item(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    filled = fill(AddItem, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                session = queries.row_for(db, who, session_id)
                shelf = pigments.item_for(db, who, filled.sure.shelf_id) if filled.sure.shelf_id is not None else None
                on_zone = queries.zone_in(db, session, zone)[0] if zone else None
                actions.add_item(db, session, on_zone, filled.sure, shelf=shelf, by=who.actor)
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    if filled.errors:
        return _sheet_page(request, service, session_id, who, zone, filled, 422)
    return see(f"/sessions/{session_id}?zone={zone}#in-use")


@router.post("/sessions/{session_id}/mix")
def change_mix(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    filled = fill(ChangeMix, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                session = queries.row_for(db, who, session_id)
                actions.change_mix(db, session, queries.zone_in(db, session, zone)[0], filled.sure, by=who.actor)
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    if filled.errors:
        return _sheet_page(request, service, session_id, who, zone, filled, 422)
    return see(f"/sessions/{session_id}?zone={zone}#mix")


@router.post("/sessions/{session_id}/no-pigment")
def no_pigment(service: Here, session_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    filled = fill(SentTap, Posted({**posted.texts, "name": ["no_pigment"]}, {}))
    if not filled.ok:
        raise NotFound
    with service.database.write() as db:
        session = queries.row_for(db, who, session_id)
        actions.tap(db, session, queries.zone_in(db, session, zone)[0], filled.sure, by=who.actor)
    return see(f"/sessions/{session_id}?zone={zone}#mix")


@router.post("/sessions/{session_id}/items/{item_id}/drop")
def add_drop(service: Here, session_id: Id, item_id: Id, posted: Sent, who: Artist, zone: int = 0) -> Response:
    filled = fill(TapOnly, posted)
    if not filled.ok:
        raise NotFound
    with service.database.write() as db:
        session = queries.row_for(db, who, session_id)
        actions.add_drop(db, session, queries.item_in(db, session, item_id), filled.sure.tap_id, by=who.actor)
    return see(f"/sessions/{session_id}?zone={zone}#mix")


@router.post("/sessions/{session_id}/items/{item_id}/removal")
def remove_item(service: Here, session_id: Id, item_id: Id, who: Artist, zone: int = 0) -> Response:
    with service.database.write() as db:
        session = queries.row_for(db, who, session_id)
        actions.remove_item(db, session, queries.item_in(db, session, item_id), by=who.actor)
    return see(f"/sessions/{session_id}?zone={zone}#in-use")
