"""Each command as a process of its own: what it prints, what it answers, how it ends."""

import fcntl
import hashlib
import json
import re
import shutil
import signal
import socket
import ssl
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import httpx
import numpy as np
import psycopg
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from app.__main__ import main
from app.colour.difference import delta_e_00
from app.consents import actions as consents
from app.demo.album import SCENES
from app.demo.build import new_password
from app.demo.photos import Rendered, Scene, render
from app.messages import actions as messages
from app.platform import audit, certificates, clock
from app.platform.audit import SYSTEM
from app.platform.audit_check import install_triggers
from app.platform.db import Database
from app.platform.settings import Settings
from app.records import actions as records
from app.records import forms as record_forms
from app.studio.models import Studio
from tests.running import (
    PATIENCE_SECONDS,
    SAME_SITE,
    answers,
    environment,
    free_port,
    run,
    running,
    signed_in,
    wait_for,
)

ROLES = ["owner", "artist", "artist", "desk"]


@dataclass(frozen=True)
class Shown:
    """A built demo studio that was stopped, and what the command printed when it built it."""

    folder: Path
    port: int
    lines: list[str]
    status: int
    answered: bool

    @property
    def sign_ins(self) -> list[tuple[str, str, str]]:
        found = [re.fullmatch(r"(owner|artist|desk): (\S+) (\S+)", line) for line in self.lines]
        return [(match[1], match[2], match[3]) for match in found if match]


def _show(folder: Path) -> Shown:
    port = free_port()
    errors = folder.with_suffix(".errors")
    arguments = ("demo", "--port", str(port), "--data", str(folder))
    with running(*arguments, env=environment(folder / "not-this-one"), errors=errors) as demo:
        demo.line("Everything in it is invented")
        answered = answers(f"http://127.0.0.1:{port}")
        status = demo.stop()
        assert demo.leaves_nothing()
        return Shown(folder, port, demo.lines, status, answered)


