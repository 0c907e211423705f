"""The command line: `evenseam` or `python -m app`.

Each command imports what only it needs when it runs: the whole service takes seconds to load, and neither a screening
of a file nor the processes that the worker starts have a use for it.
"""

import argparse
import contextlib
import getpass
import json
import logging
import multiprocessing
import signal
import socket
import sys
from datetime import date
from pathlib import Path
from types import FrameType
from typing import NoReturn

import uvicorn
from sqlalchemy.exc import OperationalError

from app.certificate_command import Wish, certificate
from app.platform import certificates
from app.platform.audit import SYSTEM
from app.platform.forms import Posted, Refused, fill
from app.platform.https import make_ready, served_beside, uvicorn_options
from app.platform.migrate import faults, is_current, migrate
from app.platform.service import Service
from app.platform.settings import BadSetting, Settings, data_folder, read_port, read_settings
from app.platform.storage import Damaged
from app.studio.plain_listener import make_plain_listener
from app.studio.trust import trust_of


def say(*words: object) -> None:
    print(*words, flush=True)


def fail(words: str) -> NoReturn:
    print(f"evenseam: {words}", file=sys.stderr, flush=True)
    raise SystemExit(2)


def _listen(settings: Settings, *, port: int = 0, setting: str = "EVENSEAM_PORT (demo: --port)") -> socket.socket:
    """Takes the port before anything is said or built, so that the address that is printed answers."""
    port = port or settings.port
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    try:
        return socket.create_server((settings.host, port), family=family, backlog=512)
    except OSError as error:
        fail(
            f"cannot listen on {settings.host}, port {port}: {error.strerror or error}. "
            f"Stop what uses it, or give another port with {setting}"
        )


def _serve(service: Service, listening: socket.socket) -> None:
    """Serves until told to stop; with the tick loop and one worker unless EVENSEAM_TICK is off."""
    from app.main import create_app
    from app.tick import Ticking

    config = uvicorn.Config(
        create_app(service),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=10,
        **uvicorn_options(service.settings.tls),
    )
    server = uvicorn.Server(config)

    def end(_signal: int, _frame: FrameType | None) -> None:
        server.should_exit = True

    # uvicorn raises the signal once more after it has stopped: without a handler of ours that would end this process
    # there and then, and leave the worker behind.
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, end)
    with Ticking(service) if service.settings.tick else contextlib.nullcontext():
        server.run(sockets=[listening])
    service.database.close()


def _make_ready(service: Service) -> None:
    if service.database.is_sqlite:
        migrate(service.database)  # one machine, one process: nobody else to ask
    if found := faults(service.database):
        fail(found[0])


def serve(settings: Settings) -> None:
    from app.studio.models import Studio

    if words := make_ready(settings.tls):
        say(words)
    listening = _listen(settings)
    beside: contextlib.AbstractContextManager[None] = contextlib.nullcontext()
    trust = trust_of(settings)
    if trust and trust.first_address:
        plain = _listen(settings, port=settings.trust_port, setting="EVENSEAM_TRUST_PORT, or say off")
        beside = served_beside(make_plain_listener(settings, trust), plain)
    service = Service.open(settings)
    _make_ready(service)
    service.storage.make_ready()
    with service.database.read() as db:
        is_new = db.get(Studio, 1) is None
    say(f"Evenseam listens on {settings.address}")
    if is_new:
        say(f"First run: open {settings.address}/first-run and give this code: {service.first_run_code}")
    if trust and trust.first_address:
        say(f"A tablet that does not trust it yet begins at {trust.first_address}")
        say(f"and compares this fingerprint (SHA-256): {' '.join(trust.fingerprint)}")
    with beside:
        _serve(service, listening)


def _demo_settings(port: int | None, data: Path | None) -> Settings:
    """A database, key and address of the demo's own, whatever the environment says of a real studio."""
    folder = (data or Path.home() / ".local" / "share" / "evenseam-demo").expanduser().absolute()
    read = read_settings(data=folder, demo=True)
    return Settings(
        data=folder,
        database_url=f"sqlite:///{folder / 'evenseam.sqlite3'}",
        key=folder.with_name(folder.name + ".key"),
        port=port or read.port,
        tick=read.tick,
        demo=True,
    )


