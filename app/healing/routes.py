"""The pages of members about healing; the client's own are in `guest_routes`."""

from datetime import timedelta

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.healing import actions, forms, guest_routes, queries
from app.platform import links
from app.platform.forms import Filled, Refused, Sent, fill
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.studio.access import Artist, Who, today

router = APIRouter()
router.include_router(guest_routes.router)
LINK_LASTS = timedelta(days=395)  # the last photo is asked for at 12 months, and a month is left to answer


def _course(
    request: Request, service: Service, course_id: int, who: Who, *, form: Filled[forms.Talk] | None = None,
    link: str = "", status: int = 200,
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        sheet = queries.course_sheet(db, who, course_id, today(request))
    return show(
        request, "healing/course.html", nav="clients", sheet=sheet, link=link, form=form or Filled(), status=status,
        kinds=queries.KIND_WORDS, works=queries.WORK_WORDS, levels=queries.LEVEL_WORDS,
    )  # fmt: skip


@router.get("/courses/{course_id}")
def course(request: Request, service: Here, course_id: Id, who: Artist) -> HTMLResponse:
    return _course(request, service, course_id, who)


@router.post("/courses/{course_id}/link")
def make_link(request: Request, service: Here, course_id: Id, _posted: Sent, who: Artist) -> HTMLResponse:
    """A link to hand over by hand, shown once: for day 0, and for clients who want no e-mail."""
    with service.database.write() as db:
        row = queries.course_for(db, who, course_id)
        token = links.make(db, "aftercare", course_id, row.client_id, lasts=LINK_LASTS, by=who.actor)
    return _course(request, service, course_id, who, link=f"{service.settings.address}/l/{token}")


@router.post("/courses/{course_id}/talks")
def note_talk(request: Request, service: Here, course_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Talk, posted)
    if not filled.ok:
        return _course(request, service, course_id, who, form=filled, status=422)
    with service.database.write() as db:
        row = queries.course_for(db, who, course_id)
        day = max(0, (today(request) - row.worked_on).days)
        actions.note_talk(db, row, filled.sure.words, day_number=day, by=who.actor)
    return see(f"/courses/{course_id}")


@router.post("/courses/{course_id}/ending")
def end_course(service: Here, course_id: Id, _posted: Sent, who: Artist) -> Response:
    with service.database.write() as db:
        actions.end_course(db, queries.course_for(db, who, course_id), by=who.actor)
    return see(f"/courses/{course_id}")


def _check_in(
    request: Request, service: Service, check_in_id: int, who: Who, *, form: Filled[forms.Reading] | None = None,
    status: int = 200,
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        sheet = queries.check_in_sheet(db, who, check_in_id)
    return show(
        request, "healing/check_in_read.html", nav="today", sheet=sheet, form=form or Filled(), status=status,
        levels=queries.LEVEL_WORDS,
    )  # fmt: skip


@router.get("/check-ins/{check_in_id}")
def check_in(request: Request, service: Here, check_in_id: Id, who: Artist) -> HTMLResponse:
    return _check_in(request, service, check_in_id, who)


@router.post("/check-ins/{check_in_id}/reading")
def read_check_in(request: Request, service: Here, check_in_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Reading, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                row = queries.check_in_for(db, who, check_in_id)
                actions.read_check_in(db, row, filled.sure.reply, by=who.actor)
            return see(f"/check-ins/{check_in_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _check_in(request, service, check_in_id, who, form=filled, status=422)
