"""What the pages about letters show."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.consents import queries as consents
from app.intake import queries
from app.intake.clearing import finding_key
from app.intake.letter_actions import may_be_asked
from app.intake.letter_words import LetterLine as AskedLine
from app.intake.models import LetterRequest, Screening
from app.intake.proof_page import LetterLine, letter_line
from app.intake.proofs import keys_of, letter_requests_of, seen_for
from app.intake.sheet import FindingLine, finding_lines
from app.platform.storage import Blob
from app.records import attachment_queries as attachments
from app.records import queries as records
from app.records.models import Attachment, Case, Client
from app.records.scars import declared_words
from app.studio import queries as studio_queries
from app.studio.access import Who


@dataclass(frozen=True)
class AskingPage:
    """The findings of a screening about which a clinician can be asked."""

    screening: Screening
    case: Case
    client: Client
    lines: tuple[FindingLine, ...]
    may_contact: bool

    @property
    def choices(self) -> list[tuple[str, str, str]]:
        return [(line.key, line.row.title + (f" ({line.place})" if line.place else ""), line.row.what_lifts)
                for line in self.lines]  # fmt: skip

    @property
    def first_chosen(self) -> tuple[str, ...]:
        """What stands and needs a letter."""
        return tuple(line.key for line in self.lines if line.state == "open" and line.row.needs_letter)


@dataclass(frozen=True)
class LetterPage:
    """A letter that was asked for: what it says to the clinician, and what came of it."""

    request: LetterRequest
    line: LetterLine
    asked: tuple[AskedLine, ...]
    case: Case
    client: Client
    newest_id: int
    artist: str
    recorded_by: str
    may_contact: bool
    letter: Attachment | None
    on_file: tuple[Attachment, ...]


@dataclass(frozen=True)
class ReadPage:
    """A letter on file with the letters asked for that it may answer."""

    letter: Attachment
    file: Blob
    client: Client
    case: Case | None
    filed_by: str
    read_by: str
    open_requests: tuple[LetterLine, ...]
    screenings: tuple[tuple[Case, Screening], ...]


def asking_for(db: Session, who: Who, screening_id: int, on: date) -> AskingPage:
    screening = queries.screening_for(db, who, screening_id)
    case = records.case_for(db, who, screening.case_id)
    scars = {scar.key: scar for scar in records.declared_of(db, screening.case_id)}
    found, names = queries.screened_on(db, screening, on), studio_queries.names(db)
    lines = finding_lines(db, screening, found, scars, names, seen_for(db, screening), on)
    return AskingPage(
        screening,
        case,
        records.client_for(db, who, case.client_id),
        tuple(line for line in lines if may_be_asked(line.row) and line.state != "over"),
        consents.is_granted(db, case.client_id, "contact_clinician"),
    )


def letter_page(db: Session, who: Who, letter_request_id: int, on: date) -> LetterPage:
    request = queries.letter_request_for(db, who, letter_request_id)
    case, names = records.case_for(db, who, request.case_id), studio_queries.names(db)
    rows = queries.findings_of(db, request.screening_id)
    client, newest = records.client_for(db, who, case.client_id), queries.newest_screening(db, case.id or 0)
    held = attachments.letters_of(db, who, case.client_id)
    return LetterPage(
        request=request,
        line=letter_line(request, rows, on, names),
        asked=_asked(db, request),
        case=case,
        client=client,
        newest_id=(newest.id if newest is not None else None) or request.screening_id,
        artist=names.get(request.asked_by or 0, ""),
        recorded_by=names.get(request.recorded_by or 0, ""),
        may_contact=consents.is_granted(db, case.client_id, "contact_clinician"),
        letter=next((one for one in held if one.id == request.attachment_id), None),
        on_file=tuple(one for one in held if one.case_id in (None, case.id)),
    )


def _asked(db: Session, request: LetterRequest) -> tuple[AskedLine, ...]:
    """What the clinician is asked about. The place is named, and never how a scar came to be there."""
    rows = {finding_key(row.rule, row.scar_key): row for row in queries.findings_of(db, request.screening_id)}
    scars = {scar.key: scar for scar in records.declared_of(db, request.case_id)}
    lines: dict[str, AskedLine] = {}
    for key in keys_of(request):
        row = rows.get(key)
        if row is None:
            continue
        scar = scars.get(row.scar_key)
        place = declared_words(scar.site, scar.side, "", "", "") if scar is not None else ""
        before = lines.get(row.rule)
        places = ", ".join(part for part in (before.place if before is not None else "", place) if part)
        lines[row.rule] = AskedLine(row.title.partition(":")[0], places)
    return tuple(lines.values())


def read_page(db: Session, who: Who, attachment_id: int) -> ReadPage:
    letter = attachments.letter_for(db, who, attachment_id)
    client, names = records.client_for(db, who, letter.client_id), studio_queries.names(db)
    cases = [case for case in records.cases_of(db, who, letter.client_id) if letter.case_id in (None, case.id)]
    open_ones, screenings = [], []
    for case in cases:
        newest = queries.newest_screening(db, case.id or 0)
        if newest is not None:
            screenings.append((case, newest))
        for request in letter_requests_of(db, case.id or 0):
            if not request.answer:
                rows = queries.findings_of(db, request.screening_id)
                open_ones.append(letter_line(request, rows, request.asked_on, names))
    return ReadPage(
        letter,
        records.blob_of(db, letter.blob_id),
        client,
        next((case for case in cases if case.id == letter.case_id), None),
        names.get(letter.filed_by or 0, ""),
        names.get(letter.read_by or 0, ""),
        tuple(open_ones),
        tuple(screenings),
    )
