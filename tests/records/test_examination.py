"""Looking at a photo again with corners placed by hand, and measuring again: what stood before stays as it was."""

import io
import json
from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
import pytest
from PIL import Image
from sqlmodel import Session, select

from app.colour.geometry import Piece
from app.colour.marker import marker_bits
from app.colour.reading import METHOD_VERSION
from app.demo.cast import Crew
from app.platform import jobs
from app.platform.audit import SYSTEM, Actor, audited
from app.platform.service import Service
from app.records import photo_actions
from app.records.capture_forms import MeasureBar
from app.records.capture_models import CaptureCard
from app.records.card_actions import MARKER_MM, make_card, measure_bar
from app.records.corners import checked
from app.records.examine import keep_found
from app.records.models import Photo, Reading
from app.records.outline_actions import draw_outlines
from app.records.selectors import Outlines
from tests.conftest import Browser
from tests.records.cast import WORK, begin, photographed, trail_of, upload, work_all

Browse = Callable[[str], Browser]


def outlines() -> Outlines:
    seen = photographed()
    return Outlines((Piece(seen.scar_outline),), (Piece(seen.skin_outline),))


def id_of(at: str) -> int:
    return int(at.rpartition("/")[2])


def photo_of(service: Service, at: str) -> Photo:
    with service.database.read() as db:
        return db.get_one(Photo, id_of(at))


def readings(service: Service, at: str) -> list[Reading]:
    with service.database.read() as db:
        return list(db.exec(select(Reading).where(Reading.photo_id == id_of(at)).order_by(Reading.id)).all())  # type: ignore[arg-type]  # a column


def typed(corners: np.ndarray, what: str = "chart") -> dict[str, str]:
    return {"what": what, **{f"{axis}{n}": f"{value:.1f}" for n, point in enumerate(corners, 1)
                             for axis, value in zip("xy", point, strict=True)}}  # fmt: skip


def patch_edges(photo: Photo) -> np.ndarray:
    """A hand that places the corners well: the chart as found, a little drawn in."""
    corners = np.array(json.loads(photo.chart)["corners"])
    middle = corners.mean(axis=0)
    return np.asarray(middle + (corners - middle) * 0.975)


def measured(service: Service, at: str) -> Reading:
    with service.database.write() as db:
        draw_outlines(db, db.get_one(Photo, id_of(at)), outlines(), by=SYSTEM)
    work_all(service)
    return readings(service, at)[-1]


def test_placed_corners_are_looked_at_and_measured_anew_beside_the_old_reading(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed().jpeg)
    work_all(service)
    before = photo_of(service, at)
    browser.post(f"{at}/corners", data=typed(patch_edges(before) - 40))
    assert browser.get(f"{at}/corners").status_code == 200, "what was placed can be put right before it is looked at"
    work_all(service)
    assert photo_of(service, at).calibration_state == "refused"
    browser.post(f"{at}/corners/away")
    work_all(service)
    assert photo_of(service, at).calibration == before.calibration

    first = measured(service, at)
    answer = browser.post(f"{at}/corners", data=typed(np.roll(patch_edges(before), 1, axis=0)[::-1]))
    assert answer.headers["location"] == at
    assert "waits to be looked at" in browser.get(at).text
    work_all(service)
    after, (old, new) = photo_of(service, at), readings(service, at)
    assert (after.reference, after.calibration_state, after.shown_id) == ("chart", "measured", before.shown_id)
    assert after.calibration != before.calibration
    assert old.model_dump() == first.model_dump()
    assert new.replaces_id == old.id
    assert abs((new.delta_e_00 or 0) - (old.delta_e_00 or 0)) < 1.5
    page = browser.get(at).text
    assert "Its corners were placed by hand." in page
    assert "Earlier readings" in page
    assert trail_of(service, "records.photo.corners_placed") == 3


def test_a_grey_card_counts_only_where_somebody_placed_it(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed().jpeg)
    work_all(service)
    corners = patch_edges(photo_of(service, at))
    # The fourth grey of the chart's last row stands for a card: the chart's plane, 6 by 4 patches.
    flat = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], np.float32)
    plane = cv2.getPerspectiveTransform(flat, corners.astype(np.float32))
    inner = np.array([[[3.2, 3.2], [3.75, 3.2], [3.75, 3.75], [3.2, 3.75]]], np.float32)
    browser.post(f"{at}/corners", data=typed(cv2.perspectiveTransform(inner, plane)[0], "grey"))
    work_all(service)
    assert (photo_of(service, at).reference, photo_of(service, at).chart) == ("grey", "{}")
    assert "Calibrated on a grey card" in browser.get(at).text
    reading = measured(service, at)
    assert json.loads(reading.result)["reference"] == "grey"
    assert "grey card alone" in browser.get(at).text


