"""From answers to findings: what blocks, what waits and until when, what needs a letter, a test, a talk, or care.

The owner can check it by hand. Each rule is tried on the person, or on each scar by itself (see `trying`). Rules that
read the same answer give one finding where that answer is not known. A required question without an answer never
passes. A scar may have at most what the strictest finding on the person and on that scar allows.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from app.intake.dates import read_day
from app.intake.findings import (
    Alert,
    ClientLine,
    Evidence,
    Finding,
    ScarClearance,
    Screening,
    screening_to_dict,
)
from app.intake.question_list import QUESTION_SET
from app.intake.questions import SCAR, VISIT, Answers, QuestionSet, applicable, missing_answers, state
from app.intake.rule_parts import UNANSWERED_WORDS
from app.intake.rule_set import FIRST_ADVICE, RULE_SET
from app.intake.rules import EVALUATOR_VERSION, GRADES, Advice, AlertRaised, Grade, Proof, Rule, RuleSet
from app.intake.trying import Case
from app.studio.country import CountryPack

__all__ = [
    "Alert",
    "ClientLine",
    "Evidence",
    "Finding",
    "ScarClearance",
    "Screening",
    "screen",
    "screening_to_dict",
]


def screen(
    answers: Answers,
    *,
    on: date,
    country: CountryPack,
    rule_set: RuleSet = RULE_SET,
    evidence: Iterable[Evidence] = (),
    questions: QuestionSet = QUESTION_SET,
) -> Screening:
    """The findings of a set of answers on a day. Raises ValueError where rules and questions do not belong together."""
    _check_together(rule_set, questions)
    told = applicable(answers, questions)
    case = Case(told, on, read_day(answers["answered_on"]) if answers.get("answered_on") else on, country,
                tuple(proof for proof in evidence if _in_force(proof, on)))  # fmt: skip
    found: list[_Found] = []
    alerts: list[Alert] = []
    for rule in rule_set.rules:
        for scar in _places(rule, told):
            finding, fired = case.try_rule(rule, scar)
            if finding is not None:
                found.append((rule, scar, finding))
            if fired and rule.alert is not None:
                alerts.append(_alert(rule.alert, rule, scar))
    findings = [*_together(case, found), *_unanswered(answers, questions)]
    # A set of the first version holds no advice: its sentences stood beside it.
    advice = FIRST_ADVICE if rule_set.evaluator_version == 1 else rule_set.advice
    return Screening(
        on=on,
        country=country.code,
        questions_version=questions.version,
        rule_set_version=rule_set.version,
        evaluator_version=rule_set.evaluator_version,
        findings=tuple(findings),
        alerts=tuple(alerts),
        scars=tuple(_clearance(scar["id"], findings, on) for scar in told["scars"]),
        person_grade=_strictest(finding for finding in findings if finding.scar_id is None),
        preparation=tuple(item.words for item in advice if not item.after and _applies(item, told)),
        afterwards=tuple(item.words for item in advice if item.after and _applies(item, told)),
    )


def _check_together(rule_set: RuleSet, questions: QuestionSet) -> None:
    if not 1 <= rule_set.evaluator_version <= EVALUATOR_VERSION:
        raise ValueError(f"these rules are of version {rule_set.evaluator_version}, which is not known here")
    asked_at_visits = (VISIT, SCAR + VISIT)  # Asked only before a session; a full form is screened without them.
    read = {key for rule in rule_set.rules for key in rule.keys if not key.startswith(asked_at_visits)}
    strangers = sorted(read - questions.keys)
    if strangers:
        raise ValueError(f"rules ask for questions that are not in this set: {', '.join(strangers)}")


def _applies(advice: Advice, told: Answers) -> bool:
    """Advice about a scar holds where it holds for one of them; what is not known counts as yes."""
    places: Iterable[Answers | None] = told["scars"] if any(it.key.startswith(SCAR) for it in advice.when) else (None,)
    return any(state(advice.when, told, place) in ("yes", "unknown") for place in places)


_Found = tuple[Rule, Answers | None, Finding]


def _together(case: Case, found: list[_Found]) -> list[Finding]:
    """The findings, those that rest on one unknown answer drawn together into one, where the first of them stood."""
    groups: dict[tuple[str, str | None], list[Rule]] = {}
    for rule, _, finding in found:
        if rule.together is not None and finding.because == "dont_know":
            groups.setdefault((rule.together.key, finding.scar_id), []).append(rule)
    drawn: list[Finding] = []
    for rule, scar, finding in found:
        key = (rule.together.key if rule.together is not None else "", finding.scar_id)
        if finding.because != "dont_know" or key not in groups:
            drawn.append(finding)
        elif rule is groups[key][0]:
            joint, _ = case.try_rule(_joint(groups[key]), scar)
            drawn += [joint] if joint is not None else []
    return drawn


def _joint(rules: list[Rule]) -> Rule:
    """One rule in place of several: as strict as the strictest, lifted by what lifts each that holds work up."""
    first, together = min(rules, key=lambda rule: GRADES.index(rule.allows)), rules[0].together
    assert together is not None
    holding = [rule for rule in rules if rule.allows != "full"] or rules
    lifts: tuple[Proof, ...] = tuple(
        proof for proof in first.lifted_by if all(proof in rule.lifted_by for rule in holding)
    )
    return replace(
        first,
        id=f"unknown:{together.key}",
        title=together.title,
        reason=together.reason,
        what_lifts=together.what_lifts,
        lifted_by=lifts,
        source="; ".join(dict.fromkeys(rule.source for rule in rules)),
        source_tags=tuple(dict.fromkeys(tag for rule in rules for tag in rule.source_tags)),
        sensitive=any(rule.sensitive for rule in rules),
        alert=None,
    )


def _places(rule: Rule, told: Answers) -> tuple[Answers | None, ...]:
    if rule.scope.kind == "client":
        return (None,)
    return tuple(scar for scar in told["scars"] if not rule.scope.sites or scar.get("site") in rule.scope.sites)


def _unanswered(answers: Answers, questions: QuestionSet) -> list[Finding]:
    found: list[Finding] = []
    for gap in missing_answers(answers, questions):
        question = next((item for item in questions.questions if item.key == gap.key), None)
        if question is not None and not question.safety:
            continue
        wording = question.wording if question is not None else "Which scars are to be treated?"
        found.append(
            Finding(
                rule_id=f"unanswered:{gap.key}", scope="zone" if gap.scar_id else "client", scar_id=gap.scar_id,
                kind="stop", because="unanswered", title="Not answered", reason=f"Not answered: {wording}",
                source="the intake itself", source_tags=(), allows="consultation", clear_from=None, floor_until=None,
                what_lifts="An answer.", lifted_by=(), client_summary=UNANSWERED_WORDS, letter_needed=False,
                sensitive=False,
            )
        )
    return found


def _alert(raised: AlertRaised, rule: Rule, scar: Answers | None) -> Alert:
    return Alert(raised.code, raised.words, raised.audience, rule.id, scar["id"] if scar is not None else None)


def _in_force(proof: Evidence, on: date) -> bool:
    return proof.on <= on and (proof.expires_on is None or on <= proof.expires_on)


def _strictest(findings: Iterable[Finding]) -> Grade:
    return GRADES[min((GRADES.index(finding.allows) for finding in findings), default=len(GRADES) - 1)]


def _clearance(scar_id: str, findings: list[Finding], on: date) -> ScarClearance:
    mine = [finding for finding in findings if finding.scar_id in (None, scar_id) and finding.allows != "full"]
    grade = _strictest(mine)
    days = [finding.clear_from for finding in mine]
    known = [day for day in days if day is not None]
    return ScarClearance(
        scar_id=scar_id,
        grade=grade,
        why=tuple(dict.fromkeys(finding.reason for finding in mine if finding.allows == grade)),
        full_from=max(known, default=on) if len(known) == len(days) else None,
    )

