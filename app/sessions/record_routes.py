from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.sessions import actions, queries, terms
from app.sessions.forms import FoundLot, ReadPatch, StopSession
from app.sessions.gaps import Gap
from app.sessions.record_form import SPARE_ROWS, fill_whole, part_of, whole_values
from app.sessions.sheet import ITEM_WORDS, Sheet
from app.sessions.start_routes import rows_for, whole_page
from app.studio.access import Artist, Who, today

router = APIRouter()


@router.get("/sessions/{session_id}/finish")
def finish_page(request: Request, service: Here, session_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    if not page.session.is_open:
        return see(f"/sessions/{session_id}/record")
    return _finish(request, page, shown({}))


def _finish(request: Request, page: Sheet, form: Filled[Any], status: int = 200) -> HTMLResponse:
    return show(
        request, "sessions/finish.html", page=page, form=form, terms=terms, item_words=ITEM_WORDS, status=status
    )


def _found(posted: Posted, asked: Sequence[Gap]) -> tuple[dict[str, FoundLot], dict[str, str]]:
    found, errors = {}, {}
    for gap in asked:
        filled = fill(FoundLot, part_of(posted, f"{gap.key}_"))
        errors.update({f"{gap.key}_{name}": words for name, words in filled.errors.items()})
        if filled.data is not None:
            found[gap.key] = filled.data
    return found, errors


@router.post("/sessions/{session_id}/finish")
def finish(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist) -> Response:
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    found, errors = _found(posted, page.gaps)
    if not errors:
        try:
            with service.database.write() as db:
                session = queries.row_for(db, who, session_id)
                actions.finish(db, session, found, studio=request.state.studio, by=who.actor)
            return see(f"/sessions/{session_id}/record")
        except Refused as refused:
            errors = {refused.name: refused.message}
    if not page.session.is_open:
        return see(f"/sessions/{session_id}/record")
    return _finish(request, page, Filled({name: given[0] for name, given in posted.texts.items()}, errors), 422)


@router.post("/sessions/{session_id}/stop")
def stop(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(StopSession, posted)
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    if filled.ok and page.session.is_open:
        try:
            with service.database.write() as db:
                session = queries.row_for(db, who, session_id)
                actions.stop(db, session, filled.sure, studio=request.state.studio, by=who.actor)
            return see(f"/sessions/{session_id}/record")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    if not page.session.is_open:
        return see(f"/sessions/{session_id}/record")
    return _finish(request, page, filled, 422)


@router.get("/sessions/{session_id}/record")
def record(request: Request, service: Here, session_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    if page.session.is_open:
        return see(f"/sessions/{session_id}")
    return _record(request, page, shown({}))


def _record(request: Request, page: Sheet, form: Filled[Any], status: int = 200) -> HTMLResponse:
    return show(request, "sessions/record.html", nav="clients", page=page, form=form, terms=terms,
                item_words=ITEM_WORDS, status=status)  # fmt: skip


@router.post("/sessions/{session_id}/reading-of-patch")
def read_patch(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(ReadPatch, posted)
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                session = queries.row_for(db, who, session_id)
                actions.read_patch(db, session, filled.sure, on=today(request), by=who.actor)
            return see(f"/sessions/{session_id}/record")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _record(request, page, filled, 422)


@router.get("/sessions/{session_id}/correction")
def correction_page(request: Request, service: Here, session_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
    if page.session.is_open or page.versions[-1].id != session_id:
        return see(f"/sessions/{page.versions[-1].id}/record")
    return _correction(request, service, page, who, shown(whole_values(page)))


def _correction(
    request: Request, service: Here, page: Sheet, who: Who, form: Filled[Any], status: int = 200
) -> HTMLResponse:
    rows = max(rows_for(form), len(page.items) + SPARE_ROWS)
    return whole_page(request, service, page.case.id or 0, who, form, f"/sessions/{page.session.id}/correction",
                      rows=rows, corrects=page.session.id, status=status)  # fmt: skip


@router.post("/sessions/{session_id}/correction")
def correct(request: Request, service: Here, session_id: Id, posted: Sent, who: Artist) -> Response:
    with service.database.read() as db:
        page = queries.session_for(db, who, session_id)
        zone_ids = [zone.id or 0 for zone in records.zones_of(db, page.case.id or 0)]
    filled = fill_whole(posted, zone_ids)
    if filled.ok:
        try:
            with service.database.write() as db:
                row = actions.correct(db, queries.row_for(db, who, session_id), filled.sure, by=who.actor)
            return see(f"/sessions/{row.id}/record")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _correction(request, service, page, who, filled, 422)
