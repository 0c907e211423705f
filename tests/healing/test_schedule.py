from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.healing.schedule import (
    Clocks,
    Contact,
    StudioIntervals,
    ZoneFacts,
    ZoneInterval,
    clocks,
    may_work,
    months_after,
    one_a_day,
    planned_contacts,
    stage,
)

PLAIN = ZoneFacts("light", "padded", irradiated=False, grafted=False, prone_to_dark_marks=False)
STUDIO = StudioIntervals()
DAY = date(2026, 9, 5)


def usual() -> Clocks:
    return clocks(DAY, PLAIN, STUDIO)


def test_plain_skin_waits_eight_weeks_for_work_and_ten_for_judging() -> None:
    found = usual()
    assert (found.floor_on, found.earliest_on, found.judge_on) == (
        date(2026, 10, 3),
        date(2026, 10, 31),
        date(2026, 11, 14),
    )
    assert found.earliest_reasons[0].source == "body: NHS East Kent"


def test_skin_that_was_never_measured_takes_the_longer_wait_and_says_so() -> None:
    found = clocks(DAY, replace(PLAIN, skin_class="unknown"), STUDIO)
    assert found.judge_on == DAY + timedelta(weeks=12)
    assert "not been measured" in found.judge_reasons[0].words


def test_skin_over_bone_waits_ten_weeks_and_is_judged_at_twelve() -> None:
    found = clocks(DAY, replace(PLAIN, padding="over_bone"), STUDIO)
    assert (found.earliest_on, found.judge_on) == (date(2026, 11, 14), date(2026, 11, 28))


@pytest.mark.parametrize("facts", [replace(PLAIN, skin_class="dark"), replace(PLAIN, prone_to_dark_marks=True)])
def test_dark_skin_and_dark_marks_delay_the_judgement_but_not_the_work(facts: ZoneFacts) -> None:
    found = clocks(DAY, facts, STUDIO)
    assert found.judge_on == DAY + timedelta(weeks=12)
    assert found.earliest_on == DAY + timedelta(weeks=8)


def test_every_reason_for_a_slow_clock_is_named() -> None:
    facts = ZoneFacts("dark", "thin", irradiated=True, grafted=True, prone_to_dark_marks=True)
    found = clocks(DAY, facts, STUDIO)
    assert len(found.earliest_reasons) == 3
    assert len(found.judge_reasons) == 5
    assert all(reason.source for reason in found.judge_reasons)


def test_the_day_itself_clears_and_below_the_floor_nobody_works() -> None:
    found = usual()
    a_day = timedelta(days=1)
    assert may_work(DAY, found) == "floor"
    assert may_work(found.floor_on - a_day, found) == "floor"
    assert may_work(found.floor_on, found) == "wait"
    assert may_work(found.earliest_on - a_day, found) == "wait"
    assert may_work(found.earliest_on, found) == "clear"


def test_one_zone_may_have_its_own_weeks_with_a_reason() -> None:
    found = clocks(DAY, PLAIN, STUDIO, ZoneInterval("healed slowly last time", earliest_weeks=14))
    assert found.earliest_on == DAY + timedelta(weeks=14)
    assert found.earliest_reasons[0].words == "healed slowly last time"
    assert found.judge_on == usual().judge_on


def test_no_setting_goes_below_the_floors() -> None:
    with pytest.raises(ValueError, match="4 weeks"):
        StudioIntervals(floor_weeks=3)
    with pytest.raises(ValueError, match="8 weeks"):
        StudioIntervals(judge_weeks=7)
    with pytest.raises(ValueError, match="4 weeks"):
        clocks(DAY, PLAIN, STUDIO, ZoneInterval("in a hurry", earliest_weeks=3))
    with pytest.raises(ValueError, match="reason"):
        ZoneInterval(" ", earliest_weeks=9)


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2026, 9, 5), 12, date(2027, 9, 5)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
    ],
)
def test_months_keep_the_day_or_take_the_months_last(day: date, months: int, expected: date) -> None:
    assert months_after(day, months) == expected


def test_weeks_are_calendar_days_across_a_change_of_the_clocks() -> None:
    assert (clocks(date(2026, 3, 20), PLAIN, STUDIO).earliest_on - date(2026, 3, 20)).days == 56


def test_a_course_asks_on_its_days_in_order() -> None:
    planned = planned_contacts(DAY, usual(), sensitive=False)
    assert [(one.kind, one.day_number) for one in planned] == [
        ("check_in", 1),
        ("check_in", 3),
        ("check_in", 7),
        ("check_in", 14),
        ("provisional_photo", 35),
        ("review_booking", 70),
        ("outcome_6m", 181),
        ("outcome_12m", 365),
    ]
    assert all(one.due_on == DAY + timedelta(days=one.day_number) and one.by == "message" for one in planned)


