"""The studio's own charts, and its cameras and light over time."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_from_corners
from app.colour.chart_reference import shipped
from app.demo.cast import Crew
from app.platform.audit import SYSTEM, canonical, entry
from app.platform.service import Service
from app.platform.storage import keep
from app.records import camera_queries, chart_queries
from app.records.models import OutlineSet, Photo, Reading
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera
from tests.conftest import Browser
from tests.records.cast import Begun, begin, trail_of

Browse = Callable[[str], Browser]
FIRST = date(2026, 1, 5)


def lines(count: int = 24) -> str:
    """The shipped values as somebody might type them, a little off, as for a copy of one's own."""
    rows = zip(shipped().names, shipped().lab_d65 + 0.2, strict=True)
    return "name,L,a,b\n" + "\n".join(
        f"{name},{lab[0]:.2f},{lab[1]:.2f},{lab[2]:.2f}" for name, lab in list(rows)[:count]
    )


SENT = {"name": "Sleeve 2", "columns": "6", "rows": "4", "white": "D65", "values": lines(), "pitch_mm": "13,4",
        "values_from": "Measured by the maker on our copy, May 2026"}  # fmt: skip


def test_an_owner_registers_a_chart_makes_it_usual_and_retires_it(service: Service, crew: Crew, browse: Browse) -> None:
    owner = browse("owner")
    at = owner.post("/studio/charts", data=SENT).headers["location"]
    page = owner.get(at).text
    assert "6 columns and 4 rows" in page
    assert "bluish green" in page
    with service.database.read() as db:
        chart = chart_queries.charts(db)[0]
        reference = chart_queries.reference_for(db, chart.id)
        assert chart_queries.default_chart(db) is None
        assert chart_queries.reference_for(db, None) is shipped()
    assert (reference.pitch_mm, reference.neutrals) == (13.4, shipped().neutrals)
    assert np.abs(reference.lab_d65 - shipped().lab_d65 - 0.2).max() < 0.01
    assert owner.post(f"{at}/state", data={"go": "default", "revision": "1"}).status_code == 303
    with service.database.read() as db:
        usual = chart_queries.default_chart(db)
    assert usual is not None
    assert (usual.id, usual.revision) == (chart.id, 2)
    assert owner.post(f"{at}/state", data={"go": "retire", "revision": "1"}).status_code == 409
    assert owner.post(f"{at}/state", data={"go": "retire", "revision": "2"}).status_code == 303
    with service.database.read() as db:
        assert chart_queries.default_chart(db) is None
        assert chart_queries.reference_for(db, chart.id).names == reference.names  # photos still point to it
    refused = owner.post(f"{at}/state", data={"go": "default", "revision": "3"})
    assert refused.status_code == 422
    assert "Take it back into use first" in refused.text
    assert (trail_of(service, "records.chart.registered"), trail_of(service, "records.chart.state_changed")) == (1, 2)
    assert browse("tomas").get("/studio/charts").status_code == 404


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"values": lines(23)}, "6 columns and 4 rows make 24 patches; the list has 23."),
        ({"values": SENT["values"].replace("37.51", "dark")}, "Line 2: L is “dark”"),
        ({"pitch_mm": "0.5"}, "Give 3.0 or more."),
        ({"values_from": ""}, "Fill this in."),
    ],
)
def test_a_chart_that_cannot_serve_is_refused_and_what_was_typed_kept(
    service: Service, browse: Browse, wrong: dict[str, str], said: str
) -> None:
    answer = browse("owner").post("/studio/charts", data={**SENT, **wrong})
    assert answer.status_code == 422
    assert said in answer.text
    assert "bluish green" in answer.text
    with service.database.read() as db:
        assert chart_queries.charts(db) == []


def test_a_list_may_come_as_a_file_and_a_wrong_file_is_refused(browse: Browse) -> None:
    owner, typed = browse("owner"), {**SENT, "values": ""}
    file = {"file": ("my chart.csv", ("\ufeff" + lines()).encode(), "text/csv")}
    assert owner.post("/studio/charts", data=typed, files=file).status_code == 303
    picture = {"file": ("chart.png", b"\x89PNG\r\n\x1a\n\xff\xfe", "image/png")}
    assert "The file is no plain text" in owner.post("/studio/charts", data=typed, files=picture).text


def test_a_grey_card_is_registered_and_is_never_the_usual_chart(service: Service, browse: Browse) -> None:
    sent = {
        "name": "Grey",
        "white": "D50",
        "card_l": "49,8",
        "card_a": "−0.2",
        "card_b": "0.4",
        "values_from": "The maker",
    }
    at = browse("owner").post("/studio/grey-cards", data=sent).headers["location"]
    with service.database.read() as db:
        (card,) = chart_queries.charts(db)
    assert np.abs(np.array(json.loads(card.values)["lab_d65"][0]) - [49.8, -0.2, 0.4]).max() < 0.2
    assert browse("owner").post(f"{at}/state", data={"go": "default", "revision": "1"}).status_code == 422


