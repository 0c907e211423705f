"""The client's way through the form: one topic a page, kept as it is filled in, signed, and then closed."""

import json
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents.drawing import keep_drawing
from app.consents.texts import DECLARATION, FIRST_KINDS, blocks, permission_words
from app.intake import actions, filling, forms, queries
from app.intake.answers import ParsedTopic, missing, parse_topic
from app.intake.findings import NEXT_STEPS_TITLE
from app.intake.question_list import CAUTION, QUESTION_SET
from app.intake.questions import Page
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.links import Guest
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio.access import IntakeGuest, NotFound, today
from app.studio.country import country_pack

router = APIRouter()
NEW_QUESTIONS = "The questions were changed meanwhile. Look through your answers once more."


def _open(service: Service, guest: Guest) -> queries.Filling:
    """What the client has filled in so far."""
    with service.database.read() as db:
        return queries.filling_for_guest(db, guest)


def _page(answers: dict[str, Any], address: str) -> Page:
    page = filling.page_at(address, answers)
    if page is None:
        raise NotFound
    return page


@router.get("/intake")
def start(request: Request, service: Here, guest: IntakeGuest) -> Response:
    filled = _open(service, guest)
    if filled.is_sent:
        return see("/intake/done")
    first = filling.first_open(filled.answers)
    to = f"/intake/{filling.address_of(first)}" if first is not None else "/intake/check"
    is_new = not any(key not in ("scars", "scars_made") for key in filled.answers)
    return show(request, "intake/start.html", to=to, is_new=is_new, caution=CAUTION)


@router.get("/intake/check")
def check(request: Request, service: Here, guest: IntakeGuest) -> Response:
    filled = _open(service, guest)
    if filled.is_sent:
        return see("/intake/done")
    first = filling.first_open(filled.answers)
    return show(
        request,
        "intake/check.html",
        pages=filling.summary_pages(filled.answers),
        gaps=len(missing(filled.answers)),
        first=filling.address_of(first) if first is not None else "",
    )


def _sign_page(request: Request, form: Filled[forms.Sign], status: int = 200) -> HTMLResponse:
    return show(
        request,
        "intake/sign.html",
        form=form,
        blocks=blocks(DECLARATION.text),
        version=QUESTION_SET.version,
        permissions=permission_words(*FIRST_KINDS),
        status=status,
    )


@router.get("/intake/sign")
def sign_page(request: Request, service: Here, guest: IntakeGuest) -> Response:
    filled = _open(service, guest)
    if filled.is_sent:
        return see("/intake/done")
    return see("/intake/check") if missing(filled.answers) else _sign_page(request, shown({}))


@router.post("/intake/sign")
def sign(request: Request, service: Here, posted: Sent, guest: IntakeGuest) -> Response:
    if _open(service, guest).is_sent:
        return see("/intake/done")
    filled = fill(forms.Sign, posted)
    if filled.ok and filled.sure.version != QUESTION_SET.version:
        filled = filled.refuse("_questions", NEW_QUESTIONS)
    if not filled.ok:
        return _sign_page(request, filled, 422)
    try:
        _submit(request, service, guest, filled.sure)
    except Refused as refused:
        return _sign_page(
            request, filled.refuse("_answers" if refused.name == "answers" else refused.name, refused.message), 422
        )
    return see("/intake/done")


def _submit(request: Request, service: Service, guest: Guest, signed: forms.Sign) -> None:
    drawing = keep_drawing(service, signed)
    country = country_pack(request.state.studio.country)
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        actions.submit(
            db,
            held.submission,
            held.answers,
            country=country,
            on=today(request),
            typed_name=signed.typed_name,
            drawing=drawing,
            permissions=signed.answered,
            by=guest.actor,
        )


@router.get("/intake/done")
def done(request: Request, service: Here, guest: IntakeGuest) -> Response:
    if not _open(service, guest).is_sent:
        return see("/intake")
    with service.database.read() as db:
        result = json.loads(queries.screening_for_guest(db, guest).result)
    return show(request, "intake/done.html", title=NEXT_STEPS_TITLE, lines=_lines(result), caution=CAUTION)


def _lines(result: dict[str, Any]) -> list[str]:
    """The kind sentences of a result; days are left to the talk with the artist."""
    return [line["text"] for line in result["client_summary"]]


