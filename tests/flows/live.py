"""A real server on a free port, in a thread of the test's own process: both stand under the same stopped clock."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import uvicorn

from app.main import create_app
from app.platform.service import Service
from app.tick import work_until

PATIENCE_SECONDS = 20


@contextmanager
def live(service: Service) -> Iterator[str]:
    """Serves a studio and does its slow work; gives the address, which its links then carry."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    service.settings = replace(service.settings, base_url=address)
    server = uvicorn.Server(uvicorn.Config(create_app(service), log_level="warning", lifespan="off"))
    stop = threading.Event()
    threads = (
        threading.Thread(target=server.run, kwargs={"sockets": [listening]}, name="server"),
        threading.Thread(target=work_until, args=(service, stop), name="worker"),
    )
    for thread in threads:
        thread.start()
    try:
        _wait_for(server)
        yield address
    finally:
        stop.set()
        server.should_exit = True
        for thread in threads:
            thread.join(PATIENCE_SECONDS)
        listening.close()
        assert not any(thread.is_alive() for thread in threads), "the server did not end"


def _wait_for(server: uvicorn.Server) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while not server.started:
        assert time.monotonic() < until, "the server did not start"
        time.sleep(0.02)
