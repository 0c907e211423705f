"""The rules as shipped, and the advice for preparing: small habits that are no findings."""

from dataclasses import dataclass

from app.intake.questions import Condition
from app.intake.rule_list_person import PERSON_RULES
from app.intake.rule_list_scar import SCAR_RULES
from app.intake.rules import RuleSet

RULE_SET = RuleSet(PERSON_RULES + SCAR_RULES)


@dataclass(frozen=True)
class Advice:
    """A sentence for the client before a visit (`after` False) or for later; `when` as in a rule, empty for all."""

    id: str
    words: str
    source: str
    facts_rows: tuple[int, ...]
    when: tuple[Condition, ...] = ()
    after: bool = False


PREPARATION: tuple[Advice, ...] = (
    # 24 h; some 48 h. Some US states ask for a statement that the client is sober (law); otherwise common practice.
    Advice("sober", "No alcohol and no drugs from 24 hours before your visit.", "US state law; common practice", (52,)),
    # 24 to 48 h; default 24 h.
    Advice("caffeine", "If you can, no coffee or energy drinks in the 24 hours before.", "common practice", (61,)),
    # 24 h to 7 days; default 7 days for supplements, 3 days for painkillers nobody prescribed.
    Advice("supplements", "Leave out fish oil and vitamin E for 7 days before, if nobody prescribed them.",
           "common practice", (33,)),
    Advice("painkillers", "Leave out aspirin and ibuprofen for 3 days before, if nobody prescribed them. Never stop a "
           "medicine that a doctor gave you.", "common practice", (33,)),
    # 48 to 72 h; default 72 h; shave the day before, not on the day.
    Advice("hair", "No waxing or threading there for 3 days before. Shave the day before, not on the day.",
           "common practice", (69,)),
    Advice("eat", "Eat something before you come, and wear loose clothes.", "common practice", ()),
    # UK 4 months, Australia 4 months, US 3 months or none: so the client asks.
    Advice("blood_donation", "Blood services ask you to wait after work on the skin, often 3 to 4 months. Ask yours.",
           "public bodies as reported", (73,), after=True),
)  # fmt: skip
