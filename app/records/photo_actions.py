"""What changes photos, outlines and readings."""

import json
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, func, select

from app.colour.reading import METHOD_VERSION
from app.colour.reading import Reading as Measured
from app.colour.thresholds import skin_class
from app.platform import clock
from app.platform.audit import Actor, audited, canonical
from app.platform.forms import Refused
from app.platform.jobs import plan
from app.platform.storage import Stored, keep
from app.records.capture_models import ChartKind
from app.records.corners import Placed
from app.records.models import Case, OutlineSet, Photo, Reading, Zone
from app.records.photo_permission import NO_PERMISSION, OF_THE_CLIENT, may_photograph
from app.records.queries import AT_REST, job_of, newest_outlines

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
    reference: str = "none"  # chart, grey, none
    chart_kind_id: int | None = None
    marker: str = ""
    card_id: int | None = None
    shown: Stored | None = None
    thumb: Stored | None = None


@audited("records.photo.added")
def add_photo(db: Session, case: Case, zone: Zone | None, *, purpose: str, taken_on: date, original: Stored, width: int,
              height: int, camera: str, by_client: bool = False, frame: str = "", chaperone: str = "",
              taken_at: datetime | None = None, facts: str = "{}", upload_key: str | None = None, by: Actor) -> Photo:
    """Files a photo whose bytes are stored already, and asks for its examination. One that shows the client needs
    their permission."""
    assert case.id is not None
    if purpose in OF_THE_CLIENT and not may_photograph(db, case.client_id):
        raise Refused("photos", NO_PERMISSION)
    blob = keep(db, original)
    assert blob.id is not None
    photo = Photo(case_id=case.id, zone_id=zone.id if zone else None, purpose=purpose, taken_on=taken_on,
                  by_client=by_client, original_id=blob.id, width=width, height=height, camera=camera, frame=frame,
                  chaperone=chaperone, taken_at=taken_at, facts=facts, upload_key=upload_key,
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


@audited("records.photo.corners_placed")
def place_corners(db: Session, photo: Photo, placed: Placed | None, kind: ChartKind | None, *, by: Actor) -> Photo:
    """Says where the chart or a grey card lies, or takes that back, and asks for the photo to be looked at again.
    Readings that stand are left as they are."""
    assert photo.id is not None
    photo.placed = placed.text() if placed else ""
    photo.chart_kind_id = kind.id if kind else None
    photo.state = "waiting"
    db.add(photo)
    plan(db, EXAMINE, photo.id)
    return photo


@audited("records.photo.examined")
def keep_examination(db: Session, photo: Photo, found: Examination, *, by: Actor) -> Photo:
    """Files what was found in a photo. Outlines that stand on it are measured once more, on what is known now."""
    is_first = photo.shown_id is None
    photo.state, photo.words = found.state, found.words
    photo.width, photo.height, photo.camera = found.width, found.height, found.camera or photo.camera
    photo.chart, photo.calibration = found.chart, found.calibration
    photo.calibration_state, photo.loo_delta_e_00 = found.calibration_state, found.loo_delta_e_00
    photo.reference, photo.chart_kind_id = found.reference, found.chart_kind_id
    photo.marker, photo.card_id = found.marker, found.card_id
    photo.shown_id = keep(db, found.shown).id if found.shown else photo.shown_id
    photo.thumb_id = keep(db, found.thumb).id if found.thumb else photo.thumb_id
    db.add(photo)
    if not is_first and found.state == "ready":
        for is_second in (True, False):  # both on the same calibration, or they could not be compared
            drawn = newest_outlines(db, photo.id or 0, is_second=is_second)
            if drawn is not None:
                measure_again(db, photo, drawn, by=by)
    return photo


@audited("records.reading.asked_again")
def measure_again(db: Session, photo: Photo, drawn: OutlineSet, *, by: Actor) -> OutlineSet:
    """Asks for outlines to be measured once more, by today's method and on what is known of the photo now: a new
    reading beside the old one. Outlines that this method measured already are filed as their next version first."""
    assert photo.id is not None
    measured = select(Reading.id).where(Reading.outline_set_id == drawn.id, Reading.method_version == METHOD_VERSION)
    if db.exec(measured).first() is not None:
        version = select(func.max(OutlineSet.version)).where(OutlineSet.photo_id == photo.id)
        drawn = OutlineSet(photo_id=photo.id, version=(db.exec(version).first() or 0) + 1, outlines=drawn.outlines,
                           origin=drawn.origin, carried_from_id=drawn.carried_from_id, is_second=drawn.is_second,
                           drawn_by=drawn.drawn_by, drawn_at=clock.now())
        db.add(drawn)
        db.flush()
    before = job_of(db, MEASURE, photo.id)
    plan(db, MEASURE, photo.id, about={**(json.loads(before.about) if before else {}), "again": drawn.id})
    return drawn


@audited("records.reading.kept")
def keep_reading(db: Session, photo: Photo, outline_set: OutlineSet, reading: Measured,
                 picture: Stored | None = None, *, by: Actor) -> Reading:
    """Files a reading in place of the photo's last one; the case's first one of skin at rest, on a chart, fixes its
    skin class. One by a second observer stands beside the first's: it replaces only an earlier second one, and fixes
    nothing."""
    assert photo.id is not None
    assert photo.zone_id is not None
    assert outline_set.id is not None
    same = select(OutlineSet.id).where(OutlineSet.photo_id == photo.id, OutlineSet.is_second == outline_set.is_second)
    earlier = select(Reading.id).where(Reading.photo_id == photo.id, col(Reading.outline_set_id).in_(same))
    earlier = earlier.order_by(col(Reading.id).desc()).limit(1)
    scar, skin = reading.lab_scar or (None, None, None), reading.lab_skin or (None, None, None)
    row = Reading(
        photo_id=photo.id, zone_id=photo.zone_id, outline_set_id=outline_set.id, state=reading.state,
        taken_on=photo.taken_on, read_at=clock.now(), method_version=reading.method_version,
        scar_l=scar[0], scar_a=scar[1], scar_b=scar[2],
        skin_l=skin[0], skin_a=skin[1], skin_b=skin[2], delta_e_00=reading.delta_e_00, delta_e_00_low=reading.low,
        delta_e_00_high=reading.high, result=canonical(reading.to_dict()), replaces_id=db.exec(earlier).first(),
        area_cm2=None if reading.area is None else reading.area.cm2, grade=reading.grade,
        share_within=reading.share_within, map_id=keep(db, picture).id if picture else None)
    db.add(row)
    case = db.get_one(Case, photo.case_id)
    # For good, so never from a grey card, which errs by half a class, nor from skin that work has flushed.
    tells = reading.reference == "chart" and photo.purpose in AT_REST and not outline_set.is_second
    if not case.skin_class and reading.lab_skin is not None and tells:
        case.skin_class = skin_class(reading.lab_skin)
        db.add(case)
    return row
