from collections.abc import Callable
from datetime import date, timedelta

from sqlmodel import select

from app.demo.cast import Crew
from app.healing import actions as healing
from app.healing.models import Course
from app.messages.models import PlannedMessage
from app.platform import audit
from app.platform.service import Service
from app.records import actions as records
from app.records.models import Client
from tests.casebook.test_case import course_of
from tests.conftest import NOW, Browser
from tests.intake.course import send_link, submitted
from tests.outcomes.treated import LONG_AGO, Treated, judged, treated, worked

Browse = Callable[[str], Browser]
TODAY = NOW.date()


def page_of(browser: Browser) -> str:
    answer = browser.get("/today")
    assert answer.status_code == 200, answer.text
    return answer.text


def course(service: Service, about: Treated) -> Course:
    with service.database.read() as db:
        return db.exec(select(Course).where(Course.case_id == about.case_id)).one()


def test_the_front_door_leads_to_today(browse: Browse) -> None:
    for name in ("owner", "tomas", "desk"):
        answer = browse(name).get("/")
        assert (answer.status_code, answer.headers["location"]) == (303, "/today")
    assert browse("nobody").get("/").headers["location"] == "/sign-in"
    assert browse("nobody").get("/today").status_code == 303


def test_a_quiet_day_says_so_and_where_to_begin(browse: Browse) -> None:
    page = page_of(browse("owner"))
    assert "Nothing waits today." in page
    assert 'href="/clients/new"' in page
    assert 'action="/clients"' in page
    assert "/shelf" not in page_of(browse("desk"))


def test_undecided_answers_wait(service: Service, crew: Crew, browse: Browse) -> None:
    screening = submitted(service, course_of(service, crew, treated(service, crew)))
    assert f'<a href="/screenings/{screening}">Answers of Maren Solberg</a>' in page_of(browse("ruth"))


def test_red_flags_stand_before_everything_and_calm_check_ins_apart(
    service: Service, crew: Crew, browse: Browse
) -> None:
    for name, answers in (("Calm Client", {}), ("Unwell Client", {"fever": "yes"})):
        about = treated(service, crew, name=name)
        worked(service, crew, about, TODAY - timedelta(days=3))
        with service.database.write() as db:
            healing.check_in(
                db,
                db.get_one(Course, course(service, about).id),
                day_number=3,
                answers=answers,  # type: ignore[arg-type]
                by=crew.by("tomas"),
            )
    page = page_of(browse("tomas"))
    assert page.index("Read these first") < page.index("check-in of Unwell Client") < page.index("Check-ins to read")
    assert page.index("Check-ins to read") < page.index("Check-in of Calm Client, day 3</a>: nothing that worries.")


def test_colours_to_judge_stand_by_their_day(service: Service, crew: Crew, browse: Browse) -> None:
    now, soon, later = (treated(service, crew, name=name) for name in ("Now Client", "Soon Client", "Later Client"))
    worked(service, crew, now, LONG_AGO)
    worked(service, crew, soon, TODAY - timedelta(weeks=11))
    worked(service, crew, later, TODAY - timedelta(weeks=9))
    page = page_of(browse("tomas"))
    assert page.index("Now Client") < page.index("Within two weeks:") < page.index("Soon Client")
    assert "Later Client, Elbow" not in page
    judged(service, crew, now, TODAY)
    assert "Now Client, Elbow" not in page_of(browse("tomas"))


def test_open_sheets_and_gaps_in_records_wait(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    session = worked(service, crew, about, TODAY, state="open")
    done = worked(service, crew, about, LONG_AGO)
    page = page_of(browse("tomas"))
    assert f'<a href="/sessions/{session}">Sheet of Maren Solberg</a>' in page
    assert f'<a href="/sessions/{done}">Maren Solberg, 1 October 2025</a>: the needle and its lot' in page


def test_a_talk_that_is_due_is_a_task(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, is_sensitive=True)
    worked(service, crew, about, TODAY - timedelta(days=4))
    assert "To speak with" in page_of(browse("tomas"))


def fail_message(service: Service, crew: Crew, about: Treated) -> None:
    with service.database.write() as db, audit.entry(db, "messages.message.failed", crew.by("tomas")):
        db.add(
            PlannedMessage(
                unique_key="x",
                client_id=about.client_id,
                template="check_in",
                purpose="aftercare",
                subject_id=1,
                due_on=date(2026, 3, 15),
                due_at=NOW,
                state="failed",
                made_at=NOW,
            )
        )


def test_the_desk_sees_whom_to_reach_and_nothing_of_health(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, title="Elbow")
    worked(service, crew, about, LONG_AGO)
    submitted(service, course_of(service, crew, about))
    waiting = treated(service, crew, name="Form Client", title="Shoulder")
    send_link(service, course_of(service, crew, waiting))
    fail_message(service, crew, about)
    page = page_of(browse("desk"))
    for words in ("Not reached", "Maren Solberg", "+353 87 123 4567", "Forms out", "Form Client"):
        assert words in page, words
    for words in (
        "Elbow",
        "Shoulder",
        "/cases/",
        "/screenings/",
        "/zones/",
        "/sessions/",
        "Colour to judge",
        "To decide",
    ):
        assert words not in page, words


def test_the_reason_of_a_hold_is_for_artists(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    with service.database.write() as db:
        records.hold_client(db, db.get_one(Client, about.client_id), "Grieving", by=crew.by("tomas"))
    assert "Grieving" in page_of(browse("tomas"))
    desk = page_of(browse("desk"))
    assert "Grieving" not in desk
    assert "Ask the artist" in desk


def test_restricted_cases_wait_only_for_those_who_may_open_them(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, name="Quiet Client", restricted=True)
    worked(service, crew, about, LONG_AGO)
    submitted(service, course_of(service, crew, about))
    assert "Quiet Client" in page_of(browse("tomas"))
    assert "Quiet Client" not in page_of(browse("ruth"))
    assert "Quiet Client" in page_of(browse("owner"))
