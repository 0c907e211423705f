"""Photos that come in pieces: kept once, whole, by whom they are for, and only with the client's yes."""

import hashlib
import io
import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sqlmodel import select

from app.demo.cast import Crew
from app.platform import clock
from app.platform.audit_check import Verified, verify
from app.platform.service import Service
from app.platform.storage import Blob
from app.records.capture_models import PhotoUpload, UploadPiece
from app.records.models import Photo, Zone
from app.records.upload_forms import MAX_PHOTO, PIECE_SIZE
from app.tick import sweep_files, sweep_uploads
from tests.conftest import Browser
from tests.records.cast import answer_photos, begin, trail_of

Browse = Callable[[str], Browser]
KEY = "0b5c2f9e-7a41-4c1d-9a3e-6d2f1c0b8a77"
SAID = {"purpose": "settled", "frame": "middle"}


def camera_photo(side: int = 1200) -> bytes:
    """More than two pieces long: noise does not compress."""
    exif = Image.Exif()
    exif[271], exif[306] = "Maker", "2026:02:20 09:30:00"
    exif.get_ifd(0x8769)[36881] = "+02:00"
    exif.get_ifd(0x8769)[34855] = 125
    out = io.BytesIO()
    noise = np.random.default_rng(2).integers(0, 256, (side, side, 3), dtype=np.uint8)
    Image.fromarray(noise).save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def start(browser: Browser, zone: Zone, content: bytes, **more: Any) -> dict[str, Any]:
    asked = {"key": KEY, "name": "IMG 1.jpg", "size": len(content), **SAID, **more}
    answer = browser.post(f"/zones/{zone.id}/uploads", data=asked)
    assert answer.status_code == 200, answer.text
    state: dict[str, Any] = answer.json()
    return state


def send(browser: Browser, state: dict[str, Any], content: bytes, numbers: list[int]) -> None:
    for number in numbers:
        piece = content[number * PIECE_SIZE : (number + 1) * PIECE_SIZE]
        answer = browser.post(f"/uploads/{state['upload']}/pieces/{number}", content=piece)
        assert answer.json() == {"have": number}


def files(service: Service) -> int:
    return sum(1 for _ in service.storage.folder.rglob("*.blob"))


def test_a_photo_in_pieces_is_filed_once_as_it_was_sent(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), camera_photo()
    state = start(browser, begun.zone, content)
    assert (state["have"], state["pieces"]) == ([], -(-len(content) // PIECE_SIZE))
    send(browser, state, content, [1])
    assert browser.get(f"/uploads/{state['upload']}").json()["have"] == [1]
    early = browser.post(f"/uploads/{state['upload']}/done")
    assert (early.status_code, early.json()["have"]) == (409, [1])
    assert start(browser, begun.zone, content) == {**state, "have": [1]}, "begun again, it goes on"
    send(browser, state, content, [1, *[n for n in range(state["pieces"]) if n != 1]])

    done = {"sha256": hashlib.sha256(content).hexdigest()}
    answers = [browser.post(f"/uploads/{state['upload']}/done", data=done).json()["photo"] for _ in range(2)]
    assert answers[0] == answers[1] == start(browser, begun.zone, content)["photo"]
    with service.database.read() as db:
        photo = db.exec(select(Photo)).one()
        assert db.exec(select(UploadPiece)).all() == []
        blob = db.get_one(Blob, photo.original_id)
    assert service.storage.get(blob) == content
    assert files(service) == 1, "the pieces are gone"
    assert (photo.purpose, photo.frame, photo.taken_on) == ("settled", "middle", date(2026, 2, 20))
    assert photo.taken_at is not None
    assert photo.taken_at.isoformat().startswith("2026-02-20T07:30:00")
    facts = json.loads(photo.facts)
    assert (facts["make"], facts["iso"], facts["format"], facts["bits"]) == ("Maker", 125, "JPEG", 8)
    assert trail_of(service, "records.photo.added") == 1
    with service.database.engine.connect() as connection:
        assert isinstance(verify(connection), Verified)


def test_json_is_taken_as_well_as_a_form(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    asked = {"key": KEY, "name": "a.jpg", "size": 500, "about": {"purpose": "before", "frame": "close"}}
    assert browser.post(f"/zones/{begun.zone.id}/uploads", json=asked).json()["pieces"] == 1
    for odd in ("[1]", "{", '{"about": [1]}', "[" * 50_000, '{"about": "x"}'):
        told = {"Content-Type": "application/json"}
        answer = browser.post(f"/zones/{begun.zone.id}/uploads", content=odd, headers=told)
        assert answer.status_code == 422


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"key": "1"}, "no key"),
        ({"size": "0"}, "1 or more"),
        ({"size": str(MAX_PHOTO + 1)}, "60 megabytes"),
        ({"purpose": "letter"}, "Choose one"),
        ({"taken_on": "2026-03-17"}, "lies ahead"),
    ],
)
def test_what_cannot_come_in_is_refused_before_it_is_sent(
    service: Service, crew: Crew, browse: Browse, change: dict[str, str], said: str
) -> None:
    begun = begin(service, crew)
    answer = browse("tomas").post(f"/zones/{begun.zone.id}/uploads", data={"key": KEY, "size": 9, **SAID, **change})
    assert answer.status_code == 422
    assert said in answer.json()["error"]


