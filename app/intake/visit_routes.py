"""Visits: planned and changed by anybody who arranges, asked for on the day, and asked aloud by an artist."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents.device import code_for
from app.intake import queries, visit_actions, visit_queries
from app.intake.visit_forms import CancelVisit, ChangeVisit, PlanVisit
from app.intake.visit_pages import aloud_page, visit_page
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Case, Zone
from app.studio.access import AnyMember, Artist, Who, today
from app.studio.country import country_pack

router = APIRouter()


def _zones(who: Who, form: PlanVisit, open_zones: list[Zone], otherwise: list[Zone]) -> list[Zone]:
    """An artist chooses among the open zones; for the desk it is as it was, or all of them."""
    return [zone for zone in open_zones if zone.id in form.zones] if who.sees_health else otherwise


def _form_page(
    request: Request, service: Service, who: Who, case_id: int, form: Filled[Any], visit_id: int = 0, status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        case = records.case_to_arrange(db, who, case_id)
        client, zones = records.client_for(db, who, case.client_id), visit_queries.open_zones(db, case_id)
        booking = queries.desk_line(db, case_id, today(request))
        ahead = visit_queries.visits_ahead(db, case_id, today(request))
    return show(request, "intake/visit_form.html", nav="clients", case=case, client=client, zones=zones, form=form,
                booking=booking, ahead=ahead, visit_id=visit_id, on=today(request), status=status)  # fmt: skip


@router.get("/cases/{case_id}/visits/new")
def new_visit(request: Request, service: Here, case_id: Id, who: AnyMember) -> HTMLResponse:
    with service.database.read() as db:
        records.case_to_arrange(db, who, case_id)
        zones = [zone.id for zone in visit_queries.open_zones(db, case_id)]
    return _form_page(request, service, who, case_id, shown({"zones": zones}))


@router.post("/cases/{case_id}/visits")
def plan_visit(request: Request, service: Here, case_id: Id, posted: Sent, who: AnyMember) -> Response:
    filled = fill(PlanVisit, posted)
    with service.database.read() as db:
        records.case_to_arrange(db, who, case_id)
    if filled.ok:
        try:
            with service.database.write() as db:
                case: Case = records.case_to_arrange(db, who, case_id)
                every = visit_queries.open_zones(db, case_id)
                zones = _zones(who, filled.sure, every, every)
                visit = visit_actions.plan_visit(db, case, filled.sure, zones, by=who.actor)
            return see(f"/visits/{visit.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _form_page(request, service, who, case_id, filled, status=422)


@router.post("/cases/{case_id}/visits/today")
def visit_today(request: Request, service: Here, case_id: Id, who: AnyMember) -> Response:
    """Whoever came without a visit: it is put down for today, and the questions can be asked."""
    try:
        with service.database.write() as db:
            visit = visit_actions.visit_today(db, records.case_to_arrange(db, who, case_id), by=who.actor)
        return see(f"/visits/{visit.id}")
    except Refused as refused:
        form: Filled[Any] = shown({"planned_on": today(request).isoformat(), "zones": []})
        return _form_page(
            request, service, who, case_id, form.refuse(refused.name, refused.message), status=422
        )


def _visit_page(
    request: Request, service: Service, visit_id: int, who: Who, form: Filled[Any], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = visit_page(db, who, visit_id, today(request))
        booking = queries.desk_line(db, page.line.visit.case_id, today(request))
    return show(request, "intake/visit.html", nav="clients", page=page, form=form, booking=booking, on=today(request),
                status=status)  # fmt: skip


@router.get("/visits/{visit_id}")
def visit(request: Request, service: Here, visit_id: Id, who: AnyMember) -> HTMLResponse:
    return _visit_page(request, service, visit_id, who, shown({}))


@router.get("/visits/{visit_id}/edit")
def edit_visit(request: Request, service: Here, visit_id: Id, who: AnyMember) -> HTMLResponse:
    with service.database.read() as db:
        held = visit_queries.visit_for(db, who, visit_id)
        zones = [zone.id for zone in visit_queries.visit_zones(db, held)]
    return _form_page(request, service, who, held.case_id, shown({**held.model_dump(), "zones": zones}), visit_id)


@router.post("/visits/{visit_id}")
def change_visit(request: Request, service: Here, visit_id: Id, posted: Sent, who: AnyMember) -> Response:
    filled = fill(ChangeVisit, posted)
    with service.database.read() as db:
        case_id = visit_queries.visit_for(db, who, visit_id).case_id
    if filled.ok:
        try:
            with service.database.write() as db:
                held = visit_queries.visit_for(db, who, visit_id)
                now = visit_queries.visit_zones(db, held)
                zones = _zones(who, filled.sure, [*visit_queries.open_zones(db, case_id)], now)
                changed = visit_actions.change_visit(db, held, filled.sure, zones, by=who.actor)
            return see(f"/visits/{changed.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _form_page(request, service, who, case_id, filled, visit_id, 422)


@router.post("/visits/{visit_id}/cancellation")
def cancel_visit(request: Request, service: Here, visit_id: Id, posted: Sent, who: AnyMember) -> Response:
    filled: Filled[Any] = fill(CancelVisit, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                held = visit_queries.visit_for(db, who, visit_id)
                visit_actions.cancel_visit(db, held, filled.sure.why, by=who.actor)
            return see(f"/visits/{visit_id}")
        except Refused as refused:
            filled = filled.refuse("why", refused.message)
    return _visit_page(request, service, visit_id, who, filled, 422)


@router.post("/visits/{visit_id}/arrival")
def ask_at_arrival(request: Request, service: Here, visit_id: Id, who: AnyMember) -> Response:
    """A link to the short questions of today: handed over on this device, as a code, or on the client's own."""
    try:
        with service.database.write() as db:
            held = visit_queries.visit_for(db, who, visit_id)
            token = visit_actions.ask_at_arrival(db, held, by=who.actor)
            case = records.case_to_arrange(db, who, held.case_id)
            client = records.client_for(db, who, case.client_id)
            code, until = code_for(db, token, who, purpose="intake", client_id=case.client_id)
    except Refused as refused:
        form: Filled[Any] = shown({})
        return _visit_page(request, service, visit_id, who, form.refuse("_form", refused.message), 422)
    return show(request, "intake/visit_asked.html", nav="clients", visit_id=visit_id, case=case, client=client,
                token=token, address=f"{service.settings.address}/l/{token}", code=code, code_until=until)


