from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import shown
from app.platform.pages import see
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import actions, photo_actions, queries
from app.records.photo_view import PhotoView, show_photo, view_of
from app.records.photo_words import CAN_MEASURE
from app.records.reading_page import reading_page
from app.studio.access import Artist, NotFound, Who

router = APIRouter()


def _page(request: Request, service: Service, template: str, view: PhotoView, is_open: bool) -> HTMLResponse:
    with service.database.read() as db:
        reading = reading_page(db, view)
    return show_photo(request, template, view, is_open, shown({}), can_measure=CAN_MEASURE, reading=reading)


@router.get("/photos/{photo_id}")
def photo_page(request: Request, service: Here, photo_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _page(request, service, "records/photo.html", view_of(service, who, photo_id), open == "1")


@router.get("/photos/{photo_id}/examination")
def examination(request: Request, service: Here, photo_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _page(request, service, "records/_examination.html", view_of(service, who, photo_id), open == "1")


@router.get("/photos/{photo_id}/reading")
def reading(request: Request, service: Here, photo_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _page(request, service, "records/_reading.html", view_of(service, who, photo_id), open == "1")


@router.post("/photos/{photo_id}/reading")
def measure_again(service: Here, photo_id: Id, who: Artist) -> Response:
    with service.database.write() as db:  # asked in here: what was drawn a moment ago is what is measured
        photo, drawn = queries.photo_for(db, who, photo_id), queries.newest_outlines(db, photo_id)
        waits = (job := queries.job_of(db, photo_actions.MEASURE, photo_id)) is not None and job.state == "waiting"
        if drawn is not None and photo.state == "ready" and not waits:
            photo_actions.measure_again(db, photo, drawn, by=who.actor)
    return see(f"/photos/{photo_id}#reading")


@router.post("/photos/{photo_id}/examination")
def examine_again(service: Here, photo_id: Id, who: Artist) -> Response:
    view = view_of(service, who, photo_id)
    if view.photo.state != "ready":
        with service.database.write() as db:
            actions.examine_again(db, queries.photo_for(db, who, photo_id), by=who.actor)
    return see(f"/photos/{photo_id}")


def _picture(service: Service, who: Who, photo_id: int, which: str, is_asked_for: bool) -> Response:
    """The re-encoded picture; a hidden one only when asked for, and then the trail says so before it is shown."""
    with service.database.read() as db:
        photo = queries.photo_for(db, who, photo_id)
        blob_id = queries.picture_id(db, photo, which)
        is_hidden = queries.is_hidden(db, photo)
        if blob_id is None or (is_hidden and not is_asked_for):
            raise NotFound
        blob = queries.blob_of(db, blob_id)
    if is_hidden:
        with service.database.write() as db:
            actions.open_photo(db, queries.photo_for(db, who, photo_id), by=who.actor)
    return Response(service.storage.get(blob), media_type="image/jpeg",
                    headers={"Content-Disposition": "inline", "Cache-Control": "no-store"})


@router.get("/photos/{photo_id}/shown", response_class=Response)
def shown_picture(service: Here, photo_id: Id, who: Artist, open: str = "") -> Response:
    return _picture(service, who, photo_id, "shown", open == "1")


@router.get("/photos/{photo_id}/thumb", response_class=Response)
def thumb(service: Here, photo_id: Id, who: Artist, open: str = "") -> Response:
    return _picture(service, who, photo_id, "thumb", open == "1")


@router.get("/photos/{photo_id}/map", response_class=Response)
def difference_map(service: Here, photo_id: Id, who: Artist, open: str = "") -> Response:
    return _picture(service, who, photo_id, "map", open == "1")
