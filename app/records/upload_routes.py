"""Photos come in: all at once by a plain form, or each in pieces by `upload.js`, which goes on after a lost network."""

import hashlib
import json
from datetime import date
from threading import Semaphore
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from app.platform.forms import Filled, Posted, Refused, Sent, Upload, fill, shown
from app.platform.images import NotAPhoto
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.platform.storage import Stored
from app.records import queries, upload_actions, upload_queries
from app.records.capture_models import PhotoUpload
from app.records.photo_header import Header, read_header
from app.records.photo_permission import NO_PERMISSION, may_photograph
from app.records.scars import FRAME_NAMES, FRAMES, ZONE_PURPOSES
from app.records.upload_forms import MAX_PHOTO, PIECE_SIZE, AboutPhoto, BeginUpload, EndUpload
from app.records.upload_queries import Arriving, count_of, length_of
from app.studio.access import Artist, Who, today

router = APIRouter()
# Whole photos are put together one at a time: each stands in memory more than once while it is.
_one_whole = Semaphore(1)
MOST_WORDS = 64 * 1024  # bytes of what is said of a photo
Number = Annotated[int, Path(ge=0, lt=MAX_PHOTO // PIECE_SIZE)]


def _upload_page(request: Request, service: Here, zone_id: int, who: Who, form: Filled[Any],
                 status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
        is_allowed = may_photograph(db, case.client_id)
        client = queries.client_for(db, who, case.client_id)
    return show(request, "records/photo_new.html", nav="clients", zone=zone, case=case, client=client, form=form,
                is_allowed=is_allowed, status=status,
                purposes=[(code, words.capitalize()) for code, words in ZONE_PURPOSES.items()],
                frames=[(code, f"{FRAME_NAMES[code]}, {words}") for code, words in FRAMES.items()])  # fmt: skip


@router.get("/zones/{zone_id}/photos/new")
def new_photos(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        first = not queries.photos_of(db, zone_id)
    return _upload_page(request, service, zone_id, who, shown({"purpose": "before" if first else ""}))


def _headers(filled: Filled[AboutPhoto], posted: Posted, on: date) -> tuple[Filled[AboutPhoto], list[Header]]:
    """The headers of the sent files; one that is no photo is named beside the field, and then none is taken."""
    files = posted.files.get("photos", [])
    if not files:
        return filled.refuse("photos", "Choose at least one photo."), []
    if filled.data is not None and filled.data.taken_on is not None and filled.data.taken_on > on:
        filled = filled.refuse("taken_on", upload_actions.DAY_AHEAD)
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
        zone = queries.zone_for(db, who, zone_id)
        is_allowed = may_photograph(db, queries.case_for(db, who, zone.case_id).client_id)
    on, filled = today(request), fill(AboutPhoto, posted)
    if not is_allowed:
        return _upload_page(request, service, zone_id, who, filled.refuse("_permission", NO_PERMISSION), 422)
    filled, headers = _headers(filled, posted, on)
    if upload_actions.lacks_chaperone(zone, posted.one("chaperone")):
        filled = filled.refuse("chaperone", upload_actions.WHO_IS_THERE)
    if not filled.ok:
        return _upload_page(request, service, zone_id, who, filled, 422)
    originals = _store(service, posted.files["photos"])
    try:
        with service.database.write() as db:
            zone = queries.zone_for(db, who, zone_id)
            added = [upload_actions.file_photo(db, zone, header, original, filled.sure, on=on, by=who.actor,
                                               time_zone=request.state.studio.time_zone)
                     for header, original in zip(headers, originals, strict=True)]
    except Refused as refused:  # taken back a moment ago
        return _upload_page(request, service, zone_id, who, filled.refuse("_permission", refused.message), 422)
    return see(f"/photos/{added[0].id}" if len(added) == 1 else f"/zones/{zone_id}#photos")


async def _body(request: Request, most: int) -> bytes:
    """The raw body, never more of it than is asked for."""
    parts, length = [], 0
    try:
        async for part in request.stream():
            length += len(part)
            if length > most:
                raise HTTPException(413)
            parts.append(part)
    except ClientDisconnect:
        raise HTTPException(400) from None
    return b"".join(parts)


async def _piece(request: Request) -> bytes:
    return await _body(request, PIECE_SIZE)


async def _told(request: Request, posted: Sent) -> Posted:
    """What a script says of a photo, as a form or as JSON; `about` may stand inside for itself."""
    if not request.headers.get("content-type", "").startswith("application/json"):
        return posted
    try:
        given = json.loads(await _body(request, MOST_WORDS))
        inside = given.get("about", {}) if isinstance(given, dict) else {}
        inside = json.loads(inside) if isinstance(inside, str) else inside
        if not isinstance(given, dict) or not isinstance(inside, dict):
            raise TypeError
        texts = {name: [str(value)] for name, value in {**inside, **given}.items()
                 if isinstance(value, str | int | float)}  # fmt: skip
    except (ValueError, TypeError, RecursionError):
        return Posted({}, {})
    return Posted(texts, {})


Told = Annotated[Posted, Depends(_told)]
Piece = Annotated[bytes, Depends(_piece)]


def _state(upload: PhotoUpload, have: list[int]) -> dict[str, Any]:
    return {"upload": upload.id, "piece_size": upload.piece_size, "pieces": count_of(upload), "have": have,
            "photo": upload.photo_id}  # fmt: skip


def _no(status: int, error: str, **more: Any) -> JSONResponse:
    return JSONResponse({"error": error, **more}, status)


@router.post("/zones/{zone_id}/uploads")
def begin_upload(request: Request, service: Here, zone_id: Id, told: Told, who: Artist) -> Response:
    """Begins a photo that comes in pieces, or says how far one with this key is."""
    filled = fill(BeginUpload, told)
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        is_allowed = may_photograph(db, queries.case_for(db, who, zone.case_id).client_id)
        photo = upload_queries.photo_with_key(db, filled.data.key) if filled.data else None
    if not filled.ok:
        name, words = next(iter(filled.errors.items()))
        return _no(422, words, field=name, errors=dict(filled.errors))
    if photo is not None and photo.zone_id == zone_id:
        return JSONResponse({"upload": None, "piece_size": PIECE_SIZE, "pieces": 0, "have": [], "photo": photo.id})
    if not is_allowed:
        return _no(422, NO_PERMISSION, field="photos")
    try:
        with service.database.write() as db:
            zone = queries.zone_for(db, who, zone_id)
            upload = upload_actions.begin_upload(db, zone, filled.sure, on=today(request), by=who.actor)
            arriving = Arriving(upload, tuple(upload_queries.pieces_of(db, upload)))
    except Refused as refused:
        return _no(422, refused.message, field=refused.name)
    return JSONResponse(_state(arriving.upload, arriving.have))


@router.get("/uploads/{upload_id}", response_class=JSONResponse)
def upload_state(service: Here, upload_id: Id, who: Artist) -> Response:
    """What is there of a photo on its way."""
    with service.database.read() as db:
        arriving = upload_queries.arriving_for(db, who, upload_id)
    return JSONResponse(_state(arriving.upload, arriving.have))


@router.post("/uploads/{upload_id}/pieces/{number}")
def send_piece(service: Here, upload_id: Id, number: Number, piece: Piece, who: Artist) -> Response:
    """Keeps one piece; sent again, it is taken as there."""
    with service.database.read() as db:
        upload = upload_queries.arriving_for(db, who, upload_id).upload
        is_there = upload.photo_id is not None or upload_queries.piece_of(db, upload, number) is not None
    if not is_there:
        if not piece or len(piece) != length_of(upload, number):
            return _no(422, "This piece does not have the length that it should have.")
        kept = service.storage.put(piece, "piece")
        with service.database.write() as db:
            is_new = upload_actions.keep_piece(db, upload_queries.arriving_for(db, who, upload_id).upload, number, kept)
        if not is_new:
            service.storage.drop(kept.name)
    return JSONResponse({"have": number})


def _end(service: Service, who: Who, upload_id: int, *, is_over: bool) -> None:
    """Forgets the pieces, and the upload with them when nothing can come of it."""
    with service.database.write() as db:
        upload = upload_queries.arriving_for(db, who, upload_id).upload
        files = upload_actions.give_up(db, [upload]) if is_over else upload_actions.drop_pieces(db, upload)
    for name in files:
        service.storage.drop(name)


@router.post("/uploads/{upload_id}/done")
def end_upload(request: Request, service: Here, upload_id: Id, told: Told, who: Artist) -> Response:
    """Puts the pieces together and files the photo, once."""
    filled = fill(EndUpload, told)
    if not filled.ok:
        return _no(422, next(iter(filled.errors.values())))
    with service.database.read() as db:
        arriving = upload_queries.arriving_for(db, who, upload_id)
    if arriving.upload.photo_id is not None:
        return JSONResponse(_state(arriving.upload, []))
    if not arriving.is_whole:
        return _no(409, "Some pieces are missing.", have=arriving.have)
    with _one_whole:
        return _put_together(request, service, who, arriving, filled.sure.sha256)


def _put_together(request: Request, service: Service, who: Who, arriving: Arriving, sha256: str) -> Response:
    upload_id = arriving.upload.id or 0
    content = b"".join(service.storage.get(upload_queries.stored(piece)) for piece in arriving.pieces)
    if sha256 and hashlib.sha256(content).hexdigest() != sha256:
        _end(service, who, upload_id, is_over=False)
        return _no(409, "The photo was changed on its way.", have=[])
    return _file(request, service, who, upload_id, content)


def _file(request: Request, service: Service, who: Who, upload_id: int, content: bytes) -> Response:
    try:
        header = read_header(content)
    except NotAPhoto as reason:
        _end(service, who, upload_id, is_over=True)
        return _no(422, str(reason))
    original = service.storage.put(content, "photo")
    try:
        with service.database.write() as db:
            upload = upload_queries.arriving_for(db, who, upload_id).upload
            upload_actions.finish_upload(db, upload, header, original, on=today(request), by=who.actor,
                                         time_zone=request.state.studio.time_zone)  # fmt: skip
            files = upload_actions.drop_pieces(db, upload)
            state = _state(upload, [])
    except Refused as refused:
        return _no(422, refused.message)
    for name in files:
        service.storage.drop(name)
    return JSONResponse(state)
