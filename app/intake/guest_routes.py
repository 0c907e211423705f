"""The client's way through the form: one topic a page, kept as it is filled in, until it is ready to be signed."""

import secrets
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import actions, draft_actions, filling, queries
from app.intake.answers import missing
from app.intake.draft_actions import Kept, Sheet
from app.intake.question_list import CAUTION
from app.intake.questions import Page
from app.intake.seen import marks_of
from app.intake.signing_routes import router as signing_router
from app.intake.visit_days import SAID_TODAY, SAID_YESTERDAY, said_words, with_said
from app.platform import languages
from app.platform.forms import Filled, Posted, Sent, shown
from app.platform.links import Guest
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio.access import IntakeGuest, NotFound, today
from app.studio.country import country_pack
from app.studio.pause_routes import choose

router = APIRouter()
router.include_router(signing_router)
KNOWN_BEFORE = ("scars", "scars_made", "id", "site", "side", "words")  # what a form may hold before its first page
# What the page itself sends beside its answers.
OWN_FIELDS = ("go", "then", "shown", "opened", "seen", "scar")


def _open(service: Service, guest: Guest) -> queries.Filling:
    """What the client has filled in so far."""
    with service.database.read() as db:
        return queries.filling_for_guest(db, guest)


def _first(held: queries.Filling) -> str:
    """Where the form goes on: at the first open page, or at the check."""
    first = filling.first_open(held.answers, held.questions)
    return f"/intake/{filling.address_of(first, held.questions)}" if first is not None else "/intake/check"


@router.get("/intake")
def start(request: Request, service: Here, guest: IntakeGuest) -> Response:
    held = _open(service, guest)
    if held.is_sent:
        return see("/intake/done")
    told = [*held.answers, *(key for scar in held.answers.get("scars", ()) for key in scar)]
    return show(
        request,
        "intake/start.html",
        to=_first(held),
        is_new=all(key in KNOWN_BEFORE for key in told),
        is_visit=held.is_visit,
        caution=CAUTION,
    )


@router.get("/intake/check")
def check(request: Request, service: Here, guest: IntakeGuest) -> Response:
    held = _open(service, guest)
    if held.is_sent:
        return see("/intake/done")
    language = request.state.language
    questions = filling.in_language(held.questions, language)
    gaps = len(missing(held.answers, held.questions))
    return show(
        request,
        "intake/check.html",
        pages=filling.summary_pages(held.answers, questions, languages.translator(language)),
        gaps=gaps,
        first=_first(held) if gaps else "",
        version=held.version,
        is_visit=held.is_visit,
    )


@router.get("/intake/time")
def take_time(request: Request, service: Here, guest: IntakeGuest) -> Response:
    """A calm page before the check, for whoever may need it. It does not say why it is there."""
    held = _open(service, guest)
    if held.is_sent or not filling.needs_time(held.answers, held.questions):
        return see("/intake")
    pack = country_pack(request.state.studio.country)
    return show(request, "intake/time.html", to=_first(held), pack=pack)


@router.post("/intake/scars/{scar_id}/removal")
def remove_scar(service: Here, scar_id: str, guest: IntakeGuest) -> Response:
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        known = {scar["id"] for scar in held.answers.get("scars", ())}
        if held.is_sent or held.is_visit or scar_id not in known:
            raise NotFound
        actions.save_draft(db, held.id, filling.without(held.answers, scar_id))
    return see("/intake/check")


def _topic_page(
    request: Request,
    held: queries.Filling,
    page: Page,
    form: Filled[Any],
    then: str,
    *,
    opened: str = "",
    more: bool = False,
    kept: Kept | None = None,
    status: int = 200,
) -> HTMLResponse:
    answers = kept.answers if kept is not None else held.answers
    translate = languages.translator(request.state.language)
    questions = filling.in_language(held.questions, request.state.language)
    clashes = kept.settled.clashes if kept is not None else ()
    view = filling.view_of(page, answers, questions, translate)
    said = said_words(held.before, questions, view.scar_id or None, translate)
    lead = SAID_TODAY if held.before_on == today(request) else SAID_YESTERDAY
    return show(
        request,
        "intake/topic.html",
        view=with_said(view, said, translate(lead)),
        form=form,
        then=then,
        more=more,
        opened=opened or secrets.token_urlsafe(9),
        seen=marks_of(page, answers, held.questions),
        elsewhere={q.field: draft_actions.other_version(kept, q, translate) for q in clashes if kept is not None},
        is_gone=kept is not None and kept.is_gone,
        has_before=filling.page_before(page, answers, held.questions) is not None,
        status=status,
    )


