"""The artist's sheet of a screening: deciding, lifting, and the client's own decision."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import actions, forms, queries
from app.intake.letter_forms import InformedDecision
from app.intake.letter_words import ANSWER_WORDS, TOLD
from app.intake.sheet import PROOF_WORDS, may_be_decided, scar_called, sheet_of
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.studio.access import Artist, NotFound, today

router = APIRouter()


def _sheet_page(
    request: Request, service: Here, screening_id: int, who: Artist, form: Filled[Any], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        sheet = sheet_of(db, who, screening_id, today(request))
    return show(request, "intake/screening.html", nav="clients", sheet=sheet, form=form, proof_words=PROOF_WORDS,
                answer_words=ANSWER_WORDS, on=today(request), status=status)  # fmt: skip


@router.get("/screenings/{screening_id}")
def screening(request: Request, service: Here, screening_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        passed = queries.passed_of(queries.screening_for(db, who, screening_id))
    return _sheet_page(request, service, screening_id, who, shown({"passed": list(passed)}))


@router.post("/screenings/{screening_id}/decision")
def decide(request: Request, service: Here, screening_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Decision, posted)
    if not filled.ok:
        return _sheet_page(request, service, screening_id, who, filled, 422)
    sent = filled.sure
    try:
        with service.database.write() as db:
            found = queries.screening_for(db, who, screening_id)
            # What an earlier decision went past comes ticked; where nothing is accepted any more it just falls away.
            ticked = () if sent.decision == "accepted" else queries.passed_of(found)
            passed = [key for key in sent.passed if key not in ticked]
            actions.decide(db, found, sent.decision, sent.reason, sent.wait_until, passed=passed, seen=sent.seen,
                           by=who.actor)  # fmt: skip
    except Refused as refused:
        return _sheet_page(request, service, screening_id, who, filled.refuse(refused.name, refused.message), 422)
    return see(f"/screenings/{screening_id}")


def _finding_page(
    request: Request, service: Here, template: str, finding_id: int, who: Artist, form: Filled[Any], status: int
) -> HTMLResponse:
    with service.database.read() as db:
        finding = queries.finding_for(db, who, finding_id)
        sheet = sheet_of(db, who, finding.screening_id, today(request))
        scars = records.declared_of(db, sheet.case.id or 0)
        place = next((scar_called(one) for one in scars if one.key == finding.scar_key), "")
    proofs = [(proof, PROOF_WORDS[proof]) for proof in finding.proofs.split() if proof in forms.SHOWN_PROOFS]
    return show(request, template, nav="clients", finding=finding, place=place, sheet=sheet, proofs=proofs, told=TOLD,
                form=form, status=status)  # fmt: skip


@router.get("/findings/{finding_id}/lifting")
def lifting_page(request: Request, service: Here, finding_id: Id, who: Artist) -> HTMLResponse:
    form = shown({"seen_on": today(request).isoformat()})
    return _finding_page(request, service, "intake/lifting.html", finding_id, who, form, 200)


@router.post("/findings/{finding_id}/lifting")
def lift(request: Request, service: Here, finding_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.Lifting, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                finding = actions.lift(db, queries.finding_for(db, who, finding_id), filled.sure, by=who.actor)
            return see(f"/screenings/{finding.screening_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _finding_page(request, service, "intake/lifting.html", finding_id, who, filled, 422)


@router.get("/findings/{finding_id}/own-decision")
def own_decision_page(request: Request, service: Here, finding_id: Id, who: Artist) -> HTMLResponse:
    """What the client is told before they decide for themself; there is no such page before a clinician was asked."""
    with service.database.read() as db:
        finding = queries.finding_for(db, who, finding_id)
        if "informed_decision" not in finding.proofs.split() or not may_be_decided(queries.seen_of(db, finding)):
            raise NotFound
    form = shown({"decided_on": today(request).isoformat(), "told": []})
    return _finding_page(request, service, "intake/own_decision.html", finding_id, who, form, 200)


@router.post("/findings/{finding_id}/own-decision")
def own_decision(request: Request, service: Here, finding_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(InformedDecision, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                held = queries.finding_for(db, who, finding_id)
                finding = actions.lift_by_decision(db, held, filled.sure, by=who.actor)
            return see(f"/screenings/{finding.screening_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _finding_page(request, service, "intake/own_decision.html", finding_id, who, filled, 422)
