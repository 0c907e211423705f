import io
import json
import re
from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
from PIL import Image

from app.colour.difference import delta_e_00
from app.demo.cast import Crew
from app.platform import jobs
from app.platform.service import Service
from app.records import queries
from app.records.models import Case, Photo, Reading
from app.records.photo_header import Header, read_header, sensible_day
from tests.conftest import Browser
from tests.records.cast import SCAR, SKIN, WORK, begin, photographed, trail_of, upload, work_all

Browse = Callable[[str], Browser]


def _jpeg(width: int = 64, height: int = 48, exif: Image.Exif | None = None) -> bytes:
    out = io.BytesIO()
    pixels = np.random.default_rng(1).integers(0, 255, (height, width, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(out, "JPEG", **({"exif": exif} if exif else {}))
    return out.getvalue()


def _png16() -> bytes:
    out = io.BytesIO()
    Image.fromarray((np.arange(64 * 48, dtype=np.uint16) * 20).reshape(48, 64)).save(out, "PNG")
    return out.getvalue()


def _bomb() -> bytes:
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")
    return out.getvalue()


def _outlines(with_chart: bool = True) -> str:
    seen = photographed(with_chart)
    return json.dumps({"scar": [seen.scar_outline.tolist()], "skin": [seen.skin_outline.tolist()]})


def _photo(service: Service, at: str) -> Photo:
    with service.database.read() as db:
        return db.get_one(Photo, int(at.rpartition("/")[2]))


def test_a_photo_with_a_chart_becomes_a_reading_near_the_truth(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed().jpeg)
    waiting = browser.get(at).text
    assert "waits to be looked at" in waiting
    assert f'hx-get="{at}/examination"' in waiting
    work_all(service)
    page = browser.get(f"{at}/examination").text
    assert "hx-get" not in page
    assert "on average they are missed by" in page
    photo = _photo(service, at)
    assert (photo.state, photo.calibration_state) == ("ready", "measured")
    assert photo.loo_delta_e_00 is not None
    assert photo.loo_delta_e_00 < 3.5

    answer = browser.post(f"{at}/outlines", data={"outlines": _outlines(), "pitch_mm": "12"})
    assert answer.headers["location"] == f"{at}#reading"
    assert "wait to be measured" in browser.get(at).text
    work_all(service)
    with service.database.read() as db:
        reading = queries.newest_reading(db, begun.zone.id or 0)
        target = queries.target_of(db, begun.zone.id or 0)
        case = db.get_one(Case, begun.case.id)
    assert reading is not None
    assert reading.delta_e_00_low is not None
    assert reading.delta_e_00_high is not None
    assert reading.delta_e_00_low < float(delta_e_00(SKIN, SCAR)) < reading.delta_e_00_high
    assert target is not None
    assert float(delta_e_00(target.lab_d65, SKIN)) < 2.0
    assert case.skin_class == "light"
    page = browser.get(at).text
    assert "lighter" in page
    assert f"{reading.delta_e_00_low:.1f} to {reading.delta_e_00_high:.1f}" in page
    assert "Area of the scar" in page
    assert "matching-field" in browser.get(f"/zones/{begun.zone.id}").text
    for action in ("photo.added", "photo.examined", "outlines.drawn", "reading.kept"):
        assert trail_of(service, f"records.{action}") == 1


def test_a_photo_without_a_chart_is_kept_and_says_only_words(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed(False).jpeg)
    work_all(service)
    assert "No 24-patch colour chart was found" in browser.get(at).text
    browser.post(f"{at}/outlines", data={"outlines": _outlines(False)})
    work_all(service)
    page = browser.get(f"{at}/reading").text
    assert "In words only" in page
    assert "the scar looks lighter" in page
    said = re.sub(r"<[^>]*>", " ", page.partition("Method:")[0])  # the drawn outlines are made of numbers
    assert not re.search(r"\d\.\d", said)
    with service.database.read() as db:
        assert queries.newest_reading(db, begun.zone.id or 0) is None
        assert [reading.state for reading in queries.readings_of(db, begun.zone.id or 0)] == ["relative"]


def test_new_outlines_replace_the_reading_and_keep_the_old_one(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed().jpeg)
    work_all(service)
    for _ in range(2):
        browser.post(f"{at}/outlines", data={"outlines": _outlines(), "pitch_mm": ""})
        work_all(service)
    with service.database.read() as db:
        [standing] = queries.readings_of(db, begun.zone.id or 0)
        assert standing.replaces_id is not None
        assert db.get(Reading, standing.replaces_id) is not None
        drawn = queries.newest_outlines(db, standing.photo_id)
    assert drawn is not None
    assert drawn.version == 2
    assert "data-outline" in browser.get(f"{at}/outlines").text


@pytest.mark.parametrize(
    ("drawn", "said"),
    [
        ("", "Outline the scar and the skin around it first."),
        ("{", "could not be read"),
        ("[1]", "could not be read"),
        ('{"scar": [[[10, 10], [90, 10], [50, 90]]], "skin": []}', "Outline the skin around it as well"),
        ('{"scar": [[[10, 10], [90, 10]]], "skin": [[[200, 200], [300, 200], [250, 300]]]}', "3 to 2000 points"),
        ('{"scar": [[[10, 10], [9000, 10], [50, 90]]], "skin": [[[200, 200], [300, 200], [250, 300]]]}', "outside"),
        ('{"scar": [[[10, 10], [90, 90], [90, 10], [10, 90]]], "skin": [[[200, 9], [300, 9], [250, 99]]]}', "crosses"),
        ('{"scar": [[[10, 10], [90, 10], [50, 90]]], "skin": [[[40, 20], [60, 20], [50, 40]]]}', "wholly inside"),
    ],
)  # fmt: skip
def test_outlines_that_cannot_be_measured_are_refused_and_kept(
    service: Service, crew: Crew, browse: Browse, drawn: str, said: str
) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed(False).jpeg)
    work_all(service)
    answer = browser.post(f"{at}/outlines", data={"outlines": drawn})
    assert answer.status_code == 422
    assert said in answer.text


def test_a_distance_that_cannot_be_keeps_the_outlines(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, photographed(False).jpeg)
    work_all(service)
    answer = browser.post(f"{at}/outlines", data={"outlines": _outlines(False), "pitch_mm": "1"})
    assert answer.status_code == 422
    assert "&#34;scar&#34;" in answer.text


def _broken() -> list[tuple[str, bytes, str]]:
    return [
        ("truncated JPEG", photographed().jpeg[:40_000], "cut short or damaged"),
        ("truncated PNG", _png16()[:-30], "cut short or damaged"),
        ("text", b"Dear studio, my photo is attached.", "not a photo that can be read"),
        ("nothing", b"", "not a photo that can be read"),
        ("bomb", _bomb(), "more than 50 megapixels"),
        ("too small", _jpeg(8, 8), "too small"),
    ]


@pytest.mark.parametrize("which", range(6))
def test_a_file_that_is_no_photo_is_named_beside_the_field(
    service: Service, crew: Crew, browse: Browse, which: int
) -> None:
    _, content, said = _broken()[which]
    begun = begin(service, crew)
    files = [("photos", ("good.jpg", _jpeg(), "image/jpeg")), ("photos", ("bad.jpg", content, "image/jpeg"))]
    sent = {"purpose": "settled", "taken_on": "2026-03-02"}
    answer = browse("tomas").post(f"/zones/{begun.zone.id}/photos", data=sent, files=files)
    assert answer.status_code == 422
    assert "bad.jpg" in answer.text
    assert said in answer.text
    assert 'value="2026-03-02"' in answer.text
    assert re.search(r'value="settled"\s+checked|value="settled" checked', answer.text)
    with service.database.read() as db:
        assert queries.photos_of(db, begun.zone.id or 0) == []


def test_no_file_and_a_day_ahead_are_both_said(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    address = f"/zones/{begun.zone.id}/photos"
    assert "Choose at least one photo." in browser.post(address, data={"purpose": "before"}).text
    answer = browser.post(address, data={"purpose": "before", "taken_on": "2026-03-17"},
                          files=[("photos", ("a.jpg", _jpeg(), "image/jpeg"))])
    assert answer.status_code == 422
    assert "This day lies ahead" in answer.text


def test_a_16_bit_png_is_looked_at(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, _png16())
    work_all(service)
    assert _photo(service, at).state == "ready"
    assert browser.get(f"{at}/shown").headers["content-type"] == "image/jpeg"


def test_a_file_that_breaks_only_when_it_is_opened_is_kept_and_said(
    service: Service, crew: Crew, browse: Browse, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.platform import images

    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, _jpeg())
    monkeypatch.setattr(images, "MAX_PIXELS", 100)  # as after the limit was lowered
    assert jobs.work_once(service, WORK)
    page = browser.get(at).text
    assert "This file could not be opened" in page
    assert _photo(service, at).state == "failed"
    monkeypatch.undo()
    browser.post(f"{at}/examination")
    work_all(service)
    assert _photo(service, at).state == "ready"


def test_several_photos_come_in_at_once_each_with_its_cameras_day(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    exif = Image.Exif()
    exif[306], exif[271], exif[272], exif[274] = "2026:02:20 09:00:00", "Maker", "Model 1", 6
    at = upload(browser, begun.zone, _jpeg(exif=exif), _jpeg())
    assert at == f"/zones/{begun.zone.id}#photos"
    with service.database.read() as db:
        first, second = queries.photos_of(db, begun.zone.id or 0)
    assert (first.taken_on, first.width, first.height, first.camera) == (date(2026, 2, 20), 48, 64, "Maker Model 1")
    assert second.taken_on == date(2026, 3, 16)
    work_all(service)
    picture = Image.open(io.BytesIO(browser.get(f"/photos/{first.id}/shown").content))
    assert picture.size == (48, 64)
    assert not picture.getexif()


def test_a_clock_that_was_never_set_says_nothing() -> None:
    for day in (date(1970, 1, 1), date(2000, 1, 1), date(2026, 3, 17)):
        assert sensible_day(Header(10, 10, "", day), date(2026, 3, 16)) is None
    assert read_header(_jpeg()).taken_on is None


def test_the_original_is_stored_as_it_came(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    at = upload(browse("tomas"), begun.zone, photographed().jpeg)
    with service.database.read() as db:
        blob = queries.blob_of(db, _photo(service, at).original_id)
    assert service.storage.get(blob) == photographed().jpeg


def test_pictures_of_a_hidden_zone_are_shown_only_when_asked_for_and_noted(
    service: Service, crew: Crew, browse: Browse
) -> None:
    begun, browser = begin(service, crew, is_sensitive=True), browse("tomas")
    at = upload(browser, begun.zone, _jpeg())
    work_all(service)
    assert "<img" not in browser.get(at).text
    assert "<img" not in browser.get(f"/zones/{begun.zone.id}").text
    assert browser.get(f"{at}/thumb").status_code == 404
    assert trail_of(service, "records.photo.opened") == 0
    assert f'src="{at}/shown?open=1"' in browser.get(f"{at}?open=1").text
    assert browser.get(f"{at}/shown?open=1").status_code == 200
    assert trail_of(service, "records.photo.opened") == 1


def test_photos_and_outlines_are_not_there_for_others(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew, restricted=True)
    at = upload(browse("tomas"), begun.zone, _jpeg())
    work_all(service)
    answer = browse("tomas").get(f"{at}/shown")
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    for name in ("ruth", "desk"):
        for part in ("", "/shown", "/thumb", "/outlines", "/examination", "/reading"):
            assert browse(name).get(f"{at}{part}").status_code == 404
        assert browse(name).post(f"{at}/outlines", data={"outlines": "{}"}).status_code == 404
        assert browse(name).get(f"/zones/{begun.zone.id}/photos/new").status_code == 404


def test_a_job_that_gave_up_says_so_and_can_be_asked_again(service: Service, crew: Crew, browse: Browse) -> None:
    begun, browser = begin(service, crew), browse("tomas")
    at = upload(browser, begun.zone, _jpeg())
    with service.database.write() as db:
        job = queries.job_of(db, "records.photo.examine", int(at.rpartition("/")[2]))
        assert job is not None
        job.state = "failed"
        db.add(job)
    assert "could not be looked at" in browser.get(at).text
    assert browser.post(f"{at}/examination").status_code == 303
    work_all(service)
    assert _photo(service, at).state == "ready"