@pytest.fixture(scope="session")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Shown:
    """Built once a run, since painting its photos takes half a minute, though the tests may run in two processes."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if base.name.startswith("popen-") else base
    record, folder = shared / "demo.json", shared / "demo"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not record.exists():
            built = _show(folder)
            said = {name: value for name, value in vars(built).items() if name != "folder"}
            record.write_text(json.dumps(said))
    said = json.loads(record.read_text())
    return Shown(folder=folder, **said)


@pytest.fixture
def demo_folder(shown: Shown, tmp_path: Path) -> Path:
    """A copy, to be changed."""
    folder = tmp_path / "demo"
    shutil.copytree(shown.folder, folder)
    shutil.copy(shown.folder.with_name("demo.key"), folder.with_name("demo.key"))
    return folder


def test_demo_prints_its_address_and_a_line_for_each_sign_in(shown: Shown) -> None:
    assert f"Demo studio: http://127.0.0.1:{shown.port}" in shown.lines
    assert [role for role, _, _ in shown.sign_ins] == ROLES
    assert len({password for _, _, password in shown.sign_ins}) == 4
    assert shown.answered


def test_demo_told_to_stop_ends_well_and_leaves_no_process_behind(shown: Shown) -> None:
    assert shown.status == 0
    assert shown.folder.with_suffix(".errors").read_text() == ""


def test_demo_started_again_serves_the_same_studio_to_its_four_people(shown: Shown, demo_folder: Path) -> None:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    command = ("demo", "--port", str(port), "--data", str(demo_folder))
    with running(*command, env=environment(demo_folder), errors=demo_folder.with_suffix(".errors")) as demo:
        demo.line("Everything in it is invented")
        assert not any("Building" in line for line in demo.lines)
        assert [line for line in demo.lines if re.match("owner|artist|desk", line)] == [
            f"{role}: {login} {password}" for role, login, password in shown.sign_ins
        ]
        for role, login, password in shown.sign_ins:
            with signed_in(address, login, password) as browser:
                assert browser.get("/today").status_code == 200
                assert browser.get("/studio").status_code == (200 if role == "owner" else 404)
                assert browser.get("/cases/1").status_code == (404 if role == "desk" else 200)
        with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.2", port), timeout=5):
            pass  # another address of this machine: it listens on the one it names only
        wait_for(demo.workers, "the worker did not begin")
        assert demo.stop(signal.SIGINT) == 0
        assert demo.leaves_nothing()
    assert demo_folder.with_suffix(".errors").read_text() == ""


def test_passwords_are_made_anew_for_each_folder() -> None:
    assert len({new_password() for _ in range(50)}) == 50
    assert all(len(new_password()) >= 12 for _ in range(50))


def test_demo_leaves_a_folder_with_another_studio_alone(tmp_path: Path) -> None:
    folder = tmp_path / "real"
    env = environment(folder)
    assert run("owner", env=env, given="Studio\nGB\nEurope/London\nAda\nada\ncorrect horse 42\n").returncode == 0
    before = (folder / "evenseam.sqlite3").read_bytes()
    ended = run("demo", "--port", str(free_port()), "--data", str(folder), env=env)
    assert ended.returncode == 2
    assert "not the demo; give another folder with --data" in ended.stderr
    assert (folder / "evenseam.sqlite3").read_bytes() == before


def test_a_demo_whose_building_broke_off_says_what_to_do(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    command = ("demo", "--port", str(free_port()), "--data", str(folder))
    with running(*command, env=environment(folder), errors=tmp_path / "errors") as demo:
        demo.line("Building")
        assert demo.stop() == 128 + signal.SIGTERM
        assert demo.leaves_nothing()
    ended = run(*command, env=environment(folder))
    assert ended.returncode == 2
    assert "delete that folder" in ended.stderr


def check(folder: Path) -> tuple[int, str]:
    ended = run("check", "--data", str(folder), env=environment(folder.with_name("not-this-one")))
    assert ended.stderr == ""
    return ended.returncode, ended.stdout


def test_check_passes_a_studio_that_verifies(shown: Shown) -> None:
    status, words = check(shown.folder)
    assert status == 0
    said, head = words.splitlines()
    assert re.fullmatch(r"Everything verifies: \d{3,} audit entries .*, \d+ stored files, \d+ signed papers .*\.", said)
    assert re.fullmatch(r"Head of the trail: [0-9a-f]{64}", head)


def change(folder: Path, statement: str) -> None:
    """As whoever owns the file could: past the triggers, which are put back as if nothing had been."""
    database = Database(Settings(folder, f"sqlite:///{folder / 'evenseam.sqlite3'}", folder.with_name("demo.key")))
    with database.engine.connect() as connection:
        for name in ("audit_entries_no_update", "audit_bodies_no_update", "audit_entries_no_delete"):
            connection.execute(text(f"DROP TRIGGER {name}"))
        connection.execute(text(statement))
        install_triggers(connection)
        connection.commit()
    database.close()


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("UPDATE audit_entries SET actor_id = 3 WHERE seq = 17", "FAULT: entry 17 was changed"),
        ("UPDATE audit_bodies SET body = '{\"rows\":[]}' WHERE seq = 18", "FAULT: the content of entry 18 was changed"),
    ],
)
def test_check_names_a_changed_entry_by_its_number(demo_folder: Path, statement: str, fault: str) -> None:
    change(demo_folder, statement)
    status, words = check(demo_folder)
    assert status == 1
    assert words.startswith(fault)


def test_check_names_a_file_in_which_one_byte_changed(demo_folder: Path) -> None:
    file = max((demo_folder / "files").rglob("*.blob"), key=lambda path: path.stat().st_size)
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    status, words = check(demo_folder)
    assert status == 1
    assert re.match(r"FAULT: file \d+ was altered", words)


def test_check_of_a_folder_without_a_studio_makes_none(tmp_path: Path) -> None:
    ended = run("check", "--data", str(tmp_path / "typo"), env=environment(tmp_path / "data"))
    assert ended.returncode == 2
    assert "there is no studio" in ended.stderr
    assert not (tmp_path / "typo").exists()


FIRST = {
    "studio_name": "Still Water", "country": "GB", "zone": "Europe/London", "name": "Ada", "login": "ada",
    "password": "correct horse 42",
}  # fmt: skip


def test_serve_on_an_empty_folder_leads_its_owner_through_first_run(tmp_path: Path) -> None:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    env = environment(tmp_path / "data", EVENSEAM_PORT=str(port))
    with running("serve", env=env, errors=tmp_path / "errors") as serve:
        assert serve.line("Evenseam listens").endswith(address)
        code = serve.line("First run").split("this code: ")[1]
        assert answers(address)
        with httpx.Client(base_url=address, headers=SAME_SITE, timeout=PATIENCE_SECONDS) as browser:
            assert browser.get("/").headers["location"] == "/first-run"
            wrong = browser.post("/first-run", data={**FIRST, "code": "0000-0000-0000"})
            assert wrong.status_code == 422
            assert "not the code that the console shows" in wrong.text
            assert browser.post("/first-run", data={**FIRST, "code": code}).status_code == 303
            assert browser.get("/today").status_code == 200
            assert browser.get("/first-run").status_code == 404
        assert run("serve", env=env).returncode == 2, "the port is taken"
        assert serve.stop() == 0
        assert serve.leaves_nothing()
    assert (tmp_path / "errors").read_text() == ""
    with running("serve", env=env, errors=tmp_path / "errors") as serve:
        serve.line("Evenseam listens")
        with signed_in(address, "ada", FIRST["password"]) as browser:
            assert browser.get("/today").status_code == 200
        assert not any("First run" in line for line in serve.lines)


def test_certificate_makes_https_once_and_says_what_to_compare_and_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = ["--data", str(tmp_path / "data")]
    assert main(["certificate", "--name", "studio.test", "--address", "192.168.1.20", *folder]) == 0
    first = capsys.readouterr().out
    assert "for studio.test, 192.168.1.20, localhost, 127.0.0.1 and ::1" in first
    groups = re.findall(r"^    ((?:[0-9A-F]{2} ){7}[0-9A-F]{2})$", first, re.MULTILINE)
    digest = hashlib.sha256((tmp_path / "data.tls" / "studio-ca.crt").read_bytes()).hexdigest()
    assert "".join(groups).replace(" ", "").lower() == digest
    assert "EVENSEAM_HOST=0.0.0.0 evenseam serve" in first
    assert main(["certificate", *folder]) == 0
    again = capsys.readouterr().out
    assert "tablets that trust it need nothing new" in again
    assert "for studio.test, 192.168.1.20," in again
    assert not re.search("PRIVATE|BEGIN", first + again)
    assert not (tmp_path / "data").exists()


def test_serve_with_a_certificate_is_https_and_leads_tablets_there(tmp_path: Path) -> None:
    port, plain_port = free_port(), free_port()
    with clock.stopped_at(datetime.now(UTC)):
        certificates.make(tmp_path / "data.tls", ("studio.test", "127.0.0.1"))
    address = f"https://127.0.0.1:{port}"
    env = environment(tmp_path / "data", EVENSEAM_PORT=str(port), EVENSEAM_TRUST_PORT=str(plain_port))
    trusting = ssl.create_default_context(cafile=tmp_path / "data.tls" / "studio-ca.pem")
    with running("serve", env=env, errors=tmp_path / "errors") as serve:
        assert serve.line("Evenseam listens").endswith(address)
        code = serve.line("First run").split("this code: ")[1]
        plain = serve.line("A tablet that does not trust it yet").split(" begins at ")[1]
        fingerprint = serve.line("and compares").split(": ")[1]
        assert plain == f"http://127.0.0.1:{plain_port}/trust"
        page = httpx.get(plain, timeout=PATIENCE_SECONDS)
        assert " ".join(re.findall(r"<code>((?:[0-9A-F]{2} ?)+)</code>", page.text)) == fingerprint
        assert httpx.get(f"http://127.0.0.1:{plain_port}/sign-in").headers["location"] == f"{address}/sign-in"
        with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
            httpx.get(address, timeout=PATIENCE_SECONDS)
        with pytest.raises(httpx.TransportError):
            httpx.get(f"http://127.0.0.1:{port}/health", timeout=PATIENCE_SECONDS)
        with httpx.Client(base_url=address, headers=SAME_SITE, verify=trusting, timeout=PATIENCE_SECONDS) as browser:
            founded = browser.post("/first-run", data={**FIRST, "code": code})
            cookie = founded.headers["set-cookie"]
            assert cookie.startswith("__Host-evenseam_member=")
            assert all(flag in cookie for flag in ("; Secure", "; HttpOnly", "; Path=/", "; SameSite=lax"))
            assert "omain=" not in cookie
            assert founded.headers["strict-transport-security"] == "max-age=31536000"
            assert browser.get("/today").status_code == 200
            ended = browser.post("/sign-out").headers["set-cookie"]
            assert ended.startswith('__Host-evenseam_member="";'), (
                "a browser keeps one that is not ended as it was given"
            )
            assert "; Secure" in ended
        assert serve.stop() == 0
        assert serve.leaves_nothing()
    assert (tmp_path / "errors").read_text() == ""


def test_a_killed_service_takes_its_worker_with_it(tmp_path: Path) -> None:
    env = environment(tmp_path / "data", EVENSEAM_PORT=str(free_port()))
    with running("serve", env=env, errors=tmp_path / "errors") as serve:
        serve.line("Evenseam listens")
        wait_for(serve.workers, "the worker did not begin")
        serve.process.kill()
        serve.process.wait()
        wait_for(lambda: not serve.family(), "the worker went on alone")


def test_migrate_says_so_and_may_be_repeated(tmp_path: Path) -> None:
    env = environment(tmp_path / "data")
    for _ in range(2):
        ended = run("migrate", env=env)
        assert (ended.returncode, ended.stdout, ended.stderr) == (0, "The database is up to date.\n", "")
    assert check(tmp_path / "data")[0] == 0


def test_owner_makes_the_studio_once(tmp_path: Path) -> None:
    env = environment(tmp_path / "data")
    given = "Still Water\nGB\nEurope/London\nAda\nAda\n{}\n"
    for wrong, words in (("short", "password: "), ("aaaaaaaaaaaaaa", "Use more different characters")):
        ended = run("owner", env=env, given=given.format(wrong))
        assert ended.returncode == 2
        assert words in ended.stderr
    ended = run("owner", env=env, given="Still Water\nGB\n")
    assert ended.returncode == 2
    assert "nothing was made" in ended.stderr
    ended = run("owner", env=env, given=given.format("correct horse 42"))
    assert (ended.returncode, ended.stderr) == (0, "")
    again = run("owner", env=env, given=given.format("correct horse 42"))
    assert again.returncode == 2
    assert "stands already" in again.stderr


ANSWERS = {
    "country": "GB",
    "answers": {
        "born_on": "1990-05-14", "pregnant": "no", "skin_conditions": ["none"], "isotretinoin": "yes",
        "isotretinoin_on": "2026-03",
        "scars": [{"id": "s1", "site": "forearm", "side": "left", "kind": "flat_pale", "happened": "2023-05"}],
    },
}  # fmt: skip


def test_screen_prints_findings(tmp_path: Path) -> None:
    file = tmp_path / "answers.json"
    file.write_text(json.dumps(ANSWERS))
    ended = run("screen", str(file), "--on", "2026-03-14", "--json", env=environment(tmp_path / "data"))
    assert (ended.returncode, ended.stderr) == (0, "")
    found = json.loads(ended.stdout)
    assert "isotretinoin" in {finding["rule_id"] for finding in found["findings"]}
    assert [scar["scar_id"] for scar in found["scars"]] == ["s1"]
    assert not (tmp_path / "data").exists()


def written(folder: Path, scene: Scene) -> tuple[Path, Path, Rendered]:
    photo, outlines, picture = folder / "photo.jpg", folder / "outlines.json", render(scene)
    photo.write_bytes(picture.jpeg)
    outlines.write_text(json.dumps({"scar": [picture.scar_outline.tolist()], "skin": [picture.skin_outline.tolist()]}))
    return photo, outlines, picture


def test_measure_reads_a_photo_with_a_chart_near_the_truth(tmp_path: Path) -> None:
    photo, outlines, picture = written(tmp_path, SCENES["forearm before"])
    ended = run("measure", str(photo), str(outlines), "--json", env=environment(tmp_path / "data"))
    assert (ended.returncode, ended.stderr) == (0, "")
    found = json.loads(ended.stdout)
    assert found["chart_found"]
    assert found["reading"]["state"] in ("measured", "caution")
    for read, painted in (
        (found["reading"]["lab_skin"], picture.truth.skin_lab_d65),
        (found["reading"]["lab_scar"], picture.truth.scar_lab_d65),
    ):
        assert float(delta_e_00(np.array(read), np.array(painted))) < 4
    assert not (tmp_path / "data").exists()


def test_measure_of_a_photo_without_a_chart_says_no_more_than_the_difference(tmp_path: Path) -> None:
    scene = Scene(5, (63.0, 10.2, 18.1), (70.0, 8.4, 12.6), "patch", width=800, height=600, chart=None)
    photo, outlines, _ = written(tmp_path, scene)
    ended = run("measure", str(photo), str(outlines), "--json", env=environment(tmp_path / "data"))
    found = json.loads(ended.stdout)
    assert (found["chart_found"], found["calibration"]) == (False, None)
    assert found["reading"]["state"] == "relative"


WRONG: dict[str, tuple[list[str], dict[str, str], str]] = {
    "no command": ([], {}, "COMMAND"),
    "an unknown command": (["sevre"], {}, "invalid choice: 'sevre' (choose from"),
    "a day that is none": (["screen", "a.json", "--on", "yesterday", "--json"], {}, "give one like 2026-03-14"),
    "a port that is none": (["demo", "--port", "99999"], {}, "give a number from 1 to 65535"),
    "no such file of answers": (["screen", "absent.json", "--on", "2026-03-14", "--json"], {}, "cannot be read"),
    "answers that are not JSON": (["screen", "broken.json", "--on", "2026-03-14", "--json"], {}, "is not JSON"),
    "no such photo": (["measure", "absent.jpg", "broken.json", "--json"], {}, "cannot be opened"),
    "a photo that is none": (["measure", "broken.json", "broken.json", "--json"], {}, "cannot be read as a photo"),
    "a port setting that is none": (["serve"], {"EVENSEAM_PORT": "abc"}, "EVENSEAM_PORT: 'abc' is not a port"),
    "a tick setting that is none": (["serve"], {"EVENSEAM_TICK": "maybe"}, "give on or off"),
    "a mail address without a host": (["serve"], {"EVENSEAM_MAIL_URL": "smtp://"}, "give smtp://"),
    "a mail port that is none": (["serve"], {"EVENSEAM_MAIL_URL": "smtp://host:x"}, "give smtp://"),
    "a database of another kind": (["serve"], {"EVENSEAM_DATABASE_URL": "other://x"}, "give sqlite:///FILE or"),
    "a setting's file that is missing": (["serve"], {"EVENSEAM_PORT_FILE": "absent"}, "EVENSEAM_PORT_FILE: cannot"),
    "a database that does not answer": (
        ["tick"], {"EVENSEAM_DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none"}, "the database cannot be used",
    ),
    "a host name that is none": (["certificate", "--name", "two words"], {}, "'two words' is not a host name"),
    "an address that is none": (["certificate", "--address", "10.0.0"], {}, "'10.0.0' is not an IP address"),
    "a certificate for too long": (["certificate", "--days", "999"], {}, "--days: give 1 to 397"),
    "half of a certificate": (["serve"], {"EVENSEAM_TLS_CERT": "a.pem"}, "give both or neither"),
    "a folder that cannot be made": (["migrate"], {"EVENSEAM_DATA": "/proc/none/data"}, "/proc/none"),
    "tick before there is a database": (["tick"], {}, "run `evenseam migrate`"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_a_mistake_ends_with_2_and_says_what_to_do(
    case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments, given, words = WRONG[case]
    (tmp_path / "broken.json").write_text("{")
    for name, value in {"EVENSEAM_DATA": str(tmp_path / "data"), **given}.items():
        monkeypatch.setenv(name, value)
    located = [str(tmp_path / word) if word.endswith((".json", ".jpg")) else word for word in arguments]
    with pytest.raises(SystemExit) as ended:  # in this process: starting one takes seconds, and there are many mistakes
        main(located)
    said = capsys.readouterr()
    assert ended.value.code == 2, said.err
    assert words in said.err
    assert said.out == ""


def test_a_mistake_is_said_by_the_process_as_well(tmp_path: Path) -> None:
    ended = run("serve", env=environment(tmp_path / "data", EVENSEAM_PORT="abc"))
    assert ended.returncode == 2
    assert ended.stderr == "evenseam: EVENSEAM_PORT: 'abc' is not a port; give a number from 1 to 65535\n"
    assert not (tmp_path / "data").exists()


@dataclass(frozen=True)
class Installation:
    """A database and what connects to it: who owns it, and whom app and tick come as."""

    folder: Path
    owner_url: str
    app_url: str
    app_role: str

    def env(self, *, as_owner: bool = False, **more: str) -> dict[str, str]:
        url = self.owner_url if as_owner else self.app_url
        return environment(self.folder, EVENSEAM_DATABASE_URL=url, EVENSEAM_TICK="off", **more)


@pytest.fixture
def installation(postgres: str, tmp_path: Path) -> Iterator[Installation]:
    """As docker-compose.yml sets it up: on PostgreSQL an owner role and a lesser one; on SQLite one file."""
    if not postgres:
        url = f"sqlite:///{tmp_path / 'data' / 'evenseam.sqlite3'}"
        yield Installation(tmp_path / "data", url, url, "")
        return
    name = f"evenseam_{uuid.uuid4().hex[:10]}"
    owner, app = f"{name}_owner", f"{name}_app"
    server, _, database_query = postgres.partition("?")
    address = server.rsplit("@", 1)[-1].rsplit("/", 1)[0]
    query = f"?{database_query}" if database_query else ""
    with psycopg.connect(postgres, autocommit=True) as connection:
        for role in (owner, app):
            connection.execute(f"CREATE ROLE {role} LOGIN PASSWORD 'told'")  # names made here, never from outside
        connection.execute(f"CREATE DATABASE {name} OWNER {owner}")
        try:
            as_owner, as_app = (f"postgresql://{role}:told@{address}/{name}{query}" for role in (owner, app))
            yield Installation(tmp_path / "data", as_owner, as_app, app)
        finally:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
            connection.execute(f"DROP ROLE {app}")
            connection.execute(f"DROP ROLE {owner}")


TAMPERING = (
    "UPDATE audit_entries SET actor_id = 7",
    "DELETE FROM audit_entries",
    "UPDATE audit_bodies SET body = '{}'",
    "DELETE FROM audit_bodies",
)
ONLY_ON_POSTGRESQL = (
    "TRUNCATE audit_entries CASCADE",
    "TRUNCATE audit_bodies",
    "DROP TRIGGER audit_entries_guard ON audit_entries",
    "ALTER TABLE audit_entries DISABLE TRIGGER ALL",
    "DROP TABLE audit_bodies",
    "CREATE OR REPLACE FUNCTION audit_guard() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
    "SET session_replication_role = replica",
)


def open_database(folder: Path, url: str) -> Database:
    return Database(Settings(folder, url.replace("postgresql://", "postgresql+psycopg://"), folder / "unused.key"))


def plan_a_message(database: Database) -> None:
    """To a client who agreed, due since this morning at a studio that is open day and night."""
    with clock.stopped_at(datetime.now(UTC)), database.write() as db:
        with audit.entry(db, "test.opened", SYSTEM):
            studio = db.get_one(Studio, 1)
            studio.opens_at = "00:00"
            db.add(studio)
        client = records.add_client(db, record_forms.NewClient(name="Nora", email="nora@example.org"), by=SYSTEM)
        assert client.id is not None
        document = consents.keep_document(db, "permissions", "1", "May we write?", by=SYSTEM)
        signature = consents.sign(db, client.id, document, typed_name="Nora", drawing=None, by=SYSTEM)
        consents.answer(db, client.id, "reminders_email", True, signature, by=SYSTEM)
        messages.plan(
            db,
            unique_key="1",
            client_id=client.id,
            template="check_in",
            purpose="aftercare",
            subject_id=1,
            due_on=clock.today("Europe/London"),
            time_zone="Europe/London",
            opens_at="00:00",
            by=SYSTEM,
        )


def test_the_services_of_the_compose_file_work_together(installation: Installation, tmp_path: Path) -> None:
    at = installation
    ended = run("serve", env=at.env()) if at.app_role else None
    assert ended is None or ended.returncode == 2, "on PostgreSQL nothing is migrated by the way"
    assert run("migrate", env=at.env(as_owner=True, EVENSEAM_APP_ROLE=at.app_role)).returncode == 0
    port = free_port()
    with running("serve", env=at.env(EVENSEAM_PORT=str(port)), errors=tmp_path / "serve.errors") as serve:
        code = serve.line("First run").split("this code: ")[1]
        first = httpx.post(f"http://127.0.0.1:{port}/first-run", data={**FIRST, "code": code}, timeout=PATIENCE_SECONDS)
        assert first.status_code == 303
        assert serve.workers() == []
        database = open_database(at.folder, at.app_url)
        plan_a_message(database)
        with running("tick", env=at.env(), errors=tmp_path / "tick.errors") as tick:
            letter = at.folder / "outbox" / "message-1.json"
            wait_for(letter.exists, "the message was not sent")
            assert json.loads(letter.read_text())["to"] == "nora@example.org"
            wait_for((at.folder / "audit-heads.jsonl").exists, "the head was not written down")
            assert tick.stop() == 0
            assert tick.leaves_nothing()
        for statement in TAMPERING + (ONLY_ON_POSTGRESQL if at.app_role else ()):
            with database.engine.connect() as connection, pytest.raises(DBAPIError):
                connection.execute(text(statement))
        database.close()
        assert serve.stop() == 0
    for name in ("serve", "tick"):
        assert (tmp_path / f"{name}.errors").read_text() == ""
    ended = run("check", env=at.env())
    assert (ended.returncode, ended.stderr) == (0, "")
