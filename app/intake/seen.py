"""Two devices on one form: what an open page knew of its answers, and what counts where another one changed them.

A page carries a mark of each of its answers as it stood when the page was made. An answer that the page left as it was
gives way to what another device stored since; one that only the page changed counts; where both changed it, the stored
one stays until the person has seen both.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.intake.questions import Answers, Page, Question, QuestionSet

NOTHING = "-"
MARK_LENGTH = 10  # of a SHA-256 in hex: two answers to one question do not meet by chance


@dataclass(frozen=True)
class Settled:
    """`answers`: what is stored; `taken`: questions where another device's answer was taken over; `clashes`: those
    where the person has to decide; `marks`: what the page carries on with while it shows what it shows."""

    answers: dict[str, Any]
    taken: tuple[Question, ...] = ()
    clashes: tuple[Question, ...] = ()
    marks: str = ""

    @property
    def is_whole(self) -> bool:
        return not self.taken and not self.clashes


def mark(value: Any) -> str:
    """A short fingerprint of one answer; the same for no answer and an empty one."""
    if value in (None, "", []):
        return NOTHING
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:MARK_LENGTH]


def marks_of(page: Page, answers: Answers, questions: QuestionSet) -> str:
    """The marks of everything that a page may ask, as its hidden field carries them."""
    place = _place(page, answers)
    return _written({question.field: mark(place.get(question.field)) for question in questions.of_topic(page.topic)})


def settle(page: Page, stored: Answers, mine: Answers, seen: str, questions: QuestionSet) -> Settled:
    """What is stored when a page is sent that was made when its answers had the marks `seen`."""
    base, theirs = _read(seen), _place(page, stored)
    result = {**mine, "scars": [dict(scar) for scar in mine.get("scars", ())]}
    place = result if page.scar is None else result["scars"][page.scar]
    marks: dict[str, str] = {}
    taken: list[Question] = []
    clashes: list[Question] = []
    for question in questions.of_topic(page.topic):
        name, was = question.field, base.get(question.field, NOTHING)
        my_mark, their_mark = mark(place.get(name)), mark(theirs.get(name))
        marks[name] = my_mark
        if my_mark == their_mark or their_mark == was:
            continue
        # The page goes on with the old mark: it does not show yet what is stored now.
        marks[name] = was
        (taken if my_mark == was else clashes).append(question)
        if their_mark == NOTHING:
            place.pop(name, None)
        else:
            place[name] = theirs[name]
    return Settled(result, tuple(taken), tuple(clashes), _written(marks))


def _place(page: Page, answers: Answers) -> Mapping[str, Any]:
    if page.scar is None:
        return answers
    scars = answers.get("scars", ())
    found: Mapping[str, Any] = scars[page.scar] if page.scar < len(scars) else {}
    return found


def _written(marks: Mapping[str, str]) -> str:
    return " ".join(f"{name}={marks[name]}" for name in marks)


def _read(seen: str) -> dict[str, str]:
    pairs = (item.partition("=") for item in seen.split())
    return {name: given for name, _, given in pairs}