def test_a_sensitive_course_sends_nothing_by_itself() -> None:
    planned = planned_contacts(DAY, usual(), sensitive=True)
    assert {one.by for one in planned} == {"artist"}
    assert one_a_day({1: planned}) == ()


def test_a_test_spot_is_judged_like_colour_and_has_no_outcome_contacts() -> None:
    found = clocks(DAY, replace(PLAIN, work="test_spot", skin_class="dark"), STUDIO)
    assert found.judge_on == DAY + timedelta(weeks=12)
    assert planned_contacts(DAY, found, sensitive=False)[-1].kind == "review_booking"


def test_an_allergy_patch_is_read_twice_and_asked_about_again() -> None:
    found = clocks(DAY, replace(PLAIN, work="allergy_patch"), STUDIO)
    planned = planned_contacts(DAY, found, sensitive=False)
    assert [(one.kind, one.day_number) for one in planned] == [
        ("patch_reading", 1),
        ("patch_reading", 2),
        ("check_in", 14),
    ]
    assert found.judge_on is None
    assert may_work(DAY + timedelta(days=1), found) == "floor"
    assert may_work(DAY + timedelta(days=2), found) == "clear"
    assert "does not rule out" in stage(DAY, DAY + timedelta(days=3), found).words


def test_check_ins_of_one_day_are_joined_and_a_booking_moves() -> None:
    a = Contact("check_in", DAY, 3)
    b = Contact("check_in", DAY, 7)
    c = Contact("review_booking", DAY, 70)
    d = Contact("provisional_photo", DAY, 35)
    first, second, third = one_a_day({2: [c, a], 1: [b], 3: [d]})
    assert (first.on, first.main.course, [one.course for one in first.joined]) == (DAY, 1, [2])
    assert (second.on, second.main.contact) == (DAY + timedelta(days=1), c)
    assert (third.on, third.main.contact) == (DAY + timedelta(days=2), d)


def test_a_day_on_which_the_client_was_written_to_stays_free() -> None:
    (only,) = one_a_day({1: [Contact("check_in", DAY, 1)]}, taken={DAY})
    assert only.on == DAY + timedelta(days=1)


days_of_work = st.lists(st.dates(date(2026, 1, 1), date(2026, 3, 1)), min_size=1, max_size=6)


@given(days_of_work, st.sets(st.dates(date(2026, 1, 1), date(2026, 6, 1)), max_size=20))
def test_never_two_messages_a_day_and_none_lost_or_early(days: list[date], taken: set[date]) -> None:
    courses = {
        number: planned_contacts(day, clocks(day, PLAIN, STUDIO), sensitive=False) for number, day in enumerate(days)
    }
    sendings = one_a_day(courses, taken)
    assert len({one.on for one in sendings}) == len(sendings)
    assert not {one.on for one in sendings} & taken
    carried = [(sending.on, one) for sending in sendings for one in (sending.main, *sending.joined)]
    assert len(carried) == sum(len(contacts) for contacts in courses.values())
    assert all(on >= one.contact.due_on for on, one in carried)
    if not taken:
        assert all(on == one.contact.due_on for on, one in carried if one.contact.kind == "check_in")


@given(days_of_work)
def test_the_order_in_which_courses_are_given_changes_nothing(days: list[date]) -> None:
    courses = {
        number: planned_contacts(day, clocks(day, PLAIN, STUDIO), sensitive=False) for number, day in enumerate(days)
    }
    assert one_a_day(courses) == one_a_day(dict(reversed(courses.items())))


@pytest.mark.parametrize(
    ("day", "key"),
    [
        (0, "fresh"),
        (1, "swelling"),
        (3, "swelling"),
        (4, "flaking"),
        (8, "patchy"),
        (28, "new_skin"),
        (29, "provisional"),
        (69, "provisional"),
        (70, "settled"),
        (180, "settled"),
        (181, "outcome"),
        (365, "long_term"),
    ],
)
def test_the_stage_follows_the_day(day: int, key: str) -> None:
    found = stage(DAY, DAY + timedelta(days=day), usual())
    assert (found.day_number, found.key) == (day, key)


def test_there_is_no_stage_before_the_work() -> None:
    with pytest.raises(ValueError, match="day of the work"):
        stage(DAY, DAY - timedelta(days=1), usual())
