"""Letters: asking a clinician, printing what they are asked, reading what came, and recording the answer."""

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import actions, letter_words, queries
from app.intake.letter_forms import AskForLetter, LetterAnswer
from app.intake.letter_page import asking_for, letter_page, read_page
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import attachment_actions
from app.records import attachment_queries as attachments
from app.records.attachment_forms import ReadLetter
from app.studio.access import Artist, today

router = APIRouter()
BIGGEST_ID = 2147483647


def _ask_page(
    request: Request, service: Here, screening_id: int, who: Artist, form: Filled[Any], letter: int, status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = asking_for(db, who, screening_id, today(request))
    return show(request, "intake/letter_new.html", nav="clients", page=page, form=form, letter=letter, status=status)


@router.get("/screenings/{screening_id}/letters/new")
def ask_page(request: Request, service: Here, screening_id: Id, who: Artist, letter: int = 0) -> HTMLResponse:
    with service.database.read() as db:
        open_keys = asking_for(db, who, screening_id, today(request)).first_chosen
    letter = letter if 0 < letter <= BIGGEST_ID else 0
    return _ask_page(request, service, screening_id, who, shown({"findings": list(open_keys)}), letter)


@router.post("/screenings/{screening_id}/letters")
def ask(request: Request, service: Here, screening_id: Id, posted: Sent, who: Artist) -> Response:
    """Asks for a letter. `letter` is one that came unasked, whose answer is recorded next."""
    filled = fill(AskForLetter, posted)
    given = posted.one("letter")
    letter = int(given) if given.isascii() and given.isdigit() and len(given) < 11 else 0
    if filled.ok:
        try:
            with service.database.write() as db:
                screening = queries.screening_for(db, who, screening_id)
                made = actions.ask_for_letter(db, screening, filled.sure, by=who.actor)
            return see(f"/letter-requests/{made.id}" + (f"/answer?letter={letter}" if letter else ""))
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _ask_page(request, service, screening_id, who, filled, letter, 422)


@router.get("/letter-requests/{letter_request_id}")
def letter(request: Request, service: Here, letter_request_id: Id, who: Artist) -> HTMLResponse:
    """The letter to the clinician, to be printed, and beside it what came of it."""
    with service.database.read() as db:
        page = letter_page(db, who, letter_request_id, today(request))
    return show(request, "intake/letter.html", nav="clients", page=page, words=letter_words, on=today(request))


def _answer_page(
    request: Request, service: Here, letter_request_id: int, who: Artist, form: Filled[Any], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = letter_page(db, who, letter_request_id, today(request))
    return show(request, "intake/letter_answer.html", nav="clients", page=page, form=form, status=status)


@router.get("/letter-requests/{letter_request_id}/answer")
def answer_page(request: Request, service: Here, letter_request_id: Id, who: Artist, letter: int = 0) -> HTMLResponse:
    values: dict[str, Any] = {"answered_on": today(request).isoformat()}
    if 0 < letter <= BIGGEST_ID:
        with service.database.read() as db:
            held = attachments.letter_for(db, who, letter)
        values = {"attachment_id": letter, "answered_on": held.dated_on.isoformat() if held.dated_on else "",
                  "good_until": held.expires_on.isoformat() if held.expires_on else ""}  # fmt: skip
    return _answer_page(request, service, letter_request_id, who, shown(values))


@router.post("/letter-requests/{letter_request_id}/answer")
def record_answer(request: Request, service: Here, letter_request_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(LetterAnswer, posted)
    if filled.ok:
        sent = filled.sure
        try:
            with service.database.write() as db:
                held = queries.letter_request_for(db, who, letter_request_id)
                file = attachments.letter_for(db, who, sent.attachment_id) if sent.attachment_id is not None else None
                actions.record_answer(db, held, sent, file, by=who.actor)
                newest = queries.newest_screening(db, held.case_id)
            return see(f"/screenings/{newest.id if newest is not None else held.screening_id}#letters")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _answer_page(request, service, letter_request_id, who, filled, 422)


def _read_page(
    request: Request, service: Here, attachment_id: int, who: Artist, form: Filled[Any] | None, status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = read_page(db, who, attachment_id)
    held = page.letter
    form = form or shown({"from_whom": held.from_whom, "note": held.note,
                          "dated_on": held.dated_on.isoformat() if held.dated_on else "",
                          "expires_on": held.expires_on.isoformat() if held.expires_on else ""})  # fmt: skip
    return show(request, "intake/letter_read.html", nav="clients", page=page, form=form, status=status)


@router.get("/attachments/{attachment_id}")
def read(request: Request, service: Here, attachment_id: Id, who: Artist) -> HTMLResponse:
    return _read_page(request, service, attachment_id, who, None)


@router.post("/attachments/{attachment_id}")
def mark_read(request: Request, service: Here, attachment_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(ReadLetter, posted)
    if filled.ok:
        try:
            with service.database.write() as db:
                held = attachments.letter_for(db, who, attachment_id)
                attachment_actions.read_letter(db, held, filled.sure, by=who.actor)
            return see(f"/attachments/{attachment_id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _read_page(request, service, attachment_id, who, filled, 422)
