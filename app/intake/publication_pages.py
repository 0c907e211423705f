"""What a publication changes, what was published, and the rules and questions as they were on a day."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlmodel import Session, select

from app.intake import publishing
from app.intake.models import Publication, QuestionChange, RuleChange
from app.intake.question_words import question_fields
from app.intake.questions import OWN, QuestionSet
from app.intake.rule_words import (
    RuleWords,
    changed_fields,
    group_of,
    group_order,
    reviewed_words,
    rule_words,
    seen_words,
    short_words,
    source_words,
)
from app.intake.rules import Advice, Rule, RuleSet
from app.studio import queries as studio_queries

OWN_RULE = f"read_{OWN}"


@dataclass(frozen=True)
class AdviceLine:
    advice: Advice
    source: str
    reviewed: str
    seen: str


@dataclass(frozen=True)
class Difference:
    """What a publication changes of one rule, question or advice, and who wants it: the owner or the new program."""

    kind: Literal["rule", "question", "advice"]
    key: str
    title: str
    lines: tuple[tuple[str, str, str], ...]
    by_program: bool


@dataclass(frozen=True)
class PublicationLine:
    publication: Publication
    by: str
    is_newest: bool


@dataclass(frozen=True)
class PublicationPage:
    differences: tuple[Difference, ...]
    left: tuple[publishing.Left, ...]
    mark: str
    lines: tuple[PublicationLine, ...]
    in_use: publishing.InUse


@dataclass(frozen=True)
class WholeRule:
    rule: Rule
    words: RuleWords
    reviewed: str


@dataclass(frozen=True)
class WholePublication:
    """The rules and questions as they were published."""

    line: PublicationLine
    groups: tuple[tuple[str, tuple[WholeRule, ...]], ...]
    advice: tuple[AdviceLine, ...]
    questions: QuestionSet


def advice_lines(rule_set: RuleSet) -> tuple[AdviceLine, ...]:
    return tuple(
        AdviceLine(item, source_words(item), reviewed_words(item.last_reviewed), seen_words(item))
        for item in rule_set.advice
    )


def rule_in(rule_set: RuleSet, rule_id: str) -> Rule | None:
    return next((rule for rule in rule_set.rules if rule.id == rule_id), None)


def differences_of(db: Session, now: publishing.InUse, merged: publishing.Merged) -> tuple[Difference, ...]:
    """What a publication made now would change, rules first. A caution to read an own question goes with it."""
    if now.mark == merged.would_be.mark:
        return ()
    since = now.publication.published_at if now.publication is not None else None
    touched = {row.rule for row in db.exec(select(RuleChange)).all() if _is_since(row, since)}
    asked = {row.key for row in db.exec(select(QuestionChange)).all() if _is_since(row, since)}
    found: list[Difference] = []
    before, after = now.rule_set, merged.would_be.rule_set
    for rule_id in dict.fromkeys(rule.id for rule in (*before.rules, *after.rules)):
        was, then = rule_in(before, rule_id), rule_in(after, rule_id)
        if rule_id.startswith(OWN_RULE) or was == then:
            continue
        known = was or then
        assert known is not None
        lines = changed_fields(was, then) if was is not None and then is not None else (_come_or_gone(was, then),)
        found.append(Difference("rule", rule_id, known.title, lines, rule_id not in touched))
    found += _question_differences(now.questions, merged.would_be.questions, asked)
    for key in dict.fromkeys(item.id for item in (*before.advice, *after.advice)):
        was_words = next((one.words for one in before.advice if one.id == key), "no such advice")
        then_words = next((one.words for one in after.advice if one.id == key), "no such advice")
        if was_words != then_words:
            found.append(Difference("advice", key, "Preparation", (("Words", was_words, then_words),), True))
    if not found:
        found.append(Difference("advice", "", "Details", (("Details", "as they were", "as shipped"),), True))
    return tuple(found)


def _come_or_gone(was: Rule | None, then: Rule | None) -> tuple[str, str, str]:
    return (
        "The rule",
        short_words(was) if was is not None else "no such rule",
        short_words(then) if then is not None else "no such rule",
    )


def _question_differences(before: QuestionSet, after: QuestionSet, asked: set[str]) -> list[Difference]:
    was = {question.key: question for question in before.questions}
    then = {question.key: question for question in after.questions}
    found = []
    for key in dict.fromkeys([*was, *then]):
        if was.get(key) != then.get(key):
            known = then.get(key) or was[key]
            lines = question_fields(was.get(key), then.get(key))
            found.append(Difference("question", key, known.wording, lines, key not in asked))
    return found


def _is_since(row: RuleChange | QuestionChange, since: datetime | None) -> bool:
    return since is None or row.changed_at >= since or (row.ended_at is not None and row.ended_at >= since)


def publication_page(db: Session) -> PublicationPage:
    now, merged = publishing.current(db), publishing.merged(db)
    return PublicationPage(
        differences=differences_of(db, now, merged),
        left=merged.left,
        mark=merged.would_be.mark,
        lines=tuple(publication_lines(db)),
        in_use=now,
    )


def publication_lines(db: Session) -> list[PublicationLine]:
    names, rows = studio_queries.names(db), publishing.publications(db)
    return [PublicationLine(row, names.get(row.published_by or 0, "the system"), row is rows[0]) for row in rows]


def whole_publication(db: Session, publication_id: int) -> WholePublication:
    publication = publishing.publication_of(db, publication_id)
    then = publishing.of_publication(db, publication)
    groups: dict[str, list[WholeRule]] = {title: [] for title in group_order(then.questions)}
    for rule in then.rule_set.rules:
        whole = WholeRule(rule, rule_words(rule, then.questions), reviewed_words(rule.last_reviewed))
        groups.setdefault(group_of(rule, then.questions), []).append(whole)
    return WholePublication(
        line=next(line for line in publication_lines(db) if line.publication.id == publication_id),
        groups=tuple((title, tuple(rules)) for title, rules in groups.items() if rules),
        advice=advice_lines(then.rule_set),
        questions=then.questions,
    )
