import pytest

from app.demo.cast import Crew
from app.pigments import queries
from app.pigments.models import Item, Swatch
from app.platform.service import Service
from tests.pigments.bench import NEW, ON, Browse, audit_lines, measure, new_zone, put, read_skin, stock

SWATCH = {"white_percent": "0", "lab_l": "64", "lab_a": "12", "lab_b": "18", "measured_on": "2026-03-16",
          "measured_by": "typed from an instrument"}


def test_a_bottle_is_put_on_the_shelf_and_its_line_is_in_the_trail(service: Service, browse: Browse) -> None:
    tomas = browse("tomas")
    address = tomas.post("/shelf", data=NEW).headers["location"]
    assert "Warm sand, no. " in tomas.get(address).text
    assert "lot A12" in tomas.get("/shelf").text
    lines = audit_lines(service, "pigments.item.added")
    assert [f"/shelf/{line.subject.removeprefix('items/')}" for line in lines] == [address]


@pytest.mark.parametrize("path", ["/shelf", "/shelf/new", "/shelf/1", "/shelf/1/edit", "/shelf/1/swatches"])
def test_the_desk_finds_no_shelf(service: Service, crew: Crew, browse: Browse, path: str) -> None:
    put(service, crew, "Warm sand")
    assert browse("tomas").get(path).status_code == 200
    assert browse("desk").get(path).status_code == 404
    assert browse("nobody").get(path).status_code == 303


@pytest.mark.parametrize(("change", "message"), [
    ({"lot": ""}, "or tick that it cannot be read"),
    ({"lot_unreadable": "yes"}, "not both"),
    ({"label": ""}, "Fill this in."),
    ({"kind": "paint"}, "Choose one of these."),
    ({"expires_on": "31.1.2027"}, "Give a date"),
    ({"opened_on": "2026-03-19"}, "This day has not come yet."),
    ({"ml_per_drop": "0"}, "Give more than 0"),
    ({"ml_per_drop": "nan"}, "Give a number"),
    ({"use_within_days": "many"}, "Give a whole number."),
])
def test_a_bad_entry_comes_back_with_what_was_typed(browse: Browse, change: dict[str, str], message: str) -> None:
    answer = browse("tomas").post("/shelf", data={**NEW, "note": "kept in the fridge", **change})
    assert answer.status_code == 422
    assert message in answer.text
    assert "kept in the fridge" in answer.text


def test_an_unreadable_lot_and_a_decimal_comma_are_taken(service: Service, browse: Browse) -> None:
    browse("tomas").post("/shelf", data={**NEW, "lot": "", "lot_unreadable": "yes", "ml_per_drop": "0,04"})
    with service.database.read() as db:
        item = queries.items(db)[0]
    assert (item.lot_words, item.ml_per_drop) == ("lot unreadable", 0.04)


def test_two_bottles_of_one_label_are_told_apart(service: Service, crew: Crew, browse: Browse) -> None:
    first, second = put(service, crew, "Warm sand"), put(service, crew, "Warm sand")
    page = browse("tomas").get("/shelf").text
    assert f"Warm sand, no. {first}" in page
    assert f"Warm sand, no. {second}" in page


def test_a_stale_edit_is_refused_and_shows_what_was_sent(service: Service, crew: Crew, browse: Browse) -> None:
    item_id = put(service, crew, "Warm sand")
    tomas, ruth = browse("tomas"), browse("ruth")
    assert tomas.post(f"/shelf/{item_id}", data={**NEW, "lot": "B1", "revision": "1"}).status_code == 303
    late = ruth.post(f"/shelf/{item_id}", data={**NEW, "lot": "C9", "revision": "1"})
    assert late.status_code == 409
    assert "C9" in late.text
    assert ">B1</dd>" in ruth.get(f"/shelf/{item_id}").text
    assert ruth.post(f"/shelf/{item_id}/state", data={"state": "empty", "revision": "1"}).status_code == 409
    assert len(audit_lines(service, "pigments.item.changed")) == 1


