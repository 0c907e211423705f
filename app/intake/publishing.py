"""The rules and questions in use: what is shipped with what the owner changed, from the day it was published.

A publication stores the merged rules and questions whole, so that a new version of the program changes nothing in a
studio that published until its owner publishes again. A studio that never published follows the program.
"""

import json
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Literal

from sqlmodel import Session, col, select

from app.consents import actions as consents
from app.consents import queries as consents_queries
from app.intake.models import Publication, QuestionChange, RuleChange
from app.intake.models import RuleSet as RuleSetRow
from app.intake.question_changes import (
    OwnQuestion,
    hide_problems,
    own_problems,
    own_question_from_dict,
    with_changes,
    with_own_rules,
)
from app.intake.question_list import QUESTION_SET
from app.intake.questions import SCAR, VISIT, QuestionSet, fingerprint, question_set_from_dict, question_set_to_dict
from app.intake.rule_changes import RuleChange as Change
from app.intake.rule_changes import changed, problems, rule_change_from_dict
from app.intake.rule_set import RULE_SET
from app.intake.rules import RuleSet, rule_set_from_dict, rule_set_to_dict
from app.platform import clock
from app.platform.audit import Actor, audited, canonical, note
from app.platform.forms import Refused
from app.studio.access import NotFound

QUESTIONS_KIND = "intake_questions"
_VISIT_KEYS = (VISIT, SCAR + VISIT)
NOTHING_NEW = "There is nothing to publish: what is in use is what would be published."
CHANGED_MEANWHILE = "Something was changed meanwhile. Look through what will change once more."
RULE_GONE = "This rule is no longer shipped."


@dataclass(frozen=True)
class InUse:
    """The rules and questions that count for a form sent now; without a publication they are the shipped ones."""

    rule_set: RuleSet
    questions: QuestionSet
    publication: Publication | None

    @property
    def mark(self) -> str:
        return fingerprint({"rules": self.rule_set.version, "questions": self.questions.version})


@dataclass(frozen=True)
class Left:
    """A standing change that a publication cannot take over, and why; it waits until the owner takes it back."""

    kind: Literal["rule", "question"]
    key: str
    why: str


@dataclass(frozen=True)
class Merged:
    """What a publication made now would put into use."""

    would_be: InUse
    left: tuple[Left, ...]


@lru_cache(maxsize=16)
def _rules_in(body: str) -> RuleSet:
    return rule_set_from_dict(json.loads(body))


@lru_cache(maxsize=16)
def _questions_in(body: str) -> QuestionSet:
    return question_set_from_dict(json.loads(body))


def current(db: Session) -> InUse:
    """What the newest publication put into use, else what is shipped."""
    newest = db.exec(select(Publication).order_by(col(Publication.id).desc()).limit(1)).first()
    return InUse(RULE_SET, QUESTION_SET, None) if newest is None else of_publication(db, newest)


def of_publication(db: Session, publication: Publication) -> InUse:
    """The rules and questions as they were published."""
    rule_set = rules_of(db, publication.rule_set_hash)
    return InUse(rule_set, questions_of(db, publication.questions_version), publication)


def rules_of(db: Session, hash: str) -> RuleSet:
    """A rule set by its hash: the shipped one, or one that was stored whole."""
    return RULE_SET if hash == RULE_SET.version else _rules_in(db.get_one(RuleSetRow, hash).body)


def questions_of(db: Session, version: str) -> QuestionSet:
    """The questions of a version: the shipped ones, or those stored whole when they were published or asked."""
    if version == QUESTION_SET.version:
        return QUESTION_SET
    return _questions_in(consents_queries.document_of(db, QUESTIONS_KIND, version).text)


def rules_for(in_use: InUse, questions: QuestionSet) -> RuleSet:
    """The rules in use for a form that was asked earlier: without those about questions that it did not ask yet.

    What was newly asked since is found out by the short questions before the next session, or by a new form.
    """
    rules = tuple(rule for rule in in_use.rule_set.rules if all(_is_known(key, questions.keys) for key in rule.keys))
    return in_use.rule_set if len(rules) == len(in_use.rule_set.rules) else replace(in_use.rule_set, rules=rules)


def _is_known(key: str, known: frozenset[str]) -> bool:
    # The short questions before a session are no part of a full form; the evaluator takes them as not asked.
    return key in known or key.startswith(_VISIT_KEYS)


def standing_rule_changes(db: Session) -> list[RuleChange]:
    """The owner's changes to rules that nobody took back, oldest first."""
    standing = select(RuleChange).where(col(RuleChange.ended_at).is_(None))
    return list(db.exec(standing.order_by(col(RuleChange.id))).all())