def test_pieces_are_bounded_and_belong_to_who_sends_them(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), camera_photo()
    state = start(browser, begun.zone, content)
    address = f"/uploads/{state['upload']}/pieces"
    assert browser.post(f"{address}/0", content=bytes(PIECE_SIZE + 1)).status_code == 413
    for number, piece in ((0, b""), (0, b"short"), (state["pieces"], b"x"), (59, b"x")):
        assert browser.post(f"{address}/{number}", content=piece).status_code == 422
    assert browser.post(f"{address}/60", content=b"x").status_code == 404
    foreign = browser.post(f"{address}/0", content=content[:PIECE_SIZE], headers={"Sec-Fetch-Site": "cross-site"})
    assert foreign.status_code == 403
    for name in ("ruth", "desk"):
        assert browse(name).post(f"{address}/0", content=content[:PIECE_SIZE]).status_code == 404
        assert browse(name).get(f"/uploads/{state['upload']}").status_code == 404
        assert browse(name).post(f"/uploads/{state['upload']}/done").status_code == 404
    other = browse("ruth").post(f"/zones/{begun.zone.id}/uploads", data={"key": KEY, "size": len(content), **SAID})
    assert "another photo" in other.json()["error"]
    assert files(service) == 0


def test_a_photo_that_changed_on_its_way_is_asked_for_again(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), camera_photo(200)
    state = start(browser, begun.zone, content)
    send(browser, state, bytes(len(content)), [0])
    done = {"sha256": hashlib.sha256(content).hexdigest()}
    answer = browser.post(f"/uploads/{state['upload']}/done", data=done)
    assert (answer.status_code, answer.json()["have"]) == (409, [])
    send(browser, state, content, [0])
    assert browser.post(f"/uploads/{state['upload']}/done", data=done).json()["photo"] == 1


def test_what_is_no_photo_is_said_at_the_end_and_nothing_is_left_of_it(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), b"%PDF-1.7 a report"
    state = start(browser, begun.zone, content)
    send(browser, state, content, [0])
    answer = browser.post(f"/uploads/{state['upload']}/done")
    assert answer.status_code == 422
    assert "PDF" in answer.json()["error"]
    assert files(service) == 0
    assert browser.get(f"/uploads/{state['upload']}").status_code == 404


def test_what_never_arrives_is_swept_after_a_day(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), camera_photo()
    state = start(browser, begun.zone, content)
    send(browser, state, content, [0])
    sweep_uploads(service)
    sweep_files(service)
    assert files(service) == 1
    with clock.stopped_at(clock.now() + timedelta(days=1, minutes=1)):
        sweep_uploads(service)
    assert files(service) == 0
    with service.database.read() as db:
        assert db.exec(select(PhotoUpload)).all() == []


@pytest.mark.parametrize("says_yes", [None, False])
def test_without_the_clients_yes_no_photo_is_filed(
    service: Service, crew: Crew, browse: Browse, says_yes: bool | None
) -> None:
    begun, browser = begin(service, crew, says_yes=says_yes), browse("tomas")
    page = browser.get(f"/zones/{begun.zone.id}/photos/new").text
    assert "has not said yes to photos" in page
    assert f'href="/clients/{begun.client.id}/permissions"' in page
    assert 'type="file"' not in page
    sent = browser.post(f"/zones/{begun.zone.id}/photos", data=SAID, files=[("photos", ("a.jpg", b"x", "image/jpeg"))])
    assert sent.status_code == 422
    assert "has not said yes to photos" in sent.text
    asked = browser.post(f"/zones/{begun.zone.id}/uploads", data={"key": KEY, "size": 9, **SAID})
    assert asked.status_code == 422
    assert "has not said yes" in asked.json()["error"]
    assert files(service) == 0


def test_a_yes_taken_back_while_a_photo_comes_in_stops_it(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew), browse("tomas"), camera_photo(200)
    state = start(browser, begun.zone, content)
    send(browser, state, content, [0])
    with service.database.write() as db:
        answer_photos(db, begun.client.id or 0, begun.client.name, yes=False, by=crew.by("tomas"))
    answer = browser.post(f"/uploads/{state['upload']}/done")
    assert answer.status_code == 422
    assert "has not said yes" in answer.json()["error"]
    with service.database.read() as db:
        assert db.exec(select(Photo)).all() == []


def test_of_a_sensitive_place_it_is_said_who_else_was_in_the_room(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser, content = begin(service, crew, site="breast"), browse("tomas"), camera_photo(200)
    at, photos = f"/zones/{begun.zone.id}", [("photos", ("a.jpg", content, "image/jpeg"))]
    assert 'name="chaperone"' in browser.get(f"{at}/photos/new").text
    asked = {"key": KEY, "size": len(content), **SAID, "chaperone": " "}
    for answer in (browser.post(f"{at}/photos", data=SAID, files=photos), browser.post(f"{at}/uploads", data=asked)):
        assert answer.status_code == 422
        assert "Name who else is in the room" in answer.text
    assert files(service) == 0

    state = start(browser, begun.zone, content, chaperone="Ruth Adeyemi")
    send(browser, state, content, [0])
    done = browser.post(f"/uploads/{state['upload']}/done").json()["photo"]
    other = browser.post(f"{at}/photos", data={**SAID, "chaperone": "nobody, as the client wished"}, files=photos)
    for address, who in ((f"/photos/{done}", "Ruth Adeyemi"), (other.headers["location"], "nobody, as the client")):
        page = browser.get(address).text
        assert f"Who else was in the room: {who}" in page
        assert "Settled, middle" in page
