"""A client's own permissions: the link, taking back, saying yes, and what they signed."""

import json
from datetime import timedelta

from app.consents import actions, queries
from app.demo.cast import Crew
from app.messages.models import PlannedMessage
from app.messages.sending import send_due
from app.platform import clock, links
from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records import actions as records
from app.records import forms, merging
from app.records.models import Client
from tests.conftest import NOW, Browser
from tests.consents.papers import DRAWN, reachable, sign_drawn, signature_of
from tests.intake.course import Browse, Course, come_in, open_course, trail


def opened(service: Service, course: Course) -> Browser:
    with service.database.write() as db:
        token = actions.make_permissions_link(db, db.get_one(Client, course.client_id), by=SYSTEM)
    return come_in(service, token)


def granted(service: Service, course: Course, kind: str) -> bool:
    with service.database.read() as db:
        return queries.is_granted(db, course.client_id, kind)


def number_of(service: Service, course: Course, kind: str) -> int:
    with service.database.read() as db:
        return next(row.id or 0 for row in queries.permissions_of(db, course.client_id) if row.kind == kind)


def test_a_client_takes_back_one_thing_and_the_rest_stands(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    sign_drawn(service, browse, course, website="yes", teaching="yes")
    browser, number = opened(service, course), number_of(service, course, "website")
    page = browser.get("/permissions").text
    assert "Photos on the website" in page
    assert "Forearm, on your left" in page
    question = browser.get(f"/permissions/{number}/taking-back").text
    assert "We stop showing them" in question
    assert granted(service, course, "website")
    for _ in range(2):  # pressing twice takes back once
        assert browser.post(f"/permissions/{number}/taking-back").headers["location"] == "/permissions"
    assert not granted(service, course, "website")
    assert granted(service, course, "teaching")
    assert trail(service).count("consents.permission.revoked") == 1
    assert browser.get(f"/permissions/{number}/taking-back").status_code == 404
    staff = browse("tomas")
    assert "by the client" in staff.get(f"/clients/{course.client_id}/permissions").text
    assert "taken back by the client" in staff.get("/signatures/1").text


def test_a_treatment_taken_back_at_home_stops_the_work(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    sign_drawn(service, browse, course)
    browser, number = opened(service, course), number_of(service, course, "treatment")
    assert "no more work there" in browser.get(f"/permissions/{number}/taking-back").text
    browser.post(f"/permissions/{number}/taking-back")
    with service.database.read() as db:
        assert queries.treatment_in_force(db, 1, NOW.date()) is None


def test_a_client_says_yes_to_one_thing_with_a_signature_of_its_own(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    sign_drawn(service, browse, course, teaching="no")
    browser = opened(service, course)
    assert "your answer is yes" in browser.get("/permissions/yes/teaching").text
    unsigned = browser.post("/permissions/yes/teaching", data={"typed_name": "Robin Ash"})
    assert unsigned.status_code == 422
    assert 'value="Robin Ash"' in unsigned.text
    assert not granted(service, course, "teaching")
    assert browser.post("/permissions/yes/teaching", data=DRAWN).status_code == 303
    assert granted(service, course, "teaching")
    assert not granted(service, course, "website")
    asked = json.loads(signature_of(service, 2).paper)["asked"]
    assert [(each["kind"], each["answer"]) for each in asked] == [("teaching", "yes")]
    for wrong in ("teaching", "treatment", "numbing", "nothing"):
        assert browser.get(f"/permissions/yes/{wrong}").status_code == 404
        assert browser.post(f"/permissions/yes/{wrong}", data=DRAWN).status_code == 404


def test_nobody_reaches_what_another_client_allowed(service: Service, crew: Crew, browse: Browse) -> None:
    course, other = open_course(service, crew), open_course(service, crew, "Kit Moor")
    sign_drawn(service, browse, course)
    stranger, number = opened(service, other), number_of(service, course, "treatment")
    assert stranger.get(f"/permissions/{number}/taking-back").status_code == 404
    assert stranger.post(f"/permissions/{number}/taking-back").status_code == 404
    assert stranger.get("/permissions/papers/1").status_code == 404
    assert opened(service, course).get("/permissions/papers/1").content.startswith(b"%PDF-")
    assert "Nothing at present." in stranger.get("/permissions").text


def test_the_link_serves_once_and_a_new_one_ends_it(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    shown = browse("tomas").post(f"/clients/{course.client_id}/permissions/address").text
    token = shown.split("/l/", 1)[1].split('"', 1)[0]
    browser = come_in(service, token)
    assert browser.get("/permissions").status_code == 200
    with service.database.read() as db:
        assert links.find(db, token) is None
    opened(service, course)
    assert browser.get("/permissions").status_code == 410


def test_who_may_not_open_every_case_is_shown_no_link(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew, is_restricted=True)
    path = f"/clients/{course.client_id}/permissions/address"
    assert browse("ruth").post(path).status_code == 422
    assert browse("desk").post(path).status_code == 404
    assert browse("owner").post(path).status_code == 200


def test_a_link_goes_to_the_address_on_file_without_a_yes_to_reminders(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    path, tomas = f"/clients/{course.client_id}/permissions/message", browse("tomas")
    tomas.post(path)
    with service.database.read() as db:
        assert db.get(PlannedMessage, 1) is None  # no address, nothing planned
    with service.database.write() as db:
        token = links.make(db, "aftercare", 1, course.client_id, lasts=timedelta(days=3), by=SYSTEM)
    guest = come_in(service, token)
    assert "no e-mail address" in guest.post("/aftercare/permissions-link").text
    reachable(service, course)
    assert "serves once" in guest.post("/aftercare/permissions-link").text
    planned = tomas.post(path)  # the same day: it is planned already
    assert "A link goes to" in tomas.get(planned.headers["location"]).text
    with clock.stopped_at(NOW + timedelta(hours=1)):
        assert send_due(service) == 1
    letters = sorted((service.settings.data / "outbox").glob("*"))
    assert len(letters) == 1
    body = letters[0].read_text(encoding="utf-8")
    assert "serves once" in body.replace("=\n", "")


def test_a_link_asked_for_goes_to_the_record_that_a_merging_kept(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    with service.database.write() as db:
        token = links.make(db, "aftercare", 1, course.client_id, lasts=timedelta(days=3), by=SYSTEM)
        kept = records.add_client(db, forms.NewClient(name="Anna Lind", email="anna@example.org"), by=SYSTEM)
        merging.merge(db, kept, db.get_one(Client, course.client_id), "The same person", by=SYSTEM)
    assert "serves once" in come_in(service, token).post("/aftercare/permissions-link").text
    with service.database.read() as db:
        assert db.get_one(PlannedMessage, 1).client_id == kept.id


def test_a_single_yes_is_signed_in_the_wording_that_was_shown(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    sign_drawn(service, browse, course, teaching="no")
    browser = opened(service, course)
    page = browser.get("/permissions/yes/teaching").text
    shown = page.partition('name="text_version" value="')[2].partition('"')[0]
    assert shown == actions.one_yes("en").version
    browser.post("/language", data={"language": "de", "back": "/permissions"})  # in another tab meanwhile
    late = browser.post("/permissions/yes/teaching", data={**DRAWN, "text_version": shown})
    assert late.status_code == 422
    assert not granted(service, course, "teaching")
    now = late.text.partition('name="text_version" value="')[2].partition('"')[0]
    assert browser.post("/permissions/yes/teaching", data={**DRAWN, "text_version": now}).status_code == 303
