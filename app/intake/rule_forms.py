"""What an owner sends about rules and questions, and the change of a rule that a form stands for."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from app.intake.dates import Interval, Unit
from app.intake.question_changes import WORDING_LIMIT, OwnKind
from app.intake.questions import fingerprint
from app.intake.rule_changes import REASON_LIMIT, RuleChange, below_default
from app.intake.rules import Consequence, Rule
from app.platform.forms import BLANK_IS_NONE, Form, Text

NOTE_LIMIT = 500
Reason = Annotated[Text, StringConstraints(min_length=1, max_length=REASON_LIMIT)]
Wording = Annotated[Text, StringConstraints(max_length=WORDING_LIMIT)]


class ChangeRule(Form):
    # Three digits, so that no length of time runs off the calendar while it is being compared.
    amount: Annotated[Annotated[int, Field(ge=1, le=999)] | None, BLANK_IS_NONE] = None
    unit: Unit = "months"
    consequence: Consequence
    reason: Reason
    read_warning: Text = ""


class LeaveOut(Form):
    reason: Reason


class AddQuestion(Form):
    topic: Text
    kind: OwnKind
    required: Literal["yes", "no"]
    wording_en: Wording = ""
    wording_es: Wording = ""
    wording_fr: Wording = ""
    wording_de: Wording = ""
    reason: Reason

    @property
    def wording(self) -> dict[str, str]:
        typed = {"en": self.wording_en, "es": self.wording_es, "fr": self.wording_fr, "de": self.wording_de}
        return {language: words for language, words in typed.items() if words}


class Publish(Form):
    note: Annotated[Text, StringConstraints(min_length=1, max_length=NOTE_LIMIT)]
    mark: Text = ""


def change_of(rule: Rule, form: ChangeRule) -> RuleChange:
    """What the form changes of a shipped rule; what is as it was shipped is no change."""
    wait = Interval(form.amount, form.unit) if form.amount is not None else None
    consequence = form.consequence if form.consequence != rule.consequence else None
    return RuleChange(rule.id, wait if wait != rule.wait else None, consequence, form.reason)


def warning_of(rule: Rule, form: ChangeRule) -> str:
    """The warning beside a change that is shorter or milder than the cautious default; empty for any other."""
    return below_default(rule, change_of(rule, form))


def warning_mark(rule: Rule, form: ChangeRule) -> str:
    """What ticking a warning sends, so that a warning read for one change is not taken for another."""
    change = change_of(rule, form)
    wait = change.wait.words if change.wait is not None else ""
    return fingerprint({"rule": rule.id, "wait": wait, "consequence": change.consequence or ""})[:16]
