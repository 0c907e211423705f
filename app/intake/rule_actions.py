"""Changing rules and questions. A change counts from the next publication; a taken-back one keeps its history."""

from sqlmodel import Session, col, select

from app.intake import publishing
from app.intake.models import QuestionChange, RuleChange
from app.intake.question_changes import NO_TOPIC, OwnQuestion, hide_problems, own_problems, own_question_to_dict
from app.intake.question_list import QUESTION_SET
from app.intake.questions import OWN
from app.intake.rule_changes import (
    BELOW_FLOOR,
    IS_LAW,
    LONG_REASON,
    NO_REASON,
    NO_WAIT_HERE,
    TOO_LONG_WAIT,
    problems,
    rule_change_to_dict,
)
from app.intake.rule_forms import AddQuestion, ChangeRule, change_of, warning_mark, warning_of
from app.intake.rule_set import RULE_SET
from app.platform import clock
from app.platform.audit import Actor, audited, canonical
from app.platform.forms import Refused
from app.platform.languages import LANGUAGES
from app.studio import queries as studio_queries
from app.studio.access import NotFound

READ_THE_WARNING = "Read the warning and tick it, or choose another value."
NOT_IN_STUDIO_LANGUAGE = "Write it in the language of the studio at least."
STANDS_NO_MORE = "This change does not stand any more."
_FIELD_OF = {
    NO_REASON: "reason",
    LONG_REASON: "reason",
    NO_WAIT_HERE: "amount",
    TOO_LONG_WAIT: "amount",
    BELOW_FLOOR: "amount",
    IS_LAW: "_change",
}


@audited("intake.rule.changed")
def change_rule(db: Session, rule_id: str, form: ChangeRule, *, by: Actor) -> RuleChange:
    """An owner's change to a shipped rule, within its bounds; an earlier one of the same rule ends."""
    rule = next((rule for rule in RULE_SET.rules if rule.id == rule_id), None)
    if rule is None:
        raise NotFound
    change = change_of(rule, form)
    for against in problems(rule, change):
        raise Refused(_FIELD_OF.get(against, "consequence"), against)
    if warning_of(rule, form) and form.read_warning != warning_mark(rule, form):
        raise Refused("read_warning", READ_THE_WARNING)
    _end_rule_changes(db, rule_id, by)
    row = RuleChange(
        rule=rule_id,
        body=canonical(rule_change_to_dict(change)),
        reason=form.reason,
        changed_by=by.id,
        changed_at=clock.now(),
    )
    db.add(row)
    return row


@audited("intake.rule.restored")
def restore_rule(db: Session, rule_id: str, *, by: Actor) -> RuleChange:
    """Takes a change back: from the next publication the rule is as shipped, and what was changed stays on file."""
    ended = _end_rule_changes(db, rule_id, by)
    if not ended:
        raise Refused("_change", STANDS_NO_MORE)
    return ended[-1]


def _end_rule_changes(db: Session, rule_id: str, by: Actor) -> list[RuleChange]:
    standing = [row for row in publishing.standing_rule_changes(db) if row.rule == rule_id]
    for row in standing:
        row.ended_at, row.ended_by = clock.now(), by.id
        db.add(row)
    return standing


@audited("intake.question.left_out")
def leave_out(db: Session, key: str, reason: str, *, by: Actor) -> QuestionChange:
    """Leaves out an optional question that is not about safety, from the next publication."""
    if key not in QUESTION_SET.keys:
        raise NotFound
    for against in hide_problems(key, QUESTION_SET):
        raise Refused("_change", against)
    if any(row.key == key for row in publishing.standing_question_changes(db)):
        raise Refused("_change", "This question is left out already.")
    return _add_question_change(db, key, {"hidden": True}, reason, by)


@audited("intake.question.added")
def add_question(db: Session, form: AddQuestion, *, by: Actor) -> QuestionChange:
    """A question of the studio's own. Its key is never given out again, so that old answers keep their question."""
    fallback = studio_queries.studio(db).language
    if fallback not in form.wording:
        raise Refused(f"wording_{fallback}", NOT_IN_STUDIO_LANGUAGE)
    made = {
        row.key
        for row in db.exec(select(QuestionChange).where(col(QuestionChange.key).startswith(OWN, autoescape=True))).all()
    }
    own = OwnQuestion(f"{OWN}{len(made) + 1}", form.topic, form.kind, form.wording, form.required == "yes")
    for against in own_problems(own, QUESTION_SET):
        raise Refused("topic" if against == NO_TOPIC else f"wording_{fallback}", against)
    body = {"own": own_question_to_dict(own), "fallback": fallback, "languages": list(LANGUAGES)}
    return _add_question_change(db, own.key, body, form.reason, by)


@audited("intake.question.restored")
def restore_question(db: Session, key: str, *, by: Actor) -> QuestionChange:
    """Asks a question again that was left out, or ends one of the studio's own; what was answered stays on file."""
    standing = [row for row in publishing.standing_question_changes(db) if row.key == key]
    if not standing:
        raise Refused("_change", STANDS_NO_MORE)
    for row in standing:
        row.ended_at, row.ended_by = clock.now(), by.id
        db.add(row)
    return standing[-1]


def _add_question_change(db: Session, key: str, body: object, reason: str, by: Actor) -> QuestionChange:
    row = QuestionChange(key=key, body=canonical(body), reason=reason, changed_by=by.id, changed_at=clock.now())
    db.add(row)
    return row
