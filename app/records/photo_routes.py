from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Posted, Sent, Upload, fill, shown
from app.platform.images import NotAPhoto
from app.platform.jobs import Job
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.platform.storage import Stored
from app.records import actions, forms, queries
from app.records.models import Case, OutlineSet, Photo, Reading, Zone
from app.records.outlines import Outlines, read_outlines
from app.records.photo_actions import EXAMINE, MEASURE
from app.records.photo_header import Header, read_header, sensible_day
from app.records.photo_words import CAN_MEASURE, examination_words, reading_words
from app.records.scars import PURPOSE_WORDS, ZONE_PURPOSES
from app.studio.access import Artist, NotFound, Who, today

router = APIRouter()


@dataclass(frozen=True)
class PhotoView:
    """A photo with what its page needs."""

    photo: Photo
    zone: Zone | None
    case: Case
    is_hidden: bool
    examining: Job | None
    measuring: Job | None
    outlines: OutlineSet | None
    reading: Reading | None

    @property
    def is_measuring(self) -> bool:
        return self.measuring is not None and self.measuring.state == "waiting"


def _view(service: Service, who: Who, photo_id: int) -> PhotoView:
    with service.database.read() as db:
        photo = queries.photo_for(db, who, photo_id)
        return PhotoView(
            photo,
            zone=queries.zone_for(db, who, photo.zone_id) if photo.zone_id is not None else None,
            case=queries.case_for(db, who, photo.case_id),
            is_hidden=queries.is_hidden(db, photo),
            examining=queries.job_of(db, EXAMINE, photo_id),
            measuring=queries.job_of(db, MEASURE, photo_id),
            outlines=queries.newest_outlines(db, photo_id),
            reading=queries.reading_of_photo(db, photo_id),
        )


def _show(request: Request, template: str, view: PhotoView, is_open: bool, form: Filled[Any], status: int = 200,
          **context: Any) -> HTMLResponse:
    ready = view.photo.state != "waiting"
    return show(request, template, nav="clients", view=view, photo=view.photo, zone=view.zone, case=view.case,
                form=form, found=examination_words(view.photo) if ready else None, purposes=PURPOSE_WORDS,
                said=reading_words(view.reading, view.case.skin_class) if view.reading else None,
                is_open=is_open or not view.is_hidden, can_measure=CAN_MEASURE, status=status, **context)


def _upload_page(request: Request, service: Here, zone_id: int, who: Who, form: Filled[Any],
                 status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
    return show(request, "records/photo_new.html", nav="clients", zone=zone, case=case, form=form,
                purposes=[(code, words.capitalize()) for code, words in ZONE_PURPOSES.items()], status=status)


@router.get("/zones/{zone_id}/photos/new")
def new_photos(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        first = not queries.photos_of(db, zone_id)
    return _upload_page(request, service, zone_id, who, shown({"purpose": "before" if first else ""}))


def _headers(filled: Filled[forms.AddPhotos], posted: Posted, on: date) -> tuple[Filled[forms.AddPhotos], list[Header]]:
    """The headers of the sent files; one that is no photo is named beside the field, and then none is taken."""
    files = posted.files.get("photos", [])
    if not files:
        return filled.refuse("photos", "Choose at least one photo."), []
    if filled.data is not None and filled.data.taken_on is not None and filled.data.taken_on > on:
        filled = filled.refuse("taken_on", "This day lies ahead. Give the day the photo was taken.")
    headers = []
    for file in files:
        try:
            headers.append(read_header(file.content))
        except NotAPhoto as reason:
            others = "" if len(files) == 1 else " None of the photos was taken in: choose them again without this one."
            return filled.refuse("photos", f"{file.name or 'One file'}: {reason}{others}"), []
    return filled, headers


def _store(service: Service, files: list[Upload]) -> list[Stored]:
    return [service.storage.put(file.content, "photo") for file in files]


@router.post("/zones/{zone_id}/photos")
def add_photos(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    with service.database.read() as db:
        queries.zone_for(db, who, zone_id)
    on = today(request)
    filled, headers = _headers(fill(forms.AddPhotos, posted), posted, on)
    if not filled.ok:
        return _upload_page(request, service, zone_id, who, filled, 422)
    sent, originals = filled.sure, _store(service, posted.files["photos"])
    with service.database.write() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
        added = [actions.add_photo(db, case, zone, purpose=sent.purpose, original=original, width=header.width,
                                   taken_on=sent.taken_on or sensible_day(header, on) or on, height=header.height,
                                   camera=header.camera, by=who.actor)
                 for header, original in zip(headers, originals, strict=True)]
    return see(f"/photos/{added[0].id}" if len(added) == 1 else f"/zones/{zone_id}#photos")


@router.get("/photos/{photo_id}")
def photo_page(request: Request, service: Here, photo_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _show(request, "records/photo.html", _view(service, who, photo_id), open == "1", shown({}))


@router.get("/photos/{photo_id}/examination")
def examination(request: Request, service: Here, photo_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _show(request, "records/_examination.html", _view(service, who, photo_id), open == "1", shown({}))


@router.get("/photos/{photo_id}/reading")
def reading(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    return _show(request, "records/_reading.html", _view(service, who, photo_id), False, shown({}))


@router.post("/photos/{photo_id}/examination")
def examine_again(service: Here, photo_id: Id, who: Artist) -> Response:
    view = _view(service, who, photo_id)
    if view.photo.state != "ready":
        with service.database.write() as db:
            actions.examine_again(db, queries.photo_for(db, who, photo_id), by=who.actor)
    return see(f"/photos/{photo_id}")


def _picture(service: Service, who: Who, photo_id: int, which: str, is_asked_for: bool) -> Response:
    """The re-encoded picture; a hidden one only when asked for, and then the trail says so before it is shown."""
    with service.database.read() as db:
        photo = queries.photo_for(db, who, photo_id)
        blob_id = photo.shown_id if which == "shown" else photo.thumb_id
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


@router.get("/photos/{photo_id}/outlines")
def outlines_page(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    view = _view(service, who, photo_id)
    if view.photo.state != "ready" or view.zone is None:
        raise NotFound
    drawn = view.outlines.outlines if view.outlines else ""
    return _show(request, "records/outlines.html", view, True, shown({"outlines": drawn}))


def _read(filled: Filled[forms.DrawOutlines], photo: Photo) -> tuple[Filled[forms.DrawOutlines], Outlines | None]:
    if not filled.ok:
        if filled.errors.get("outlines") == "Fill this in.":
            filled = filled.refuse("outlines", "Outline the scar and the skin around it first.")
        return filled, None
    try:
        return filled, read_outlines(filled.sure.outlines, photo.width, photo.height)
    except ValueError as reason:
        return filled.refuse("outlines", str(reason)), None


@router.post("/photos/{photo_id}/outlines")
def draw_outlines(request: Request, service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    view = _view(service, who, photo_id)
    if view.photo.state != "ready" or view.zone is None:
        raise NotFound
    filled, drawn = _read(fill(forms.DrawOutlines, posted), view.photo)
    if drawn is None:
        return _show(request, "records/outlines.html", view, True, filled, 422)
    with service.database.write() as db:
        photo = queries.photo_for(db, who, photo_id)
        actions.draw_outlines(db, photo, drawn.to_dict(), pitch_mm=filled.sure.pitch_mm, by=who.actor)
    return see(f"/photos/{photo_id}#reading")
