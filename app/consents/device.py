"""Handing this device to a client: the member's sign-in ends on it before the client's page opens."""

from datetime import datetime

from fastapi import Response

from app.platform import clock, links
from app.platform.db import Handle
from app.platform.pages import see
from app.platform.service import Service
from app.studio import tablet, tablet_actions
from app.studio.access import TABLET_PASS_LASTS, NotFound, Who, cookie_name
from app.studio.routes import give_cookie


def hand_over(service: Service, who: Who, token: str, *, purpose: str, client_id: int) -> Response:
    """Swaps a link on this device; the client who holds it next finds no way into the studio's records."""
    with service.database.write() as db:
        swapped = links.swap(db, token, lasts=TABLET_PASS_LASTS)
        if swapped is None or swapped[0].purpose != purpose or swapped[0].client_id != client_id:
            raise NotFound
        secret = tablet_actions.begin_hand_over(db, who.id, who.sign_in_id, by=who.actor)
    answer = see(f"/{purpose}")
    tablet.lock(answer, service, secret)
    give_cookie(answer, service, cookie_name(service, purpose), swapped[1], days=0.5)
    return answer


def code_for(db: Handle, token: str, who: Who, *, purpose: str, client_id: int) -> tuple[str, datetime]:
    """A code to type for a link that was just made, and until when it is good."""
    link = links.find(db, token)
    if link is None or link.id is None or link.purpose != purpose or link.client_id != client_id:
        raise NotFound
    return links.make_code(db, link.id, by=who.actor), clock.now() + links.CODE_LASTS
