"""What a screening rule is: a trigger, a scope, a consequence and what lifts it, all as plain data.

A rule set has a version, the SHA-256 of its canonical JSON, and can be stored whole and read back, so that an old
screening can be made again under the rules of its day. No rule holds code: the evaluator in `screening` reads them.

Every number is a proposal that the owner can change, with the range seen in the trade and its source. Source tags:
PB public body; LAW statute or regulation; STD published standard; P journal paper; CP common practice, no source;
M from memory, unchecked. None of it is medical advice.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any, Literal

from app.intake.dates import Interval
from app.intake.questions import Condition, conditions_from, fingerprint

# Goes up whenever the same rules and answers could give another result. What a set says decides what is done with it:
# a set stored under version 1 has no `together` and no advice of its own, and so gives its results of then.
# 2: several rules that ask the same unknown thing give one finding; advice is part of the set and has its conditions.
EVALUATOR_VERSION = 2

Consequence = Literal["legal_bar", "stop_until_proof", "wait", "test_patch", "test_spot", "caution", "talk"]
Grade = Literal["none", "consultation", "patch", "spot", "full"]
GRADES: tuple[Grade, ...] = ("none", "consultation", "patch", "spot", "full")
Proof = Literal["letter", "allergy_patch", "test_spot", "photo_pair", "talk", "informed_decision", "guardian_consent"]
# A clinician who "declines" gives no letter; one who "advises_against" has given one, and it says no.
Result = Literal["clear", "reacted", "unclear", "agrees", "declines", "advises_against", "settled"]
Audience = Literal["setup", "medical"]
PackAge = Literal["", "minimum_age", "consent_age"]

# The result that lifts, for each kind of proof.
LIFTING_RESULT: dict[Proof, Result] = {
    "letter": "agrees",
    "allergy_patch": "clear",
    "test_spot": "clear",
    "photo_pair": "clear",
    "talk": "settled",
    "informed_decision": "agrees",
    "guardian_consent": "agrees",
}


@dataclass(frozen=True)
class Trigger:
    """Answer: all conditions hold. Date: and the wait after `date_key` has not passed. Evidence: a result is on file.

    A date trigger's `passes` are choices instead of a date with which nothing is the matter. With `pack_age` the date
    is a date of birth and the length is the country pack's age, so that the country decides, not the studio.
    """

    kind: Literal["answer", "date", "evidence"]
    when: tuple[Condition, ...] = ()
    date_key: str = ""
    passes: tuple[str, ...] = ()
    pack_age: PackAge = ""
    proof: Proof | Literal[""] = ""
    results: tuple[Result, ...] = ()


@dataclass(frozen=True)
class Scope:
    """The whole client, or each scar by itself, if there are sites only those on them."""

    kind: Literal["client", "zone"] = "client"
    sites: tuple[str, ...] = ()


@dataclass(frozen=True)
class AlertRaised:
    """Something to be seen by whoever works on the client; set-up alerts are instructions that all may read. One that
    `lasts` stands although the wait that raises it is over: grafted skin stays grafted."""

    code: str
    words: str
    audience: Audience
    lasts: bool = False


@dataclass(frozen=True)
class Together:
    """Rules with the same key give one finding, not one each, where the answer that all of them read is not known."""

    key: str
    title: str
    reason: str
    what_lifts: str


@dataclass(frozen=True)
class Advice:
    """A sentence for the client before a visit (`after` False) or for later; `when` as in a rule, empty for all."""

    id: str
    words: str
    source: str
    facts_rows: tuple[int, ...]
    when: tuple[Condition, ...] = ()
    after: bool = False
    source_tags: tuple[str, ...] = ()
    range_seen: str = ""
    last_reviewed: str = ""


@dataclass(frozen=True)
class Rule:
    """`allows` is the most that may be done while the rule stands. `wait` is the length of a wait, or how long a test
    must be watched. `floor` is the length below which neither letter nor artist goes. `lifted_by` names each proof
    that is enough by itself. `sensitive` rules show the client no date and send nothing by themselves."""

    id: str
    title: str
    trigger: Trigger
    scope: Scope
    consequence: Consequence
    allows: Grade
    reason: str
    client_summary: str
    what_lifts: str
    source: str
    source_tags: tuple[str, ...]
    last_reviewed: str
    facts_rows: tuple[int, ...] = ()
    wait: Interval | None = None
    floor: Interval | None = None
    range_seen: str = ""
    lifted_by: tuple[Proof, ...] = ()
    alert: AlertRaised | None = None
    sensitive: bool = False
    together: Together | None = None

    def __post_init__(self) -> None:
        timed = self.trigger.kind == "date" and not self.trigger.pack_age
        if self.consequence == "wait" and not timed:
            raise ValueError(f"rule {self.id}: a wait needs a date")
        if timed and self.wait is None:
            raise ValueError(f"rule {self.id}: a date needs a length of time")
        if self.trigger.kind == "evidence" and not (self.trigger.proof and self.trigger.results):
            raise ValueError(f"rule {self.id}: evidence needs its kind and results")
        if self.consequence == "legal_bar" and self.lifted_by:
            raise ValueError(f"rule {self.id}: nothing lifts a legal bar")
        if self.scope.kind == "client" and any(key.startswith("scar.") for key in self.keys):
            raise ValueError(f"rule {self.id}: a rule about one scar must not block the person")

    @property
    def keys(self) -> tuple[str, ...]:
        """The questions that this rule reads."""
        own = (self.trigger.date_key,) if self.trigger.date_key else ()
        return tuple(condition.key for condition in self.trigger.when) + own


@dataclass(frozen=True)
class RuleSet:
    rules: tuple[Rule, ...]
    evaluator_version: int = EVALUATOR_VERSION
    advice: tuple[Advice, ...] = ()

    def __post_init__(self) -> None:
        ids = [rule.id for rule in self.rules]
        if len(ids) != len(set(ids)):
            raise ValueError("two rules have the same id")

    @cached_property
    def version(self) -> str:
        return fingerprint(rule_set_to_dict(self))

    def rule(self, rule_id: str) -> Rule:
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(rule_id)


def rule_set_to_dict(rule_set: RuleSet) -> dict[str, Any]:
    content = asdict(rule_set)
    # What came later is left out where it says nothing, so that a set stored before keeps its fingerprint.
    if not rule_set.advice:
        del content["advice"]
    for stored in content["rules"]:
        if stored["together"] is None:
            del stored["together"]
        if stored["alert"] is not None and not stored["alert"]["lasts"]:
            del stored["alert"]["lasts"]
    return content


def rule_set_from_dict(content: Mapping[str, Any]) -> RuleSet:
    """The rule set that was stored. Raises ValueError or KeyError where it is not one."""
    return RuleSet(
        tuple(_rule_from(stored) for stored in content["rules"]),
        content["evaluator_version"],
        tuple(_advice_from(stored) for stored in content.get("advice", ())),
    )


def _advice_from(stored: Mapping[str, Any]) -> Advice:
    return Advice(
        **{
            **stored,
            "facts_rows": tuple(stored["facts_rows"]),
            "when": conditions_from(stored["when"]),
            "source_tags": tuple(stored["source_tags"]),
        }
    )


def _rule_from(stored: Mapping[str, Any]) -> Rule:
    trigger = stored["trigger"]
    return Rule(
        **{
            **stored,
            "trigger": Trigger(
                **{
                    **trigger,
                    "when": conditions_from(trigger["when"]),
                    "passes": tuple(trigger["passes"]),
                    "results": tuple(trigger["results"]),
                }
            ),
            "scope": Scope(stored["scope"]["kind"], tuple(stored["scope"]["sites"])),
            "source_tags": tuple(stored["source_tags"]),
            "facts_rows": tuple(stored["facts_rows"]),
            "lifted_by": tuple(stored["lifted_by"]),
            "wait": Interval(**stored["wait"]) if stored["wait"] else None,
            "floor": Interval(**stored["floor"]) if stored["floor"] else None,
            "alert": AlertRaised(**stored["alert"]) if stored["alert"] else None,
            "together": Together(**stored["together"]) if stored.get("together") else None,
        }
    )
