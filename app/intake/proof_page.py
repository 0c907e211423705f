"""Parts of a screening's sheet: the letters asked for, the proofs on file, and what changed since the last answers."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.intake import queries
from app.intake.clearing import finding_key
from app.intake.letter_words import ANSWER_WORDS
from app.intake.models import Evidence, Finding, LetterRequest, Screening, Submission
from app.intake.proofs import evidence_of, keys_of, letter_requests_of
from app.intake.questions import Answers, answer, applicable, scars_of
from app.intake.rescreening import AnswerChange, answer_changes
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import Case, DeclaredScar, Zone
from app.records.scars import declared_words

EVIDENCE_WORDS = {"allergy_patch": "Allergy patch", "test_spot": "Test spot"}
RESULT_WORDS = {"clear": "clear", "reacted": "a reaction", "unclear": "unclear"}
LIFTED_WORDS = {
    "letter": "Letter",
    "photo_pair": "Two dated photos",
    "talk": "Talk in private",
    "informed_decision": "The client’s own decision",
    "guardian_consent": "Consent of a guardian",
}
BECAUSE_WORDS = {
    "answer": "answered", "dont_know": "not known", "withheld": "would rather not say", "unanswered": "not answered",
    "evidence": "seen at work", "age": "age",
}  # fmt: skip


@dataclass(frozen=True)
class LetterLine:
    """A letter that was asked for, what about, and what came of it."""

    request: LetterRequest
    about: tuple[str, ...]
    answer_words: str
    asked_by: str
    has_run_out: bool


@dataclass(frozen=True)
class ProofLine:
    """A proof on file: when it was placed and might be read, when and by whom it was read, and what it shows."""

    what: str
    where: str
    placed_on: date | None
    may_read_from: date | None
    read_on: date
    read_by: str
    result: str
    until: date | None
    words: str
    lifts: tuple[str, ...]
    letter_request_id: int | None = None
    attachment_id: int | None = None


@dataclass(frozen=True)
class ChangedFinding:
    title: str
    place: str
    words: str


@dataclass(frozen=True)
class ChangedAnswer:
    question: str
    place: str
    before: str
    after: str


@dataclass(frozen=True)
class ChangedPart:
    """What differs from the screening before: answers, findings come and gone, days moved."""

    previous_id: int
    answers: tuple[ChangedAnswer, ...]
    come: tuple[ChangedFinding, ...]
    gone: tuple[ChangedFinding, ...]
    moved: tuple[ChangedFinding, ...]
    full_from: tuple[date | None, date | None]

    @property
    def is_empty(self) -> bool:
        return not (self.answers or self.come or self.gone or self.moved)

    @property
    def has_moved(self) -> bool:
        return self.full_from[0] != self.full_from[1]


def letter_lines(db: Session, screening: Screening, on: date, names: Mapping[int, str]) -> tuple[LetterLine, ...]:
    """The letters asked for in the case, the newest first."""
    requests = letter_requests_of(db, screening.case_id)
    rows = [row for held in {one.screening_id for one in requests} for row in queries.findings_of(db, held)]
    return tuple(letter_line(one, rows, on, names) for one in reversed(requests))


def letter_line(
    request: LetterRequest, rows: Sequence[Finding], on: date, names: Mapping[int, str]
) -> LetterLine:
    held = {(row.screening_id, finding_key(row.rule, row.scar_key)): row.title for row in rows}
    about = [held[request.screening_id, key] for key in keys_of(request) if (request.screening_id, key) in held]
    until = request.good_until
    return LetterLine(
        request,
        tuple(dict.fromkeys(about)),
        ANSWER_WORDS[request.answer],
        names.get(request.asked_by or 0, ""),
        until is not None and until < on,
    )


def proof_lines(
    db: Session, case: Case, rows: Sequence[Finding], names: Mapping[int, str]
) -> tuple[ProofLine, ...]:
    """Every proof that speaks to these findings or to this client, newest first; what was carried over stands once."""
    zones = {zone.id: zone for zone in records.zones_of(db, case.id or 0)}
    lines = [_tested(row, rows, zones, names) for row in evidence_of(db, case.client_id)]
    lines += _lifted(rows, names)
    lines += [_letter(db, request, names) for request in letter_requests_of(db, case.id or 0) if request.answer]
    return tuple(sorted(lines, key=lambda line: line.read_on, reverse=True))


def _tested(
    row: Evidence, rows: Sequence[Finding], zones: Mapping[int | None, Zone], names: Mapping[int, str]
) -> ProofLine:
    lifts = tuple(dict.fromkeys(one.title for one in rows if row.kind in one.proofs.split()))
    zone = zones.get(row.zone_id)
    return ProofLine(
        what=EVIDENCE_WORDS.get(row.kind, row.kind),
        # A patch speaks for the person, a spot for its own zone.
        where=zone.name if zone is not None and row.kind == "test_spot" else "",
        placed_on=row.placed_on,
        may_read_from=row.may_read_from,
        read_on=row.seen_on,
        read_by=names.get(row.read_by or 0, ""),
        result=RESULT_WORDS.get(row.result, row.result),
        until=None,
        words=row.note,
        lifts=lifts if row.result == "clear" else (),
    )


def _lifted(rows: Sequence[Finding], names: Mapping[int, str]) -> list[ProofLine]:
    """Proofs that an artist named, those of one day and one kind together."""
    held: dict[tuple[str, date, str], list[Finding]] = {}
    for row in rows:
        if row.lifted_with and row.proof_on is not None:
            held.setdefault((row.lifted_with, row.proof_on, row.lifted_reason), []).append(row)
    return [
        ProofLine(
            what=LIFTED_WORDS.get(kind, kind), where="", placed_on=None, may_read_from=None, read_on=on,
            read_by=names.get(mine[0].lifted_by or 0, ""), result="", until=mine[0].proof_until, words=words,
            lifts=tuple(dict.fromkeys(row.title for row in mine)),
        )
        for (kind, on, words), mine in held.items()
    ]  # fmt: skip


def _letter(db: Session, request: LetterRequest, names: Mapping[int, str]) -> ProofLine:
    about = {finding_key(row.rule, row.scar_key): row.title for row in queries.findings_of(db, request.screening_id)}
    return ProofLine(
        what=f"Letter from {request.to_whom}", where="", placed_on=None, may_read_from=None,
        read_on=request.answered_on or request.asked_on, read_by=names.get(request.recorded_by or 0, ""),
        result=ANSWER_WORDS[request.answer], until=request.good_until, words=request.answer_words,
        lifts=tuple(dict.fromkeys(about[key] for key in keys_of(request) if key in about))
        if request.answer == "agrees"
        else (),
        letter_request_id=request.id, attachment_id=request.attachment_id,
    )  # fmt: skip


def changed_part(
    db: Session, screening: Screening, translate: Callable[[str], str], scars: Mapping[str, DeclaredScar]
) -> ChangedPart | None:
    """What was kept of the findings, and the answers in the studio's language; None for the first of a case."""
    before = db.get(Screening, screening.previous_id) if screening.previous_id is not None else None
    if before is None or before.id is None:
        return None
    kept = json.loads(screening.changes)
    old, _ = queries.told_of(db, db.get_one(Submission, before.submission_id))
    new, questions = queries.told_of(db, db.get_one(Submission, screening.submission_id))
    days = [date.fromisoformat(day) if day else None for day in kept.get("full_from", ["", ""])]
    return ChangedPart(
        before.id,
        tuple(
            _answer(one, scars, _is_told(one, applicable(old, questions)), _is_told(one, applicable(new, questions)))
            for one in answer_changes(old, new, questions, translate)
        ),
        tuple(_found(one, scars) for one in kept.get("come", ())),
        tuple(_found(one, scars) for one in kept.get("gone", ())),
        tuple(_found(one, scars, has_moved=True) for one in kept.get("moved", ())),
        (days[0], days[1]),
    )


