"""The artist's sheet of one screening: what stands today, what was lifted, what may be done when, and the answers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.intake import findings as found_of
from app.intake import publishing, queries
from app.intake.clearance_line import ClearanceLine, ScarSpan, draw, is_worth_drawing
from app.intake.clearing import Cleared, cleared, finding_key, key_of, open_waits, soonest
from app.intake.filling import SummaryPage, summary_pages
from app.intake.forms import SHOWN_PROOFS
from app.intake.models import Finding, Publication, Screening, Submission
from app.intake.proof_page import ChangedPart, LetterLine, ProofLine, changed_part, letter_lines, proof_lines
from app.intake.proofs import Seen, lifting_on, runs_out_on, seen_for
from app.platform import clock, languages
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import Case, Client, DeclaredScar, Zone
from app.records.scars import declared_words
from app.studio import queries as studio_queries
from app.studio.access import Who
from app.studio.country import country_pack

PART_WORDS: Mapping[str, tuple[str, str]] = {
    "blocks": ("What blocks", "Until the stated proof is seen. What the law bars, nobody passes."),
    "waits": ("What waits", "Until its day, or until an artist goes past it with a reason."),
    "letter": ("What needs a letter", "A clinician is asked, and what they say counts."),
    "test": ("What needs a test first", "Placed, watched for its time, and read."),
    "talk": ("To talk about in private", "Neither a pass nor a bar until it is settled."),
    "careful": ("What to be careful with", "Nothing needs to be lifted: it is seen to in the work."),
}
PROOF_WORDS: Mapping[str, str] = {
    "letter": "A clinician’s letter that agrees",
    "photo_pair": "Two dated photos",
    "talk": "We talked in private",
    "informed_decision": "The client’s own decision, after a clinician would not say",
    "guardian_consent": "Written consent of a guardian",
    "allergy_patch": "An allergy patch read as clear",
    "test_spot": "A test spot read as clear",
}
LANGUAGE_WORDS = {"en": "English", "es": "Spanish", "fr": "French", "de": "German"}
DECISION_WORDS = {"accepted": "Accepted", "wait": "To wait", "declined": "Declined"}


@dataclass(frozen=True)
class FindingLine:
    """One finding as it stands on the day: open, lifted, or over by itself."""

    row: Finding
    state: str
    place: str
    clear_from: date | None
    seen: Seen | None
    seen_by: str
    can_lift: bool
    can_ask: bool
    can_decide: bool
    is_passed: bool

    @property
    def key(self) -> str:
        return finding_key(self.row.rule, self.row.scar_key)


@dataclass(frozen=True)
class FindingGroup:
    part: str
    words: str
    note: str
    lines: tuple[FindingLine, ...]


@dataclass(frozen=True)
class ScarLine:
    """A declared scar and what it may have when, if the screening is accepted today."""

    called: str
    zone: Zone | None
    may: Cleared
    until: date | None


@dataclass(frozen=True)
class WaitLine:
    """A wait that can be gone past, by itself."""

    key: str
    words: str
    hint: str


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
    picture: ClearanceLine | None
    first: tuple[date | None, date | None, date | None]
    waits: tuple[WaitLine, ...]
    letters: tuple[LetterLine, ...]
    proofs: tuple[ProofLine, ...]
    changed: ChangedPart | None
    answers: tuple[SummaryPage, ...]
    answered_in: str
    plain_no: tuple[str, ...]
    decided_by: str
    changed_by: str
    decision_words: str
    decision_mark: str  # to tell this decision from a later one
    publication: Publication | None  # that put its rules into use, where they were not as shipped
    is_newest: bool
    is_barred: bool
    can_ask: bool

    @property
    def first_words(self) -> str:
        return first_words(self.first, self.is_barred)


def first_words(days: tuple[date | None, date | None, date | None], is_barred: bool) -> str:
    """The one earliest date of a case, in a sentence."""
    if is_barred:
        return "The law stands against it: there is no day for any work."
    patch, spot, full = days
    if full is not None:
        return f"Full work on {day_words(full)} at the earliest."
    lesser = "a test spot" if spot is not None else "an allergy patch"
    day = spot or patch
    if day is not None:
        return f"No day for full work yet; {lesser} on {day_words(day)} at the earliest."
    return "No day for any work yet: time alone does not bring it."


def sheet_of(db: Session, who: Who, screening_id: int, on: date) -> ScreeningSheet:
    screening = queries.screening_for(db, who, screening_id)
    submission, case = db.get_one(Submission, screening.submission_id), records.case_for(db, who, screening.case_id)
    client, names, studio = records.kept_client(db, case.client_id), studio_queries.names(db), studio_queries.studio(db)
    found = queries.screened_on(db, screening, on)
    scars = {scar.key: scar for scar in records.declared_of(db, screening.case_id)}
    seen = seen_for(db, screening)
    lines = finding_lines(db, screening, found, scars, names, seen, on)
    scar_lines = _scar_lines(db, screening, found, scars, seen, on)
    spans = [ScarSpan(line.called, line.may.days, line.until, bool(found.of_kind("legal_bar"))) for line in scar_lines]
    newest = queries.newest_screening(db, screening.case_id)
    translate = languages.translator(studio.language)
    answers, questions = queries.told_of(db, submission)
    is_newest = newest is not None and newest.id == screening.id
    return ScreeningSheet(
        screening=screening,
        submission=submission,
        case=case,
        client=client,
        country=country_pack(screening.country).name,
        groups=_groups(lines),
        over=tuple(line for line in lines if line.state != "open"),
        scars=scar_lines,
        picture=draw(spans, on) if is_worth_drawing(spans, on) else None,
        first=soonest([line.may for line in scar_lines]),
        waits=tuple(_wait_line(item, scars) for item in open_waits(found)),
        letters=letter_lines(db, screening, on, names),
        proofs=proof_lines(db, case, [line.row for line in lines], names),
        changed=changed_part(db, screening, translate, scars),
        answers=summary_pages(answers, questions, translate=translate),
        answered_in=_answered_in(submission.language, studio.language),
        plain_no=tuple(translate(words) for words in ("No", "None", "None of these")),
        decided_by=names.get(screening.decided_by or 0, ""),
        changed_by=names.get(submission.changed_by or 0, ""),
        decision_words=DECISION_WORDS.get(screening.decision, ""),
        decision_mark=queries.decision_mark(screening),
        publication=publishing.published_as(db, screening.rule_set_hash, submission.submitted_at or clock.now()),
        is_newest=is_newest,
        is_barred=bool(found.of_kind("legal_bar")),
        can_ask=is_newest and any(line.can_ask for line in lines),
    )


def _answered_in(language: str, of_studio: str) -> str:
    """The language in which the client answered, where it is not the studio's: what was typed stands as typed."""
    return "" if language == of_studio else LANGUAGE_WORDS.get(language, language)


