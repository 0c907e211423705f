"""The client reads the treatment text and signs it, through a link that serves once."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import actions, forms, queries
from app.consents.drawing import keep_drawing
from app.consents.text_queries import text_in_use
from app.consents.texts import NAMED, PROCEDURES, SIDES, TREATMENT_ASKED, TYPED_REASONS, permission_words
from app.platform.forms import Filled, Refused, Sent, fill, shown
from app.platform.languages import LANGUAGES
from app.platform.pages import see, show
from app.platform.routing import Here
from app.studio.access import SigningGuest
from app.studio.pause_routes import choose

router = APIRouter()


def _signing_page(
    request: Request, service: Here, guest: SigningGuest, form: Filled[forms.Treatment], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        signing = queries.signing_for_guest(db, guest)
        standing = actions.standing_kinds(db, guest.client_id)
        text = text_in_use(db, "treatment", request.state.language)
    if signing.request.signature_id is not None:
        return show(request, "consents/signed.html")
    if signing.age.is_barred:
        return show(request, "consents/too_young.html")
    return show(
        request,
        "consents/sign.html",
        signing=signing,
        text=text,
        procedures=[PROCEDURES[kind] for kind in signing.procedures],
        sides=SIDES,
        treatment_asked=TREATMENT_ASKED,
        typed_reasons=TYPED_REASONS,
        permissions=[words for words in permission_words() if words.kind not in standing],
        standing=[NAMED[kind] for kind in standing],
        form=form,
        status=status,
    )


@router.get("/signing")
def signing_page(request: Request, service: Here, guest: SigningGuest) -> HTMLResponse:
    return _signing_page(request, service, guest, shown({}))


@router.post("/signing")
def sign(request: Request, service: Here, posted: Sent, guest: SigningGuest) -> Response:
    filled, go = fill(forms.Treatment, posted), posted.one("go")
    if go == "pause":
        return see("/paused?back=/signing")
    if go.startswith(("language-", "letters-")):
        # Shown again with what was typed and drawn: a signature is kept nowhere before it is sent.
        wish = go.partition("-")[2]
        request.state.language = wish if wish in LANGUAGES else request.state.language
        answer = _signing_page(request, service, guest, Filled(filled.values))
        choose(answer, service, go)
        return answer
    if not filled.ok:
        return _signing_page(request, service, guest, filled, 422)
    signed = filled.sure
    try:
        drawing = keep_drawing(service, signed)
        with service.database.write() as db:
            actions.sign_treatment(
                db,
                queries.signing_for_guest(db, guest),
                treatment=signed.treatment == "yes",
                answers=signed.answered,
                typed_name=signed.typed_name,
                drawing=drawing,
                strokes=signed.lines,
                typed_reason=signed.why_typed,
                language=request.state.language,
                text_version=signed.text_version,
                by=guest.actor,
            )
    except Refused as refused:
        return _signing_page(request, service, guest, filled.refuse(refused.name, refused.message), 422)
    return see("/signing")
