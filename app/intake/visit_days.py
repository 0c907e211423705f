"""The days of a visit and of its short questions: when they are sent, when the whole form is due, what a day says.

The owner can check it by hand. The short questions go out at six on the evening before a visit, where the studio
stands, and never after nine; a visit that is planned on its own day, or too late on the evening before, sends nothing,
and the questions are asked at arrival. They are answered for one day: of a visit only what was answered for it counts,
and what was answered the evening before counts only once it was asked again on the day. A whole form is good for a
number of months to the day; from the day after it is due again.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

from app.intake.answers import Translate, in_words
from app.intake.dates import add_months
from app.intake.filling import PageView
from app.intake.question_list import QUESTION_SET
from app.intake.questions import Answers, QuestionSet, answer, applicable, scars_of
from app.intake.visit_list import VISIT_SET

# Early enough to be read that day, late enough that little changes until the visit. Common practice, no source.
EVENING_AT = "18:00"
# Whoever plans further ahead mistyped the year. Common practice, no source.
FURTHEST = timedelta(days=731)

Said = Literal["none", "undecided", "refused", "evening", "arrival"]
_ONLY_SHORT = frozenset(question.field for question in VISIT_SET.questions if question.key not in QUESTION_SET.keys)


def evening_of(planned_on: date) -> date:
    """The day whose evening comes before a visit."""
    return planned_on - timedelta(days=1)


def may_ask_evening(planned_on: date, now: datetime, time_zone: str, latest: time) -> bool:
    """Whether that evening is still to come, or has just begun."""
    here, evening = now.astimezone(ZoneInfo(time_zone)), evening_of(planned_on)
    return here.date() < evening or (here.date() == evening and here.time() < latest)


def end_of(day: date, time_zone: str) -> datetime:
    """The midnight with which a day ends where the studio stands."""
    return datetime.combine(day + timedelta(days=1), time(), ZoneInfo(time_zone))


def whole_form_due(answered_on: date, months: int) -> date:
    """The first day on which a whole form is too old."""
    return add_months(answered_on, months) + timedelta(days=1)


def said_on(decision: str | None, stage: str) -> Said:
    """What the newest short answers of a day come to: `decision` is that of their screening, None without answers."""
    if decision is None:
        return "none"
    if decision == "":
        return "undecided"
    if decision != "accepted":
        return "refused"
    return "arrival" if stage == "arrival" else "evening"


def first_answers(base: Answers, keys: Collection[str]) -> dict[str, Any]:
    """A short form before anything is answered: the scars of the visit with their places, no answer about health."""
    fields = ("id", "site", "side", "words")
    scars = [scar for scar in scars_of(base) if scar["id"] in keys]
    return {"scars": [{key: scar[key] for key in fields if key in scar} for scar in scars]}


def with_answers(first: Answers, told: Answers) -> dict[str, Any]:
    """The same with what was answered for this visit before."""
    by_id = {scar["id"]: scar for scar in scars_of(told)}
    scars = [{**by_id.get(scar["id"], {}), **scar} for scar in scars_of(first)]
    return {**{key: value for key, value in told.items() if key != "answered_on"}, "scars": scars}


def to_stand_on(base: Answers) -> dict[str, Any]:
    """What a new short form is laid over: "since we last asked" and "today" of an earlier one are over."""
    return {key: value for key, value in base.items() if key not in _ONLY_SHORT}


def with_unasked(base: Answers, visit: Answers) -> dict[str, Any]:
    """The short answers, and for a scar that the visit is not about what is known of it: nobody was asked, and nobody
    works there on that day without asking."""
    asked = {scar["id"]: scar for scar in scars_of(visit)}
    others = {scar["id"]: scar for scar in scars_of(base) if scar["id"] not in asked}
    return {**visit, "scars": [*asked.values(), *others.values()]}


def said_words(
    before: Answers, questions: QuestionSet, scar_id: str | None, translate: Translate = str
) -> dict[str, str]:
    """What was answered before about the client, or about one scar: field to words, for what was asked then."""
    told = applicable(before, questions) if before else {"scars": []}
    scar = next((one for one in told["scars"] if one["id"] == scar_id), None)
    return {
        question.field: in_words(question, value, translate)
        for question in questions.questions
        if question.about_scar is (scar is not None)
        and (value := answer(question.key, told, scar)) is not None
        and (scar is not None or scar_id is None)
    }


SAID_YESTERDAY = "You said yesterday:"
SAID_TODAY = "You said today:"


def with_said(view: PageView, said: Mapping[str, str], lead: str) -> PageView:
    """The page with what was answered before beside each question, as part of its hint."""
    asked = (
        replace(one, hint=f"{one.hint} {lead} {words}".strip()) if (words := said.get(one.question.field)) else one
        for one in view.asked
    )
    return replace(view, asked=tuple(asked))


@dataclass(frozen=True)
class Asking:
    """One scar, or the client, on the page on which an artist asks aloud: its fields have a name of their own."""

    prefix: str

    def mine(self, posted: Mapping[str, list[str]]) -> dict[str, list[str]]:
        """The fields that were posted for it, by their plain names."""
        return {name.removeprefix(self.prefix): values for name, values in posted.items()
                if name.startswith(self.prefix)}  # fmt: skip

    def named(self, fields: Mapping[str, Any]) -> dict[str, Any]:
        return {self.prefix + name: value for name, value in fields.items()}


def prefix_of(scar: int | None) -> str:
    """Before the names of fields about the client, or about a scar by its number."""
    return "c-" if scar is None else f"{scar + 1}-"
