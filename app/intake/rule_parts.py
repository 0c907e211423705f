"""Shared parts of the shipped rules: short forms for triggers and scopes, and the words used by several rules."""

from typing import Any

from app.intake.dates import Interval
from app.intake.questions import YES, Condition
from app.intake.rules import AlertRaised, Consequence, Grade, Proof, Rule, Scope, Trigger

LAST_REVIEWED = "2026-11-25"

CLIENT = Scope("client")
ZONE = Scope("zone")

COMMON = "common practice, no source"
MEMORY = "from memory, unchecked"

LETTER_WORDS = (
    "We would like a short letter from your doctor or clinic before any work. We will tell you what it should say."
)
WAIT_WORDS = "Your skin needs a little more time before we start. Waiting now gives you a better result."
SPOT_WORDS = "We would like to try a very small spot first and see how it heals."
PATCH_WORDS = "We would like to do a small allergy test first. A clear test does not rule out a later reaction."
TALK_WORDS = "We would like to talk with you in private before we plan anything. You decide what you want to tell us."
HEAL_WORDS = "We would like to wait until your skin there is calm and healed. Then please answer these questions again."
NOT_HERE_WORDS = "This place is better left as it is. We are happy to explain why and to talk about what else may help."

_ALLOWS: dict[Consequence, Grade] = {
    "legal_bar": "none",
    "stop_until_proof": "consultation",
    "talk": "consultation",
    "wait": "consultation",
    "test_patch": "patch",
    "test_spot": "spot",
    "caution": "full",
}
_LIFTED_BY: dict[Consequence, tuple[Proof, ...]] = {
    "legal_bar": (),
    "stop_until_proof": ("letter",),
    "talk": ("talk",),
    "wait": (),
    "test_patch": ("allergy_patch",),
    "test_spot": ("test_spot",),
    "caution": (),
}
_CLIENT_WORDS: dict[Consequence, str] = {
    "legal_bar": "",
    "stop_until_proof": LETTER_WORDS,
    "talk": TALK_WORDS,
    "wait": WAIT_WORDS,
    "test_patch": PATCH_WORDS,
    "test_spot": SPOT_WORDS,
    "caution": "",
}
_WHAT_LIFTS: dict[Consequence, str] = {
    "legal_bar": "Nothing but the law itself.",
    "stop_until_proof": "A letter from the treating clinician that agrees to this work.",
    "talk": "A private talk, noted as settled.",
    "wait": "Time.",
    "test_patch": "An allergy patch that was placed, watched for the time set, and read as clear.",
    "test_spot": "A test spot that was watched for the time set and read as clear.",
    "caution": "Nothing needs to be lifted: record it and adapt.",
}


def says(key: str, *any_of: str) -> Condition:
    return Condition(key, any_of or (YES,))


def answered(*when: Condition) -> Trigger:
    return Trigger("answer", when)


def dated(date_key: str, *when: Condition, passes: tuple[str, ...] = ()) -> Trigger:
    return Trigger("date", when, date_key=date_key, passes=passes)


def on_sites(*sites: str) -> Scope:
    return Scope("zone", sites)


def setup(code: str, words: str) -> AlertRaised:
    return AlertRaised(code, words, "setup")


def medical(code: str, words: str) -> AlertRaised:
    return AlertRaised(code, words, "medical")


def days(amount: int) -> Interval:
    return Interval(amount, "days")


def weeks(amount: int) -> Interval:
    return Interval(amount, "weeks")


def months(amount: int) -> Interval:
    return Interval(amount, "months")


def shipped(
    id: str, rows: tuple[int, ...], title: str, trigger: Trigger, consequence: Consequence, reason: str, source: str,
    tags: tuple[str, ...] = ("CP",), *, scope: Scope = CLIENT, **more: Any,
) -> Rule:  # fmt: skip
    """A shipped rule; what is not said follows from its consequence."""
    defaults: dict[str, Any] = {
        "allows": _ALLOWS[consequence],
        "lifted_by": _LIFTED_BY[consequence],
        "client_summary": _CLIENT_WORDS[consequence],
        "what_lifts": _WHAT_LIFTS[consequence],
        "last_reviewed": LAST_REVIEWED,
    }
    return Rule(
        id=id, title=title, trigger=trigger, scope=scope, consequence=consequence, reason=reason, source=source,
        source_tags=tags, facts_rows=rows, **{**defaults, **more},
    )  # fmt: skip
