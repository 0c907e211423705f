"""From the findings of a day to what one scar may have: a grade, the day it begins, and why.

The owner can check it by hand. A finding with a date on which it ends by itself moves the day, not the grade. Any other
finding holds the grade down to what it allows. A wait that the artist went past counts only up to its floor, below
which nobody goes. A legal bar holds everything, whoever agrees.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from app.intake.findings import Finding, Screening
from app.intake.rules import Grade

# What a clearance stores: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work.
GRADE_NUMBERS: dict[Grade, int] = {"none": 0, "consultation": 0, "patch": 1, "spot": 2, "full": 3}
GRADE_WORDS = ("consultation only", "an allergy patch", "a test spot", "full work")


@dataclass(frozen=True)
class Cleared:
    """The most that may be done on a scar, the first day it may be done, and the titles of what holds it."""

    grade: int
    from_on: date
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        return GRADE_WORDS[self.grade]


def finding_key(rule_id: str, scar_id: str | None) -> str:
    """The name of a finding within its screening: the rule, and the scar where it is about one."""
    return f"{rule_id}/{scar_id}" if scar_id else rule_id


def cleared(found: Screening, scar_id: str, *, passed: Collection[str], from_on: date) -> Cleared:
    """What this scar may have given today's findings; `passed` are the waits gone past, `from_on` the day decided."""
    grade = GRADE_NUMBERS["full"]
    reasons: list[str] = []
    for finding in found.findings:
        if finding.scar_id not in (None, scar_id) or finding.allows == "full":
            continue
        day = _ends(finding, passed)
        if day is None:
            grade = min(grade, GRADE_NUMBERS[finding.allows])
        else:
            from_on = max(from_on, day)
        reasons.append(finding.title + (", gone past" if _is_passed(finding, passed) else ""))
    return Cleared(grade, from_on, tuple(dict.fromkeys(reasons)))


def together(parts: Collection[Cleared]) -> Cleared:
    """What a zone may have that covers several declared scars: the least grade, the latest day, every reason."""
    reasons = tuple(dict.fromkeys(reason for part in parts for reason in part.reasons))
    return Cleared(min(part.grade for part in parts), max(part.from_on for part in parts), reasons)


def open_waits(found: Screening) -> tuple[Finding, ...]:
    """The waits that still run: an artist may go past them with a reason."""
    return found.of_kind("wait")


def _is_passed(finding: Finding, passed: Collection[str]) -> bool:
    return finding.kind == "wait" and finding_key(finding.rule_id, finding.scar_id) in passed


def _ends(finding: Finding, passed: Collection[str]) -> date | None:
    if finding.kind == "legal_bar":
        return None
    if _is_passed(finding, passed):
        return finding.floor_until or date.min
    return finding.clear_from
