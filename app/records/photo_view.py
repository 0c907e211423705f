"""A photo with what its pages need, for whoever may see it."""

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled
from app.platform.jobs import Job
from app.platform.pages import show
from app.platform.service import Service
from app.records import queries
from app.records.models import Case, OutlineSet, Photo, Reading, Zone
from app.records.photo_actions import EXAMINE, MEASURE
from app.records.photo_words import examination_words
from app.records.scars import FRAME_NAMES, PURPOSE_WORDS
from app.studio.access import Who


@dataclass(frozen=True)
class PhotoView:
    """A photo with what its page needs."""

    photo: Photo
    zone: Zone | None
    case: Case
    is_hidden: bool
    examining: Job | None
    measuring: Job | None
    outlines: OutlineSet | None
    reading: Reading | None

    @property
    def is_measuring(self) -> bool:
        return self.measuring is not None and self.measuring.state == "waiting"


def view_of(service: Service, who: Who, photo_id: int) -> PhotoView:
    with service.database.read() as db:
        photo = queries.photo_for(db, who, photo_id)
        return PhotoView(
            photo,
            zone=queries.zone_for(db, who, photo.zone_id) if photo.zone_id is not None else None,
            case=queries.case_for(db, who, photo.case_id),
            is_hidden=queries.is_hidden(db, photo),
            examining=queries.job_of(db, EXAMINE, photo_id),
            measuring=queries.job_of(db, MEASURE, photo_id),
            outlines=queries.newest_outlines(db, photo_id),
            reading=queries.reading_of_photo(db, photo_id),
        )


def show_photo(request: Request, template: str, view: PhotoView, is_open: bool, form: Filled[Any], status: int = 200,
               **context: Any) -> HTMLResponse:
    ready = view.photo.state != "waiting"
    return show(request, template, nav="clients", view=view, photo=view.photo, zone=view.zone, case=view.case,
                form=form, found=examination_words(view.photo) if ready else None, purposes=PURPOSE_WORDS,
                frames=FRAME_NAMES, is_open=is_open or not view.is_hidden, status=status, **context)
