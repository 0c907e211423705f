"""`python -m app` as processes of their own, as they run at a studio: real ports, real signals, real time."""

import os
import queue
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

import httpx

from app.platform.service import Service

ROOT = Path(__file__).resolve().parents[1]
PATIENCE_SECONDS = 120.0  # the machine may be busy with other tests
SAME_SITE = {"Sec-Fetch-Site": "same-origin"}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def environment(folder: Path, **more: str) -> dict[str, str]:
    """The caller's environment without its settings, and a data folder (with the key beside it)."""
    inherited = {name: value for name, value in os.environ.items() if not name.startswith("EVENSEAM_")}
    return {**inherited, "EVENSEAM_DATA": str(folder), "HOME": str(folder.parent), **more}


def environment_of(service: Service, **more: str) -> dict[str, str]:
    settings = service.settings
    return environment(
        settings.data, EVENSEAM_DATABASE_URL=settings.database_url, EVENSEAM_KEY=str(settings.key), **more
    )


def run(*arguments: str, env: Mapping[str, str], given: str = "") -> subprocess.CompletedProcess[str]:
    """A command that ends by itself; `given` is what is typed."""
    return subprocess.run(
        [sys.executable, "-m", "app", *arguments],
        cwd=ROOT,
        env=dict(env),
        input=given,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        start_new_session=True,
    )


def group(number: int) -> dict[int, str]:
    """The living processes of one process group, from Linux's own list."""
    found = {}
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            state, _parent, group_of, *_ = (folder / "stat").read_text().rpartition(")")[2].split()
            if int(group_of) == number and state != "Z":
                found[int(folder.name)] = (folder / "cmdline").read_text().replace("\0", " ")
    return found


class Running:
    """A command that runs until it is told to stop; its lines are read as they come."""

    def __init__(self, *arguments: str, env: Mapping[str, str], errors: Path) -> None:
        self.lines: list[str] = []
        self.errors = errors
        self._coming: queue.Queue[str | None] = queue.Queue()
        with errors.open("w") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "app", *arguments],
                cwd=ROOT,
                env=dict(env),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=out,
                text=True,
                start_new_session=True,
            )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._coming.put(line.rstrip("\n"))
        self._coming.put(None)

    def line(self, start: str) -> str:
        """The next line that starts so, while the command runs on: what is printed must not wait in a buffer."""
        while True:
            found = self._coming.get(timeout=PATIENCE_SECONDS)
            assert found is not None, f"ended before {start!r}: {self.lines} {self.errors.read_text()}"
            self.lines.append(found)
            if found.startswith(start):
                return found

    def family(self) -> dict[int, str]:
        """What lives of the command and of all that it started: number and command line."""
        return group(self.process.pid)

    def workers(self) -> list[int]:
        return [pid for pid, words in self.family().items() if "spawn_main" in words]

    def leaves_nothing(self) -> bool:
        """Whether all that it started ends as well: Python's own tracker of shared things takes a moment."""
        wait_for(lambda: not self.family(), f"left behind: {self.family()}")
        return True

    def stop(self, number: signal.Signals = signal.SIGTERM) -> int:
        """Sends a signal to the command alone, as a service manager may, and waits for its end."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_SECONDS)

    def kill(self) -> None:
        """Ends the command and all it started, whatever state they are in."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(PATIENCE_SECONDS)


@contextmanager
def running(*arguments: str, env: Mapping[str, str], errors: Path) -> Iterator[Running]:
    command = Running(*arguments, env=env, errors=errors)
    try:
        yield command
    finally:
        command.kill()


def answers(address: str) -> bool:
    try:
        return httpx.get(f"{address}/health", timeout=PATIENCE_SECONDS).status_code == 200
    except httpx.TransportError:
        return False


@contextmanager
def signed_in(address: str, login: str, password: str) -> Iterator[httpx.Client]:
    """A client that came in by the form."""
    with httpx.Client(base_url=address, headers=SAME_SITE, timeout=PATIENCE_SECONDS) as client:
        answer = client.post("/sign-in", data={"login": login, "password": password})
        assert answer.status_code == 303, answer.text
        yield client


def wait_for(what: Callable[[], object], words: str) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while not what():
        assert time.monotonic() < until, words
        time.sleep(0.05)
