"""Keeping a page of the form as it is filled in: on one device or on two, read as far as it can be read.

Drafts are outside the trail. What cannot be read is kept as it was typed beside the answers, so that the page shows it
again; what another device changed since is never written over without being shown.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session

from app.intake import actions, filling
from app.intake.answers import ParsedTopic, Translate, field_values, in_words, parse_topic
from app.intake.queries import Filling
from app.intake.questions import Page, Question, answer, scars_of
from app.intake.seen import Settled, marks_of, settle
from app.platform.audit import canonical

TYPED_LIMIT = 20_000  # characters of one page that cannot be read: more is no slip
Fields = Mapping[str, list[str]]


@dataclass(frozen=True)
class Sheet:
    """A page as a browser sent it: which open page it is, what it knew of its answers, and its fields."""

    opened: str
    seen: str
    scar_id: str
    fields: Fields


@dataclass(frozen=True)
class Kept:
    """What became of a page: the stored answers, what is wrong or new on it, and what another device changed."""

    page: Page
    parsed: ParsedTopic
    settled: Settled
    is_gone: bool = False  # its scar was left out on another device: nothing was stored

    @property
    def answers(self) -> dict[str, Any]:
        return self.settled.answers

    @property
    def is_clear(self) -> bool:
        return not self.is_gone and not self.settled.clashes


def keep_page(db: Session, held: Filling, page: Page, sheet: Sheet, *, on: date, country: str) -> Kept:
    """Stores what can be read of a page, but nothing over what another device changed since the page was made."""
    ids = [str(scar["id"]) for scar in scars_of(held.answers)]
    if page.scar is not None and sheet.scar_id:
        if sheet.scar_id not in ids:
            typed = {name: list(values) for name, values in sheet.fields.items()}
            return Kept(page, ParsedTopic(held.answers, {}, typed), Settled(held.answers, marks=sheet.seen), True)
        # Another device may have left out a scar before this one: the page still means its own.
        page = Page(page.topic, ids.index(sheet.scar_id))
    parsed = parse_topic(
        page.topic, sheet.fields, held.answers, on=on, scar=page.scar, questions=held.questions, country=country
    )
    notes = held.pages.get(_key(page, held.answers), {})
    if not sheet.seen or (sheet.opened and notes.get("by") == sheet.opened):
        settled = Settled(parsed.answers, marks=marks_of(page, parsed.answers, held.questions))
    else:
        settled = settle(page, held.answers, parsed.answers, sheet.seen, held.questions)
    draft = actions.save_draft(db, held.id, settled.answers)
    draft.pages = canonical(_noted(held, page, sheet, parsed, settled))
    db.add(draft)
    return Kept(page, parsed, settled)


def _key(page: Page, answers: Mapping[str, Any]) -> str:
    """Which page, whatever place its scar has meanwhile."""
    return f"{page.topic.key}/{filling.scar_id_of(page, answers)}"


def _noted(held: Filling, page: Page, sheet: Sheet, parsed: ParsedTopic, settled: Settled) -> dict[str, Any]:
    key = _key(page, settled.answers)
    before = held.pages.get(key, {})
    typed = {
        name: [value.replace("\0", "") for value in values]
        for name, values in sheet.fields.items()
        if any(values) and any(_fits(name, field) for field in parsed.errors)
    }
    if sum(len(value) for values in typed.values() for value in values) > TYPED_LIMIT:
        typed = {}
    by = sheet.opened[:32] if settled.is_whole else before.get("by", "")
    return {**held.pages, key: {"by": by, **({"typed": typed} if typed else {})}}


def shown_values(held: Filling, page: Page) -> dict[str, Any]:
    """What the fields of a page hold: the answers so far, and what was typed there that could not be read."""
    values = filling.values_of(page, held.answers, held.questions)
    typed = held.pages.get(_key(page, held.answers), {}).get("typed", {})
    return {**values, **filling.flat(typed)}


def values_after(kept: Kept) -> dict[str, Any]:
    """What the page shows when it comes back: what was typed on it, and what another device put where nothing was."""
    values = filling.flat(kept.parsed.typed)
    for question in kept.settled.taken:
        values = {name: typed for name, typed in values.items() if not _fits(name, question.field)}
        values.update(filling.flat(field_values(question, kept.answers, kept.page.scar)))
    return values


def errors_after(kept: Kept) -> dict[str, str]:
    """What is wrong on the page, without what another device has answered meanwhile."""
    taken = {question.field for question in kept.settled.taken}
    return {
        name: words
        for name, words in kept.parsed.errors.items()
        if name not in taken or any(_fits(field, name) and any(typed) for field, typed in kept.parsed.typed.items())
    }


def _fits(name: str, field: str) -> bool:
    """Whether a form field belongs to a question: its own, or a part of its date."""
    return name == field or name.startswith(field + ".")


def other_version(kept: Kept, question: Question, translate: Translate = str) -> str:
    """What another device stored for a question, in words."""
    scars = scars_of(kept.answers)
    scar = scars[kept.page.scar] if kept.page.scar is not None and kept.page.scar < len(scars) else None
    return in_words(question, answer(question.key, kept.answers, scar), translate)
