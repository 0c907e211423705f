"""Outlining on its pages: what is kept, what is refused, what a second observer and a newer version change."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from sqlmodel import select

from app.demo.cast import Crew
from app.platform import jobs
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records import actions, outlines, queries, selectors
from app.records.models import OutlineSet, Photo
from app.records.observers import agreement
from app.records.photo_actions import Examination
from tests.conftest import Browser
from tests.records.cast import Begun, begin, photographed, trail_of, work_all

Browse = Callable[[str], Browser]



def drawn(shift: float = 0.0) -> str:
    seen = photographed()
    scar = (seen.scar_outline + np.array([shift, 0.0])).round(1).tolist()
    return json.dumps({"scar": [{"outer": scar, "holes": []}], "skin": [{"outer": seen.skin_outline.tolist()}]})


def looked_at(service: Service, crew: Crew, begun: Begun, purpose: str = "before") -> str:
    """The address of a photo without a chart, as it stands once it was looked at."""
    by, content = crew.by("tomas"), photographed().jpeg
    stored = [service.storage.put(content, "photo") for _ in range(3)]
    with service.database.write() as db:
        photo = actions.add_photo(db, begun.case, begun.zone, purpose=purpose, taken_on=date(2026, 3, 2), width=800,
                                  height=600, original=stored[0], camera="", by=by)
        found = Examination("ready", "", 800, 600, shown=stored[1], thumb=stored[2])
        actions.keep_examination(db, photo, found, by=by)
        db.delete(db.exec(select(jobs.Job).where(jobs.Job.subject_id == photo.id)).one())
        return f"/photos/{photo.id}"


@pytest.fixture
def begun(service: Service, crew: Crew) -> Begun:
    return begin(service, crew)


@pytest.fixture
def at(service: Service, crew: Crew, begun: Begun) -> str:
    return looked_at(service, crew, begun)


def photo_id(at: str) -> int:
    return int(at.rpartition("/")[2])


def sets(service: Service, at: str) -> list[OutlineSet]:
    with service.database.read() as db:
        found = select(OutlineSet).where(OutlineSet.photo_id == photo_id(at)).order_by(OutlineSet.version)  # type: ignore[arg-type]  # a column to SQLAlchemy
        return list(db.exec(found).all())


def test_outlines_are_kept_as_annotations_and_come_back_to_the_page(
    service: Service, browse: Browse, at: str
) -> None:
    browser = browse("tomas")
    page = browser.get(f"{at}/outlines").text
    assert 'src="/static/js/outline.js" type="module"' in page
    assert "Drawing needs JavaScript" in page
    assert browser.post(f"{at}/outlines", data={"outlines": drawn(), "seen": "0"}).status_code == 303
    [row] = sets(service, at)
    assert (row.origin, row.is_second, row.version) == ("drawn", False, 1)
    assert json.loads(row.outlines)["items"][0]["target"]["selector"]["type"] == "SvgSelector"
    assert len(selectors.read(row.outlines).scar[0].outer) == len(photographed().scar_outline)
    page = browser.get(f"{at}/outlines").text
    assert "&#34;holes&#34;" in page
    assert 'name="seen" value="1"' in page


def test_countless_points_are_refused_before_they_are_checked() -> None:
    line = [[x, 10] for x in range(1500)]
    with pytest.raises(ValueError, match="too many points"):
        outlines.read_outlines(json.dumps({"scar": [{"outer": line, "holes": [line] * 6}], "skin": [line]}), 2000, 900)
    for odd in ({"outer": 3, "holes": 4}, {"outer": [[1, 2]], "holes": "x"}, 5):
        with pytest.raises(ValueError, match=r"Outline|read"):
            outlines.read_outlines(json.dumps({"scar": [odd], "skin": [odd]}), 2000, 900)


def test_what_is_refused_stays_drawn(browse: Browse, at: str) -> None:
    half = drawn().replace('"skin"', '"other"')
    answer = browse("tomas").post(f"{at}/outlines", data={"outlines": half, "seen": "0"})
    assert answer.status_code == 422
    assert "Outline the skin around it as well" in answer.text
    assert "&#34;other&#34;" in answer.text


def test_a_newer_version_is_shown_beside_what_was_drawn_and_both_are_kept(
    service: Service, browse: Browse, at: str
) -> None:
    tomas, owner = browse("tomas"), browse("owner")
    assert owner.post(f"{at}/outlines", data={"outlines": drawn(), "seen": "0"}).status_code == 303
    answer = tomas.post(f"{at}/outlines", data={"outlines": drawn(6.0), "seen": "0"})
    assert answer.status_code == 409
    assert "saved outlines meanwhile" in answer.text
    assert "data-theirs=" in answer.text
    assert answer.text.count("&#34;scar&#34;") == 2
    assert [row.version for row in sets(service, at)] == [1]
    assert 'name="seen" value="1"' in answer.text
    assert tomas.post(f"{at}/outlines", data={"outlines": drawn(6.0), "seen": "1"}).status_code == 303
    assert [row.version for row in sets(service, at)] == [1, 2]


def test_a_second_observer_draws_blind_and_never_stands_in_for_the_first(
    service: Service, browse: Browse, at: str
) -> None:
    tomas, owner = browse("tomas"), browse("owner")
    assert owner.get(f"{at}/observers").status_code == 404
    tomas.post(f"{at}/outlines", data={"outlines": drawn()})
    work_all(service)
    own = tomas.post(f"{at}/outlines", data={"outlines": drawn(), "second": "1"})
    assert own.status_code == 422
    assert "somebody else" in own.text
    page = owner.get(f"{at}/outlines?second=1").text
    assert "The first outlines are hidden" in page
    assert "&#34;scar&#34;" not in page
    sent = {"outlines": drawn(8.0), "second": "1", "seen": "0"}
    assert owner.post(f"{at}/outlines", data=sent).headers["location"] == f"{at}/observers"
    assert "to be measured" in owner.get(f"{at}/observers").text
    work_all(service)
    with service.database.read() as db:
        photo = db.get_one(Photo, photo_id(at))
        first = queries.newest_outlines(db, photo.id or 0)
        second = queries.newest_outlines(db, photo.id or 0, is_second=True)
        assert first is not None
        assert second is not None
        counted = queries.readings_of(db, photo.zone_id or 0)
        assert [row.outline_set_id for row in counted] == [first.id]
        other = queries.reading_of_photo(db, photo.id or 0, is_second=True)
        assert other is not None
        assert (other.outline_set_id, other.replaces_id) == (second.id, None)
    assert trail_of(service, "records.reading.kept") == 2
    page = owner.get(f"{at}/observers").text
    assert "% of what they drew lies under both" in page
    assert page.count("<svg") == 3
    assert "What each would have read" in page
    assert "meanwhile" not in tomas.get(f"{at}/outlines").text
    with service.database.write() as db:  # looked at again, both stand on what is known now
        photo = db.get_one(Photo, photo_id(at))
        actions.keep_examination(db, photo, Examination("ready", "", 800, 600), by=SYSTEM)
    work_all(service)
    assert [row.is_second for row in sets(service, at)] == [False, True, True, False]
    assert "What each would have read" in owner.get(f"{at}/observers").text
    owner.post(f"{at}/outlines", data={"outlines": drawn()})
    assert "lies under both" not in owner.get(f"{at}/observers").text, "nobody is compared with themselves"


def test_a_tap_and_a_ring_give_pieces_that_can_be_kept(browse: Browse, at: str) -> None:
    browser = browse("tomas")
    x, y = photographed().scar_outline.mean(axis=0)
    grown = browser.post(f"{at}/outlines/grown", data={"x": f"{x:.1f}", "y": f"{y:.1f}", "tolerance": "1"})
    assert grown.status_code == 200, grown.text
    found = grown.json()["pieces"]
    ring = browser.post(f"{at}/outlines/ring", data={"outlines": json.dumps({"scar": found, "skin": []})})
    assert ring.status_code == 200, ring.text
    both = json.dumps({"scar": found, "skin": ring.json()["pieces"]})
    assert browser.post(f"{at}/outlines", data={"outlines": both}).status_code == 303


def test_a_proposal_that_cannot_be_made_says_why(browse: Browse, at: str) -> None:
    browser = browse("tomas")
    for what, sent in (
        ("grown", {"x": "-1", "y": "2", "tolerance": "1"}),
        ("grown", {"x": "99999", "y": "2", "tolerance": "1"}),
        ("grown", {"x": "5", "y": "2", "tolerance": "nan"}),
        ("ring", {"outlines": "[" * 4000}),
        ("ring", {"outlines": '{"scar": []}'}),
        ("ring", {}),
    ):
        answer = browser.post(f"{at}/outlines/{what}", data=sent)
        assert answer.status_code == 422, sent
        assert len(answer.json()["words"]) > 10


def test_outlines_are_carried_over_looked_at_and_then_kept(
    service: Service, crew: Crew, browse: Browse, begun: Begun, at: str
) -> None:
    browser = browse("tomas")
    browser.post(f"{at}/outlines", data={"outlines": drawn()})
    later = looked_at(service, crew, begun, "settled")
    [source] = sets(service, at)
    assert "Carry outlines over" in browser.get(f"{later}/outlines").text
    assert browser.post(f"{later}/carrying", data={"source": str(source.id)}).status_code == 303
    assert "hx-get" in browser.get(f"{later}/carrying").text
    work_all(service)
    page = browser.get(f"{later}/carrying/found").text
    assert "Look at it and keep it" in page
    assert sets(service, later) == []
    carried = browser.get(f"{later}/outlines?carried=1").text
    assert "Carried over, not saved yet" in carried
    assert f'name="carried_from" value="{source.id}"' in carried
    sent = {"outlines": drawn(), "carried_from": str(source.id), "seen": "0"}
    assert browser.post(f"{later}/outlines", data=sent).status_code == 303
    [kept] = sets(service, later)
    assert (kept.origin, kept.carried_from_id) == ("carried", source.id)


def test_what_cannot_be_carried_is_refused(service: Service, browse: Browse, at: str) -> None:
    browser = browse("tomas")
    for landmarks in ("", "[[[1, 2], [3, 4]]]", "{", "[[[1, 2], [3, 4]], [[1, -2], [3, 4]]]"):
        sent = {"source": "99", "landmarks": landmarks}
        assert browser.post(f"{at}/carrying", data=sent).status_code == 422, sent
    with service.database.read() as db:
        assert db.exec(select(jobs.Job).where(jobs.Job.kind == "records.outlines.carry")).first() is None


def test_pages_about_outlines_are_not_there_for_others(service: Service, crew: Crew, browse: Browse) -> None:
    at = looked_at(service, crew, begin(service, crew, restricted=True))
    browse("tomas").post(f"{at}/outlines", data={"outlines": drawn()})
    for name in ("ruth", "desk"):
        for part in ("/outlines", "/outlines?second=1", "/carrying", "/carrying/found", "/observers"):
            assert browse(name).get(f"{at}{part}").status_code == 404, part
        for part, sent in (("/outlines", {"outlines": drawn()}), ("/carrying", {"source": "1"}),
                           ("/outlines/grown", {"x": "9", "y": "9", "tolerance": "1"}),
                           ("/outlines/ring", {"outlines": drawn()})):  # fmt: skip
            assert browse(name).post(f"{at}{part}", data=sent).status_code == 404, part


def test_agreement_is_of_areas() -> None:
    [piece] = selectors.read('{"scar":[[[0,0],[100,0],[100,100],[0,100]]],"skin":[[[0,0],[9,0],[9,9]]]}').scar
    moved = replace(piece, outer=piece.outer + np.array([50.0, 0.0]))
    assert agreement((piece,), (piece,)).overlap == 1.0
    assert agreement((piece,), (moved,)).overlap == pytest.approx(0.5, abs=0.01)
    larger = replace(piece, outer=piece.outer * 2)
    assert agreement((piece,), (larger,)).area_ratio == pytest.approx(4.0, abs=0.05)
    assert "larger than the first" in agreement((piece,), (larger,)).words
