"""A real database for every test, copied from one template; browsers that are signed in by a row, not by the form."""

import gc
import shutil
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest
from fastapi.testclient import TestClient

from app.demo.cast import PEOPLE, Crew, found_studio
from app.main import create_app
from app.platform import clock
from app.platform.migrate import migrate
from app.platform.service import Service
from app.platform.settings import Settings
from app.studio import actions as studio_actions
from app.studio.access import cookie_name
from app.studio.models import Member
from tests.postgres import server_url
from tests.told import tell

# Thousands of apps and databases come and go: the usual threshold spends an eighth of the run on looking for rubbish.
gc.set_threshold(100_000, 50, 100)
NOW = datetime(2026, 3, 16, 10, 0, tzinfo=UTC)
PASSWORDS = {login: f"correct horse {login} 42" for _, login, _ in PEOPLE}


# The second database is asked in brief each time and in full in the long run: of a file about one action the first
# tests, and all about the machinery and every page.
FIRST_TESTS = 2


def _is_whole(file: Path) -> bool:
    return file.parent.name in ("platform", "tests")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--postgres", action="store_true", help="run on PostgreSQL instead of SQLite")
    parser.addoption("--brief", action="store_true", help="of most files only the first tests: see FIRST_TESTS")
    parser.addoption("--long", action="store_true", help="also run the tests marked long")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Long tests only when asked for; on PostgreSQL only what touches a database, since the rest cannot differ."""
    seen: Counter[Path] = Counter()

    def is_wanted(item: pytest.Item) -> bool:
        if item.get_closest_marker("long") and not config.getoption("--long"):
            return False
        fixtures = set(getattr(item, "fixturenames", ()))
        if config.getoption("--postgres") and not fixtures & {"template", "told_template", "postgres"}:
            return False
        seen[item.path] += 1
        return not config.getoption("--brief") or _is_whole(item.path) or seen[item.path] <= FIRST_TESTS

    wanted = [(item, is_wanted(item)) for item in items]  # asked once of each: the first tests of a file are counted
    config.hook.pytest_deselected(items=[item for item, kept in wanted if not kept])
    items[:] = [item for item, kept in wanted if kept]


def settings_for(folder: Path, url: str = "") -> Settings:
    return Settings(
        data=folder,
        database_url=url or f"sqlite:///{folder / 'evenseam.sqlite3'}",
        key=folder.with_name(folder.name + ".key"),
        tick=False,
        base_url="http://testserver",
    )


@dataclass(frozen=True)
class Template:
    """The studio as every test finds it: migrated, with its four members."""

    folder: Path
    postgres: str  # the server's address with the name of the template database, or nothing
    crew: Crew


@pytest.fixture(scope="session")
def postgres(request: pytest.FixtureRequest) -> Iterator[str]:
    if not request.config.getoption("--postgres"):
        yield ""
        return
    with server_url() as url:
        yield url


def _run_on_server(url: str, statement: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(statement)  # names made here, never from outside


def _named(url: str, name: str) -> str:
    base, _, query = url.partition("?")
    return f"{base.rsplit('/', 1)[0]}/{name}" + (f"?{query}" if query else "")


def _for_app(url: str) -> str:
    return url.replace("postgresql://", "postgresql+psycopg://", 1)


def _found(service: Service) -> Crew:
    return found_studio(service, PASSWORDS)


def _told(service: Service) -> Crew:
    return tell(service, PASSWORDS).crew


@contextmanager
def made(folder: Path, postgres: str, fill: Callable[[Service], Crew]) -> Iterator[Template]:
    """A database and folder to copy from, filled once."""
    name = f"evenseam_template_{uuid.uuid4().hex[:10]}"
    if postgres:
        _run_on_server(postgres, f"CREATE DATABASE {name}")
    service = Service.open(settings_for(folder, _for_app(_named(postgres, name)) if postgres else ""))
    with clock.stopped_at(NOW):
        migrate(service.database)
        crew = fill(service)
    service.database.close()
    folder.mkdir(exist_ok=True)
    yield Template(folder, _named(postgres, name) if postgres else "", crew)
    if postgres:
        _run_on_server(postgres, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory, postgres: str) -> Iterator[Template]:
    with made(tmp_path_factory.mktemp("template") / "data", postgres, _found) as template:
        yield template


@pytest.fixture(scope="session")
def told_template(tmp_path_factory: pytest.TempPathFactory, postgres: str) -> Iterator[Template]:
    with made(tmp_path_factory.mktemp("told") / "data", postgres, _told) as template:
        yield template


@contextmanager
def copied(template: Template, folder: Path) -> Iterator[Service]:
    """A service on a copy of the template: a file on SQLite, a templated database on PostgreSQL."""
    name = f"evenseam_{uuid.uuid4().hex[:12]}"
    shutil.copytree(template.folder, folder)
    if (key := template.folder.with_name(template.folder.name + ".key")).exists():
        shutil.copy(key, folder.with_name(folder.name + ".key"))
    if template.postgres:
        _run_on_server(
            _named(template.postgres, "postgres"),
            f"CREATE DATABASE {name} TEMPLATE {template.postgres.rsplit('/', 1)[1].partition('?')[0]}",
        )
    url = _for_app(_named(template.postgres, name)) if template.postgres else ""
    service = Service.open(settings_for(folder, url))
    try:
        yield service
    finally:
        service.database.close()
        if template.postgres:
            _run_on_server(_named(template.postgres, "postgres"), f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(autouse=True)
def _on_a_known_day() -> Iterator[None]:
    with clock.stopped_at(NOW):
        yield


@pytest.fixture
def service(template: Template, tmp_path: Path) -> Iterator[Service]:
    with copied(template, tmp_path / "data") as service:
        yield service


@pytest.fixture
def told(told_template: Template, tmp_path: Path) -> Iterator[Service]:
    """A copy of the made-up studio with its six clients."""
    with copied(told_template, tmp_path / "data") as service:
        yield service


@pytest.fixture
def crew(template: Template) -> Crew:
    return template.crew


Browser = TestClient


def browser_of(service: Service, member: Member | None = None) -> Browser:
    """A browser that sends what real ones send; signed in when a member is given."""
    browser = TestClient(
        create_app(service),
        base_url=service.settings.address,
        follow_redirects=False,
        headers={"Sec-Fetch-Site": "same-origin"},
    )
    if member is not None:
        with service.database.write() as db:
            browser.cookies.set(cookie_name(service), studio_actions.sign_in(db, member))
    return browser


@pytest.fixture
def browse(service: Service, crew: Crew) -> Callable[[str], Browser]:
    """`browse("owner")`, `browse("tomas")`, `browse("nobody")`."""
    people = {"owner": crew.owner, "tomas": crew.tomas, "ruth": crew.ruth, "desk": crew.pia, "nobody": None}

    def of(name: str) -> Browser:
        return browser_of(service, people[name])

    return of
