"""Guided capture: the cards that are printed for it, the look at what the camera sees, and the pictures it files."""

import io
import json
import threading
from collections.abc import Callable
from datetime import timedelta

import cv2
import numpy as np
import pytest
import typst
from PIL import Image

from app.colour.marker import find_marker, marker_bits
from app.demo.cast import Crew
from app.platform import clock
from app.platform.audit import Actor
from app.platform.pages import TEMPLATES
from app.platform.service import Service
from app.records import capture_queries, card_actions, card_queries, looking, queries
from app.records.capture_forms import MeasureBar
from app.records.capture_models import CaptureCard
from app.records.card_pdf import PAPER_MM, TEMPLATE, card_data
from tests.conftest import NOW, Browser
from tests.records.cast import begin, photographed, trail_of, work_all

Browse = Callable[[str], Browser]
DOTS_A_MM = 10


def _made(service: Service, crew: Crew, bar_mm: float | None = None) -> CaptureCard:
    by = Actor("member", crew.owner.id)
    with service.database.write() as db:
        card = card_actions.make_card(db, by=by)
        db.flush()
        if bar_mm is not None:
            card_actions.measure_bar(db, card, MeasureBar(bar_mm=bar_mm, revision=card.revision), by=by)
        return card


def _scale(service: Service, card: CaptureCard, days: int | None = None) -> float | None:
    on = None if days is None else (NOW + timedelta(days=days)).date()
    with service.database.read() as db:
        return card_queries.scale_for(db, card.marker_id, on)


def _small(srgb8: np.ndarray) -> bytes:
    image, out = Image.fromarray(srgb8), io.BytesIO()
    image.thumbnail((640, 640))
    image.save(out, "JPEG", quality=80)
    return out.getvalue()


def _with_card(marker_id: int) -> np.ndarray:
    """White paper with a marker on it, on plain grey."""
    seen = np.full((480, 640, 3), 140, np.uint8)
    bits = np.kron(np.where(marker_bits(marker_id), 20, 230).astype(np.uint8), np.ones((15, 15), np.uint8))
    seen[100:250, 100:250] = 230
    seen[130:220, 130:220] = bits[..., None]
    return np.asarray(cv2.GaussianBlur(seen, (0, 0), 0.6))


def test_a_card_gives_no_scale_until_its_bar_was_measured(service: Service, crew: Crew, browse: Browse) -> None:
    owner, artist = browse("owner"), browse("tomas")
    assert artist.post("/studio/cards").status_code == 404
    at = owner.post("/studio/cards").headers["location"]
    with service.database.read() as db:
        [card] = card_queries.cards(db)
    assert _scale(service, card) is None
    assert "gives no scale" in artist.get("/studio/cards").text
    assert artist.get(f"{at}/card.pdf?paper=a5").content.startswith(b"%PDF-")

    assert artist.post(f"{at}/bar", data={"bar_mm": "99", "revision": 1}).status_code == 404
    refused = owner.post(f"{at}/bar", data={"bar_mm": "85", "revision": 1})
    assert refused.status_code == 422
    assert "between 90 and 110 mm" in refused.text
    assert _scale(service, card) is None
    assert owner.post(f"{at}/bar", data={"bar_mm": "99,4", "revision": 1}).status_code == 303
    assert _scale(service, card) == pytest.approx(25.0 * 0.994)
    assert owner.post(f"{at}/bar", data={"bar_mm": "98", "revision": 1}).status_code == 409, "an older page"

    assert owner.post(f"{at}/retiring", data={"revision": 2}).status_code == 303
    assert _scale(service, card) is None
    assert _scale(service, card, days=-1) == pytest.approx(25.0 * 0.994), "photos from before keep it"
    assert owner.post(f"{at}/bar", data={"bar_mm": "98", "revision": 3}).status_code == 422
    assert [trail_of(service, f"records.card.{done}") for done in ("made", "measured", "retired")] == [1, 1, 1]
    assert _made(service, crew).marker_id != card.marker_id, "a number is never given again"


def test_a_card_is_drawn_to_size() -> None:
    """Drawn at ten dots a millimetre: the bar is 1000 dots, the marker 250, and it is the marker it should be."""
    card = CaptureCard(marker_id=23, marker_mm=25.0, printed_at=clock.now())
    source = (TEMPLATES / TEMPLATE).read_bytes()
    inputs = {"data": json.dumps(card_data(card, "half_letter", "Studio"))}
    compiler = typst.Compiler(source, root=TEMPLATES, ignore_system_fonts=True, sys_inputs=inputs)
    drawn = compiler.compile(format="png", ppi=25.4 * DOTS_A_MM)
    assert isinstance(drawn, bytes), "one page"
    srgb8 = np.asarray(Image.open(io.BytesIO(drawn)).convert("RGB"))
    assert srgb8.shape[:2] == pytest.approx([side * DOTS_A_MM for side in PAPER_MM["half_letter"][::-1]], abs=1)
    assert int(np.ptp(srgb8.astype(int), axis=2).max()) == 0, "nothing is in colour"

    [marker] = find_marker(srgb8)
    assert marker.id == 23
    sides = np.linalg.norm(np.roll(marker.corners, -1, axis=0) - marker.corners, axis=1)
    assert sides == pytest.approx(np.full(4, 250.0), abs=0.5)
    dark = srgb8[:, :, 0] < 128
    longest = max(np.diff(np.flatnonzero(~np.pad(row, 1, constant_values=False))).max() - 1 for row in dark)
    assert longest == pytest.approx(1000, abs=1)