@pytest.mark.parametrize(
    ("corners", "said"),
    [
        ([[10, 10], [300, 200], [300, 10], [10, 200]], "these four cross"),
        ([[10, 10], [900, 10], [900, 200], [10, 200]], "outside the photo"),
        ([[10, 10], [20, 10], [20, 20], [10, 20]], "too close together"),
    ],
)
def test_corners_that_cannot_be_are_refused_and_kept_in_their_fields(
    service: Service, crew: Crew, browse: Browse, corners: list[list[float]], said: str
) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, small())
    work_all(service)
    answer = browser.post(f"{at}/corners", data=typed(np.array(corners, dtype=np.float64)))
    assert answer.status_code == 422
    assert said in answer.text
    assert f'value="{corners[1][0]:.1f}"' in answer.text
    assert browser.post(f"{at}/corners", data={"what": "chart-7", **typed(np.array(corners))}).status_code == 422
    assert photo_of(service, at).placed == ""


@cache
def small() -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.full((300, 400, 3), 120, np.uint8)).save(out, "JPEG")
    return out.getvalue()


def test_an_earlier_method_is_offered_again_and_never_written_over(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun, browser = begin(service, crew, is_sensitive=True), browse("tomas")
    at = upload(browser, begun.zone, photographed().jpeg)
    work_all(service)
    measured(service, at)
    assert "Measure again" not in browser.get(at).text
    with service.database.write() as db:
        age(db, db.exec(select(Reading)).one(), by=SYSTEM)
    [old] = readings(service, at)
    assert "made by an earlier method" in browser.get(at).text
    browser.post(f"{at}/reading")
    work_all(service)
    kept, new = readings(service, at)
    assert kept.model_dump() == old.model_dump()
    assert (new.method_version, new.outline_set_id) == (METHOD_VERSION, old.outline_set_id)
    assert new.map_id is not None
    # Its zone is a sensitive one: the map is hidden like the photo itself, and looking is noted.
    assert f"{at}/map" not in browser.get(at).text
    assert browser.get(f"{at}/map").status_code == 404
    assert f'src="{at}/map?open=1"' in browser.get(f"{at}?open=1").text
    assert browser.get(f"{at}/map?open=1").headers["content-type"] == "image/jpeg"
    assert trail_of(service, "records.photo.opened") == 1


@audited("records.reading.kept")
def age(db: Session, row: Reading, *, by: Actor) -> Reading:
    """A reading as an earlier method would have left it."""
    row.method_version = "reading 1: as it was"
    db.add(row)
    return row


def with_marker(side_px: int = 120) -> bytes:
    """The usual photo with the marker of the first capture card in its corner."""
    picture = photographed().srgb8.copy()
    field = side_px // 6
    drawn = np.where(marker_bits(1), 20, 235).astype(np.uint8).repeat(field, 0).repeat(field, 1)
    drawn = np.pad(drawn, field, constant_values=235)
    picture[-drawn.shape[0]:, -drawn.shape[1]:] = drawn[..., None]
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=92)
    return out.getvalue()


def test_a_card_gives_an_area_only_once_its_bar_was_measured(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    with service.database.write() as db:
        card = make_card(db, by=SYSTEM)
    at = upload(browser, begun.zone, with_marker())
    work_all(service)
    assert (photo_of(service, at).card_id, json.loads(photo_of(service, at).marker)["id"]) == (card.id, card.marker_id)
    assert measured(service, at).area_cm2 is None
    assert "Type the measured length of the card’s bar" in browser.get(at).text
    with service.database.write() as db:
        measure_bar(db, db.get_one(CaptureCard, card.id), MeasureBar(bar_mm=98.0, revision=1), by=SYSTEM)
    assert "has been measured since" in browser.get(at).text
    browser.post(f"{at}/reading")
    work_all(service)
    old, new = readings(service, at)
    assert old.area_cm2 is None
    mm_per_px = MARKER_MM * 0.98 / 120
    scar_px2 = cv2.contourArea(photographed().scar_outline.astype(np.float32))
    assert new.area_cm2 == pytest.approx(scar_px2 * mm_per_px**2 / 100, rel=0.05)
    assert "Measured in the plane of the marker" in browser.get(at).text


def test_work_asked_for_while_it_is_being_done_is_done_once_more(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at, seen = upload(browser, begun.zone, small()), []

    def while_another_asks(_: Service, job: jobs.Job) -> None:
        seen.append(job.id)
        if len(seen) == 1:
            with service.database.write() as db:
                jobs.plan(db, photo_actions.EXAMINE, id_of(at))

    while jobs.work_once(service, {**WORK, photo_actions.EXAMINE: while_another_asks}):
        pass
    assert len(seen) == 2


def test_a_look_that_other_corners_overtook_is_not_filed(service: Service, crew: Crew, browse: Browse) -> None:
    at = upload(browse("tomas"), begin(service, crew).zone, small())
    opened = photo_of(service, at)
    placed = checked("grey", np.array([[10.0, 10.0], [60.0, 10.0], [60.0, 60.0], [10.0, 60.0]]), 100, 100)
    with service.database.write() as db:
        photo_actions.place_corners(db, db.get_one(Photo, id_of(at)), placed, None, by=SYSTEM)
    found = photo_actions.Examination("ready", "", 100, 100, reference="chart")
    keep_found(service, opened, found)
    assert photo_of(service, at).state == "waiting"
    keep_found(service, photo_of(service, at), found)
    assert photo_of(service, at).state == "ready"