@router.get("/intake/{address}")
def topic(
    request: Request, service: Here, address: str, guest: IntakeGuest, then: str = "", more: str = ""
) -> Response:
    held = _open(service, guest)
    if held.is_sent:
        return see("/intake/done")
    page = filling.page_at(address, held.answers, held.questions)
    if page is None:
        raise NotFound
    return _topic_page(request, held, page, shown(draft_actions.shown_values(held, page)), _then(then), more=bool(more))


def _then(text: str) -> str:
    return "check" if text == "check" else ""


def _keep(
    request: Request, service: Service, guest: Guest, address: str, posted: Posted
) -> tuple[queries.Filling, Kept] | None:
    """What was posted for a page, read and kept as far as it can be read; None when the form was sent already."""
    sheet = Sheet(
        posted.one("opened"),
        posted.one("seen"),
        posted.one("scar"),
        {name: values for name, values in posted.texts.items() if name not in OWN_FIELDS},
    )
    region = country_pack(request.state.studio.country).phone_region
    with service.database.write() as db:
        held = queries.filling_for_guest(db, guest)
        if held.is_sent:
            return None
        page = filling.page_named(address, held.answers, held.questions)
        if page is None:
            raise NotFound
        return held, draft_actions.keep_page(db, held, page, sheet, on=today(request), country=region)


@router.post("/intake/{address}/draft", response_class=Response)
def keep_draft(request: Request, service: Here, address: str, posted: Sent, guest: IntakeGuest) -> Response:
    """Keeps what stands on the page while it is being filled in; says nothing about what is wrong."""
    done = _keep(request, service, guest, address, posted)
    if done is None:
        return Response(status_code=410)
    _, kept = done
    return Response(status_code=204 if kept.is_clear else 409, headers={"Evenseam-Seen": kept.settled.marks})


@router.post("/intake/{address}")
def fill_in(request: Request, service: Here, address: str, posted: Sent, guest: IntakeGuest) -> Response:
    done = _keep(request, service, guest, address, posted)
    if done is None:
        return see("/intake/done")
    held, kept = done
    go, then, opened = posted.one("go", "on"), _then(posted.one("then")), posted.one("opened")
    here = f"/intake/{filling.address_of(kept.page, held.questions)}"
    back_here = f"{here}?then=check" if then else here
    if go == "pause":
        return see(f"/paused?back={back_here}")
    form: Filled[Any] = Filled(draft_actions.values_after(kept), draft_actions.errors_after(kept))
    if not kept.is_clear:
        form = Filled(form.values)
        return _topic_page(request, held, kept.page, form, then, opened=opened, kept=kept, status=409)
    answer = _elsewhere(held, kept, go, back_here)
    if answer is not None:
        choose(answer, service, go)
        return answer
    errors, unseen = _seen_and_unseen(kept, form.errors, posted)
    if errors:
        form = Filled(form.values, errors)
        return _topic_page(request, held, kept.page, form, then, opened=opened, kept=kept, status=422)
    if unseen:
        # By its number: an address never says what is asked.
        fields = [asked.question.field for asked in filling.view_of(kept.page, kept.answers, held.questions).asked]
        return see(f"{here}?more=yes&then={then}#q{fields.index(unseen[0]) + 1}")
    return see(_next(held, kept, then))


def _elsewhere(held: queries.Filling, kept: Kept, go: str, here: str) -> Response | None:
    """Where a button leads that is not Continue: nothing on the page has to be right for it."""
    if go == "later":
        return see("/intake")
    if go == "back":
        before = filling.page_before(kept.page, kept.answers, held.questions)
        return see(f"/intake/{filling.address_of(before, held.questions)}" if before is not None else "/intake")
    return see(here) if go.startswith(("language-", "letters-")) else None


def _seen_and_unseen(kept: Kept, errors: Any, posted: Posted) -> tuple[dict[str, str], list[str]]:
    """What is wrong on the page, and the questions it did not show yet: a draft may have called for them already."""
    shown_before = set(posted.texts.get("shown", []))
    unseen = [name for name in errors if shown_before and name not in shown_before]
    wrong = {name: words for name, words in errors.items() if name not in unseen}
    return wrong, [*unseen, *kept.parsed.asks_next]


def _next(held: queries.Filling, kept: Kept, then: str) -> str:
    answers, questions = kept.answers, held.questions
    if kept.page.topic.key == "hopes" and filling.needs_time(answers, questions):
        return "/intake/time"
    after = filling.first_open(answers, questions) if then else filling.page_after(kept.page, answers, questions)
    return f"/intake/{filling.address_of(after, questions)}" if after is not None else "/intake/check"
