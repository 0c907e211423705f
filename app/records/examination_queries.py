"""What a photo can be examined and measured with: the studio's charts and grey cards, and readings made earlier."""

import json

import numpy as np
from sqlmodel import Session, col, select

from app.colour.area import Scale, scale_from_chart
from app.colour.calibration import Calibration
from app.colour.grey import LAB_D65_OF_18_PERCENT
from app.colour.marker import Marker
from app.colour.marker import scale_of as scale_of_marker
from app.records import chart_queries
from app.records.capture_models import ChartKind
from app.records.card_queries import scale_for
from app.records.chart_search import Known, KnownGrey
from app.records.corners import Kind
from app.records.models import OutlineSet, Photo, Reading
from app.studio.access import NotFound


def charts_to_place(db: Session, photo: Photo) -> list[ChartKind]:
    """The studio's own charts and grey cards in use, and the one this photo was read on, even if it was retired."""
    return [kind for kind in chart_queries.charts(db) if kind.retired_at is None or kind.id == photo.chart_kind_id]


def kind_for(db: Session, kind_id: int | None, *, is_grey: bool) -> ChartKind | None:
    """A chart or grey card of the studio's own; None is the one that every studio has."""
    kind = None if kind_id is None else chart_queries.chart_for(db, kind_id)
    if kind is not None and kind.is_grey_card != is_grey:
        raise NotFound
    return kind


def charts_to_try(db: Session) -> list[Known]:
    """The studio's usual chart first, and the one that every studio has: either may lie in a photo."""
    usual = chart_queries.default_chart(db)
    ids = (None,) if usual is None or usual.is_grey_card else (usual.id, None)
    return [Known(kind_id, chart_queries.reference_for(db, kind_id)) for kind_id in ids]


def placed_thing(db: Session, kind: Kind, kind_id: int | None) -> Known | KnownGrey:
    """What a member said lies between the corners; a chart that was retired since stays what it was."""
    if kind == "chart":
        return Known(kind_id, chart_queries.reference_for(db, kind_id))
    own = None if kind_id is None else chart_queries.chart_for(db, kind_id)
    known = LAB_D65_OF_18_PERCENT if own is None else json.loads(own.values)["lab_d65"][0]
    return KnownGrey(kind_id, np.array(known, dtype=np.float64))


def scale_of(db: Session, photo: Photo, calibration: Calibration | None, pitch_mm: float | None) -> Scale | None:
    """The scale of a photo: from a card whose bar was measured, or else from its chart, where the distance between its
    patches is known."""
    if photo.marker:
        kept = json.loads(photo.marker)
        side_mm = scale_for(db, kept["id"], photo.taken_on)
        if side_mm is not None:
            return scale_of_marker(Marker(kept["id"], np.array(kept["corners"], dtype=np.float64)), side_mm)
    if calibration is None or calibration.level != "chart" or calibration.usable == "refused":
        return None
    own = db.get(ChartKind, photo.chart_kind_id) if photo.chart_kind_id is not None else None
    pitch_mm = pitch_mm or (own.pitch_mm if own else None)
    return None if pitch_mm is None else scale_from_chart(calibration.chart, pitch_mm)


def readings_of_photo(db: Session, photo: Photo) -> list[tuple[Reading, OutlineSet]]:
    """Every reading of a photo by its first observer with the outlines it was made on, newest first."""
    made = select(Reading, OutlineSet).join(OutlineSet, col(Reading.outline_set_id) == col(OutlineSet.id))
    made = made.where(Reading.photo_id == photo.id, col(OutlineSet.is_second).is_(False))
    return list(db.exec(made.order_by(col(Reading.id).desc())).all())
