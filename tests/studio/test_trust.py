"""How a tablet comes to trust the studio: the page, and the plain listener that answers to nothing else."""

import re
import socket
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from starlette.types import ASGIApp

from app.platform import certificates, clock
from app.platform.https import served_beside
from app.platform.pages import STATIC
from app.platform.service import Service
from app.platform.settings import Settings, read_settings
from app.studio.plain_listener import make_plain_listener
from app.studio.trust import Trust, first_address, trust_of
from tests.conftest import browser_of
from tests.flows.browser import Watch, chromium
from tests.flows.test_looks import seen


@dataclass(frozen=True)
class Plain:
    settings: Settings
    trust: Trust
    listener: ASGIApp


@pytest.fixture
def plain(tmp_path: Path) -> Plain:
    data = tmp_path / "studio"
    with clock.stopped_at(datetime.now(UTC)):
        certificates.make(certificates.folder_beside(data), ("studio.test", "192.168.1.20", "localhost", "127.0.0.1"))
    settings = read_settings({"EVENSEAM_DATA": str(data), "EVENSEAM_HOST": "0.0.0.0"})
    trust = trust_of(settings)
    assert trust is not None
    return Plain(settings, trust, make_plain_listener(settings, trust))


@pytest.fixture
def tablet(plain: Plain) -> TestClient:
    return TestClient(plain.listener, base_url="http://studio.test:8621", follow_redirects=False)


def test_a_tablet_begins_at_a_number_that_no_browser_has_learnt_to_refuse(plain: Plain) -> None:
    assert plain.trust.first_address == "http://192.168.1.20:8621/trust"
    assert plain.trust.secure_address == "https://studio.test:8620"
    assert first_address(replace(plain.settings, host="127.0.0.1")) == "http://127.0.0.1:8621/trust"
    assert first_address(replace(plain.settings, trust_port=0)) == ""
    for_links = replace(plain.settings, base_url="https://public.test")
    assert (found := trust_of(for_links)) is not None
    assert found.secure_address == "https://studio.test:8620", "the tablet stays on the studio's network"


def test_the_plain_page_shows_the_steps_and_gives_the_certificate(plain: Plain, tablet: TestClient) -> None:
    assert tablet.get("/").headers["location"] == "/trust"
    page = tablet.get("/trust")
    assert page.status_code == 200
    for words in (*plain.trust.fingerprint, plain.trust.name, plain.trust.secure_address, "192.168.1.20"):
        assert words in page.text
    assert "<script" not in page.text, "anybody on the way could change it"
    der = tablet.get("/trust/studio-ca.crt")
    assert der.headers["content-type"] == "application/x-x509-ca-cert"
    assert "content-disposition" not in der.headers, "some tablets install only what is no download"
    assert der.content == plain.trust.der
    assert tablet.get("/trust/studio-ca.pem").content == plain.trust.pem
    for part in re.findall(r'(?:src|href)="(/static/[^"]+)"', page.text):
        assert tablet.get(part).status_code == 200, part
        assert (STATIC / part.removeprefix("/static/")).exists()


@pytest.mark.parametrize(
    "path",
    ["/sign-in", "/intake?x=1", "/static/js/intake.js", "/static/css/%2e%2e/js/focus.js", "//other.test/x", "/a b"],
)
def test_everything_else_is_led_to_https_under_a_name_of_ours(tablet: TestClient, path: str) -> None:
    answer = tablet.get(path)
    assert answer.status_code == 307
    assert answer.headers["location"].startswith("https://studio.test:8620/")
    by_number = tablet.get(path, headers={"Host": "192.168.1.20:8621"})
    assert by_number.headers["location"].startswith("https://192.168.1.20:8620/")
    for false in ("other.test", "[", "studio.test.other.test", "studio.test@other.test"):
        led = tablet.get(path, headers={"Host": false}).headers["location"]
        assert led.startswith("https://studio.test:8620/"), false


def test_the_plain_listener_takes_nothing_and_knows_nobody(tablet: TestClient) -> None:
    assert tablet.post("/sign-in", data={"login": "mara", "password": "seven quiet herons"}).status_code == 405
    for path in ("/trust", "/", "/sign-in", "/static/css/page.css"):
        answer = tablet.get(path, headers={"Cookie": "evenseam_member=x"})
        assert "set-cookie" not in answer.headers
        assert answer.headers["content-security-policy"].startswith("default-src 'none'; style-src 'self'")
        assert "strict-transport-security" not in answer.headers


def test_the_service_shows_the_same_page_and_certificate(service: Service, plain: Plain) -> None:
    browser = browser_of(service)
    assert "has no certificate authority of its own" in browser.get("/trust").text
    assert browser.get("/trust/studio-ca.crt").status_code == 404
    assert browser.get("/trust/studio-ca.pem").status_code == 404
    service.settings = replace(service.settings, tls=plain.settings.tls, trust_port=8621)
    secure = browser_of(service)
    page = secure.get("/trust")
    assert page.status_code == 200
    assert plain.trust.fingerprint[0] in page.text
    assert page.headers["strict-transport-security"].startswith("max-age=")
    assert secure.get("/trust/studio-ca.crt").content == plain.trust.der
    assert secure.get("/trust/studio-ca.pem").content == plain.trust.pem


@pytest.mark.browser
def test_the_page_is_whole_and_open_to_all(plain: Plain) -> None:
    listening = socket.create_server(("127.0.0.1", 0))
    watch, base = Watch(), f"http://127.0.0.1:{listening.getsockname()[1]}"
    with served_beside(plain.listener, listening), chromium() as browser:
        # The checker of accessibility is a script, and the page admits none.
        page = watch.context(browser, base, bypass_csp=True).new_page()
        page.goto("/trust")
        assert page.locator("img").evaluate_all("all => all.filter(one => !one.naturalWidth).length") == 0
        assert page.locator("img").count() == 6
        assert seen(page, "/trust", ("light", "dark")) + watch.faults == []