def _aloud(
    request: Request, service: Service, visit_id: int, who: Who, form: Filled[Any] | None, *, more: bool = False,
    status: int = 200,
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        page = aloud_page(db, who, visit_id, today(request))
    form = form or shown(page.values)
    return show(request, "intake/visit_aloud.html", nav="clients", page=page, form=form, more=more, status=status)


@router.get("/visits/{visit_id}/aloud")
def ask_aloud(request: Request, service: Here, visit_id: Id, who: Artist) -> HTMLResponse:
    return _aloud(request, service, visit_id, who, None)


@router.post("/visits/{visit_id}/aloud")
def answer_aloud(request: Request, service: Here, visit_id: Id, posted: Sent, who: Artist) -> Response:
    country = country_pack(request.state.studio.country)
    try:
        with service.database.write() as db:
            held = visit_queries.visit_for(db, who, visit_id)
            done = visit_actions.answer_aloud(db, held, posted.texts, country=country, by=who.actor)
    except Refused as refused:
        values = {name: values if len(values) > 1 else values[0] for name, values in posted.texts.items()}
        return _aloud(request, service, visit_id, who, Filled(values, {"_form": refused.message}), status=422)
    if done.screening is None:
        return _aloud(request, service, visit_id, who, Filled(done.values, done.errors), more=done.has_more, status=422)
    if done.screening.decision == "accepted":
        return see(f"/visits/{visit_id}")
    return see(f"/screenings/{done.screening.id}")
