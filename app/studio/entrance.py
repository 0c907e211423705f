"""Where clients come in: a link shows a start page, and starting swaps it for a pass of its purpose."""

from datetime import timedelta

from fastapi import APIRouter, Request, Response

from app.platform import links, throttle
from app.platform.forms import Sent
from app.platform.pages import see, show
from app.platform.routing import Here
from app.studio.access import NotFound, Public, cookie_name
from app.studio.routes import give_cookie

router = APIRouter()
DOORS = {"intake": "/intake", "aftercare": "/aftercare", "signing": "/signing"}


def _cookie(request: Request, service: Here, purpose: str) -> str:
    return request.cookies.get(cookie_name(service, purpose), "")


@router.get("/l/{token}")
def start_page(request: Request, service: Here, token: str, _: Public) -> Response:
    """Changes nothing: mail scanners open links, too."""
    with service.database.read() as db:
        link = links.find(db, token)
        # Whoever started a one-use link and closed the tab comes back to where they were.
        held = [purpose for purpose in DOORS if links.is_held(db, token, _cookie(request, service, purpose), purpose)]
    if held:
        return see(DOORS[held[0]])
    if link is None or link.purpose not in DOORS:
        return show(request, "studio/link_over.html", status=404)
    return show(request, "studio/link_start.html", token=token)


@router.post("/l/{token}")
def start(request: Request, service: Here, token: str, _posted: Sent, _: Public) -> Response:
    address = request.client.host if request.client else ""
    with service.database.write() as db:
        free = throttle.spend(db, f"links-from/{address}", limit=120, window=timedelta(minutes=15))
        swapped = links.swap(db, token) if free else None
    if swapped is None:
        return show(request, "studio/link_over.html", status=404)
    guest, secret = swapped
    if guest.purpose not in DOORS:
        raise NotFound
    answer = see(DOORS[guest.purpose])
    give_cookie(answer, service, cookie_name(service, guest.purpose), secret, days=0.5)
    return answer
