import io
from datetime import timedelta

import pytest
from PIL import Image
from sqlmodel import select

from app.demo.cast import Crew
from app.healing.aftercare import questions_for
from app.healing.models import CheckIn
from app.platform import clock
from app.platform.audit import AuditEntry
from app.platform.service import Service
from app.records.models import Photo
from tests.healing.people import WORKED_ON, add_case, add_zone, as_guest, begin, begun, noon


def answers(day: int, **given: str) -> dict[str, str]:
    return {f"q_{question.key}": given.get(question.key, "no") for question in questions_for(day)}


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (200, 160, 140)).save(out, "JPEG")
    return out.getvalue()


@pytest.mark.parametrize(("given", "level", "words"), [
    ({}, "none", "Nothing that you answered needs a doctor today"),
    ({"raw": "yes"}, "studio", "Tell the studio"),
    ({"weeping": "not sure"}, "days", "See a doctor in the next few days"),
    ({"fever": "yes", "weeping": "yes"}, "today", "See a doctor today"),
    ({"breathing": "yes", "fever": "yes"}, "emergency", "Call 112 now"),
    ({"breathing": "not sure"}, "emergency", "Call 112 now"),
])  # fmt: skip
def test_a_check_in_is_answered_at_once_with_the_worst_level(
    service: Service, crew: Crew, given: dict[str, str], level: str, words: str
) -> None:
    course = begun(service, crew)
    with clock.stopped_at(noon(WORKED_ON + timedelta(days=5))):
        browser = as_guest(service, course)
        sent = browser.post("/aftercare/check-in", data=answers(5, **given) | {"words": "It itches."})
        assert sent.status_code == 303
        text = browser.get(sent.headers["location"]).text
    assert words in text
    with service.database.read() as db:
        row = db.exec(select(CheckIn)).one()
        entry = db.exec(select(AuditEntry).where(AuditEntry.action == "healing.check_in.sent")).one()
    assert (row.level, row.day_number, row.words, row.read_at) == (level, 5, "It itches.", None)
    assert (entry.actor_kind, entry.subject) == ("client", "check_ins/1")


def test_silence_is_not_a_no_and_what_was_answered_stays(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    page = browser.post("/aftercare/check-in", data={"q_fever": "no", "words": "Fine so far"})
    assert page.status_code == 422
    assert "Answer yes, no or not sure." in page.text
    assert "Fine so far" in page.text
    assert page.text.count(" checked") == 1


def test_whoever_needs_a_doctor_is_not_sent_back_to_fill_in_the_rest(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    sent = browser.post("/aftercare/check-in", data={"q_breathing": "yes"})
    assert sent.status_code == 303
    assert "Get help now" in browser.get(sent.headers["location"]).text


def test_a_made_up_answer_is_no_answer(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    page = browser.post("/aftercare/check-in", data=answers(0) | {"q_fever": "maybe"})
    assert page.status_code == 422


def test_a_photo_comes_with_it_and_is_filed_as_the_clients(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    browser = as_guest(service, course)
    sent = browser.post("/aftercare/check-in", data=answers(0), files={"photo": ("x.jpg", jpeg(), "image/jpeg")})
    assert sent.status_code == 303
    with service.database.read() as db:
        photo, row = db.exec(select(Photo)).one(), db.exec(select(CheckIn)).one()
    assert (photo.purpose, photo.by_client, photo.case_id, photo.zone_id) == ("check_in", True, course.case_id, 1)
    assert (photo.width, photo.height, row.photo_id) == (64, 48, photo.id)


def test_without_a_yes_to_photos_none_is_asked_for_or_kept(service: Service, crew: Crew) -> None:
    with service.database.write() as db:
        case = add_case(db, crew, photos=False)
        course = begin(db, crew, case, [add_zone(db, crew, case)])
    browser = as_guest(service, course)
    page = browser.get("/aftercare/check-in").text
    assert 'type="file"' not in page
    assert "You have not said yes to photos for your record" in page
    sent = browser.post("/aftercare/check-in", data=answers(0), files={"photo": ("x.jpg", jpeg(), "image/jpeg")})
    assert "The photo was not kept, because you have not said yes" in browser.get(sent.headers["location"]).text
    with service.database.read() as db:
        assert db.exec(select(Photo)).all() == []
        assert db.exec(select(CheckIn)).one().photo_id is None


def test_a_photo_that_cannot_be_read_never_loses_the_answers(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    sent = browser.post("/aftercare/check-in", data=answers(0, fever="yes"),
                        files={"photo": ("x.heic", b"not a photo", "image/heic")})  # fmt: skip
    text = browser.get(sent.headers["location"]).text
    assert "See a doctor today" in text
    assert "photo could not be read or taken" in text
    with service.database.read() as db:
        assert db.exec(select(CheckIn)).one().photo_id is None


def test_too_many_photos_are_left_out_and_the_reports_still_come_in(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    for _ in range(22):
        sent = browser.post("/aftercare/check-in", data=answers(0), files={"photo": ("x.jpg", jpeg(), "image/jpeg")})
        assert sent.status_code == 303
    with service.database.read() as db:
        assert len(db.exec(select(Photo)).all()) == 20
        assert len(db.exec(select(CheckIn)).all()) == 22
    with clock.stopped_at(clock.now() + timedelta(hours=2)):
        browser.post("/aftercare/check-in", data=answers(0), files={"photo": ("x.jpg", jpeg(), "image/jpeg")})
    with service.database.read() as db:
        assert len(db.exec(select(Photo)).all()) == 21


def test_words_that_are_too_long_are_refused_and_kept(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    page = browser.post("/aftercare/check-in", data=answers(0) | {"words": "x" * 2001})
    assert page.status_code == 422
    assert "Use at most 2000 characters" in page.text
    assert "x" * 2001 in page.text


def test_one_client_never_sees_anothers_answer(service: Service, crew: Crew) -> None:
    browser = as_guest(service, begun(service, crew))
    address = browser.post("/aftercare/check-in", data=answers(0)).headers["location"]
    with service.database.write() as db:
        case = add_case(db, crew, name="Ada Byrne")
        other = begin(db, crew, case, [add_zone(db, crew, case)], key="2")
    assert as_guest(service, other).get(address).status_code == 404


def test_nothing_is_asked_before_it_could_mean_anything(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    assert "white ring" not in as_guest(service, course).get("/aftercare/check-in").text
    with clock.stopped_at(noon(WORKED_ON + timedelta(days=40))):
        assert "white ring" in as_guest(service, course).get("/aftercare/check-in").text
