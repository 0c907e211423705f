from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import actions, forms, queries
from app.studio import queries as studio
from app.studio.access import AnyMember, Artist, Who

router = APIRouter()


@router.get("/clients")
def clients(request: Request, service: Here, who: AnyMember, q: str = "") -> HTMLResponse:
    with service.database.read() as db:
        found = queries.clients(db, who, q)
        numbers = queries.case_numbers(db, who, found)
    return show(request, "records/clients.html", nav="clients", q=q[:200], clients=found, numbers=numbers,
                most=queries.LISTED)


def _form_page(request: Request, form: Filled[Any], client_id: int | None = None, status: int = 200) -> HTMLResponse:
    return show(request, "records/client_form.html", nav="clients", form=form, client_id=client_id,
                languages=list(forms.LANGUAGES.items()), status=status)


@router.get("/clients/new")
def new_client(request: Request, who: AnyMember) -> HTMLResponse:
    return _form_page(request, shown({"language": "en"}))


@router.post("/clients")
def add_client(request: Request, service: Here, posted: Sent, who: AnyMember) -> Response:
    filled = fill(forms.NewClient, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                client = actions.add_client(db, filled.sure, by=who.actor)
            return see(f"/clients/{client.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _form_page(request, filled, status=422)


def _client_page(request: Request, service: Here, client_id: int, who: Who, form: Filled[Any],
                 status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        client = queries.client_for(db, who, client_id)
        assert client.id is not None
        cases = queries.cases_of(db, who, client.id)
        alerts = queries.alerts_of(db, client.id, medical=who.sees_health)
        names = studio.names(db)
    return show(request, "records/client.html", nav="clients", client=client, cases=cases, alerts=alerts, names=names,
                languages=forms.LANGUAGES, form=form, status=status)


@router.get("/clients/{client_id}")
def client_page(request: Request, service: Here, client_id: Id, who: AnyMember) -> HTMLResponse:
    return _client_page(request, service, client_id, who, shown({}))


@router.get("/clients/{client_id}/edit")
def edit_client(request: Request, service: Here, client_id: Id, who: AnyMember) -> HTMLResponse:
    with service.database.read() as db:
        client = queries.client_for(db, who, client_id)
    return _form_page(request, shown(client.model_dump()), client.id)


@router.post("/clients/{client_id}")
def change_client(request: Request, service: Here, client_id: Id, posted: Sent, who: AnyMember) -> Response:
    filled = fill(forms.ChangeClient, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.change_client(db, queries.client_for(db, who, client_id), filled.sure, by=who.actor)
            return see(f"/clients/{client_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    with service.database.read() as db:
        queries.client_for(db, who, client_id)
    return _form_page(request, filled, client_id, status=422)


@router.post("/clients/{client_id}/hold")
def hold_client(request: Request, service: Here, client_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Hold, posted)
    if not filled.ok:
        return _client_page(request, service, client_id, who, filled, 422)
    with service.database.write() as db:
        actions.hold_client(db, queries.client_for(db, who, client_id), filled.sure.reason, by=who.actor)
    return see(f"/clients/{client_id}")


@router.post("/clients/{client_id}/release")
def release_client(service: Here, client_id: Id, who: Artist) -> Response:
    with service.database.write() as db:
        actions.release_client(db, queries.client_for(db, who, client_id), by=who.actor)
    return see(f"/clients/{client_id}")


def _ending_page(request: Request, service: Here, alert_id: int, who: Who, form: Filled[Any],
                 status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        alert = queries.alert_for(db, who, alert_id)
        client = queries.client_for(db, who, alert.client_id)
    return show(request, "records/alert_ending.html", nav="clients", alert=alert, client=client, form=form,
                status=status)


@router.get("/alerts/{alert_id}/ending")
def alert_ending(request: Request, service: Here, alert_id: Id, who: Artist) -> HTMLResponse:
    return _ending_page(request, service, alert_id, who, shown({}))


@router.post("/alerts/{alert_id}/ending")
def end_alert(request: Request, service: Here, alert_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.EndAlert, posted)
    if not filled.ok:
        return _ending_page(request, service, alert_id, who, filled, 422)
    with service.database.write() as db:
        alert = queries.alert_for(db, who, alert_id)
        actions.end_alert(db, alert, filled.sure.reason, by=who.actor)
    return see(f"/clients/{alert.client_id}")
