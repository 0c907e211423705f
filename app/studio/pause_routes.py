"""What a client can do on every page of theirs: hide it, and choose its language and the size of its letters."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from app.platform.forms import Sent
from app.platform.languages import LANGUAGES
from app.platform.pages import LARGE_TEXT_COOKIE, see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio.access import LANGUAGE_COOKIE, PublicOnTablet, language_of
from app.studio.routes import give_cookie, inside

router = APIRouter()


def choose(answer: Response, service: Service, wish: str) -> bool:
    """Keeps what a client chose for this device: "language-es", "letters-larger" or "letters-usual".

    It says nothing of the client and lasts as long as a pass.
    """
    what, _, which = wish.partition("-")
    if what == "language" and which in LANGUAGES:
        give_cookie(answer, service, LANGUAGE_COOKIE, which, days=0.5)
    elif wish == "letters-larger":
        give_cookie(answer, service, LARGE_TEXT_COOKIE, "yes", days=0.5)
    elif wish == "letters-usual":
        give_cookie(answer, service, LARGE_TEXT_COOKIE, "no", days=0.5)
    else:
        return False
    return True


@router.post("/choices", response_class=RedirectResponse)
def chosen(service: Here, posted: Sent, _: PublicOnTablet) -> RedirectResponse:
    answer = see(inside(posted.one("back", "/")))
    choose(answer, service, posted.one("go"))
    return answer


@router.get("/paused")
def paused(request: Request, _: PublicOnTablet, back: str = "/") -> HTMLResponse:
    """A page with nothing on it; going on leads back to where the client was."""
    return show(request, "studio/paused.html", back=inside(back), lang=language_of(request))
