from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.db import Stale
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import actions, forms, queries
from app.records.alert_kinds import KINDS, OWN
from app.records.client_pages import client_page as page_of
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


def client_page_of(request: Request, service: Here, client_id: int, who: Who, form: Filled[Any],
                 status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        page = page_of(db, who, client_id)
    return show(request, "records/client.html", nav="clients", page=page, client=page.client, cases=page.cases,
                alerts=page.alerts, names=page.names, languages=forms.LANGUAGES, doubt=forms.PHONE_DOUBT, form=form,
                status=status)


@router.get("/clients/{client_id}")
def client_page(request: Request, service: Here, client_id: Id, who: AnyMember) -> HTMLResponse:
    return client_page_of(request, service, client_id, who, shown({}))


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
                client = queries.client_for(db, who, client_id)
                if client.id != client_id:  # merged since the form was opened: what it says is another record's
                    raise Stale(client)
                actions.change_client(db, client, filled.sure, by=who.actor)
            return see(f"/clients/{client_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    with service.database.read() as db:
        queries.client_for(db, who, client_id)
    return _form_page(request, filled, client_id, status=422)


def _raising_page(request: Request, service: Here, client_id: int, who: Who, form: Filled[Any],
                  status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        client = queries.client_for(db, who, client_id)
    return show(request, "records/alert_new.html", nav="clients", client=client, form=form, kinds=KINDS, own=OWN,
                status=status)


@router.get("/clients/{client_id}/alerts/new")
def new_alert(request: Request, service: Here, client_id: Id, who: Artist) -> HTMLResponse:
    return _raising_page(request, service, client_id, who, shown({"audience": "medical"}))


@router.post("/clients/{client_id}/alerts")
def raise_alert(request: Request, service: Here, client_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.RaiseAlert, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                actions.raise_by_hand(db, queries.client_for(db, who, client_id), filled.sure, by=who.actor)
            return see(f"/clients/{client_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _raising_page(request, service, client_id, who, filled, 422)


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
