"""The slow work on photos, done by the worker: examining one that came in, and measuring its outlines.

A photo is never refused for lack of a chart: it is kept, and what can and cannot be said from it is written down. Each
job files all it found in one transaction: one that breaks off left nothing behind and is done again. The original is
decoded one at a time in a process, and nothing of it outlives its job.
"""

import json
from dataclasses import dataclass, replace

import numpy as np
from sqlmodel import Session

from app.colour.area import Scale, area
from app.colour.calibration import Calibration
from app.colour.difference_map import difference_map
from app.colour.marker import find_marker
from app.colour.measure import measure
from app.colour.reading import METHOD_VERSION
from app.colour.reading import Reading as Measured
from app.colour.spaces import ByteArray
from app.colour.thresholds import SkinClass
from app.platform import jobs
from app.platform.audit import SYSTEM, canonical
from app.platform.images import DISPLAY_EDGE, THUMB_EDGE, NotAPhoto, decode, encode_jpeg
from app.platform.service import Service
from app.platform.storage import Stored
from app.records import examination_queries, queries, selectors
from app.records.card_queries import card_with
from app.records.chart_queries import repeatability
from app.records.chart_search import Found, read_placed, search
from app.records.corners import placed_of
from app.records.models import Case, OutlineSet, Photo
from app.records.photo_actions import Examination, keep_examination, keep_reading
from app.records.photo_words import said_of, skin_class_of

MAP_EDGE, MAP_QUALITY = 800, 95


@dataclass(frozen=True, eq=False)
class _Basis:
    """What the outlines of a photo are measured with, besides its pixels."""

    calibration: Calibration | None
    scale: Scale | None
    skin_class: SkinClass | None
    repeatability: float | None


def _original(service: Service, photo: Photo) -> tuple[ByteArray, str]:
    """The pixels of the original, upright and in one block as OpenCV takes them, and what its camera calls itself."""
    with service.database.read() as db:
        blob = queries.blob_of(db, photo.original_id)
    decoded = decode(service.storage.get(blob))
    return np.ascontiguousarray(decoded.srgb8), decoded.camera


def _pictures(service: Service, srgb8: ByteArray) -> tuple[Stored, Stored]:
    """The photo re-encoded from its pixels, so that neither place nor device goes along."""
    shown, thumb = (encode_jpeg(srgb8, edge) for edge in (DISPLAY_EDGE, THUMB_EDGE))
    return service.storage.put(shown, "shown"), service.storage.put(thumb, "thumb")


def examine(service: Service, job: jobs.Job) -> None:
    """Decodes the original, looks for chart and marker, calibrates, and makes the pictures that are shown."""
    assert job.id is not None
    with service.database.read() as db:
        photo = db.get_one(Photo, job.subject_id)
    if photo.state == "ready":
        return
    jobs.say(service.database, job.id, "Opening the photo.")
    try:
        srgb8, camera = _original(service, photo)
    except NotAPhoto as reason:
        keep_found(service, photo, Examination("failed", str(reason), photo.width, photo.height))
        return
    jobs.say(service.database, job.id, "Reading the corners that were placed." if photo.placed else
             "Looking for the colour chart.")
    found = _found(service, photo, srgb8)
    jobs.say(service.database, job.id, "Looking for the marker of a capture card.")
    marker, card_id = _marker(service, srgb8)
    pictures: tuple[Stored | None, Stored | None] = (None, None)
    if photo.shown_id is None:  # looked at again, the pictures are there already
        jobs.say(service.database, job.id, "Making the pictures that are shown.")
        pictures = _pictures(service, srgb8)
    height, width = srgb8.shape[:2]
    calibration = found.calibration
    keep_found(service, photo, Examination(
        "ready", " ".join(said_of(calibration)), width, height, camera, _chart_text(calibration),
        canonical(calibration.to_dict()) if calibration else "", calibration.usable if calibration else "none",
        calibration.loo_mean if calibration else None, found.reference, found.kind_id, marker, card_id, *pictures))


def _found(service: Service, photo: Photo, srgb8: ByteArray) -> Found:
    placed = placed_of(photo.placed)
    with service.database.read() as db:
        if placed is None:
            charts = examination_queries.charts_to_try(db)
        else:
            known = examination_queries.placed_thing(db, placed.kind, photo.chart_kind_id)
    if placed is None:
        return search(srgb8, charts)
    try:
        return read_placed(srgb8, placed, known)
    except ValueError:  # corners that no chart can have, as a very flat view of one at the edge of the photo
        return Found(None, photo.chart_kind_id)


def _chart_text(calibration: Calibration | None) -> str:
    if calibration is None or calibration.level == "grey":
        return "{}"
    chart = calibration.chart
    return canonical({"corners": chart.corners.round(2).tolist(), "columns": chart.columns, "rows": chart.rows})


