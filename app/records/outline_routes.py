"""Pages on which outlines are drawn, and the two proposals that the drawing tool asks for."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse

from app.platform.forms import Filled, Sent, fill, shown
from app.platform.jobs import Job
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import outline_proposals, queries, selectors
from app.records.carrying import Carried, carried_of
from app.records.models import Case, OutlineSet, Photo, Zone
from app.records.outline_actions import CARRY, Newer, NotSecond, draw_outlines, given_pitch
from app.records.outline_forms import DrawOutlines, GrowOutline, ProposeRing
from app.records.outlines import Outlines, for_page, pieces_for_page, read_outlines, read_scar, said_of
from app.studio import queries as studio_queries
from app.studio.access import Artist, NotFound, Who

router = APIRouter()
CALIBRATED = ("measured", "caution")


@dataclass(frozen=True)
class Easel:
    """A photo to be outlined, with what its page needs."""

    photo: Photo
    zone: Zone
    case: Case
    is_hidden: bool
    first: OutlineSet | None
    second: OutlineSet | None
    others: list[tuple[Photo, OutlineSet]]
    carrying: Job | None
    pitch_mm: float | None  # as it was given with the last outlines
    names: dict[int, str]

    @property
    def is_calibrated(self) -> bool:
        return self.photo.calibration_state in CALIBRATED


def easel(service: Service, who: Who, photo_id: int) -> Easel:
    """A photo that can be outlined: looked at already, and of a zone."""
    with service.database.read() as db:
        photo = queries.photo_for(db, who, photo_id)
        if photo.state != "ready" or photo.zone_id is None:
            raise NotFound
        return Easel(
            photo, queries.zone_for(db, who, photo.zone_id), queries.case_for(db, who, photo.case_id),
            queries.is_hidden(db, photo), queries.newest_outlines(db, photo_id),
            queries.newest_outlines(db, photo_id, is_second=True), queries.outlines_to_carry(db, photo),
            queries.job_of(db, CARRY, photo_id), given_pitch(db, photo_id), studio_queries.names(db))  # fmt: skip


def _show(request: Request, view: Easel, who: Who, form: Filled[Any], *, is_second: bool = False,
          carried: Carried | None = None, newer: OutlineSet | None = None, status: int = 200) -> HTMLResponse:
    theirs = selectors.read(newer.outlines) if newer and not is_second else None
    return show(request, "records/outlines.html", nav="clients", view=view, photo=view.photo, zone=view.zone,
                form=form, is_second=is_second, may_be_second=_may_be_second(view, who), carried=carried, newer=newer,
                newer_by=view.names.get((newer.drawn_by if newer else None) or 0, "somebody"),
                theirs=for_page(theirs) if theirs else "", theirs_said=said_of(theirs) if theirs else "",
                status=status)


def _may_be_second(view: Easel, who: Who) -> bool:
    return view.first is not None and view.first.drawn_by != who.id


def _begun(view: Easel, who: Who, is_second: bool, carried: Carried | None) -> Filled[Any]:
    """What the tool begins with. A second observer sees nothing of the first's outlines, only earlier ones of their
    own."""
    standing = view.second if is_second else view.first
    drawn = "" if standing is None else for_page(selectors.read(standing.outlines))
    if is_second and standing is not None and standing.drawn_by != who.id:
        drawn = ""
    if carried is not None:
        drawn = carried.outlines
    return shown({"outlines": drawn, "seen": standing.version if standing else 0, "second": "1" if is_second else "",
                  "carried_from": carried.source_id if carried else "",
                  "pitch_mm": "" if view.pitch_mm is None else f"{view.pitch_mm:g}"})  # fmt: skip


@router.get("/photos/{photo_id}/outlines")
def outlines_page(request: Request, service: Here, photo_id: Id, who: Artist, second: str = "",
                  carried: str = "") -> Response:
    view = easel(service, who, photo_id)
    found = carried_of(view.carrying) if carried == "1" and second != "1" else None
    if carried == "1" and found is None:
        return see(f"/photos/{photo_id}/carrying")
    is_second = second == "1"
    return _show(request, view, who, _begun(view, who, is_second, found), is_second=is_second, carried=found)


def _read(filled: Filled[DrawOutlines], photo: Photo) -> tuple[Filled[DrawOutlines], Outlines | None]:
    if not filled.ok:
        if filled.errors.get("outlines") == "Fill this in.":
            filled = filled.refuse("outlines", "Outline the scar and the skin around it first.")
        return filled, None
    try:
        return filled, read_outlines(filled.sure.outlines, photo.width, photo.height)
    except ValueError as reason:
        return filled.refuse("outlines", str(reason)), None


def _source(view: Easel, set_id: int | None) -> OutlineSet | None:
    """The outlines that these began with: only those that may be carried to this photo count."""
    return next((drawn for _, drawn in view.others if drawn.id == set_id), None)


@router.post("/photos/{photo_id}/outlines")
def keep_outlines(request: Request, service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    view = easel(service, who, photo_id)
    is_second = posted.one("second") == "1"
    filled, drawn = _read(fill(DrawOutlines, posted), view.photo)
    if drawn is None:
        return _show(request, view, who, filled, is_second=is_second, status=422)
    sent = filled.sure
    try:
        with service.database.write() as db:
            draw_outlines(db, queries.photo_for(db, who, photo_id), drawn, pitch_mm=sent.pitch_mm, is_second=is_second,
                          carried_from=_source(view, sent.carried_from), seen=sent.seen, by=who.actor)
    except NotSecond as reason:
        return _show(request, view, who, filled.refuse("outlines", str(reason)), is_second=True, status=422)
    except Newer:
        now = easel(service, who, photo_id)
        newer = now.second if is_second else now.first
        again = shown({**filled.values, "seen": newer.version if newer else 0})
        return _show(request, now, who, again, is_second=is_second, newer=newer, status=409)
    return see(f"/photos/{photo_id}/observers" if is_second else f"/photos/{photo_id}#reading")


@router.post("/photos/{photo_id}/outlines/grown", response_class=Response)
def grown(service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    """The pieces that grow from a tapped point, as JSON."""
    view = easel(service, who, photo_id)
    filled = fill(GrowOutline, posted)
    if not filled.ok or filled.sure.x > view.photo.width or filled.sure.y > view.photo.height:
        return _refused("The point could not be read. Tap again.")
    try:
        pieces = outline_proposals.grown(service, view.photo, filled.sure)
    except outline_proposals.Busy as reason:
        return _refused(str(reason), 503)
    except ValueError as reason:
        return _refused(str(reason))
    return JSONResponse({"pieces": pieces_for_page(pieces)})


@router.post("/photos/{photo_id}/outlines/ring", response_class=Response)
def ring(service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    """Skin proposed around the scar as it is drawn, as JSON."""
    view = easel(service, who, photo_id)
    filled = fill(ProposeRing, posted)
    if not filled.ok:
        return _refused("Outline the scar first: the ring goes round it.")
    try:
        scar = read_scar(filled.sure.outlines, view.photo.width, view.photo.height)
        pieces = outline_proposals.ring_around(service, view.photo, scar)
    except ValueError as reason:
        return _refused(str(reason))
    return JSONResponse({"pieces": pieces_for_page(pieces)})


def _refused(words: str, status: int = 422) -> Response:
    return JSONResponse({"words": words}, status_code=status)
