"""Each dated rule at the day before, the day, and the day after; the days are counted by hand, not by the code."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from app.intake.rule_set import RULE_SET
from app.intake.rules import Proof, Rule
from app.intake.screening import Evidence, screen
from app.platform import clock
from app.studio.country import GB
from tests.intake.healthy import healthy, healthy_scar
from tests.intake.test_screening import found, run, setting

# rule: the day it clears when it happened on 31 August 2025, the last of a long month; "in six months" is 28 February.
FROM_31_AUGUST = {
    "scar_age": date(2026, 8, 31),
    "burn_age": date(2027, 2, 28),
    "graft_age": date(2026, 8, 31),
    "graft_tight": date(2027, 8, 31),
    "radiotherapy_wait": date(2026, 8, 31),
    "herpes_now": date(2025, 9, 14),
    "shingles_vaccine": date(2025, 9, 30),
    "sun": date(2025, 9, 28),
    "self_tan": date(2025, 9, 14),
    "psoriasis": date(2025, 11, 30),
    "eczema": date(2025, 9, 30),
    "vitiligo_wait": date(2026, 8, 31),
    "cancer_before_wait": date(2026, 2, 28),
    "ill": date(2025, 9, 7),
    "antibiotics": date(2025, 9, 7),
    "vaccinated": date(2025, 9, 14),
    "self_harm": date(2026, 8, 31),
    "isotretinoin": date(2026, 8, 31),
    "retinoid_cream": date(2025, 9, 14),
    "steroid_cream": date(2025, 9, 28),
    "after_steroid_injection": date(2025, 11, 23),
    "after_botulinum": date(2025, 9, 14),
    "after_filler": date(2025, 9, 28),
    "after_laser": date(2025, 10, 26),
    "after_laser_fractional": date(2025, 11, 23),
    "after_peel": date(2025, 10, 26),
    "after_needling": date(2025, 10, 12),
    "after_fat_transfer": date(2025, 11, 23),
    "operated": date(2026, 8, 31),
    "after_tattoo_removal": date(2025, 10, 26),
}
# From a leap day: a year later is the last of February.
FROM_29_FEBRUARY = {
    "scar_age": date(2025, 2, 28),
    "burn_age": date(2025, 8, 29),
    "graft_tight": date(2026, 2, 28),
    "cancer_before_wait": date(2024, 8, 29),
    "shingles_vaccine": date(2024, 3, 29),
    "sun": date(2024, 3, 28),
    "ill": date(2024, 3, 7),
}
# rule: the proof that is watched, and the day it lifts when it was placed on 31 August 2025.
WATCHED: dict[str, tuple[Proof, date]] = {
    "keloid_history_spot": ("test_spot", date(2025, 11, 23)),
    "dark_rim": ("test_spot", date(2025, 11, 23)),
    "thin_skin": ("test_spot", date(2025, 10, 12)),
    "dark_marks": ("test_spot", date(2025, 11, 23)),
    "metal_allergy": ("allergy_patch", date(2025, 9, 2)),
    "hair_dye_reaction": ("allergy_patch", date(2025, 9, 2)),
}
CASES = [
    *((rule_id, date(2025, 8, 31), clear) for rule_id, clear in FROM_31_AUGUST.items()),
    *((rule_id, date(2024, 2, 29), clear) for rule_id, clear in FROM_29_FEBRUARY.items()),
]


def place(rule: Rule) -> str | None:
    return "s1" if rule.scope.kind == "zone" else None


def test_every_rule_with_a_date_or_a_watch_has_a_row() -> None:
    dated = {rule.id for rule in RULE_SET.rules if rule.trigger.kind == "date" and not rule.trigger.pack_age}
    assert dated == set(FROM_31_AUGUST)
    assert {rule.id for rule in RULE_SET.rules if rule.consequence in ("test_patch", "test_spot")} == set(WATCHED)


@pytest.mark.parametrize(("rule_id", "event", "clear"), CASES, ids=lambda value: str(value))
def test_a_wait_holds_the_day_before_and_is_over_on_the_day_and_the_day_after(
    rule_id: str, event: date, clear: date
) -> None:
    rule = RULE_SET.rule(rule_id)
    answers = setting(rule, event.isoformat())
    before = found(run(answers, on=clear - timedelta(days=1)), rule_id, place(rule))
    assert before is not None
    assert (before.kind, before.clear_from) == ("wait", clear)
    assert found(run(answers, on=clear), rule_id, place(rule)) is None
    assert found(run(answers, on=clear + timedelta(days=1)), rule_id, place(rule)) is None


@pytest.mark.parametrize("rule_id", WATCHED)
def test_a_test_holds_while_it_is_watched_and_lifts_on_its_day(rule_id: str) -> None:
    rule, (kind, clear) = RULE_SET.rule(rule_id), WATCHED[rule_id]
    proof = Evidence(kind, date(2025, 8, 31), "clear", scar_id="s1" if kind == "test_spot" else None)
    answers = setting(rule, "2025-08-31")
    before = found(run(answers, proof, on=clear - timedelta(days=1)), rule_id, place(rule))
    assert before is not None
    assert before.clear_from == clear
    assert found(run(answers, proof, on=clear), rule_id, place(rule)) is None
    assert found(run(answers, proof, on=clear + timedelta(days=1)), rule_id, place(rule)) is None


def test_the_floor_of_isotretinoin_is_six_months_to_the_day() -> None:
    answers = healthy(isotretinoin="yes", isotretinoin_on="2025-08-31")
    letter = Evidence("letter", date(2025, 10, 1), "agrees", ("isotretinoin",))
    for day, stands in ((date(2026, 2, 27), True), (date(2026, 2, 28), False), (date(2026, 3, 1), False)):
        result = screen(answers, on=day, country=GB, evidence=[letter])
        assert (found(result, "isotretinoin") is not None) is stands, day


@pytest.mark.parametrize(
    ("moment", "time_zone", "day"),
    [
        # The nights on which clocks go forward and back, just before and after midnight where the studio stands.
        (datetime(2026, 3, 28, 23, 30, tzinfo=UTC), "Europe/London", date(2026, 3, 28)),
        (datetime(2026, 3, 29, 23, 30, tzinfo=UTC), "Europe/London", date(2026, 3, 30)),
        (datetime(2026, 10, 24, 23, 30, tzinfo=UTC), "Europe/London", date(2026, 10, 25)),
        (datetime(2026, 10, 25, 23, 30, tzinfo=UTC), "Europe/London", date(2026, 10, 25)),
        (datetime(2026, 3, 8, 4, 30, tzinfo=UTC), "America/New_York", date(2026, 3, 7)),
        (datetime(2026, 3, 9, 4, 30, tzinfo=UTC), "America/New_York", date(2026, 3, 9)),
        (datetime(2026, 11, 1, 3, 59, tzinfo=UTC), "America/New_York", date(2026, 10, 31)),
        (datetime(2026, 11, 2, 4, 59, tzinfo=UTC), "America/New_York", date(2026, 11, 1)),
        (datetime(2026, 10, 3, 13, 30, tzinfo=UTC), "Australia/Sydney", date(2026, 10, 3)),
        (datetime(2026, 10, 4, 13, 30, tzinfo=UTC), "Australia/Sydney", date(2026, 10, 5)),
        (datetime(2026, 4, 5, 13, 59, tzinfo=UTC), "Australia/Lord_Howe", date(2026, 4, 6)),
        (datetime(2026, 12, 31, 10, 30, tzinfo=UTC), "Pacific/Auckland", date(2026, 12, 31)),
        (datetime(2026, 12, 31, 11, 0, tzinfo=UTC), "Pacific/Auckland", date(2027, 1, 1)),
    ],
)
def test_a_wait_ends_at_midnight_where_the_studio_stands_on_the_nights_the_clocks_change(
    moment: datetime, time_zone: str, day: date
) -> None:
    with clock.stopped_at(moment):
        today = clock.today(time_zone)
    assert today == day

    def waits(event: date) -> bool:
        answers: dict[str, Any] = healthy(healthy_scar(), antibiotics="yes", antibiotics_on=event.isoformat())
        return found(screen(answers, on=today, country=GB), "antibiotics") is not None

    assert not waits(day - timedelta(days=7))
    assert waits(day - timedelta(days=6))
