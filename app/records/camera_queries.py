"""The studio's own cameras and light over time, from the calibrations of its photos."""

import json
from collections import defaultdict
from dataclasses import astuple, dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from sqlmodel import Session, col, func, select

from app.colour.calibration import Calibration
from app.colour.repeatability import LightFacts, light_facts
from app.records.camera_words import CameraDay, Followed, drift_words, followed
from app.records.models import Photo

# The newest calibrated photos of one camera that are looked at: some years of a busy studio.
NEWEST_PHOTOS = 600


@dataclass(frozen=True)
class Camera:
    """A camera as it calls itself in its photos (empty: it does not), and how many of them were calibrated."""

    name: str
    photos: int

    @property
    def words(self) -> str:
        return self.name or "A camera that does not name itself"


_IS_OWN = (
    col(Photo.calibration_state).in_(("measured", "caution")),
    col(Photo.by_client).is_(False),
    col(Photo.reference) != "grey",
    col(Photo.calibration) != "",
)


def cameras(db: Session) -> list[Camera]:
    """Cameras with calibrated photos by the studio itself, the most used first."""
    rows = db.exec(select(Photo.camera, func.count(col(Photo.id))).where(*_IS_OWN).group_by(Photo.camera)).all()
    return sorted((Camera(name, number) for name, number in rows), key=lambda camera: (-camera.photos, camera.name))


@lru_cache(maxsize=4 * NEWEST_PHOTOS)
def _facts(kept: str) -> LightFacts:
    """What a kept calibration says of the light: read once in a process, since every photo's page asks for them all."""
    return light_facts(Calibration.from_dict(json.loads(kept)))


def days_of(db: Session, camera: str, until: date | None = None) -> tuple[CameraDay, ...]:
    """What a camera's photos say of the light, one line a day (the median), oldest first."""
    asked = select(col(Photo.taken_on), Photo.calibration).where(*_IS_OWN, Photo.camera == camera)
    if until is not None:
        asked = asked.where(Photo.taken_on <= until)
    newest = asked.order_by(col(Photo.taken_on).desc(), col(Photo.id).desc()).limit(NEWEST_PHOTOS)
    by_day: dict[date, list[LightFacts]] = defaultdict(list)
    for taken_on, kept in db.exec(newest).all():
        by_day[taken_on].append(_facts(kept))
    return tuple(_day(on, by_day[on]) for on in sorted(by_day))


def _day(on: date, photos: list[LightFacts]) -> CameraDay:
    # Photos of one sitting share their light: each as a point of its own would make the limits far too narrow.
    middle = np.median([astuple(facts) for facts in photos], axis=0)
    return CameraDay(on, len(photos), LightFacts(*(float(value) for value in middle)))


def follow(db: Session, camera: str, until: date | None = None) -> tuple[Followed, ...]:
    """The control charts of a camera."""
    return followed(days_of(db, camera, until))


def drift_of(db: Session, camera: str, on: date) -> str:
    """What a photo's own page says when the light or the chart was not as usual on its day; nothing otherwise."""
    return drift_words(follow(db, camera, on), on)
