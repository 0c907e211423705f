from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from app.platform import clock, links
from app.platform.audit import SYSTEM
from app.platform.audit_check import Verified, verify
from app.platform.links import Link
from app.platform.service import Service


def made(service: Service, *, purpose: str = "intake", uses: int | None = None, days: int = 1) -> str:
    with service.database.write() as db:
        return links.make(db, purpose, 7, 3, lasts=timedelta(days=days), uses=uses, by=SYSTEM)


def test_only_the_hash_is_kept(service: Service) -> None:
    token = made(service)
    with service.database.read() as db:
        row = db.exec(select(Link)).one()
    assert token not in str(row.model_dump())
    assert len(token) >= 43  # 256 bits


def test_opening_the_address_spends_nothing(service: Service, browse: object) -> None:
    token = made(service, uses=1)
    browser: TestClient = browse("nobody")  # type: ignore[operator]
    for _ in range(3):
        assert browser.get(f"/l/{token}").status_code == 200
    assert browser.post(f"/l/{token}").headers["location"] == "/intake"
    assert browser.post(f"/l/{token}").status_code == 404
    assert browser.get(f"/l/{token}").headers["location"] == "/intake"  # the same browser comes back to where it was
    other: TestClient = browse("nobody")  # type: ignore[operator]
    assert other.get(f"/l/{token}").status_code == 404


def test_a_pass_is_for_one_purpose(service: Service) -> None:
    with service.database.write() as db:
        token = links.make(db, "intake", 7, 3, lasts=timedelta(days=1), by=SYSTEM)
        swapped = links.swap(db, token)
    assert swapped is not None
    guest, secret = swapped
    with service.database.read() as db:
        assert links.guest_of(db, secret, "intake") == guest
        assert links.guest_of(db, secret, "aftercare") is None
        assert links.guest_of(db, secret + "x", "intake") is None


@pytest.mark.parametrize("end", ["expired", "revoked"])
def test_an_ended_link_opens_nothing_and_ends_its_passes(service: Service, end: str) -> None:
    with service.database.write() as db:
        token = links.make(db, "intake", 7, 3, lasts=timedelta(days=1), by=SYSTEM)
        swapped = links.swap(db, token)
    assert swapped is not None
    if end == "revoked":
        with service.database.write() as db:
            links.revoke_all(db, "intake", 7, by=SYSTEM)
    with clock.stopped_at(clock.now() + timedelta(days=2 if end == "expired" else 0)), service.database.write() as db:
        assert links.swap(db, token) is None
        assert links.guest_of(db, swapped[1], "intake") is None


def test_sixteen_at_once_spend_one_use(service: Service) -> None:
    token = made(service, uses=1)

    def spend(_: int) -> bool:
        with service.database.write() as db:
            return links.swap(db, token) is not None

    with ThreadPoolExecutor(16) as pool:
        assert sum(pool.map(spend, range(16))) == 1
    with service.database.engine.connect() as connection:
        assert isinstance(verify(connection), Verified)
