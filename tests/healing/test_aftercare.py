import re
from itertools import pairwise
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.healing import aftercare
from app.healing.aftercare import (
    AFTERCARE_VERSION,
    CLINICIAN_TEXT,
    LASTING_CAUTIONS,
    LEVELS,
    LOTS_PLACEHOLDER,
    NOT_ADVICE,
    QUIZ,
    Answer,
    School,
    all_days,
    for_day,
    questions_for,
    red_flags,
    unanswered,
    worst_level,
)
from app.healing.aftercare_edits import COOL, EDIT_OF_ALERT, EDITS, Without, without_for
from app.records.alert_kinds import KINDS

SCHOOLS: tuple[School, ...] = get_args(School)


def lines_for_clients() -> list[str]:
    lines = [NOT_ADVICE, *LASTING_CAUTIONS, *(question.words for question in QUIZ)]
    for school in SCHOOLS:
        for part in (*all_days(school), *all_days(school, without=EDITS)):
            lines += [part.heading, *part.normal, *part.do, *part.do_not]
    for flags in red_flags("112"):
        lines += [flags.heading, *flags.signs, flags.what_to_do]
    return lines


@pytest.mark.parametrize("school", SCHOOLS)
def test_every_day_has_exactly_one_part(school: School) -> None:
    parts = all_days(school)
    assert parts[0].first_day == 0
    assert parts[-1].last_day is None
    for before, after in pairwise(parts):
        assert before.last_day is not None
        assert after.first_day == before.last_day + 1
    assert for_day(school, 4000) == parts[-1]
    with pytest.raises(ValueError, match="day 0"):
        for_day(school, -1)


def test_the_schools_differ_in_the_first_week_and_agree_later() -> None:
    assert "film" in " ".join(for_day("film", 0).do)
    assert "Do not get it wet today." in for_day("dry", 0).do_not
    assert "film on" not in " ".join(for_day("dry", 2).do)
    assert for_day("film", 8) == for_day("dry", 8)


def test_nothing_names_site_scar_or_cause() -> None:
    named = re.compile(
        r"\b(scars?|burns?|surgery|operation|cancer|self-harm|injur\w+|wrist|arm|leg|breast|belly|stretch marks?"
        r"|vitiligo|camouflage)\b",
        re.IGNORECASE,
    )
    told = [*lines_for_clients(), *CLINICIAN_TEXT]
    # "burns" as a feeling of the film is not a cause.
    assert [line for line in told if named.search(line.replace("itches or burns", ""))] == []


def syllables(word: str) -> int:
    word = re.sub(r"(?:[^laeiouy]es|[^laeiouyt]ed|[^laeiouy]e)$", "", word.lower())
    return max(1, len(re.findall(r"[aeiouy]{1,2}", word)))


def test_the_words_suit_a_reader_of_eleven() -> None:
    """Flesch-Kincaid grade, Kincaid et al., US Navy research branch report 8-75, 1975: age 11 to 12 is grade 6."""
    sentences = [part for line in lines_for_clients() for part in re.split(r"(?<=[.?!:])\s+", line) if part]
    words = [word for sentence in sentences for word in re.findall(r"[A-Za-z']+", sentence)]
    grade = 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
    assert grade < 6
    assert max(len(sentence.split()) for sentence in sentences) <= 22


def test_the_emergency_number_is_the_countrys() -> None:
    assert "Call 999 now" in red_flags("999")[0].what_to_do
    assert "Call 000 or 112 now" in red_flags("000 or 112")[0].what_to_do
    assert [flags.level for flags in red_flags("112")] == list(LEVELS)
    for wrong in ("", "{number}", "<b>112</b>", "call us"):
        with pytest.raises(ValueError, match="emergency number"):
            red_flags(wrong)


def test_fever_from_38_degrees_needs_a_doctor_today() -> None:
    assert any("38 °C" in sign for sign in red_flags("112")[1].signs)
    assert worst_level({"fever": "yes", "uneven": "yes"}) == "today"


def test_not_sure_never_passes() -> None:
    for question in QUIZ:
        assert worst_level({question.key: "not sure"}) == question.level
        assert worst_level({question.key: "no"}) is None


