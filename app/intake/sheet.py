"""The artist's sheet of one screening: what stands today, what was lifted, what each scar may have, and the answers."""

import json
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.intake import findings as found_of
from app.intake import queries
from app.intake.clearing import Cleared, cleared, finding_key, open_waits
from app.intake.filling import SummaryPage, summary_pages
from app.intake.forms import SHOWN_PROOFS
from app.intake.models import Finding, Screening, Submission
from app.records import queries as records
from app.records.models import Case, Client, DeclaredScar, Zone
from app.records.scars import declared_words
from app.studio import queries as studio_queries
from app.studio.access import Who
from app.studio.country import country_pack

KIND_WORDS: dict[str, str] = {
    "legal_bar": "The law stands against it",
    "stop": "Stops until a proof is seen",
    "talk": "To talk about in private",
    "wait": "Waits",
    "test": "Tests first",
    "caution": "Cautions",
}
PROOF_WORDS: dict[str, str] = {
    "letter": "A clinician’s letter that agrees",
    "photo_pair": "Two dated photos",
    "talk": "We talked in private",
    "informed_decision": "The client’s informed decision, after a letter was asked for and declined",
    "guardian_consent": "Written consent of a guardian",
    "allergy_patch": "an allergy patch read as clear",
    "test_spot": "a test spot read as clear",
}
DECISION_WORDS = {"accepted": "Accepted", "wait": "To wait", "declined": "Declined"}


@dataclass(frozen=True)
class FindingLine:
    """One finding as it stands on the day: open, lifted, or over by itself."""

    row: Finding
    state: str
    place: str
    clear_from: date | None
    can_lift: bool
    lifted_by: str


@dataclass(frozen=True)
class FindingGroup:
    kind: str
    words: str
    lines: tuple[FindingLine, ...]


@dataclass(frozen=True)
class ScarLine:
    """A declared scar and the most it may have if the screening is accepted today."""

    key: str
    words: str
    zone: Zone | None
    may: Cleared


@dataclass(frozen=True)
class ScreeningSheet:
    screening: Screening
    submission: Submission
    case: Case
    client: Client
    country: str
    groups: tuple[FindingGroup, ...]
    over: tuple[FindingLine, ...]
    scars: tuple[ScarLine, ...]
    answers: tuple[SummaryPage, ...]
    decided_by: str
    decision_words: str
    is_newest: bool
    has_waits: bool
    is_barred: bool


def sheet_of(db: Session, who: Who, screening_id: int, on: date) -> ScreeningSheet:
    screening = queries.screening_for(db, who, screening_id)
    submission, case = db.get_one(Submission, screening.submission_id), records.case_for(db, who, screening.case_id)
    client, names = db.get_one(Client, case.client_id), studio_queries.names(db)
    found = queries.screened_on(db, screening, on)
    scars = {scar.key: scar for scar in records.declared_of(db, screening.case_id)}
    lines = finding_lines(db, screening, found, scars, names)
    groups = tuple(
        FindingGroup(kind, words, mine)
        for kind, words in KIND_WORDS.items()
        if (mine := tuple(line for line in lines if line.row.kind == kind and line.state == "open"))
    )
    newest = queries.newest_screening(db, screening.case_id)
    return ScreeningSheet(
        screening=screening,
        submission=submission,
        case=case,
        client=client,
        country=country_pack(screening.country).name,
        groups=groups,
        over=tuple(line for line in lines if line.state != "open"),
        scars=_scar_lines(db, screening, found, scars, on),
        answers=summary_pages(json.loads(submission.answers), queries.questions_of(db, submission)),
        decided_by=names.get(screening.decided_by or 0, ""),
        decision_words=DECISION_WORDS.get(screening.decision, ""),
        is_newest=newest is not None and newest.id == screening.id,
        has_waits=bool(open_waits(found)),
        is_barred=bool(found.of_kind("legal_bar")),
    )


def finding_lines(
    db: Session, screening: Screening, found: found_of.Screening, scars: dict[str, DeclaredScar], names: dict[int, str]
) -> list[FindingLine]:
    standing = {finding_key(item.rule_id, item.scar_id): item for item in found.findings}
    lines = []
    for row in queries.findings_of(db, screening.id or 0):
        item = standing.get(finding_key(row.rule, row.scar_key))
        state = "open" if item is not None else "lifted" if row.lifted_at is not None else "over"
        place = scar_words(scars[row.scar_key]) if row.scar_key in scars else ""
        can_lift = (
            item is not None and row.kind != "legal_bar" and any(proof in SHOWN_PROOFS for proof in row.proofs.split())
        )
        lines.append(
            FindingLine(
                row,
                state,
                place,
                item.clear_from if item is not None else row.clear_from,
                can_lift,
                names.get(row.lifted_by or 0, ""),
            )
        )
    return lines


def scar_words(scar: DeclaredScar) -> str:
    return declared_words(scar.site, scar.side, scar.kind, scar.happened, scar.words)


def _scar_lines(
    db: Session, screening: Screening, found: found_of.Screening, scars: dict[str, DeclaredScar], on: date
) -> tuple[ScarLine, ...]:
    zones = {zone.id: zone for zone in records.zones_of(db, screening.case_id)}
    passed = json.loads(screening.passed)
    return tuple(
        ScarLine(
            key, scar_words(scars[key]), zones.get(scars[key].zone_id), cleared(found, key, passed=passed, from_on=on)
        )
        for key in (scar.scar_id for scar in found.scars)
        if key in scars
    )