def test_quarantine_needs_a_reason_and_each_change_is_in_the_trail(
        service: Service, crew: Crew, browse: Browse) -> None:
    item_id, tomas = put(service, crew, "Warm sand"), browse("tomas")
    bare = tomas.post(f"/shelf/{item_id}/state", data={"state": "quarantined", "reason": "", "revision": "1"})
    assert bare.status_code == 422
    assert "Say why" in bare.text
    said = {"state": "quarantined", "reason": "cap leaked", "revision": "1"}
    assert tomas.post(f"/shelf/{item_id}/state", data=said).status_code == 303
    assert "In quarantine: cap leaked" in tomas.get(f"/shelf/{item_id}").text
    assert "quarantine: cap leaked" in tomas.get("/shelf").text
    again = tomas.post(f"/shelf/{item_id}/state", data={**said, "revision": "2"})
    assert again.status_code == 422
    back = {"state": "usable", "reason": "cap replaced", "revision": "2"}
    assert tomas.post(f"/shelf/{item_id}/state", data=back).status_code == 303
    assert tomas.post(f"/shelf/{item_id}/state", data={"state": "empty", "revision": "3"}).status_code == 303
    assert len(audit_lines(service, "pigments.item.state_changed")) == 3


def test_out_of_date_is_said_first_and_the_last_day_still_counts(service: Service, crew: Crew, browse: Browse) -> None:
    put(service, crew, "Old sand", expires_on="2026-03-15")
    put(service, crew, "Last day", expires_on="2026-03-16")
    put(service, crew, "Opened long", opened_on="2026-01-01", use_within_days="30", expires_on="2028-01-01")
    put(service, crew, "Fresh", expires_on="2028-01-01")
    page = browse("tomas").get("/shelf").text
    first = page[page.index("Look at these first"):page.index("Pigments, premixed")]
    assert first.index("Opened long") < first.index("Old sand") < first.index("Last day")
    assert "out of date since 31 January 2026 (after opening)" in first
    assert "use by 16 March 2026, today" in first
    assert "Fresh" not in first
    with service.database.read() as db:
        assert [item.label for item in queries.usable(db, ("skin_tone",), ON)] == ["Fresh", "Last day"]


def test_a_measured_colour_is_added_and_the_newest_of_a_share_counts(
        service: Service, crew: Crew, browse: Browse) -> None:
    item_id, tomas = put(service, crew, "Warm sand"), browse("tomas")
    assert "Not measured" in tomas.get(f"/shelf/{item_id}").text
    for lightness in ("64", "66,5"):
        assert tomas.post(f"/shelf/{item_id}/swatches", data={**SWATCH, "lab_l": lightness}).status_code == 303
    with service.database.read() as db:
        every = queries.swatches_of(db, item_id)
        counting = queries.newest_of_each(every)
    assert [swatch.lab_l for swatch in every] == [66.5, 64.0]
    assert [swatch.lab_l for swatch in counting] == [66.5]
    page = tomas.get(f"/shelf/{item_id}/swatches").text
    assert "A later entry counts instead." in page
    assert "off by about 1.8 ΔE00" in page
    assert len(audit_lines(service, "pigments.swatch.added")) == 2


@pytest.mark.parametrize(("change", "message"), [
    ({"lab_l": "101"}, "Give 100 or less."),
    ({"lab_a": "-129"}, "Give -128 or more."),
    ({"lab_b": "128"}, "Give 127 or less."),
    ({"lab_b": ""}, "Give a number"),
    ({"lab_l": "inf"}, "Give a number"),
    ({"lab_a": "−40"}, "A skin tone usually has"),
    ({"white_percent": "50"}, "Choose the white bottle"),
    ({"white_percent": "100"}, "Give less than 100."),
])
def test_numbers_out_of_range_or_implausible_come_back(
        service: Service, crew: Crew, browse: Browse, change: dict[str, str], message: str) -> None:
    item_id, tomas = put(service, crew, "Warm sand"), browse("tomas")
    answer = tomas.post(f"/shelf/{item_id}/swatches", data={**SWATCH, "measured_by": "the blue one", **change})
    assert answer.status_code == 422
    assert message in answer.text
    assert "the blue one" in answer.text
    with service.database.read() as db:
        assert queries.swatches_of(db, item_id) == []