def _build_demo(service: Service, sign_ins: Path, unfinished: Path) -> None:
    from app.demo.build import build_demo

    def end(_signal: int, _frame: FrameType | None) -> None:
        raise SystemExit(128 + signal.SIGTERM)  # so that the processes that paint photos are ended, too

    signal.signal(signal.SIGTERM, end)
    unfinished.touch()
    migrate(service.database)
    say("Building the demo studio (an invented scenario, rendered photos) …")
    cast = build_demo(service, say=say)
    sign_ins.write_text(json.dumps([list(line) for line in cast.sign_ins]), encoding="utf-8")
    sign_ins.chmod(0o600)
    unfinished.unlink()


def demo(port: int | None, data: Path | None) -> None:
    from app.demo.build import is_empty

    settings = _demo_settings(port, data)
    sign_ins, unfinished = settings.data / "demo-sign-ins.json", settings.data / "demo-unfinished"
    if unfinished.exists():
        fail(f"building the demo in {settings.data} broke off: delete that folder and {settings.key}, and start again")
    service = Service.open(settings)
    is_new = not (settings.data / "evenseam.sqlite3").exists()
    if not is_new and not sign_ins.exists() and not (is_current(service.database) and is_empty(service)):
        fail(f"{settings.data} holds a studio that is not the demo; give another folder with --data")
    _listen(settings).close()  # said now rather than after half a minute of building
    if sign_ins.exists():
        migrate(service.database)
    else:
        _build_demo(service, sign_ins, unfinished)
    listening = _listen(settings)
    say(f"Demo studio: {settings.address}")
    for role, login, password in json.loads(sign_ins.read_text(encoding="utf-8")):
        say(f"{role}: {login} {password}")
    say("Everything in it is invented. Messages go to the folder", settings.outbox)
    _serve(service, listening)


def _asked(words: str, *, secret: bool = False) -> str:
    try:
        # With answers from a file or a pipe there is no terminal whose echo could be turned off.
        return getpass.getpass(words) if secret and sys.stdin.isatty() else input(words)
    except EOFError:
        fail(f"the answers ended at “{words.strip(': ')}”: nothing was made")


def make_owner(settings: Settings) -> None:
    """The first account from the console, for a studio that is set up without a browser."""
    from app.studio import actions, forms
    from app.studio.models import Studio
    from app.studio.passwords import hash_password

    service = Service.open(settings)
    _make_ready(service)
    with service.database.read() as db:
        if db.get(Studio, 1) is not None:
            fail("the studio stands already: sign in as its owner")
    texts = {
        name: [_asked(f"{words}: ").strip()]
        for name, words in (
            ("studio_name", "Studio"),
            ("country", "Country (GB, IE, US, DE, FR, ES or OTHER)"),
            ("zone", "Time zone, like Europe/London"),
            ("name", "Your name"),
            ("login", "Sign-in name"),
        )
    }
    texts["password"] = [_asked("Password, 12 characters or more: ", secret=True)]
    filled = fill(forms.FirstRun, Posted({**texts, "code": ["console"]}, {}))
    if not filled.ok:
        fail("; ".join(f"{name}: {message}" for name, message in filled.errors.items()))
    password_hash = hash_password(filled.sure.password)
    with service.database.write() as db:
        actions.found(db, filled.sure, password_hash, by=SYSTEM)
    say("Done. Start the service with: evenseam serve")


def _day(words: str) -> date:
    try:
        return date.fromisoformat(words)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{words!r} is not a day; give one like 2026-03-14") from None


