"""The end of the client's way: signing what was checked, and the page that says what happens next."""

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents.drawing import keep_drawing
from app.consents.text_queries import text_in_use
from app.consents.texts import FIRST_KINDS, TYPED_REASONS, permission_words
from app.intake import actions, forms, queries
from app.intake.answers import missing
from app.intake.findings import NEXT_STEPS_TITLE
from app.intake.question_list import CAUTION
from app.intake.rule_parts import NOT_HERE_WORDS, UNANSWERED_WORDS
from app.platform import languages
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.links import Guest
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio.access import IntakeGuest, today
from app.studio.country import country_pack
from app.studio.pause_routes import choose

router = APIRouter()
CHANGED = "Your answers were changed on another page since you looked them through. Please look at them once more."


def _open(service: Service, guest: Guest) -> queries.Filling:
    with service.database.read() as db:
        return queries.filling_for_guest(db, guest)


def _sign_page(
    request: Request, service: Service, held: queries.Filling, form: Filled[forms.Sign], version: str, status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        text = text_in_use(db, "declaration", request.state.language)
    return show(
        request,
        "intake/sign.html",
        form=form,
        text=text,
        version=version,
        reasons=[(key, languages.translated(words, request.state.language)) for key, words in TYPED_REASONS.items()],
        permissions=() if held.is_visit else permission_words(*FIRST_KINDS),
        status=status,
    )


@router.get("/intake/sign")
def sign_page(request: Request, service: Here, guest: IntakeGuest, version: str = "") -> Response:
    """`version` is that of the answers as they were looked through."""
    held = _open(service, guest)
    if held.is_sent:
        return see("/intake/done")
    if missing(held.answers, held.questions):
        return see("/intake/check")
    return _sign_page(request, service, held, shown({}), version[:20] or str(held.version))


@router.post("/intake/sign")
def sign(request: Request, service: Here, posted: Sent, guest: IntakeGuest) -> Response:
    held = _open(service, guest)
    if held.is_sent:
        return see("/intake/done")
    go, version = posted.one("go"), posted.one("version")
    if go == "pause":
        return see("/paused?back=/intake/sign")
    filled = fill(forms.Sign, posted)
    if go.startswith(("language-", "letters-")):
        # Shown again with what was typed and drawn: a signature is kept nowhere before it is sent.
        wished = go.partition("-")[2]
        request.state.language = wished if wished in languages.LANGUAGES else request.state.language
        answer = _sign_page(request, service, held, Filled(filled.values), version)
        choose(answer, service, go)
        return answer
    if not filled.ok:
        return _sign_page(request, service, held, filled, version, 422)
    try:
        _submit(request, service, guest, filled.sure)
    except Refused as refused:
        name = "_answers" if refused.name == "answers" else refused.name
        return _sign_page(request, service, held, filled.refuse(name, refused.message), version, 422)
    return see("/intake/done")


def _submit(request: Request, service: Service, guest: Guest, signed: forms.Sign) -> None:
    drawing = keep_drawing(service, signed)
    country = country_pack(request.state.studio.country)
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        if signed.version != str(held.version) and not held.is_sent:
            raise Refused("answers", CHANGED)
        actions.submit(
            db,
            held.submission,
            held.answers,
            country=country,
            on=today(request),
            typed_name=signed.typed_name,
            drawing=drawing,
            strokes=signed.lines,
            typed_reason=signed.why_typed,
            language=request.state.language,
            text_version=signed.text_version,
            permissions=signed.answered,
            by=guest.actor,
        )


@dataclass(frozen=True)
class Ending:
    """What a client reads after sending. No day where anything is to be spoken of in person."""

    lines: tuple[tuple[str, date | None], ...]
    comes_from: date | None
    preparation: tuple[str, ...]


def ending_of(result: dict[str, Any], on: date) -> Ending:
    """Days only as far as they lie ahead and nothing in the result is sensitive."""
    is_sensitive = any(item["sensitive"] or item["because"] == "withheld" for item in result["findings"])

    def ahead(text: str | None) -> date | None:
        day = date.fromisoformat(text) if text and not is_sensitive else None
        return day if day is not None and day > on else None

    unknown = _only_unknown(result)
    lines = dict.fromkeys(
        (UNANSWERED_WORDS if line["text"] in unknown else line["text"], ahead(line["from_date"]))
        for line in result["client_summary"]
    )
    return Ending(tuple(lines), ahead(result["full_from"]), tuple(result["preparation"]))


def _only_unknown(result: dict[str, Any]) -> set[str]:
    """A no for good that rests on nothing but “I don't know” is not told as one: it is found out first."""
    because = {item["because"] for item in result["findings"] if item["client_summary"] == NOT_HERE_WORDS}
    return {NOT_HERE_WORDS} if because == {"dont_know"} else set()


@router.get("/intake/done")
def done(request: Request, service: Here, guest: IntakeGuest) -> Response:
    held = _open(service, guest)
    if not held.is_sent:
        return see("/intake")
    with service.database.read() as db:
        result = json.loads(queries.screening_for_guest(db, guest).result)
    return show(
        request,
        "intake/done.html",
        title=NEXT_STEPS_TITLE,
        ending=ending_of(result, today(request)),
        is_visit=held.is_visit,
        caution=CAUTION,
    )
