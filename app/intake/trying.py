"""One rule tried on the person or on one scar: whether it is set off, what lifts it, and from which day it is clear.

A rule whose conditions hold gives a finding, unless a proof on file lifts it. "Don't know" counts as yes, with no date
on which it ends. A withheld answer gives a private talk: neither a pass nor a bar. The day a wait ends is clear.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.intake.dates import add, age, birthday, counts_from, read_day
from app.intake.findings import Because, Evidence, Finding, FindingKind
from app.intake.questions import PREFER_NOT, Answers, answer, state
from app.intake.rule_parts import TALK_WORDS
from app.intake.rules import LIFTING_RESULT, Proof, Rule, Trigger
from app.studio.country import CountryPack

_KIND: dict[str, FindingKind] = {
    "legal_bar": "legal_bar",
    "stop_until_proof": "stop",
    "wait": "wait",
    "test_patch": "test",
    "test_spot": "test",
    "caution": "caution",
    "talk": "talk",
}
NOT_KNOWN = "Not known, so it counts as yes until it is found out. "


@dataclass(frozen=True)
class Hit:
    because: Because
    counted_from: date | None = None
    clear_from: date | None = None


@dataclass(frozen=True)
class Case:
    told: Answers
    on: date
    answered_on: date
    country: CountryPack
    evidence: tuple[Evidence, ...]

    def try_rule(self, rule: Rule, scar: Answers | None) -> tuple[Finding | None, bool]:
        """The finding, if it stands, and whether the rule was triggered at all (its alert holds even when lifted)."""
        hit = self.hit(rule, scar)
        if hit is None:
            return None, self.alert_lasts(rule, scar)
        scar_id = scar["id"] if scar is not None else None
        if hit.because == "withheld":
            settled = self.lifting("talk", rule, scar_id) is not None
            return (None if settled else _finding(rule, scar_id, hit, None)), False
        for proof in rule.lifted_by:
            until = self.lifted_from(proof, rule, scar_id, hit)
            if until is not None and until <= self.on:
                return None, True
        return _finding(rule, scar_id, hit, self.clears(rule, scar_id, hit)), True

    def alert_lasts(self, rule: Rule, scar: Answers | None) -> bool:
        """Whether what a wait was about still is so, though the wait is over."""
        lasts = rule.alert is not None and rule.alert.lasts and rule.trigger.kind == "date"
        return lasts and state(rule.trigger.when, self.told, scar) == "yes"

    def hit(self, rule: Rule, scar: Answers | None) -> Hit | None:
        trigger = rule.trigger
        if trigger.kind == "evidence":
            return self.evidence_hit(trigger, scar["id"] if scar is not None else None)
        held = state(trigger.when, self.told, scar)
        if held in ("no", "missing"):  # What is missing has its own finding.
            return None
        if held == "withheld":
            return Hit("withheld")
        if trigger.kind == "date":
            hit = self.date_hit(rule, scar)
            if held == "yes" or (hit is None and answer(trigger.date_key, self.told, scar) is not None):
                return hit  # Even where it is not known whether it happened: a time that has passed has passed.
        return Hit("answer" if held == "yes" else "dont_know")

    def date_hit(self, rule: Rule, scar: Answers | None) -> Hit | None:
        trigger = rule.trigger
        value = answer(trigger.date_key, self.told, scar)
        if value is None or value in trigger.passes:
            return None
        if trigger.pack_age:
            return self.age_hit(read_day(value), trigger.pack_age)
        if value == PREFER_NOT:
            return Hit("withheld")
        start = counts_from(value, self.answered_on)
        if start is None or rule.wait is None:
            return Hit("dont_know" if value == "dont_know" else "answer")
        clear_from = add(start, rule.wait)
        return Hit("answer", start, clear_from) if self.on < clear_from else None

    def age_hit(self, born_on: date, which: Literal["minimum_age", "consent_age"]) -> Hit | None:
        minimum = self.country.minimum_age
        years = minimum if which == "minimum_age" else self.country.consent_age
        if years is None or age(born_on, self.on) >= years:
            return None
        if which == "consent_age" and minimum is not None and age(born_on, self.on) < minimum:
            return None  # The legal bar says all there is to say.
        return Hit("age", born_on, birthday(born_on, years))

    def evidence_hit(self, trigger: Trigger, scar_id: str | None) -> Hit | None:
        # One bad result counts for good, even if a later test with something else was clear.
        if trigger.proof and any(proof.result in trigger.results for proof in self.of_kind(trigger.proof, scar_id)):
            return Hit("evidence")
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

    def lifted_from(self, kind: Proof, rule: Rule, scar_id: str | None, hit: Hit) -> date | None:
        """The day from which a proof on file lifts the finding, or None where there is no such proof."""
        proof = self.lifting(kind, rule, scar_id)
        if proof is None:
            return None
        if rule.consequence in ("test_patch", "test_spot", "talk") and rule.wait is not None:
            return add(proof.on, rule.wait)
        if rule.floor is not None:
            return add(hit.counted_from, rule.floor) if hit.counted_from is not None else None
        return proof.on

    def clears(self, rule: Rule, scar_id: str | None, hit: Hit) -> date | None:
        days = [self.lifted_from(proof, rule, scar_id, hit) for proof in rule.lifted_by] + [hit.clear_from]
        return min((day for day in days if day is not None), default=None)


def _finding(rule: Rule, scar_id: str | None, hit: Hit, clear_from: date | None) -> Finding:
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
