"""What a screening is made of: findings, alerts, what each scar may have, and the proofs that lift."""

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Literal

from app.intake.question_list import CAUTION
from app.intake.rules import Audience, Grade, Proof, Result

FindingKind = Literal["legal_bar", "stop", "wait", "test", "caution", "talk"]
Because = Literal["answer", "dont_know", "withheld", "unanswered", "evidence", "age"]

NEXT_STEPS_TITLE = "What happens next"  # The client's heading never says what was found.


@dataclass(frozen=True)
class Evidence:
    """A proof on file. A letter, talk or decision names the rules it speaks to; a patch or spot may leave them open.

    `on` is the date of the letter or talk, or the day on which the patch or spot was placed. A test spot and a photo
    pair speak only for the scar they name, a patch for the person, anything else for all scars unless it names one.
    """

    kind: Proof
    on: date
    result: Result
    rule_ids: tuple[str, ...] = ()
    scar_id: str | None = None
    expires_on: date | None = None


@dataclass(frozen=True)
class Finding:
    rule_id: str
    scope: Literal["client", "zone"]
    scar_id: str | None
    kind: FindingKind
    because: Because
    title: str
    reason: str
    source: str
    source_tags: tuple[str, ...]
    allows: Grade
    clear_from: date | None
    floor_until: date | None
    what_lifts: str
    lifted_by: tuple[Proof, ...]
    client_summary: str
    letter_needed: bool
    sensitive: bool


@dataclass(frozen=True)
class Alert:
    code: str
    words: str
    audience: Audience
    rule_id: str
    scar_id: str | None


@dataclass(frozen=True)
class ScarClearance:
    """The most that a scar may have on the day, the reasons, and the day on which time alone would clear it fully."""

    scar_id: str
    grade: Grade
    why: tuple[str, ...]
    full_from: date | None


@dataclass(frozen=True)
class ClientLine:
    text: str
    from_date: date | None


@dataclass(frozen=True)
class Screening:
    on: date
    country: str
    questions_version: str
    rule_set_version: str
    evaluator_version: int
    findings: tuple[Finding, ...]
    alerts: tuple[Alert, ...]
    scars: tuple[ScarClearance, ...]
    person_grade: Grade
    preparation: tuple[str, ...]
    afterwards: tuple[str, ...]

    def of_kind(self, *kinds: FindingKind) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.kind in kinds)

    def scar(self, scar_id: str) -> ScarClearance:
        for clearance in self.scars:
            if clearance.scar_id == scar_id:
                return clearance
        raise KeyError(scar_id)

    @property
    def full_from(self) -> date | None:
        """The earliest day on which time alone clears at least one scar; None where time alone does not."""
        return min((scar.full_from for scar in self.scars if scar.full_from is not None), default=None)

    @property
    def is_sensitive(self) -> bool:
        """Whether something is to be spoken of in person: no message and no countdown by itself."""
        return any(finding.sensitive or finding.because == "withheld" for finding in self.findings)

    @property
    def client_summary(self) -> tuple[ClientLine, ...]:
        """Kind, plain sentences, each once; no date beside a sensitive one, and none that hints at which it is."""
        lines: dict[str, date | None] = {}
        for finding in self.findings:
            if not finding.client_summary:
                continue
            shown = None if finding.sensitive or self.is_sensitive else finding.clear_from
            before = lines.get(finding.client_summary, shown)
            # Of two waits the later one; where one has no known end, no date at all.
            lines[finding.client_summary] = max(before, shown) if before and shown else None
        return tuple(ClientLine(text, day) for text, day in lines.items())


def screening_to_dict(screening: Screening) -> dict[str, Any]:
    """JSON-safe: dates as text; with the caution that belongs beside every list of findings."""
    content: dict[str, Any] = _plain(asdict(screening))
    content["full_from"] = _plain(screening.full_from)
    content["client_summary"] = [_plain(asdict(line)) for line in screening.client_summary]
    content["caution"] = CAUTION
    return content


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
