"""Odd things sent to every page, as the owner, as artists and as clients: always an answer, never a fault, and the
trail still verifies.

Fields and their usual values are read off our own pages, so that each odd value comes among sensible ones.
"""

import inspect
import io
import random
import re
import struct
import sys
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from html.parser import HTMLParser
from typing import Any, get_args, get_origin
from urllib.parse import quote_plus

import httpx
import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from sqlalchemy import text
from starlette.routing import compile_path

from app.healing.models import Course
from app.intake import actions as intake
from app.platform import links
from app.platform.audit import SYSTEM
from app.platform.audit_check import Verified, verify
from app.platform.forms import Form
from app.platform.service import Service
from app.records.models import Case
from app.studio import access
from tests.conftest import Template, browser_of, copied
from tests.test_every_page import ROUTES, TABLES, address, door, first_ids

pytestmark = pytest.mark.long

POSTS = [route for route in ROUTES if route.methods == {"POST"}]
GETS = [route for route in ROUTES if route.methods == {"GET"}]
GUESTS = ("intake", "aftercare", "signing", "permissions")
SAMPLED = 2  # odd values tried in each field by itself; all of them are tried in all fields at once

ODD = (
    "",
    " ",
    "x" * 70_000,
    "a\x00b",
    "\x01\x7f\r\n\t",
    "🩹" * 50,
    "\u202eabc\u2067 שלום مرحبا",
    "-1",
    "0",
    "9" * 30,
    "9223372036854775807",
    "1e400",
    "nan",
    "-0.0000001",
    "٣",  # a digit that is not ASCII
    "0001-01-01",
    "9999-12-31",
    "2026-02-30",
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}%s{0}",
    "'; DROP TABLE clients; --",
    "[]",
    "{}",
    "null",
    '{"scar": 1, "skin": [[[1e999, 1], [null, 2], ["a"]]]}',
    '{"scar": [[[NaN, 1], [2, 2], [3, 1]]], "skin": [[[1, 1], [2, 2], [3, 1]]]}',
    "[" * 4000,
    "../../etc/passwd",
)
RAW = ("%ED%A0%80", "%FF%FE", "%", "%zz", "%00", "%F0%9F")  # as they come over the wire: not all of it is UTF-8


@dataclass
class Found:
    """A form as one of our pages shows it."""

    action: str
    values: dict[str, list[str]] = field(default_factory=dict)
    files: set[str] = field(default_factory=set)


