"""What a client finds where the short questions of a visit are not asked: the client is on hold, or nobody comes."""

from fastapi import APIRouter, Request, Response

from app.intake import queries
from app.platform.pages import see, show
from app.platform.routing import Here
from app.studio.access import IntakeGuest

router = APIRouter()


@router.get("/intake/call")
def please_call(request: Request, service: Here, guest: IntakeGuest) -> Response:
    with service.database.read() as db:
        if queries.is_asked(db, guest):
            return see("/intake")
    return show(request, "intake/visit_call.html", studio=request.state.studio)
