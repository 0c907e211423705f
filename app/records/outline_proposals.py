"""What the drawing tool may ask for on the way: an outline grown from a tap, and a ring of skin around the scar.

Both are worked out on the picture that is shown (1600 px at most), one at a time in a process, and given in px of the
upright original. Neither is kept: it becomes an outline when the artist keeps it.
"""

import json
import threading
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.colour.calibration import Calibration
from app.colour.geometry import Piece, checked_piece
from app.colour.growing import grow
from app.colour.ring import propose
from app.platform.images import decode
from app.platform.service import Service
from app.records import queries
from app.records.examination_queries import scale_of
from app.records.models import Photo
from app.records.outline_forms import GrowOutline
from app.records.selectors import MOST_PIECES

PATIENCE_SECONDS = 5.0
_one_at_a_time = threading.Semaphore(1)


class Busy(Exception):
    """Another outline is being looked for."""


@dataclass(frozen=True, eq=False)
class Shown:
    """The picture that is shown, and how many px of the original one of its px spans."""

    srgb8: NDArray[np.uint8]
    scale: float


def shown_pixels(service: Service, photo: Photo) -> Shown:
    assert photo.shown_id is not None
    with service.database.read() as db:
        blob = queries.blob_of(db, photo.shown_id)
    srgb8 = np.ascontiguousarray(decode(service.storage.get(blob)).srgb8)
    return Shown(srgb8, photo.width / srgb8.shape[1])


@lru_cache(maxsize=1)
def _kept_open(_studio: Path, _shown_id: int | None) -> list[Shown]:
    """Room for one picture: whoever corrects a grown outline asks for the same one again and again."""
    return []


def grown(service: Service, photo: Photo, tap: GrowOutline) -> tuple[Piece, ...]:
    """Pieces of one colour around a tapped point. Raises ValueError, with a sentence for the artist, for none."""
    if not _one_at_a_time.acquire(timeout=PATIENCE_SECONDS):
        raise Busy("Another outline is being looked for. Tap again in a moment.")
    try:
        room = _kept_open(service.settings.data, photo.shown_id)
        if not room:
            room.append(shown_pixels(service, photo))
        [seen] = room
        at = (tap.x / seen.scale, tap.y / seen.scale)
        found = grow(seen.srgb8, at, calibration_of(photo), tolerance=tap.tolerance)
    finally:
        _one_at_a_time.release()
    return _of_original(found, seen, photo)


def ring_around(service: Service, photo: Photo, scar: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """Skin to compare with, as a ring that begins some way outside the scar and leaves out chart and marker. Raises
    ValueError, with a sentence for the artist, when there is no room."""
    found = propose(scar, px_per_mm(service, photo, scar), photo.width, photo.height, leave_out=no_skin(photo))
    return _checked(found, photo)


def no_skin(photo: Photo) -> tuple[Piece, ...]:
    """The chart or grey card and the marker, where they are known."""
    filed = (json.loads(text or "{}").get("corners") for text in (photo.chart, photo.placed, photo.marker))
    return tuple(Piece(np.array(corners, dtype=np.float64)) for corners in filed if corners)


def _of_original(found: tuple[Piece, ...], seen: Shown, photo: Photo) -> tuple[Piece, ...]:
    scaled = [Piece(piece.outer * seen.scale, tuple(hole * seen.scale for hole in piece.holes)) for piece in found]
    return _checked(tuple(scaled), photo)


def _checked(found: tuple[Piece, ...], photo: Photo) -> tuple[Piece, ...]:
    """Those that could be kept as they are; a hole too small to draw is filled."""
    edge, kept = np.array([photo.width, photo.height], dtype=np.float64), []
    for piece in found[:MOST_PIECES]:
        outer = np.clip(piece.outer, 0, edge)
        holes = [np.clip(hole, 0, edge) for hole in piece.holes]
        for rings in (holes, []):
            try:
                kept.append(checked_piece(outer, rings, photo.width, photo.height))
                break
            except ValueError:
                continue
    return tuple(kept)


def px_per_mm(service: Service, photo: Photo, scar: tuple[Piece, ...]) -> float | None:
    """How many px of the original a millimetre takes at the scar, where the photo has a scale."""
    with service.database.read() as db:
        scale = scale_of(db, photo, calibration_of(photo), None)
    try:
        return None if scale is None else scale.px_per_mm(scar[0].outer.mean(axis=0))
    except ValueError:
        return None  # the scar lies past the horizon of the card's plane


def calibration_of(photo: Photo) -> Calibration | None:
    return Calibration.from_dict(json.loads(photo.calibration)) if photo.calibration else None