class Reader(HTMLParser):
    """The forms of a page with what is in their fields."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Found] = []
        self._form: Found | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name in ("action", "hx-post", "data-post", "formaction"):
            if given.get(name, "").startswith("/") and (tag != "form" or given.get("method") == "post"):
                self._form = Found(given[name]) if tag == "form" or self._form is None else self._form
                self.forms.append(self._form if tag == "form" else Found(given[name], self._form.values))
        if self._form is None:
            return
        name = given.get("name", "")
        if tag == "input" and given.get("type") == "file":
            self._form.files.add(name)
        elif tag in ("input", "button", "textarea") and name:
            self._form.values.setdefault(name, []).append(given.get("value", ""))
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            self._form.values.setdefault(self._select, []).append(given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        if tag == "select":
            self._select = ""


def forms_of(page: str) -> list[Found]:
    reader = Reader()
    reader.feed(page)
    return reader.forms


def enter(service: Service, purpose: str) -> TestClient:
    """A browser with a pass of one purpose, to a form that is not sent yet, a course, a case or a client."""
    with service.database.write() as db:
        course = db.get_one(Course, 1)
        if purpose == "intake":
            _, token = intake.ask(db, db.get_one(Case, course.case_id), by=SYSTEM)
        else:
            subjects = {"aftercare": course.id, "signing": course.case_id, "permissions": course.client_id}
            subject = subjects[purpose]
            assert subject is not None
            token = links.make(db, purpose, subject, course.client_id, lasts=timedelta(days=1), by=SYSTEM)
    browser = browser_of(service)
    assert browser.post(f"/l/{token}").status_code == 303
    return browser


def browsers_of(service: Service, template: Template) -> dict[str, TestClient]:
    return {
        "owner": browser_of(service, template.crew.owner),
        **{purpose: enter(service, purpose) for purpose in GUESTS},
    }


def who_posts(route: APIRoute) -> str:
    kind = door(route)
    return kind.purpose if isinstance(kind, access.GuestAccess) else "owner"


def _addresses(route: APIRoute, service: Service) -> Iterator[str]:
    """A page at the ids of up to four rows, from the first to the newest."""
    ids = first_ids(service)
    names = [name for name in re.findall(r"{(\w+)}", route.path) if name in TABLES]
    if not names:
        yield from (route.path.replace("{address}", str(page)).replace("{token}", "none") for page in range(1, 9))
        return
    with service.database.engine.connect() as connection:
        rows = list(connection.execute(text(f"SELECT id FROM {TABLES[names[0]]} ORDER BY id")).scalars())
    for row in {*rows[:2], *rows[-2:]}:
        yield address(route, {**ids, TABLES[names[0]]: row})


@pytest.fixture(scope="module")
def known(told_template: Template, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Found]]:
    """The forms of every page, by the route that they are sent to."""
    found: dict[str, list[Found]] = {}
    patterns = {route.path: compile_path(route.path)[0] for route in POSTS}
    with copied(told_template, tmp_path_factory.mktemp("pages") / "data") as service:
        for name, browser in browsers_of(service, told_template).items():
            for route in GETS:
                if who_posts(route) != name:
                    continue
                for path in dict.fromkeys(_addresses(route, service)):
                    answer = browser.get(path)
                    if answer.status_code != 200 or "html" not in answer.headers.get("content-type", ""):
                        continue
                    for form in forms_of(answer.text):
                        plain = form.action.partition("?")[0]
                        for to, pattern in patterns.items():
                            if pattern.match(plain):
                                found.setdefault(to, []).append(form)
                                break
    return found


def _usual(annotation: Any) -> str:
    """Something that a field of this type may well hold."""
    words = str(annotation)
    if get_origin(annotation) is not None and "Literal" in words.split("[")[0]:
        return str(get_args(annotation)[0])
    if "Literal[" in words:
        return str(re.findall(r"Literal\['?([^',\]]+)", words)[0])
    if "date" in words:
        return "2026-03-10"
    if "bool" in words:
        return "yes"
    if "int" in words or "float" in words or "Finite" in words:
        return "2"
    return "Some words"


def models_of(route: APIRoute) -> list[type[Form]]:
    """The forms that a route's own module names."""
    module = sys.modules[route.endpoint.__module__]
    source = inspect.getsource(module)
    held = [*vars(module).values(), *vars(getattr(module, "forms", module)).values()]
    return [
        one
        for one in dict.fromkeys(value for value in held if inspect.isclass(value))
        if issubclass(one, Form) and one is not Form and re.search(rf"\b{one.__name__}\b", source)
    ]


@dataclass(frozen=True)
class Target:
    """Where to post, and what a browser would send there."""

    path: str
    usual: Mapping[str, str]
    files: tuple[str, ...]


def targets(route: APIRoute, known: dict[str, list[Found]], service: Service) -> list[Target]:
    fields = [item for model in models_of(route) for item in model.model_fields.items()]
    by_model = {name: _usual(info.annotation) for name, info in fields}
    chosen = {form.action: form for form in known.get(route.path, [])}
    if not chosen:
        chosen = {path: Found(path) for path in dict.fromkeys(_addresses(route, service))}
    last = [chosen[action] for action in sorted(chosen)][-1:]
    made = []
    for form in last:
        shown = {name: next((value for value in values if value), "") for name, values in form.values.items()}
        filled = {name: value or by_model.get(name, "2") for name, value in shown.items()}
        usual = filled if filled else by_model
        made.append(Target(form.action, usual, tuple(form.files) or ("photos", "photo", "drawing")))
    return made


