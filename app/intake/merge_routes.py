"""Two records side by side, merging them, and undoing it. Which case is whose is asked of `records`, so that nobody is
shown a restricted one by it."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import merging
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import doubles, forms
from app.records.merging import ALREADY, tell_apart
from app.studio.access import AnyMember, Artist, Who

router = APIRouter()


def _compare_page(request: Request, service: Here, client_id: int, other_id: int, who: Who, form: Filled[Any],
                  status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        both = doubles.comparison(db, who, client_id, other_id)
    return show(request, "records/compare.html", nav="clients", both=both, languages=forms.LANGUAGES, form=form,
                status=status)


@router.get("/clients/{client_id}/same/{other_id}")
def compare(request: Request, service: Here, client_id: Id, other_id: Id, who: AnyMember) -> HTMLResponse:
    return _compare_page(request, service, client_id, other_id, who, shown({}))


@router.post("/clients/{client_id}/same/{other_id}")
def merge(request: Request, service: Here, client_id: Id, other_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.MergeRecords, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                kept, merged = doubles.to_merge(db, client_id, other_id, filled.sure.keep)
                merging.merge(db, kept, merged, filled.sure.why, by=who.actor)
            return see(f"/clients/{filled.sure.keep}")
        except Refused as refused:
            if refused.name == ALREADY:
                return _merges_page(request, service, shown({}).refuse("_form", refused.message), 422)
            filled = filled.refuse(refused.name, refused.message)
    return _compare_page(request, service, client_id, other_id, who, filled, 422)


@router.post("/clients/{client_id}/different/{other_id}")
def different(service: Here, client_id: Id, other_id: Id, who: AnyMember) -> Response:
    with service.database.write() as db:
        both = doubles.comparison(db, who, client_id, other_id)
        tell_apart(db, both.left.client, both.right.client, by=who.actor)
    return see(f"/clients/{client_id}")


def _merges_page(request: Request, service: Here, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        lines, apart = doubles.merges(db), doubles.told_apart(db)
    return show(request, "records/merges.html", nav="clients", lines=lines, apart=apart, form=form, status=status)


@router.get("/merges")
def merges(request: Request, service: Here, _: Artist) -> HTMLResponse:
    return _merges_page(request, service, shown({}))


def _undo_page(request: Request, service: Here, merge_id: int, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        line = doubles.merge_for(db, merge_id)
    return show(request, "records/merge_undoing.html", nav="clients", line=line, form=form, status=status)


@router.get("/merges/{merge_id}/undoing")
def undoing(request: Request, service: Here, merge_id: Id, _: Artist) -> HTMLResponse:
    return _undo_page(request, service, merge_id, shown({}))


@router.post("/merges/{merge_id}/undoing")
def undo(request: Request, service: Here, merge_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.UndoMerge, posted)
    if not filled.ok:
        return _undo_page(request, service, merge_id, filled, 422)
    with service.database.write() as db:
        merging.undo(db, doubles.merge_for(db, merge_id).row, filled.sure.why, by=who.actor)
    return see("/merges")
