from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.casebook.states import CaseFacts, ZoneFacts, called, case_sentences, case_state, day_of, zone_state, zone_words

ON = date(2026, 10, 20)
SOON, LATER, EARLIER = date(2026, 11, 14), date(2026, 11, 28), date(2026, 9, 1)
CLEARED = ZoneFacts("Elbow", cleared=(EARLIER, EARLIER, EARLIER))
SETTLING = replace(CLEARED, worked_on=EARLIER, earliest_on=SOON, judge_on=LATER)
TO_JUDGE = replace(SETTLING, earliest_on=EARLIER, judge_on=ON)
JUDGED = replace(TO_JUDGE, standing="good", next_step="wait")
FINISHED = replace(JUDGED, label="Forearm", next_step="finished", finished_on=ON)
ACCEPTED = CaseFacts(is_asked=True, answered_on=date(2026, 3, 3), decision="accepted")


def told(facts: CaseFacts) -> str:
    return " ".join(sentence.words for sentence in case_sentences(facts, ON))


@pytest.mark.parametrize(("facts", "state"), [
    (ZoneFacts("Elbow"), "recorded"),
    (replace(CLEARED, cleared=(None, None, None)), "barred"),
    (replace(CLEARED, cleared=(SOON, SOON, SOON)), "waiting"),
    (CLEARED, "cleared"),
    (replace(CLEARED, cleared_until=EARLIER), "recorded"),
    (replace(CLEARED, has_open_session=True), "in_treatment"),
    (SETTLING, "settling"),
    (TO_JUDGE, "to_judge"),
    (JUDGED, "judged"),
    (FINISHED, "finished"),
    (replace(FINISHED, has_open_session=True), "in_treatment"),
])  # fmt: skip
def test_the_state_of_a_zone_follows_from_what_is_on_file(facts: ZoneFacts, state: str) -> None:
    assert zone_state(facts, ON) == state


def test_a_colour_may_be_judged_on_its_day_and_not_the_day_before() -> None:
    assert zone_state(SETTLING, LATER) == "to_judge"
    assert zone_state(SETTLING, LATER - timedelta(days=1)) == "settling"


@pytest.mark.parametrize(("facts", "state"), [
    (CaseFacts(), "enquiry"),
    (CaseFacts(is_asked=True), "screening"),
    (CaseFacts(is_asked=True, decision=""), "screening"),
    (CaseFacts(is_asked=True, decision="wait"), "waiting"),
    (CaseFacts(is_asked=True, decision="declined"), "declined"),
    (ACCEPTED, "planned"),
    (replace(ACCEPTED, zones=(CLEARED,)), "planned"),
    (replace(ACCEPTED, zones=(SETTLING, CLEARED)), "settling"),
    (replace(ACCEPTED, zones=(SETTLING, FINISHED)), "settling"),
    (replace(ACCEPTED, zones=(SETTLING, TO_JUDGE)), "in_treatment"),
    (replace(ACCEPTED, zones=(FINISHED, replace(CLEARED, has_open_session=True))), "in_treatment"),
    (replace(ACCEPTED, zones=(FINISHED, FINISHED)), "finished"),
    (replace(ACCEPTED, zones=(FINISHED, CLEARED)), "in_treatment"),
    (replace(ACCEPTED, zones=(SETTLING,), is_held=True), "on_hold"),
    (replace(ACCEPTED, is_held=True, closed_on=ON), "closed"),
])  # fmt: skip
def test_the_state_of_a_case_follows_from_its_zones_and_its_screening(facts: CaseFacts, state: str) -> None:
    assert case_state(facts, ON) == state


def test_a_settling_zone_and_a_finished_one_are_told_as_they_stand() -> None:
    assert told(replace(ACCEPTED, zones=(FINISHED, SETTLING))) == (
        "Nothing found in the answers of 3 March. The elbow is settling; no work there before 14 November, "
        "first judgement on 28 November. The forearm is finished."
    )


def test_zones_of_which_the_same_is_to_be_said_share_a_sentence() -> None:
    zones = (CLEARED, replace(CLEARED, label="Forearm"), replace(CLEARED, label="Stretch marks on the thigh"))
    assert "The elbow, the forearm and the stretch marks on the thigh are cleared for full work." in told(
        replace(ACCEPTED, zones=zones)
    )


def test_what_presses_comes_first_and_stands_out() -> None:
    sentences = case_sentences(replace(ACCEPTED, zones=(FINISHED, replace(SETTLING, label="Knee"), TO_JUDGE)), ON)
    assert [sentence.words.split(" ")[1] for sentence in sentences[1:]] == ["elbow", "knee", "forearm"]
    assert [sentence.is_strong for sentence in sentences] == [False, True, True, False]


def test_undecided_answers_and_findings_are_said() -> None:
    assert told(replace(ACCEPTED, decision="")) == "The answers of 3 March wait for a decision."
    assert told(replace(ACCEPTED, open_findings=2)) == "Accepted on the answers of 3 March; 2 findings stand."
    assert told(replace(ACCEPTED, decision="wait", wait_until=SOON)) == "Work waits until 14 November."


def test_a_hold_is_said_first_and_a_closed_case_says_only_that() -> None:
    assert told(replace(ACCEPTED, is_held=True)).startswith(
        "The client is on hold: nothing is sent and nothing starts."
    )
    assert told(replace(ACCEPTED, zones=(SETTLING,), closed_on=ON)) == "The case was closed on 20 October."


@pytest.mark.parametrize(("label", "name", "is_many"), [
    ("Elbow", "The elbow", False),
    ("Left cheek", "The left cheek", False),
    ("Stretch marks on the thigh", "The stretch marks on the thigh", True),
    ("Cross on the wrist", "The cross on the wrist", False),
    ("Zone 2", "Zone 2", False),
    ("ACL", "ACL", False),
    ("Both hands", "Both hands", True),
])  # fmt: skip
def test_a_label_is_called_as_a_sentence_needs_it(label: str, name: str, is_many: bool) -> None:
    assert called(label) == (name, is_many)


def test_braces_in_a_label_are_words_like_any_other() -> None:
    assert "The el{bow} is settling" in told(replace(ACCEPTED, zones=(replace(SETTLING, label="El{bow}"),)))


def test_the_line_beside_a_zone_leaves_its_name_out() -> None:
    assert zone_words(SETTLING, ON) == "Settling; no work there before 14 November, first judgement on 28 November."
    assert (
        zone_words(replace(SETTLING, earliest_on=EARLIER), ON)
        == "Settling; work could go on, first judgement on 28 November."
    )
    assert zone_words(JUDGED, ON) == "Judged good; waiting was chosen."


def test_a_year_is_named_only_where_it_is_another() -> None:
    assert (day_of(SOON, ON), day_of(date(2027, 1, 2), ON)) == ("14 November", "2 January 2027")
