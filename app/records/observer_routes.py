"""Two people's outlines of one photo, side by side and in words."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from app.platform.pages import show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries, selectors
from app.records.models import OutlineSet, Reading
from app.records.observers import agreements, frame_round, readings_apart
from app.records.outline_routes import Easel, easel
from app.records.photo_actions import MEASURE
from app.records.selectors import ROLES, Outlines, Role
from app.studio.access import Artist, NotFound, Who

router = APIRouter()


@dataclass(frozen=True)
class Drawing:
    """One observer's outlines, as SVG paths, and what was measured in them."""

    by: str
    row: OutlineSet
    outlines: Outlines
    reading: Reading | None

    @property
    def paths(self) -> dict[str, tuple[str, ...]]:
        return {role: tuple(selectors.path_of(piece) for piece in self.outlines.of(role)) for role in ROLES}


def _drawing(service: Service, view: Easel, row: OutlineSet | None, *, is_second: bool) -> Drawing | None:
    if row is None:
        return None
    with service.database.read() as db:
        reading = queries.reading_of_photo(db, view.photo.id or 0, is_second=is_second)
    measured = reading if reading is not None and reading.outline_set_id == row.id else None
    return Drawing(view.names.get(row.drawn_by or 0, "the demo"), row, selectors.read(row.outlines), measured)


@router.get("/photos/{photo_id}/observers")
def observers_page(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    return _page(request, service, who, photo_id, "observers")


@router.get("/photos/{photo_id}/observers/apart")
def observers_apart(request: Request, service: Here, photo_id: Id, who: Artist) -> HTMLResponse:
    return _page(request, service, who, photo_id, "_observers")


def _frame(view: Easel, first: Drawing, second: Drawing | None, roles: tuple[Role, ...]) -> tuple[int, int, int, int]:
    both = (first, second or first)
    pieces = tuple(piece for one in both for role in roles for piece in one.outlines.of(role))
    return frame_round(pieces, view.photo.width, view.photo.height)


def _page(request: Request, service: Service, who: Who, photo_id: int, template: str) -> HTMLResponse:
    view = easel(service, who, photo_id)
    first = _drawing(service, view, view.first, is_second=False)
    second = _drawing(service, view, view.second, is_second=True)
    if first and second and second.row.drawn_by == first.row.drawn_by is not None:
        second = None  # who drew second has drawn the first anew since: nobody is compared with themselves
    if first is None:
        raise NotFound
    with service.database.read() as db:
        measuring = queries.job_of(db, MEASURE, photo_id)
    return show(request, f"records/{template}.html", nav="clients", view=view, photo=view.photo, zone=view.zone,
                first=first, second=second, measuring=measuring, around=_frame(view, first, second, ROLES),
                close=_frame(view, first, second, ("scar",)),
                agreements=agreements(first.outlines, second.outlines) if second else (),
                apart=readings_apart(first.reading, second.reading) if second else None,
                may_be_second=first.row.drawn_by != who.id)
