from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from starlette.datastructures import Headers

from app.platform import guard
from app.platform.guard import HEADERS, is_same_site

Browse = Callable[[str], TestClient]


@pytest.mark.parametrize(
    ("method", "headers", "passes"),
    [
        ("GET", {"sec-fetch-site": "cross-site"}, True),
        ("POST", {"sec-fetch-site": "same-origin"}, True),
        ("POST", {"sec-fetch-site": "none"}, True),
        ("POST", {"sec-fetch-site": "same-site"}, False),
        ("POST", {"sec-fetch-site": "cross-site"}, False),
        ("POST", {"origin": "http://studio.test", "host": "studio.test"}, True),
        ("POST", {"origin": "http://evil.test", "host": "studio.test"}, False),
        ("POST", {"origin": "null", "host": "studio.test"}, False),
        ("POST", {"host": "studio.test"}, True),
        ("POST", {"host": "studio.test", "cookie": "evenseam_member=x"}, False),
        ("DELETE", {"sec-fetch-site": "cross-site"}, False),
    ],
)
def test_only_our_own_pages_may_write(method: str, headers: dict[str, str], passes: bool) -> None:
    assert is_same_site(method, Headers(headers)) is passes


def test_a_write_from_another_site_is_not_taken(browse: Browse) -> None:
    answer = browse("owner").post("/sign-out", headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 403


@pytest.mark.parametrize("path", ["/sign-in", "/studio", "/nowhere", "/health"])
def test_every_answer_carries_the_headers(browse: Browse, path: str) -> None:
    answer = browse("owner").get(path)
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    assert answer.headers["Cache-Control"] == "no-store"


def test_static_files_may_be_kept(browse: Browse) -> None:
    assert browse("nobody").get("/static/css/tokens.css").headers["Cache-Control"] == "public, no-cache"


def test_a_body_over_the_limit_is_refused(browse: Browse, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "MAX_BODY", 1000)
    browser = browse("nobody")
    assert browser.post("/sign-in", content=b"x" * 2000).status_code == 413

    def stream() -> object:
        for _ in range(20):
            yield b"login=" + b"x" * 100

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert browser.post("/sign-in", content=stream(), headers=headers).status_code == 413  # type: ignore[arg-type]  # no length said
