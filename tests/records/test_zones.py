from collections.abc import Callable

import pytest

from app.demo.cast import Crew
from app.platform.audit import Actor
from app.platform.service import Service
from app.records import actions, queries
from app.records.happened import happened_words, joined, parts, read_happened
from app.records.models import Zone
from app.records.sites import SITE, position
from tests.conftest import Browser
from tests.records.cast import begin, trail_of, zone_form

Browse = Callable[[str], Browser]
SENT = {"label": "Shin, long line", "site": "shin", "side": "right", "scar_kind": "fine_line"}


def _newest(service: Service, case_id: int | None) -> Zone:
    with service.database.read() as db:
        return queries.zones_of(db, case_id or 0)[-1]


def test_a_zone_without_a_tapped_point_stands_where_its_site_is(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    answer = browse("tomas").post(f"/cases/{begun.case.id}/zones", data={**SENT, "place_x": "", "place_view": ""})
    assert answer.status_code == 303
    zone = _newest(service, begun.case.id)
    usual = position(SITE["shin"], "right")
    assert (zone.view, zone.x, zone.y, zone.padding) == (usual.view, usual.x, usual.y, "over_bone")
    page = browse("tomas").get(answer.headers["location"]).text
    assert "client’s right" in page
    assert trail_of(service, "records.zone.placed") == 2


def test_a_tapped_point_and_a_date_in_parts_are_kept(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    sent = {**SENT, "place_x": "0.412", "place_y": "0.8", "place_view": "back", "happened_m": "3", "happened_y": "2019",
            "padding": "thin"}
    assert browse("tomas").post(f"/cases/{begun.case.id}/zones", data=sent).status_code == 303
    zone = _newest(service, begun.case.id)
    assert (zone.view, zone.x, zone.y, zone.happened, zone.padding) == ("back", 0.412, 0.8, "2019-03", "thin")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"site": "wing"}, "Choose one of these."),
        ({"label": ""}, "Fill this in."),
        ({"label": "Burn on the shin"}, "Leave out how the scar came about"),
        ({"happened_d": "3", "happened_y": "2019"}, "Give the month as a number"),
        ({"happened_y": "19"}, "four digits"),
        ({"happened_y": "2031"}, "This lies ahead"),
        ({"place_x": "7", "place_y": "0.1", "place_view": "front"}, "Give 1"),
        ({"declared": "no such scar"}, "belongs to another zone by now"),
    ],
)
def test_a_wrong_zone_form_is_refused_and_kept(
    service: Service, crew: Crew, browse: Browse, wrong: dict[str, str], said: str
) -> None:
    begun = begin(service, crew)
    answer = browse("tomas").post(f"/cases/{begun.case.id}/zones", data={**SENT, "texture": "fine ridges", **wrong})
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="fine ridges"' in answer.text


def test_an_intimate_place_is_hidden_whatever_was_ticked(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    browse("tomas").post(f"/cases/{begun.case.id}/zones", data={**SENT, "site": "groin"})
    assert _newest(service, begun.case.id).is_sensitive


def test_declared_scars_are_offered_joined_and_let_go(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    scar = {"key": "s1", "site": "shin", "side": "right", "kind": "fine_line", "happened": "more_than_5_years",
            "words": "the long one"}
    with service.database.write() as db:
        for _ in range(2):
            actions.declare_scars(db, begun.case, [scar], by=Actor("client", begun.client.id))
    browser = browse("tomas")
    offered = "Declared by the client: Shin, client’s right, a thin line, more than 5 years ago, “the long one”"
    assert browser.get(f"/cases/{begun.case.id}/zones/new").text.count(offered) == 1
    at = browser.post(f"/cases/{begun.case.id}/zones", data={**SENT, "declared": "s1"}).headers["location"]
    assert "the long one" in browser.get(at).text
    assert offered not in browser.get(f"/cases/{begun.case.id}/zones/new").text
    assert "checked" in browser.get(f"{at}/edit").text.partition(offered)[0].rpartition("<label")[2]
    assert browser.post(at, data={**SENT, "revision": "1"}).status_code == 303
    assert offered in browser.get(f"/cases/{begun.case.id}/zones/new").text


def test_a_zone_is_changed_once_from_one_state(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    browser = browse("tomas")
    form = browser.get(f"/zones/{begun.zone.id}/edit").text
    assert 'name="revision" value="1"' in form
    assert browser.post(f"/zones/{begun.zone.id}", data={**SENT, "revision": "1"}).status_code == 303
    again = browser.post(f"/zones/{begun.zone.id}", data={**SENT, "label": "Mine", "revision": "1"})
    assert again.status_code == 409
    assert "Mine" in again.text
    assert "Shin, long line" in browser.get(f"/zones/{begun.zone.id}").text
    assert trail_of(service, "records.zone.changed") == 1


def test_strangers_neither_place_nor_change_zones(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew, restricted=True)
    for name in ("ruth", "desk"):
        assert browse(name).get(f"/cases/{begun.case.id}/zones/new").status_code == 404
        assert browse(name).post(f"/cases/{begun.case.id}/zones", data=SENT).status_code == 404
        assert browse(name).post(f"/zones/{begun.zone.id}", data={**SENT, "revision": "1"}).status_code == 404
        assert browse(name).get(f"/zones/{begun.zone.id}/edit").status_code == 404


def test_a_zone_is_finished_and_opened_again(service: Service, crew: Crew, browse: Browse) -> None:
    begun = begin(service, crew)
    with service.database.write() as db:
        zone = db.get_one(Zone, begun.zone.id)
        actions.finish_zone(db, zone, begun.case.opened_on, by=Actor("member", crew.tomas.id))
    assert "Finished on 16 March 2026" in browse("tomas").get(f"/zones/{begun.zone.id}").text
    with service.database.write() as db:
        actions.reopen_zone(db, db.get_one(Zone, begun.zone.id), by=Actor("member", crew.tomas.id))
    assert "Finished on" not in browse("tomas").get(f"/zones/{begun.zone.id}").text


def test_a_form_made_by_hand_names_its_point_directly() -> None:
    form = zone_form(view="back", x=0.3, y=0.4, happened="2020-02-29")
    assert (form.place.view, form.place.x, form.happened) == ("back", 0.3, "2020-02-29")


@pytest.mark.parametrize(
    ("text", "words"),
    [("2019", "2019"), ("2019-03", "March 2019"), ("2020-02-29", "29 February 2020"), ("", ""),
     ("older_2", "more than 2 years ago"), ("dont_know", "date not known")],
)  # fmt: skip
def test_a_remembered_date_is_read_and_said(text: str, words: str) -> None:
    assert happened_words(read_happened(text)) == words


@pytest.mark.parametrize("text", ["2019-02-30", "2019-13", "soon", "1850", "2019-3"])
def test_a_date_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".+\."):
        read_happened(text)


def test_the_three_fields_and_the_kept_text_are_each_others_reverse() -> None:
    kept = parts("2019-03-14")
    assert joined(kept["happened_d"], kept["happened_m"], kept["happened_y"]) == "2019-03-14"
