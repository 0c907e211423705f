import json
import random
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.answers import missing
from app.intake.dates import Interval, add
from app.intake.question_list import QUESTION_SET
from app.intake.questions import DONT_KNOW, NO, YES, Question, applicable
from app.intake.rule_set import RULE_SET
from app.intake.rules import GRADES, Grade, Proof, Rule, RuleSet, rule_set_from_dict, rule_set_to_dict
from app.intake.screening import Evidence, Finding, Screening, screen, screening_to_dict
from app.studio.country import FR, GB, OTHER, CountryPack
from tests.intake.healthy import ON, healthy, healthy_scar

YES_NO = [question for question in QUESTION_SET.questions if question.kind == "yes_no" and question.safety]
DATED = [rule for rule in RULE_SET.rules if rule.trigger.kind == "date" and rule.wait is not None]


def run(answers: dict[str, Any], *evidence: Evidence, on: date = ON, country: CountryPack = GB) -> Screening:
    return screen(answers, on=on, country=country, evidence=evidence)


def found(screening: Screening, rule_id: str, scar_id: str | None = None) -> Finding | None:
    return next((item for item in screening.findings if (item.rule_id, item.scar_id) == (rule_id, scar_id)), None)


def rank(grade: Grade) -> int:
    return GRADES.index(grade)


def setting(rule: Rule, value: Any) -> dict[str, Any]:
    """Answers in which the rule's conditions hold and its date is this one."""
    client: dict[str, Any] = {}
    scar: dict[str, Any] = {}
    if rule.scope.sites:
        scar["site"] = rule.scope.sites[0]
    needs = list(rule.trigger.when)
    for key in rule.keys:
        needs += QUESTION_SET.question(key).ask_when
    for condition in needs:
        choice: Any = condition.any_of[0]
        if QUESTION_SET.question(condition.key).kind == "many":
            choice = [choice]
        (scar if condition.key.startswith("scar.") else client)[condition.key.removeprefix("scar.")] = choice
    if rule.trigger.date_key:
        key = rule.trigger.date_key
        (scar if key.startswith("scar.") else client)[key.removeprefix("scar.")] = value
    return healthy(healthy_scar(**scar), **client)


def test_a_healthy_adult_with_an_old_scar_may_have_full_work() -> None:
    screening = run(healthy())
    assert missing(healthy()) == ()
    assert [finding.rule_id for finding in screening.findings] == ["future_laser"]
    assert screening.scar("s1").grade == "full"
    assert screening.scar("s1").full_from == ON
    assert screening.preparation


@pytest.mark.parametrize("rule", DATED, ids=lambda rule: rule.id)
def test_a_wait_holds_the_day_before_and_the_day_itself_clears(rule: Rule) -> None:
    assert rule.wait is not None
    event = date(2026, 1, 31)
    clear = add(event, rule.wait)
    scar_id = "s1" if rule.scope.kind == "zone" else None
    answers = setting(rule, event.isoformat())
    before = run(answers, on=clear - timedelta(days=1))
    waiting = found(before, rule.id, scar_id)
    assert waiting is not None
    assert waiting.kind == "wait"
    assert waiting.clear_from == clear
    assert found(run(answers, on=clear), rule.id, scar_id) is None
    assert found(run(answers, on=clear + timedelta(days=1)), rule.id, scar_id) is None


@pytest.mark.parametrize("rule", [rule for rule in RULE_SET.rules if rule.trigger.when], ids=lambda rule: rule.id)
def test_every_rule_with_a_condition_fires_on_it_and_not_on_a_healthy_client(rule: Rule) -> None:
    scar_id = "s1" if rule.scope.kind == "zone" else None
    assert found(run(setting(rule, ON.isoformat())), rule.id, scar_id) is not None
    assert found(run(healthy()), rule.id, scar_id) is None


