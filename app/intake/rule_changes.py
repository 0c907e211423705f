"""What an owner may change in the shipped rules, within which bounds, and what they are warned of.

The owner can check it by hand. What the law sets stays as it is. A change needs a reason, which then stands with the
finding. A wait may be made longer or shorter, but not below the length that nobody goes below, and not above 60 months.
A consequence may be another one that makes sense for what sets the rule off; a rule that no proof lifts may not be made
milder, since it stands for skin or a person that must not be worked on. Whatever is milder or shorter than the cautious
default comes with a warning.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, get_args

from app.intake.dates import Interval, add
from app.intake.rule_parts import ALLOWS, CLIENT_WORDS, LIFTED_BY, WHAT_LIFTS
from app.intake.rules import Consequence, Rule, RuleSet

LONGEST_WAIT = Interval(60, "months")  # A bound against slips of the pen; common practice, no source.
REASON_LIMIT = 1000
# Watching a test takes time: where a rule had none, these are taken. Row 74: 24 to 48 h; row 7: 12 weeks, from memory.
_WATCH: dict[str, Interval] = {"test_patch": Interval(2, "days"), "test_spot": Interval(12, "weeks")}
# From the mildest to the strictest, by how much may be done while the rule stands and by what ends it.
_MILD_TO_STRICT: tuple[Consequence, ...] = (
    "caution", "test_spot", "test_patch", "wait", "talk", "stop_until_proof", "legal_bar",
)  # fmt: skip
CONSEQUENCE_WORDS: dict[Consequence, str] = {
    "caution": "a caution",
    "test_spot": "a test spot first",
    "test_patch": "an allergy patch first",
    "wait": "a wait",
    "talk": "a private talk first",
    "stop_until_proof": "a stop until proof",
    "legal_bar": "a legal bar",
}

IS_LAW = "This is the law of the country. It cannot be changed here."
OTHER_RULE = "This change belongs to another rule."
NO_REASON = "Say why you change this rule."
LONG_REASON = "The reason is too long. Please shorten it."
NOTHING_CHANGED = "Nothing is changed. Choose another length or another consequence."
NO_WAIT_HERE = "This rule has no length of time to change."
TOO_LONG_WAIT = "The longest time that can be set is 60 months."
BELOW_FLOOR = "This is shorter than the time below which nobody goes."
NOT_FOR_THIS_RULE = "This consequence does not fit what sets the rule off."
NOTHING_LIFTS_IT = "No proof lifts this rule, so it cannot be made milder."
SHORTER = "Shorter than the cautious default. You answer for it, and the reason stands with each finding."
MILDER = "Milder than the cautious default. You answer for it, and the reason stands with each finding."
SHORTER_AND_MILDER = (
    "Shorter and milder than the cautious default. You answer for it, and the reason stands with each finding."
)


@dataclass(frozen=True)
class RuleChange:
    """What an owner sets in place of a rule's default; None keeps what was shipped."""

    rule_id: str
    wait: Interval | None
    consequence: Consequence | None
    reason: str


def rule_change_to_dict(change: RuleChange) -> dict[str, Any]:
    wait = {"amount": change.wait.amount, "unit": change.wait.unit} if change.wait is not None else None
    return {"rule_id": change.rule_id, "wait": wait, "consequence": change.consequence, "reason": change.reason}


def rule_change_from_dict(content: Mapping[str, Any]) -> RuleChange:
    """The change that was stored. Raises ValueError or KeyError where it is not one."""
    if content["consequence"] is not None and content["consequence"] not in get_args(Consequence):
        raise ValueError(f"there is no consequence {content['consequence']}")
    wait = Interval(**content["wait"]) if content["wait"] is not None else None
    return RuleChange(content["rule_id"], wait, content["consequence"], content["reason"])


def is_law(rule: Rule) -> bool:
    """Whether the rule is set by the country pack and so by nobody in the studio."""
    return rule.consequence == "legal_bar" or bool(rule.trigger.pack_age)


