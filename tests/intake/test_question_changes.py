import json

import pytest

from app.intake import question_changes as bounds
from app.intake.answers import check_answers, missing, parse_topic
from app.intake.question_changes import (
    OwnQuestion,
    can_hide,
    hide_problems,
    in_language,
    own_problems,
    own_question_from_dict,
    own_question_to_dict,
    with_changes,
    with_own_rules,
)
from app.intake.question_list import QUESTION_SET
from app.intake.questions import NO, Missing, question_set_from_dict, question_set_to_dict
from app.intake.rule_set import RULE_SET
from app.intake.screening import screen
from app.studio.country import GB
from tests.intake.healthy import ON, healthy

MUSIC = OwnQuestion("own_music", "hopes", "yes_no", {"en": "Do you like music?", "fr": "Aimez-vous la musique ?"}, True)
FOUND_US = OwnQuestion("own_found_us", "you", "text", {"de": "Wie haben Sie uns gefunden?"})
THEIRS = with_changes(QUESTION_SET, ("pronouns",), (MUSIC, FOUND_US), "en")
RULES = with_own_rules(RULE_SET, (MUSIC, FOUND_US))


def test_a_hidden_question_is_gone_and_an_own_one_is_asked_and_read() -> None:
    assert "pronouns" not in THEIRS.keys
    assert {"own_music", "own_found_us"} <= THEIRS.keys
    assert missing(healthy(), THEIRS) == (Missing("own_music"),)
    topic = next(topic for topic in THEIRS.topics if topic.key == "hopes")
    posted = {"hope": ["softer"], "mind_often": [NO], "held_back": [NO], "hard_time": [NO], "own_music": ["dont_know"]}
    parsed = parse_topic(topic, posted, healthy(), on=ON, questions=THEIRS)
    assert parsed.errors == {}
    check_answers(parsed.answers, on=ON, questions=THEIRS)


@pytest.mark.parametrize(
    ("answers", "read"),
    [
        ({"own_music": "yes"}, ["read_own_music"]),
        ({"own_music": "dont_know"}, ["read_own_music"]),
        ({"own_music": "no"}, []),
        ({"own_music": "no", "own_found_us": "By a friend"}, ["read_own_found_us"]),
    ],
)
def test_what_is_answered_to_an_own_question_is_a_caution_and_holds_nothing_up(
    answers: dict[str, str], read: list[str]
) -> None:
    screening = screen(healthy(**answers), on=ON, country=GB, questions=THEIRS, rule_set=RULES)
    assert [finding.rule_id for finding in screening.findings if finding.rule_id.startswith("read_own")] == read
    assert screening.scar("s1").grade == "full"


def test_the_version_is_the_same_in_every_language_and_survives_storage() -> None:
    french = with_changes(QUESTION_SET, ("pronouns",), (MUSIC, FOUND_US), "fr")
    assert french.question("own_music").wording == "Aimez-vous la musique ?"
    assert french.question("own_found_us").wording == "Wie haben Sie uns gefunden?"
    assert french.version == THEIRS.version != QUESTION_SET.version
    stored = question_set_from_dict(json.loads(json.dumps(question_set_to_dict(french))))
    assert stored == THEIRS
    assert in_language(stored, "fr") == french
    assert in_language(QUESTION_SET, "fr") == QUESTION_SET


@pytest.mark.parametrize("key", ["name", "pregnant", "health_other", "scar.self_harm", "no_messages"])
def test_what_must_be_answered_or_is_about_safety_cannot_be_hidden(key: str) -> None:
    assert hide_problems(key, QUESTION_SET) == (bounds.CANNOT_HIDE,)
    with pytest.raises(ValueError, match="cannot be hidden"):
        with_changes(QUESTION_SET, (key,), (), "en")


def test_no_rule_and_no_condition_reads_what_can_be_hidden() -> None:
    hidden = {question.key for question in QUESTION_SET.questions if can_hide(question)}
    assert hidden >= {"called", "pronouns", "contact_name", "contact_phone"}
    assert not hidden & {key for rule in RULE_SET.rules for key in rule.keys}
    assert not hidden & {item.key for question in QUESTION_SET.questions for item in question.ask_when}
    assert hide_problems("gone", QUESTION_SET) == (bounds.NO_SUCH_QUESTION,)


@pytest.mark.parametrize(
    ("own", "message"),
    [
        (OwnQuestion("music", "hopes", "text", {"en": "?"}), bounds.BAD_KEY),
        (OwnQuestion("own_Müsli", "hopes", "text", {"en": "?"}), bounds.BAD_KEY),
        (OwnQuestion("own_music", "hopes", "text", {"en": "?"}), bounds.KEY_TAKEN),
        (OwnQuestion("own_a", "scar_now", "text", {"en": "?"}), bounds.NO_TOPIC),
        (own_question_from_dict({**own_question_to_dict(MUSIC), "key": "own_a", "kind": "date"}), bounds.NO_KIND),
        (OwnQuestion("own_a", "hopes", "text", {"en": "  "}), bounds.NO_WORDING),
        (OwnQuestion("own_a", "hopes", "text", {"en": "a" * 301}), bounds.LONG_WORDING),
    ],
)
def test_an_own_question_that_cannot_be_asked_says_why(own: OwnQuestion, message: str) -> None:
    assert message in own_problems(own, THEIRS)
    with pytest.raises(ValueError, match=own.key):
        with_changes(THEIRS, (), (own,), "en")


def test_an_own_question_survives_being_stored() -> None:
    assert own_question_from_dict(json.loads(json.dumps(own_question_to_dict(MUSIC)))) == MUSIC