@pytest.mark.parametrize("question", [item for item in YES_NO if item.dont_know], ids=lambda question: question.key)
def test_dont_know_never_passes_and_has_no_end(question: Question) -> None:
    def answered(value: str) -> Screening:
        client: dict[str, Any] = {}
        scar: dict[str, Any] = {}
        for key, chosen in (*((item.key, item.any_of[0]) for item in question.ask_when), (question.key, value)):
            (scar if key.startswith("scar.") else client)[key.removeprefix("scar.")] = chosen
        if "vaccinated" in client:
            client["vaccinated_on"] = ON.isoformat()
        return run(healthy(healthy_scar(**scar), **client))

    unknown = answered(DONT_KNOW)
    mine = [finding for finding in unknown.findings if finding.because == "dont_know"]
    assert all(finding.clear_from is None for finding in mine)
    blocking = {
        rule.consequence for rule in RULE_SET.rules
        if any(condition.key == question.key and YES in condition.any_of for condition in rule.trigger.when)
    } - {"caution"}  # fmt: skip
    # A follow-up question that hangs on this one carries the rule where the question itself has none.
    if blocking:
        assert unknown.scar("s1").grade != "full"
    assert rank(unknown.scar("s1").grade) <= rank(answered(NO).scar("s1").grade)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_yes_more_never_raises_the_grade(data: st.DataObject) -> None:
    chosen = data.draw(st.lists(st.sampled_from(YES_NO), max_size=6, unique_by=lambda item: item.key))
    one_more = data.draw(st.sampled_from(YES_NO))
    event = data.draw(st.sampled_from(["2026-11", "2026-06-01", "2025", "2020", "dont_know"]))

    def grade(questions: list[Question]) -> Grade:
        client: dict[str, Any] = {}
        scar: dict[str, Any] = {"cause": "injury"}
        for item in QUESTION_SET.questions:
            if item.kind == "date" and item.field not in ("happened",):
                (scar if item.about_scar else client)[item.field] = event
        scar["support"] = "have"
        for item in questions:
            (scar if item.about_scar else client)[item.field] = YES
        return run(healthy(healthy_scar(**{"self_harm": NO, **scar}), **client)).scar("s1").grade

    assert rank(grade([*chosen, one_more])) <= rank(grade(chosen))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([item for item in YES_NO if item.about_scar]), st.sampled_from([YES, DONT_KNOW]))
def test_what_is_said_of_one_scar_never_changes_another(question: Question, value: str) -> None:
    calm = healthy_scar("s1", cause="injury", self_harm=NO)
    other = healthy_scar("s2", cause="injury", self_harm=NO)
    before = run(healthy(calm, other))
    after = run(healthy(calm, {**other, question.field: value}))
    assert after.scar("s1") == before.scar("s1")
    assert after.person_grade == before.person_grade


@settings(max_examples=40, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_the_answers_does_not_matter(shuffled: random.Random) -> None:
    answers = healthy(isotretinoin=YES, isotretinoin_on="2026-03", metal_allergy=YES)
    items = list(answers.items())
    shuffled.shuffle(items)
    assert run(dict(items)) == run(answers)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(DATED), st.dates(date(2020, 1, 1), ON), st.integers(0, 900), st.integers(0, 900))
def test_more_time_never_makes_a_wait_worse(rule: Rule, event: date, first: int, more: int) -> None:
    answers = setting(rule, event.isoformat()) | {"answered_on": event.isoformat()}
    early = run(answers, on=event + timedelta(days=first)).scar("s1").grade
    late = run(answers, on=event + timedelta(days=first + more)).scar("s1").grade
    assert rank(early) <= rank(late)


def test_a_year_counts_from_its_last_day() -> None:
    answers = healthy(healthy_scar(happened="2025"))
    assert run(answers, on=date(2026, 12, 30)).scar("s1").grade == "patch"
    assert run(answers, on=date(2026, 12, 30)).scar("s1").full_from == date(2026, 12, 31)
    assert run(answers, on=date(2026, 12, 31)).scar("s1").grade == "full"


def test_more_than_two_years_ago_counts_from_the_day_it_was_answered() -> None:
    changes = {"happened": "more_than_2_years", "burn": YES}
    assert found(run(healthy(healthy_scar(**changes))), "burn_age", "s1") is None


@pytest.mark.parametrize(
    ("born_on", "day", "barred"),
    [
        ("2008-11-26", date(2026, 11, 25), True),
        ("2008-11-25", date(2026, 11, 25), False),
        ("2008-02-29", date(2026, 2, 28), True),
        ("2008-02-29", date(2026, 3, 1), False),
    ],
)
def test_the_law_bars_until_the_exact_birthday(born_on: str, day: date, barred: bool) -> None:
    screening = run(healthy(healthy_scar(happened="2020"), born_on=born_on), on=day)
    assert bool(screening.of_kind("legal_bar")) is barred
    assert screening.scar("s1").grade == ("none" if barred else "full")
    assert found(screening, "needs_guardian") is None