@router.post("/intake/scars/{scar_id}/removal")
def remove_scar(service: Here, scar_id: str, guest: IntakeGuest) -> Response:
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        if (
            held.is_sent
            or held.submission.id is None
            or scar_id not in {scar["id"] for scar in held.answers.get("scars", ())}
        ):
            raise NotFound
        actions.save_draft(db, held.submission.id, filling.without(held.answers, scar_id))
    return see("/intake/check")


def _topic_page(
    request: Request,
    page: Page,
    answers: dict[str, Any],
    form: Filled[Any],
    then: str,
    status: int = 200,
    more: bool = False,
) -> HTMLResponse:
    view = filling.view_of(page, answers)
    return show(
        request,
        "intake/topic.html",
        view=view,
        form=form,
        then=then,
        more=more,
        status=status,
        has_before=filling.page_before(page, answers) is not None,
    )


@router.get("/intake/{address}")
def topic(
    request: Request, service: Here, address: str, guest: IntakeGuest, then: str = "", more: str = ""
) -> Response:
    filled = _open(service, guest)
    if filled.is_sent:
        return see("/intake/done")
    page = _page(filled.answers, address)
    return _topic_page(
        request, page, filled.answers, shown(filling.values_of(page, filled.answers)), _then(then), more=bool(more)
    )


def _then(text: str) -> str:
    return "check" if text == "check" else ""


def _keep(
    request: Request, service: Service, guest: Guest, address: str, posted: Posted
) -> tuple[Page, ParsedTopic] | None:
    """What was posted for a page, read and kept as far as it can be read; None when the form was sent already."""
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        if held.is_sent or held.submission.id is None:
            return None
        page = _page(held.answers, address)
        parsed = parse_topic(page.topic, dict(posted.texts), held.answers, on=today(request), scar=page.scar)
        actions.save_draft(db, held.submission.id, parsed.answers)
    return page, parsed


@router.post("/intake/{address}/draft", response_class=Response)
def keep_draft(request: Request, service: Here, address: str, posted: Sent, guest: IntakeGuest) -> Response:
    """Keeps what stands on the page while it is being filled in; says nothing about what is wrong."""
    kept = _keep(request, service, guest, address, posted)
    return Response(status_code=204 if kept is not None else 409)


@router.post("/intake/{address}")
def fill_in(request: Request, service: Here, address: str, posted: Sent, guest: IntakeGuest) -> Response:
    kept = _keep(request, service, guest, address, posted)
    if kept is None:
        return see("/intake/done")
    page, parsed = kept
    go, then = posted.one("go", "on"), _then(posted.one("then"))
    if go == "later":
        return see("/intake")
    if go == "back":
        before = filling.page_before(page, parsed.answers)
        return see(f"/intake/{filling.address_of(before)}" if before is not None else "/intake")
    errors, unseen = _seen_and_unseen(parsed, posted)
    if errors:
        form: Filled[Any] = Filled(filling.flat(parsed.typed), errors)
        return _topic_page(request, page, parsed.answers, form, then, 422)
    if unseen:
        # By its number: an address never says what is asked.
        fields = [asked.question.field for asked in filling.view_of(page, parsed.answers).asked]
        return see(f"/intake/{address}?more=yes&then={then}#q{fields.index(unseen[0]) + 1}")
    return see(_next(page, parsed.answers, then))


def _seen_and_unseen(parsed: ParsedTopic, posted: Posted) -> tuple[dict[str, str], list[str]]:
    """What is wrong on the page, and the questions it did not show yet: a draft may have called for them already."""
    shown_before = set(posted.texts.get("shown", []))
    unseen = [name for name in parsed.errors if shown_before and name not in shown_before]
    return {name: words for name, words in parsed.errors.items() if name not in unseen}, [*unseen, *parsed.asks_next]


def _next(page: Page, answers: dict[str, Any], then: str) -> str:
    if then:
        first = filling.first_open(answers)
        return f"/intake/{filling.address_of(first)}" if first is not None else "/intake/check"
    after = filling.page_after(page, answers)
    return f"/intake/{filling.address_of(after)}" if after is not None else "/intake/check"