def test_an_implausible_colour_is_taken_once_it_is_confirmed(service: Service, crew: Crew, browse: Browse) -> None:
    item_id = put(service, crew, "Warm sand")
    odd = {**SWATCH, "lab_a": "−40", "is_checked": "yes"}
    assert browse("tomas").post(f"/shelf/{item_id}/swatches", data=odd).status_code == 303


def test_a_strong_pigment_is_trusted_only_with_a_tint_in_a_measured_white(
        service: Service, crew: Crew, browse: Browse) -> None:
    white = put(service, crew, "White", "white")
    strong = put(service, crew, "Umber", "strong", (35.0, 12.0, 16.0))
    page = browse("tomas").get("/shelf").text
    assert "Not trustworthy yet: measure a tint in white." in page
    measure(service, crew, strong, (72.0, 6.0, 9.0), percent=60, white_id=white)
    assert "Not trustworthy yet: measure the white of its tint." in browse("tomas").get("/shelf").text
    measure(service, crew, white, (96.0, 0.0, 2.0))
    page = browse("tomas").get(f"/shelf/{strong}").text
    assert "Measured; its mixes are off by about" in page
    assert "tint, 60 % white" in page.lower()


def test_a_bigger_drop_counts_for_more_in_a_mixture(service: Service, crew: Crew) -> None:
    put(service, crew, "Usual", lab=(64.0, 12.0, 18.0))
    put(service, crew, "Big drops", lab=(64.0, 12.0, 18.0), ml_per_drop="0.1")
    with service.database.read() as db:
        usual, big = sorted(queries.paints(db, ON), key=lambda paint: float(paint.s[0]))
    assert big.s == pytest.approx(2 * usual.s)
    assert big.k == pytest.approx(2 * usual.k)


def test_the_kind_of_a_measured_bottle_stays(service: Service, crew: Crew, browse: Browse) -> None:
    item_id = put(service, crew, "Warm sand", lab=(64.0, 12.0, 18.0))
    answer = browse("tomas").post(f"/shelf/{item_id}", data={**NEW, "kind": "white", "revision": "1"})
    assert answer.status_code == 422
    assert "measured colours of its kind" in answer.text
    with service.database.read() as db:
        assert db.get_one(Item, item_id).revision == 1


def test_a_bottle_says_where_it_is_used_but_not_in_cases_that_are_closed_to_whoever_looks(
        service: Service, crew: Crew, browse: Browse) -> None:
    ids = stock(service, crew)
    zone_id = new_zone(service, crew, is_restricted=True)
    read_skin(service, zone_id)
    own = {"name": "Test mix", "layer": "1", f"drops_{ids[0]}": "9", "do": "keep"}
    assert browse("tomas").post(f"/zones/{zone_id}/recipe/own", data=own).status_code == 303
    assert "Forearm, client’s left" in browse("tomas").get(f"/shelf/{ids[0]}").text
    page = browse("ruth").get(f"/shelf/{ids[0]}").text
    assert "Forearm" not in page
    assert "In 1 more, in cases that you may not open." in page


def test_swatches_of_another_white_stay_out_of_one_fit(service: Service, crew: Crew) -> None:
    white = put(service, crew, "White", "white", (96.0, 0.0, 2.0))
    other = put(service, crew, "Cream", "white", (90.0, 1.0, 8.0))
    strong = put(service, crew, "Umber", "strong", (35.0, 12.0, 16.0))
    measure(service, crew, strong, (72.0, 6.0, 9.0), percent=60, white_id=white)
    with service.database.read() as db:
        one = next(paint for paint in queries.paints(db, ON) if paint.key == strong)
    measure(service, crew, strong, (70.0, 7.0, 12.0), percent=75, white_id=other)
    with service.database.read() as db:
        two = next(paint for paint in queries.paints(db, ON) if paint.key == strong)
        assert db.get_one(Swatch, 5).white_id == other
    assert "1 tint in" in one.note
    assert "1 tint in" in two.note
    assert two.k.tolist() != one.k.tolist()
