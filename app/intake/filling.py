"""Walking through the form: one page after another, back without loss, and on at the first page not answered.

A page's address is the number of its topic, and for a repeated topic the number of the scar: "3", "4-2". So no address
says what is asked.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.intake.answers import SummaryLine, asked_on, field_values, missing, pages, summary
from app.intake.question_list import QUESTION_SET
from app.intake.questions import NO, Answers, Page, Question, QuestionSet

RADIO_LIMIT = 12  # longer lists are one select: 40 taps on a phone are no help


@dataclass(frozen=True)
class Asked:
    """A question with how it is put on the page."""

    question: Question
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
    can_remove: bool


@dataclass(frozen=True)
class SummaryPage:
    title: str
    scar_number: int | None
    address: str
    lines: tuple[SummaryLine, ...]


def address_of(page: Page, questions: QuestionSet = QUESTION_SET) -> str:
    number = questions.topics.index(page.topic) + 1
    return str(number) if page.scar is None else f"{number}-{page.scar + 1}"


def page_at(address: str, answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The page with this address, while it applies."""
    return next((page for page in pages(answers, questions) if address_of(page, questions) == address), None)


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
    first = next(index for index, topic in enumerate(questions.topics) if topic.repeats)
    return (number, 0, 0) if page.scar is None else (first, page.scar + 1, number)


def first_open(answers: Answers, questions: QuestionSet = QUESTION_SET) -> Page | None:
    """The first page with a question that still needs an answer."""
    gaps = {(gap.key, gap.scar_id) for gap in missing(answers, questions)}
    for page in pages(answers, questions):
        scar_id = _scar_id(answers, page)
        is_new = page.scar is not None and not scar_id
        if is_new or any((question.key, scar_id or None) in gaps for question in questions.of_topic(page.topic)):
            return page
    return None


def _scar_id(answers: Answers, page: Page) -> str:
    scars = answers.get("scars", ())
    return str(scars[page.scar]["id"]) if page.scar is not None and page.scar < len(scars) else ""


def view_of(page: Page, answers: Answers, questions: QuestionSet = QUESTION_SET) -> PageView:
    """The page with its questions and its place among all."""
    asked = tuple(
        Asked(question, tuple((option.key, option.words) for option in question.choices))
        for question in asked_on(page, answers, questions)
    )
    every, scars = pages(answers, questions), answers.get("scars", ())
    scar_number = page.scar + 1 if page.scar is not None and (page.scar or len(scars) > 1) else None
    scar_id = _scar_id(answers, page)
    return PageView(
        page,
        address_of(page, questions),
        asked,
        every.index(page) + 1,
        len(every),
        scar_number,
        scar_id,
        bool(scar_id) and len(scars) > 1,
    )


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


def summary_pages(answers: Answers, questions: QuestionSet = QUESTION_SET) -> tuple[SummaryPage, ...]:
    """The answers to check before signing, page by page, each with the address that changes it."""
    lines = summary(answers, questions)
    scars, found = answers.get("scars", ()), []
    for page in pages(answers, questions):
        scar_id = _scar_id(answers, page) or None
        mine = tuple(line for line in lines if line.topic == page.topic.key and line.scar_id == scar_id)
        if mine:
            number = page.scar + 1 if page.scar is not None and len(scars) > 1 else None
            found.append(SummaryPage(page.topic.title, number, address_of(page, questions), mine))
    return tuple(found)


def carried_over(answers: Answers) -> dict[str, Any]:
    """What a new form takes over from the last one: who the client is and which scars, never an answer about health."""
    kept = {key: answers[key] for key in ("name", "called", "pronouns", "born_on", "scars_made") if key in answers}
    fields = ("id", "site", "side", "kind", "cause", "happened", "words", "another")
    return {**kept, "scars": [{key: scar[key] for key in fields if key in scar} for scar in answers.get("scars", ())]}