def test_no_proof_lifts_a_legal_bar() -> None:
    kinds: tuple[Proof, ...] = ("letter", "guardian_consent", "informed_decision")
    proofs = [Evidence(kind, ON, "agrees", ("under_age",)) for kind in kinds]
    assert run(healthy(born_on="2010-01-01"), *proofs).scar("s1").grade == "none"


def test_where_the_law_lets_a_guardian_agree_the_consent_lifts_the_stop() -> None:
    answers = healthy(born_on="2010-01-01")
    assert run(answers, country=FR).scar("s1").grade == "consultation"
    consent = Evidence("guardian_consent", ON, "agrees", ("needs_guardian",))
    assert run(answers, consent, country=FR).scar("s1").grade == "full"
    assert run(answers, consent, country=OTHER).scar("s1").grade == "none"


def test_a_letter_lifts_only_the_rule_it_names_and_only_while_in_force() -> None:
    answers = healthy(diabetes=YES)
    stop = found(run(answers), "diabetes")
    assert stop is not None
    assert stop.letter_needed
    named = Evidence("letter", date(2026, 10, 1), "agrees", ("diabetes",), expires_on=date(2026, 12, 1))
    assert found(run(answers, named), "diabetes") is None
    assert found(run(answers, named, on=date(2026, 12, 2)), "diabetes") is not None
    assert found(run(answers, Evidence("letter", ON, "agrees", ("epilepsy",))), "diabetes") is not None
    declined = Evidence("letter", date(2026, 11, 1), "declines", ("diabetes",))
    assert found(run(answers, named, declined), "diabetes") is not None
    assert any(alert.code == "diabetes" for alert in run(answers, named).alerts)


def test_a_letter_shortens_isotretinoin_to_six_months_and_not_below() -> None:
    answers = healthy(isotretinoin=YES, isotretinoin_on="2026-06-10")
    letter = Evidence("letter", date(2026, 9, 1), "agrees", ("isotretinoin",))
    alone = found(run(answers, on=date(2026, 12, 9)), "isotretinoin")
    helped = found(run(answers, letter, on=date(2026, 12, 9)), "isotretinoin")
    assert alone is not None
    assert helped is not None
    assert (alone.clear_from, alone.floor_until) == (date(2027, 6, 10), date(2026, 12, 10))
    assert helped.clear_from == date(2026, 12, 10)
    assert found(run(answers, letter, on=date(2026, 12, 10)), "isotretinoin") is None


def test_an_informed_decision_counts_only_after_the_clinician_gave_no_letter_and_where_the_rule_allows() -> None:
    answers = healthy(thyroid=YES, diabetes=YES)
    rules = ("thyroid", "diabetes")
    decision = Evidence("informed_decision", ON, "agrees", rules)
    declined = Evidence("letter", date(2026, 11, 1), "declines", rules)
    against = Evidence("letter", date(2026, 11, 2), "advises_against", rules)
    assert found(run(answers, decision), "thyroid") is not None
    assert found(run(answers, decision, declined), "thyroid") is None
    assert found(run(answers, decision, declined), "diabetes") is not None
    assert found(run(answers, decision, declined, against), "thyroid") is not None


def test_an_allergy_patch_lifts_after_its_time_and_a_reaction_stops() -> None:
    answers = healthy(metal_allergy=YES)
    assert run(answers).scar("s1").grade == "patch"
    clear = Evidence("allergy_patch", date(2026, 11, 24), "clear")
    assert run(answers, clear).scar("s1").grade == "patch"
    assert run(answers, clear, on=date(2026, 11, 26)).scar("s1").grade == "full"
    reacted = Evidence("allergy_patch", date(2026, 11, 20), "reacted")
    screening = run(answers, reacted, clear, on=date(2026, 11, 26))
    assert found(screening, "patch_reacted") is not None
    assert screening.scar("s1").grade == "patch"


def test_a_test_spot_speaks_only_for_its_own_scar() -> None:
    answers = healthy(healthy_scar("s1"), healthy_scar("s2"), dark_marks=YES)
    spot = Evidence("test_spot", date(2026, 8, 1), "clear", scar_id="s1")
    screening = run(answers, spot)
    assert (screening.scar("s1").grade, screening.scar("s2").grade) == ("full", "spot")
    bad = Evidence("test_spot", date(2026, 8, 1), "reacted", scar_id="s1")
    assert run(answers, bad).scar("s1").grade == "consultation"
    assert run(answers, bad).scar("s2").grade == "spot"


