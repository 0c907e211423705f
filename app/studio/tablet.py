"""What a handed-over tablet keeps in its browser, and what is taken from there when it changes hands."""

from fastapi import Request, Response

from app.platform import links
from app.platform.pages import LARGE_TEXT_COOKIE
from app.platform.service import Service
from app.studio.access import DOORS, LANGUAGE_COOKIE, cookie_name
from app.studio.routes import give_cookie

# Drops what the browser kept of pages that were shown before, the ones that Back would bring up again among them.
CLEAR_CACHE = {"Clear-Site-Data": '"cache"'}


def forget(answer: Response, service: Service, name: str) -> None:
    """Deletes a cookie, with the marks it was given with: browsers keep a `__Host-` cookie otherwise."""
    answer.delete_cookie(name, path="/", secure=service.settings.is_https, httponly=True, samesite="lax")


def has_pass(request: Request, service: Service) -> bool:
    return any(request.cookies.get(cookie_name(service, purpose)) for purpose in DOORS)


def end_passes(request: Request, service: Service) -> None:
    """Ends what this browser was let in by: whoever kept a copy of the cookie has nothing either."""
    secrets = [request.cookies.get(cookie_name(service, purpose), "") for purpose in DOORS]
    with service.database.write() as db:
        for secret in filter(None, secrets):
            links.end_pass(db, secret)


def clear(answer: Response, service: Service) -> None:
    """Leaves nothing of one client for the next: no pass, no language, no size of letters, no page."""
    for purpose in DOORS:
        forget(answer, service, cookie_name(service, purpose))
    for name in (LANGUAGE_COOKIE, LARGE_TEXT_COOKIE):
        forget(answer, service, name)
    answer.headers.update(CLEAR_CACHE)


def lock(answer: Response, service: Service, secret: str) -> None:
    """From here on this browser is a tablet in a client's hands."""
    clear(answer, service)
    forget(answer, service, cookie_name(service))
    give_cookie(answer, service, cookie_name(service, "tablet"), secret, days=0.5)


def unlock(answer: Response, service: Service) -> None:
    clear(answer, service)
    forget(answer, service, cookie_name(service, "tablet"))
