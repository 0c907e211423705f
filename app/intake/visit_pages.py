"""What the pages of a visit show; of the answers only to those who may read them."""

import json
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlmodel import Session

from app.intake import queries, visit_queries
from app.intake.answers import asked_on, field_values, pages
from app.intake.filling import Asked, flat, view_of
from app.intake.questions import SCAR, Answers, scars_of
from app.intake.visit_days import Asking, prefix_of, said_words, with_said
from app.intake.visit_list import VISIT_SET
from app.records import queries as records
from app.records.models import Zone
from app.studio.access import Who


@dataclass(frozen=True)
class VisitPage:
    line: visit_queries.VisitLine
    zones: tuple[Zone, ...]
    told: tuple[visit_queries.ToldPart, ...]
    said: str
    is_today: bool
    is_over: bool
    why: str  # of a cancelled one; the desk never reads it
    can_ask: bool


def visit_page(db: Session, who: Who, visit_id: int, on: date) -> VisitPage:
    visit = visit_queries.visit_for(db, who, visit_id)
    line = visit_queries.line_of(db, visit, on)
    is_today, told = visit.planned_on == on, visit_queries.told_of(db, visit)
    stands = not line.is_cancelled and not line.is_held
    return VisitPage(
        line,
        tuple(visit_queries.visit_zones(db, visit)) if who.sees_health else (),
        visit_queries.told_parts(db, told) if who.sees_health else (),
        visit_queries.DayAnswers(visit, told).said,
        is_today,
        visit.planned_on < on,
        visit.cancelled_why if who.sees_health else "",
        is_today and stands and queries.base_of(db, visit.case_id) is not None,
    )


@dataclass(frozen=True)
class AloudPart:
    """The questions about the client, or about one scar."""

    title: str
    place: str
    questions: tuple[Asked, ...]


@dataclass(frozen=True)
class AloudPage:
    line: visit_queries.VisitLine
    parts: tuple[AloudPart, ...]
    values: dict[str, Any]


def aloud_page(db: Session, who: Who, visit_id: int, on: date) -> AloudPage:
    visit = visit_queries.visit_for(db, who, visit_id)
    records.case_for(db, who, visit.case_id)
    answers = visit_queries.draft_for(db, visit)
    sent = [form for form in visit_queries.short_forms(db, visit) if form.submitted_at is not None]
    before, before_on = (json.loads(sent[-1].answers), visit_queries.sent_on(db, sent[-1])) if sent else ({}, None)
    lead = "Said today:" if before_on == on else "Said yesterday:"
    parts = []
    for page in pages(answers, VISIT_SET):
        view = view_of(page, answers, VISIT_SET)
        scar_id = str(scars_of(answers)[page.scar]["id"]) if page.scar is not None else None
        view = with_said(view, said_words(before, VISIT_SET, scar_id), lead)
        parts.append(AloudPart(page.topic.title, view.place, tuple(_named(one, page.scar) for one in view.asked)))
    return AloudPage(visit_queries.line_of(db, visit, on), tuple(parts), _values(answers))


def _named(asked: Asked, scar: int | None) -> Asked:
    """The same question under the name it has among the questions of several scars."""
    field = prefix_of(scar) + asked.question.field
    return replace(asked, question=replace(asked.question, key=f"{SCAR}{field}" if scar is not None else field))


def _values(answers: Answers) -> dict[str, Any]:
    held: dict[str, Any] = {}
    for page in pages(answers, VISIT_SET):
        fields: dict[str, list[str]] = {}
        for question in asked_on(page, answers, VISIT_SET):
            fields.update(field_values(question, answers, page.scar))
        held.update(Asking(prefix_of(page.scar)).named(flat(fields)))
    return held
