"""A letter is asked for, filed unread, read, and answered; what it lifts follows from the rules."""

import io
from datetime import date, timedelta
from typing import Any

import pytest
from PIL import Image
from sqlmodel import select

from app.demo.cast import Crew
from app.intake import queries
from app.intake.models import LetterRequest
from app.platform import clock
from app.platform.images import NotAPhoto
from app.platform.service import Service
from app.records.letter_files import MAX_BYTES, plain_name, read_letter_file
from app.records.models import Attachment, Task
from tests.conftest import NOW, Browser
from tests.intake.course import ON, Browse, Course, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy, healthy_scar

PDF = b"%PDF-1.4\n1 0 obj <</OpenAction <</S /JavaScript /JS (app.alert(1))>>>> endobj\n%%EOF\n"
AGREES = {"answer": "agrees", "answered_on": "2026-03-10", "words": "Well controlled."}


def picture(kind: str = "PNG") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (80, 60), "white").save(out, kind)
    return out.getvalue()


def grade(service: Service, zone_id: int, on: date = ON) -> int:
    with service.database.read() as db:
        return queries.grade_on(db, zone_id, on)


def filed(browser: Browser, course: Course, content: bytes = PDF, **more: str) -> Any:
    data = {"client_id": str(course.client_id), "from_whom": "Harbour Lane Practice", **more}
    return browser.post("/letters", data=data, files={"letter": ("../scan of diabetes.pdf", content, "text/html")})


def asked(browser: Browser, screening_id: int, *keys: str) -> str:
    data = {"findings": list(keys), "to_whom": "Harbour Lane Practice"}
    answer = browser.post(f"/screenings/{screening_id}/letters", data=data)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def lines(service: Service, model: type[Any]) -> list[Any]:
    with service.database.read() as db:
        return list(db.exec(select(model).order_by(model.id)).all())


