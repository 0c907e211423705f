import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.intake.answers import (
    ParsedTopic,
    Unreadable,
    asked_on,
    check_answers,
    field_values,
    missing,
    pages,
    parse_topic,
    summary,
    texts,
    topics_for,
    without_scar,
)
from app.intake.phones import PHONE_PROBLEM
from app.intake.question_list import QUESTION_SET, QUESTIONS_VERSION, TOPICS
from app.intake.questions import (
    NO,
    YES,
    Condition,
    Missing,
    QuestionSet,
    Topic,
    applicable,
    question_set_from_dict,
    question_set_to_dict,
    state,
)
from app.intake.reading import (
    BEFORE_BIRTH,
    CHOOSE,
    FILL_IN,
    MESSAGES,
    NONE_AND_MORE,
    NOT_YET,
    ONE_ANSWER,
    TOO_LONG,
    UNKNOWN_CHOICE,
    UNREADABLE,
)
from app.intake.visit_list import VISIT_SET
from tests.intake.healthy import ON, healthy, healthy_scar

TOPIC = {topic.key: topic for topic in TOPICS}


def post(topic: str, answers: dict[str, Any], scar: int | None = None, /, **fields: str | list[str]) -> ParsedTopic:
    posted = {
        key.replace("__", "."): value if isinstance(value, list) else [value] for key, value in fields.items()
    }
    return parse_topic(TOPIC[topic], posted, answers, on=ON, scar=scar)


def test_keys_are_unique_and_conditions_look_only_back() -> None:
    seen: set[str] = set()
    topics = {topic.key: topic for topic in TOPICS}
    for question in QUESTION_SET.questions:
        assert question.key not in seen
        assert question.about_scar == topics[question.topic].repeats, question.key
        for condition in question.ask_when:
            # A question about a scar may depend on one about the person, which stands earlier.
            assert condition.key in seen, question.key
            assert question.about_scar or not condition.key.startswith("scar."), question.key
            choices = {option.key for option in QUESTION_SET.question(condition.key).choices}
            assert set(condition.any_of) <= choices, question.key
        seen.add(question.key)


def test_headings_name_no_cause_no_place_and_no_illness() -> None:
    private = ("harm", "burn", "cancer", "hiv", "pregnan", "breast", "self", "tummy", "keloid", "epilep")
    for topic in TOPICS:
        assert not any(word in topic.title.lower() for word in private), topic.title


def test_nobody_is_asked_how_or_why() -> None:
    care = QUESTION_SET.of_topic(TOPIC["scar_care"])
    assert {question.field for question in care} == {"self_harm", "last_time", "support"}
    assert all(question.prefer_not for question in care)
    assert not any(question.kind in ("text", "long_text") for question in care)
    assert QUESTION_SET.question("scar.cause").prefer_not


def test_sentences_are_short_enough_to_read_easily() -> None:
    for question in QUESTION_SET.questions:
        assert len(question.wording.split()) <= 30, question.wording
        assert len(question.hint.split()) <= 22, question.hint


def test_what_is_asked_where_the_cause_was_said_to_be_an_operation_is_not_asked_in_private() -> None:
    answers = healthy(healthy_scar(cause="operation"))
    assert "scar_care" not in [topic.key for topic in topics_for(answers)]
    assert "scar_care" in [topic.key for topic in topics_for(healthy(healthy_scar(cause="prefer_not")))]


def test_the_scar_pages_come_once_for_each_scar_and_next_when_there_is_another() -> None:
    two = healthy(healthy_scar("s1", another=YES), healthy_scar("s2"))
    assert [page.scar for page in pages(two) if page.topic.key == "scar_where"] == [0, 1]
    asked = healthy(healthy_scar("s1", another=YES))
    assert [page.scar for page in pages(asked) if page.topic.key == "scar_where"] == [0, 1]
    assert [page.scar for page in pages({}) if page.topic.key == "scar_where"] == [0]
    order = [(page.topic.key, page.scar) for page in pages(two) if page.scar is not None]
    assert order == sorted(order, key=lambda item: item[1])


def test_one_page_is_read_and_the_rest_is_left_alone() -> None:
    parsed = post("family", {"name": "Robin"}, pregnant=NO, breastfeeding="prefer_not", planning_pregnancy="dont_know")
    assert parsed.errors == {}
    assert parsed.answers["breastfeeding"] == "prefer_not"
    assert parsed.answers["name"] == "Robin"


