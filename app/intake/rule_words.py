"""A screening rule in sentences that the studio's owner can check: what triggers it, what it touches, what lifts it.

Pure: from rules and questions to words. Nothing is decided here.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from app.intake.dates import Interval, read_partial
from app.intake.questions import ANY_TEXT, DONT_KNOW, PREFER_NOT, VISIT, Condition, Question, QuestionSet
from app.intake.rule_parts import NONE_SEEN
from app.intake.rules import Advice, Consequence, Grade, Proof, Result, Rule
from app.intake.visit_list import VISIT_SET
from app.records.sites import SITES

CONSEQUENCE_WORDS: dict[Consequence, str] = {
    "legal_bar": "A legal bar: nobody can go past it",
    "stop_until_proof": "Stops until a stated proof",
    "wait": "Waits until a date",
    "test_patch": "An allergy patch first",
    "test_spot": "A test spot first",
    "caution": "A caution to work with",
    "talk": "A private talk first",
}
ALLOWS_WORDS: dict[Grade, str] = {
    "none": "nothing",
    "consultation": "a consultation",
    "patch": "an allergy patch",
    "spot": "a test spot",
    "full": "full work",
}
PROOF_WORDS: dict[Proof, str] = {
    "letter": "a clinician’s letter that agrees",
    "allergy_patch": "an allergy patch read as clear",
    "test_spot": "a test spot read as clear",
    "photo_pair": "two dated photos",
    "talk": "a private talk, noted as settled",
    "informed_decision": "the client’s informed decision, after a letter was asked for and declined",
    "guardian_consent": "the written consent of a guardian",
}
RESULT_WORDS: dict[Result, str] = {
    "clear": "clear",
    "reacted": "reacted",
    "unclear": "unclear",
    "agrees": "agrees",
    "declines": "declines",
    "advises_against": "advises against it",
    "settled": "settled",
}
EVIDENCE_WORDS: dict[str, str] = {"allergy_patch": "An allergy patch", "test_spot": "A test spot"}
TAG_WORDS: dict[str, str] = {
    "PB": "public body",
    "LAW": "statute or regulation",
    "STD": "published standard",
    "P": "journal paper",
    "CP": "common practice, no source",
    "M": "from memory, unchecked",
}
# By topic of the first question that a rule reads. These are the owner's headings, not those that a client sees.
GROUP_WORDS: dict[str, str] = {
    "you": "Age, and how the client may be reached",
    "skin": "Skin",
    "scar_where": "The scar: kind and age",
    "scar_now": "The scar as it is now",
    "scar_before": "What happened there before",
    "scar_care": "Self-harm, and scars that need care",
    "health": "Health",
    "medicines": "Medicines and creams",
    "allergies": "Allergies",
    "family": "Pregnancy and family",
    "lately": "The last few weeks",
    "hopes": "Hopes and distress",
}
ALWAYS_GROUP = "For every client"
EVIDENCE_GROUP = "After a patch or a test spot"
VISIT_GROUP = "Before each session"
CHANGED_BY_STUDIO = "; changed by the studio: "  # as `rule_changes` writes it into the source
_SITE_WORDS = {site.code: site.words for site in SITES}


@dataclass(frozen=True)
class RuleWords:
    """One rule, whole, in the sentences of its page."""

    trigger: tuple[str, ...]
    touches: str
    consequence: str
    wait: str
    floor: str
    lifts: str
    alert: str
    together: str
    source: str
    seen: str
    studio_reason: str


def rule_words(rule: Rule, questions: QuestionSet) -> RuleWords:
    return RuleWords(
        trigger=trigger_words(rule, questions),
        touches=touches_words(rule),
        consequence=consequence_words(rule),
        wait=wait_words(rule),
        floor=f"Neither a letter nor the artist goes below {rule.floor.words}." if rule.floor is not None else "",
        lifts=lifts_words(rule),
        alert=_alert_words(rule),
        together=f"Together with others as one finding: {rule.together.title}." if rule.together is not None else "",
        source=source_words(rule),
        seen=seen_words(rule),
        studio_reason=studio_reason(rule),
    )


def group_of(rule: Rule, questions: QuestionSet) -> str:
    """The heading under which a rule stands in the list."""
    if rule.trigger.kind == "evidence":
        return EVIDENCE_GROUP
    keys = [condition.key for condition in rule.trigger.when] or [rule.trigger.date_key]
    if not keys[0]:
        return ALWAYS_GROUP
    if keys[0].startswith(VISIT):
        return VISIT_GROUP
    question = _question(keys[0], questions)
    return GROUP_WORDS.get(question.topic, question.topic) if question is not None else ALWAYS_GROUP


def group_order(questions: QuestionSet) -> tuple[str, ...]:
    """The headings in the order in which a client meets what they are about."""
    topics = [GROUP_WORDS[topic.key] for topic in questions.topics if topic.key in GROUP_WORDS]
    return tuple(dict.fromkeys([*topics, ALWAYS_GROUP, EVIDENCE_GROUP, VISIT_GROUP]))


def trigger_words(rule: Rule, questions: QuestionSet) -> tuple[str, ...]:
    """One sentence for each condition, all of which must hold."""
    trigger = rule.trigger
    lines = [_condition_words(condition, questions) for condition in trigger.when]
    if trigger.kind == "evidence":
        what = EVIDENCE_WORDS.get(trigger.proof, trigger.proof)
        lines.append(f"{what} is on file that was read as {_or(RESULT_WORDS[result] for result in trigger.results)}.")
    elif trigger.pack_age:
        age = "the youngest age" if trigger.pack_age == "minimum_age" else "the age of a person’s own consent"
        lines.append(f"The client is younger than {age} of the country where the studio stands.")
    elif trigger.date_key:
        length = rule.wait.words if rule.wait is not None else "the time set"
        lines.append(f"{_asked(trigger.date_key, questions)} names a day less than {length} ago.")
        if trigger.passes:
            passes = _option_words(trigger.date_key, trigger.passes, questions)
            lines.append(f"The answer {passes} passes.")
    return (*lines, *_unknown_words(rule, questions)) if lines else ("It holds for every client.",)


def touches_words(rule: Rule) -> str:
    if rule.scope.kind == "client":
        return "The client: it holds for every scar."
    if rule.scope.sites:
        sites = ", ".join(_SITE_WORDS.get(site, site).lower() for site in rule.scope.sites)
        return f"One scar, and only on these places: {sites}. Other scars go on."
    return "One scar: the one that the answer is about. Other scars go on."


def consequence_words(rule: Rule) -> str:
    may = "nothing is done" if rule.allows == "none" else f"at most {ALLOWS_WORDS[rule.allows]}"
    return f"{_named(rule)}. While it stands, {may}."


def _named(rule: Rule) -> str:
    if rule.consequence == "stop_until_proof" and not rule.lifted_by:
        return "Stops, and no proof lifts it"
    return CONSEQUENCE_WORDS[rule.consequence]


def wait_words(rule: Rule) -> str:
    """How long: a wait, or the watch over a test; empty where time plays no part."""
    if rule.wait is None:
        return ""
    if rule.consequence in ("test_patch", "test_spot"):
        return f"Watched for {rule.wait.words}."
    if rule.consequence == "talk":
        return f"Work at the earliest {rule.wait.words} after the talk."
    return f"{rule.wait.words[:1].upper()}{rule.wait.words[1:]}, counted from the last day that the answer can mean."


def short_words(rule: Rule) -> str:
    """The consequence and its number in one line, as the list has it."""
    words = _named(rule)
    if rule.wait is None:
        return f"{words}."
    if rule.consequence == "wait":
        return f"Waits {rule.wait.words}."
    if rule.consequence == "talk":
        return f"{words}; work {rule.wait.words} after it."
    return (
        f"{words}, watched for {rule.wait.words}."
        if rule.consequence.startswith("test")
        else f"{words}; {rule.wait.words}."
    )


def lifts_words(rule: Rule) -> str:
    """What lifts it in its own words, and the proofs that the screening page then offers."""
    proofs = _or(PROOF_WORDS[proof] for proof in rule.lifted_by)
    return f"{rule.what_lifts} Taken as proof: {proofs}." if proofs else rule.what_lifts


def interval_words(wait: Interval | None) -> str:
    return wait.words if wait is not None else "no length of time"


def source_words(item: Rule | Advice) -> str:
    """The source with what its tags mean, each meaning once; why the studio changed it stands apart."""
    source = item.source.split(CHANGED_BY_STUDIO)[0]
    said = source.lower()
    more = [words for words in (TAG_WORDS.get(tag, tag) for tag in item.source_tags) if words.lower() not in said]
    return f"{source[:1].upper()}{source[1:]}" + (f" ({', '.join(more)})" if more else "")


def studio_reason(rule: Rule) -> str:
    """Why the studio changed the rule, as it goes with each finding; empty for a rule as shipped."""
    return rule.source.partition(CHANGED_BY_STUDIO)[2]


def seen_words(item: Rule | Advice) -> str:
    return "No range seen." if item.range_seen == NONE_SEEN else f"Seen: {item.range_seen}."


def changed_fields(before: Rule, after: Rule) -> tuple[tuple[str, str, str], ...]:
    """What differs between two forms of one rule: what it is, as it was, as it is."""
    pairs = [
        ("Consequence", consequence_words(before), consequence_words(after)),
        ("Length of time", interval_words(before.wait), interval_words(after.wait)),
        ("Not below", interval_words(before.floor), interval_words(after.floor)),
        ("What it touches", touches_words(before), touches_words(after)),
        ("What lifts it", lifts_words(before), lifts_words(after)),
        ("Title", before.title, after.title),
        ("Reason for the artist", before.reason, after.reason),
        ("Words for the client", before.client_summary, after.client_summary),
        ("Source", source_words(before), source_words(after)),
        ("The studio’s reason", studio_reason(before), studio_reason(after)),
        ("Alert", _alert_words(before), _alert_words(after)),
    ]
    found = tuple((label, was, now) for label, was, now in pairs if was != now)
    if found or before == after:
        return found
    return (("The rule", "as it was", "other details, which its own page shows"),)


def _alert_words(rule: Rule) -> str:
    if rule.alert is None:
        return ""
    audience = "for everybody who sets up" if rule.alert.audience == "setup" else "for artists and the owner"
    return f"{rule.alert.words} ({audience})"


def _unknown_words(rule: Rule, questions: QuestionSet) -> list[str]:
    asked = [question for key in rule.keys if (question := _question(key, questions)) is not None]
    lines = []
    if any(question.dont_know or _has(question, DONT_KNOW) for question in asked):
        lines.append("“I don’t know” counts as yes, with no date, until it is found out.")
    if any(question.prefer_not or _has(question, PREFER_NOT) for question in asked):
        lines.append("“I would rather not say” leads to a private talk instead.")
    return lines


def _has(question: Question, key: str) -> bool:
    return any(option.key == key for option in question.choices)


def _condition_words(condition: Condition, questions: QuestionSet) -> str:
    if condition.any_of == (ANY_TEXT,):
        return f"{_asked(condition.key, questions)} has any answer."
    return (
        f"{_asked(condition.key, questions)} is answered {_option_words(condition.key, condition.any_of, questions)}."
    )


def _asked(key: str, questions: QuestionSet) -> str:
    question = _question(key, questions)
    return f"“{question.wording}”" if question is not None else f"The question {key.replace('_', ' ')}"


def _option_words(key: str, values: tuple[str, ...], questions: QuestionSet) -> str:
    question = _question(key, questions)
    known = {option.key: option.words for option in question.choices} if question is not None else {}
    return _or(f"“{known.get(value, value)}”" for value in values)


def _question(key: str, questions: QuestionSet) -> Question | None:
    # The short questions before a session stand in a set of their own, which no owner changes.
    every = (*questions.questions, *VISIT_SET.questions)
    return next((question for question in every if question.key == key), None)


def _or(words: Iterable[str]) -> str:
    every = list(words)
    return every[0] if len(every) == 1 else f"{', '.join(every[:-1])} or {every[-1]}" if every else ""


def reviewed_words(text: str) -> str:
    """The day of a review in words; as it stands where it is no day."""
    try:
        return read_partial(text).words
    except ValueError:
        return text
