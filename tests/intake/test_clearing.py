"""What a scar may have when: held against a plain recomputation, and against what must never happen."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.clearance_line import ClearanceLine, ScarSpan, draw, is_worth_drawing
from app.intake.clearing import GRADE_NUMBERS, cleared, finding_key, soonest, together
from app.intake.findings import Finding, FindingKind, Screening
from app.intake.rules import Grade
from app.records.strip_shapes import Words

ON = date(2026, 3, 16)
DAYS = st.none() | st.integers(-30, 150).map(lambda days: ON + timedelta(days=days))
FEW = settings(deadline=None, max_examples=60)
KINDS: tuple[FindingKind, ...] = ("legal_bar", "stop", "wait", "test", "caution", "talk")
ALLOWS: tuple[Grade, ...] = ("none", "consultation", "patch", "spot", "full")


def finding(number: int, scar_id: str | None, kind: FindingKind, allows: Grade, clear_from: date | None,
            floor: date | None) -> Finding:  # fmt: skip
    return Finding(
        rule_id=f"rule{number}", scope="zone" if scar_id else "client", scar_id=scar_id, kind=kind, because="answer",
        title=f"Title {number}", reason="", source="", source_tags=(), allows=allows, clear_from=clear_from,
        floor_until=floor, what_lifts="", lifted_by=(), client_summary="", letter_needed=False, sensitive=False,
    )  # fmt: skip


@st.composite
def findings(draw_one: st.DrawFn) -> list[Finding]:
    found = []
    for number in range(draw_one(st.integers(0, 5))):
        kind = draw_one(st.sampled_from(KINDS))
        allows: Grade = "none" if kind == "legal_bar" else draw_one(st.sampled_from(ALLOWS[1:]))
        clear_from = draw_one(DAYS)
        floor = draw_one(DAYS) if kind == "wait" else None
        if floor is not None and clear_from is not None:
            floor = min(floor, clear_from)
        place = draw_one(st.sampled_from((None, "s1", "s2")))
        found.append(finding(number, place, kind, allows, clear_from, floor))
    return found


def screening(found: list[Finding]) -> Screening:
    return Screening(ON, "IE", "q", "r", 2, tuple(found), (), (), "full", (), ())


def waits_of(found: list[Finding]) -> list[str]:
    return [finding_key(item.rule_id, item.scar_id) for item in found if item.kind == "wait"]


def by_hand(found: list[Finding], scar_id: str, passed: set[str]) -> list[date | None]:
    """Day by day: the first on which nothing holds a grade any more, within half a year."""
    first: list[date | None] = []
    for grade in (1, 2, 3):
        day: date | None = ON
        while day is not None:
            if not any(holds(item, grade, day, passed) for item in found if item.scar_id in (None, scar_id)):
                break
            day = day + timedelta(days=1) if day < ON + timedelta(days=200) else None
        first.append(day)
    return first


def holds(item: Finding, grade: int, day: date, passed: set[str]) -> bool:
    if GRADE_NUMBERS[item.allows] >= grade:
        return False
    if item.kind == "legal_bar":
        return True
    is_over = item.clear_from is not None and day >= item.clear_from
    if item.kind == "wait" and finding_key(item.rule_id, item.scar_id) in passed:
        return not is_over and item.floor_until is not None and day < item.floor_until
    return not is_over


@FEW
@given(findings(), st.data())
def test_the_first_days_are_those_found_by_trying_each_day(found: list[Finding], data: st.DataObject) -> None:
    passed = {key for key in waits_of(found) if data.draw(st.booleans())}
    may = cleared(screening(found), "s1", passed=passed, from_on=ON)
    assert list(may.days) == by_hand(found, "s1", passed)


@FEW
@given(findings(), findings(), st.data())
def test_one_more_finding_never_brings_a_day_forward(
    found: list[Finding], more: list[Finding], data: st.DataObject
) -> None:
    passed = {key for key in waits_of(found) if data.draw(st.booleans())}
    before = cleared(screening(found), "s1", passed=passed, from_on=ON)
    after = cleared(screening([*found, *more]), "s1", passed=passed, from_on=ON)
    for was, now in zip(before.days, after.days, strict=True):
        assert now is None or (was is not None and now >= was)


@FEW
@given(findings(), st.data())
def test_a_patch_is_never_later_than_a_spot_nor_a_spot_than_full_work(
    found: list[Finding], data: st.DataObject
) -> None:
    passed = {key for key in waits_of(found) if data.draw(st.booleans())}
    parts = [cleared(screening(found), scar, passed=passed, from_on=ON) for scar in ("s1", "s2")]
    for days in (*(part.days for part in parts), together(parts).days, soonest(parts)):
        known = [day for day in days if day is not None]
        assert known == sorted(known)
        assert days[: len(known)] == tuple(known)


@FEW
@given(findings())
def test_going_past_a_wait_never_makes_it_longer_and_never_passes_anything_else(found: list[Finding]) -> None:
    kept = cleared(screening(found), "s1", passed=(), from_on=ON)
    passed = cleared(screening(found), "s1", passed=waits_of(found), from_on=ON)
    without = cleared(screening([one for one in found if one.kind != "wait"]), "s1", passed=(), from_on=ON)
    for day, sooner, bound in zip(kept.days, passed.days, without.days, strict=True):
        assert day is None or (sooner is not None and sooner <= day)
        assert sooner is None or (bound is not None and sooner >= bound)


def test_a_wait_that_allows_a_patch_holds_only_what_is_above_it() -> None:
    may = cleared(screening([finding(1, "s1", "wait", "patch", date(2026, 6, 10), None)]), "s1", passed=(), from_on=ON)
    assert may.days == (ON, date(2026, 6, 10), date(2026, 6, 10))
    days = (ON - timedelta(days=1), ON, date(2026, 6, 9), date(2026, 6, 10))
    assert [may.grade_on(day) for day in days] == [0, 1, 1, 3]


@pytest.mark.parametrize("kind", ["test", "stop"])
def test_a_test_without_a_day_leaves_the_spot_and_holds_full_work(kind: FindingKind) -> None:
    may = cleared(screening([finding(1, "s1", kind, "spot", None, None)]), "s1", passed=(), from_on=ON)
    assert may.days == (ON, ON, None)
    assert (may.grade, may.from_on, may.words) == (2, ON, "a test spot")


def test_the_law_bars_everything_whoever_goes_past_what() -> None:
    bar = finding(1, None, "legal_bar", "none", date(2027, 1, 1), None)
    assert cleared(screening([bar]), "s1", passed=["rule1"], from_on=ON).days == (None, None, None)


def overlaps(line: ClearanceLine) -> list[tuple[str, str]]:
    """Words that touch each other, row by row."""
    rows: dict[float, list[Words]] = {}
    for one in line.words:
        rows.setdefault(one.y, []).append(one)
    ordered = (sorted(row, key=lambda one: one.x) for row in rows.values())
    return [(left.words, right.words) for row in ordered for left, right in pairwise(row) if left.right > right.x]


@FEW
@given(st.lists(st.tuples(findings(), st.text(min_size=1, max_size=40)), min_size=1, max_size=4))
def test_the_drawn_line_says_each_day_and_no_words_touch(rows: list[tuple[list[Finding], str]]) -> None:
    spans = [ScarSpan(label, cleared(screening(found), "s1", passed=(), from_on=ON).days) for found, label in rows]
    line = draw(spans, ON)
    assert overlaps(line) == []
    assert all(words.x >= 0 and words.right <= line.width for words in line.words if not words.bold)
    assert len(line.bands) == len(spans)
    said = " ".join(line.sentences)
    for span in spans:
        for day in span.days:
            assert day is None or day <= ON or f"{day.day} " in said
    later = any(day is not None and day > ON for span in spans for day in span.days)
    assert is_worth_drawing(spans, ON) is later