def test_silence_is_not_a_no() -> None:
    assert "breathing" in unanswered({}, 1)
    answers: dict[str, Answer] = {question.key: "no" for question in questions_for(1)}
    assert unanswered(answers, 1) == ()
    assert set(unanswered(answers, 3)) == {"not_settling", "weeping", "raw"}


def test_an_unknown_question_is_refused() -> None:
    with pytest.raises(KeyError):
        worst_level({"made up": "yes"})


@given(st.dictionaries(st.sampled_from([question.key for question in QUIZ]), st.sampled_from(get_args(Answer))))
def test_the_worst_answer_decides(answers: dict[str, Answer]) -> None:
    found = worst_level(answers)
    levels = [question.level for question in QUIZ if answers.get(question.key, "no") != "no"]
    assert found == (min(levels, key=LEVELS.index) if levels else None)


def test_urgent_questions_are_asked_on_every_day() -> None:
    for day in (0, 1, 40, 400):
        asked = {question.key for question in questions_for(day)}
        assert {question.key for question in QUIZ if question.level in ("emergency", "today")} <= asked


def test_the_clinician_text_has_one_place_for_the_lots() -> None:
    assert CLINICIAN_TEXT.count(LOTS_PLACEHOLDER) == 1


def test_the_version_changes_with_a_word(monkeypatch: pytest.MonkeyPatch) -> None:
    assert re.fullmatch(r"[0-9a-f]{16}", AFTERCARE_VERSION)
    assert aftercare._version() == AFTERCARE_VERSION
    monkeypatch.setattr(aftercare, "NOT_ADVICE", NOT_ADVICE + " ")
    assert aftercare._version() != AFTERCARE_VERSION


def told_on(day: int, *without: Without, school: School = "film") -> str:
    part = for_day(school, day, without=without)
    return " ".join([part.heading, *part.normal, *part.do, *part.do_not])


@pytest.mark.parametrize("day", [0, 1, 3, 4, 7, 8, 20, 50])
@pytest.mark.parametrize("school", SCHOOLS)
def test_skin_that_bears_no_glue_hears_of_no_film_and_of_plasters_only_to_leave_them(school: School, day: int) -> None:
    assert "film" not in told_on(day, "adhesives", school=school)
    assert ("No plaster and no sticky tape" in told_on(day, "adhesives", school=school)) is (day < 8)
    assert ("tied on, without glue" in told_on(day, "adhesives", school=school)) is (day == 0)


@pytest.mark.parametrize("school", SCHOOLS)
def test_skin_that_feels_less_is_not_cooled(school: School) -> None:
    assert COOL in told_on(1, school=school)
    for day in range(9):
        assert "Use a cool pack" not in told_on(day, "cold", school=school)
    assert "No cool packs" in told_on(0, "cold", school=school)


def test_the_studios_own_text_stays_but_for_what_is_left_out() -> None:
    for school in SCHOOLS:
        plain, cold = for_day(school, 1), for_day(school, 1, without=["cold"])
        assert set(plain.do) - set(cold.do) == {COOL}
        assert set(plain.do_not) < set(cold.do_not)
        assert plain.normal == cold.normal
    both = told_on(1, "adhesives", "cold", "latex")
    assert "film" not in both
    assert "Use a cool pack" not in both
    assert "free of latex" in both


def test_a_patch_is_left_without_glue_too() -> None:
    assert "No plaster" in " ".join(aftercare.for_patch(0, without=["adhesives"]).do_not)


def test_every_line_that_an_edit_takes_out_is_in_the_text() -> None:
    lines = {line for school in SCHOOLS for part in all_days(school) for line in part.do}
    for edit in EDITS.values():
        assert {line for line, _ in edit.instead} <= lines


def test_the_edits_follow_from_alerts_that_there_are() -> None:
    assert set(EDIT_OF_ALERT) <= set(KINDS)
    assert without_for(["adhesive", "may_faint", "numb", "graft"]) == {"adhesives", "cold"}
    assert without_for([]) == frozenset()
    assert without_for([], is_grafted=True) == {"cold"}
