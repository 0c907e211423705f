"""Putting an answer right on the artist's side: which page of the form, what it says now, and why."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import actions, filling, queries
from app.intake.answers import parse_topic
from app.intake.change_actions import questions_to_put_right
from app.intake.letter_forms import PutRight
from app.intake.models import Screening, Submission
from app.intake.questions import Page, QuestionSet
from app.platform import languages
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Case, Client
from app.studio.access import Artist, NotFound, Who, today
from app.studio.country import country_pack

router = APIRouter()
MORE = "This answer leads to a little more to ask. Fill in what is new here, too."


@dataclass(frozen=True)
class Held:
    """The newest answers of a case with their questions."""

    screening: Screening
    case: Case
    client: Client
    answers: dict[str, Any]
    questions: QuestionSet


def _held(service: Service, who: Who, screening_id: int) -> Held:
    with service.database.read() as db:
        screening = queries.screening_for(db, who, screening_id)
        newest = queries.newest_screening(db, screening.case_id)
        if newest is None or newest.id != screening.id:
            raise NotFound
        case = records.case_for(db, who, screening.case_id)
        answers, _ = queries.told_of(db, db.get_one(Submission, screening.submission_id))
        client = records.client_for(db, who, case.client_id)
        return Held(screening, case, client, answers, questions_to_put_right(db, screening))


def _page_of(held: Held, address: str) -> Page:
    page = filling.page_at(address, held.answers, held.questions)
    if page is None or (page.scar is not None and not filling.scar_id_of(page, held.answers)):
        raise NotFound
    return page


def _topic_page(
    request: Request, held: Held, page: Page, answers: dict[str, Any], form: Filled[Any], *, status: int = 200,
    more: str = "",
) -> HTMLResponse:  # fmt: skip
    translate = languages.translator(request.state.studio.language)
    view = filling.view_of(page, answers, held.questions, translate)
    return show(request, "intake/answer_new.html", nav="clients", held=held, view=view, form=form,
                title=translate(page.topic.title), more=more, status=status)  # fmt: skip


@router.get("/screenings/{screening_id}/answers/new")
def choose(request: Request, service: Here, screening_id: Id, who: Artist, page: str = "") -> Response:
    """The pages of the form to choose from, and then the one chosen with what it says now. Older answers are not put
    right any more: their page leads to the newest."""
    with service.database.read() as db:
        newest = queries.newest_screening(db, queries.screening_for(db, who, screening_id).case_id)
    if newest is not None and newest.id != screening_id:
        return see(f"/screenings/{newest.id}/answers/new")
    held = _held(service, who, screening_id)
    if page:
        chosen = _page_of(held, page)
        values = filling.values_of(chosen, held.answers, held.questions)
        return _topic_page(request, held, chosen, held.answers, shown(values))
    translate = languages.translator(request.state.studio.language)
    pages = filling.summary_pages(held.answers, held.questions, translate=translate)
    return show(request, "intake/answers_page.html", nav="clients", held=held, pages=pages)


@router.post("/screenings/{screening_id}/answers")
def put_right(request: Request, service: Here, screening_id: Id, posted: Sent, who: Artist) -> Response:
    held = _held(service, who, screening_id)
    page, filled = _page_of(held, posted.one("page")), fill(PutRight, posted)
    country = country_pack(request.state.studio.country)
    parsed = parse_topic(page.topic, dict(posted.texts), held.answers, on=today(request), scar=page.scar,
                         questions=held.questions, country=country.code)  # fmt: skip
    unseen = [*parsed.asks_next, *_unseen(parsed.errors, posted)]
    errors = {name: words for name, words in parsed.errors.items() if name not in unseen} | dict(filled.errors)
    values = {**filling.flat(parsed.typed), "why": posted.one("why")}
    if errors or unseen:
        more = MORE if unseen and not errors else ""
        return _topic_page(request, held, page, parsed.answers, Filled(values, errors), status=422, more=more)
    try:
        with service.database.write() as db:
            screening = queries.screening_for(db, who, screening_id)
            newer = actions.put_right(db, screening, parsed.answers, filled.sure.why, country=country,
                                      on=today(request), by=who.actor)  # fmt: skip
    except Refused as refused:
        wrong = Filled[Any](values, {refused.name if refused.name != "answers" else "_answers": refused.message})
        return _topic_page(request, held, page, parsed.answers, wrong, status=422)
    return see(f"/screenings/{newer.id}")


def _unseen(errors: dict[str, str], posted: Posted) -> list[str]:
    """Questions that the page did not show when it was sent."""
    seen = set(posted.texts.get("shown", []))
    return [name for name in errors if seen and name not in seen]
