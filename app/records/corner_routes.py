import json
from typing import Any

import numpy as np
from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.colour.chart_plane import COLUMNS, MARGIN_UNITS, ROWS, photo_from_chart, project, size_units
from app.colour.spaces import FloatArray
from app.platform.forms import Filled, Sent, fill, shown
from app.platform.pages import see
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import photo_actions, queries
from app.records.corner_forms import PlaceCorners
from app.records.corners import Kind, Placed, checked, placed_of
from app.records.examination_queries import charts_to_place, kind_for
from app.records.models import Photo
from app.records.photo_view import PhotoView, show_photo, view_of
from app.studio.access import Artist, NotFound, Who

router = APIRouter()

NAMES = ("First corner", "Second corner", "Third corner", "Fourth corner")


def _filled_with(photo: Photo, corners: FloatArray | None, what: str) -> Filled[Any]:
    values: dict[str, object] = {"what": what}
    if corners is not None:
        for n, (x, y) in enumerate(corners, start=1):
            values |= {f"x{n}": f"{x:.1f}", f"y{n}": f"{y:.1f}"}
    return shown(values)


def _corners_known(photo: Photo) -> tuple[FloatArray | None, str]:
    """Where the page begins: what was placed, or else what was found."""
    placed = placed_of(photo.placed)
    if placed is not None:
        return placed.corners, placed.kind if photo.chart_kind_id is None else f"{placed.kind}-{photo.chart_kind_id}"
    found = json.loads(photo.chart)
    what = "chart" if photo.chart_kind_id is None else f"chart-{photo.chart_kind_id}"
    if "corners" not in found:
        return None, what
    layout = found.get("columns", COLUMNS), found.get("rows", ROWS)
    return _patch_edges(np.array(found["corners"], dtype=np.float64), *layout), what


def _patch_edges(corners: FloatArray, columns: int, rows: int) -> FloatArray:
    """The outer corners of the corner patches, from the corners of the chart, which lie a little outside."""
    wide, high = size_units(columns, rows) - MARGIN_UNITS
    edges = [[MARGIN_UNITS, MARGIN_UNITS], [wide, MARGIN_UNITS], [wide, high], [MARGIN_UNITS, high]]
    return project(photo_from_chart(corners, columns, rows), edges)


def _page(request: Request, service: Service, view: PhotoView, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        kinds = charts_to_place(db, view.photo)
    own = [(f"{'grey' if kind.is_grey_card else 'chart'}-{kind.id}", kind.name) for kind in kinds]
    whats = [("chart", "24-patch colour chart"), *own, ("grey", "A plain grey card that nobody measured")]
    layouts = [(f"chart-{kind.id}", json.loads(kind.layout)) for kind in kinds if not kind.is_grey_card]
    grids = {"chart": [6, 4], **{what: [layout["columns"], layout["rows"]] for what, layout in layouts}}
    return show_photo(request, "records/corners.html", view, True, form, status, whats=whats,
                      grids=json.dumps(grids), names=NAMES)


def _view(service: Service, who: Who, photo_id: int) -> PhotoView:
    view = view_of(service, who, photo_id)
    if view.photo.shown_id is None:  # a look that is on its way, or broke off, is no reason to lose what was placed
        raise NotFound
    return view


@router.get("/photos/{photo_id}/corners")
def corners_page(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    view = _view(service, who, photo_id)
    return _page(request, service, view, _filled_with(view.photo, *_corners_known(view.photo)))


def _read(filled: Filled[PlaceCorners], photo: Photo) -> tuple[Filled[PlaceCorners], Placed | None]:
    if not filled.ok:
        return filled, None
    kind: Kind = "grey" if filled.sure.what.startswith("grey") else "chart"
    try:
        return filled, checked(kind, filled.sure.corners, photo.width, photo.height)
    except ValueError as reason:
        return filled.refuse("corners", str(reason)), None


@router.post("/photos/{photo_id}/corners")
def place_corners(request: Request, service: Here, photo_id: Id, posted: Sent, who: Artist) -> Response:
    view = _view(service, who, photo_id)
    filled, placed = _read(fill(PlaceCorners, posted), view.photo)
    if placed is None:
        return _page(request, service, view, filled, 422)
    with service.database.write() as db:
        kind = kind_for(db, filled.sure.kind_id, is_grey=placed.kind == "grey")
        photo_actions.place_corners(db, queries.photo_for(db, who, photo_id), placed, kind, by=who.actor)
    return see(f"/photos/{photo_id}")


@router.post("/photos/{photo_id}/corners/away")
def take_corners_away(service: Here, photo_id: Id, who: Artist) -> Response:
    _view(service, who, photo_id)
    with service.database.write() as db:
        photo_actions.place_corners(db, queries.photo_for(db, who, photo_id), None, None, by=who.actor)
    return see(f"/photos/{photo_id}")
