"""A made-up client with nothing to report, so that each test changes only what it is about."""

from datetime import date
from typing import Any

from app.intake.question_list import QUESTION_SET
from app.intake.questions import NO, Question, is_asked
from app.intake.visit_list import VISIT_SET

ON = date(2026, 11, 25)
_PLAIN: dict[str, Any] = {
    "name": "Robin Ash",
    "born_on": "1990-05-14",
    "skin_conditions": ["none"],
    "hope": "softer",
    "scar.site": "forearm",
    "scar.side": "left",
    "scar.kind": "flat_pale",
    "scar.cause": "operation",
    "scar.happened": "2020-03",
    "scar.procedures": ["none"],
    "hba1c_level": "under_8",
    "hba1c_on": "2026-01",
    "visit_healed": "well",
}


def _plain(question: Question) -> dict[str, Any]:
    if question.key in _PLAIN:
        return {question.field: _PLAIN[question.key]}
    return {question.field: NO} if question.kind == "yes_no" else {}


def healthy_scar(scar_id: str = "s1", **changes: Any) -> dict[str, Any]:
    scar: dict[str, Any] = {"id": scar_id}
    for question in QUESTION_SET.questions:
        if question.about_scar:
            scar |= _plain(question)
    return {**scar, **changes}


def healthy(*scars: dict[str, Any], **changes: Any) -> dict[str, Any]:
    answers: dict[str, Any] = {"scars": list(scars) or [healthy_scar()], **changes}
    for question in QUESTION_SET.questions:
        if not question.about_scar and question.key not in changes and is_asked(question, answers):
            answers |= _plain(question)
    return answers


def quiet_scar(scar_id: str = "s1", **changes: Any) -> dict[str, Any]:
    """The short questions about one scar, with nothing new."""
    scar: dict[str, Any] = {"id": scar_id}
    for question in VISIT_SET.questions:
        if question.about_scar:
            scar |= _plain(question)
    return {**scar, **changes}


def quiet_visit(*scars: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The short questions before a session, with nothing new."""
    answers: dict[str, Any] = {"scars": list(scars) or [quiet_scar()], **changes}
    for question in VISIT_SET.questions:
        if not question.about_scar and question.key not in changes:
            answers |= _plain(question)
    return answers
