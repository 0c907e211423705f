"""What the owner's pages about questions show: the form topic by topic, one question whole, and a preview."""

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.intake import publishing
from app.intake.filling import Asked
from app.intake.models import QuestionChange
from app.intake.publication_pages import Difference, differences_of
from app.intake.question_changes import FIRST_LANGUAGE, OwnQuestion, can_hide, own_problems, with_changes
from app.intake.question_list import QUESTION_SET
from app.intake.question_words import answered_words, asked_words, required_words
from app.intake.questions import OWN, Question, QuestionSet, Topic
from app.intake.rule_pages import Past
from app.platform.languages import LANGUAGES, translator
from app.studio import queries as studio_queries
from app.studio.access import NotFound


@dataclass(frozen=True)
class QuestionLine:
    """A question as it will be asked, or was until the owner left it out."""

    question: Question
    answered: str
    needed: str
    asked: str
    state: str
    read_by: tuple[tuple[str, str], ...]

    @property
    def is_own(self) -> bool:
        return self.question.key.startswith(OWN)


@dataclass(frozen=True)
class TopicLines:
    topic: Topic
    lines: tuple[QuestionLine, ...]


@dataclass(frozen=True)
class QuestionList:
    topics: tuple[TopicLines, ...]
    ended: tuple[tuple[str, str], ...]
    count: int
    differences: tuple[Difference, ...]
    version: str


@dataclass(frozen=True)
class QuestionPage:
    line: QuestionLine
    topic: Topic
    past: tuple[Past, ...]
    standing: QuestionChange | None
    own: OwnQuestion | None
    wordings: tuple[tuple[str, str], ...]
    can_leave_out: bool


@dataclass(frozen=True)
class Preview:
    topic: Topic
    asked: tuple[tuple[Asked, str], ...]
    topics: tuple[Topic, ...]


def question_list(db: Session) -> QuestionList:
    now, merged = publishing.current(db), publishing.merged(db)
    every = _every(now.questions, merged.would_be.questions)
    topics = tuple(
        TopicLines(topic, tuple(_line(question, now, merged) for question in every.of_topic(topic)))
        for topic in every.topics
    )
    return QuestionList(
        topics=topics,
        ended=ended_questions(db, every.questions),
        count=len(now.questions.questions),
        differences=tuple(item for item in differences_of(db, now, merged) if item.kind == "question"),
        version=now.questions.version,
    )


def _every(now: QuestionSet, then: QuestionSet) -> QuestionSet:
    """All that is asked now, will be asked, or could be asked again, in the order of the form."""
    known: dict[str, Question] = {}
    for question in (*QUESTION_SET.questions, *now.questions, *then.questions):
        known[question.key] = question
    return QuestionSet(then.topics, tuple(known.values()))


def _line(question: Question, now: publishing.InUse, merged: publishing.Merged) -> QuestionLine:
    is_asked, will_be = question.key in now.questions.keys, question.key in merged.would_be.questions.keys
    state = (
        "" if is_asked and will_be
        else "Left out." if not is_asked and not will_be
        else "Not asked any more from the next publication." if is_asked
        else "Asked from the next publication."
    )  # fmt: skip
    rules = [rule for rule in merged.would_be.rule_set.rules if question.key in rule.keys]
    return QuestionLine(
        question=question,
        answered=answered_words(question),
        needed=required_words(question),
        asked=asked_words(question, now.questions),
        state=state,
        read_by=tuple((rule.id, rule.title) for rule in rules),
    )


def question_page(db: Session, key: str) -> QuestionPage:
    now, merged = publishing.current(db), publishing.merged(db)
    every = _every(now.questions, merged.would_be.questions)
    rows = list(db.exec(select(QuestionChange).where(QuestionChange.key == key).order_by(col(QuestionChange.id))).all())
    own = publishing.own_in(rows[-1]) if rows else None
    question = every.question(key) if key in every.keys else _ended(rows)
    names = studio_queries.names(db)
    return QuestionPage(
        line=_line(question, now, merged),
        topic=next(topic for topic in every.topics if topic.key == question.topic),
        past=tuple(_past(row, names) for row in reversed(rows)),
        standing=next((row for row in rows if row.ended_at is None), None),
        own=own,
        wordings=tuple((LANGUAGES.get(code, code), words) for code, words in own.wording.items()) if own else (),
        can_leave_out=key in QUESTION_SET.keys and can_hide(QUESTION_SET.question(key)),
    )


def _ended(rows: Sequence[QuestionChange]) -> Question:
    """A question of the studio's own that is not asked any more, as it was asked last."""
    own = publishing.asked_as(rows[-1]) if rows else None
    if own is None or own_problems(own, QUESTION_SET):
        raise NotFound
    return with_changes(QUESTION_SET, (), (own,)).question(own.key)


def ended_questions(db: Session, every: Iterable[Question]) -> tuple[tuple[str, str], ...]:
    """The studio's own questions of earlier, by key and wording."""
    known = {question.key for question in every}
    rows = db.exec(select(QuestionChange).order_by(col(QuestionChange.id))).all()
    own = {row.key: found for row in rows if row.key not in known and (found := publishing.asked_as(row)) is not None}
    return tuple((key, dict(found.wordings)[FIRST_LANGUAGE]) for key, found in own.items())


def _past(row: QuestionChange, names: dict[int, str]) -> Past:
    return Past(
        "Left out" if "hidden" in json.loads(row.body) else "Added",
        row.reason,
        names.get(row.changed_by or 0, "the system"),
        row.changed_at,
        names.get(row.ended_by or 0, ""),
        row.ended_at,
    )


def own_topics() -> list[tuple[str, str]]:
    """The pages of the form that can take a question of the studio's own: those about the person."""
    return [(topic.key, topic.title) for topic in QUESTION_SET.topics if not topic.repeats]


def preview(db: Session, topic_key: str, language: str) -> Preview:
    """A page of the form as a client will see it after the next publication, with what depends on other answers."""
    questions = publishing.merged(db).would_be.questions
    topic = next((topic for topic in questions.topics if topic.key == topic_key), None)
    if topic is None:
        raise NotFound
    translate = translator(language)
    asked = tuple(
        (_put(question.in_language(language), translate), asked_words(question, questions))
        for question in questions.of_topic(topic)
    )
    return Preview(topic, asked, questions.topics)


def _put(question: Question, translate: Callable[[str], str]) -> Asked:
    return Asked(
        question,
        translate(question.wording),
        translate(question.hint) if question.hint else "",
        tuple((option.key, translate(option.words)) for option in question.choices),
    )
