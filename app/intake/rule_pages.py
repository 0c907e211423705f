"""What the owner's pages about rules show: the list, one rule whole, and what a publication changes."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.intake import publishing
from app.intake.models import Publication, RuleChange
from app.intake.publication_pages import AdviceLine, Difference, advice_lines, differences_of, rule_in
from app.intake.rule_changes import consequences_for, is_law
from app.intake.rule_set import RULE_SET
from app.intake.rule_words import (
    CONSEQUENCE_WORDS,
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
from app.intake.rules import Consequence, Rule, RuleSet
from app.platform.search import fold
from app.studio import queries as studio_queries
from app.studio.access import NotFound


@dataclass(frozen=True)
class Past:
    """A change of a rule or a question as the owner made it, and what became of it."""

    words: str
    reason: str
    by: str
    at: datetime
    ended_by: str
    ended_at: datetime | None
    was_replaced: bool = False


@dataclass(frozen=True)
class RuleLine:
    """One rule of the list: what counts now, what was shipped, what comes with the next publication."""

    rule: Rule
    now: str
    shipped: str
    next: str
    source: str
    reviewed: str
    seen: str
    past: Past | None


@dataclass(frozen=True)
class RuleGroup:
    title: str
    lines: tuple[RuleLine, ...]


@dataclass(frozen=True)
class RuleList:
    groups: tuple[RuleGroup, ...]
    titles: tuple[str, ...]
    shown: int
    count: int
    rows: int
    advice: tuple[AdviceLine, ...]
    differences: tuple[Difference, ...]
    left: tuple[publishing.Left, ...]
    publication: Publication | None

    @property
    def choices(self) -> list[tuple[str, str]]:
        """The groups as a field offers them."""
        return [(title, title) for title in self.titles]

    @property
    def by_program(self) -> int:
        return sum(item.by_program for item in self.differences)

    @property
    def by_owner(self) -> int:
        return len(self.differences) - self.by_program


@dataclass(frozen=True)
class RulePage:
    """One rule whole. `rule` is what counts now; `next` what the next publication makes of it, where that differs."""

    rule: Rule
    words: RuleWords
    next: tuple[tuple[str, str, str], ...]
    shipped: Rule
    shipped_words: str
    now: str
    source: str
    reviewed: str
    group: str
    past: tuple[Past, ...]
    standing: bool
    is_law: bool
    can_change: bool
    has_wait: bool
    consequences: tuple[tuple[Consequence, str], ...]
    would_be: Rule


def rows_covered(rule_set: RuleSet) -> frozenset[int]:
    """The rows of the collected trade facts that a rule or an advice of this set speaks to."""
    rows = [row for rule in rule_set.rules for row in rule.facts_rows]
    return frozenset([*rows, *(row for advice in rule_set.advice for row in advice.facts_rows)])


def rule_list(db: Session, words: str = "", group: str = "", only: str = "") -> RuleList:
    """The rules by group, those that match: words in any of their texts, a group, only what the studio changed."""
    now, merged = publishing.current(db), publishing.merged(db)
    differences = differences_of(db, now, merged)
    past = {row.rule: _past(row, studio_queries.names(db), ()) for row in publishing.standing_rule_changes(db)}
    order = group_order(merged.would_be.questions)
    by_group: dict[str, list[RuleLine]] = {title: [] for title in order}
    every = [*now.rule_set.rules, *_new_rules(now.rule_set, merged.would_be.rule_set)]
    for rule in every:
        line = _line(rule, now, merged, past.get(rule.id))
        title = group_of(rule, merged.would_be.questions if rule not in now.rule_set.rules else now.questions)
        if _matches(line, title, words, group) and (only != "changed" or line.past is not None or line.next):
            by_group.setdefault(title, []).append(line)
    groups = tuple(RuleGroup(title, tuple(lines)) for title, lines in by_group.items() if lines)
    return RuleList(
        groups=groups,
        titles=order,
        shown=sum(len(one.lines) for one in groups),
        count=len(every),
        rows=len(rows_covered(now.rule_set)),
        advice=advice_lines(now.rule_set) if not (words or group or only) else (),
        differences=differences,
        left=merged.left,
        publication=now.publication,
    )


def _new_rules(before: RuleSet, after: RuleSet) -> Iterable[Rule]:
    known = {rule.id for rule in before.rules}
    return (rule for rule in after.rules if rule.id not in known)


def _line(rule: Rule, now: publishing.InUse, merged: publishing.Merged, past: Past | None) -> RuleLine:
    in_use, would_be = rule_in(now.rule_set, rule.id), rule_in(merged.would_be.rule_set, rule.id)
    shipped = rule_in(RULE_SET, rule.id)
    if would_be is None:
        then = "No rule any more from the next publication."
    elif in_use is None:
        then = f"From the next publication: {short_words(would_be)}"
    else:
        then = f"From the next publication: {short_words(would_be)}" if changed_fields(in_use, would_be) else ""
    return RuleLine(
        rule=rule,
        now=short_words(in_use) if in_use is not None else "Not in use yet.",
        shipped=short_words(shipped) if shipped is not None else "",
        next=then,
        source=source_words(rule),
        reviewed=reviewed_words(rule.last_reviewed),
        seen=seen_words(rule),
        past=past,
    )


def _matches(line: RuleLine, title: str, words: str, group: str) -> bool:
    if group and group != title:
        return False
    rule = line.rule
    text = fold(" ".join((rule.id, rule.title, rule.reason, rule.source, line.now, line.shipped, line.source, title)))
    return all(word in text for word in fold(words).split())


def rule_page(db: Session, rule_id: str) -> RulePage:
    now, merged = publishing.current(db), publishing.merged(db)
    in_use, would_be = rule_in(now.rule_set, rule_id), rule_in(merged.would_be.rule_set, rule_id)
    rule = in_use or would_be
    if rule is None:
        raise NotFound
    shipped = rule_in(RULE_SET, rule_id)
    questions = now.questions if in_use is not None else merged.would_be.questions
    rows = list(db.exec(select(RuleChange).where(RuleChange.rule == rule_id).order_by(col(RuleChange.id))).all())
    offered = consequences_for(shipped) if shipped is not None else (rule.consequence,)
    timed = shipped is not None and not is_law(shipped) and shipped.trigger.kind == "date"
    return RulePage(
        rule=rule,
        words=rule_words(rule, questions),
        next=changed_fields(in_use, would_be) if in_use is not None and would_be is not None else (),
        shipped=shipped or rule,
        shipped_words=short_words(shipped) if shipped is not None else "",
        now=short_words(in_use) if in_use is not None else "Not in use yet.",
        source=source_words(rule),
        reviewed=reviewed_words(rule.last_reviewed),
        group=group_of(rule, questions),
        past=tuple(_past(row, studio_queries.names(db), rows) for row in reversed(rows)),
        standing=any(row.ended_at is None for row in rows),
        is_law=is_law(rule),
        can_change=shipped is not None and not is_law(shipped) and (timed or len(offered) > 1),
        has_wait=timed or any(item.startswith("test_") for item in offered),
        consequences=tuple((item, CONSEQUENCE_WORDS[item]) for item in offered),
        would_be=would_be or rule,
    )


def shipped_rule(rule_id: str) -> Rule:
    """The shipped rule that a form is about."""
    rule = rule_in(RULE_SET, rule_id)
    if rule is None:
        raise NotFound
    return rule


def _past(row: RuleChange, names: dict[int, str], rows: Iterable[RuleChange]) -> Past:
    change = publishing.change_in(row)
    words = [change.wait.words] if change.wait is not None else []
    if change.consequence is not None:
        words.append(CONSEQUENCE_WORDS[change.consequence].lower())
    replaced = any(other.id != row.id and other.changed_at == row.ended_at for other in rows)
    return Past(
        "; ".join(words),
        row.reason,
        names.get(row.changed_by or 0, "the system"),
        row.changed_at,
        names.get(row.ended_by or 0, ""),
        row.ended_at,
        replaced,
    )