def test_a_wrong_field_keeps_the_right_ones_and_what_was_typed() -> None:
    parsed = post("you", {}, name="Robin 🌿", born_on__year="90", born_on__month="5", born_on__day="14")
    assert parsed.answers["name"] == "Robin 🌿"
    assert "four numbers" in parsed.errors["born_on"]
    assert parsed.typed["born_on.year"] == ["90"]
    assert post("you", {}, name=" ", no_messages=NO, contact_care=NO).errors == {"name": FILL_IN, "born_on": FILL_IN}


def test_an_answer_replaced_by_something_unreadable_no_longer_counts() -> None:
    parsed = post("you", {"born_on": "1990-05-14", "name": "R"}, name="R", born_on__year="19")
    assert "born_on" not in parsed.answers
    assert parsed.typed["born_on.year"] == ["19"]


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"born_on__year": "2027", "born_on__month": "1", "born_on__day": "1"}, NOT_YET),
        ({"born_on__year": "1990", "born_on__month": "2", "born_on__day": "30"}, "does not have this day"),
        ({"born_on__year": "1990", "born_on__month": "13", "born_on__day": "1"}, "from 1 to 12"),
        ({"born_on__year": "1990"}, "the day, the month and the year"),
        ({"born_on__year": "1900", "born_on__month": "1", "born_on__day": "1"}, "check the year"),
        ({"born_on__year": "19o0", "born_on__month": "1", "born_on__day": "1"}, "use numbers"),
        ({"born_on__year": "1990", "born_on__day": "1"}, "add the month"),
        ({"born_on__year": "90", "born_on__month": "5", "born_on__day": "14"}, "four numbers"),
        ({"born_on__month": "5", "born_on__day": "14"}, "four numbers"),
        ({"born_on__year": "1905", "born_on__month": "5", "born_on__day": "14"}, "check the year"),
        ({"born_on__year": "0203", "born_on__month": "5", "born_on__day": "14"}, "check the year"),
        ({"born_on__year": "2023", "born_on__month": "2", "born_on__day": "29"}, "does not have this day"),
    ],
)
def test_an_impossible_birth_date_gets_a_plain_message(fields: dict[str, str], message: str) -> None:
    assert message in post("you", {}, name="R", **fields).errors["born_on"]


def test_a_scar_older_than_its_owner_is_questioned() -> None:
    parsed = post("scar_where", {"born_on": "1990-05-14"}, 0, happened__year="1989")
    assert parsed.errors["happened"] == BEFORE_BIRTH


def test_a_date_may_be_a_year_a_month_or_not_known() -> None:
    for fields, value in (
        ({"happened__year": "2023"}, "2023"),
        ({"happened__year": "2023", "happened__month": "5"}, "2023-05"),
        ({"happened": "2023-05-14"}, "2023-05-14"),
        ({"happened": "more_than_5_years"}, "more_than_5_years"),
        ({"happened": "dont_know"}, "dont_know"),
    ):
        parsed = post("scar_where", {}, 0, **fields)
        assert parsed.answers["scars"][0]["happened"] == value
        question = QUESTION_SET.question("scar.happened")
        again = parse_topic(TOPIC["scar_where"], field_values(question, parsed.answers, 0), {}, on=ON, scar=0)
        assert again.answers["scars"][0]["happened"] == value


def test_a_follow_up_question_is_asked_and_not_called_a_mistake() -> None:
    fields = {question.field: NO for question in QUESTION_SET.of_topic(TOPIC["lately"]) if question.kind == "yes_no"}
    parsed = post("lately", {}, **{**fields, "ill": YES, "mri_due": NO})
    assert parsed.errors == {}
    assert parsed.asks_next == ("ill_on",)
    assert Missing("ill_on") in missing(parsed.answers)
    again = post("lately", parsed.answers, **{**fields, "ill": YES})
    assert again.errors == {"ill_on": CHOOSE}


def test_going_back_on_an_answer_keeps_its_follow_up_but_draws_nothing_from_it() -> None:
    answers = healthy(ill=NO, ill_on="2026-11-20")
    assert "ill_on" not in applicable(answers, QUESTION_SET)
    assert answers["ill_on"] == "2026-11-20"
    assert not any(line.question_key == "ill_on" for line in summary(answers))


