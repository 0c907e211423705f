from app.consents import queries
from app.demo.cast import Crew
from app.platform.service import Service
from tests.consents.test_signing import asked, in_force, signed
from tests.intake.course import Browse, come_in, open_course, placed, submitted, trail


def test_each_permission_is_taken_back_by_itself(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    signed(come_in(service, asked(browse, course, zone)), teaching="yes", website="yes")
    with service.database.read() as db:
        teaching = next(row for row in queries.permissions_of(db, course.client_id) if row.kind == "teaching")
    browser = browse("tomas")
    assert (
        browser.post(f"/permissions/{teaching.id}/revocation").headers["location"]
        == f"/clients/{course.client_id}/permissions"
    )
    page = browser.get(f"/clients/{course.client_id}/permissions").text
    assert "taken back on" in page
    with service.database.read() as db:
        assert not queries.is_granted(db, course.client_id, "teaching")
        assert queries.is_granted(db, course.client_id, "website")
    assert in_force(service, zone)
    assert "consents.permission.revoked" in trail(service)
    again = browser.post(f"/permissions/{teaching.id}/revocation")
    assert again.status_code == 422
    assert "does not stand any more" in again.text


def test_a_treatment_permission_that_was_taken_back_no_longer_stands(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    signed(come_in(service, asked(browse, course, zone)))
    assert in_force(service, zone)
    browse("tomas").post("/permissions/1/revocation")
    assert not in_force(service, zone)


def test_what_was_signed_is_read_as_it_was_shown(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    signed(come_in(service, asked(browse, course, placed(service, course))), numbing="no")
    page = browse("tomas").get("/signatures/1").text
    assert "Nobody can promise a result." in page
    assert "Robin Ash" in page
    assert "May we use a numbing product" in page
    assert browse("tomas").get("/signatures/1/drawing").status_code == 404
    assert browse("tomas").get("/signatures/99").status_code == 404


def test_the_desk_and_others_read_no_permissions_of_a_restricted_case(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew, is_restricted=True)
    signed(come_in(service, asked(browse, course, placed(service, course))))
    assert browse("desk").get(f"/clients/{course.client_id}/permissions").status_code == 404
    assert browse("desk").post("/permissions/1/revocation").status_code == 404
    assert browse("ruth").post("/permissions/1/revocation").status_code == 404
    assert browse("ruth").get("/signatures/1").status_code == 404
    assert "Forearm" not in browse("ruth").get(f"/clients/{course.client_id}/permissions").text
    assert browse("owner").get("/signatures/1").status_code == 200


def test_what_was_signed_under_the_answers_of_a_restricted_case_is_not_for_others(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew, is_restricted=True)
    submitted(service, course)
    path = f"/clients/{course.client_id}/permissions"
    assert browse("ruth").get("/signatures/1").status_code == 404
    assert browse("ruth").get("/signatures/1/paper.pdf").status_code == 404
    assert "/signatures/1" not in browse("ruth").get(path).text
    assert browse("tomas").get("/signatures/1").status_code == 200
    assert "/signatures/1" in browse("tomas").get(path).text