def standing_question_changes(db: Session) -> list[QuestionChange]:
    standing = select(QuestionChange).where(col(QuestionChange.ended_at).is_(None))
    return list(db.exec(standing.order_by(col(QuestionChange.id))).all())


def change_in(row: RuleChange) -> Change:
    return rule_change_from_dict(json.loads(row.body))


def own_in(row: QuestionChange) -> OwnQuestion | None:
    """The studio's own question that a row adds; None where it leaves out a shipped one."""
    content = json.loads(row.body)
    return own_question_from_dict(content["own"]) if "own" in content else None


def asked_as(row: QuestionChange) -> OwnQuestion | None:
    """The question as it is asked: a language it was not written in falls back to that of the studio."""
    own = own_in(row)
    if own is None:
        return None
    content = json.loads(row.body)
    words = own.wording[content["fallback"]]
    return replace(own, wording={language: own.wording.get(language) or words for language in content["languages"]})


def merged(db: Session) -> Merged:
    """The shipped rules and questions with every standing change that still fits; what does not fit is named."""
    left: list[Left] = []
    changes: list[Change] = []
    for row in standing_rule_changes(db):
        change, rules = change_in(row), {rule.id: rule for rule in RULE_SET.rules}
        against = problems(rules[row.rule], change) if row.rule in rules else (RULE_GONE,)
        if against:
            left.append(Left("rule", row.rule, " ".join(against)))
        else:
            changes.append(change)
    hidden: list[str] = []
    own: list[OwnQuestion] = []
    for line in standing_question_changes(db):
        question = asked_as(line)
        against = hide_problems(line.key, QUESTION_SET) if question is None else own_problems(question, QUESTION_SET)
        if against:
            left.append(Left("question", line.key, " ".join(against)))
        elif question is None:
            hidden.append(line.key)
        else:
            own.append(question)
    rule_set = with_own_rules(changed(RULE_SET, changes), own)
    return Merged(InUse(rule_set, with_changes(QUESTION_SET, hidden, own), None), tuple(left))


def keep_rule_set(db: Session, rule_set: RuleSet) -> RuleSetRow:
    """The row of a rule set, stored whole under its hash when it is first needed. Inside a named entry."""
    held = db.get(RuleSetRow, rule_set.version)
    if held is not None:
        return held
    row = RuleSetRow(
        hash=rule_set.version,
        evaluator_version=str(rule_set.evaluator_version),
        body=canonical(rule_set_to_dict(rule_set)),
        stored_at=clock.now(),
    )
    db.add(row)
    db.flush()
    return row


def keep_questions(db: Session, questions: QuestionSet, *, by: Actor) -> None:
    """Stores the questions whole under their version, so that a form can be read as it was asked."""
    consents.keep_document(db, QUESTIONS_KIND, questions.version, canonical(question_set_to_dict(questions)), by=by)


def publications(db: Session) -> list[Publication]:
    """Every publication, newest first."""
    return list(db.exec(select(Publication).order_by(col(Publication.id).desc())).all())


def publication_of(db: Session, publication_id: int) -> Publication:
    publication = db.get(Publication, publication_id)
    if publication is None:
        raise NotFound
    return publication


def published_as(db: Session, rule_set_hash: str, at: datetime) -> Publication | None:
    """The publication that had put these rules into use at a moment; none for rules as shipped."""
    wanted = select(Publication).where(Publication.rule_set_hash == rule_set_hash, Publication.published_at <= at)
    return db.exec(wanted.order_by(col(Publication.id).desc()).limit(1)).first()


@audited("intake.rules.published")
def publish(db: Session, words: str, *, mark: str = "", by: Actor) -> Publication:
    """Puts the shipped rules and questions with the owner's changes into use, for forms sent from now on.

    `mark` is that of what the owner was shown; where something changed since, nothing is published.
    """
    before, after = current(db), merged(db)
    if mark and mark != after.would_be.mark:
        raise Refused("_changed", CHANGED_MEANWHILE)
    if before.mark == after.would_be.mark:
        raise Refused("note", NOTHING_NEW)
    keep_rule_set(db, after.would_be.rule_set)
    keep_questions(db, after.would_be.questions, by=by)
    publication = Publication(
        rule_set_hash=after.would_be.rule_set.version,
        questions_version=after.would_be.questions.version,
        note=words,
        published_by=by.id,
        published_at=clock.now(),
    )
    db.add(publication)
    note(db, note=words, left_out=[f"{item.kind} {item.key}: {item.why}" for item in after.left])
    return publication
