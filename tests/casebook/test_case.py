from collections.abc import Callable
from datetime import date, timedelta

from sqlalchemy import event
from sqlmodel import select

from app.demo.cast import Crew
from app.platform import audit
from app.platform.service import Service
from app.records import actions as records
from app.records.models import Case, Client, Zone
from app.sessions.models import SessionItem
from tests.conftest import NOW, Browser
from tests.intake.course import Course, decided, submitted
from tests.outcomes.treated import LONG_AGO, Treated, another_zone, judged, photographed, treated, worked

Browse = Callable[[str], Browser]
TODAY = NOW.date()
RECENT = date(2026, 2, 20)


def page_of(browser: Browser, about: Treated) -> str:
    answer = browser.get(f"/cases/{about.case_id}")
    assert answer.status_code == 200, answer.text
    return answer.text


def course_of(service: Service, crew: Crew, about: Treated) -> Course:
    with service.database.read() as db:
        return Course(
            db.get_one(Client, about.client_id),
            db.get_one(Case, about.case_id),
            about.client_id,
            about.case_id,
            crew.by("tomas"),
        )


def test_a_new_case_says_what_to_do_first(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    page = page_of(browse("tomas"), about)
    assert "The client has not been asked yet: make the intake link first." in page
    assert f'action="/cases/{about.case_id}/intake"' in page
    assert "Not measured yet" in page


def test_answers_wait_for_a_decision_and_lead_to_it(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    screening = submitted(service, course_of(service, crew, about))
    page = page_of(browse("tomas"), about)
    assert "<strong>The answers of 16 March wait for a decision.</strong>" in page
    assert f'<a class="button" href="/screenings/{screening}">Decide on the answers</a>' in page


def test_a_cleared_zone_leads_to_consent_and_not_to_a_session(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, declared=[])
    course = course_of(service, crew, about)
    screening = submitted(service, course)
    joined = another_zone(service, crew, about, label="Forearm", site="forearm", side="left", declared=["s1"])
    decided(service, course, screening)
    page = page_of(browse("tomas"), joined)
    assert 'class="button" href="/cases/1/signing">Ask for consent</a>' in page
    assert 'class="button plain" href="/cases/1/sessions/new"' not in page
    assert "No consent names this zone." in page


def test_a_settling_zone_says_until_when_and_why(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    worked(service, crew, about, RECENT)
    page = page_of(browse("tomas"), about)
    assert "The elbow is settling; no work there before 1 May, first judgement on 15 May." in page
    assert "<summary>Why not before 1 May</summary>" in page
    assert "Unproven until it is judged." in page


def test_the_strip_and_the_matching_field_show_what_was_measured(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    photographed(service, crew, about, "before", date(2025, 9, 1), (9.2, 12.7))
    worked(service, crew, about, LONG_AGO)
    photographed(service, crew, about, "settled", date(2026, 3, 10), (1.0, 3.4), scar=(63.0, 9.5, 17.5))
    judged(service, crew, about, TODAY)
    page = page_of(browse("owner"), about)
    assert "Elbow: measured on 1 September 2025: 9 to 13 apart." in page
    assert "1st session on 1 October 2025" in page
    assert "Elbow: judged good." in page
    assert 'class="matching-field"' in page
    assert "Judged good by Ruth Okonjo, 16 March." in page


def test_a_zone_that_may_be_judged_leads_to_its_verdict(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    worked(service, crew, about, LONG_AGO)
    assert f'<a class="button" href="/zones/{about.zone_id}/verdict">Judge the elbow</a>' in page_of(
        browse("ruth"), about
    )


def test_an_open_sheet_comes_before_all_else(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    worked(service, crew, about, LONG_AGO)
    session = worked(service, crew, about, TODAY, state="open")
    page = page_of(browse("ruth"), about)
    assert f'<a class="button" href="/sessions/{session}">Go on with the open sheet</a>' in page
    assert "The elbow is being worked on: the sheet is open." in page


def test_on_hold_nothing_is_offered_that_starts_work(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    with service.database.write() as db:
        records.hold_client(db, db.get_one(Client, about.client_id), "Asked for a pause", by=crew.by("tomas"))
    page = page_of(browse("tomas"), about)
    assert "The client is on hold: nothing is sent and nothing starts." in page
    assert 'class="button" ' not in page


def test_alerts_and_photos_of_no_zone_are_seen(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    with service.database.write() as db:
        records.raise_alert(
            db, about.client_id, kind="latex", words="Latex-free room", audience="setup", source="", by=crew.by("tomas")
        )
    photographed(service, crew, about, "check_in", TODAY, loose=True)
    page = page_of(browse("ruth"), about)
    assert "Latex-free room" in page
    assert "Photos of no zone" in page


def test_photos_of_no_zone_are_hidden_where_a_zone_is_sensitive(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, is_sensitive=True)
    photo = photographed(service, crew, about, "check_in", TODAY, loose=True)
    assert f"/photos/{photo.id}/thumb" not in page_of(browse("tomas"), about)
    assert f"/photos/{photo.id}/thumb" in browse("tomas").get(f"/cases/{about.case_id}?open=1").text


def test_the_card_for_a_clinician_names_lots_places_and_cautions(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, name="Aoife Brannigan")
    session = worked(service, crew, about, LONG_AGO)
    with service.database.write() as db, audit.entry(db, "sessions.item.added", crew.by("tomas")):
        db.add(SessionItem(session_id=session, zone_id=about.zone_id, kind="skin_tone", label="Sand 2", lot="L-4471"))
        db.add(SessionItem(session_id=session, kind="needle", label="Cartridge 7", lot_unreadable=True))
    page = browse("ruth").get(f"/cases/{about.case_id}/clinician").text
    for words in (
        "Aoife Brannigan",
        "1 October 2025",
        "Elbow, client’s right",
        "Sand 2",
        "L-4471",
        "unreadable",
        "It can turn dark at once.",
        "Tomas Verhey",
    ):
        assert words in page, words


def test_a_card_before_any_work_says_that_nothing_was_placed(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    assert "Nothing has been placed yet." in browse("ruth").get(f"/cases/{about.case_id}/clinician").text


def test_strangers_and_the_desk_find_no_case(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, restricted=True)
    for address in (f"/cases/{about.case_id}", f"/cases/{about.case_id}/clinician", "/cases/999"):
        assert browse("ruth").get(address).status_code == 404
        assert browse("desk").get(address).status_code == 404
        assert browse("nobody").get(address).status_code == 303
    assert browse("owner").get(f"/cases/{about.case_id}").status_code == 200


def test_looking_at_a_case_changes_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    owner = browse("owner")
    with service.database.read() as db:
        before = len(db.exec(select(audit.AuditEntry)).all())
    page_of(owner, about)
    with service.database.read() as db:
        assert len(db.exec(select(audit.AuditEntry)).all()) == before


def test_a_case_of_many_zones_costs_few_questions(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    owner = browse("owner")
    asked: list[str] = []
    event.listen(service.database.engine, "before_cursor_execute", lambda *given: asked.append(given[2]))
    page_of(owner, about)
    few = len(asked)
    for number in range(11):
        zone = another_zone(service, crew, about, label=f"Zone {number}")
        worked(service, crew, zone, LONG_AGO - timedelta(days=number))
    asked.clear()
    page_of(owner, about)
    assert len(asked) <= few + 11 * 2, "each zone may ask for its consent, and for little else"
    with service.database.read() as db:
        assert len(db.exec(select(Zone)).all()) == 12
