"""What the page of a zone says of change, settling and the skin, from one visit to the next."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import cast

from sqlmodel import select

from app.colour.difference import Estimate
from app.colour.reading import Reference
from app.demo.cast import Crew
from app.pigments import queries as pigments
from app.pigments.models import Recipe
from app.platform import audit
from app.platform.service import Service
from app.records import actions as records
from app.records import queries
from app.records.models import Case, Photo
from app.records.outlines import Outlines
from app.records.photo_words import reading_words
from app.records.trend import Visit, trend
from tests.conftest import NOW, Browser
from tests.outcomes.treated import LONG_AGO, Treated, photographed, reading, treated, worked

Browse = Callable[[str], Browser]
TANNED = (54.0, 12.0, 22.0)  # by itself this skin would count as darker, with wider limits


def measured(service: Service, crew: Crew, about: Treated, purpose: str, on: date, skin: tuple[float, float, float],
             *delta: float, reference: Reference = "chart") -> Photo:
    """A visit with a sure reading of a skin and a scar that differs by a step from it."""
    photo = photographed(service, crew, about, purpose, on)
    scar = tuple(at + step for at, step in zip(skin, delta, strict=True))
    size = sum(step**2 for step in delta) ** 0.5 * 0.8
    kept = replace(
        reading((max(0.0, size - 0.5), size + 0.5), cast("tuple[float, float, float]", scar)), lab_skin=skin,
        delta_covariance=((0.04, 0, 0), (0, 0.04, 0), (0, 0, 0.06)), reference=reference)  # fmt: skip
    with service.database.write() as db:
        by = crew.by("tomas")
        drawn = records.draw_outlines(db, db.get_one(Photo, photo.id), Outlines((), ()), by=by)
        records.keep_reading(db, db.get_one(Photo, photo.id), drawn, kept, by=by)
    return photo


def test_a_course_is_drawn_told_and_flagged_and_a_tan_changes_no_limit(
    service: Service, crew: Crew, browse: Browse
) -> None:
    about = treated(service, crew)
    skin = (64.0, 9.5, 16.0)
    measured(service, crew, about, "before", LONG_AGO - timedelta(days=5), skin, 8, -1, -3)
    with service.database.read() as db:
        made_for = queries.target_of(db, about.zone_id)
    worked(service, crew, about, LONG_AGO)
    with service.database.write() as db, audit.entry(db, "pigments.recipe.kept", crew.by("tomas")):
        recipe = db.exec(select(Recipe).where(Recipe.zone_id == about.zone_id)).one()
        assert made_for is not None
        recipe.reading_id, recipe.target_l = made_for.reading_id, made_for.lab_d65[0]
        db.add(recipe)
    photographed(service, crew, about, "check_in", LONG_AGO + timedelta(days=20), calibrated=False)
    first = LONG_AGO + timedelta(days=90)
    measured(service, crew, about, "settled", first, skin, 3, 0, -1)
    page = browse("tomas").get(f"/zones/{about.zone_id}").text
    assert "closer to the skin by" in page
    assert "Measured settling: needs two photos" in page
    assert "photo, not measured" in page
    assert "Match the target again" not in page
    assert ">2</text>" in page

    measured(service, crew, about, "settled", first + timedelta(days=20), TANNED, -3, 0, 0)
    page = browse("tomas").get(f"/zones/{about.zone_id}").text
    assert "Overshot: the scar is darker than the skin now" in page
    assert "Measured settling: not settled" in page
    assert "The colour may be judged since" in page
    assert "The skin is darker" in page
    assert "than when this recipe was made" in page
    assert "than when this recipe was made" in browse("tomas").get(f"/recipes/{recipe.id}").text
    # The skin class was fixed with the case: neither the picture's limits nor a grade follow the tan.
    assert ">2</text>" in page
    assert ">3</text>" not in page
    with service.database.read() as db:
        case = db.get_one(Case, about.case_id)
        newest = queries.readings_of(db, about.zone_id)[-1]
        assert case.skin_class == "light"
        assert "graded for light skin" in reading_words(newest, case.skin_class).notes[0]
        assert reading_words(newest, case.skin_class).heading == "Match or close: 1.9 to 2.9 ΔE00 apart"


def test_the_target_follows_the_newest_skin_on_a_chart(service: Service, crew: Crew) -> None:
    about = treated(service, crew)
    measured(service, crew, about, "before", date(2026, 1, 5), (64.0, 9.5, 16.0), 5, 0, 0)
    measured(service, crew, about, "before", date(2026, 2, 5), (60.0, 9.5, 16.0), 5, 0, 0)
    measured(service, crew, about, "before", date(2026, 3, 5), (50.0, 9.5, 16.0), 5, 0, 0, reference="grey")
    measured(service, crew, about, "fresh", date(2026, 3, 9), (57.0, 15.0, 16.0), 5, 0, 0)
    with service.database.read() as db:
        target = queries.target_of(db, about.zone_id)
        aim = pigments.aim_of(db, about.zone_id, None)
    assert target is not None
    assert aim is not None
    assert target.lab_d65 == aim.lab_d65 == (60.0, 9.5, 16.0)


def test_a_picture_stays_inside_its_frame_and_a_day_without_figures_stays_open() -> None:
    on = NOW.date()
    visits = [Visit(on - timedelta(days=90), Estimate(20, 15, 40), Estimate(9, 6, 12)), Visit(on - timedelta(days=50)),
              Visit(on, Estimate(0, 0, 0.8), Estimate(-0.2, -1, 0.6))]  # fmt: skip
    drawn = trend(visits, [(on - timedelta(days=60), "session"), (on - timedelta(days=59), "session")], "dark", on)
    assert drawn is not None
    assert [level.figure for level in drawn.levels if level.is_limit] == ["3", "5", "9"]
    assert [bar.is_cut for bar in drawn.differences] == [True, False]
    lines = [level.y for level in drawn.levels if level.is_limit]
    assert [name for _, name in drawn.grades] == ["match", "close", "visible", "strong"]
    bands = zip([drawn.upper[1], *lines], [*lines, drawn.upper[0]], drawn.grades, strict=True)
    assert all(under > y > over for under, over, (y, _) in bands)
    for bar in drawn.differences + drawn.lightnesses:
        assert drawn.upper[0] <= bar.top <= bar.middle <= bar.bottom <= drawn.lower[1]
    assert len(drawn.open_marks) == 1
    assert [work.words is None for work in drawn.works] == [False, True]
    assert trend([Visit(on)], [], "light", on) is None
