"""Where clients come in: a link shows a start page, and starting swaps it for a pass of its purpose."""

from datetime import timedelta

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from app.platform import links, throttle
from app.platform.forms import Sent
from app.platform.languages import LANGUAGES
from app.platform.pages import see, show
from app.platform.routing import Here
from app.studio import tablet
from app.studio.access import (
    DOORS,
    LANGUAGE_COOKIE,
    ON_TABLET,
    TABLET_PASS_LASTS,
    TRANSLATED,
    Elsewhere,
    NotFound,
    PublicOnTablet,
    cookie_name,
    language_of,
)
from app.studio.routes import give_cookie, inside

router = APIRouter()


def _cookie(request: Request, service: Here, purpose: str) -> str:
    return request.cookies.get(cookie_name(service, purpose), "")


@router.get("/l/{token}")
def start_page(request: Request, service: Here, token: str, _: PublicOnTablet) -> Response:
    """Changes nothing: mail scanners open links, too."""
    with service.database.read() as db:
        link = links.find(db, token)
        # Whoever started a one-use link and closed the tab comes back to where they were.
        held = [purpose for purpose in DOORS if links.is_held(db, token, _cookie(request, service, purpose), purpose)]
        why = links.why_over(db, token)
    if held:
        return see(DOORS[held[0]])
    _stays_on_tablet(request, link)
    if link is None or link.purpose not in DOORS:
        return _over(request, why)
    if link.purpose in TRANSLATED:
        request.state.language = language_of(request, link.language)
    return show(request, "studio/link_start.html", token=token)


def _over(request: Request, why: str) -> Response:
    """Says how a link came to its end, and not whose it was; for a made-up one there is no such page."""
    return show(request, "studio/link_over.html", why=why, lang=language_of(request), status=410 if why else 404)


@router.post("/language", response_class=RedirectResponse)
def choose_language(service: Here, posted: Sent, _: PublicOnTablet) -> RedirectResponse:
    """Keeps which language this device's client reads; it says nothing of the client and lasts as long as a pass."""
    answer = see(inside(posted.one("back", "/")))
    if posted.one("language") in LANGUAGES:
        give_cookie(answer, service, LANGUAGE_COOKIE, posted.one("language"), days=0.5)
    return answer


def _stays_on_tablet(request: Request, link: links.Link | None) -> None:
    """A handed-over tablet opens forms and texts to sign, not the pages that a client has at home."""
    if link is not None and request.state.is_handed_over and link.purpose not in ON_TABLET:
        raise Elsewhere("/tablet")


@router.post("/l/{token}")
def start(request: Request, service: Here, token: str, _posted: Sent, _: PublicOnTablet) -> Response:
    address = request.client.host if request.client else ""
    is_tablet = request.state.is_handed_over
    with service.database.write() as db:
        free = throttle.spend(db, f"links-from/{address}", limit=120, window=timedelta(minutes=15))
    with service.database.write() as db:
        _stays_on_tablet(request, links.find(db, token))
        lasts = TABLET_PASS_LASTS if is_tablet else links.PASS_LASTS
        swapped = links.swap(db, token, lasts=lasts) if free else None
        why = links.why_over(db, token) if free else ""
    if swapped is None:
        return _over(request, why)
    guest, secret = swapped
    if guest.purpose not in DOORS:
        raise NotFound
    if is_tablet:
        tablet.end_passes(request, service)
    answer = see(DOORS[guest.purpose])
    give_cookie(answer, service, cookie_name(service, guest.purpose), secret, days=0.5)
    return answer