def test_none_and_something_else_do_not_go_together() -> None:
    assert post("skin", {}, skin_conditions=["none", "eczema"]).errors["skin_conditions"] == NONE_AND_MORE
    assert post("skin", {}, skin_conditions=["warts"]).errors["skin_conditions"] == UNKNOWN_CHOICE


def test_a_scar_taken_out_does_not_give_its_id_to_the_next() -> None:
    first = post("scar_where", {}, 0, site="forearm").answers
    second = post("scar_where", first, 1, site="hand").answers
    left = without_scar(second, "s2")
    third = post("scar_where", left, 1, site="knee").answers
    assert [scar["id"] for scar in third["scars"]] == ["s1", "s3"]
    with pytest.raises(ValueError, match="no scar 4"):
        post("scar_where", first, 4, site="hand")
    with pytest.raises(ValueError, match="a scar is needed"):
        post("scar_where", first, None, site="hand")


def test_parsing_changes_nothing_that_was_handed_in() -> None:
    answers = healthy()
    before = json.dumps(answers)
    post("scar_where", answers, 0, site="hand", side="left")
    assert json.dumps(answers) == before


def test_the_summary_says_each_answer_in_words() -> None:
    scar = healthy_scar(happened="2020-03", procedures=["laser", "peel"])
    lines = {(line.question_key, line.scar_id): line.answer for line in summary(healthy(scar))}
    assert lines[("scar.happened", "s1")] == "March 2020"
    assert lines[("scar.side", "s1")] == "Your left"
    assert lines[("scar.procedures", "s1")] == "Laser or light treatment; A chemical peel"
    assert lines[("born_on", None)] == "14 May 1990"
    assert lines[("scar.laser_on", "s1")] == "Not answered"


def test_the_summary_can_be_in_another_language() -> None:
    words = {text: f"«{text}»" for text in texts()}
    for line in summary(healthy(), translate=lambda text: words.get(text, text)):
        assert line.question.startswith("«")


def test_the_version_follows_the_wording_and_survives_storage() -> None:
    stored = json.loads(json.dumps(question_set_to_dict(QUESTION_SET)))
    assert question_set_from_dict(stored) == QUESTION_SET
    assert question_set_from_dict(stored).version == QUESTIONS_VERSION
    renamed = QuestionSet((Topic("you", "You"), *QUESTION_SET.topics[1:]), QUESTION_SET.questions)
    assert renamed.version != QUESTIONS_VERSION


@pytest.mark.parametrize(
    ("given", "expected"),
    [("yes", "yes"), ("no", "no"), ("dont_know", "unknown"), ("prefer_not", "withheld"), (None, "missing")],
)
def test_a_condition_knows_yes_no_unknown_withheld_and_missing(given: str | None, expected: str) -> None:
    assert state((Condition("ill"),), {"ill": given}) == expected
    assert state((Condition("ill"), Condition("other")), {"ill": given, "other": "no"}) == "no"


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"pregnant": "maybe"}, "pregnant"),
        ({"pregnant": True}, "pregnant"),
        ({"preganant": "no"}, "preganant"),
        ({"ill_on": "yesterday"}, "ill_on"),
        ({"skin_conditions": "none"}, "skin_conditions"),
        ({"answered_on": "2027-01-01"}, "answered_on"),
        ({"answered_on": "2026"}, "answered_on"),
        ({"scars": {}}, "scars"),
        ({"scars": [{"site": "hand"}]}, "scars[0].id"),
        ({"scars": [{"id": "s1"}, {"id": "s1"}]}, "scars[1].id"),
        ({"scars": [{"id": "s1", "site": "moon"}]}, "scars[0].site"),
        ({"scars": [{"id": "s1", "happened": "1980"}]}, "scars[0].happened"),
        ({"scars_made": "two"}, "scars_made"),
        ({"born_on": "1990"}, "born_on"),
    ],
)
def test_answers_from_outside_are_refused_by_the_name_of_their_key(change: dict[str, Any], named: str) -> None:
    with pytest.raises(Unreadable) as problem:
        check_answers({**healthy(), **change}, on=ON)
    assert str(problem.value).startswith(f"{named}:")


def test_a_healthy_form_passes_the_check() -> None:
    check_answers(healthy(), on=ON)
    assert missing(healthy()) == ()


