"""Shared parts of the shipped rules: short forms for triggers and scopes, and the words used by several rules."""

from typing import Any

from app.intake.dates import Interval
from app.intake.questions import YES, Condition
from app.intake.rules import AlertRaised, Consequence, Grade, Proof, Rule, Scope, Together, Trigger

LAST_REVIEWED = "2026-11-25"

CLIENT = Scope("client")
ZONE = Scope("zone")

COMMON = "common practice, no source"
MEMORY = "from memory, unchecked"
NONE_SEEN = "no range seen"

LETTER_WORDS = (
    "We would like a short letter from your doctor or clinic before any work. We will tell you what it should say."
)
WAIT_WORDS = "Your skin needs a little more time before we start. Waiting now gives you a better result."
SPOT_WORDS = "We would like to try a very small spot first and see how it heals."
PATCH_WORDS = "We would like to do a small allergy test first. A clear test does not rule out a later reaction."
TALK_WORDS = "We would like to talk with you in private before we plan anything. You decide what you want to tell us."
HEAL_WORDS = "We would like to wait until your skin there is calm and healed. Then please answer these questions again."
NOT_HERE_WORDS = "This place is better left as it is. We are happy to explain why and to talk about what else may help."

UNANSWERED_WORDS = "A few questions still need an answer before we can plan."
CARE_WORDS = "We take what you told us into account when we work with you."

# Where one answer that is not known would set off a rule for each thing it could be: one finding, not ten.
PROCEDURES_UNKNOWN = Together(
    "procedures",
    "What was done there is not known",
    "The client does not know what was done there in the last year. Some of it needs up to 12 weeks, so there is no "
    "date until it is found out.",
    "The client finds out, from the clinic or an old bill, and answers again.",
)
CONDITIONS_UNKNOWN = Together(
    "skin_conditions",
    "Skin conditions are not known",
    "The client does not know whether a doctor named a skin condition. Vitiligo, sarcoidosis and lupus can flare up "
    "with needling.",
    "A letter from a clinician who knows the client's skin and agrees to this work; or a new answer.",
)
HBA1C_UNKNOWN = Together(
    "hba1c_level",
    "Long-term sugar value is not known",
    "One source accepts below 8 and refuses from 9, so the value has to be found out.",
    "A clinician's letter that gives a value below 9 and agrees to this work.",
)

# What follows from a consequence where a rule says nothing else; a changed consequence takes these as well.
ALLOWS: dict[Consequence, Grade] = {
    "legal_bar": "none",
    "stop_until_proof": "consultation",
    "talk": "consultation",
    "wait": "consultation",
    "test_patch": "patch",
    "test_spot": "spot",
    "caution": "full",
}
LIFTED_BY: dict[Consequence, tuple[Proof, ...]] = {
    "legal_bar": (),
    "stop_until_proof": ("letter",),
    "talk": ("talk",),
    "wait": (),
    "test_patch": ("allergy_patch",),
    "test_spot": ("test_spot",),
    "caution": (),
}
CLIENT_WORDS: dict[Consequence, str] = {
    "legal_bar": "",
    "stop_until_proof": LETTER_WORDS,
    "talk": TALK_WORDS,
    "wait": WAIT_WORDS,
    "test_patch": PATCH_WORDS,
    "test_spot": SPOT_WORDS,
    "caution": CARE_WORDS,
}
WHAT_LIFTS: dict[Consequence, str] = {
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
        "allows": ALLOWS[consequence],
        "lifted_by": LIFTED_BY[consequence],
        "client_summary": CLIENT_WORDS[consequence],
        "what_lifts": WHAT_LIFTS[consequence],
        "range_seen": NONE_SEEN,
        "last_reviewed": LAST_REVIEWED,
    }
    return Rule(
        id=id, title=title, trigger=trigger, scope=scope, consequence=consequence, reason=reason, source=source,
        source_tags=tags, facts_rows=rows, **{**defaults, **more},
    )  # fmt: skip
