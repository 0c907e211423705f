"""What an owner may change in the form: questions of their own, and optional questions that are not shown.

Only a question that neither has to be answered nor is about safety can be hidden. A question of the studio's own is
about the person, stands at the end of a topic, and what is answered to it is read by the artist: a "yes", an "I don't
know" or any text gives a caution and never a stop, since nobody has checked it against what is known.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

from app.intake.questions import ANY_TEXT, OWN, YES, Condition, Question, QuestionSet
from app.intake.rule_parts import LAST_REVIEWED, answered, shipped
from app.intake.rules import Rule, RuleSet

OwnKind = Literal["yes_no", "text", "long_text"]
WORDING_LIMIT = 300
FIRST_LANGUAGE = "en"
_KEY = re.compile(OWN + r"[a-z0-9_]{1,40}", re.ASCII)

BAD_KEY = "The short name of a question is made of small letters, digits and lines, and begins with own_."
KEY_TAKEN = "There is a question with this short name already."
NO_TOPIC = "Choose a page of the form that is about the person."
NO_KIND = "Choose how it is answered."
NO_WORDING = "Write the question in at least one language."
LONG_WORDING = "A question is too long. Please shorten it."
CANNOT_HIDE = "This question is about safety or has to be answered. It cannot be hidden."
NO_SUCH_QUESTION = "There is no such question."


@dataclass(frozen=True)
class OwnQuestion:
    """A question that the studio asks; `wording` by language code, such as {"en": "…", "fr": "…"}."""

    key: str
    topic: str
    kind: OwnKind
    wording: Mapping[str, str]
    required: bool = False

    @property
    def wordings(self) -> tuple[tuple[str, str], ...]:
        return tuple(sorted((language, text.strip()) for language, text in self.wording.items() if text.strip()))


def own_question_to_dict(own: OwnQuestion) -> dict[str, Any]:
    return {
        "key": own.key, "topic": own.topic, "kind": own.kind, "wording": dict(own.wording), "required": own.required,
    }  # fmt: skip


def own_question_from_dict(content: Mapping[str, Any]) -> OwnQuestion:
    """The question that was stored. Raises KeyError where a part is not there."""
    parts = (content[part] for part in ("key", "topic", "kind", "wording", "required"))
    return OwnQuestion(*parts)


def own_problems(own: OwnQuestion, question_set: QuestionSet) -> tuple[str, ...]:
    """What stands against a question of the studio's own, in plain words; empty where it can be asked."""
    found: list[str] = []
    if not _KEY.fullmatch(own.key):
        found.append(BAD_KEY)
    if own.key in question_set.keys:
        found.append(KEY_TAKEN)
    if own.topic not in {topic.key for topic in question_set.topics if not topic.repeats}:
        found.append(NO_TOPIC)
    if own.kind not in get_args(OwnKind):
        found.append(NO_KIND)
    if not own.wordings:
        found.append(NO_WORDING)
    if any(len(text) > WORDING_LIMIT for _, text in own.wordings):
        found.append(LONG_WORDING)
    return tuple(found)


def can_hide(question: Question) -> bool:
    return not question.required and not question.safety


def hide_problems(key: str, question_set: QuestionSet) -> tuple[str, ...]:
    """What stands against hiding a question, in plain words; empty where it can be hidden."""
    if key not in question_set.keys:
        return (NO_SUCH_QUESTION,)
    return () if can_hide(question_set.question(key)) else (CANNOT_HIDE,)


def with_changes(
    question_set: QuestionSet, hidden: Iterable[str], own: Iterable[OwnQuestion], language: str = FIRST_LANGUAGE
) -> QuestionSet:
    """The questions without those hidden and with the studio's own, worded in a language.

    The version is the same in every language. Raises ValueError where a change is out of bounds.
    """
    gone = frozenset(hidden)
    for key in sorted(gone):
        if against := hide_problems(key, question_set):
            raise ValueError(f"{key}: {' '.join(against)}")
    kept = replace(question_set, questions=tuple(item for item in question_set.questions if item.key not in gone))
    for item in own:
        if against := own_problems(item, replace(kept, questions=(*question_set.questions, *kept.questions))):
            raise ValueError(f"{item.key}: {' '.join(against)}")
        kept = replace(kept, questions=(*kept.questions, _asked(item)))
    return in_language(kept, language)


def _asked(own: OwnQuestion) -> Question:
    question = Question(
        own.key, own.topic, own.kind, "", dont_know=own.kind == "yes_no", required=own.required, safety=False,
        wordings=own.wordings,
    )  # fmt: skip
    return replace(question, wording=question.first_wording)


def in_language(question_set: QuestionSet, language: str) -> QuestionSet:
    """The same questions with the studio's own worded in a language; shipped ones are translated by catalogue."""
    return replace(question_set, questions=tuple(item.in_language(language) for item in question_set.questions))


def with_own_rules(rule_set: RuleSet, own: Iterable[OwnQuestion]) -> RuleSet:
    """The rule set with one caution for each question of the studio's own: read what was answered."""
    return replace(rule_set, rules=(*rule_set.rules, *(own_rule(item) for item in own)))


def own_rule(own: OwnQuestion) -> Rule:
    return shipped(
        f"read_{own.key}", (), dict(own.wordings).get(FIRST_LANGUAGE) or own.wordings[0][1],
        answered(Condition(own.key, (YES if own.kind == "yes_no" else ANY_TEXT,))), "caution",
        "Answered to a question of the studio's own. Read it before you decide.", "the studio's own question", ("CP",),
        last_reviewed=LAST_REVIEWED,
    )  # fmt: skip
