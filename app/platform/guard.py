"""At the door of every request: same-site writes, headers, body limits. Pure ASGI, so that nothing gets round it."""

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"
)
HEADERS = {
    "Content-Security-Policy": CSP,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(self), geolocation=(), payment=()",
    "X-Frame-Options": "DENY",
}
SAFE = {"GET", "HEAD", "OPTIONS"}
MAX_BODY = 60 * 1024 * 1024


def is_same_site(method: str, headers: Headers) -> bool:
    """Whether a write comes from our own pages: Sec-Fetch-Site where the browser sends it, else Origin against Host.

    A write that carries neither comes from no browser; it passes only without a cookie.
    """
    if method in SAFE:
        return True
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc == headers.get("host", "")
    return "cookie" not in headers


class TooLarge(Exception):
    """A body over the limit."""


class Guard:
    def __init__(self, app: ASGIApp, *, https: bool) -> None:
        self.app, self.https = app, https

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        length = headers.get("content-length", "0")
        answer: PlainTextResponse | None = None
        if not is_same_site(scope["method"], headers):
            answer = PlainTextResponse("This came from another site and was not taken.", 403)
        elif not length.isdigit() or int(length) > MAX_BODY:
            answer = PlainTextResponse("This is too large.", 413)
        seen = 0

        async def bounded() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > MAX_BODY:
                raise TooLarge
            return message

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
                out.setdefault("Cache-Control", "no-store")
                if self.https:
                    out.setdefault("Strict-Transport-Security", "max-age=31536000")
            await send(message)

        try:
            await (answer or self.app)(scope, bounded, dressed)
        except TooLarge:
            await PlainTextResponse("This is too large.", 413)(scope, receive, dressed)