def _place(scar_id: str | None, scars: Mapping[str, DeclaredScar]) -> str:
    scar = scars.get(scar_id or "")
    return declared_words(scar.site, scar.side, "", "", scar.words) if scar is not None else ""


def _is_told(change: AnswerChange, answers: Answers) -> bool:
    """Whether there is an answer at all: a question may have been asked only in one of two forms."""
    place = next((scar for scar in scars_of(answers) if scar["id"] == change.scar_id), None)
    return answer(change.key, answers, place) is not None


def _answer(change: AnswerChange, scars: Mapping[str, DeclaredScar], was: bool, now: bool) -> ChangedAnswer:
    before, after = change.before if was else "no answer", change.after if now else "no answer"
    return ChangedAnswer(change.question, _place(change.scar_id, scars), before, after)


def _found(kept: Mapping[str, str], scars: Mapping[str, DeclaredScar], *, has_moved: bool = False) -> ChangedFinding:
    words = ""
    if has_moved and kept["before"] != kept["after"]:
        words = f"{_day(kept['before'])} before; {_day(kept['after'])} now"
    elif has_moved and kept["because_before"] != kept["because"]:
        words = f"{BECAUSE_WORDS[kept['because_before']]} before, {BECAUSE_WORDS[kept['because']]} now"
    elif not has_moved and kept["after"]:
        words = _day(kept["after"])
    return ChangedFinding(kept["title"], _place(kept["scar_id"], scars), words)


def _day(text: str) -> str:
    return f"clear from {day_words(date.fromisoformat(text))}" if text else "no day"
