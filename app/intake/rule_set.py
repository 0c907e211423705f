"""The rules as shipped, and the advice for preparing: small habits that are no findings."""

from collections.abc import Iterator

from app.intake.findings import NEXT_STEPS_TITLE
from app.intake.question_list import CAUTION
from app.intake.questions import Condition
from app.intake.rule_list_person import PERSON_RULES
from app.intake.rule_list_scar import SCAR_RULES
from app.intake.rule_list_visit import VISIT_RULES
from app.intake.rule_parts import LAST_REVIEWED, TALK_WORDS, UNANSWERED_WORDS, says
from app.intake.rules import Advice, RuleSet


def _advice(
    id: str, rows: tuple[int, ...], words: str, source: str, tags: tuple[str, ...], seen: str, *when: Condition,
    after: bool = False,
) -> Advice:  # fmt: skip
    return Advice(id, words, source, rows, when, after, tags, seen, LAST_REVIEWED)


# Default 24 hours; some US states ask for a statement that the client is sober (law). The rule `visit_affected` asks.
PREPARATION: tuple[Advice, ...] = (
    _advice("sober", (52,), "No alcohol and no drugs from 24 hours before your visit.", "US state law; common practice",
            ("LAW", "CP"), "24 hours; some 48 hours"),
    _advice("caffeine", (61,), "If you can, no coffee or energy drinks in the 24 hours before.", "common practice",
            ("CP",), "24 to 48 hours"),
    _advice("supplements", (33,), "Leave out fish oil and vitamin E for 7 days before, if nobody prescribed them.",
            "common practice", ("CP",), "24 hours to 7 days"),
    _advice("painkillers", (33,), "Leave out aspirin and ibuprofen for 3 days before, if nobody prescribed them. Never "
            "stop a medicine that a doctor gave you.", "common practice", ("CP",), "24 hours to 7 days"),
    _advice("hair", (69,), "No waxing or threading there for 3 days before. Shave the day before, not on the day.",
            "common practice", ("CP",), "48 to 72 hours"),
    _advice("eat", (), "Eat something before you come, and wear loose clothes.", "common practice", ("CP",),
            "no range seen"),
    # UK 4 months, Australia 4 months, US 3 months or none: so the client asks.
    _advice("blood_donation", (73,), "Blood services ask you to wait after work on the skin, often 3 to 4 months. Ask "
            "yours.", "public bodies as reported", ("PB",), "none to 4 months", after=True),
    _advice("retinoid_after", (55,), "No vitamin A cream there for 30 days after the work. If a doctor gave it to you, "
            "ask them first.", "common practice", ("CP",), "7 days to 8 weeks before, 30 days after",
            says("scar.retinoid_cream"), after=True),
)  # fmt: skip

# What stood beside every rule set of the first version, in its words of then.
FIRST_ADVICE = PREPARATION[:7]

RULE_SET = RuleSet(PERSON_RULES + SCAR_RULES + VISIT_RULES, advice=PREPARATION)


def client_texts(rule_set: RuleSet = RULE_SET) -> Iterator[str]:
    """Every sentence of the rules that a client can read, each once, to be translated."""
    every = [NEXT_STEPS_TITLE, CAUTION, UNANSWERED_WORDS, TALK_WORDS]
    every += [rule.client_summary for rule in rule_set.rules] + [advice.words for advice in rule_set.advice]
    yield from dict.fromkeys(text for text in every if text)
