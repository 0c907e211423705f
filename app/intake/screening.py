"""From answers to findings: what blocks, what waits and until when, what needs a letter, a test, a talk, or care.

The owner can check it by hand. Each rule is tried on the person, or on each scar by itself. A rule whose conditions
hold gives a finding, unless a proof on file lifts it. "Don't know" counts as yes, with no date on which it ends. A
withheld answer gives a private talk: neither a pass nor a bar. A required question without an answer never passes. A
scar may have at most what the strictest finding on the person and on that scar allows. The day a wait ends is clear.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.intake.dates import add, age, birthday, counts_from, read_day
from app.intake.findings import (
    Alert,
    Because,
    ClientLine,
    Evidence,
    Finding,
    FindingKind,
    ScarClearance,
    Screening,
    screening_to_dict,
)
from app.intake.question_list import QUESTION_SET
from app.intake.questions import (
    PREFER_NOT,
    Answers,
    QuestionSet,
    answer,
    applicable,
    missing_answers,
    state,
)
from app.intake.rule_parts import TALK_WORDS
from app.intake.rule_set import PREPARATION, RULE_SET
from app.intake.rules import (
    EVALUATOR_VERSION,
    GRADES,
    LIFTING_RESULT,
    AlertRaised,
    Grade,
    Proof,
    Rule,
    RuleSet,
    Trigger,
)
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

_KIND: dict[str, FindingKind] = {
    "legal_bar": "legal_bar",
    "stop_until_proof": "stop",
    "wait": "wait",
    "test_patch": "test",
    "test_spot": "test",
    "caution": "caution",
    "talk": "talk",
}
UNANSWERED_WORDS = "A few questions still need an answer before we can plan."
NOT_KNOWN = "Not known, so it counts as yes until it is found out. "



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
    strangers = sorted({key for rule in rule_set.rules for key in rule.keys} - questions.keys)
    if strangers:
        raise ValueError(f"rules ask for questions that are not in this set: {', '.join(strangers)}")
    told = applicable(answers, questions)
    case = _Case(told, on, read_day(answers["answered_on"]) if answers.get("answered_on") else on, country,
                 tuple(proof for proof in evidence if _in_force(proof, on)))  # fmt: skip
    findings: list[Finding] = []
    alerts: list[Alert] = []
    for rule in rule_set.rules:
        for scar in _places(rule, told):
            finding, fired = case.try_rule(rule, scar)
            if finding is not None:
                findings.append(finding)
            if fired and rule.alert is not None:
                alerts.append(_alert(rule.alert, rule, scar))
    findings += _unanswered(answers, questions)
    return Screening(
        on=on,
        country=country.code,
        questions_version=questions.version,
        rule_set_version=rule_set.version,
        evaluator_version=EVALUATOR_VERSION,
        findings=tuple(findings),
        alerts=tuple(alerts),
        scars=tuple(_clearance(scar["id"], findings, on) for scar in told["scars"]),
        person_grade=_strictest(finding for finding in findings if finding.scar_id is None),
        preparation=tuple(item.words for item in PREPARATION if not item.after),
        afterwards=tuple(item.words for item in PREPARATION if item.after),
    )


@dataclass(frozen=True)
class _Hit:
    because: Because
    counted_from: date | None = None
    clear_from: date | None = None


@dataclass(frozen=True)
class _Case:
    told: Answers
    on: date
    answered_on: date
    country: CountryPack
    evidence: tuple[Evidence, ...]

    def try_rule(self, rule: Rule, scar: Answers | None) -> tuple[Finding | None, bool]:
        """The finding, if it stands, and whether the rule was triggered at all (its alert holds even when lifted)."""
        hit = self.hit(rule, scar)
        if hit is None:
            return None, False
        scar_id = scar["id"] if scar is not None else None
        if hit.because == "withheld":
            settled = self.lifting("talk", rule, scar_id) is not None
            return (None if settled else _finding(rule, scar_id, hit, None)), False
        for proof in rule.lifted_by:
            until = self.lifted_from(proof, rule, scar_id, hit)
            if until is not None and until <= self.on:
                return None, True
        return _finding(rule, scar_id, hit, self.clears(rule, scar_id, hit)), True

    def hit(self, rule: Rule, scar: Answers | None) -> _Hit | None:
        trigger = rule.trigger
        if trigger.kind == "evidence":
            return self.evidence_hit(trigger, scar["id"] if scar is not None else None)
        held = state(trigger.when, self.told, scar)
        if held in ("no", "missing"):  # What is missing has its own finding.
            return None
        if held == "withheld":
            return _Hit("withheld")
        if trigger.kind == "date":
            hit = self.date_hit(rule, scar)
            if held == "yes" or (hit is None and answer(trigger.date_key, self.told, scar) is not None):
                return hit  # Even where it is not known whether it happened: a time that has passed has passed.
        return _Hit("answer" if held == "yes" else "dont_know")

    def date_hit(self, rule: Rule, scar: Answers | None) -> _Hit | None:
        trigger = rule.trigger
        value = answer(trigger.date_key, self.told, scar)
        if value is None or value in trigger.passes:
            return None
        if trigger.pack_age:
            return self.age_hit(read_day(value), trigger.pack_age)
        if value == PREFER_NOT:
            return _Hit("withheld")
        start = counts_from(value, self.answered_on)
        if start is None or rule.wait is None:
            return _Hit("dont_know" if value == "dont_know" else "answer")
        clear_from = add(start, rule.wait)
        return _Hit("answer", start, clear_from) if self.on < clear_from else None

    def age_hit(self, born_on: date, which: Literal["minimum_age", "consent_age"]) -> _Hit | None:
        minimum = self.country.minimum_age
        years = minimum if which == "minimum_age" else self.country.consent_age
        if years is None or age(born_on, self.on) >= years:
            return None
        if which == "consent_age" and minimum is not None and age(born_on, self.on) < minimum:
            return None  # The legal bar says all there is to say.
        return _Hit("age", born_on, birthday(born_on, years))

    def evidence_hit(self, trigger: Trigger, scar_id: str | None) -> _Hit | None:
        # One bad result counts for good, even if a later test with something else was clear.
        if trigger.proof and any(proof.result in trigger.results for proof in self.of_kind(trigger.proof, scar_id)):
            return _Hit("evidence")
        return None

    def of_kind(self, kind: Proof, scar_id: str | None) -> list[Evidence]:
        """The proofs of a kind that speak for this scar, or for the person where there is no scar."""
        found = [proof for proof in self.evidence if proof.kind == kind]
        if kind == "allergy_patch":  # Placed on a person, wherever it was placed.
            return found
        if kind in ("test_spot", "photo_pair"):
            return [proof for proof in found if proof.scar_id == scar_id]
        return [proof for proof in found if proof.scar_id in (None, scar_id)]

    def latest(self, kind: Proof, scar_id: str | None, rule_id: str) -> Evidence | None:
        """The newest proof of a kind for this scar that names this rule; of two on one day the worse one."""
        may_be_open = kind in ("allergy_patch", "test_spot", "photo_pair")
        fitting = [
            proof
            for proof in self.of_kind(kind, scar_id)
            if rule_id in proof.rule_ids or (may_be_open and not proof.rule_ids)
        ]
        return max(fitting, key=lambda proof: (proof.on, proof.result != LIFTING_RESULT[kind]), default=None)

    def lifting(self, kind: Proof, rule: Rule, scar_id: str | None) -> Evidence | None:
        newest = self.latest(kind, scar_id, rule.id)
        if kind == "informed_decision":
            # Only after a letter was asked for and the clinician gave none: never against a clinician's advice.
            letter = self.latest("letter", scar_id, rule.id)
            if letter is None or letter.result != "declines":
                return None
        return newest if newest is not None and newest.result == LIFTING_RESULT[kind] else None

    def lifted_from(self, kind: Proof, rule: Rule, scar_id: str | None, hit: _Hit) -> date | None:
        """The day from which a proof on file lifts the finding, or None where there is no such proof."""
        proof = self.lifting(kind, rule, scar_id)
        if proof is None:
            return None
        if rule.consequence in ("test_patch", "test_spot") and rule.wait is not None:
            return add(proof.on, rule.wait)
        if rule.floor is not None:
            return add(hit.counted_from, rule.floor) if hit.counted_from is not None else None
        return proof.on

    def clears(self, rule: Rule, scar_id: str | None, hit: _Hit) -> date | None:
        days = [self.lifted_from(proof, rule, scar_id, hit) for proof in rule.lifted_by] + [hit.clear_from]
        return min((day for day in days if day is not None), default=None)


def _places(rule: Rule, told: Answers) -> tuple[Answers | None, ...]:
    if rule.scope.kind == "client":
        return (None,)
    return tuple(scar for scar in told["scars"] if not rule.scope.sites or scar.get("site") in rule.scope.sites)


def _finding(rule: Rule, scar_id: str | None, hit: _Hit, clear_from: date | None) -> Finding:
    withheld = hit.because == "withheld"
    kind = "talk" if withheld else _KIND[rule.consequence]
    floor = add(hit.counted_from, rule.floor) if rule.floor is not None and hit.counted_from is not None else None
    what_lifts = "A private talk, noted as settled." if withheld else rule.what_lifts
    return Finding(
        rule_id=rule.id,
        scope=rule.scope.kind,
        scar_id=scar_id,
        kind=kind,
        because=hit.because,
        title=rule.title,
        reason=rule.reason,
        source=rule.source,
        source_tags=rule.source_tags,
        allows="consultation" if withheld else rule.allows,
        clear_from=clear_from,
        floor_until=floor,
        what_lifts=(NOT_KNOWN if hit.because == "dont_know" else "") + what_lifts,
        lifted_by=("talk",) if withheld else rule.lifted_by,
        client_summary=TALK_WORDS if withheld else rule.client_summary,
        letter_needed=kind == "stop" and "letter" in rule.lifted_by,
        sensitive=rule.sensitive or withheld,
    )


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

