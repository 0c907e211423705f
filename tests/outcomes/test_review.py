import csv
import io
from collections.abc import Callable
from datetime import date

import pytest

from app.demo.cast import Crew
from app.outcomes import export
from app.platform.service import Service
from tests.conftest import NOW, Browser
from tests.outcomes.treated import LONG_AGO, Treated, judged, photographed, treated, worked

Browse = Callable[[str], Browser]
TODAY = NOW.date()
JUST_DUE = date(
    2025, 12, 20
)  # 12 weeks before the day of the tests, so its colour may be judged and is not out of sight
RECENT = date(2026, 2, 20)


def zone_of(
    service: Service, crew: Crew, label: str, on: date, artist: str = "tomas", restricted: bool = False
) -> Treated:
    about = treated(service, crew, label=label, lead=artist, restricted=restricted)
    worked(service, crew, about, on, artist=artist)
    return about


def table_of(browser: Browser, address: str = "/review.csv") -> list[dict[str, str]]:
    answer = browser.get(address)
    assert answer.status_code == 200
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))


def test_settled_zones_stand_with_their_ranges_sessions_and_verdicts(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = zone_of(service, crew, "Elbow", LONG_AGO)
    photographed(service, crew, about, "before", date(2025, 9, 1), (9.0, 13.0))
    photographed(service, crew, about, "settled", date(2026, 3, 10), (1.0, 3.0))
    judged(service, crew, about, TODAY)
    page = browse("owner").get("/review").text
    assert "Elbow, client’s right" in page
    assert "9 to 13, then 1 to 3" in page
    assert "smaller by 6 to 12" in page
    assert "<strong>Good</strong>, Ruth Okonjo" in page
    assert "1 of 1; with so few" in page


def test_a_zone_that_still_settles_is_counted_and_not_listed(service: Service, crew: Crew, browse: Browse) -> None:
    zone_of(service, crew, "Shoulder", RECENT)
    page = browse("owner").get("/review").text
    assert "1 zone was worked on; the colour of 0 may be judged by now" in page
    assert "Shoulder, client’s right" not in page
    assert "No zone has settled yet." in page


def test_zones_past_their_day_are_owed_and_after_sixteen_weeks_out_of_sight(
    service: Service, crew: Crew, browse: Browse
) -> None:
    zone_of(service, crew, "Knee", JUST_DUE)
    zone_of(service, crew, "Shin", LONG_AGO)
    page = browse("owner").get("/review").text
    assert "1 waits for one, 1 has been out of sight for 16 weeks or more" in page
    assert "Knee, client’s right</a>, Tomas Verhey: since 14 March 2026." in page
    assert "Shin, client’s right</a>, Tomas Verhey: <span" in page


def test_a_provisional_verdict_is_shown_and_not_counted(service: Service, crew: Crew, browse: Browse) -> None:
    about = zone_of(service, crew, "Knee", LONG_AGO)
    judged(service, crew, about, LONG_AGO, grade="excellent", grade_second_light="excellent")
    page = browse("owner").get("/review").text
    assert "Excellent, provisional" in page
    assert "Good or excellent: none yet, so nothing can be said." in page


def test_verdicts_of_the_treating_artist_are_counted_apart(service: Service, crew: Crew, browse: Browse) -> None:
    judged(service, crew, zone_of(service, crew, "Knee", LONG_AGO), TODAY, by="tomas")
    judged(service, crew, zone_of(service, crew, "Shin", LONG_AGO), TODAY, by="ruth", grade="poor")
    page = browse("owner").get("/review").text
    assert "Good or excellent: 1 of 2;" in page
    assert "someone who did not treat the zone: 0 of 1;" in page


def test_artists_see_their_own_work_and_the_owner_all(service: Service, crew: Crew, browse: Browse) -> None:
    zone_of(service, crew, "Knee", LONG_AGO, "tomas")
    zone_of(service, crew, "Shin", LONG_AGO, "ruth")
    assert {row["zone"] for row in table_of(browse("owner"))} == {"Knee, client’s right", "Shin, client’s right"}
    assert {row["zone"] for row in table_of(browse("ruth"))} == {"Shin, client’s right"}
    assert {row["zone"] for row in table_of(browse("ruth"), f"/review.csv?artist={crew.tomas.id}")} == {
        "Shin, client’s right"
    }
    assert "Knee" not in browse("ruth").get("/review").text


def test_the_desk_and_the_signed_out_have_no_review(browse: Browse) -> None:
    for address in ("/review", "/review.csv"):
        assert browse("desk").get(address).status_code == 404
        assert browse("nobody").get(address).status_code == 303


def test_few_finished_zones_are_not_put_in_order_and_the_reason_is_said(
    service: Service, crew: Crew, browse: Browse
) -> None:
    judged(service, crew, zone_of(service, crew, "Knee", LONG_AGO, "tomas"), TODAY, by="ines", next_step="finished")
    judged(service, crew, zone_of(service, crew, "Shin", LONG_AGO, "ruth"), TODAY, by="ines", next_step="finished")
    page = browse("owner").get("/review").text
    assert "Not put in order: fewer than 30 finished zones" in page
    assert "Below 30 finished zones each, an order would be chance." in page
    assert "Not put in order" not in browse("tomas").get("/review").text


def test_the_review_narrows_by_artist_and_by_the_day_of_judging(service: Service, crew: Crew, browse: Browse) -> None:
    zone_of(service, crew, "Knee", LONG_AGO, "tomas")
    zone_of(service, crew, "Shin", JUST_DUE, "ruth")
    owner = browse("owner")
    assert [row["zone"] for row in table_of(owner, f"/review.csv?artist={crew.ruth.id}")] == ["Shin, client’s right"]
    assert [row["zone"] for row in table_of(owner, "/review.csv?since=2026-03-01")] == ["Shin, client’s right"]
    assert [row["zone"] for row in table_of(owner, "/review.csv?until=2026-03-01&artist=")] == ["Knee, client’s right"]
    page = owner.get("/review?until=2026-03-01").text
    assert 'value="2026-03-01"' in page
    assert "/review.csv?until=2026-03-01" in page


def test_a_filter_that_cannot_be_read_is_said_beside_its_field(browse: Browse) -> None:
    answer = browse("owner").get("/review?since=yesterday")
    assert answer.status_code == 422
    assert 'id="f_since_error"' in answer.text
    assert 'value="yesterday"' in answer.text


def test_early_returns_are_listed_and_those_under_the_floor_named(service: Service, crew: Crew, browse: Browse) -> None:
    about = zone_of(service, crew, "Knee", date(2025, 6, 2))
    worked(service, crew, about, date(2025, 7, 7))
    other = zone_of(service, crew, "Shin", date(2025, 6, 2))
    worked(service, crew, other, date(2025, 6, 16))
    page = browse("owner").get("/review").text
    assert "worked on 2 June 2025 and again on 7 July 2025" in page
    assert page.count("Under the floor of four weeks.") == 1


def test_gaps_in_the_records_are_listed(service: Service, crew: Crew, browse: Browse) -> None:
    zone_of(service, crew, "Knee", LONG_AGO)
    assert "the needle and its lot" in browse("owner").get("/review").text


def test_the_file_has_a_mark_line_ends_and_a_row_for_each_verdict(service: Service, crew: Crew, browse: Browse) -> None:
    about = zone_of(service, crew, "Knee", LONG_AGO)
    judged(service, crew, about, TODAY, grade="fair")
    judged(service, crew, about, TODAY, grade="good", grade_second_light="excellent")
    answer = browse("owner").get("/review.csv")
    assert answer.content.startswith(b"\xef\xbb\xbfcase,zone,")
    assert answer.content.endswith(b"\r\n")
    assert answer.headers["content-disposition"] == 'attachment; filename="review-2026-03-16.csv"'
    rows = table_of(browse("owner"))
    assert [(row["verdict"], row["first_light"], row["second_light"], row["counts"]) for row in rows] == [
        ("fair", "fair", "good", "no"),
        ("good", "good", "excellent", "yes"),
    ]


@pytest.mark.parametrize("typed", ["=1+1", "+1", "-1", "@cmd", "\t=1", "\r=1"])
def test_no_text_is_run_as_a_formula(typed: str) -> None:
    assert export.cell(typed) == f"'{typed}"


def test_numbers_stay_numbers_even_below_zero() -> None:
    assert [export.cell(value) for value in (-1.5, 3, None, date(2026, 3, 1), "Knee")] == [
        "-1.50",
        "3",
        "",
        "2026-03-01",
        "Knee",
    ]


def test_a_label_that_looks_like_a_formula_is_disarmed_in_the_file(
    service: Service, crew: Crew, browse: Browse
) -> None:
    zone_of(service, crew, "=HYPERLINK(1)", LONG_AGO)
    assert table_of(browse("owner"))[0]["zone"].startswith("'=HYPERLINK(1)")
