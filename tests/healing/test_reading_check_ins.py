from collections.abc import Callable

from sqlmodel import Session, select

from app.demo.cast import Crew
from app.healing import actions, queries
from app.healing.aftercare import Answer
from app.healing.models import CheckIn, Course
from app.platform.audit import Actor, AuditEntry
from app.platform.service import Service
from app.studio.access import Who
from tests.conftest import Browser
from tests.healing.people import add_case, add_zone, as_guest, begin, begun

Browse = Callable[[str], Browser]


def sent(db: Session, course: Course, key: str = "fever", answer: Answer = "yes") -> CheckIn:
    by = Actor("client", course.client_id)
    return actions.check_in(db, course, day_number=4, answers={key: answer, "pus": "no"}, words="Hot.", by=by)


def test_the_worst_is_read_first(service: Service, crew: Crew) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        for key in ("raw", "weeping", "breathing", "fever"):
            sent(db, course, key)
        sent(db, course, "fever", "no")
    with service.database.read() as db:
        found = queries.unread_check_ins(db, Who(crew.owner.id or 0, "Ines", "owner", 1))
    assert [one.check_in.level for one in found] == ["emergency", "today", "days", "studio", "none"]
    assert found[0].level_words == "emergency"


def test_a_red_flag_stands_until_somebody_read_it(service: Service, crew: Crew, browse: Browse) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        sent(db, course, "weeping")
        assert not queries.has_unread_red_flag(db, course.client_id)
        flag = sent(db, course)
        db.flush()
        assert queries.has_unread_red_flag(db, course.client_id)
        assert not queries.has_unread_red_flag(db, course.client_id + 1)
    tomas = browse("tomas")
    page = tomas.get(f"/check-ins/{flag.id}")
    assert "a doctor the same day" in page.text
    assert "<strong>Yes.</strong>" in page.text
    assert tomas.post(f"/check-ins/{flag.id}/reading", data={"reply": "Called, sees a doctor."}).status_code == 303
    with service.database.read() as db:
        row = db.get_one(CheckIn, flag.id)
        assert not queries.has_unread_red_flag(db, course.client_id)
        entry = db.exec(select(AuditEntry).where(AuditEntry.action == "healing.check_in.read")).one()
    assert (row.read_by, row.reply) == (crew.tomas.id, "Called, sees a doctor.")
    assert (entry.actor_id, entry.subject) == (crew.tomas.id, f"check_ins/{flag.id}")
    assert "Called, sees a doctor." in as_guest(service, course).get("/aftercare").text


def test_a_serious_one_needs_a_note_of_what_was_done(service: Service, crew: Crew, browse: Browse) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        flag, mild = sent(db, course), sent(db, course, "weeping")
    page = browse("tomas").post(f"/check-ins/{flag.id}/reading", data={"reply": " "})
    assert page.status_code == 422
    assert "Write what was done about it." in page.text
    assert browse("tomas").post(f"/check-ins/{mild.id}/reading", data={"reply": ""}).status_code == 303


def test_what_was_read_is_not_read_again(service: Service, crew: Crew, browse: Browse) -> None:
    course = begun(service, crew)
    with service.database.write() as db:
        flag = sent(db, course)
    browse("tomas").post(f"/check-ins/{flag.id}/reading", data={"reply": "Called."})
    page = browse("owner").post(f"/check-ins/{flag.id}/reading", data={"reply": "Mine"})
    assert page.status_code == 422
    assert "read already" in page.text
    assert "Mine" in page.text
    with service.database.read() as db:
        assert db.get_one(CheckIn, flag.id).reply == "Called."


def test_check_ins_are_for_those_who_may_open_the_case(service: Service, crew: Crew, browse: Browse) -> None:
    with service.database.write() as db:
        case = add_case(db, crew, restricted=True)
        course = begin(db, crew, case, [add_zone(db, crew, case)])
        sent(db, course)
    for who in ("ruth", "desk"):
        assert browse(who).get("/check-ins/1").status_code == 404
        assert browse(who).post("/check-ins/1/reading", data={"reply": "x"}).status_code == 404
    assert browse("tomas").get("/check-ins/1").status_code == 200
    with service.database.read() as db:
        assert queries.unread_check_ins(db, Who(crew.ruth.id or 0, "Ruth", "artist", 1)) == []
