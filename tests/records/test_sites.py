from app.records.sites import SIDE_WORDS, SITE, SITES, position


def test_every_site_stands_on_the_figure_once() -> None:
    assert len(SITE) == len(SITES)
    assert all(0 < site.x < 1 and 0 < site.y < 1 for site in SITES)
    assert len({site.words for site in SITES}) == len(SITES)


def test_the_clients_left_is_the_viewers_right_in_front_and_left_behind() -> None:
    front, back = SITE["forearm"], SITE["calf"]
    assert position(front, "left").x > 0.5 > position(front, "right").x
    assert position(back, "left").x < 0.5 < position(back, "right").x
    assert position(front, "middle").x == 0.5
    assert set(SIDE_WORDS) == {"left", "right", "middle", "both"}
    assert position(front, "both") == position(front, "left")


def test_intimate_places_are_marked_sensitive() -> None:
    marked = {site.code for site in SITES if site.sensitive}
    assert marked == {"breast", "nipple", "groin", "genitals", "buttock", "inner_thigh"}
