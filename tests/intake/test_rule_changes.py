import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake import rule_changes as bounds
from app.intake.dates import Interval
from app.intake.rule_changes import (
    RuleChange,
    below_default,
    changed,
    consequences_for,
    is_shorter,
    problems,
    rule_change_from_dict,
    rule_change_to_dict,
)
from app.intake.rule_set import RULE_SET
from app.intake.rules import Consequence, Rule, RuleSet, rule_set_from_dict, rule_set_to_dict
from app.intake.screening import screen
from app.studio.country import GB
from tests.intake.healthy import ON, healthy
from tests.intake.test_screening import found

WHY = "Agreed with our insurer."


def change(
    rule_id: str, wait: Interval | None = None, consequence: Consequence | None = None, reason: str = WHY
) -> RuleChange:
    return RuleChange(rule_id, wait, consequence, reason)


def against(made: RuleChange) -> tuple[str, ...]:
    return problems(RULE_SET.rule(made.rule_id), made)


def warning(made: RuleChange) -> str:
    return below_default(RULE_SET.rule(made.rule_id), made)


@pytest.mark.parametrize("rule_id", ["under_age", "needs_guardian"])
def test_what_the_law_sets_is_not_changed_by_anybody(rule_id: str) -> None:
    assert against(change(rule_id, consequence="caution")) == (bounds.IS_LAW,)
    assert consequences_for(RULE_SET.rule(rule_id)) == (RULE_SET.rule(rule_id).consequence,)
    with pytest.raises(ValueError, match="law of the country"):
        changed(RULE_SET, [change(rule_id, Interval(1, "days"))])


@pytest.mark.parametrize(
    ("made", "message"),
    [
        (change("sun", Interval(8, "weeks"), reason="  "), bounds.NO_REASON),
        (change("sun", Interval(8, "weeks"), reason="x" * 1001), bounds.LONG_REASON),
        (change("sun"), bounds.NOTHING_CHANGED),
        (change("sun", Interval(4, "weeks"), "wait"), bounds.NOTHING_CHANGED),
        (change("sun", Interval(61, "months")), bounds.TOO_LONG_WAIT),
        (change("sun", Interval(1827, "days")), bounds.TOO_LONG_WAIT),
        (change("isotretinoin", Interval(5, "months")), bounds.BELOW_FLOOR),
        (change("isotretinoin", Interval(181, "days")), bounds.BELOW_FLOOR),
        (change("diabetes", Interval(6, "months")), bounds.NO_WAIT_HERE),
        (change("diabetes", consequence="wait"), bounds.NOT_FOR_THIS_RULE),
        (change("diabetes", consequence="legal_bar"), bounds.NOT_FOR_THIS_RULE),
        (change("diabetes", consequence="test_spot"), bounds.NOT_FOR_THIS_RULE),
        (change("patch_reacted", consequence="caution"), bounds.NOT_FOR_THIS_RULE),
        (change("pregnant", consequence="caution"), bounds.NOTHING_LIFTS_IT),
        (change("keloid_here", consequence="talk"), bounds.NOTHING_LIFTS_IT),
        (change("future_laser", consequence="stop_until_proof"), bounds.NOT_FOR_THIS_RULE),
    ],
)
def test_a_change_out_of_bounds_is_refused_in_plain_words(made: RuleChange, message: str) -> None:
    assert message in against(made)
    with pytest.raises(ValueError, match=made.rule_id):
        changed(RULE_SET, [made])


def test_a_change_for_another_rule_or_for_none_is_refused() -> None:
    assert problems(RULE_SET.rule("sun"), change("self_tan", Interval(3, "weeks"))) == (bounds.OTHER_RULE,)
    with pytest.raises(ValueError, match="there is no rule moonlight"):
        changed(RULE_SET, [change("moonlight", Interval(3, "weeks"))])


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (change("sun", Interval(8, "weeks")), ""),
        (change("sun", Interval(1, "weeks")), bounds.SHORTER),
        (change("scar_age", Interval(365, "days")), bounds.SHORTER),  # In a leap year a day short of twelve months.
        (change("isotretinoin", Interval(6, "months")), bounds.SHORTER),
        (change("light_medicine", consequence="stop_until_proof"), ""),
        (change("diabetes", consequence="caution"), bounds.MILDER),
        (change("sun", Interval(0, "days"), "caution"), bounds.SHORTER_AND_MILDER),
        (change("metal_allergy", Interval(1, "days")), bounds.SHORTER),
    ],
)
def test_going_below_the_cautious_default_is_warned_of_and_can_be_done(made: RuleChange, words: str) -> None:
    assert against(made) == ()
    assert warning(made) == words
    changed(RULE_SET, [made])


def test_a_changed_rule_is_used_with_its_reason_and_the_others_stay() -> None:
    made = [change("antibiotics", Interval(14, "days")), change("light_medicine", consequence="test_patch")]
    theirs = changed(RULE_SET, made)
    assert theirs.version != RULE_SET.version
    assert [rule for rule in theirs.rules if rule not in RULE_SET.rules] == [
        theirs.rule("antibiotics"), theirs.rule("light_medicine"),
    ]  # fmt: skip
    assert WHY in theirs.rule("antibiotics").source
    patch = theirs.rule("light_medicine")
    assert (patch.allows, patch.lifted_by, patch.wait) == ("patch", ("allergy_patch",), Interval(2, "days"))
    answers = healthy(antibiotics="yes", antibiotics_on="2026-11-15", light_medicine="yes")
    shipped = screen(answers, on=ON, country=GB)
    mine = screen(answers, on=ON, country=GB, rule_set=theirs)
    assert found(shipped, "antibiotics") is None
    assert found(mine, "antibiotics") is not None
    assert mine.scar("s1").grade == "consultation"


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(RULE_SET.rules), st.data())
def test_every_consequence_offered_can_be_chosen_and_gives_a_rule_that_can_be_stored(
    rule: Rule, data: st.DataObject
) -> None:
    to = data.draw(st.sampled_from(consequences_for(rule)))
    made = change(rule.id, consequence=to)
    if to == rule.consequence:
        assert below_default(rule, made) == ""
        return
    assert problems(rule, made) == ()
    theirs = changed(RuleSet((rule,)), [made])
    assert theirs.rule(rule.id).consequence == to
    assert rule_set_from_dict(json.loads(json.dumps(rule_set_to_dict(theirs)))) == theirs


def test_a_change_survives_being_stored() -> None:
    for made in (change("sun", Interval(8, "weeks")), change("sun", consequence="caution")):
        assert rule_change_from_dict(json.loads(json.dumps(rule_change_to_dict(made)))) == made
    with pytest.raises(ValueError, match="no consequence"):
        rule_change_from_dict({"rule_id": "sun", "wait": None, "consequence": "ban", "reason": WHY})


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 60), st.integers(0, 60))
def test_of_two_lengths_in_one_unit_the_smaller_is_the_shorter(one: int, other: int) -> None:
    assert is_shorter(Interval(one, "months"), Interval(other, "months")) is (one < other)
    assert is_shorter(Interval(one, "days"), Interval(other, "days")) is (one < other)
