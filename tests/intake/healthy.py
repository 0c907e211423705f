"""A made-up client with nothing to report, so that each test changes only what it is about."""

from datetime import date
from typing import Any

from app.intake.question_list import QUESTION_SET
from app.intake.questions import NO, is_asked

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
}


def healthy_scar(scar_id: str = "s1", **changes: Any) -> dict[str, Any]:
    scar: dict[str, Any] = {"id": scar_id}
    for question in QUESTION_SET.questions:
        if question.about_scar:
            if question.key in _PLAIN:
                scar[question.field] = _PLAIN[question.key]
            elif question.kind == "yes_no":
                scar[question.field] = NO
    return {**scar, **changes}


def healthy(*scars: dict[str, Any], **changes: Any) -> dict[str, Any]:
    answers: dict[str, Any] = {"scars": list(scars) or [healthy_scar()]}
    for question in QUESTION_SET.questions:
        if not question.about_scar and is_asked(question, answers):
            if question.key in _PLAIN:
                answers[question.key] = _PLAIN[question.key]
            elif question.kind == "yes_no":
                answers[question.key] = NO
    return {**answers, **changes}
