"""What changes photos, outlines and readings."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col, select

from app.colour.reading import Reading as Measured
from app.colour.thresholds import skin_class
from app.platform import clock
from app.platform.audit import Actor, audited, canonical
from app.platform.jobs import plan
from app.platform.storage import Stored, keep
from app.records.models import Case, OutlineSet, Photo, Reading, Zone

EXAMINE, MEASURE = "records.photo.examine", "records.photo.measure"


@dataclass(frozen=True)
class Examination:
    """What was found in a photo; `shown` and `thumb` are None when its pixels could not be read."""

    state: str  # ready, failed
    words: str
    width: int
    height: int
    camera: str = ""
    chart: str = "{}"
    calibration: str = ""
    calibration_state: str = "none"
    loo_delta_e_00: float | None = None
    shown: Stored | None = None
    thumb: Stored | None = None


@audited("records.photo.added")
def add_photo(db: Session, case: Case, zone: Zone | None, *, purpose: str, taken_on: date, original: Stored, width: int,
              height: int, camera: str, by_client: bool = False, by: Actor) -> Photo:
    """Files a photo whose bytes are stored already, and asks for its examination."""
    assert case.id is not None
    blob = keep(db, original)
    assert blob.id is not None
    photo = Photo(case_id=case.id, zone_id=zone.id if zone else None, purpose=purpose, taken_on=taken_on,
                  by_client=by_client, original_id=blob.id, width=width, height=height, camera=camera,
                  added_at=clock.now(), added_by=by.id if by.kind == "member" else None)
    db.add(photo)
    db.flush()
    assert photo.id is not None
    plan(db, EXAMINE, photo.id)
    return photo


@audited("records.photo.asked_again")
def examine_again(db: Session, photo: Photo, *, by: Actor) -> Photo:
    """Asks once more for an examination that failed."""
    assert photo.id is not None
    photo.state = "waiting"
    db.add(photo)
    plan(db, EXAMINE, photo.id)
    return photo


@audited("records.photo.opened")
def open_photo(db: Session, photo: Photo, *, by: Actor) -> Photo:
    """Says in the trail that a hidden photo was looked at."""
    return photo


@audited("records.photo.examined")
def keep_examination(db: Session, photo: Photo, found: Examination, *, by: Actor) -> Photo:
    photo.state, photo.words = found.state, found.words
    photo.width, photo.height, photo.camera = found.width, found.height, found.camera or photo.camera
    photo.chart, photo.calibration = found.chart, found.calibration
    photo.calibration_state, photo.loo_delta_e_00 = found.calibration_state, found.loo_delta_e_00
    photo.shown_id = keep(db, found.shown).id if found.shown else None
    photo.thumb_id = keep(db, found.thumb).id if found.thumb else None
    db.add(photo)
    return photo


@audited("records.outlines.drawn")
def draw_outlines(db: Session, photo: Photo, outlines: dict[str, Any], *, pitch_mm: float | None = None,
                  by: Actor) -> OutlineSet:
    """Files outlines as the next version and asks for them to be measured."""
    assert photo.id is not None
    drawn = select(OutlineSet.version).where(OutlineSet.photo_id == photo.id).order_by(col(OutlineSet.version).desc())
    version = (db.exec(drawn.limit(1)).first() or 0) + 1
    row = OutlineSet(photo_id=photo.id, version=version, outlines=canonical(outlines), drawn_at=clock.now(),
                     drawn_by=by.id if by.kind == "member" else None)
    db.add(row)
    plan(db, MEASURE, photo.id, about={"pitch_mm": pitch_mm})
    return row


@audited("records.reading.kept")
def keep_reading(db: Session, photo: Photo, outline_set: OutlineSet, reading: Measured, *, by: Actor) -> Reading:
    """Files a reading in place of the photo's last one; the case's first calibrated reading fixes its skin class."""
    assert photo.id is not None
    assert photo.zone_id is not None
    assert outline_set.id is not None
    earlier = select(Reading.id).where(Reading.photo_id == photo.id).order_by(col(Reading.id).desc()).limit(1)
    scar, skin = reading.lab_scar or (None, None, None), reading.lab_skin or (None, None, None)
    row = Reading(
        photo_id=photo.id, zone_id=photo.zone_id, outline_set_id=outline_set.id, state=reading.state,
        taken_on=photo.taken_on, read_at=clock.now(), method_version=reading.method_version,
        scar_l=scar[0], scar_a=scar[1], scar_b=scar[2],
        skin_l=skin[0], skin_a=skin[1], skin_b=skin[2], delta_e_00=reading.delta_e_00, delta_e_00_low=reading.low,
        delta_e_00_high=reading.high, result=canonical(reading.to_dict()), replaces_id=db.exec(earlier).first(),
        area_cm2=None if reading.scar_area_mm2 is None else reading.scar_area_mm2 / 100)
    db.add(row)
    case = db.get_one(Case, photo.case_id)
    if not case.skin_class and reading.lab_skin is not None:
        case.skin_class = skin_class(reading.lab_skin)
        db.add(case)
    return row
