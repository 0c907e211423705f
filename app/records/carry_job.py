"""The worker's part of carrying outlines over: it lays one photo over the other and moves the outlines across.

Both photos are taken as they are shown (1600 px at most); what is carried is in px of the upright original again.
"""

import json
from dataclasses import replace

import numpy as np

from app.colour.area import Scale
from app.colour.geometry import Piece, checked_piece
from app.colour.registration import Registration, register
from app.colour.spaces import FloatArray
from app.platform import jobs
from app.platform.service import Service
from app.records.examination_queries import scale_of
from app.records.models import OutlineSet, Photo
from app.records.outline_actions import keep_carried
from app.records.outline_proposals import Shown, calibration_of, no_skin, shown_pixels
from app.records.outlines import for_page
from app.records.selectors import ROLES, Outlines, read


def carry_outlines(service: Service, job: jobs.Job) -> None:
    """Lays the two photos over one another and carries the outlines across."""
    assert job.id is not None
    about = json.loads(job.about)
    with service.database.read() as db:
        source = db.get_one(OutlineSet, about["from"])
        there, here = db.get_one(Photo, source.photo_id), db.get_one(Photo, job.subject_id)
    jobs.say(service.database, job.id, "Opening the two photos.")
    before, now = shown_pixels(service, there), shown_pixels(service, here)
    jobs.say(service.database, job.id, "Laying one over the other.")
    planes = _plane(service, there, before), _plane(service, here, now)
    laid = register(
        before.srgb8, now.srgb8, planes=None if planes[0] is None or planes[1] is None else (planes[0], planes[1]),
        landmarks=_points(about["landmarks"], before, now), leave_out=(_left_out(there, before), _left_out(here, now)))
    found: dict[str, object] = {"how": laid.how, "words": laid.words, "outlines": ""}
    if laid.how != "none":
        found |= _found(read(source.outlines), laid, before, now, here)
    with service.database.write() as db:
        keep_carried(db, job.id, found)


def _points(landmarks: list[list[list[float]]], before: Shown, now: Shown) -> tuple[FloatArray, FloatArray] | None:
    """Landmarks come in px of the originals."""
    if not landmarks:
        return None
    placed = np.array(landmarks, dtype=np.float64)
    return placed[:, 0] / before.scale, placed[:, 1] / now.scale


def _plane(service: Service, photo: Photo, seen: Shown) -> Scale | None:
    """The plane of the photo's marker or chart, in px of the picture that is shown."""
    with service.database.read() as db:
        scale = scale_of(db, photo, calibration_of(photo), None)
    if scale is None:
        return None
    larger = np.diag([seen.scale, seen.scale, 1.0])
    return replace(scale, chart_from_photo=scale.chart_from_photo @ larger, corners=scale.corners / seen.scale)


def _left_out(photo: Photo, seen: Shown) -> tuple[Piece, ...]:
    return tuple(Piece(piece.outer / seen.scale) for piece in no_skin(photo))


def _found(drawn: Outlines, laid: Registration, before: Shown, now: Shown, here: Photo) -> dict[str, object]:
    """What is put beside the job: outlines for the page, how far the photos still lie apart in px of this original."""
    carried, lost = _carry(drawn, laid, before, now, here)
    apart = laid.residual_px
    rests_on = laid.how == "landmarks" or all(
        laid.covers(piece.outer / before.scale) for piece in drawn.scar)
    return {
        "outlines": for_page(carried) if carried.scar and carried.skin else "", "lost": lost, "is_beyond": not rests_on,
        "residual_px": None if apart is None else round(apart * now.scale, 2), "residual_mm": laid.residual_mm,
    }


def _carry(drawn: Outlines, laid: Registration, before: Shown, now: Shown, here: Photo) -> tuple[Outlines, int]:
    """The outlines on the other photo, and how many pieces found no place on it."""
    edge = np.array([here.width, here.height], dtype=np.float64)

    def moved(ring: FloatArray) -> FloatArray:
        return np.asarray(np.clip(laid.carry(ring / before.scale) * now.scale, 0, edge), dtype=np.float64)

    kept: list[list[Piece]] = [[], []]
    for pieces, role in zip(kept, ROLES, strict=True):
        for piece in drawn.of(role):
            holes = [moved(hole) for hole in piece.holes]
            try:
                pieces.append(checked_piece(moved(piece.outer), holes, here.width, here.height))
            except ValueError:
                continue  # it lies beyond the edge of this photo
    lost = len(drawn.scar) + len(drawn.skin) - len(kept[0]) - len(kept[1])
    return Outlines(tuple(kept[0]), tuple(kept[1])), lost
