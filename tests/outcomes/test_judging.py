import re
from collections.abc import Callable
from datetime import date

from sqlmodel import select

from app.demo.cast import Crew
from app.healing.models import Course
from app.outcomes import queries
from app.outcomes.models import Verdict
from app.outcomes.work_queries import clocks_on, earliness, standing_verdict
from app.pigments.models import Recipe
from app.platform.service import Service
from app.records.models import Zone
from tests.conftest import NOW, Browser
from tests.outcomes.treated import LONG_AGO, Treated, judged, photographed, trail, treated, worked

Browse = Callable[[str], Browser]
TODAY = NOW.date()
RECENT = date(2026, 2, 20)
GIVEN = {
    "grade": "good",
    "grade_second_light": "excellent",
    "seen": "in_person",
    "visibility": "2",
    "satisfaction": "",
    "next_step": "finished",
    "note": "Even in daylight",
}


def settled(service: Service, crew: Crew, **zone: object) -> Treated:
    about = treated(service, crew, **zone)  # type: ignore[arg-type]  # words of a zone form
    worked(service, crew, about, LONG_AGO)
    return about


def verdict_of(service: Service, about: Treated) -> Verdict:
    with service.database.read() as db:
        return queries.verdicts_of(db, about.zone_id)[-1]


def test_a_settled_verdict_finishes_the_zone_proves_the_recipe_and_ends_the_healing(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = settled(service, crew)
    answer = browse("ruth").post(f"/zones/{about.zone_id}/verdict", data=GIVEN)
    assert answer.status_code == 303
    kept = verdict_of(service, about)
    assert (kept.was_settled, kept.sessions_used, kept.visibility, kept.satisfaction) == (True, 1, 2, None)
    assert (kept.judged_on, kept.judged_by) == (TODAY, crew.ruth.id)
    with service.database.read() as db:
        assert db.get_one(Zone, about.zone_id).finished_on == TODAY
        assert db.exec(select(Recipe.verdict)).one() == "good"
        assert db.exec(select(Course)).one().ended_at is not None
        assert {"outcomes.zone.judged", "pigments.recipe.judged", "records.zone.finished"} <= set(trail(db))


def test_the_worse_of_the_two_lights_counts(service: Service, crew: Crew) -> None:
    about = settled(service, crew)
    kept = judged(service, crew, about, TODAY, grade="excellent", grade_second_light="fair")
    assert kept.counts == "fair"
    with service.database.read() as db:
        assert db.exec(select(Recipe.verdict)).one() == "fair"


def test_before_its_day_a_verdict_is_provisional_and_proves_nothing(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = treated(service, crew)
    worked(service, crew, about, RECENT)
    page = browse("ruth").get(f"/zones/{about.zone_id}/verdict")
    assert "The colour may be judged from 15 May 2026 on." in page.text
    answer = browse("ruth").post(f"/zones/{about.zone_id}/verdict", data={**GIVEN, "next_step": "wait"})
    assert answer.status_code == 303
    assert verdict_of(service, about).was_settled is False
    with service.database.read() as db:
        assert db.exec(select(Recipe.verdict)).one() == ""
        assert db.get_one(Zone, about.zone_id).finished_on is None
    assert "Good, provisional." in browse("ruth").get(f"/zones/{about.zone_id}/verdict").text


def test_a_zone_is_not_finished_on_a_provisional_verdict(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    worked(service, crew, about, RECENT)
    answer = browse("ruth").post(f"/zones/{about.zone_id}/verdict", data=GIVEN)
    assert answer.status_code == 422
    assert "A zone is finished only when its colour has settled." in answer.text
    assert "Even in daylight" in answer.text
    with service.database.read() as db:
        assert queries.verdicts_of(db, about.zone_id) == []


def test_the_judge_who_treated_the_zone_is_named_as_such(service: Service, crew: Crew, browse: Browse) -> None:
    about = settled(service, crew)
    assert "You worked on this zone yourself." in browse("tomas").get(f"/zones/{about.zone_id}/verdict").text
    assert "You worked on this zone yourself." not in browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert judged(service, crew, about, TODAY, by="tomas").by_treating_artist is True
    assert judged(service, crew, about, TODAY, by="ruth").by_treating_artist is False


def test_several_verdicts_are_kept_and_the_newest_stands(service: Service, crew: Crew, browse: Browse) -> None:
    about = settled(service, crew)
    judged(service, crew, about, TODAY, grade="fair", note="Still seen")
    judged(service, crew, about, TODAY, grade="good", note="Better in shade")
    page = browse("owner").get(f"/zones/{about.zone_id}/verdict").text
    assert "Still seen" in page
    assert "Better in shade" in page
    assert page.index("Better in shade") < page.index("Still seen")


def test_a_verdict_of_earlier_work_does_not_stand_for_later_work(service: Service, crew: Crew) -> None:
    about = settled(service, crew)
    judged(service, crew, about, TODAY)
    worked(service, crew, about, TODAY)
    with service.database.read() as db:
        who_sees = queries.verdicts_of(db, about.zone_id)
        assert standing_verdict(who_sees, clocks_on(db, [about.zone_id])[about.zone_id]) is None


def test_another_session_opens_a_finished_zone_again(service: Service, crew: Crew) -> None:
    about = settled(service, crew)
    judged(service, crew, about, TODAY, next_step="finished")
    judged(service, crew, about, TODAY, next_step="another_session")
    with service.database.read() as db:
        assert db.get_one(Zone, about.zone_id).finished_on is None


def test_the_pair_is_the_first_photo_before_and_the_newest_settled_one(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = settled(service, crew)
    first = photographed(service, crew, about, "before", date(2025, 9, 1), (9.0, 13.0))
    photographed(service, crew, about, "before", date(2025, 9, 20), (8.0, 12.0))
    photographed(service, crew, about, "settled", date(2026, 1, 10), (5.0, 8.0))
    last = photographed(service, crew, about, "settled", date(2026, 3, 10), (1.0, 3.0))
    page = browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert [int(n) for n in re.findall(r'src="/photos/(\d+)/shown"', page)] == [first.id, last.id]
    assert "their colours may be compared" in page
    assert "smaller by 6 to 12" in page
    kept = judged(service, crew, about, TODAY)
    assert (kept.before_photo_id, kept.after_photo_id) == (first.id, last.id)
    assert kept.before_reading_id is not None
    assert kept.after_reading_id is not None


def test_ranges_that_overlap_are_never_called_agreement(service: Service, crew: Crew, browse: Browse) -> None:
    about = settled(service, crew)
    photographed(service, crew, about, "before", date(2025, 9, 1), (2.0, 12.0))
    photographed(service, crew, about, "settled", date(2026, 3, 10), (1.0, 9.0))
    page = browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert "not told apart" in page
    assert "that is not a sign that they agree" in page


def test_uncalibrated_photos_are_not_compared_by_colour(service: Service, crew: Crew, browse: Browse) -> None:
    about = settled(service, crew)
    photographed(service, crew, about, "before", date(2025, 9, 1), (9.0, 13.0))
    photographed(service, crew, about, "settled", date(2026, 3, 10), calibrated=False)
    page = browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert "The photo of 10 March 2026 is not calibrated" in page
    assert "No change can be given" in page


def test_photos_of_a_sensitive_zone_are_hidden_until_asked_for(service: Service, crew: Crew, browse: Browse) -> None:
    about = settled(service, crew, is_sensitive=True)
    photographed(service, crew, about, "before", date(2025, 9, 1))
    photographed(service, crew, about, "settled", date(2026, 3, 10))
    assert "/shown" not in browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert "/shown?open=1" in browse("ruth").get(f"/zones/{about.zone_id}/verdict?open=1").text


def test_what_is_missing_stands_beside_its_field_and_the_rest_is_kept(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = settled(service, crew)
    answer = browse("ruth").post(
        f"/zones/{about.zone_id}/verdict", data={"grade": "good", "visibility": "11", "note": "Kept words"}
    )
    assert answer.status_code == 422
    for field in ("grade_second_light", "seen", "next_step", "visibility"):
        assert f'id="f_{field}_error"' in answer.text, field
    assert "Kept words" in answer.text


def test_a_zone_without_work_is_not_judged(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew)
    page = browse("ruth").get(f"/zones/{about.zone_id}/verdict").text
    assert "there is nothing to judge" in page
    assert "Keep the verdict" not in page
    answer = browse("ruth").post(f"/zones/{about.zone_id}/verdict", data={**GIVEN, "next_step": "wait"})
    assert answer.status_code == 422


def test_strangers_find_nothing(service: Service, crew: Crew, browse: Browse) -> None:
    about = treated(service, crew, restricted=True)
    worked(service, crew, about, LONG_AGO)
    for name in ("ruth", "desk"):
        assert browse(name).get(f"/zones/{about.zone_id}/verdict").status_code == 404
        assert browse(name).post(f"/zones/{about.zone_id}/verdict", data=GIVEN).status_code == 404
    assert browse("nobody").get(f"/zones/{about.zone_id}/verdict").status_code == 303
    assert browse("tomas").get(f"/zones/{about.zone_id}/verdict").status_code == 200


def test_only_work_before_the_earliest_date_is_early(service: Service, crew: Crew) -> None:
    about = treated(service, crew)
    for on in (date(2025, 6, 2), date(2025, 7, 7), date(2025, 7, 28), date(2025, 11, 3)):
        worked(service, crew, about, on)
    with service.database.read() as db:
        early = earliness(clocks_on(db, [about.zone_id])[about.zone_id])
    assert [(after.worked_on, kind) for _, after, kind in early] == [
        (date(2025, 7, 7), "wait"),
        (date(2025, 7, 28), "floor"),
    ]
