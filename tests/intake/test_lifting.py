from datetime import date
from typing import Any

from sqlmodel import select

from app.demo.cast import Crew
from app.intake import actions, queries
from app.intake.models import Clearance, Finding
from app.platform.service import Service
from tests.conftest import NOW
from tests.intake.course import ON, Browse, decided, open_course, placed, submitted, trail
from tests.intake.healthy import healthy, healthy_scar

LETTER = {"proof": "letter", "seen_on": "2026-03-10", "reason": "Letter of the practice, agrees."}


def finding_id(service: Service, rule: str) -> int:
    with service.database.read() as db:
        return db.exec(select(Finding).where(Finding.rule == rule)).one().id or 0


def grade(service: Service, zone_id: int, on: date = ON) -> int:
    with service.database.read() as db:
        return queries.grade_on(db, zone_id, on)


def test_a_stop_holds_until_its_letter_is_seen(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(diabetes="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    assert grade(service, zone) == 0
    with service.database.read() as db:
        assert [item.rule_id for item in queries.open_stops(db, zone, ON)] == ["diabetes"]
    answer = browse("tomas").post(f"/findings/{finding_id(service, 'diabetes')}/lifting", data=LETTER)
    assert answer.headers["location"] == f"/screenings/{screening_id}"
    assert grade(service, zone) == 3
    assert "intake.finding.lifted" in trail(service)
    assert "Letter of the practice, agrees." in browse("tomas").get(f"/screenings/{screening_id}").text


def test_a_letter_that_runs_out_ends_the_clearance(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(diabetes="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    browse("tomas").post(f"/findings/{finding_id(service, 'diabetes')}/lifting", data={**LETTER, "until": "2026-06-01"})
    assert grade(service, zone, date(2026, 6, 1)) == 3
    assert grade(service, zone, date(2026, 6, 2)) == 0


def test_only_the_stated_proof_lifts(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(healthy_scar(keloid="yes"), diabetes="yes"))
    browser = browse("tomas")
    page = browser.post(f"/findings/{finding_id(service, 'diabetes')}/lifting", data={**LETTER, "proof": "talk"})
    assert page.status_code == 422
    assert "Letter of the practice, agrees." in page.text
    address = f"/findings/{finding_id(service, 'keloid_here')}/lifting"
    assert browser.post(address, data=LETTER).status_code == 422
    assert "Nothing lifts this by hand." in browser.get(address).text


def test_a_letter_from_a_day_ahead_or_run_out_is_refused(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(diabetes="yes"))
    address = f"/findings/{finding_id(service, 'diabetes')}/lifting"
    for wrong in ({"seen_on": "2026-03-17"}, {"until": "2026-03-15"}, {"seen_on": "soon"}, {"reason": " "}):
        assert browse("tomas").post(address, data={**LETTER, **wrong}).status_code == 422


def test_nobody_lifts_what_the_law_sets(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    submitted(service, course, healthy(born_on="2010-05-14"))
    address = f"/findings/{finding_id(service, 'under_age')}/lifting"
    assert browse("owner").post(address, data=LETTER).status_code == 422


def test_a_withheld_answer_is_settled_by_a_private_talk(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(blood_infection="prefer_not"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    assert grade(service, zone) == 0
    talk = {"proof": "talk", "seen_on": "2026-03-16", "reason": "We talked privately."}
    assert (
        browse("tomas").post(f"/findings/{finding_id(service, 'blood_infection')}/lifting", data=talk).status_code
        == 303
    )
    assert grade(service, zone) == 3


def test_a_letter_shortens_a_wait_to_its_floor(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(isotretinoin="yes", isotretinoin_on="2026-01-10"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    assert grade(service, zone, date(2026, 7, 10)) == 0
    browse("tomas").post(f"/findings/{finding_id(service, 'isotretinoin')}/lifting", data=LETTER)
    assert grade(service, zone, date(2026, 7, 9)) == 0
    assert grade(service, zone, date(2026, 7, 10)) == 3


def test_a_clear_patch_and_a_bad_one_grade_the_zones_anew(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(metal_allergy="yes"))
    zone = placed(service, course, "s1")
    decided(service, course, screening_id)
    assert grade(service, zone) == 1
    written: dict[str, Any] = {
        "client_id": course.client_id,
        "zone_id": zone,
        "kind": "allergy_patch",
        "source_key": "session/1",
    }
    for _ in range(2):
        with service.database.write() as db:
            actions.write_evidence(db, **written, result="clear", seen_on=ON, placed_on=date(2026, 3, 14), by=course.by)
    assert grade(service, zone) == 3
    with service.database.write() as db:
        actions.write_evidence(db, **{**written, "source_key": "session/2"}, result="reacted", seen_on=ON, by=course.by)
    assert grade(service, zone) == 1
    assert finding_id(service, "patch_reacted")


def test_a_test_spot_speaks_for_its_own_zone_only(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    scars = healthy_scar("s1", thin="yes", another="yes"), healthy_scar("s2", thin="yes")
    screening_id = submitted(service, course, healthy(*scars))
    tried, other = placed(service, course, "s1"), placed(service, course, "s2", label="Knee")
    decided(service, course, screening_id)
    assert (grade(service, tried), grade(service, other)) == (2, 2)
    with service.database.write() as db:
        actions.write_evidence(
            db,
            client_id=course.client_id,
            zone_id=tried,
            kind="test_spot",
            result="clear",
            seen_on=ON,
            placed_on=date(2025, 12, 1),
            source_key="session/1",
            by=course.by,
        )
    assert (grade(service, tried), grade(service, other)) == (3, 2)


def test_a_proof_stands_on_file_with_its_days_its_reader_and_what_it_lifts(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    screening_id = submitted(service, course, healthy(metal_allergy="yes"))
    zone = placed(service, course, "s1")
    with service.database.write() as db:
        row = actions.write_evidence(
            db, client_id=course.client_id, zone_id=zone, kind="allergy_patch", result="clear", seen_on=ON,
            placed_on=date(2026, 3, 13), may_read_from=date(2026, 3, 14), read_by=crew.ruth.id,
            words="No redness at all.", source_key="session/1", by=course.by,
        )  # fmt: skip
        assert (row.read_by, row.may_read_from, row.note) == (crew.ruth.id, date(2026, 3, 14), "No redness at all.")
    page = browse("tomas").get(f"/screenings/{screening_id}").text
    proofs = page[page.index('id="proofs"') :]
    for words in ("13 March 2026", "14 March 2026", f"by {crew.ruth.name}", "No redness at all.", "Metal allergy"):
        assert words in proofs, words


def test_a_clearance_from_before_days_were_kept_has_one_day_for_all_up_to_its_grade() -> None:
    old = Clearance(zone_id=1, screening_id=1, grade=2, from_on=ON, decided_at=NOW)
    assert old.days == (ON, ON, None)
    assert [old.grade_on(day) for day in (date(2026, 3, 15), ON)] == [0, 2]
    assert Clearance(zone_id=1, screening_id=1, grade=0, from_on=ON, decided_at=NOW).days == (None, None, None)
