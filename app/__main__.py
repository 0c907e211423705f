"""The command line: `evenseam` or `python -m app`."""

import argparse
import contextlib
import getpass
import json
import logging
import multiprocessing
import sys
from datetime import date
from pathlib import Path
from typing import NoReturn

import uvicorn

from app.check_command import check
from app.demo.build import Cast, build_demo, is_empty
from app.main import create_app
from app.measure_command import measure_file
from app.platform import images
from app.platform.audit import SYSTEM
from app.platform.forms import Posted, Refused, fill
from app.platform.migrate import faults, migrate
from app.platform.service import Service
from app.platform.settings import BadSetting, Settings, read_settings
from app.screen_command import screen_file
from app.studio import actions, forms
from app.studio.models import Studio
from app.studio.passwords import hash_password
from app.tick import Ticking
from app.tick import run as run_tick


def say(*words: object) -> None:
    print(*words, flush=True)


def fail(words: str) -> NoReturn:
    print(f"evenseam: {words}", file=sys.stderr, flush=True)
    raise SystemExit(2)


def _serve(service: Service) -> None:
    """Serves until told to stop; with the tick loop and one worker unless EVENSEAM_TICK is off."""
    settings = service.settings
    config = uvicorn.Config(
        create_app(service),
        host=settings.host,
        port=settings.port,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=10,
    )
    server = uvicorn.Server(config)
    with Ticking(service) if settings.tick else contextlib.nullcontext():
        server.run()
    service.database.close()


def serve(settings: Settings) -> None:
    service = Service.open(settings)
    if service.database.is_sqlite:
        migrate(service.database)  # one machine, one process: nobody else to ask
    if found := faults(service.database):
        fail(found[0])
    service.storage.put(b"", "probe") if not settings.key.exists() else None
    with service.database.read() as db:
        is_new = db.get(Studio, 1) is None
    say(f"Evenseam listens on {settings.address}")
    if is_new:
        say(f"First run: open {settings.address}/first-run and give this code: {service.first_run_code}")
    _serve(service)


def demo(port: int | None, data: Path | None) -> None:
    folder = data or Path.home() / ".local" / "share" / "evenseam-demo"
    read = read_settings(data=folder, demo=True)
    settings = Settings(
        data=folder.expanduser().absolute(),
        database_url=f"sqlite:///{folder.expanduser().absolute() / 'evenseam.sqlite3'}",
        key=folder.expanduser().absolute().with_name(folder.name + ".key"),
        host="127.0.0.1",
        port=port or read.port,
        tick=read.tick,
        demo=True,
    )
    service = Service.open(settings)
    migrate(service.database)
    sign_ins = settings.data / "demo-sign-ins.json"
    if is_empty(service):
        say("Building the demo studio (an invented scenario, rendered photos) …")
        cast: Cast = build_demo(service, say=say)
        sign_ins.write_text(json.dumps([list(line) for line in cast.sign_ins]), encoding="utf-8")
        sign_ins.chmod(0o600)
    elif not sign_ins.exists():
        fail(f"{settings.data} holds a studio that is not the demo; give another folder with --data")
    say(f"Demo studio: {settings.address}")
    for role, login, password in json.loads(sign_ins.read_text(encoding="utf-8")):
        say(f"{role}: {login} {password}")
    say("Everything in it is invented. Messages go to the folder", settings.outbox)
    _serve(service)


def make_owner(settings: Settings) -> None:
    """The first account from the console, for a studio that is set up without a browser."""
    service = Service.open(settings)
    migrate(service.database)
    texts = {
        name: [input(f"{words}: ").strip()]
        for name, words in (
            ("studio_name", "Studio"),
            ("country", "Country (GB, IE, US, DE, FR, ES or OTHER)"),
            ("zone", "Time zone, like Europe/London"),
            ("name", "Your name"),
            ("login", "Sign-in name"),
        )
    }
    texts["password"] = [getpass.getpass("Password, 12 characters or more: ")]
    filled = fill(forms.FirstRun, Posted({**texts, "code": ["console"]}, {}))
    if not filled.ok:
        fail("; ".join(f"{name}: {message}" for name, message in filled.errors.items()))
    password_hash = hash_password(filled.sure.password)
    with service.database.write() as db:
        actions.found(db, filled.sure, password_hash, by=SYSTEM)
    say("Done. Start the service with: evenseam serve")


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
    demo_.add_argument("--port", type=int)
    demo_.add_argument("--data", type=Path, metavar="DIR")
    commands.add_parser("serve", help="serve the studio; a new one leads its owner through first run")
    commands.add_parser("tick", help="send due messages and do slow work, where serve has EVENSEAM_TICK=off")
    commands.add_parser("migrate", help="bring the database up to this version")
    commands.add_parser("owner", help="make the studio and its owner's account from the console")
    check_ = commands.add_parser("check", help="verify the audit trail, its triggers and every stored file")
    check_.add_argument("--data", type=Path, metavar="DIR")
    screen_ = commands.add_parser("screen", help="answers to findings, without a database")
    screen_.add_argument("file", type=Path, metavar="FILE.json")
    screen_.add_argument(
        "--on", type=date.fromisoformat, required=True, metavar="DATE", help="the day, like 2026-03-14"
    )
    screen_.add_argument("--json", action="store_true", required=True, help="print JSON")
    measure_ = commands.add_parser("measure", help="a photo and outlines to a reading, without a database")
    measure_.add_argument("photo", type=Path, metavar="PHOTO")
    measure_.add_argument("outlines", type=Path, metavar="OUTLINES.json")
    measure_.add_argument("--json", action="store_true", required=True, help="print JSON")
    return parser


def _run(given: argparse.Namespace) -> int:
    match given.command:
        case "demo":
            demo(given.port, given.data)
        case "serve":
            serve(read_settings())
        case "tick":
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
        case "check":
            return check(read_settings(data=given.data), say)
        case "screen":
            say(json.dumps(screen_file(given.file, given.on), ensure_ascii=False, indent=1))
        case "measure":
            result = measure_file(given.photo, given.outlines, decode=lambda content: images.decode(content).srgb8)
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
    except (ValueError, OSError) as error:
        fail(str(error))


if __name__ == "__main__":
    raise SystemExit(main())