def _groups(lines: Sequence[FindingLine]) -> tuple[FindingGroup, ...]:
    standing = [line for line in lines if line.state == "open"]
    return tuple(
        FindingGroup(part, *words, mine)
        for part, words in PART_WORDS.items()
        if (mine := tuple(line for line in standing if part_of(line.row) == part))
    )


def part_of(row: Finding) -> str:
    """Where a finding stands on the sheet: by what an artist has to do about it."""
    if row.kind == "stop":
        return "letter" if row.needs_letter else "blocks"
    return {"legal_bar": "blocks", "wait": "waits", "test": "test", "talk": "talk"}.get(row.kind, "careful")


def finding_lines(
    db: Session,
    screening: Screening,
    found: found_of.Screening,
    scars: Mapping[str, DeclaredScar],
    names: Mapping[int, str],
    seen: Mapping[str, Sequence[Seen]],
    on: date,
) -> list[FindingLine]:
    standing = {key_of(item): item for item in found.findings}
    passed = queries.passed_of(screening)
    lines = []
    for row in queries.findings_of(db, screening.id or 0):
        key = finding_key(row.rule, row.scar_key)
        item, mine, proofs = standing.get(key), seen.get(key, ()), row.proofs.split()
        lifting = lifting_on(mine, on)
        shown = lifting or (mine[-1] if mine else None)
        is_open = item is not None and row.kind != "legal_bar"
        lines.append(
            FindingLine(
                row,
                state="open" if item is not None else "lifted" if lifting is not None else "over",
                place=scar_called(scars[row.scar_key]) if row.scar_key in scars else "",
                clear_from=item.clear_from if item is not None else row.clear_from,
                seen=shown,
                seen_by=names.get(shown.by or 0, "") if shown is not None else "",
                can_lift=is_open and any(proof in SHOWN_PROOFS for proof in proofs),
                can_ask=is_open and "letter" in proofs,
                can_decide=is_open and "informed_decision" in proofs and may_be_decided(mine),
                is_passed=row.kind == "wait" and key in passed,
            )
        )
    return lines


def may_be_decided(seen: Sequence[Seen]) -> bool:
    """Whether the client's own decision can count: a clinician was asked, would not say, and none advised against."""
    letters = [one.result for one in seen if one.kind == "letter"]
    return bool(letters) and letters[-1] == "declines" and "advises_against" not in letters


def scar_called(scar: DeclaredScar) -> str:
    """Where it is, and how the client calls it: enough to know which one is meant."""
    return declared_words(scar.site, scar.side, "", "", scar.words)


def _wait_line(item: found_of.Finding, scars: Mapping[str, DeclaredScar]) -> WaitLine:
    scar = scars.get(item.scar_id or "")
    place = f" ({scar_called(scar)})" if scar is not None else ""
    until = f"Clear from {day_words(item.clear_from)}." if item.clear_from is not None else "No day is known."
    floor = f" Nobody goes below {day_words(item.floor_until)}." if item.floor_until is not None else ""
    return WaitLine(key_of(item), f"{item.title}{place}", until + floor)


def _scar_lines(
    db: Session,
    screening: Screening,
    found: found_of.Screening,
    scars: Mapping[str, DeclaredScar],
    seen: Mapping[str, Sequence[Seen]],
    on: date,
) -> tuple[ScarLine, ...]:
    zones = {zone.id: zone for zone in records.zones_of(db, screening.case_id)}
    passed = queries.passed_of(screening)
    return tuple(
        ScarLine(
            scar_called(scars[key]),
            zones.get(scars[key].zone_id),
            cleared(found, key, passed=passed, from_on=on),
            _until(key, seen, on),
        )
        for key in (scar.scar_id for scar in found.scars)
        if key in scars
    )


def _until(scar_key: str, seen: Mapping[str, Sequence[Seen]], on: date) -> date | None:
    ends = [runs_out_on(held, on) for key, held in seen.items() if key.partition("/")[2] in ("", scar_key)]
    return min((day for day in ends if day is not None), default=None)