def consequences_for(rule: Rule) -> tuple[Consequence, ...]:
    """The consequences that make sense for what sets the rule off, the shipped one among them, strictest last."""
    if is_law(rule):
        return (rule.consequence,)
    if rule.trigger.kind == "answer" and not rule.trigger.when:
        return (rule.consequence,)  # It holds for everybody: anything stricter would close the studio.
    fitting: set[Consequence] = {"caution", "talk", "stop_until_proof", rule.consequence}
    if rule.trigger.kind == "date":
        fitting.add("wait")
    elif rule.trigger.kind == "answer":
        # A test spot speaks for the scar it was placed in, a patch for the person.
        fitting |= {"test_patch", "test_spot"} if rule.scope.kind == "zone" else {"test_patch"}
    else:
        fitting.discard("caution")  # A test that went badly is never only something to be careful with.
    if rule.consequence == "stop_until_proof" and not rule.lifted_by:
        fitting = {rule.consequence}
    return tuple(item for item in _MILD_TO_STRICT if item in fitting)


def problems(rule: Rule, change: RuleChange) -> tuple[str, ...]:
    """What stands against a change of a shipped rule, in plain words; empty where it can be made."""
    if rule.id != change.rule_id:
        return (OTHER_RULE,)
    if is_law(rule):
        return (IS_LAW,)
    found: list[str] = []
    if not change.reason.strip():
        found.append(NO_REASON)
    if len(change.reason) > REASON_LIMIT:
        found.append(LONG_REASON)
    if change.wait in (None, rule.wait) and change.consequence in (None, rule.consequence):
        found.append(NOTHING_CHANGED)
    if change.wait is not None:
        found += _wait_problems(rule, change)
    if change.consequence is not None and change.consequence not in consequences_for(rule):
        absolute = rule.consequence == "stop_until_proof" and not rule.lifted_by
        found.append(NOTHING_LIFTS_IT if absolute else NOT_FOR_THIS_RULE)
    return tuple(found)


def _wait_problems(rule: Rule, change: RuleChange) -> list[str]:
    assert change.wait is not None
    if rule.trigger.kind != "date" and (change.consequence or rule.consequence) not in _WATCH:
        return [NO_WAIT_HERE]
    if is_shorter(LONGEST_WAIT, change.wait):
        return [TOO_LONG_WAIT]
    return [BELOW_FLOOR] if rule.floor is not None and is_shorter(change.wait, rule.floor) else []


def below_default(rule: Rule, change: RuleChange) -> str:
    """The warning that belongs beside a change which is shorter or milder than what was shipped; else empty."""
    shorter = change.wait is not None and rule.wait is not None and is_shorter(change.wait, rule.wait)
    milder = change.consequence is not None and _strictness(change.consequence) < _strictness(rule.consequence)
    if shorter and milder:
        return SHORTER_AND_MILDER
    return SHORTER if shorter else MILDER if milder else ""


def _strictness(consequence: Consequence) -> int:
    return _MILD_TO_STRICT.index(consequence)


# Months differ in length: the first day of each month of a leap cycle finds every case that could differ.
_STARTS = tuple(date(year, month, 1) for year in range(2024, 2028) for month in range(1, 13))


def is_shorter(one: Interval, other: Interval) -> bool:
    """Whether one length of time can end before another that began on the same day."""
    return any(add(start - timedelta(days=1), one) < add(start - timedelta(days=1), other) for start in _STARTS)


def changed(rule_set: RuleSet, changes: Iterable[RuleChange]) -> RuleSet:
    """The rule set with an owner's changes. Raises ValueError where one is out of bounds or its rule is not there."""
    by_id = {change.rule_id: change for change in changes}
    for rule_id, change in by_id.items():
        try:
            against = problems(rule_set.rule(rule_id), change)
        except KeyError:
            raise ValueError(f"there is no rule {rule_id}") from None
        if against:
            raise ValueError(f"rule {rule_id}: {' '.join(against)}")
    rules = tuple(_changed(rule, by_id[rule.id]) if rule.id in by_id else rule for rule in rule_set.rules)
    return replace(rule_set, rules=rules)


def _changed(rule: Rule, change: RuleChange) -> Rule:
    source = f"{rule.source}; changed by the studio: {change.reason.strip()}"
    to = change.consequence
    if to is None or to == rule.consequence:
        return replace(rule, wait=change.wait or rule.wait, source=source)
    return replace(
        rule,
        consequence=to,
        allows=ALLOWS[to],
        lifted_by=LIFTED_BY[to],
        client_summary=CLIENT_WORDS[to],
        what_lifts=WHAT_LIFTS[to],
        wait=change.wait or rule.wait or _WATCH.get(to),
        source=source,
    )
