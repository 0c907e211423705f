"""From what was posted to answers, from answers to form fields, and the summary to check before signing.

A date has three fields, `key.year`, `key.month` and `key.day`, and the field `key` for what can be picked instead
("I don't know", "More than 2 years ago"); `key` may also hold the date itself as "2023-05". Everything typed comes
back in `typed`, right or wrong. A phone number is kept in international form. Messages hold no values, so that they can
be translated as they stand.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.intake.dates import DateProblem, read_day, read_partial
from app.intake.phones import PhoneProblem, phone_words
from app.intake.question_list import QUESTION_SET
from app.intake.questions import (
    SCAR,
    YES,
    Answers,
    Missing,
    Page,
    Question,
    QuestionSet,
    Topic,
    answer,
    applicable,
    is_asked,
    missing_answers,
    pages_for,
)
from app.intake.reading import (
    CHOOSE,
    FILL_IN,
    MESSAGES,
    TEXT_LIMIT,
    Posted,
    Unreadable,
    checked,
    checked_many,
    read_posted,
)

__all__ = [
    "MESSAGES", "NOT_ANSWERED_WORDS", "ParsedTopic", "Posted", "SummaryLine", "Translate", "Unreadable", "asked_on",
    "check_answers", "field_values", "in_words", "missing", "pages", "parse_topic", "summary", "texts", "topics_for",
    "without_scar",
]  # fmt: skip

Translate = Callable[[str], str]

NOT_ANSWERED_WORDS = "Not answered"


@dataclass(frozen=True)
class ParsedTopic:
    """`answers`: the old ones with all that could be read; `errors`: message by field; `typed`: fields as posted;
    `asks_next`: fields that this page now also asks, since the answers just given call for them."""

    answers: dict[str, Any]
    errors: dict[str, str]
    typed: dict[str, list[str]]
    asks_next: tuple[str, ...] = ()


@dataclass(frozen=True)
class SummaryLine:
    topic: str
    question_key: str
    scar_id: str | None
    question: str
    answer: str


def topics_for(answers: Answers, questions: QuestionSet = QUESTION_SET) -> list[Topic]:
    """The topics that apply, in order, each once."""
    return list(dict.fromkeys(page.topic for page in pages_for(answers, questions)))


def pages(answers: Answers, questions: QuestionSet = QUESTION_SET) -> tuple[Page, ...]:
    """The pages of the form in order, with a scar's pages repeated for each scar."""
    return pages_for(answers, questions)


def missing(answers: Answers, questions: QuestionSet = QUESTION_SET) -> tuple[Missing, ...]:
    """Required questions that are asked and not answered."""
    return missing_answers(answers, questions)


def asked_on(page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET) -> tuple[Question, ...]:
    """The questions to show on a page, given the answers so far."""
    told = applicable(answers, questions)
    scar = _scar(told, page.scar)
    return tuple(question for question in questions.of_topic(page.topic) if is_asked(question, told, scar))


def parse_topic(
    topic: Topic,
    posted: Posted,
    answers: Answers,
    *,
    on: date,
    scar: int | None = None,
    questions: QuestionSet = QUESTION_SET,
    country: str = "",
) -> ParsedTopic:
    """Reads one page. What can be read is kept even where something else on the page is wrong.

    `country` is where a phone number without a country code belongs, such as GB; empty where it is not known.
    """
    if topic.repeats != (scar is not None):
        raise ValueError(f"topic {topic.key}: a scar is needed for a repeated topic, and only there")
    before = {question.field for question in asked_on(Page(topic, scar), answers, questions)}
    result = _with_scar(answers, scar)
    place = result if scar is None else result["scars"][scar]
    errors: dict[str, str] = {}
    asks_next: list[str] = []
    for question in questions.of_topic(topic):
        told = applicable(result, questions)
        if not is_asked(question, told, _scar(told, scar)):
            continue
        if question.field not in before and not _was_posted(question, posted):
            if answer(question.key, result, place) is None:
                asks_next.append(question.field)
            continue
        try:
            value = read_posted(question, posted, on, result.get("born_on"), country)
        except (Unreadable, DateProblem, PhoneProblem) as problem:
            errors[question.field] = str(problem)
            place.pop(question.field, None)  # The person no longer says what they said before.
            continue
        if value is None:
            place.pop(question.field, None)
            if question.required:
                errors[question.field] = CHOOSE if question.choices else FILL_IN
        else:
            place[question.field] = value
    return ParsedTopic(result, errors, {key: list(values) for key, values in posted.items()}, tuple(asks_next))


def without_scar(answers: Answers, scar_id: str) -> dict[str, Any]:
    """The answers with one declared scar taken out; its id is not given to another."""
    return {**answers, "scars": [scar for scar in answers.get("scars", ()) if scar["id"] != scar_id]}


def field_values(question: Question, answers: Answers, scar: int | None = None) -> dict[str, list[str]]:
    """What the form fields of a question hold for the stored answer, in the shape in which they are posted."""
    value = answer(question.key, answers, _scar(answers, scar))
    if value is None:
        return {}
    if isinstance(value, list):
        return {question.field: value}
    if question.kind in ("date", "birth_date") and value not in {option.key for option in question.choices}:
        year, month, day = (*value.split("-"), "", "")[:3]
        return {f"{question.field}.year": [year], f"{question.field}.month": [month], f"{question.field}.day": [day]}
    return {question.field: [value]}


