from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.intake.question_list import QUESTION_SET
from app.intake.questions import Page
from app.intake.seen import NOTHING, mark, marks_of, settle
from tests.intake.healthy import healthy, healthy_scar

LATELY = Page(next(topic for topic in QUESTION_SET.topics if topic.key == "lately"))
WHERE = Page(next(topic for topic in QUESTION_SET.topics if topic.repeats), 0)
VALUES = st.sampled_from([None, "yes", "no", "dont_know"])


def test_an_answer_that_only_this_page_changed_counts() -> None:
    stored = healthy()
    mine = {**stored, "ill": "yes"}
    settled = settle(LATELY, stored, mine, marks_of(LATELY, stored, QUESTION_SET), QUESTION_SET)
    assert settled.answers == mine
    assert settled.is_whole


def test_an_answer_that_only_another_device_changed_stays_as_it_put_it() -> None:
    before = healthy()
    stored = {**before, "vaccinated": "yes"}
    settled = settle(LATELY, stored, {**before, "ill": "yes"}, marks_of(LATELY, before, QUESTION_SET), QUESTION_SET)
    assert (settled.answers["ill"], settled.answers["vaccinated"]) == ("yes", "yes")
    assert [question.key for question in settled.taken] == ["vaccinated"]
    assert not settled.clashes


def test_where_both_changed_an_answer_the_stored_one_waits_for_the_person() -> None:
    before = healthy()
    stored = {**before, "ill": "dont_know"}
    settled = settle(LATELY, stored, {**before, "ill": "yes"}, marks_of(LATELY, before, QUESTION_SET), QUESTION_SET)
    assert settled.answers["ill"] == "dont_know"
    assert [question.key for question in settled.clashes] == ["ill"]
    again = settle(LATELY, stored, {**before, "ill": "yes"}, marks_of(LATELY, stored, QUESTION_SET), QUESTION_SET)
    assert again.answers["ill"] == "yes"
    assert again.is_whole


def test_the_marks_that_a_page_goes_on_with_do_not_hide_what_it_has_not_shown() -> None:
    before = healthy()
    stored = {key: value for key, value in before.items() if key != "vaccinated"}
    marks = marks_of(LATELY, stored, QUESTION_SET)
    first = settle(LATELY, {**stored, "vaccinated": "yes"}, stored, marks, QUESTION_SET)
    assert first.answers["vaccinated"] == "yes"
    # The page still shows no answer there and is sent once more with the marks it was given.
    second = settle(LATELY, first.answers, stored, first.marks, QUESTION_SET)
    assert second.answers["vaccinated"] == "yes"


def test_a_scar_that_another_device_added_first_is_not_written_over() -> None:
    mine = healthy(healthy_scar("s1", site="knee"))
    settled = settle(WHERE, healthy(), mine, marks_of(WHERE, {}, QUESTION_SET), QUESTION_SET)
    assert settled.answers["scars"][0]["site"] == "forearm"
    assert "scar.site" in [question.key for question in settled.clashes]


@given(VALUES, VALUES, VALUES)
def test_no_answer_of_either_device_is_lost_without_being_shown(base: Any, theirs: Any, mine: Any) -> None:
    before, stored, typed = ({} if value is None else {"ill": value} for value in (base, theirs, mine))
    settled = settle(LATELY, stored, typed, marks_of(LATELY, before, QUESTION_SET), QUESTION_SET)
    kept = settled.answers.get("ill")
    assert kept in (theirs, mine)
    if theirs not in (base, mine) and kept != theirs:
        raise AssertionError("what another device stored was written over")
    if mine not in (base, theirs) and kept != mine:
        assert settled.clashes


def test_no_answer_and_an_empty_one_have_the_same_mark() -> None:
    assert mark(None) == mark("") == mark([]) == NOTHING
    assert mark(["a", "b"]) != mark(["b", "a"])


def test_marks_from_anywhere_are_read_without_a_fault() -> None:
    stored = healthy()
    for odd in ("=", "ill", "ill==", "\x00", "ill=\ud800 ill=2 =3", "x" * 5000):
        assert settle(LATELY, stored, stored, odd, QUESTION_SET).answers == stored
