from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents.device import hand_over
from app.intake import actions, forms, queries
from app.intake.guest_routes import router as guest_router
from app.intake.sheet import PROOF_WORDS, sheet_of
from app.intake.zone_routes import router as zone_router
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.studio.access import AnyMember, Artist, today

router = APIRouter()
router.include_router(guest_router)
router.include_router(zone_router)


@router.post("/cases/{case_id}/intake")
def ask(request: Request, service: Here, case_id: Id, who: AnyMember) -> HTMLResponse:
    """Makes the link and shows its address, once."""
    with service.database.write() as db:
        case = records.case_to_arrange(db, who, case_id)
        client = records.client_for(db, who, case.client_id)
        submission, token = actions.ask(db, case, by=who.actor)
    return show(
        request,
        "intake/asked.html",
        nav="clients",
        case=case,
        client=client,
        token=token,
        lasts=actions.LINK_LASTS.days,
        address=f"{service.settings.address}/l/{token}",
        submission=submission,
    )


@router.post("/cases/{case_id}/intake/here")
def open_here(service: Here, case_id: Id, posted: Sent, who: AnyMember) -> Response:
    """Ends the member's sign-in on this device and opens the form for the client."""
    with service.database.read() as db:
        case = records.case_to_arrange(db, who, case_id)
    return hand_over(service, who, posted.one("token"), purpose="intake", client_id=case.client_id)


def _sheet_page(
    request: Request, service: Here, screening_id: int, who: Artist, form: Filled[forms.Decision], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        sheet = sheet_of(db, who, screening_id, today(request))
    return show(
        request,
        "intake/screening.html",
        nav="clients",
        sheet=sheet,
        form=form,
        proof_words=PROOF_WORDS,
        on=today(request),
        status=status,
    )


@router.get("/screenings/{screening_id}")
def screening(request: Request, service: Here, screening_id: Id, who: Artist) -> HTMLResponse:
    return _sheet_page(request, service, screening_id, who, shown({}))


@router.post("/screenings/{screening_id}/decision")
def decide(request: Request, service: Here, screening_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Decision, posted)
    if not filled.ok:
        return _sheet_page(request, service, screening_id, who, filled, 422)
    past_waits = filled.sure.decision == "accepted_past_waits"
    decision = "accepted" if past_waits else filled.sure.decision
    try:
        with service.database.write() as db:
            found = queries.screening_for(db, who, screening_id)
            actions.decide(
                db, found, decision, filled.sure.reason, filled.sure.wait_until, past_waits=past_waits, by=who.actor
            )
    except Refused as refused:
        return _sheet_page(request, service, screening_id, who, filled.refuse(refused.name, refused.message), 422)
    return see(f"/screenings/{screening_id}")


def _lifting_page(
    request: Request, service: Here, finding_id: int, who: Artist, form: Filled[forms.Lifting], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        finding = queries.finding_for(db, who, finding_id)
        sheet = sheet_of(db, who, finding.screening_id, today(request))
    proofs = [(proof, PROOF_WORDS[proof]) for proof in finding.proofs.split() if proof in forms.SHOWN_PROOFS]
    return show(
        request,
        "intake/lifting.html",
        nav="clients",
        finding=finding,
        sheet=sheet,
        proofs=proofs,
        form=form,
        status=status,
    )


@router.get("/findings/{finding_id}/lifting")
def lifting_page(request: Request, service: Here, finding_id: Id, who: Artist) -> HTMLResponse:
    return _lifting_page(request, service, finding_id, who, shown({"seen_on": today(request).isoformat()}))


@router.post("/findings/{finding_id}/lifting")
def lift(request: Request, service: Here, finding_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Lifting, posted)
    if not filled.ok:
        return _lifting_page(request, service, finding_id, who, filled, 422)
    try:
        with service.database.write() as db:
            finding = actions.lift(db, queries.finding_for(db, who, finding_id), filled.sure, by=who.actor)
    except Refused as refused:
        return _lifting_page(request, service, finding_id, who, filled.refuse(refused.name, refused.message), 422)
    return see(f"/screenings/{finding.screening_id}")
