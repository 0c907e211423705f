"""What changes outlines: drawn, carried over from another photo, drawn once more by a second observer."""

import json

from sqlmodel import Session, col, select

from app.platform import clock
from app.platform.audit import Actor, audited
from app.platform.jobs import Job, plan
from app.records.models import OutlineSet, Photo
from app.records.photo_actions import MEASURE
from app.records.queries import job_of, newest_outlines
from app.records.selectors import Outlines, write

CARRY = "records.outlines.carry"
Landmarks = list[tuple[tuple[float, float], tuple[float, float]]]


class Newer(Exception):
    """Somebody saved outlines of this photo after the page was opened."""


class NotSecond(ValueError):
    """A second observer is somebody else, and comes after a first."""


def given_pitch(db: Session, photo_id: int) -> float | None:
    """The distance between patches that was given with the photo's last outlines: its area rests on it."""
    job = job_of(db, MEASURE, photo_id)
    pitch_mm: float | None = json.loads(job.about).get("pitch_mm") if job else None
    return pitch_mm


@audited("records.outlines.drawn")
def draw_outlines(db: Session, photo: Photo, outlines: Outlines, *, pitch_mm: float | None = None,
                  carried_from: OutlineSet | None = None, is_second: bool = False, seen: int | None = None,
                  by: Actor) -> OutlineSet:
    """Files outlines as the next version and asks for them to be measured. `seen` is the version that stood there when
    the page was opened; none passes unasked."""
    assert photo.id is not None
    member_id = by.id if by.kind == "member" else None
    first = newest_outlines(db, photo.id)
    if is_second and (first is None or first.drawn_by == member_id):
        raise NotSecond("A second observer is somebody else than who drew the first outlines.")
    standing = newest_outlines(db, photo.id, is_second=is_second)
    if seen is not None and standing is not None and standing.version != seen:
        raise Newer
    drawn = select(OutlineSet.version).where(OutlineSet.photo_id == photo.id).order_by(col(OutlineSet.version).desc())
    version = (db.exec(drawn.limit(1)).first() or 0) + 1
    row = OutlineSet(photo_id=photo.id, version=version, outlines=write(outlines, f"photos/{photo.id}"),
                     origin="carried" if carried_from else "drawn", is_second=is_second, drawn_at=clock.now(),
                     carried_from_id=carried_from.id if carried_from else None, drawn_by=member_id)
    db.add(row)
    # A second observer is not asked for the distance: what the first gave stands.
    plan(db, MEASURE, photo.id, about={"pitch_mm": given_pitch(db, photo.id) if is_second else pitch_mm})
    return row


def ask_to_carry(db: Session, photo: Photo, source: OutlineSet, landmarks: Landmarks) -> Job:
    """Asks for outlines to be carried over from another photo. Nothing is on file until somebody looked and saved."""
    assert photo.id is not None
    return plan(db, CARRY, photo.id, about={"from": source.id, "landmarks": landmarks})


def keep_carried(db: Session, job_id: int, found: dict[str, object]) -> None:
    """Puts what came of carrying beside what was asked for, to be looked at."""
    job = db.get_one(Job, job_id)
    job.about = json.dumps({**json.loads(job.about), **found})
    db.add(job)
