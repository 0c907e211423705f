"""Handing this device to a client: the member's sign-in ends on it before the client's page opens."""

from fastapi import Response

from app.platform import links
from app.platform.pages import see
from app.platform.service import Service
from app.studio import actions as studio_actions
from app.studio.access import NotFound, Who, cookie_name
from app.studio.routes import give_cookie


def hand_over(service: Service, who: Who, token: str, *, purpose: str, client_id: int) -> Response:
    """Swaps a link on this device; the client who holds it next finds no way into the studio's records."""
    with service.database.write() as db:
        swapped = links.swap(db, token)
        if swapped is None or swapped[0].purpose != purpose or swapped[0].client_id != client_id:
            raise NotFound
        studio_actions.sign_out(db, who.sign_in_id, by=who.actor)
    answer = see(f"/{purpose}")
    answer.delete_cookie(cookie_name(service), path="/")
    give_cookie(answer, service, cookie_name(service, purpose), swapped[1], days=0.5)
    return answer