def _marker(service: Service, srgb8: ByteArray) -> tuple[str, int | None]:
    """The marker in a photo, one of the studio's own cards before any other, and the card that carries it."""
    seen = find_marker(srgb8)
    if not seen:
        return "", None
    with service.database.read() as db:
        cards = [card_with(db, marker.id) for marker in seen]
    marker, card = next((pair for pair in zip(seen, cards, strict=True) if pair[1] is not None), (seen[0], None))
    text = canonical({"id": marker.id, "corners": marker.corners.round(3).tolist()})
    return text, card.id if card is not None else None


def keep_found(service: Service, photo: Photo, found: Examination) -> None:
    """Files what was found in a photo as it stood when it was opened. Where somebody placed other corners meanwhile,
    they asked for another look, and this one says nothing of what they placed."""
    assert photo.id is not None
    with service.database.write() as db:
        now = db.get_one(Photo, photo.id)
        if now.state != "ready" and (now.placed, now.chart_kind_id) == (photo.placed, photo.chart_kind_id):
            keep_examination(db, now, found, by=SYSTEM)


def measure_outlines(service: Service, job: jobs.Job) -> None:
    """Measures the newest outlines of a photo on its original pixels and files the reading; those of a second observer
    become a reading of their own."""
    assert job.id is not None
    asked = json.loads(job.about)
    with service.database.read() as db:
        photo = db.get_one(Photo, job.subject_id)
        waiting = _unmeasured(db, job.subject_id, asked.get("again"))
    if not waiting or photo.state != "ready":
        return  # a photo that is being looked at again asks for its outlines itself when that is done
    jobs.say(service.database, job.id, "Opening the photo.")
    srgb8, _ = _original(service, photo)
    for drawn in waiting:
        with service.database.read() as db:
            basis = _basis(db, photo, asked.get("pitch_mm"))
        jobs.say(service.database, job.id, "Measuring.")
        outlines = selectors.read(drawn.outlines)
        reading = _measured(srgb8, outlines, basis)
        jobs.say(service.database, job.id, "Drawing where scar and skin differ.")
        picture = _map(service, srgb8, outlines, reading, basis)
        with service.database.write() as db:
            keep_reading(db, db.get_one(Photo, job.subject_id), drawn, reading, picture, by=SYSTEM)


def _unmeasured(db: Session, photo_id: int, again: int | None) -> list[OutlineSet]:
    """The first and the second observer's newest outlines, as far as they have no reading yet, or not by today's method
    and are asked for again. What today's method measured on them is never measured twice."""
    waiting = []
    for is_second in (False, True):
        drawn = queries.newest_outlines(db, photo_id, is_second=is_second)
        before = queries.reading_of_photo(db, photo_id, is_second=is_second)
        if drawn is None:
            continue
        is_new = before is None or before.outline_set_id != drawn.id
        if is_new or (drawn.id == again and before is not None and before.method_version != METHOD_VERSION):
            waiting.append(drawn)
    return waiting


def _basis(db: Session, photo: Photo, pitch_mm: float | None) -> _Basis:
    calibration = Calibration.from_dict(json.loads(photo.calibration)) if photo.calibration else None
    fixed = db.get_one(Case, photo.case_id).skin_class
    return _Basis(
        calibration, examination_queries.scale_of(db, photo, calibration, pitch_mm),
        None if not fixed else "dark" if fixed == "dark" else "light", repeatability(db))


def _measured(srgb8: ByteArray, outlines: selectors.Outlines, basis: _Basis) -> Measured:
    scale, known = basis.scale, None
    try:
        known = None if scale is None else area(outlines.scar, scale)
    except ValueError:
        scale = None  # the scar reaches past the horizon of the card's plane: colour, but no area
    reading = measure(srgb8, outlines.scar, outlines.skin, basis.calibration, scale, skin_class=basis.skin_class,
                      repeatability=basis.repeatability)
    # How large a scar is does not hang on its colour: a photo that cannot tell the one may still tell the other.
    return reading if reading.area is not None or known is None else replace(reading, area=known)


def _map(service: Service, srgb8: ByteArray, outlines: selectors.Outlines, reading: Measured,
         basis: _Basis) -> Stored | None:
    """The map of differences as a picture; none where there is no figure, or too little of the scar for one."""
    skin = skin_class_of(reading, basis.skin_class or "")
    if basis.calibration is None or reading.lab_skin is None or skin is None or reading.share_within is None:
        return None
    drawn = difference_map(srgb8, outlines.scar, reading.lab_skin, basis.calibration, skin_class=skin,
                           edge_width_px=reading.edge_width_px)
    return service.storage.put(encode_jpeg(drawn.picture(), MAP_EDGE, quality=MAP_QUALITY), "map")
