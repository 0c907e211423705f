from datetime import UTC, date, datetime, timedelta

import pytest

from app.consents import queries as consents
from app.demo.cast import Crew
from app.healing.fade import fade
from app.healing.guest_pages import emergency_number, when_read
from app.platform import clock
from app.platform.service import Service
from app.studio.models import Studio
from tests.conftest import browser_of
from tests.healing.people import WORKED_ON, add_case, add_zone, as_guest, begin, begun, noon

SAID = ("forearm", "Under the sleeve", "scar", "Scar")


@pytest.mark.parametrize(("day", "words"), [
    (0, "Today it looks red and strong"), (4, "It may look darker now"), (20, "The new skin is shiny and pink"),
    (70, "The colour settles slowly"), (400, "The colour settles slowly"),
])  # fmt: skip
def test_the_page_is_right_for_the_day(service: Service, crew: Crew, day: int, words: str) -> None:
    course = begun(service, crew)
    with clock.stopped_at(noon(WORKED_ON + timedelta(days=day))):
        text = as_guest(service, course).get("/aftercare").text
    assert f"<h1>Day {day}</h1>" in text
    assert words in text
    assert ("About day 70" in text) is (day < 70)
    assert 'href="tel:112"' in text  # Ireland
    for word in SAID:
        assert word not in text


def test_the_day_changes_at_the_studios_midnight(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    # Round the night the clocks go forward in Dublin: 23:30 UTC is still 28 March, a day later it is 30 March.
    with clock.stopped_at(datetime(2026, 3, 28, 23, 30, tzinfo=UTC)):
        assert "Day 12<" in as_guest(service, course).get("/aftercare").text
    with clock.stopped_at(datetime(2026, 3, 29, 23, 30, tzinfo=UTC)):
        assert "Day 14<" in as_guest(service, course).get("/aftercare").text


def test_a_sensitive_course_counts_no_days_at_the_client(service: Service, crew: Crew) -> None:
    course = begun(service, crew, sensitive=True)
    with clock.stopped_at(noon(WORKED_ON + timedelta(days=4))):
        text = as_guest(service, course).get("/aftercare").text
    assert "Your skin today" in text
    assert "Day 4" not in text
    assert "day 70" not in text
    assert "<svg" not in text


def test_an_allergy_patch_has_its_own_words(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        course = begin(db, crew, case, [add_zone(db, crew, case)], work="allergy_patch")
    text = as_guest(service, course).get("/aftercare").text
    assert "looked at on the next two days" in text
    assert "film" not in text


def test_only_the_holder_of_the_link_sees_the_page(service: Service, crew: Crew) -> None:
    begun(service, crew)
    for address in ("/aftercare", "/aftercare/check-in", "/aftercare/clinician"):
        assert browser_of(service).get(address).status_code == 404


def test_the_sheet_for_clinicians_lists_every_lot_of_the_case(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        begin(db, crew, case, [zone], worked_on=date(2026, 1, 5), key="early")
        course = begin(db, crew, case, [zone])
    text = as_guest(service, course).get("/aftercare/clinician").text
    for words in ("16 March 2026", "5 January 2026", "Sand 3", "L-2231", "not on file", "paramedical tattooing",
                  "mycobacteria", "laser", "MRI", "Blood services", "Nora O&#39;Shea"):  # fmt: skip
        assert words in text, words
    title = text.split("<title>")[1].split("</title>")[0]
    assert title == "For a doctor or nurse · Quiet Line Studio"


def test_no_more_notes_takes_the_permission_back(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    browser = as_guest(service, course)
    assert "No more notes" in browser.get("/aftercare").text
    assert browser.post("/aftercare/no-more-notes").status_code == 303
    with service.database.read() as db:
        assert not consents.is_granted(db, course.client_id, "reminders_email")
    assert "We send you no e-mails" in browser.get("/aftercare").text


def test_where_the_countrys_number_is_not_known_none_is_made_up(service: Service) -> None:
    with service.database.read() as db:
        studio = db.get_one(Studio, 1)
        assert emergency_number(studio) == "112"
        assert emergency_number(Studio(**{**studio.model_dump(), "country": "OTHER"})) is None
        assert emergency_number(Studio(**{**studio.model_dump(), "country": "GB"})) == "999"


def test_before_opening_it_says_that_nobody_reads_yet(service: Service) -> None:
    with service.database.read() as db:
        studio = db.get_one(Studio, 1)
    assert "before 09:00" in when_read(studio, datetime(2026, 7, 1, 2, tzinfo=UTC))
    assert "from 09:00" in when_read(studio, datetime(2026, 7, 1, 8, 30, tzinfo=UTC))  # summer time: 09:30


def test_the_drawing_keeps_its_word_inside() -> None:
    first, last, after = fade(0, 70), fade(70, 70), fade(200, 70)
    assert (first.anchor, last.anchor) == ("start", "end")
    assert first.today_x < fade(35, 70).today_x < last.today_x == after.today_x <= first.width
    assert first.shows_end
    assert not last.shows_end
    with pytest.raises(ValueError, match="at least a day"):
        fade(0, 0)


def test_an_older_page_says_that_there_is_newer_work(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew)
        zone = add_zone(db, crew, case)
        early = begin(db, crew, case, [zone], worked_on=date(2026, 1, 5), key="early")
        late = begin(db, crew, case, [zone])
    assert "You had work again on 16 March 2026" in as_guest(service, early).get("/aftercare").text
    assert "You had work again" not in as_guest(service, late).get("/aftercare").text