@dataclass
class Prober:
    """Posts, and notes what was answered by a fault."""

    browser: TestClient
    faults: list[str] = field(default_factory=list)
    answers: int = 0

    def post(self, path: str, what: str, **sent: Any) -> None:
        try:
            answer = self.browser.post(path, **sent)
        except httpx.InvalidURL:
            return
        except Exception as error:
            frames = [frame for frame in inspect.trace() if "/app/" in frame.filename] or inspect.trace()
            at = f"{frames[-1].filename}:{frames[-1].lineno}"
            self.faults.append(f"{path} {what[:150]}: {type(error).__name__} at {at}: {error!s:.200}")
            return
        self.answers += 1
        if answer.status_code >= 500 or "Traceback (most" in answer.text:
            self.faults.append(f"{path} {what}: {answer.status_code}")


def odd_fields(prober: Prober, target: Target, chance: random.Random) -> None:
    names = list(target.usual)
    prober.post(target.path, "nothing")
    prober.post(target.path, "the usual", data=dict(target.usual))
    for odd in ODD:
        prober.post(target.path, f"everywhere {odd[:30]!r}", data=dict.fromkeys(names, odd))
    for name in names:
        for odd in chance.sample(ODD, SAMPLED):
            prober.post(target.path, f"{name}={odd[:30]!r}", data={**target.usual, name: odd})
        prober.post(target.path, f"{name} left out", data={k: v for k, v in target.usual.items() if k != name})
        prober.post(target.path, f"{name} many times", data={**target.usual, name: ["1", "2", "x", ""]})
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    for raw in RAW:
        body = "&".join(f"{quote_plus(name)}={raw}" for name in names)
        prober.post(target.path, f"raw {raw}", content=body.encode(), headers=form)
    prober.post(target.path, "names", content=b"%ED%A0%80=1&%00=2&&==&[a]=3&" + b"a=1&" * 2000, headers=form)


