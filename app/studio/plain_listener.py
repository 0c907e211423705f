"""Plain HTTP beside the service: only how a tablet comes to trust it. Knows no database, reads and gives no cookie."""

from urllib.parse import quote, urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.platform.pages import STATIC, render
from app.platform.settings import Settings, in_url
from app.studio.trust import Trust
from app.studio.trust_routes import DER, PEM

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "form-action 'none'; frame-ancestors 'none'; base-uri 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}
PARTS = ("css/*.css", "fonts/*.woff2", "img/mark.svg", "img/trust-*.svg")
# Named one by one when the service starts: no path that a stranger writes is ever looked up on the disk.
FILES = {f"/static/{file.relative_to(STATIC).as_posix()}": file for part in PARTS for file in STATIC.glob(part)}


def _secure(settings: Settings, trust: Trust, request: Request) -> str:
    """The same page over HTTPS, under the name that was asked for where the certificate covers it, else the first."""
    base = trust.secure_address
    try:
        asked = urlsplit(f"//{request.headers.get('host', '')}").hostname or ""
    except ValueError:
        asked = ""
    if not settings.base_url and asked in trust.hosts:
        base = f"https://{in_url(asked)}:{settings.port}"
    query = request.scope["query_string"].decode("latin-1")
    return base + quote(request.scope["path"]) + (f"?{query}" if query else "")


def _answer(settings: Settings, trust: Trust, request: Request) -> Response:
    if request.method not in ("GET", "HEAD"):
        return PlainTextResponse(f"Nothing is taken here. Go to {trust.secure_address}\n", 405, {"Allow": "GET, HEAD"})
    path = str(request.scope["path"])
    if path == "/":
        return RedirectResponse("/trust", 303)
    if path == "/trust":
        page = render("studio/trust.html", trust=trust, studio_name="Evenseam")
        return Response(page, media_type="text/html; charset=utf-8")
    if path == "/trust/studio-ca.crt":
        return Response(trust.der, media_type=DER)
    if path == "/trust/studio-ca.pem":
        return Response(trust.pem, media_type=PEM)
    if path in FILES:
        return FileResponse(FILES[path])
    return RedirectResponse(_secure(settings, trust, request), 307)


def make_plain_listener(settings: Settings, trust: Trust) -> ASGIApp:
    async def listener(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        await _answer(settings, trust, Request(scope))(scope, receive, dressed)

    return listener
