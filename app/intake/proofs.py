"""What was seen that speaks to the findings of a screening: proofs an artist named, letters, patches and spots.

A letter is asked for once and counts for later answers of the same case too, as long as a finding still rests on the
same kind of answer. Where a clinician advised against the work, a later letter that says nothing does not wipe it out.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlmodel import Session, col, select

from app.intake import findings as found_of
from app.intake.clearing import finding_key
from app.intake.models import Evidence, Finding, LetterRequest, Screening
from app.intake.rules import LIFTING_RESULT, Proof, Result
from app.records import queries as records
from app.records.models import Case

ANSWERED: Mapping[str, Result] = {
    "agrees": "agrees", "declines": "declines", "advises_against": "advises_against",
}  # fmt: skip


@dataclass(frozen=True)
class Seen:
    """One proof about one finding; `letter_request_id` where it is the answer to a letter that was asked for."""

    kind: Proof
    on: date
    result: Result
    until: date | None
    words: str
    by: int | None
    letter_request_id: int | None = None
    is_carried: bool = False

    @property
    def lifts(self) -> bool:
        return self.result == LIFTING_RESULT[self.kind]

    def stands_on(self, on: date) -> bool:
        return self.on <= on and (self.until is None or on <= self.until)


def letter_requests_of(db: Session, case_id: int) -> list[LetterRequest]:
    """The letters asked for in a case, oldest first."""
    wanted = select(LetterRequest).where(LetterRequest.case_id == case_id).order_by(col(LetterRequest.id))
    return list(db.exec(wanted).all())


def keys_of(request: LetterRequest) -> tuple[str, ...]:
    return tuple(json.loads(request.findings))


def seen_for(db: Session, screening: Screening) -> dict[str, list[Seen]]:
    """Finding key to the proofs that name it, oldest first."""
    rows = _rows(db, [screening.id])
    seen: dict[str, list[Seen]] = {}
    for row in rows:
        if row.lifted_with and row.proof_on is not None:
            kind = cast(Proof, row.lifted_with)
            one = Seen(kind, row.proof_on, LIFTING_RESULT[kind], row.proof_until, row.lifted_reason, row.lifted_by,
                       is_carried=row.carried_from is not None)  # fmt: skip
            seen.setdefault(finding_key(row.rule, row.scar_key), []).append(one)
    for key, one in _letters(db, screening, rows):
        seen.setdefault(key, []).append(one)
    return {key: sorted(_without_late_silence(held), key=lambda one: one.on) for key, held in seen.items()}


def _rows(db: Session, screening_ids: Iterable[int | None]) -> list[Finding]:
    wanted = select(Finding).where(col(Finding.screening_id).in_(list(screening_ids))).order_by(col(Finding.id))
    return list(db.exec(wanted).all())


def _letters(db: Session, screening: Screening, rows: Sequence[Finding]) -> list[tuple[str, Seen]]:
    """The answered letters with the findings they speak to: those of this screening, or found for the same because."""
    requests = [row for row in letter_requests_of(db, screening.case_id) if row.answer]
    asked = _rows(db, {row.screening_id for row in requests})
    then = {(row.screening_id, finding_key(row.rule, row.scar_key)): row.because for row in asked}
    now = {finding_key(row.rule, row.scar_key): row.because for row in rows}
    found = []
    for request in requests:
        for key in keys_of(request):
            same = key in now and then.get((request.screening_id, key)) == now[key]
            if request.answered_on is not None and (request.screening_id == screening.id or same):
                found.append((key, Seen("letter", request.answered_on, ANSWERED[request.answer], request.good_until,
                                        request.answer_words, request.recorded_by, request.id)))  # fmt: skip
    return found


def _without_late_silence(held: Sequence[Seen]) -> list[Seen]:
    against = [one.on for one in held if one.result == "advises_against"]
    return [one for one in held if one.result != "declines" or not against or one.on < min(against)]


def lifting_on(seen: Iterable[Seen], on: date) -> Seen | None:
    """The newest proof that stands on a day and lifts; the rules decide whether what it lifts is lifted."""
    return max((one for one in seen if one.lifts and one.stands_on(on)), key=lambda one: one.on, default=None)


def runs_out_on(seen: Iterable[Seen], on: date) -> date | None:
    """The day the last of the proofs that stand runs out; None where one of them holds for good."""
    standing = [one.until for one in seen if one.lifts and one.stands_on(on)]
    known = [until for until in standing if until is not None]
    return max(known) if known and len(known) == len(standing) else None


def proofs_of(db: Session, screening: Screening) -> tuple[found_of.Evidence, ...]:
    """All that is laid before the rules: what was seen for this screening, and the client's patches and spots."""
    proofs = []
    for key, held in seen_for(db, screening).items():
        rule, _, scar = key.partition("/")
        proofs += [found_of.Evidence(one.kind, one.on, one.result, (rule,), scar or None, one.until) for one in held]
    return (*proofs, *_patches_and_spots(db, screening))


def evidence_of(db: Session, client_id: int) -> list[Evidence]:
    """The patches and spots of a person that were read, oldest first."""
    wanted = select(Evidence).where(col(Evidence.client_id).in_(records.person_ids(db, client_id)))
    return list(db.exec(wanted.order_by(col(Evidence.seen_on), col(Evidence.id))).all())


def _patches_and_spots(db: Session, screening: Screening) -> list[found_of.Evidence]:
    case = db.get_one(Case, screening.case_id)
    scars_of_zone: dict[int, list[str]] = {}
    for scar in records.declared_of(db, screening.case_id):
        if scar.zone_id is not None:
            scars_of_zone.setdefault(scar.zone_id, []).append(scar.key)
    proofs = []
    for row in evidence_of(db, case.client_id):
        keys: list[str | None] = [*scars_of_zone.get(row.zone_id or 0, [])]
        for key in [None] if row.kind == "allergy_patch" else keys:
            proofs.append(
                found_of.Evidence(
                    cast(Proof, row.kind), row.placed_on or row.seen_on, cast(Result, row.result), (), key
                )
            )
    return proofs