def test_the_look_tells_what_is_in_view_and_keeps_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = f"/zones/{begun.zone.id}/looking"
    files = sorted(service.storage.folder.rglob("*"))
    seen = browser.post(at, content=_small(np.asarray(Image.open(io.BytesIO(photographed().jpeg))))).json()
    assert (seen["chart"], seen["marker"], seen["sharp"], seen["light"]) == (True, False, "sharp", "even")
    assert seen["words"] == "Chart in view. No card in view. Sharp. Even light."

    card = _made(service, crew)
    answer = browser.post(at, content=_small(_with_card(card.marker_id)))
    assert (answer.json()["chart"], answer.json()["marker"], answer.json()["sharp"]) == (False, True, "sharp")
    assert "not measured yet: it gives no scale" in answer.json()["words"]
    blurred = browser.post(at, content=_small(cv2.GaussianBlur(_with_card(card.marker_id), (0, 0), 2.0))).json()
    assert blurred["sharp"] == "blurred"
    assert "No colour chart" not in browser.post(f"{at}?frame=context", content=_small(_with_card(9))).json()["words"]
    assert sorted(service.storage.folder.rglob("*")) == files


def test_the_look_takes_small_pictures_only_and_one_at_a_time(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew, restricted=True), browse("tomas")
    at = f"/zones/{begun.zone.id}/looking"
    large = io.BytesIO()
    Image.new("RGB", (4000, 3000)).save(large, "JPEG")
    assert browser.post(at, content=large.getvalue()).status_code == 422
    assert browser.post(at, content=b"\xff\xd8 no picture").status_code == 422
    assert browser.post(at, content=bytes(looking.MOST_BYTES + 1)).status_code == 413
    small = _small(np.full((480, 640, 3), 90, np.uint8))
    assert browse("ruth").post(at, content=small).status_code == 404
    answers: list[bool] = []
    with looking._one_at_a_time:
        other = threading.Thread(target=lambda: answers.append("busy" in browser.post(at, content=small).json()))
        other.start()
        other.join(20)
    assert answers == [True]
    assert browser.post(at, content=small).json()["chart"] is False


def test_pictures_without_a_script_are_filed_with_their_frames(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = f"/zones/{begun.zone.id}/capture"
    page = browser.get(at).text
    assert page.count('capture="environment"') == 4
    assert "nobody has measured its patches" in page
    assert browser.post(at, data={"purpose": "before"}).status_code == 422
    picture = _small(np.full((480, 640, 3), 90, np.uint8))
    files = {frame: (f"{frame}.jpg", picture, "image/jpeg") for frame in ("context", "close")}
    assert browser.post(at, data={"purpose": "before"}, files=files).headers["location"].endswith("#photos")
    work_all(service)
    with service.database.read() as db:
        photos = queries.photos_of(db, begun.zone.id or 0)
        lines = {line.code: line.last for line in capture_queries.frame_lines(db, begun.zone)}
    assert [photo.frame for photo in photos] == ["context", "close"]
    last = {code: photo.id for code, photo in lines.items() if photo is not None}
    assert last == {"context": photos[0].id, "close": photos[1].id}, "each frame has its own last picture"
    assert f'data-last="/photos/{photos[1].id}/shown"' in browser.get(at).text


def test_a_sensitive_place_asks_who_else_is_in_the_room(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew, site="breast"), browse("tomas")
    at, sent = f"/zones/{begun.zone.id}/capture", {"purpose": "before"}
    assert "Stop when the client says so" in browser.get(at).text
    files = {"middle": ("middle.jpg", photographed().jpeg, "image/jpeg")}
    refused = browser.post(at, data=sent, files=files)
    assert refused.status_code == 422
    assert "Name who else is in the room" in refused.text
    assert browser.post(at, data={**sent, "chaperone": "Ruth Adeyemi"}, files=files).status_code == 303
    with service.database.read() as db:
        [photo] = queries.photos_of(db, begun.zone.id or 0)
    assert (photo.frame, photo.chaperone) == ("middle", "Ruth Adeyemi")
