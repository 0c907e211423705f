"""Guided capture: the page that leads through the pictures of a zone, and the look at what the camera sees."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from starlette.requests import ClientDisconnect

from app.platform.forms import Filled, Posted, Refused, Sent, Upload, fill, shown
from app.platform.images import NotAPhoto
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import capture_queries, looking, queries, upload_actions
from app.records.photo_header import Header, read_header
from app.records.photo_permission import NO_PERMISSION, may_photograph
from app.records.scars import FRAMES, ZONE_PURPOSES
from app.records.upload_forms import AboutPhoto
from app.studio.access import Artist, Who, today

router = APIRouter()


def _page(request: Request, service: Here, who: Who, zone_id: int, form: Filled[Any] | None = None,
          status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
        frames = capture_queries.frame_lines(db, zone)
        first = not queries.photos_of(db, zone_id)
        may = may_photograph(db, case.client_id)
    purposes = [(code, words.capitalize()) for code, words in ZONE_PURPOSES.items()]
    return show(request, "records/capture.html", nav="clients", zone=zone, case=case, frames=frames, purposes=purposes,
                checks=capture_queries.CHECKS, refusal="" if may else NO_PERMISSION,
                form=form or shown({"purpose": "before" if first else ""}), status=status)


@router.get("/zones/{zone_id}/capture")
def capture_page(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    return _page(request, service, who, zone_id)


def _taken(filled: Filled[AboutPhoto], posted: Posted) -> tuple[Filled[AboutPhoto], list[tuple[str, Upload, Header]]]:
    """The pictures by their frames; one that is no photo is named beside its field, and then none is taken."""
    found: list[tuple[str, Upload, Header]] = []
    for frame in FRAMES:
        for file in posted.files.get(frame, [])[:1]:
            try:
                found.append((frame, file, read_header(file.content)))
            except NotAPhoto as reason:
                filled = filled.refuse(frame, f"{reason} None of the pictures was taken in: choose them again.")
    if not found and not set(filled.errors) & set(FRAMES):
        filled = filled.refuse("context", "Take at least one picture.")
    return filled, found


@router.post("/zones/{zone_id}/capture")
def keep_pictures(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    """Without a script: up to four pictures at once, each with its frame."""
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
    filled, taken = _taken(fill(AboutPhoto, posted), posted)
    if upload_actions.lacks_chaperone(zone, posted.one("chaperone")):
        filled = filled.refuse("chaperone", upload_actions.WHO_IS_THERE)
    if not filled.ok:
        return _page(request, service, who, zone_id, filled, 422)
    originals = [(frame, header, service.storage.put(file.content, "photo")) for frame, file, header in taken]
    try:
        with service.database.write() as db:
            zone = queries.zone_for(db, who, zone_id)
            for frame, header, original in originals:
                about = filled.sure.model_copy(update={"frame": frame, "taken_on": None})
                upload_actions.file_photo(db, zone, header, original, about, on=today(request), by=who.actor,
                                          time_zone=request.state.studio.time_zone)
    except Refused as refused:
        return _page(request, service, who, zone_id, filled.refuse("_form", refused.message), 422)
    return see(f"/zones/{zone_id}#photos")


async def _small_picture(request: Request) -> bytes:
    """The body, which is read no further than it may be long."""
    read = bytearray()
    try:
        async for part in request.stream():
            read += part
            if len(read) > looking.MOST_BYTES:
                raise HTTPException(413)
    except ClientDisconnect:
        raise HTTPException(400) from None
    return bytes(read)


@router.post("/zones/{zone_id}/looking", response_class=JSONResponse)
def look(service: Here, zone_id: Id, who: Artist, picture: Annotated[bytes, Depends(_small_picture)],
         frame: str = "") -> JSONResponse:
    """What the camera sees just now. Nothing of the picture is kept."""
    with service.database.read() as db:
        queries.zone_for(db, who, zone_id)
    try:
        looked = looking.look(picture)
    except NotAPhoto as reason:
        return JSONResponse({"words": str(reason)}, 422)
    if looked is None:
        return JSONResponse({"busy": True})
    with service.database.read() as db:
        words = capture_queries.looked_words(db, looked, frame)
    return JSONResponse({"chart": looked.chart, "marker": bool(looked.markers), "sharp": looked.sharp,
                         "light": looked.light, "words": words})
