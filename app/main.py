"""The web service: its routers in the order of the domains, the guard round them, and the error pages."""

from collections.abc import Awaitable, Callable
from functools import cache
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute

from app.casebook.routes import router as casebook
from app.consents.routes import router as consents
from app.healing.routes import router as healing
from app.intake.routes import router as intake
from app.messages.routes import router as messages
from app.outcomes.routes import router as outcomes
from app.pigments.routes import router as pigments
from app.platform.db import Stale
from app.platform.guard import Guard
from app.platform.pages import STATIC, see, show
from app.platform.service import Service
from app.records.routes import router as records
from app.sessions.routes import router as sessions
from app.studio.access import Elsewhere, NoStudioYet, NotFound, PassOver, SignedOut
from app.studio.country_routes import router as country
from app.studio.entrance import router as entrance
from app.studio.pause_routes import router as pause
from app.studio.routes import router as studio
from app.studio.tablet_routes import router as tablet
from app.studio.trust_routes import router as trust

ROUTERS = (
    studio, trust, tablet, country, entrance, pause, records, consents, messages, intake, pigments, healing, sessions,
    outcomes, casebook,
)  # fmt: skip


MOST_SHOWN_AGAIN = 100_000  # characters that a page which came too late is given back with


class LastingFiles(StaticFiles):
    """Static files may be kept by the browser, which asks by their tag whether they changed; pages are no-store."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        answer = super().file_response(*args, **kwargs)
        answer.headers["Cache-Control"] = "public, no-cache"
        return answer


def _page(template: str, status: int) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(request: Request, _: Exception) -> Response:
        return show(request, template, status=status)

    return answer


async def _signed_out(request: Request, _: Exception) -> Response:
    if request.method != "GET" or request.headers.get("hx-request"):
        return show(request, "errors/401.html", status=401)
    target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return see("/sign-in" if target == "/" else f"/sign-in?next={quote(target)}")


async def _pass_over(request: Request, error: Exception) -> Response:
    """The link is to be opened again, or it is over; what was just posted stays in the page, to be sent once more."""
    assert isinstance(error, PassOver)
    typed: list[tuple[str, str]] = []
    if request.method == "POST" and request.url.path.startswith("/intake"):
        form = await request.form()
        typed = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
    if sum(len(value) for _, value in typed) > MOST_SHOWN_AGAIN:
        typed = []
    status = 401 if error.why == "pass" else 410
    return show(request, "studio/pass_over.html", status=status, why=error.why, typed=typed)


async def _elsewhere(request: Request, error: Exception) -> Response:
    assert isinstance(error, Elsewhere)
    if request.headers.get("hx-request"):  # a part of a page that has no business in this browser any more
        return show(request, "errors/401.html", status=401)
    return see(error.address)


async def _no_studio(request: Request, _: Exception) -> Response:
    return see("/first-run")


async def _stale(request: Request, error: Exception) -> Response:
    assert isinstance(error, Stale)
    form = await request.form()
    on_file = error.on_file
    mine = [(k.replace("_", " "), str(v)) for k, v in form.items() if k != "revision" and isinstance(v, str)]
    theirs = [(k.replace("_", " "), "" if on_file.get(k) is None else str(on_file[k])) for k in form if k in on_file]
    return show(request, "errors/409.html", status=409, mine=mine, theirs=theirs)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    status = error.status_code if error.status_code in (403, 404, 413, 429) else 404 if error.status_code < 500 else 500
    return show(request, f"errors/{status}.html", status=error.status_code)


async def _bad_request(request: Request, error: Exception) -> Response:
    """A path or query that is none of ours: the same answer as for a thing that is not there."""
    return show(request, "errors/404.html", status=404)


@cache
def _routes() -> tuple[BaseRoute, ...]:
    """Every router's routes, made ready once in a process: half a second's work, which each new app would repeat."""
    ready = APIRouter()
    for router in ROUTERS:
        ready.include_router(router)
    return tuple(ready.routes)


def create_app(service: Service) -> FastAPI:
    app = FastAPI(title="Evenseam", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.service = service
    app.router.routes.extend(_routes())
    app.mount("/static", LastingFiles(directory=STATIC), name="static")
    app.add_exception_handler(NotFound, _page("errors/404.html", 404))
    app.add_exception_handler(PassOver, _pass_over)
    app.add_exception_handler(SignedOut, _signed_out)
    app.add_exception_handler(Elsewhere, _elsewhere)
    app.add_exception_handler(NoStudioYet, _no_studio)
    app.add_exception_handler(Stale, _stale)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _bad_request)
    app.add_exception_handler(500, _page("errors/500.html", 500))
    app.add_middleware(Guard, https=service.settings.is_https)
    return app
