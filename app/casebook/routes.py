from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.casebook.case_page import case_page
from app.casebook.case_queries import case_file, placed_in
from app.casebook.today_queries import person_lines, today_for
from app.casebook.zone_routes import router as zones
from app.healing.aftercare import CLINICIAN_TEXT, LASTING_CAUTIONS, LOTS_PLACEHOLDER
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.studio.access import AnyMember, Artist, today

router = APIRouter()
router.include_router(zones)


@router.get("/")
def front(_: AnyMember) -> Response:
    return see("/today")


@router.get("/today")
def today_page(request: Request, service: Here, who: AnyMember) -> HTMLResponse:
    on = today(request)
    with service.database.read() as db:
        waiting = today_for(db, who, on)
        lines = person_lines(db, waiting)
    return show(request, "casebook/today.html", nav="today", today=waiting, lines=lines, on=on)


@router.get("/cases/{case_id}")
def case(request: Request, service: Here, case_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    on = today(request)
    with service.database.read() as db:
        file = case_file(db, who, case_id, on)
    is_open = open == "1" or not any(zone.zone.is_sensitive for zone in file.zones)
    return show(
        request,
        "casebook/case.html",
        nav="clients",
        page=case_page(file, on),
        file=file,
        case=file.case,
        client=file.client,
        on=on,
        is_open=is_open,
    )


@router.get("/cases/{case_id}/clinician")
def clinician_card(request: Request, service: Here, case_id: Id, who: Artist) -> HTMLResponse:
    """What was put in, where and when, for a clinician: to be printed."""
    on = today(request)
    with service.database.read() as db:
        file = case_file(db, who, case_id, on)
        placed = placed_in(db, file)
    lines = [line for line in CLINICIAN_TEXT if line != LOTS_PLACEHOLDER]
    return show(
        request,
        "casebook/clinician.html",
        nav="clients",
        file=file,
        case=file.case,
        client=file.client,
        placed=placed,
        before=lines[:2],
        after=lines[2:],
        cautions=LASTING_CAUTIONS,
        on=on,
    )
