"""The owner's pages about the questions: as they are asked, left out, added, and seen as a client sees them."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import question_pages, rule_actions
from app.intake.rule_forms import AddQuestion, LeaveOut
from app.intake.rule_routes import back_to
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.languages import DEFAULT, LANGUAGES
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio.access import Owner

router = APIRouter()


@router.get("/studio/questions")
def questions(request: Request, service: Here, who: Owner) -> HTMLResponse:
    with service.database.read() as db:
        listed = question_pages.question_list(db)
    return show(request, "intake/questions.html", nav="studio", listed=listed)


def _new_page(request: Request, form: Filled[AddQuestion], status: int = 200) -> HTMLResponse:
    return show(
        request,
        "intake/question_new.html",
        nav="studio",
        form=form,
        topics=question_pages.own_topics(),
        fallback=request.state.studio.language,
        status=status,
    )


@router.get("/studio/questions/new")
def new_question(request: Request, who: Owner) -> HTMLResponse:
    return _new_page(request, shown({"required": "no", "kind": "yes_no"}))


@router.post("/studio/questions")
def add_question(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    filled = fill(AddQuestion, posted)
    if not filled.ok:
        return _new_page(request, filled, 422)
    try:
        with service.database.write() as db:
            key = rule_actions.add_question(db, filled.sure, by=who.actor).key
    except Refused as refused:
        return _new_page(request, filled.refuse(refused.name, refused.message), 422)
    return see(f"/studio/questions/{key}")


@router.get("/studio/questions/preview/{topic_key}")
def preview(request: Request, service: Here, topic_key: str, who: Owner, language: str = DEFAULT) -> HTMLResponse:
    language = language if language in LANGUAGES else DEFAULT
    with service.database.read() as db:
        seen = question_pages.preview(db, topic_key, language)
    return show(request, "intake/question_preview.html", seen=seen, lang=language, form=shown({}))


def _question_page(
    request: Request, service: Service, key: str, form: Filled[LeaveOut], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        page = question_pages.question_page(db, key)
    return show(request, "intake/question_page.html", nav="studio", page=page, form=form, status=status)


@router.get("/studio/questions/{question_key}")
def question(request: Request, service: Here, question_key: str, who: Owner) -> HTMLResponse:
    return _question_page(request, service, question_key, shown({}))


@router.post("/studio/questions/{question_key}/leaving-out")
def leave_out(request: Request, service: Here, question_key: str, posted: Sent, who: Owner) -> Response:
    filled = fill(LeaveOut, posted)
    if not filled.ok:
        return _question_page(request, service, question_key, filled, 422)
    try:
        with service.database.write() as db:
            rule_actions.leave_out(db, question_key, filled.sure.reason, by=who.actor)
    except Refused as refused:
        wrong = filled.refuse(refused.name, refused.message)
        return _question_page(request, service, question_key, wrong, 422)
    return see(f"/studio/questions/{question_key}")


@router.post("/studio/questions/{question_key}/restoring")
def restore_question(request: Request, service: Here, question_key: str, posted: Sent, who: Owner) -> Response:
    try:
        with service.database.write() as db:
            rule_actions.restore_question(db, question_key, by=who.actor)
    except Refused as refused:
        wrong = shown({}).refuse(refused.name, refused.message)
        return _question_page(request, service, question_key, wrong, 422)
    return see(back_to(posted, f"/studio/questions/{question_key}"))
