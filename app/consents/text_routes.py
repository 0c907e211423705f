"""The owner's own wording of the texts that clients sign, language by language."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import forms, text_actions
from app.consents import text_queries as queries
from app.consents.compared import compared, in_words
from app.consents.texts import TEXT_NAMES, blocks
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.languages import LANGUAGES
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.rows import MAX_ID
from app.studio.access import NotFound, Owner

router = APIRouter()


@router.get("/studio/texts")
def texts(request: Request, service: Here, who: Owner) -> HTMLResponse:
    with service.database.read() as db:
        lines, required = queries.text_lines(db), queries.required_lines(db, "treatment")
    return show(request, "consents/texts.html", nav="studio", lines=lines, required=required, names=TEXT_NAMES)


def _text_page(
    request: Request, service: Here, kind: str, language: str, who: Owner, form: Filled[forms.OwnWording],
    status: int = 200,
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        versions = queries.versions(db, kind, language)
        own, body = queries.own_text(db, kind, language), queries.body_to_edit(db, kind, language)
        required = queries.required_lines(db, kind)
    if not form.values:
        form = shown({"body": body, "reason": ""})
    elif not form.errors.keys() & {"body", "reason"} and "body" not in form.values:
        form = Filled({**form.values, "body": body}, form.errors)
    return show(
        request, "consents/text_edit.html", nav="studio", kind=kind, language=language, own=own, versions=versions,
        required=required, names=TEXT_NAMES, language_name=LANGUAGES[language], form=form, status=status,
    )  # fmt: skip


@router.get("/studio/texts/{text_kind}/{text_language}")
def text_page(request: Request, service: Here, text_kind: str, text_language: str, who: Owner) -> HTMLResponse:
    return _text_page(request, service, text_kind, text_language, who, shown({}))


@router.post("/studio/texts/{text_kind}/{text_language}")
def write_text(
    request: Request, service: Here, text_kind: str, text_language: str, posted: Sent, who: Owner
) -> Response:
    filled = fill(forms.OwnWording, posted)
    with service.database.read() as db:
        queries.body_to_edit(db, text_kind, text_language)
    if not filled.ok:
        return _text_page(request, service, text_kind, text_language, who, filled, 422)
    try:
        with service.database.write() as db:
            text_actions.write_text(db, text_kind, text_language, filled.sure.body, filled.sure.reason, by=who.actor)
    except Refused as refused:
        wrong = filled.refuse(refused.name, refused.message)
        return _text_page(request, service, text_kind, text_language, who, wrong, 422)
    return see("/studio/texts")


@router.post("/studio/texts/{text_kind}/{text_language}/shipped")
def back_to_shipped(
    request: Request, service: Here, text_kind: str, text_language: str, posted: Sent, who: Owner
) -> Response:
    filled = fill(forms.BackToShipped, posted)
    with service.database.read() as db:
        body = queries.body_to_edit(db, text_kind, text_language)
    try:
        if not filled.ok:
            raise Refused("back_reason", "Say why the shipped text shall count again.")
        with service.database.write() as db:
            text_actions.back_to_shipped(db, text_kind, text_language, filled.sure.reason, by=who.actor)
    except Refused as refused:
        wrong: Filled[forms.OwnWording] = shown({"body": body, "reason": ""}).refuse("back_reason", refused.message)
        return _text_page(request, service, text_kind, text_language, who, wrong, 422)
    return see("/studio/texts")


Number = Annotated[int | None, Query(ge=0, le=MAX_ID)]


@router.get("/studio/texts/{text_kind}/{text_language}/versions")
def versions_page(
    request: Request, service: Here, text_kind: str, text_language: str, who: Owner, before: Number = None,
    after: Number = None,
) -> HTMLResponse:  # fmt: skip
    """Two versions beside each other in words; the newest two unless others are chosen."""
    with service.database.read() as db:
        versions = queries.versions(db, text_kind, text_language)
    if not versions:
        raise NotFound
    by_id = {version.id: version for version in versions}
    later = by_id.get(versions[0].id if after is None else after)
    earlier = by_id.get(versions[min(1, len(versions) - 1)].id if before is None else before)
    if later is None or earlier is None:
        raise NotFound
    changes = compared(earlier.body, later.body)
    return show(
        request, "consents/versions.html", nav="studio", kind=text_kind, language=text_language, versions=versions,
        earlier=earlier, later=later, changes=changes, said=in_words(changes), blocks=blocks(later.body),
        names=TEXT_NAMES, language_name=LANGUAGES[text_language], form=shown({"before": earlier.id, "after": later.id}),
    )  # fmt: skip
