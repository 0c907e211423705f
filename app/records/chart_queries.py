"""The studio's own charts, and what its photos say about its camera and light."""

import json
from collections import defaultdict
from datetime import date

import numpy as np
from sqlmodel import Session, col, select

from app.colour.chart_reference import ChartReference, reference_of, shipped
from app.colour.repeatability import Repeat, pooled_repeat
from app.colour.spaces import FloatArray
from app.records.camera_queries import drift_of
from app.records.capture_models import ChartKind
from app.records.models import OutlineSet, Photo, Reading
from app.studio.access import NotFound

__all__ = ["chart_for", "charts", "default_chart", "drift_of", "reference_for", "repeat_of", "repeatability"]

# Readings that count for the repeatability; the newest, since cameras and light are replaced.
NEWEST_READINGS = 2000


def charts(db: Session) -> list[ChartKind]:
    """Every chart and grey card of the studio's own, those in use first."""
    listed = select(ChartKind).order_by(
        col(ChartKind.retired_at).is_not(None), col(ChartKind.is_grey_card), ChartKind.name, col(ChartKind.id)
    )
    return list(db.exec(listed).all())


def chart_for(db: Session, chart_kind_id: int) -> ChartKind:
    chart = db.get(ChartKind, chart_kind_id)
    if chart is None:
        raise NotFound
    return chart


def default_chart(db: Session) -> ChartKind | None:
    """The chart that photos are read on unless somebody says otherwise; None is the shipped 24-patch chart."""
    usual = select(ChartKind).where(col(ChartKind.is_default).is_(True), col(ChartKind.retired_at).is_(None))
    return db.exec(usual.order_by(col(ChartKind.id)).limit(1)).first()


def reference_for(db: Session, chart_kind_id: int | None) -> ChartReference:
    """What the patches of a chart are, in use or retired; None is the shipped 24-patch chart."""
    if chart_kind_id is None:
        return shipped()
    chart = chart_for(db, chart_kind_id)
    if chart.is_grey_card:
        raise NotFound
    return reference_of(chart.layout, chart.values, f"own {chart.id}", chart.pitch_mm)


def repeat_of(db: Session) -> Repeat | None:
    """How well the studio's own photos of the same zone, taken on the same day, repeat one another."""
    made = select(Reading, Photo.purpose).join(Photo, col(Reading.photo_id) == col(Photo.id))
    made = made.join(OutlineSet, col(Reading.outline_set_id) == col(OutlineSet.id))
    made = made.where(col(Reading.delta_e_00).is_not(None), col(Photo.by_client).is_(False),
                      Photo.reference != "grey", col(OutlineSet.is_second).is_(False))  # fmt: skip
    newest: dict[int, tuple[Reading, str]] = {}
    for reading, purpose in db.exec(made.order_by(col(Reading.id).desc()).limit(NEWEST_READINGS)).all():
        newest.setdefault(reading.photo_id, (reading, purpose))
    groups: dict[tuple[int, date, str], list[FloatArray]] = defaultdict(list)
    skins = []
    for reading, purpose in newest.values():
        scar, skin = (np.array([getattr(reading, f"{which}_{axis}") for axis in "lab"], dtype=np.float64)
                      for which in ("scar", "skin"))  # fmt: skip
        # Work changes the scar within the day: photos before it and after are not of the same thing.
        groups[(reading.zone_id, reading.taken_on, purpose)].append(scar - skin)
        skins.append(skin)
    if not skins:
        return None
    return pooled_repeat([np.array(group) for group in groups.values()], np.median(skins, axis=0))


def repeatability(db: Session) -> float | None:
    """The figure that `measure.measure` takes; None while there are too few repeated photos to go by."""
    repeat = repeat_of(db)
    return None if repeat is None else repeat.mean_delta_e_00


def patches_of(chart: ChartKind | None) -> list[tuple[str, FloatArray]]:
    """Name and L*a*b* (D65) of each patch, row by row."""
    if chart is None:
        return list(zip(shipped().names, shipped().lab_d65, strict=True))
    names, values = json.loads(chart.layout)["names"], json.loads(chart.values)["lab_d65"]
    return [(name, np.array(lab, dtype=np.float64)) for name, lab in zip(names, values, strict=True)]
