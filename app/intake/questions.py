"""The intake questions as frozen data, and what follows from them: which are asked, and what is still missing.

Answers are a JSON-safe dict. A question about the person is stored under its key ("pregnant": "no"). Questions about
one scar have keys that begin with "scar." and are stored without that prefix in one dict per scar:

    {"answered_on": "2026-11-25", "born_on": "1990-05-14", "pregnant": "no", ...,
     "scars": [{"id": "s1", "site": "forearm", "side": "left", "happened": "2023-05", ...}]}

Values are "yes", "no", "dont_know", "prefer_not", an option's key, a list of option keys (kind "many"), a partial date
("2023", "2023-05", "2023-05-14"), a phone number ("+442079460018") or text. An answer that no longer applies stays in
the dict, so that going back and forth loses nothing, but `applicable` leaves it out and nothing is concluded from it.

Keys that begin with "visit_" belong to the short questions before a session, keys that begin with "own_" to questions
that the studio added.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import Any, Literal

Answers = Mapping[str, Any]
Kind = Literal["yes_no", "choice", "many", "date", "birth_date", "phone", "text", "long_text"]
State = Literal["yes", "unknown", "withheld", "missing", "no"]

YES, NO, DONT_KNOW, PREFER_NOT = "yes", "no", "dont_know", "prefer_not"
ANY_TEXT = "*"  # In a condition: holds for any answer that is not empty.
NONE_OF_THESE = "none"
SCAR = "scar."
VISIT = "visit_"
OWN = "own_"
ANSWER_WORDS = {YES: "Yes", NO: "No", DONT_KNOW: "I don't know", PREFER_NOT: "I would rather not say"}


@dataclass(frozen=True)
class Condition:
    """Holds when the answer to `key` is one of `any_of` (for a list of answers: when one of them is)."""

    key: str
    any_of: tuple[str, ...] = (YES,)


@dataclass(frozen=True)
class Option:
    key: str
    words: str


@dataclass(frozen=True)
class Question:
    key: str
    topic: str
    kind: Kind
    wording: str
    hint: str = ""
    options: tuple[Option, ...] = ()
    dont_know: bool = False
    prefer_not: bool = False
    ask_when: tuple[Condition, ...] = ()
    required: bool = True
    safety: bool = True  # False: needed for the record, but nothing about safety follows from it.
    # A studio's own question in each of its languages, sorted by language; a shipped one is translated by catalogue.
    wordings: tuple[tuple[str, str], ...] = ()

    def in_language(self, language: str) -> "Question":
        """The question worded in this language, or else as it was first written; other questions stay as they are."""
        words = dict(self.wordings)
        return replace(self, wording=words.get(language) or self.first_wording) if words else self

    @property
    def first_wording(self) -> str:
        """The wording that names the question whatever the language: English where there is one, else the first."""
        words = dict(self.wordings)
        return words.get("en") or next(iter(words.values()), self.wording)

    @property
    def about_scar(self) -> bool:
        return self.key.startswith(SCAR)

    @property
    def field(self) -> str:
        """The name of the form field, and the key under which the answer is stored."""
        return self.key.removeprefix(SCAR)

    @property
    def choices(self) -> tuple[Option, ...]:
        """Everything that can be picked, in the order shown; for a date, what can be picked instead of a date."""
        picks = self.options
        if self.kind == "yes_no":
            picks = (Option(YES, ANSWER_WORDS[YES]), Option(NO, ANSWER_WORDS[NO]), *picks)
        if self.dont_know:
            picks += (Option(DONT_KNOW, ANSWER_WORDS[DONT_KNOW]),)
        if self.prefer_not:
            picks += (Option(PREFER_NOT, ANSWER_WORDS[PREFER_NOT]),)
        return picks


@dataclass(frozen=True)
class Topic:
    key: str
    title: str
    intro: str = ""
    repeats: bool = False  # Asked once for each scar.


@dataclass(frozen=True)
class Page:
    """One page of the form: a topic, and for a repeated topic which scar (counted from 0)."""

    topic: Topic
    scar: int | None = None


@dataclass(frozen=True)
class Missing:
    key: str
    scar_id: str | None = None


@dataclass(frozen=True)
class QuestionSet:
    """`prefilled` are keys that stand in the answers without being asked: what the studio knows already."""

    topics: tuple[Topic, ...]
    questions: tuple[Question, ...]
    prefilled: tuple[str, ...] = ()

    def of_topic(self, topic: Topic) -> tuple[Question, ...]:
        return tuple(question for question in self.questions if question.topic == topic.key)

    def question(self, key: str) -> Question:
        for question in self.questions:
            if question.key == key:
                return question
        raise KeyError(key)

    @cached_property
    def keys(self) -> frozenset[str]:
        return frozenset(question.key for question in self.questions)

    @cached_property
    def version(self) -> str:
        """A fingerprint of all that is asked and how it is worded, the same in every language."""
        return fingerprint(question_set_to_dict(self))


def fingerprint(content: Mapping[str, Any]) -> str:
    """SHA-256 over canonical JSON, so that the same content has the same version anywhere."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def question_set_to_dict(questions: QuestionSet) -> dict[str, Any]:
    content: dict[str, Any] = json.loads(json.dumps(asdict(questions)))
    # What came later is left out where it says nothing, so that a set stored before keeps its fingerprint.
    if not content["prefilled"]:
        del content["prefilled"]
    for question, stored in zip(questions.questions, content["questions"], strict=True):
        stored["wording"] = question.first_wording
        if not stored["wordings"]:
            del stored["wordings"]
    return content