def _png(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""

    def part(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\x00" * 100)
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", pixels) + part(b"IEND", b"")


def _jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (180, 140, 120)).save(out, "JPEG")
    return out.getvalue()


def odd_files(prober: Prober, target: Target, chance: random.Random) -> None:
    jpeg = _jpeg()
    contents = (
        b"",
        b"\x00" * 300,
        jpeg,
        jpeg[: len(jpeg) // 2],
        _png(100_000, 100_000),
        _png(64, 48),
        _png(0, 0),
        b"<html><script>alert(1)</script>",
        chance.randbytes(2000),
    )
    names = ("photo.jpg", "", "../../x.png", "a\x00b.jpg", "🩹.png", "x" * 3000)
    for number, content in enumerate(contents):
        sent = [(name, (names[number % len(names)], content, "image/jpeg")) for name in target.files]
        prober.post(target.path, f"file {number}", data=dict(target.usual), files=sent)
    if target.usual:  # a file where words are expected, and words where a file is
        sent = [(name, ("a.txt", b"words", "text/plain")) for name in target.usual]
        prober.post(target.path, "files in all fields", files=sent[:11])
    prober.post(target.path, "words for files", data={**target.usual, **dict.fromkeys(target.files, "words")})
    prober.post(target.path, "many files", files=[("photos", ("a.jpg", jpeg, "image/jpeg"))] * 13)


def odd_bodies(prober: Prober, target: Target, chance: random.Random) -> None:
    part = b'--b\r\nContent-Disposition: form-data; name="%s"\r\n\r\n%s\r\n'
    names = [name.encode() for name in target.usual] or [b"words"]
    # In UTF-7, +2AA- is half of a character, which no database and no page can hold.
    halves = b"".join(part % (name, b"+2AA-") for name in names) + b"--b--\r\n"
    bodies = {
        "multipart/form-data": b"x",
        "multipart/form-data; boundary=b": b"--b\r\nnothing of the kind",
        "multipart/form-data; boundary=b; charset=utf-7": halves,
        "multipart/form-data; boundary=b; charset=none-such": halves,
        "application/json": b'{"name": [1, {}]}',
        "application/x-www-form-urlencoded; charset=utf-16": "name=x".encode("utf-16"),
        "text/plain": chance.randbytes(500),
        "": b"name=x",
    }
    for kind, body in bodies.items():
        prober.post(target.path, kind, content=body, headers={"Content-Type": kind})
    prober.post(
        target.path,
        "a very long field",
        files=[(names[0].decode(), (None, "x" * (5 * 1024 * 1024)))],
    )


def what_hypothesis_finds(prober: Prober, target: Target) -> None:
    if not target.usual:
        return
    value = st.one_of(st.text(max_size=40), st.integers().map(str), st.floats().map(str), st.dates().map(str))
    changes = st.dictionaries(st.sampled_from(sorted(target.usual)), value, min_size=1, max_size=6)

    @settings(
        max_examples=8,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(changes)
    def try_(changed: dict[str, str]) -> None:
        printable = {name: words.encode("utf-8", "replace").decode() for name, words in changed.items()}
        prober.post(target.path, repr(printable)[:200], data={**target.usual, **printable})

    try_()


def assert_all_is_well(service: Service) -> None:
    with service.database.engine.connect() as connection:
        assert isinstance(verify(connection), Verified)
        if service.database.is_sqlite:
            assert connection.execute(text("PRAGMA foreign_key_check")).first() is None


@pytest.mark.parametrize("route", POSTS, ids=lambda route: route.path)
def test_odd_things_sent_to_a_route_are_answered(
    route: APIRoute, told: Service, told_template: Template, known: dict[str, list[Found]]
) -> None:
    chance, faults = random.Random(route.path), []
    for target in targets(route, known, told):
        name = who_posts(route)
        browser = browser_of(told, told_template.crew.owner) if name == "owner" else enter(told, name)
        prober = Prober(browser)
        odd_bodies(prober, target, chance)
        odd_files(prober, target, chance)
        what_hypothesis_finds(prober, target)
        odd_fields(prober, target, chance)
        faults += prober.faults
        assert prober.answers > 40
    assert faults == []
    assert_all_is_well(told)


def test_strangers_sending_odd_things_are_answered_and_change_nothing(
    told: Service, told_template: Template, known: dict[str, list[Found]]
) -> None:
    def rows() -> int:
        with told.database.engine.connect() as connection:
            changes = "SELECT COUNT(*) FROM audit_entries WHERE action NOT LIKE 'studio.sign_in%'"
            return int(connection.execute(text(changes)).scalar_one())

    faults: list[str] = []
    for name, member in (("nobody", None), ("desk", told_template.crew.pia)):
        for route in POSTS:
            kind = door(route)
            is_theirs = isinstance(kind, access.Access) and "desk" in kind.roles
            if not isinstance(kind, access.Access | access.GuestAccess) or (is_theirs and name == "desk"):
                continue
            before, prober = rows(), Prober(browser_of(told, member))
            for target in targets(route, known, told):
                before = max(before, rows())
                for odd in (None, *ODD[::6]):
                    data = dict(target.usual) if odd is None else dict.fromkeys(target.usual, odd)
                    prober.post(target.path, f"{name} {odd!r:.30}", data=data)
            faults += prober.faults
            if rows() != before:
                faults.append(f"{name} changed something by {route.path}")
    assert faults == []
    assert_all_is_well(told)


def test_odd_questions_after_an_address_are_answered(told: Service, told_template: Template) -> None:
    ids, faults = first_ids(told), []
    browsers = browsers_of(told, told_template)
    for route in GETS:
        names = [param.alias for param in route.dependant.query_params] or ["x"]
        browser = browsers[who_posts(route)]
        for odd in ("", "x" * 5000, "%00", "%ED%A0%80", "-1", "9" * 25, "%F0%9F%A9%B9", "%27%22%3C", "nan", "a&a=b"):
            path = f"{address(route, ids)}?{'&'.join(f'{name}={odd}' for name in names)}"
            try:
                status = browser.get(path).status_code
            except Exception as error:
                faults.append(f"{path[:200]}: {type(error).__name__}: {error}"[:500])
            else:
                if status >= 500:
                    faults.append(f"{path[:200]}: {status}")
    assert faults == []
