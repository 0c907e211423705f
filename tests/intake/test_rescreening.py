from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.answers import Unreadable, check_answers, missing, pages, parse_topic, summary
from app.intake.question_list import QUESTION_SET
from app.intake.questions import DONT_KNOW, NO, YES, Question
from app.intake.rescreening import answer_changes, changes, joined, rescreen_answers, visit_answers
from app.intake.rules import GRADES
from app.intake.screening import Evidence, Screening, screen
from app.intake.visit_list import VISIT_SET
from app.studio.country import GB
from tests.intake.healthy import ON, healthy, healthy_scar, quiet_scar, quiet_visit

EVERY = joined()
SHORT = [question for question in VISIT_SET.questions if question.kind == "yes_no"]


def again(full: dict[str, Any], visit: dict[str, Any], *evidence: Evidence) -> Screening:
    return screen(rescreen_answers(full, visit), on=ON, country=GB, questions=EVERY, evidence=evidence)


def first(full: dict[str, Any]) -> Screening:
    return screen(full, on=ON, country=GB)


def ids(screening: Screening) -> set[str]:
    return {finding.rule_id for finding in screening.findings}


def test_a_visit_with_nothing_new_leaves_a_healthy_client_as_they_were() -> None:
    screening = again(healthy(), quiet_visit())
    assert ids(screening) == {"future_laser"}
    assert screening.scar("s1").grade == "full"
    assert changes(first(healthy()), screening).is_empty


@pytest.mark.parametrize(
    ("visit", "rule_id", "grade"),
    [
        (quiet_visit(pregnant=YES), "pregnant", "consultation"),
        (quiet_visit(pregnant="prefer_not"), "pregnant", "consultation"),
        (quiet_visit(visit_diagnosis=YES), "visit_diagnosis", "consultation"),
        (quiet_visit(visit_medicine=YES), "visit_medicine", "consultation"),
        (quiet_visit(visit_affected=YES), "visit_affected", "consultation"),
        (quiet_visit(visit_affected=DONT_KNOW), "visit_affected", "consultation"),
        (quiet_visit(visit_healed="wrong"), "visit_went_wrong", "consultation"),
        (quiet_visit(visit_healed="healing"), "visit_still_healing", "full"),
        (quiet_visit(vaccinated=YES, vaccinated_on="2026-11-20", shingles_vaccine=NO), "vaccinated", "consultation"),
        (quiet_visit(ill=YES, ill_on="still"), "ill", "consultation"),
        (quiet_visit(herpes_now=YES, herpes_healed_on="2026-11-20"), "herpes_now", "consultation"),
        (quiet_visit(quiet_scar(sun=YES, sun_on="2026-11-20", tan_left=NO)), "sun", "patch"),
        (quiet_visit(quiet_scar(open=YES)), "open_skin", "consultation"),
        (quiet_visit(quiet_scar(procedures=["peel"], peel_on="2026-11-01")), "after_peel", "patch"),
        (quiet_visit(quiet_scar(procedures=[DONT_KNOW])), "unknown:procedures", "patch"),
    ],
)
def test_what_is_new_at_a_visit_is_found_by_the_rules_of_the_full_form(
    visit: dict[str, Any], rule_id: str, grade: str
) -> None:
    check_answers(visit, on=ON, questions=VISIT_SET)
    screening = again(healthy(), visit)
    assert rule_id in ids(screening)
    assert screening.scar("s1").grade == grade
    assert rule_id in {finding.rule_id for finding in changes(first(healthy()), screening).come}


def test_a_talk_settles_what_is_new_and_alcohol_waits_for_another_day() -> None:
    visit = quiet_visit(visit_diagnosis=YES, visit_medicine=YES)
    talk = Evidence("talk", ON, "settled", ("visit_diagnosis", "visit_medicine", "visit_affected"))
    assert again(healthy(), visit, talk).scar("s1").grade == "full"
    assert again(healthy(), quiet_visit(visit_affected=YES), talk).scar("s1").grade == "consultation"