def question_set_from_dict(content: Mapping[str, Any]) -> QuestionSet:
    """The question set that was stored, so that an old form is read as it was asked."""
    return QuestionSet(
        topics=tuple(Topic(**topic) for topic in content["topics"]),
        questions=tuple(
            Question(
                **{
                    **question,
                    "options": tuple(Option(**option) for option in question["options"]),
                    "ask_when": conditions_from(question["ask_when"]),
                    "wordings": tuple((language, words) for language, words in question.get("wordings", ())),
                }
            )
            for question in content["questions"]
        ),
        prefilled=tuple(content.get("prefilled", ())),
    )


def conditions_from(stored: list[dict[str, Any]]) -> tuple[Condition, ...]:
    return tuple(Condition(item["key"], tuple(item["any_of"])) for item in stored)


def answer(key: str, answers: Answers, scar: Answers | None = None) -> Any:
    """What was answered, or None; an empty answer is no answer."""
    if key.startswith(SCAR):
        value = None if scar is None else scar.get(key.removeprefix(SCAR))
    else:
        value = answers.get(key)
    return value if value not in ("", []) else None


def state(conditions: tuple[Condition, ...], answers: Answers, scar: Answers | None = None) -> State:
    """Whether all conditions hold. One clear "no" settles it; otherwise what is least known counts."""
    found = [_state_of(condition, answers, scar) for condition in conditions]
    for least in ("no", "missing", "withheld", "unknown"):
        if least in found:
            return least
    return "yes"


def _state_of(condition: Condition, answers: Answers, scar: Answers | None) -> State:
    value = answer(condition.key, answers, scar)
    if value is None:
        return "missing"
    values = value if isinstance(value, list) else [value]
    if ANY_TEXT in condition.any_of or any(item in condition.any_of for item in values):
        return "yes"
    if PREFER_NOT in values:
        return "withheld"
    return "unknown" if DONT_KNOW in values else "no"


def is_asked(question: Question, answers: Answers, scar: Answers | None = None) -> bool:
    return state(question.ask_when, answers, scar) == "yes"


def scars_of(answers: Answers) -> tuple[Answers, ...]:
    return tuple(answers.get("scars", ()))


def applicable(answers: Answers, questions: QuestionSet) -> dict[str, Any]:
    """Only the answers to questions that are asked, given the other answers; whatever else is kept is left out."""
    told: dict[str, Any] = {}
    for question in questions.questions:
        if not question.about_scar:
            _keep(question, answers, None, told, told)
    told["scars"] = []
    for scar in scars_of(answers):
        kept: dict[str, Any] = {"id": scar["id"]}
        for question in questions.questions:
            if question.about_scar:
                _keep(question, scar, kept, told, kept)
        told["scars"].append(kept)
    return told


def _keep(question: Question, source: Answers, scar: Answers | None, told: Answers, into: dict[str, Any]) -> None:
    # Questions stand in the order in which they depend on each other, so what is kept so far decides.
    value = source.get(question.field)
    if value not in (None, "", []) and is_asked(question, told, scar):
        into[question.field] = value


def _asked(answers: Answers, questions: QuestionSet) -> Iterator[tuple[Question, Answers | None]]:
    told = applicable(answers, questions)
    for question in questions.questions:
        for scar in told["scars"] if question.about_scar else (None,):
            if is_asked(question, told, scar):
                yield question, scar


def missing_answers(answers: Answers, questions: QuestionSet) -> tuple[Missing, ...]:
    """Every required question that is asked and has no answer yet; "scars" itself where none was declared."""
    gaps = [
        Missing(question.key, scar["id"] if scar is not None else None)
        for question, scar in _asked(answers, questions)
        if question.required and answer(question.key, answers, scar) is None
    ]
    if not scars_of(answers):
        gaps.append(Missing("scars"))
    return tuple(gaps)


def pages_for(answers: Answers, questions: QuestionSet) -> tuple[Page, ...]:
    """The pages of the form in order, only those with something to ask; the scar pages once for each scar.

    There is always a first scar to fill in, and a next one where the client said that there is another.
    """
    told = applicable(answers, questions)
    scars: list[Answers] = list(told["scars"])
    if not scars or scars[-1].get("another") == YES:
        scars.append({"id": ""})
    pages: list[Page] = []
    group: list[Topic] = []
    for topic in questions.topics:
        if topic.repeats:
            group.append(topic)
            continue
        pages += _scar_pages(group, scars, told, questions)
        group = []
        if _has_something(topic, told, None, questions):
            pages.append(Page(topic))
    return tuple(pages + _scar_pages(group, scars, told, questions))


def _scar_pages(group: list[Topic], scars: list[Answers], told: Answers, questions: QuestionSet) -> list[Page]:
    """All pages of the first scar, then all of the second: nobody has to jump between two scars."""
    return [
        Page(topic, index)
        for index, scar in (enumerate(scars) if group else ())
        for topic in group
        if _has_something(topic, told, scar, questions)
    ]


def _has_something(topic: Topic, told: Answers, scar: Answers | None, questions: QuestionSet) -> bool:
    return any(is_asked(question, told, scar) for question in questions.of_topic(topic))