@cache
def calibration() -> Calibration:
    skin = np.array([65.0, 10.0, 16.0])
    photo = photo_of(skin, skin, plain_camera(), np.random.default_rng(0))
    return calibrate(chart_from_corners(photo, CHART_CORNERS))


def photographed(
    service: Service, begun: Begun, reds: list[float], day: date = FIRST, by_client: bool = False
) -> list[int]:
    """One calibrated photo a day, each in its own light."""
    even = calibration()
    original = service.storage.put(b"pixels", "original")
    with service.database.write() as db, entry(db, "test.photos", SYSTEM):
        blob = keep(db, original)
        rows = []
        for number, red in enumerate(reds):
            row = Photo(case_id=begun.case.id or 0, zone_id=begun.zone.id, purpose="before", original_id=blob.id or 0,
                        width=9, height=9, taken_on=day + timedelta(days=number), camera="Lumo 5", state="ready",
                        added_at=blob.stored_at, reference="chart", calibration_state="measured", by_client=by_client,
                        calibration=canonical(replace(even, gain=even.gain / [red, 1, 1]).to_dict()))  # fmt: skip
            rows.append(row)
        db.add_all(rows)
        db.flush()
        return [row.id or 0 for row in rows]


def test_a_new_lamp_is_noticed_and_one_odd_day_named(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    usual = [1.0, 1.01, 0.99, 1.0, 1.015, 0.99, 1.0, 1.01, 0.985, 1.0]
    photographed(service, begun, [*usual, 1.3, *usual])
    photographed(service, begun, [3.0], by_client=True)  # a client's own camera is not the studio's
    odd = FIRST + timedelta(days=10)
    with service.database.read() as db:
        assert chart_queries.drift_of(db, "Lumo 5", FIRST + timedelta(days=9)) == ""
        assert "photos were redder than usual: 1.3" in chart_queries.drift_of(db, "Lumo 5", odd)
        assert "bluer" not in chart_queries.drift_of(db, "Lumo 5", odd)
        assert [(one.name, one.photos) for one in camera_queries.cameras(db)] == [("Lumo 5", 21)]
    calm = browse("tomas").get("/studio/camera").text
    assert "Nothing is out of the usual now." in calm
    assert "On 15 January 2026 photos were redder than usual" in calm
    photographed(service, begun, [red * 1.12 for red in usual[:8]], FIRST + timedelta(days=30))
    page = browse("tomas").get("/studio/camera?camera=Lumo 5").text
    assert "The light, the camera or the chart is not as it was." in page
    assert "Since 4 February 2026 photos are redder than before: 1.12 on average, 1.0" in page
    assert browse("desk").get("/studio/camera").status_code == 404


def test_without_photos_the_camera_page_says_what_is_missing(service: Service, browse: Browse) -> None:
    assert "No photo of the studio’s own was calibrated" in browse("owner").get("/studio/camera").text
    with service.database.read() as db:
        assert chart_queries.drift_of(db, "", FIRST) == ""
        assert chart_queries.repeatability(db) is None


def test_the_repeatability_comes_from_photos_of_one_zone_on_one_day(service: Service, crew: Crew) -> None:
    begun, random = begin(service, crew), np.random.default_rng(0)
    with service.database.read() as db:
        assert chart_queries.repeat_of(db) is None
    for number in range(6):
        photos = [photographed(service, begun, [1.0], FIRST + timedelta(days=number))[0] for _ in range(3)]
        with service.database.write() as db, entry(db, "test.readings", SYSTEM):
            for photo_id in photos:
                at = db.get_one(Photo, photo_id).added_at
                drawn = OutlineSet(photo_id=photo_id, version=1, outlines="{}", drawn_at=at)
                db.add(drawn)
                db.flush()
                scar = np.array([70.0 + 3 * number, 8.0, 12.0]) + random.normal(0, 0.5, 3)
                db.add(Reading(photo_id=photo_id, zone_id=begun.zone.id or 0, outline_set_id=drawn.id or 0, read_at=at,
                               state="measured", taken_on=FIRST + timedelta(days=number), method_version="1",
                               scar_l=scar[0], scar_a=scar[1], scar_b=scar[2], skin_l=63.0, skin_a=10.0, skin_b=18.0,
                               delta_e_00=6.0, result="{}"))  # fmt: skip
    with service.database.read() as db:
        repeat, figure = chart_queries.repeat_of(db), chart_queries.repeatability(db)
    assert repeat is not None
    assert (repeat.groups, repeat.photos, repeat.degrees) == (6, 18, 12)
    assert max(repeat.sd_lab) < 1
    assert figure == repeat.mean_delta_e_00
