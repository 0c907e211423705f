import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from app.platform import clock, links
from app.platform.audit import SYSTEM
from app.platform.audit_check import Verified, verify
from app.platform.links import Link, LinkCode
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
    assert browser.post(f"/l/{token}").status_code == 410
    assert browser.get(f"/l/{token}").headers["location"] == "/intake"  # the same browser comes back to where it was
    other: TestClient = browse("nobody")  # type: ignore[operator]
    assert other.get(f"/l/{token}").status_code == 410


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


def test_a_code_is_good_once_for_a_quarter_of_an_hour_and_only_its_hash_is_kept(service: Service) -> None:
    token = made(service, days=2)
    with service.database.write() as db:
        link = links.find(db, token)
        assert link is not None
        assert link.id is not None
        code = links.make_code(db, link.id, by=SYSTEM)
    assert re.fullmatch(f"[{links.CODE_ALPHABET}]{{4}}-[{links.CODE_ALPHABET}]{{4}}", code)
    assert not set(links.CODE_ALPHABET) & set("01ILOAEUSZBG")
    with service.database.read() as db:
        assert code.replace("-", "") not in str([row.model_dump() for row in db.exec(select(LinkCode)).all()])
    with clock.stopped_at(clock.now() + links.CODE_LASTS), service.database.write() as db:
        assert links.swap_code(db, code) is None
    with service.database.write() as db:
        swapped = links.swap_code(db, code)
        assert swapped is not None
        assert swapped[0].link_id == link.id
        assert links.swap_code(db, code) is None


def test_a_code_ends_with_its_link_and_with_the_next_code(service: Service) -> None:
    token = made(service)
    with service.database.write() as db:
        link = links.find(db, token)
        assert link is not None
        assert link.id is not None
        first, second = (links.make_code(db, link.id, by=SYSTEM) for _ in range(2))
        assert links.swap_code(db, first) is None
        links.revoke(db, link, by=SYSTEM)
        assert links.swap_code(db, second) is None


@pytest.mark.parametrize("typed", ["kd3f-8526", " K D 3 F  8 5 2 6 ", "KD3F–B5Z6", "kd3fbszg", "ＫＤ３Ｆ８５２６"])
def test_a_code_is_read_as_people_type_it(typed: str) -> None:
    assert links.as_code(typed) == "KD3F8526"


def test_sixteen_at_once_spend_one_code(service: Service) -> None:
    token = made(service)
    with service.database.write() as db:
        link = links.find(db, token)
        assert link is not None
        code = links.make_code(db, link.id or 0, by=SYSTEM)

    def spend(_: int) -> bool:
        with service.database.write() as db:
            return links.swap_code(db, code) is not None

    with ThreadPoolExecutor(16) as pool:
        assert sum(pool.map(spend, range(16))) == 1