def test_a_withheld_answer_leads_to_a_talk_that_neither_passes_nor_bars() -> None:
    answers = healthy(healthy_scar(cause="prefer_not", self_harm="prefer_not"))
    screening = run(answers)
    talk = found(screening, "self_harm", "s1")
    assert talk is not None
    assert (talk.kind, talk.because, talk.clear_from) == ("talk", "withheld", None)
    assert screening.scar("s1").grade == "consultation"
    settled = Evidence("talk", ON, "settled", ("self_harm",), scar_id="s1")
    assert run(answers, settled).scar("s1").grade == "full"


def test_withholding_the_cause_alone_blocks_nothing() -> None:
    assert run(healthy(healthy_scar(cause="prefer_not", self_harm=NO))).scar("s1").grade == "full"


def test_a_missing_answer_never_passes() -> None:
    tried = 0
    for question in QUESTION_SET.questions:
        answers = applicable(healthy(), QUESTION_SET)
        place = answers["scars"][0] if question.about_scar else answers
        if question.required and question.safety and place.pop(question.field, None) is not None:
            assert run(answers).scar("s1").grade == "consultation", question.key
            tried += 1
    assert tried > 50
    assert run({}).person_grade == "consultation"
    assert run({}).scars == ()


def test_a_sensitive_finding_shows_the_client_no_date_and_no_cause() -> None:
    care = {"cause": "injury", "self_harm": YES, "last_time": "2026-06", "support": "have"}
    screening = run(healthy(healthy_scar(**care, sun=YES, sun_on="2026-11-20")))
    lines = screening.client_summary
    assert screening.is_sensitive
    assert lines
    assert all(line.from_date is None for line in lines)
    assert not any(word in line.text.lower() for line in lines for word in ("harm", "hurt", "forearm", "episode"))


def test_the_client_sees_the_day_on_which_an_everyday_wait_ends() -> None:
    screening = run(healthy(antibiotics=YES, antibiotics_on="2026-11-22"))
    assert [line.from_date for line in screening.client_summary if line.from_date] == [date(2026, 11, 29)]
    assert screening.full_from == date(2026, 11, 29)


def test_a_wait_without_a_known_end_shows_the_client_no_date() -> None:
    scars = (healthy_scar("s1", happened="2026-05"), healthy_scar("s2", happened=DONT_KNOW))
    assert not any(line.from_date for line in run(healthy(*scars)).client_summary)
    assert any(line.from_date == date(2027, 5, 31) for line in run(healthy(scars[0])).client_summary)


def test_set_up_alerts_are_instructions_and_name_no_illness() -> None:
    alerts = run(healthy(latex_allergy=YES, fainting=YES, epilepsy=YES)).alerts
    shown = {alert.code: alert.words for alert in alerts if alert.audience == "setup"}
    assert shown["latex"] == "Latex-free room."
    assert "may_faint" in shown


def test_an_old_screening_comes_out_the_same_under_its_stored_rules() -> None:
    stored = json.loads(json.dumps(rule_set_to_dict(RULE_SET)))
    answers = healthy(isotretinoin=YES, isotretinoin_on="2026-03", diabetes=DONT_KNOW)
    again = screen(answers, on=ON, country=GB, rule_set=rule_set_from_dict(stored))
    assert again == run(answers)


def test_rules_that_ask_for_unknown_questions_are_refused() -> None:
    rule = RULE_SET.rule("diabetes")
    lost = RuleSet((Rule(**{**rule.__dict__, "trigger": type(rule.trigger)("date", date_key="gone"),
                            "wait": Interval(1, "days")}),))  # fmt: skip
    with pytest.raises(ValueError, match="gone"):
        screen(healthy(), on=ON, country=GB, rule_set=lost)


def test_a_screening_is_json_and_carries_the_caution() -> None:
    content = screening_to_dict(run(healthy(antibiotics=YES, antibiotics_on="2026-11-22")))
    assert json.loads(json.dumps(content)) == content
    assert "not medical advice" in content["caution"]
    assert content["scars"][0]["full_from"] == "2026-11-29"


def test_not_knowing_whether_it_happened_does_not_outlast_a_date_long_past() -> None:
    answers = healthy(vaccinated=YES, vaccinated_on="2026-10-20", shingles_vaccine=DONT_KNOW)
    assert found(run(answers), "shingles_vaccine") is None
    recent = healthy(vaccinated=YES, vaccinated_on="2026-11-01", shingles_vaccine=DONT_KNOW)
    waiting = found(run(recent), "shingles_vaccine")
    assert waiting is not None
    assert waiting.clear_from is None