@settings(max_examples=50, deadline=None)
@given(
    st.sampled_from(TOPICS),
    st.dictionaries(
        st.sampled_from([question.field for question in QUESTION_SET.questions])
        | st.sampled_from(["born_on.year", "born_on.day", "happened.year", "happened.month", "ill_on.year"]),
        st.lists(st.sampled_from(["yes", "no", "dont_know", "none", "2023", "2023-05", "²"]) | st.text(), max_size=3),
        max_size=8,
    ),
)  # fmt: skip
def test_whatever_is_posted_gives_answers_that_stand_the_check(topic: Topic, posted: dict[str, list[str]]) -> None:
    scar = 0 if topic.repeats else None
    parsed = parse_topic(topic, posted, {}, on=date(2026, 11, 25), scar=scar)
    check_answers(parsed.answers, on=date(2026, 11, 25))
    assert parsed.typed == posted
    assert parse_topic(topic, posted, parsed.answers, on=date(2026, 11, 25), scar=scar).answers == parsed.answers
    summary(parsed.answers)
    for page in pages(parsed.answers):
        assert asked_on(page, parsed.answers) or page.scar is not None


def test_a_name_may_hold_emoji_and_300_characters_and_no_more() -> None:
    for name in ("Robin 🌿", "𝓡" * 300, "x" * 300, "李小龍", "O’Neil-Šmíd"):
        parsed = post("you", {}, name=name, born_on="1990-05-14", no_messages=NO, contact_care=NO)
        assert parsed.errors == {}
        assert parsed.answers["name"] == name
    long = post("you", {}, name="x" * 301)
    assert long.errors["name"] == TOO_LONG
    assert long.typed["name"] == ["x" * 301]
    assert post("you", {}, name="a\0b").errors["name"] == UNREADABLE
    assert post("health", {}, health_other="x" * 4000).errors.keys().isdisjoint({"health_other"})
    assert post("health", {}, health_other="x" * 4001).errors["health_other"] == TOO_LONG


def test_a_phone_number_is_kept_in_international_form_and_shown_with_spaces() -> None:
    posted = {"name": ["R"], "contact_phone": ["(0)20 7946 0018"]}
    parsed = parse_topic(TOPIC["you"], posted, {}, on=ON, country="GB")
    assert parsed.answers["contact_phone"] == "+442079460018"
    check_answers(parsed.answers, on=ON)
    told = summary(healthy(contact_phone="+442079460018"))
    assert "+44 20 7946 0018" in [line.answer for line in told if line.question_key == "contact_phone"]
    abroad = parse_topic(TOPIC["you"], posted, {}, on=ON)
    assert abroad.errors["contact_phone"] == PHONE_PROBLEM
    assert abroad.typed["contact_phone"] == ["(0)20 7946 0018"]
    assert "contact_phone" not in abroad.answers


def test_a_number_of_an_older_form_is_taken_as_it_was_typed() -> None:
    check_answers(healthy(contact_phone="020 7946 0018"), on=ON)
    with pytest.raises(Unreadable, match="contact_phone"):
        check_answers(healthy(contact_phone="1" * 301), on=ON)


def test_two_answers_to_one_question_and_a_wrong_choice_are_said_so() -> None:
    parsed = post("family", {}, pregnant=[NO, YES], breastfeeding="maybe", planning_pregnancy=NO)
    assert parsed.errors == {"pregnant": ONE_ANSWER, "breastfeeding": UNKNOWN_CHOICE}


def test_every_message_to_the_client_is_told_to_the_translators() -> None:
    assert set(MESSAGES) <= set(texts())
    assert {question.wording for question in VISIT_SET.questions} <= set(texts(VISIT_SET))


def test_how_it_feels_and_how_to_reach_somebody_are_asked() -> None:
    assert QUESTION_SET.question("scar.numb").topic == "scar_now"
    assert QUESTION_SET.question("no_messages").topic == QUESTION_SET.question("contact_care").topic == "you"
    asked = [question.key for question in asked_on(pages(healthy(diabetes=YES))[0], healthy())]
    assert "contact_phone" in asked


def test_the_address_of_a_scar_that_is_not_there_shows_no_answers() -> None:
    assert field_values(QUESTION_SET.question("scar.site"), healthy(), 7) == {}
    with pytest.raises(KeyError):
        QUESTION_SET.question("gone")
