"""What changes the studio's own charts. Values are never altered: photos keep pointing at what they were read on."""

import numpy as np
from sqlmodel import Session, col, select

from app.colour.chart_file import read_values
from app.colour.chart_reference import NotAChart, faults_of, lab_d65_from_lab_d50, neutrals_of
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.records.capture_models import ChartKind
from app.records.chart_forms import ChangeChart, ChartState, RegisterChart, RegisterGreyCard

IS_GREY = "A grey card cannot be the usual chart: it says nothing of how the camera mixes colours."
IS_RETIRED = "This chart was retired. Take it back into use first."


@audited("records.chart.registered")
def register_chart(db: Session, form: RegisterChart, *, by: Actor) -> ChartKind:
    """A chart with its own values; refused, with the reasons, when it cannot carry a calibration."""
    try:
        read = read_values(form.values, form.white)
        if faults := faults_of(read, form.columns, form.rows):
            raise NotAChart(faults)
    except NotAChart as reason:
        raise Refused("values", str(reason)) from reason
    layout = {"columns": form.columns, "rows": form.rows, "names": list(read.names),
              "neutrals": list(neutrals_of(read.names, read.lab_d65))}  # fmt: skip
    values = {"lab_d65": np.round(read.lab_d65, 4).tolist(), "measured_for": form.white}
    return _add(db, ChartKind(name=form.name, layout=canonical(layout), values=canonical(values),
                              values_from=form.values_from, pitch_mm=form.pitch_mm, registered_at=clock.now()), by)


@audited("records.grey_card.registered")
def register_grey_card(db: Session, form: RegisterGreyCard, *, by: Actor) -> ChartKind:
    """A grey card whose colour somebody measured."""
    lab = np.array([form.card_l, form.card_a, form.card_b])
    lab_d65 = lab if form.white == "D65" else lab_d65_from_lab_d50(lab)
    layout = {"columns": 1, "rows": 1, "names": ["grey card"], "neutrals": [0]}
    values = {"lab_d65": [np.round(lab_d65, 4).tolist()], "measured_for": form.white}
    return _add(db, ChartKind(name=form.name, layout=canonical(layout), values=canonical(values), is_grey_card=True,
                              values_from=form.values_from, registered_at=clock.now()), by)


def _add(db: Session, row: ChartKind, by: Actor) -> ChartKind:
    row.registered_by = by.id if by.kind == "member" else None
    db.add(row)
    return row


@audited("records.chart.changed")
def change_chart(db: Session, chart: ChartKind, form: ChangeChart, *, by: Actor) -> ChartKind:
    """Puts the name or the pitch right."""
    take_revision(chart, form.revision)
    chart.name, chart.pitch_mm = form.name, None if chart.is_grey_card else form.pitch_mm
    db.add(chart)
    return chart


@audited("records.chart.state_changed")
def change_state(db: Session, chart: ChartKind, form: ChartState, *, by: Actor) -> ChartKind:
    """Makes a chart the usual one, retires it, or takes it back into use."""
    take_revision(chart, form.revision)
    if form.go == "default":
        if chart.is_grey_card:
            raise Refused("_form", IS_GREY)
        if chart.retired_at is not None:
            raise Refused("_form", IS_RETIRED)
        _no_default(db)
        chart.is_default = True
    elif form.go == "retire":
        chart.retired_at, chart.is_default = chart.retired_at or clock.now(), False
    else:
        chart.retired_at = None
    db.add(chart)
    return chart


@audited("records.chart.shipped_made_default")
def use_shipped(db: Session, *, by: Actor) -> None:
    """Makes the 24-patch chart that the program knows the usual one again."""
    for chart in _no_default(db):
        about(db, chart)


def _no_default(db: Session) -> list[ChartKind]:
    usual = list(db.exec(select(ChartKind).where(col(ChartKind.is_default).is_(True))).all())
    for chart in usual:
        chart.is_default = False
        db.add(chart)
    db.flush()
    return usual