def _port(words: str) -> int:
    try:
        return read_port(words, "the port")
    except BadSetting as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="evenseam",
        description="A studio's record of scar camouflage. Not medical advice; "
        "your local rules and the client's clinician come first.",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    demo_ = commands.add_parser(
        "demo", help="build an invented studio, if there is none yet, and serve it on this machine only"
    )
    demo_.add_argument("--port", type=_port, metavar="N")
    demo_.add_argument("--data", type=Path, metavar="DIR")
    commands.add_parser("serve", help="serve the studio; a new one leads its owner through first run")
    commands.add_parser("tick", help="send due messages and do slow work, where serve has EVENSEAM_TICK=off")
    commands.add_parser("migrate", help="bring the database up to this version")
    commands.add_parser("owner", help="make the studio and its owner's account from the console")
    certificate_ = commands.add_parser("certificate", help="make or renew HTTPS for the studio's own network")
    certificate_.add_argument("--name", action="append", default=[], metavar="NAME", help="like studio.local")
    certificate_.add_argument("--address", action="append", default=[], metavar="IP", help="like 192.168.1.20")
    certificate_.add_argument("--days", type=int, default=certificates.MOST_DAYS, metavar="N")
    certificate_.add_argument("--new-authority", action="store_true", help="tablets must be told to trust it anew")
    certificate_.add_argument("--data", type=Path, metavar="DIR")
    check_ = commands.add_parser("check", help="verify the trail, its triggers, the stored files and signed papers")
    check_.add_argument("--data", type=Path, metavar="DIR")
    check_.add_argument("--paper", metavar="FILE_OR_SUM", help="only hold one signed paper against the record")
    screen_ = commands.add_parser("screen", help="answers to findings, without a database")
    screen_.add_argument("file", type=Path, metavar="FILE.json")
    screen_.add_argument("--on", type=_day, required=True, metavar="DATE", help="the day, like 2026-03-14")
    screen_.add_argument("--json", action="store_true", required=True, help="print JSON")
    measure_ = commands.add_parser("measure", help="a photo and outlines to a reading, without a database")
    measure_.add_argument("photo", type=Path, metavar="PHOTO")
    measure_.add_argument("outlines", type=Path, metavar="OUTLINES.json")
    measure_.add_argument("--marker-mm", type=float, metavar="MM", help="true side of the marker in the photo: an area")
    measure_.add_argument("--pitch-mm", type=float, metavar="MM", help="from one patch of the chart to the next")
    measure_.add_argument("--skin-class", choices=("light", "dark"), help="whose limits grade it; else the photo's own")
    measure_.add_argument("--json", action="store_true", required=True, help="print JSON")
    return parser


def _run(given: argparse.Namespace) -> int:
    match given.command:
        case "demo":
            demo(given.port, given.data)
        case "serve":
            serve(read_settings())
        case "tick":
            from app.tick import run as run_tick

            service = Service.open(read_settings())
            if found := faults(service.database):
                fail(found[0])
            run_tick(service)
        case "migrate":
            settings = read_settings()
            migrate(Service.open(settings).database, settings.app_role)
            say("The database is up to date.")
        case "owner":
            make_owner(read_settings())
        case "certificate":
            wish = Wish(given.name, given.address, given.days, given.new_authority)
            return certificate(data_folder(data=given.data), wish, say)
        case "check":
            from app.check_command import check, check_paper

            settings = read_settings(data=given.data)
            return check_paper(settings, given.paper, say) if given.paper else check(settings, say)
        case "screen":
            from app.screen_command import screen_file

            say(json.dumps(screen_file(given.file, given.on), ensure_ascii=False, indent=1))
        case "measure":
            from app.measure_command import Known, measure_file
            from app.platform import images

            known = Known(given.marker_mm, given.pitch_mm, given.skin_class)
            result = measure_file(given.photo, given.outlines, lambda content: images.decode(content).srgb8, known)
            say(json.dumps(result, ensure_ascii=False, indent=1))
    return 0


def main(arguments: list[str] | None = None) -> int:
    multiprocessing.freeze_support()
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s %(levelname)s %(message)s")
    given = _parser().parse_args(arguments)
    try:
        return _run(given)
    except BadSetting as error:
        fail(str(error))
    except Refused as error:
        fail(error.message)
    except Damaged as error:
        fail(f"{error}. Put the key file back in its place, or name it with EVENSEAM_KEY")
    except OperationalError as error:
        said = str(error.orig).splitlines()[0]
        fail(f"the database cannot be used: {said}. Look at EVENSEAM_DATABASE_URL, or at EVENSEAM_DATA")
    except KeyboardInterrupt:
        return 128 + signal.SIGINT
    except (ValueError, OSError) as error:
        fail(str(error))


if __name__ == "__main__":
    raise SystemExit(main())
