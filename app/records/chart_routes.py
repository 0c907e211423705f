"""The owner's pages about the studio's own charts, and the page about its cameras and light."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.colour.grey import LAB_D65_OF_18_PERCENT, TRIAL_MEAN_DELTA_E_00, TRIAL_SKIN_DELTA_E_00
from app.colour.spaces import lab_to_srgb8_hex
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import camera_queries, chart_actions, chart_queries
from app.records.camera_shapes import shapes
from app.records.camera_words import QUANTITIES, warnings
from app.records.capture_models import ChartKind
from app.records.chart_forms import ChangeChart, ChartState, RegisterChart, RegisterGreyCard, with_file
from app.studio.access import Artist, Owner

router = APIRouter()


@dataclass(frozen=True)
class Patch:
    """One patch as the page shows it; x and y in a picture with a square of 28 for each."""

    number: int
    name: str
    numbers: tuple[str, ...]
    hex: str
    is_neutral: bool
    x: int
    y: int


def layout_words(chart: ChartKind) -> str:
    """How many patches a chart has, in words."""
    layout = json.loads(chart.layout)
    return f"{layout['columns']} columns and {layout['rows']} rows of patches"


def _patches(chart: ChartKind) -> tuple[Patch, ...]:
    read = chart_queries.patches_of(chart)
    columns = json.loads(chart.layout)["columns"]
    neutral = set() if chart.is_grey_card else set(json.loads(chart.layout)["neutrals"])
    return tuple(
        Patch(number + 1, name, tuple(f"{value:.1f}".replace("-", "−") for value in lab), lab_to_srgb8_hex(lab),
              number in neutral, 4 + number % columns * 28, 4 + number // columns * 28)
        for number, (name, lab) in enumerate(read)
    )  # fmt: skip


def _charts_page(request: Request, service: Service, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        listed, usual = chart_queries.charts(db), chart_queries.default_chart(db)
    return show(request, "records/charts.html", nav="studio", charts=listed, usual=usual, form=form, status=status,
                layout_words=layout_words, missed=TRIAL_MEAN_DELTA_E_00, missed_skin=TRIAL_SKIN_DELTA_E_00)


@router.get("/studio/charts")
def charts_page(request: Request, service: Here, who: Owner) -> HTMLResponse:
    return _charts_page(request, service, shown({}))


@router.post("/studio/charts/shipped")
def use_shipped(service: Here, who: Owner) -> Response:
    with service.database.write() as db:
        chart_actions.use_shipped(db, by=who.actor)
    return see("/studio/charts")


def _new_chart(request: Request, form: Filled[Any], status: int = 200) -> HTMLResponse:
    return show(request, "records/chart_new.html", nav="studio", form=form, status=status)


@router.get("/studio/charts/new")
def new_chart(request: Request, who: Owner) -> HTMLResponse:
    return _new_chart(request, shown({}))


@router.post("/studio/charts")
def register_chart(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    try:
        posted = with_file(posted)
    except ValueError as reason:
        return _new_chart(request, fill(RegisterChart, posted).refuse("file", str(reason)), 422)
    filled = fill(RegisterChart, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                chart = chart_actions.register_chart(db, filled.sure, by=who.actor)
            return see(f"/studio/charts/{chart.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _new_chart(request, filled, 422)


def _new_grey(request: Request, form: Filled[Any], status: int = 200) -> HTMLResponse:
    return show(request, "records/grey_card_new.html", nav="studio", form=form, status=status,
                missed=TRIAL_MEAN_DELTA_E_00, missed_skin=TRIAL_SKIN_DELTA_E_00, usual_l=LAB_D65_OF_18_PERCENT[0])


@router.get("/studio/charts/new-grey-card")
def new_grey_card(request: Request, who: Owner) -> HTMLResponse:
    return _new_grey(request, shown({}))


@router.post("/studio/grey-cards")
def register_grey_card(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    filled = fill(RegisterGreyCard, posted)
    if not filled.ok:
        return _new_grey(request, filled, 422)
    with service.database.write() as db:
        chart = chart_actions.register_grey_card(db, filled.sure, by=who.actor)
    return see(f"/studio/charts/{chart.id}")


def _chart_page(request: Request, service: Service, chart_kind_id: int, form: Filled[Any] | None = None,
                status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        chart = chart_queries.chart_for(db, chart_kind_id)
        usual = chart_queries.default_chart(db)
    values = {"name": chart.name, "pitch_mm": chart.pitch_mm, "revision": chart.revision}
    return show(request, "records/chart.html", nav="studio", chart=chart, patches=_patches(chart), status=status,
                words=layout_words(chart), layout=json.loads(chart.layout), form=form or shown(values),
                white=json.loads(chart.values)["measured_for"], is_usual=usual is not None and usual.id == chart.id)


@router.get("/studio/charts/{chart_kind_id}")
def chart_page(request: Request, service: Here, chart_kind_id: Id, who: Owner) -> HTMLResponse:
    return _chart_page(request, service, chart_kind_id)


def _changed(request: Request, service: Service, chart_kind_id: int, filled: Filled[Any],
             change: Callable[[Any, ChartKind], object]) -> Response:
    """Does what was sent to a chart, or says beside it why not."""
    with service.database.read() as db:
        chart_queries.chart_for(db, chart_kind_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                change(db, chart_queries.chart_for(db, chart_kind_id))
            return see(f"/studio/charts/{chart_kind_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _chart_page(request, service, chart_kind_id, filled, 422)


@router.post("/studio/charts/{chart_kind_id}")
def change_chart(request: Request, service: Here, chart_kind_id: Id, posted: Sent, who: Owner) -> Response:
    filled = fill(ChangeChart, posted)
    return _changed(request, service, chart_kind_id, filled,
                    lambda db, chart: chart_actions.change_chart(db, chart, filled.sure, by=who.actor))


@router.post("/studio/charts/{chart_kind_id}/state")
def change_state(request: Request, service: Here, chart_kind_id: Id, posted: Sent, who: Owner) -> Response:
    filled = fill(ChartState, posted)
    return _changed(request, service, chart_kind_id, filled,
                    lambda db, chart: chart_actions.change_state(db, chart, filled.sure, by=who.actor))


@router.get("/studio/camera")
def camera_page(request: Request, service: Here, who: Artist, camera: str | None = None) -> HTMLResponse:
    """The control charts of one of the studio's cameras, by default the most used."""
    with service.database.read() as db:
        known = camera_queries.cameras(db)
        chosen = next((one for one in known if one.name == camera), known[0] if known else None)
        charts = camera_queries.follow(db, chosen.name) if chosen else ()
        repeat = chart_queries.repeat_of(db)
    return show(request, "records/camera.html", nav="studio" if who.is_owner else "", cameras=known, chosen=chosen,
                charts=[(one, shapes(one)) for one in charts], warnings=warnings(charts), quantities=QUANTITIES,
                days=charts[0].days[::-1] if charts else (), repeat=repeat)
