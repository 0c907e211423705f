"""The slow work on photos, done by the worker: examining one that came in, and measuring its outlines.

A photo is never refused for lack of a chart: it is kept, and what can and cannot be said from it is written down.
"""

import json

import numpy as np

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import find_chart
from app.colour.measure import measure
from app.colour.reading import Reading as Measured
from app.platform import jobs
from app.platform.audit import SYSTEM, canonical
from app.platform.images import DISPLAY_EDGE, THUMB_EDGE, Decoded, NotAPhoto, decode, encode_jpeg
from app.platform.service import Service
from app.platform.storage import Stored
from app.records import queries
from app.records.models import Photo
from app.records.photo_actions import Examination, keep_examination, keep_reading
from app.records.photo_words import said_of


def _original(service: Service, photo: Photo) -> Decoded:
    with service.database.read() as db:
        blob = queries.blob_of(db, photo.original_id)
    return decode(service.storage.get(blob))


def _pictures(service: Service, decoded: Decoded) -> tuple[Stored, Stored]:
    """The photo re-encoded from its pixels, so that neither place nor device goes along."""
    shown, thumb = (encode_jpeg(decoded.srgb8, edge) for edge in (DISPLAY_EDGE, THUMB_EDGE))
    return service.storage.put(shown, "shown"), service.storage.put(thumb, "thumb")


def _look_for_chart(decoded: Decoded) -> tuple[Calibration | None, str]:
    chart = find_chart(np.ascontiguousarray(decoded.srgb8))
    calibration = None if chart is None else calibrate(chart)
    return calibration, "{}" if chart is None else canonical({"corners": chart.corners.round(2).tolist()})


def examine(service: Service, job: jobs.Job) -> None:
    """Decodes the original, looks for the chart, calibrates, and makes the pictures that are shown."""
    assert job.id is not None
    with service.database.read() as db:
        photo = db.get_one(Photo, job.subject_id)
    if photo.state == "ready":
        return
    jobs.say(service.database, job.id, "Opening the photo.")
    try:
        decoded = _original(service, photo)
    except NotAPhoto as reason:
        _keep(service, photo, Examination("failed", str(reason), photo.width, photo.height))
        return
    jobs.say(service.database, job.id, "Looking for the colour chart.")
    calibration, chart = _look_for_chart(decoded)
    jobs.say(service.database, job.id, "Making the pictures that are shown.")
    shown, thumb = _pictures(service, decoded)
    height, width = decoded.srgb8.shape[:2]
    _keep(service, photo, Examination(
        "ready", " ".join(said_of(calibration)), width, height, decoded.camera, chart,
        canonical(calibration.to_dict()) if calibration else "", calibration.usable if calibration else "none",
        calibration.loo_mean if calibration else None, shown, thumb))


def _keep(service: Service, photo: Photo, found: Examination) -> None:
    assert photo.id is not None
    with service.database.write() as db:
        keep_examination(db, db.get_one(Photo, photo.id), found, by=SYSTEM)


def measure_outlines(service: Service, job: jobs.Job) -> None:
    """Measures the newest outlines of a photo on its original pixels and files the reading."""
    assert job.id is not None
    with service.database.read() as db:
        photo = db.get_one(Photo, job.subject_id)
        drawn = queries.newest_outlines(db, job.subject_id)
        before = queries.reading_of_photo(db, job.subject_id)
    if drawn is None or (before is not None and before.outline_set_id == drawn.id):
        return
    jobs.say(service.database, job.id, "Measuring.")
    reading = _measured(_original(service, photo), photo, drawn.outlines, json.loads(job.about).get("pitch_mm"))
    with service.database.write() as db:
        keep_reading(db, db.get_one(Photo, job.subject_id), drawn, reading, by=SYSTEM)


def _measured(decoded: Decoded, photo: Photo, outlines: str, pitch_mm: float | None) -> Measured:
    drawn = json.loads(outlines)
    scar, skin = (tuple(np.array(points, dtype=np.float64) for points in drawn[role]) for role in ("scar", "skin"))
    calibration = Calibration.from_dict(json.loads(photo.calibration)) if photo.calibration else None
    return measure(np.ascontiguousarray(decoded.srgb8), scar, skin, calibration, pitch_mm)