def test_a_short_question_that_was_left_out_never_passes() -> None:
    # In the full form everything was answered, and is over since.
    long_ago = {"ill": YES, "ill_on": "2025", "vaccinated": YES, "vaccinated_on": "2025", "shingles_vaccine": YES,
                "herpes_now": YES, "herpes_healed_on": "2025"}  # fmt: skip
    scar: dict[str, Any] = {"sun": YES, "sun_on": "2025", "tan_left": NO, "self_tan": YES, "self_tan_on": "2025",
                            "procedures": ["laser"], "laser_on": "2025", "laser_fractional": YES}  # fmt: skip
    full, tried = healthy(healthy_scar(**scar), **long_ago), 0
    assert again(full, quiet_visit(quiet_scar(**scar), **long_ago)).scar("s1").grade == "full"
    for question in VISIT_SET.questions:
        visit = quiet_visit(quiet_scar(**scar), **long_ago)
        place = visit["scars"][0] if question.about_scar else visit
        if question.required and place.pop(question.field, None) is not None:
            screening = again(full, visit)
            assert screening.scar("s1").grade == "consultation", question.key
            assert f"unanswered:{question.key}" in ids(screening), question.key
            tried += 1
    assert tried > 15
    assert again(full, {}).scar("s1").grade == "consultation"


def test_a_visit_about_one_scar_leaves_the_other_as_the_full_form_has_it() -> None:
    full = healthy(healthy_scar("s1"), healthy_scar("s2", red=YES))
    screening = again(full, quiet_visit(quiet_scar("s1")))
    assert (screening.scar("s1").grade, screening.scar("s2").grade) == ("full", "patch")
    assert changes(first(full), screening).is_empty
    # A visit that names no scar at all has asked about none.
    assert again(full, quiet_visit() | {"scars": []}).scar("s1").grade == "consultation"


def test_a_scar_that_the_full_form_does_not_know_is_not_passed() -> None:
    screening = again(healthy(), quiet_visit(quiet_scar("s1"), quiet_scar("s9")))
    assert screening.scar("s9").grade == "consultation"


def test_of_two_dates_the_later_counts_and_every_treatment_named_is_named() -> None:
    scar = healthy_scar(procedures=["laser"], laser_on="2026-11-01", laser_fractional=NO)
    full = healthy(scar, ill=YES, ill_on="still")
    visit = quiet_visit(quiet_scar(procedures=["laser", "peel"], laser_on="2026-11-20", peel_on="2026-11-10"),
                        ill=YES, ill_on="2026-11-01")  # fmt: skip
    told = rescreen_answers(full, visit)
    assert told["scars"][0]["procedures"] == ["laser", "peel"]
    assert told["scars"][0]["laser_on"] == "2026-11-20"
    assert told["ill_on"] == "still"
    swapped = rescreen_answers({**full, "ill_on": "2026-11-10"}, {**visit, "ill_on": "still"})
    assert swapped["ill_on"] == "still"
    quiet = rescreen_answers(full, quiet_visit())
    assert (quiet["scars"][0]["laser_on"], quiet["ill_on"]) == ("2026-11-01", "still")


def test_more_than_two_years_ago_goes_on_counting_from_the_full_form() -> None:
    full = healthy(healthy_scar(happened="more_than_2_years", burn=NO), answered_on="2026-01-10")
    assert rescreen_answers(full, quiet_visit(answered_on="2026-11-25"))["answered_on"] == "2026-01-10"


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_a_visit_never_clears_what_the_full_form_found(data: st.DataObject) -> None:
    def drawn(questions: list[Question], base: dict[str, Any], scar: dict[str, Any]) -> dict[str, Any]:
        for question in questions:
            choices = [YES, NO, DONT_KNOW] + (["prefer_not"] if question.prefer_not else [])
            (scar if question.about_scar else base)[question.field] = data.draw(st.sampled_from(choices), question.key)
        for key in ("ill_on", "vaccinated_on", "herpes_healed_on"):
            base[key] = data.draw(st.sampled_from(["2026-11-20", "2026-11", "2025", DONT_KNOW]))
        for key in ("sun_on", "self_tan_on", "peel_on", "laser_on"):
            scar[key] = data.draw(st.sampled_from(["2026-11-20", "2026-10", "2025", DONT_KNOW]))
        scar["procedures"] = data.draw(st.sampled_from([["none"], ["peel"], ["laser", "peel"], [DONT_KNOW]]))
        return {**base, "scars": [scar]}

    some = data.draw(st.lists(st.sampled_from(SHORT), max_size=5, unique_by=lambda question: question.key))
    full = drawn([item for item in some if not item.key.startswith("visit_")], healthy(), healthy_scar())
    others = data.draw(st.lists(st.sampled_from(SHORT), max_size=5, unique_by=lambda question: question.key))
    visit = drawn(others, quiet_visit(), quiet_scar())
    before, after = first(full), again(full, visit)
    assert GRADES.index(after.scar("s1").grade) <= GRADES.index(before.scar("s1").grade)
    ends, later = before.scar("s1").full_from, after.scar("s1").full_from
    assert later is None or (ends is not None and ends <= later)


