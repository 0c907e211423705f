"""Screening again before a session: the full form with the short questions laid over it, and what has changed.

The owner can check it by hand. The short answers add to what is known and never take anything away: of two answers to
one question the stricter counts, of two dates the later one, and a treatment named in either is named. A short question
that must be answered and was not leaves its question open, and so does not pass. A scar that the short questions leave
out stays as the full form has it: it is for the start of a session to see that its scars were asked about. What has
become better since the full form is said in a new full form, or shown by the proof that the rule names.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from app.intake.answers import Translate, in_words
from app.intake.dates import counts_from
from app.intake.findings import Finding, Screening
from app.intake.question_list import QUESTION_SET
from app.intake.questions import (
    DONT_KNOW,
    NO,
    NONE_OF_THESE,
    PREFER_NOT,
    SCAR,
    YES,
    Answers,
    Question,
    QuestionSet,
    answer,
    applicable,
    missing_answers,
    scars_of,
)
from app.intake.visit_list import VISIT_SET

# From the mildest to the strictest. "I don't know" counts as yes without an end; a withheld answer leads to a talk,
# which must not take the place of a yes.
_STRICTNESS = (NO, PREFER_NOT, YES, DONT_KNOW)
_LONG_AGO = date(1910, 1, 1)  # So that "more than 2 years ago" stands before any date that somebody wrote.


def visit_answers(full: Answers) -> dict[str, Any]:
    """The short form before anything is answered: the scars of the full form, with their places."""
    fields = ("id", *(key.removeprefix(SCAR) for key in VISIT_SET.prefilled))
    return {"scars": [{key: scar[key] for key in fields if key in scar} for scar in scars_of(full)]}


def joined(questions: QuestionSet = QUESTION_SET, visit: QuestionSet = VISIT_SET) -> QuestionSet:
    """All questions of the full form and then those asked only before a session."""
    only = tuple(question for question in visit.questions if question.key not in questions.keys)
    return QuestionSet((*questions.topics, *visit.topics), (*questions.questions, *only))


def rescreen_answers(
    full: Answers, visit: Answers, questions: QuestionSet = QUESTION_SET, short: QuestionSet = VISIT_SET
) -> dict[str, Any]:
    """The full answers with the short ones laid over them; to be screened with the questions of `joined`."""
    told = applicable(full, questions)
    short_scars = {scar["id"]: scar for scar in scars_of(visit)}
    ids = [scar["id"] for scar in told["scars"]]
    ids += [scar_id for scar_id in short_scars if scar_id not in ids]
    asked = [scar_id for scar_id in ids if scar_id in short_scars or not short_scars]
    visit = {**visit, "scars": [short_scars.get(scar_id, {"id": scar_id}) for scar_id in asked]}
    added = applicable(visit, short)
    gaps = {(gap.key, gap.scar_id) for gap in missing_answers(visit, short)}
    by_id = {scar["id"]: scar for scar in told["scars"]}
    merged = _laid_over(told, added, None, short, gaps)
    over = {scar["id"]: scar for scar in added["scars"]}
    merged["scars"] = [
        _laid_over(by_id.get(scar_id, {}), over[scar_id], scar_id, short, gaps) if scar_id in over else by_id[scar_id]
        for scar_id in ids
    ]
    # "More than 2 years ago" counts from the day of the full form: only there it can be chosen.
    return {**merged, **{key: full[key] for key in ("answered_on", "scars_made") if key in full}}


def _laid_over(
    told: Answers, added: Answers, scar_id: str | None, short: QuestionSet, gaps: set[tuple[str, str | None]]
) -> dict[str, Any]:
    merged = {key: value for key, value in told.items() if key != "scars"}
    if scar_id is not None:
        merged["id"] = scar_id
    for question in short.questions:
        if question.about_scar != (scar_id is not None):
            continue
        if question.field in added:
            merged[question.field] = _stricter(question, told.get(question.field), added[question.field])
        elif (question.key, scar_id) in gaps:
            merged.pop(question.field, None)  # Left open: what was said in the full form is no answer for today.
    return merged


def _stricter(question: Question, before: Any, now: Any) -> Any:
    if before is None:
        return now
    if question.kind == "many":
        both = [item for item in dict.fromkeys([*before, *now]) if item != NONE_OF_THESE]
        return both or now
    if question.kind == "date":
        return _later(before, now)
    if before in _STRICTNESS and now in _STRICTNESS:
        return max(before, now, key=_STRICTNESS.index)
    return now


def _later(before: str, now: str) -> str:
    first, second = counts_from(before, _LONG_AGO), counts_from(now, _LONG_AGO)
    if first is None or second is None:  # "Still", "I don't know": no end is known.
        return before if first is None else now
    return before if first > second else now


@dataclass(frozen=True)
class Moved:
    """A finding that stands before and after, but not in the same way: another day, kind or reason to think so."""

    before: Finding
    after: Finding


@dataclass(frozen=True)
class Changes:
    """What differs between two screenings; `full_from` are the first days of full work, before and after."""

    come: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    moved: tuple[Moved, ...]
    full_from: tuple[date | None, date | None]

    @property
    def is_empty(self) -> bool:
        return not (self.come or self.gone or self.moved)


def changes(before: Screening, after: Screening) -> Changes:
    """The findings that have come, gone or moved from one screening to another."""
    old = {(finding.rule_id, finding.scar_id): finding for finding in before.findings}
    new = {(finding.rule_id, finding.scar_id): finding for finding in after.findings}
    return Changes(
        come=tuple(finding for key, finding in new.items() if key not in old),
        gone=tuple(finding for key, finding in old.items() if key not in new),
        moved=tuple(
            Moved(old[key], finding)
            for key, finding in new.items()
            if key in old and _stands(old[key]) != _stands(finding)
        ),
        full_from=(before.full_from, after.full_from),
    )


def _stands(finding: Finding) -> tuple[Any, ...]:
    return finding.kind, finding.because, finding.allows, finding.clear_from, finding.floor_until


@dataclass(frozen=True)
class AnswerChange:
    """One question whose answer is another one now; `scar_id` where it is about a scar."""

    key: str
    scar_id: str | None
    question: str
    before: str
    after: str


def answer_changes(
    before: Answers, after: Answers, questions: QuestionSet = QUESTION_SET, translate: Translate = str
) -> tuple[AnswerChange, ...]:
    """Every question answered differently, in the order of the form, with both answers in words.

    For yesterday's short answers and today's the questions are the short set; for the full form and what was laid over
    it they are those of `joined`.
    """
    old, new = applicable(before, questions), applicable(after, questions)
    found: list[AnswerChange] = []
    for question in questions.questions:
        for scar_id, first, second in _pairs(question, old, new):
            was, now = answer(question.key, old, first), answer(question.key, new, second)
            if _as_set(was) != _as_set(now):
                found.append(
                    AnswerChange(
                        question.key,
                        scar_id,
                        translate(question.wording),
                        in_words(question, was, translate),
                        in_words(question, now, translate),
                    )
                )
    return tuple(found)


def _pairs(question: Question, old: Answers, new: Answers) -> list[tuple[str | None, Answers | None, Answers | None]]:
    if not question.about_scar:
        return [(None, None, None)]
    first = {scar["id"]: scar for scar in old["scars"]}
    second = {scar["id"]: scar for scar in new["scars"]}
    return [(scar_id, first.get(scar_id), second.get(scar_id)) for scar_id in dict.fromkeys([*first, *second])]


def _as_set(value: Any) -> Any:
    return frozenset(value) if isinstance(value, list) else value


