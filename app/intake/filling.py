"""Walking through the form: one page after another, back without loss, and on at the first page not answered.

A page's address is the number of its topic, and for a repeated topic the number of the scar: "3", "4-2". So no address
says what is asked. The same walk serves every set of questions: the whole form and the short one before a visit.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from app.intake.answers import SummaryLine, Translate, asked_on, field_values, missing, pages, summary
from app.intake.question_list import QUESTION_SET
from app.intake.questions import (
    DONT_KNOW,
    NO,
    PREFER_NOT,
    SCAR,
    YES,
    Answers,
    Page,
    Question,
    QuestionSet,
    applicable,
    scars_of,
)

RADIO_LIMIT = 12  # longer lists are one select: 40 taps on a phone are no help
_ADDRESS = re.compile(r"([1-9][0-9]{0,2})(?:-([1-9][0-9]{0,2}))?", re.ASCII)


@dataclass(frozen=True)
class Asked:
    """A question with how it is put on the page, in the client's language."""

    question: Question
    wording: str
    hint: str
    options: tuple[tuple[str, str], ...]

    @property
    def is_list(self) -> bool:
        return self.question.kind == "choice" and len(self.options) > RADIO_LIMIT


@dataclass(frozen=True)
class PageView:
    """One page of the form as it is shown."""

    page: Page
    address: str
    asked: tuple[Asked, ...]
    number: int
    count: int
    scar_number: int | None
    scar_id: str
    place: str
    can_remove: bool


@dataclass(frozen=True)
class SummaryPage:
    title: str
    scar_number: int | None
    place: str
    address: str
    lines: tuple[SummaryLine, ...]


def address_of(page: Page, questions: QuestionSet = QUESTION_SET) -> str:
    number = questions.topics.index(page.topic) + 1
    return str(number) if page.scar is None else f"{number}-{page.scar + 1}"


