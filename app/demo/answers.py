"""Filled-in forms of the made-up clients: somebody with nothing to report, and what each of them reports instead."""

from typing import Any

from app.intake.question_list import QUESTION_SET
from app.intake.questions import NO, Answers, is_asked
from app.intake.visit_list import VISIT_SET

_PLAIN: dict[str, Any] = {
    "skin_conditions": ["none"],
    "hope": "softer",
    "scar.side": "left",
    "scar.kind": "flat_pale",
    "scar.cause": "operation",
    "scar.procedures": ["none"],
    "hba1c_level": "under_8",
    "hba1c_on": "2025-11",
    "visit_healed": "well",
}


def scar(scar_id: str, site: str, side: str, happened: str, **changes: Any) -> dict[str, Any]:
    """A declared scar with nothing against it, but for the changes."""
    told: dict[str, Any] = {"id": scar_id, **changes}
    told.update(site=site, side=side, happened=happened)
    for question in QUESTION_SET.questions:
        if question.about_scar and question.field not in told:
            if question.key in _PLAIN:
                told[question.field] = _PLAIN[question.key]
            elif question.kind == "yes_no":
                told[question.field] = NO
    return told


def answers(name: str, born_on: str, *scars: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A whole form with nothing to report, but for the changes."""
    told: dict[str, Any] = {"name": name, "born_on": born_on, "scars": list(scars), **changes}
    for question in QUESTION_SET.questions:
        if not question.about_scar and question.key not in told and is_asked(question, told):
            if question.key in _PLAIN:
                told[question.key] = _PLAIN[question.key]
            elif question.kind == "yes_no":
                told[question.key] = NO
    return told


def short(draft: Answers, **changes: Any) -> dict[str, Any]:
    """The short questions before a session with nothing new, but for the changes; `draft` holds the scars."""
    told: dict[str, Any] = {**draft, **changes, "scars": [dict(one) for one in draft["scars"]]}
    for question in VISIT_SET.questions:
        for place in told["scars"] if question.about_scar else [told]:
            if question.field in place or not is_asked(question, told, place if question.about_scar else None):
                continue
            if question.key in _PLAIN:
                place[question.field] = _PLAIN[question.key]
            elif question.kind == "yes_no":
                place[question.field] = NO
    return told
