"""What uvicorn needs to serve HTTPS, and a small second server beside the first."""

import logging
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from socket import socket
from typing import Any

import uvicorn
from starlette.types import ASGIApp

from app.platform import certificates
from app.platform.settings import Tls

log = logging.getLogger("evenseam.https")
LOOKED_AT_SECONDS = 12 * 3600


def make_ready(tls: Tls | None) -> str:
    """Renews a certificate of ours where that is due; says in words when it cannot. Raises where none can be used."""
    if tls is None:
        return ""
    words = ""
    if tls.folder is not None:
        try:
            certificates.renew_if_due(tls.folder)
        except (OSError, ValueError) as error:
            words = f"The certificate is due to be renewed, and cannot be: {error}"
    certificates.server_context(tls.certificate, tls.key)
    return words


def uvicorn_options(tls: Tls | None) -> dict[str, Any]:
    """HTTPS whose certificate is renewed, or read again from its files, while the service runs on for months."""
    if tls is None:
        return {}
    context = certificates.server_context(tls.certificate, tls.key)

    async def look() -> None:
        # In uvicorn's own loop, where no connection is being opened meanwhile; those that stand keep what they have.
        try:
            if words := make_ready(tls):
                log.error(words)
            context.load_cert_chain(tls.certificate, tls.key)
        except (OSError, ValueError):
            log.exception("the certificate cannot be read again; the one from before is still shown")

    def factory(_config: uvicorn.Config, _default: object) -> ssl.SSLContext:
        return context

    return {"ssl_context_factory": factory, "callback_notify": look, "timeout_notify": LOOKED_AT_SECONDS}


@contextmanager
def served_beside(app: ASGIApp, listening: socket) -> Iterator[None]:
    """Serves plain HTTP in a thread while the caller does something else."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        timeout_graceful_shutdown=2,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, name="plain", daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(10)