def page_at(address: str, answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The page with this address, while it applies."""
    return next((page for page in pages(answers, questions) if address_of(page, questions) == address), None)


def page_named(address: str, answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The page with this address, also where it applies no longer since something was answered elsewhere meanwhile."""
    match = _ADDRESS.fullmatch(address)
    if match is None or int(match[1]) > len(questions.topics):
        return None
    topic, scar = questions.topics[int(match[1]) - 1], int(match[2]) - 1 if match[2] else None
    if topic.repeats != (scar is not None) or (scar is not None and scar > len(scars_of(answers))):
        return None
    return Page(topic, scar)


def page_after(page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The next page that applies, also when this one applies no longer."""
    return next(
        (other for other in pages(answers, questions) if _place(other, questions) > _place(page, questions)), None
    )


def page_before(page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    earlier = [other for other in pages(answers, questions) if _place(other, questions) < _place(page, questions)]
    return earlier[-1] if earlier else None


def _place(page: Page, questions: QuestionSet) -> tuple[int, int, int]:
    """Where a page stands: the repeated topics of one scar come together, between what is before and after them."""
    number = questions.topics.index(page.topic)
    first = next((index for index, topic in enumerate(questions.topics) if topic.repeats), 0)
    return (number, 0, 0) if page.scar is None else (first, page.scar + 1, number)


def first_open(answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The first page with a question that still needs an answer."""
    gaps = {(gap.key, gap.scar_id) for gap in missing(answers, questions)}
    for page in pages(answers, questions):
        scar_id = scar_id_of(page, answers)
        is_new = page.scar is not None and not scar_id
        if is_new or any((question.key, scar_id or None) in gaps for question in questions.of_topic(page.topic)):
            return page
    return None


def scar_id_of(page: Page, answers: Answers) -> str:
    """The id of the scar that a page is about; empty for a page about the person and for a scar still to be told."""
    scars = scars_of(answers)
    return str(scars[page.scar]["id"]) if page.scar is not None and page.scar < len(scars) else ""


def in_language(questions: QuestionSet, language: str) -> QuestionSet:
    """The same set with the studio's own questions worded in a language; the shipped ones have catalogues."""
    return replace(questions, questions=tuple(question.in_language(language) for question in questions.questions))


def view_of(
    page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET, translate: Translate = str
) -> PageView:
    """The page with its questions and its place among all."""
    asked = tuple(
        Asked(
            question,
            translate(question.wording),
            translate(question.hint) if question.hint else "",
            tuple((option.key, translate(option.words)) for option in question.choices),
        )
        for question in asked_on(page, answers, questions)
    )
    every, scars = pages(answers, questions), scars_of(answers)
    scar_number = page.scar + 1 if page.scar is not None and (page.scar or len(scars) > 1) else None
    scar_id = scar_id_of(page, answers)
    return PageView(
        page,
        address_of(page, questions),
        asked,
        every.index(page) + 1 if page in every else min(len(every), questions.topics.index(page.topic) + 1),
        len(every),
        scar_number,
        scar_id,
        place_words(page, answers, questions, translate) if _names_place(page, scar_number, questions) else "",
        bool(scar_id) and len(scars) > 1 and f"{SCAR}another" in questions.keys,
    )


def _names_place(page: Page, scar_number: int | None, questions: QuestionSet) -> bool:
    """Where more than one scar could be meant; not on the page that asks for the place."""
    asks_for_it = any(question.key == f"{SCAR}site" for question in questions.of_topic(page.topic))
    return not asks_for_it and (scar_number is not None or bool(questions.prefilled))


def place_words(page: Page, answers: Answers, questions: QuestionSet, translate: Translate = str) -> str:
    """Which scar a page is about, in the words that were chosen for its place; empty until that was told."""
    scars = scars_of(answers)
    if page.scar is None or page.scar >= len(scars):
        return ""
    found = []
    for key in ("site", "side"):
        source = questions if f"{SCAR}{key}" in questions.keys else QUESTION_SET
        words = {option.key: option.words for option in source.question(f"{SCAR}{key}").choices}
        if (value := scars[page.scar].get(key)) in words:
            found.append(translate(words[value]))
    return ", ".join(found)


def values_of(page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET) -> dict[str, Any]:
    """What the fields of a page hold for the answers so far."""
    held: dict[str, list[str]] = {}
    for question in asked_on(page, answers, questions):
        held.update(field_values(question, answers, page.scar))
    return flat(held)


def flat(fields: Mapping[str, list[str]]) -> dict[str, Any]:
    """Fields as a page takes them back: one value as a text, several as a list."""
    return {name: values[0] if len(values) == 1 else values for name, values in fields.items()}


def without(answers: Answers, scar_id: str) -> dict[str, Any]:
    """The answers with one scar taken out; if it was the last one, there is no "another" to fill in any more."""
    left = [dict(scar) for scar in answers.get("scars", ()) if scar["id"] != scar_id]
    if left:
        left[-1]["another"] = NO
    return {**answers, "scars": left}


def summary_pages(
    answers: Answers, questions: QuestionSet = QUESTION_SET, translate: Translate = str
) -> tuple[SummaryPage, ...]:
    """The answers to check before signing, page by page, each with the address that changes it."""
    lines = summary(answers, questions, translate)
    scars, found = scars_of(answers), []
    for page in pages(answers, questions):
        scar_id = scar_id_of(page, answers) or None
        mine = tuple(line for line in lines if line.topic == page.topic.key and line.scar_id == scar_id)
        if mine:
            number = page.scar + 1 if page.scar is not None and len(scars) > 1 else None
            place = place_words(page, answers, questions, translate) if number or questions.prefilled else ""
            found.append(
                SummaryPage(translate(page.topic.title), number, place, address_of(page, questions), mine)
            )
    return tuple(found)


def needs_time(answers: Answers, questions: QuestionSet = QUESTION_SET) -> bool:
    """Whether the client is shown the calm page: a hard time, thoughts that weigh on most days, nobody to turn to.

    Withheld and "don't know" count, too: the page asks nothing and says nothing of why it is there. No score, no name
    for it, and no finding comes from here. Common practice, no source.
    """
    told = applicable(answers, questions)
    weighs = any(told.get(key) in (YES, DONT_KNOW, PREFER_NOT) for key in ("hard_time", "mind_often", "held_back"))
    return weighs or any(scar.get("support") in ("have_not", PREFER_NOT) for scar in told["scars"])


def carried_over(answers: Answers) -> dict[str, Any]:
    """What a new form takes over from the last one: who the client is and which scars, never an answer about health."""
    kept = {key: answers[key] for key in ("name", "called", "pronouns", "born_on", "scars_made") if key in answers}
    fields = ("id", "site", "side", "kind", "cause", "happened", "words", "another")
    return {**kept, "scars": [{key: scar[key] for key in fields if key in scar} for scar in answers.get("scars", ())]}
