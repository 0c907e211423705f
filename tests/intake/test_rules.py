import json
from itertools import chain

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.dates import Interval
from app.intake.questions import ANY_TEXT, Condition
from app.intake.rescreening import joined
from app.intake.rule_set import PREPARATION, RULE_SET, client_texts
from app.intake.rules import (
    AlertRaised,
    Rule,
    RuleSet,
    Scope,
    Trigger,
    rule_set_from_dict,
    rule_set_to_dict,
)

EVERY = joined()  # The full form and the short questions before a session.
TAGS = {"PB", "LAW", "STD", "P", "CP", "M"}


def changed(rule: Rule, **changes: object) -> Rule:
    return Rule(**{**rule.__dict__, **changes})


def test_every_rule_asks_only_what_must_be_answered() -> None:
    for rule in RULE_SET.rules:
        for key in rule.keys:
            question = EVERY.question(key)
            reads_text = any(item.key == key and ANY_TEXT in item.any_of for item in rule.trigger.when)
            assert question.safety
            assert question.required or reads_text, f"{rule.id}: {key} could be left empty and so pass"


def test_every_condition_names_an_answer_that_its_question_has() -> None:
    for rule in RULE_SET.rules:
        for condition in rule.trigger.when:
            choices = {option.key for option in EVERY.question(condition.key).choices}
            assert set(condition.any_of) <= choices | {ANY_TEXT}, rule.id
        if rule.trigger.passes:
            choices = {option.key for option in EVERY.question(rule.trigger.date_key).choices}
            assert set(rule.trigger.passes) <= choices, rule.id


def test_a_date_rule_is_about_the_question_that_its_conditions_open() -> None:
    for rule in RULE_SET.rules:
        if rule.trigger.kind == "date":
            opened_by = {condition.key for condition in EVERY.question(rule.trigger.date_key).ask_when}
            assert {item.key for item in rule.trigger.when} >= {key for key in opened_by if key in rule.keys}, rule.id


def test_every_rule_says_why_what_lifts_it_and_where_it_comes_from() -> None:
    for rule in RULE_SET.rules:
        assert rule.reason, rule.id
        assert rule.what_lifts, rule.id
        assert rule.source, rule.id
        assert set(rule.source_tags) <= TAGS, rule.id
        assert rule.source_tags, rule.id
        assert rule.client_summary, rule.id
        assert rule.range_seen, rule.id
        assert rule.last_reviewed == "2026-11-25", rule.id


def test_advice_says_where_it_comes_from_and_when_it_was_reviewed_as_a_rule_does() -> None:
    for advice in RULE_SET.advice:
        assert set(advice.source_tags) <= TAGS, advice.id
        assert advice.source_tags, advice.id
        assert all((advice.words, advice.source, advice.range_seen)), advice.id
        assert advice.last_reviewed == "2026-11-25", advice.id


def test_each_sentence_for_the_client_is_told_once_for_the_translators() -> None:
    told = list(client_texts())
    assert len(told) == len(set(told))
    assert {rule.client_summary for rule in RULE_SET.rules} <= set(told)
    assert {advice.words for advice in RULE_SET.advice} <= set(told)


def test_a_rule_from_memory_says_so() -> None:
    for rule in RULE_SET.rules:
        if rule.source_tags == ("M",):
            assert "from memory, unchecked" in rule.source, rule.id


def test_what_the_client_reads_names_no_cause_and_no_illness() -> None:
    private = ("cancer", "harm", "hiv", "hepatitis", "pregnan", "radiotherapy", "keloid", "epilep", "burn")
    for rule in RULE_SET.rules:
        if rule.sensitive:
            assert not any(word in rule.client_summary.lower() for word in private), rule.id


def test_the_shipped_rules_cover_every_trigger_scope_and_consequence() -> None:
    rules = RULE_SET.rules
    assert {rule.trigger.kind for rule in rules} == {"answer", "date", "evidence"}
    assert {(rule.scope.kind, bool(rule.scope.sites)) for rule in rules} == {
        ("client", False), ("zone", False), ("zone", True),
    }  # fmt: skip
    assert {rule.consequence for rule in rules} == {
        "legal_bar", "stop_until_proof", "wait", "test_patch", "test_spot", "caution", "talk",
    }  # fmt: skip


def test_every_row_of_the_trade_facts_is_a_rule_or_advice() -> None:
    rows = set(chain.from_iterable(rule.facts_rows for rule in RULE_SET.rules))
    assert rows | set(chain.from_iterable(item.facts_rows for item in PREPARATION)) == set(range(1, 80))


def test_a_rule_set_survives_being_stored_as_json() -> None:
    again = rule_set_from_dict(json.loads(json.dumps(rule_set_to_dict(RULE_SET))))
    assert again == RULE_SET
    assert again.version == RULE_SET.version


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(RULE_SET.rules), st.sampled_from(["reason", "client_summary", "what_lifts", "source"]))
def test_any_change_of_wording_is_another_version(rule: Rule, part: str) -> None:
    other = changed(rule, **{part: "Something else."})
    assert RuleSet((other,)).version != RuleSet((rule,)).version


def test_a_rule_that_makes_no_sense_is_refused() -> None:
    wait, stop, bar = RULE_SET.rule("sun"), RULE_SET.rule("diabetes"), RULE_SET.rule("under_age")
    with pytest.raises(ValueError, match="a wait needs a date"):
        changed(stop, consequence="wait")
    with pytest.raises(ValueError, match="needs a length"):
        changed(wait, wait=None, consequence="caution")
    with pytest.raises(ValueError, match="nothing lifts a legal bar"):
        changed(bar, lifted_by=("letter",))
    with pytest.raises(ValueError, match="must not block the person"):
        changed(stop, scope=Scope("client"), trigger=Trigger("answer", (Condition("scar.red"),)))
    with pytest.raises(ValueError, match="evidence needs"):
        changed(stop, trigger=Trigger("evidence"))
    with pytest.raises(ValueError, match="same id"):
        RuleSet((stop, stop))


def test_a_floor_is_shorter_than_its_wait_and_a_proof_is_needed_to_reach_it() -> None:
    floored = [rule for rule in RULE_SET.rules if rule.floor is not None]
    assert [rule.id for rule in floored] == ["isotretinoin"]
    assert (floored[0].wait, floored[0].floor) == (Interval(12, "months"), Interval(6, "months"))
    assert floored[0].lifted_by == ("letter",)


def test_one_alert_code_always_has_the_same_words() -> None:
    words: dict[str, AlertRaised] = {}
    for rule in RULE_SET.rules:
        if rule.alert is not None:
            assert words.setdefault(rule.alert.code, rule.alert) == rule.alert, rule.id