def test_a_letter_is_asked_for_printed_and_lifts_when_it_agrees(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(epilepsy="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    browser = browse("tomas")
    assert 'value="epilepsy" checked' in browser.get(f"/screenings/{screening_id}/letters/new").text
    address = asked(browser, screening_id, "epilepsy")
    page = browser.get(address).text
    assert "Epilepsy" in page
    assert "born 14 May 1990" in page
    assert "give it to the client to carry" in page
    assert grade(service, zone) == 0
    assert browser.post(f"{address}/answer", data={**AGREES, "good_until": "2026-06-01"}).status_code == 303
    assert [grade(service, zone, day) for day in (ON, date(2026, 6, 1), date(2026, 6, 2))] == [3, 3, 0]
    sheet = browser.get(f"/screenings/{screening_id}").text
    assert "The clinician agrees" in sheet
    assert "Well controlled." in sheet
    task = lines(service, Task)[0]
    assert (task.due_on, task.kind) == (date(2026, 5, 18), "letter_ends")
    assert {"intake.letter.asked", "intake.letter.answered", "records.task.planned"} <= set(trail(service))
    with clock.stopped_at(NOW + timedelta(days=90)):
        assert "ran out on" in browse("tomas").get(f"/screenings/{screening_id}").text


def test_the_letter_says_only_what_the_clinician_needs(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    scar = healthy_scar(burn="yes", cause="burn", words="from the kitchen fire", happened="2019")
    screening_id = submitted(service, course, healthy(scar, epilepsy="yes", blood_infection="yes"))
    page = browse("tomas").get(asked(browse("tomas"), screening_id, "burn_letter/s1")).text
    assert "Burn scar" in page
    assert "Forearm, client’s left" in page
    for never in ("kitchen", "HIV", "hepatitis", "Epilepsy", "2019"):
        assert never not in page, never


def test_wrong_askings_and_answers_come_back_with_what_was_typed(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(healthy_scar(keloid="yes"), epilepsy="yes"))
    browser, ask = browse("tomas"), f"/screenings/{screening_id}/letters"
    for keys in ([], ["keloid_here/s1"], ["no_such"], ["epilepsy", "under_age"]):
        page = browser.post(ask, data={"findings": keys, "to_whom": "Harbour Lane Practice"})
        assert page.status_code == 422
        assert "Harbour Lane Practice" in page.text
    answer = asked(browser, screening_id, "epilepsy") + "/answer"
    for wrong in (
        {"answered_on": "2026-03-17"}, {"good_until": "2026-03-15"}, {"answer": "perhaps"}, {"answered_on": ""},
        {"answer": "declines", "good_until": "2026-09-01"},
    ):  # fmt: skip
        page = browser.post(answer, data={**AGREES, **wrong})
        assert page.status_code == 422, wrong
        assert "Well controlled." in page.text
    assert lines(service, LetterRequest)[0].answer == ""


def own(day: str = "2026-03-16", **more: Any) -> dict[str, Any]:
    told = ["why", "unknown", "may_happen", "no_need", "may_stop"]
    return {"told": told, "decided_on": day, "reason": "They asked twice and want it.", **more}


def test_the_clients_own_decision_counts_only_where_a_clinician_would_not_say(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(thyroid="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    with service.database.read() as db:
        rows = [row for row in queries.findings_of(db, screening_id) if "informed_decision" in row.proofs.split()]
    key, address = rows[0].rule, f"/findings/{rows[0].id}/own-decision"
    browser = browse("tomas")
    assert browser.get(address).status_code == 404
    assert browser.post(address, data=own()).status_code == 422
    answer = asked(browser, screening_id, key) + "/answer"
    browser.post(answer, data={"answer": "declines", "answered_on": "2026-03-10"})
    assert browser.get(address).status_code == 200
    page = browser.post(address, data=own(told=["why"]))
    assert page.status_code == 422
    assert "They asked twice" in page.text
    assert browser.post(address, data=own(reason="")).status_code == 422
    assert grade(service, zone) == 0
    assert browser.post(address, data=own()).status_code == 303
    assert grade(service, zone) == 3
    # A clinician who advises against it afterwards is not overruled, by this decision or by a new one.
    later = asked(browser, screening_id, key) + "/answer"
    browser.post(later, data={"answer": "advises_against", "answered_on": "2026-03-12"})
    assert grade(service, zone) == 0
    silent = asked(browser, screening_id, key) + "/answer"
    browser.post(silent, data={"answer": "declines", "answered_on": "2026-03-14"})
    assert browser.post(address, data=own()).status_code == 422
    assert grade(service, zone) == 0


def test_the_desk_files_a_letter_unread_and_opens_none(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(epilepsy="yes"))
    desk, artist = browse("desk"), browse("tomas")
    assert "Robin Ash" in desk.get("/letters/new?q=robin").text
    answer = filed(desk, course, case_id=str(course.case_id))
    assert answer.headers["location"] == f"/letters/new?filed={course.client_id}"
    assert "One letter waits" in desk.get("/today").text
    for address in ("/attachments/1", "/attachments/1/download", "/attachments/1/shown"):
        assert desk.get(address).status_code == 404
    assert desk.post("/attachments/1", data={}).status_code == 404
    for page in (desk.get("/today").text, desk.get(f"/letters/new?filed={course.client_id}").text):
        assert "pilepsy" not in page
        assert "scan of" not in page
    assert "Letter for Robin Ash" in artist.get("/today").text
    answer = artist.get("/attachments/1/download")
    assert answer.content == PDF
    assert answer.headers["content-disposition"] == 'attachment; filename="letter-1.pdf"'
    assert answer.headers["content-security-policy"] == "sandbox; default-src 'none'"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert artist.get("/attachments/1/shown").status_code == 404
    assert artist.post("/attachments/1", data={"dated_on": "2026-03-01", "expires_on": "2026-02-01"}).status_code == 422
    assert artist.post("/attachments/1", data={"dated_on": "2026-03-01"}).status_code == 303
    assert "Letter for Robin Ash" not in artist.get("/today").text
    assert {"records.letter.filed", "records.letter.read"} <= set(trail(service))


def test_a_letter_is_joined_to_what_was_asked_or_to_what_it_speaks_to(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(epilepsy="yes"))
    filed(browse("desk"), course, picture())
    browser = browse("tomas")
    assert browser.get("/attachments/1/shown").headers["content-type"] == "image/jpeg"
    assert browser.get("/attachments/1/download").status_code == 404
    assert f"/screenings/{screening_id}/letters/new?letter=1" in browser.get("/attachments/1").text
    data = {"findings": ["epilepsy"], "to_whom": "Practice", "letter": "1"}
    answer = browser.post(f"/screenings/{screening_id}/letters", data=data)
    assert answer.headers["location"] == "/letter-requests/1/answer?letter=1"
    assert 'value="1" selected' in browser.get(answer.headers["location"]).text
    assert browser.post("/letter-requests/1/answer", data={**AGREES, "attachment_id": "1"}).status_code == 303
    letter = lines(service, Attachment)[0]
    assert (letter.read_by, letter.dated_on) == (crew.tomas.id, date(2026, 3, 10))
    other = open_course(service, crew, "Jo Dee")
    filed(browse("desk"), other, picture("JPEG"))
    wrong = browser.post("/letter-requests/1/answer", data={**AGREES, "attachment_id": "2"})
    assert wrong.status_code == 422
    assert "somebody else" in wrong.text


def test_letters_of_a_restricted_case_are_not_there_for_others(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    screening_id = submitted(service, course, healthy(epilepsy="yes"))
    address = asked(browse("tomas"), screening_id, "epilepsy")
    filed(browse("desk"), course, case_id=str(course.case_id))
    filed(browse("desk"), course)  # of no case: it may be of this one
    for name in ("ruth", "desk"):
        browser = browse(name)
        for path in (address, f"{address}/answer", "/attachments/1", "/attachments/2", "/attachments/2/download",
                     f"/screenings/{screening_id}/letters/new", f"/screenings/{screening_id}/answers/new"):  # fmt: skip
            assert browser.get(path).status_code == 404, path
        for path in (f"{address}/answer", f"/screenings/{screening_id}/letters", "/attachments/1"):
            sent = {**AGREES, "findings": ["epilepsy"], "to_whom": "x"}
            assert browser.post(path, data=sent).status_code == 404, path
        assert "Letter for" not in browser.get("/today").text
    assert browse("owner").get("/attachments/2").status_code == 200


@pytest.mark.parametrize(
    "content",
    [b"", b"<html><script>1</script></html>", b"%PDF-1.4 cut", picture()[:40], b"GIF89a" + b"0" * 50,
     b"%PDF-" + b"0" * MAX_BYTES],
    ids=["empty", "html", "pdf cut short", "picture cut short", "gif", "too large"],
)
def test_what_is_no_letter_is_not_filed(service: Service, crew: Crew, browse: Browse, content: bytes) -> None:
    course = open_course(service, crew)
    page = filed(browse("desk"), course, content)
    assert page.status_code == 422
    assert 'value="Harbour Lane Practice"' in page.text
    assert lines(service, Attachment) == []


def test_a_picture_is_encoded_anew_and_a_name_is_made_plain() -> None:
    sent = picture("JPEG") + b"<script>"
    read = read_letter_file(sent)
    assert read.shown_jpeg is not None
    assert b"<script>" not in read.shown_jpeg
    assert plain_name("C:\\letters\\../x/\x00scan\u202e.pdf") == "scan.pdf"
    with pytest.raises(NotAPhoto):
        read_letter_file(b"\x89PNG\r\n\x1a\n")


def test_a_letter_for_nobody_is_not_filed(service: Service, crew: Crew, browse: Browse) -> None:
    course, other = open_course(service, crew), open_course(service, crew, "Jo Dee")
    assert filed(browse("desk"), course, client_id="999").status_code == 404
    assert filed(browse("desk"), course, client_id="x").status_code == 422
    assert filed(browse("desk"), course, case_id=str(other.case_id)).status_code == 404