def test_the_short_form_starts_with_the_scars_and_no_answer_about_health() -> None:
    full = healthy(healthy_scar("s1", words="my arm"), healthy_scar("s2"), diabetes=YES)
    start = visit_answers(full)
    assert start == {
        "scars": [
            {"id": "s1", "site": "forearm", "side": "left", "words": "my arm"},
            {"id": "s2", "site": "forearm", "side": "left"},
        ]
    }
    check_answers(start, on=ON, questions=VISIT_SET)
    shown = [(page.topic.key, page.scar) for page in pages(start, VISIT_SET)]
    assert shown == [("visit_since", None), ("visit_scar", 0), ("visit_scar", 1), ("visit_today", None)]
    assert {gap.key for gap in missing(start, VISIT_SET)} >= {"pregnant", "visit_affected", "scar.sun"}
    with pytest.raises(Unreadable, match="short text"):
        check_answers({"scars": [{"id": "s1", "site": 3}]}, on=ON, questions=VISIT_SET)


def test_a_page_of_the_short_form_is_read_and_keeps_the_places() -> None:
    start = visit_answers(healthy())
    topic = next(topic for topic in VISIT_SET.topics if topic.repeats)
    posted = {"open": [NO], "sun": [YES], "self_tan": [NO], "procedures": ["none"]}
    parsed = parse_topic(topic, posted, start, on=ON, scar=0, questions=VISIT_SET)
    assert parsed.errors == {}
    assert parsed.asks_next == ("sun_on", "tan_left")
    assert parsed.answers["scars"][0]["site"] == "forearm"
    assert {line.question_key for line in summary(quiet_visit(), VISIT_SET)} >= {"visit_affected", "scar.procedures"}


def test_the_short_form_asks_nothing_twice_and_its_own_questions_are_named_so() -> None:
    own = VISIT_SET.keys - QUESTION_SET.keys
    assert all(key.startswith("visit_") for key in own)
    assert EVERY.keys == QUESTION_SET.keys | own
    assert len(EVERY.questions) == len(EVERY.keys)
    for question in VISIT_SET.questions:
        assert {condition.key for condition in question.ask_when} <= VISIT_SET.keys, question.key


def test_what_came_went_and_moved_is_told_apart() -> None:
    full = healthy(antibiotics=YES, antibiotics_on="2026-11-20", ill=YES, ill_on="2026-11-22")
    before = first(full)
    after = screen({**full, "ill": NO, "antibiotics_on": "2026-11-24", "diabetes": YES, "hba1c_level": "under_8"},
                   on=ON, country=GB)  # fmt: skip
    found = changes(before, after)
    assert [finding.rule_id for finding in found.come] == ["diabetes"]
    assert [finding.rule_id for finding in found.gone] == ["ill"]
    assert [(move.before.clear_from, move.after.clear_from) for move in found.moved] == [
        (date(2026, 11, 27), date(2026, 12, 1))
    ]
    assert found.full_from == (date(2026, 11, 29), None)
    assert not found.is_empty


def test_changed_answers_are_told_in_words_and_in_another_language() -> None:
    full = healthy(healthy_scar(procedures=["laser", "peel"]))
    told = rescreen_answers(full, quiet_visit(quiet_scar(sun=YES, sun_on="2026-11-20"), ill=YES, ill_on="still"))
    lines = {
        (line.key, line.scar_id): (line.before, line.after)
        for line in answer_changes(full, told, EVERY)
        if not line.key.startswith("visit_")
    }
    assert lines == {
        ("ill", None): ("No", "Yes"),
        ("ill_on", None): ("Not answered", "I am still ill"),
        ("scar.sun", "s1"): ("No", "Yes"),
        ("scar.sun_on", "s1"): ("Not answered", "20 November 2026"),
        ("scar.tan_left", "s1"): ("Not answered", "No"),
    }
    first_line = answer_changes(full, told, EVERY, translate=lambda text: f"«{text}»")[0]
    assert first_line.question.startswith("«")
    reordered = {**full, "scars": [{**full["scars"][0], "procedures": ["peel", "laser"]}]}
    assert answer_changes(full, reordered) == ()