def check_answers(answers: Answers, *, on: date, questions: QuestionSet = QUESTION_SET) -> None:
    """Raises Unreadable, naming the key, unless every answer is one that its question can have."""
    if not isinstance(answers, Mapping):
        raise Unreadable("answers: must be an object with one entry for each answer")
    by_field = {question.key: question for question in questions.questions}
    for key, value in answers.items():
        if key == "answered_on":
            _check_answered_on(value, on)
        elif key == "scars_made":
            if not isinstance(value, int) or isinstance(value, bool) or value < 0:
                raise Unreadable("scars_made: must be a whole number")
        elif key != "scars":
            _check(key, key, by_field, value, on, answers)
    scars = answers.get("scars", [])
    if not isinstance(scars, list) or not all(isinstance(scar, dict) for scar in scars):
        raise Unreadable("scars: must be a list with one object for each scar")
    seen: set[str] = set()
    for index, scar in enumerate(scars):
        scar_id = scar.get("id")
        if not isinstance(scar_id, str) or not scar_id or scar_id in seen:
            raise Unreadable(f"scars[{index}].id: each scar needs its own id, a text such as s1")
        seen.add(scar_id)
        for key, value in scar.items():
            if f"{SCAR}{key}" in questions.prefilled:
                _check_known(f"scars[{index}].{key}", value)
            elif key != "id":
                _check(f"scars[{index}].{key}", f"scar.{key}", by_field, value, on, answers)


def summary(
    answers: Answers, questions: QuestionSet = QUESTION_SET, translate: Translate = str
) -> tuple[SummaryLine, ...]:
    """Every question that was asked with its answer in words, in the order of the form."""
    told = applicable(answers, questions)
    lines: list[SummaryLine] = []
    for page in pages_for(answers, questions):
        scar = _scar(told, page.scar)
        if page.scar is not None and scar is None:
            continue
        for question in asked_on(page, answers, questions):
            value = answer(question.key, told, scar)
            if value is None and not question.required:
                continue
            scar_id = scar["id"] if scar is not None else None
            words = in_words(question, value, translate)
            lines.append(SummaryLine(page.topic.key, question.key, scar_id, translate(question.wording), words))
    return tuple(lines)


def in_words(question: Question, value: Any, translate: Translate = str) -> str:
    """An answer as the person reads it."""
    if value is None:
        return translate(NOT_ANSWERED_WORDS)
    options = {option.key: option.words for option in question.choices}
    if isinstance(value, list):
        return "; ".join(translate(options[item] if item in options else str(item)) for item in value)
    if value in options:
        return translate(options[value])
    if question.kind == "phone":
        return phone_words(str(value))
    return translate(read_partial(value).words) if question.kind in ("date", "birth_date") else str(value)


def texts(questions: QuestionSet = QUESTION_SET) -> Iterator[str]:
    """Every text of the form that has to be translated."""
    for topic in questions.topics:
        yield from (topic.title, topic.intro)
    for question in questions.questions:
        yield from (question.wording, question.hint, *(option.words for option in question.choices))
    yield from (NOT_ANSWERED_WORDS, *MESSAGES)


def _scar(answers: Answers, index: int | None) -> Answers | None:
    scars = answers.get("scars", ())
    return scars[index] if index is not None and index < len(scars) else None


def _with_scar(answers: Answers, index: int | None) -> dict[str, Any]:
    """A copy whose scar of this index exists. Ids count up and are never given out twice."""
    result = {**answers, "scars": [dict(scar) for scar in answers.get("scars", ())]}
    if index is None:
        return result
    if not 0 <= index <= len(result["scars"]):
        raise ValueError(f"there is no scar {index} and it is not the next one")
    if index == len(result["scars"]):
        made = int(result.get("scars_made", 0)) + 1
        result["scars_made"] = made
        result["scars"].append({"id": f"s{made}"})
    return result


def _was_posted(question: Question, posted: Posted) -> bool:
    return any(key == question.field or key.startswith(question.field + ".") for key in posted)


def _check_answered_on(value: Any, on: date) -> None:
    try:
        answered = read_day(value) if isinstance(value, str) else None
    except DateProblem as problem:
        raise Unreadable(f"answered_on: {problem}") from None
    if answered is None or answered > on:
        raise Unreadable("answered_on: must be a day such as 2026-05-14, not after the day of screening")


def _check_known(place: str, value: Any) -> None:
    if not isinstance(value, str) or len(value) > TEXT_LIMIT:
        raise Unreadable(f"{place}: must be a short text")


def _check(place: str, key: str, by_key: Mapping[str, Question], value: Any, on: date, answers: Answers) -> None:
    question = by_key.get(key)
    if question is None:
        raise Unreadable(f"{place}: there is no such question")
    try:
        if question.kind == "many":
            if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
                raise Unreadable("must be a list of answers")
            checked_many(question, value)
        elif not isinstance(value, str):
            raise Unreadable(f"must be a text such as “{YES}”")
        elif value:
            checked(question, value, on, answers.get("born_on") if key != "born_on" else None)
    except (Unreadable, DateProblem) as problem:
        raise Unreadable(f"{place}: {problem}") from None
