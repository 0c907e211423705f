"""From the findings of a day to what one scar may have: the first day of an allergy patch, a test spot and full work.

The owner can check it by hand. A finding holds every grade above what it allows: one that allows a patch holds the spot
and full work, and leaves the patch alone. It holds them until the day on which it ends by itself; where it has no such
day, the grade has none either. A wait that the artist went past counts only up to its floor, below which nobody goes. A
legal bar holds everything, whoever agrees. So a patch is never later than a spot, a spot never later than full work.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from app.intake.findings import Finding, Screening
from app.intake.rules import Grade

# What a clearance stores: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work.
GRADE_NUMBERS: dict[Grade, int] = {"none": 0, "consultation": 0, "patch": 1, "spot": 2, "full": 3}
GRADE_WORDS = ("consultation only", "an allergy patch", "a test spot", "full work")
GRADED = (1, 2, 3)


@dataclass(frozen=True)
class Cleared:
    """What may be done on a scar: the first day of each grade, or None where time alone never brings it.

    `decided_on` is the day from which the decision counts; `reasons` are the titles of what holds anything.
    """

    patch_from: date | None
    spot_from: date | None
    full_from: date | None
    decided_on: date
    reasons: tuple[str, ...] = ()

    @property
    def days(self) -> tuple[date | None, date | None, date | None]:
        return self.patch_from, self.spot_from, self.full_from

    @property
    def grade(self) -> int:
        """The highest grade that has a day."""
        return highest(self.days)

    @property
    def from_on(self) -> date:
        """The first day of that grade; where nothing may be done, the day of the decision."""
        return (self.days[self.grade - 1] if self.grade else None) or self.decided_on

    @property
    def words(self) -> str:
        return GRADE_WORDS[self.grade]

    def grade_on(self, on: date) -> int:
        """The most that may be done on a day."""
        return highest(tuple(day if day is not None and day <= on else None for day in self.days))


def highest(days: tuple[date | None, ...]) -> int:
    """The highest grade that has a day, 0 where none has."""
    return max((grade for grade, day in zip(GRADED, days, strict=True) if day is not None), default=0)


def finding_key(rule_id: str, scar_id: str | None) -> str:
    """The name of a finding within its screening: the rule, and the scar where it is about one."""
    return f"{rule_id}/{scar_id}" if scar_id else rule_id


def key_of(finding: Finding) -> str:
    return finding_key(finding.rule_id, finding.scar_id)


def cleared(found: Screening, scar_id: str, *, passed: Collection[str], from_on: date) -> Cleared:
    """What this scar may have given today's findings; `passed` are the waits gone past, `from_on` the day decided."""
    mine = [item for item in found.findings if item.scar_id in (None, scar_id) and item.allows != "full"]
    patch, spot, full = (_first_day(mine, grade, passed, from_on) for grade in GRADED)
    reasons = (item.title + (", gone past" if is_passed(item, passed) else "") for item in mine)
    return Cleared(patch, spot, full, from_on, tuple(dict.fromkeys(reasons)))


def _first_day(findings: Iterable[Finding], grade: int, passed: Collection[str], from_on: date) -> date | None:
    """The day on which everything that holds a grade has ended."""
    for finding in findings:
        if GRADE_NUMBERS[finding.allows] >= grade:
            continue
        ends = _ends(finding, passed)
        if ends is None:
            return None
        from_on = max(from_on, ends)
    return from_on


def together(parts: Collection[Cleared]) -> Cleared:
    """What a zone may have that covers several declared scars: of each grade the latest day, and every reason."""
    reasons = tuple(dict.fromkeys(reason for part in parts for reason in part.reasons))
    patch, spot, full = (_latest(part.days[grade - 1] for part in parts) for grade in GRADED)
    return Cleared(patch, spot, full, max(part.decided_on for part in parts), reasons)


def soonest(parts: Collection[Cleared]) -> tuple[date | None, date | None, date | None]:
    """The first day of each grade on any of several scars: what the case can begin with."""
    patch, spot, full = (
        min((day for part in parts if (day := part.days[grade - 1]) is not None), default=None) for grade in GRADED
    )
    return patch, spot, full


def _latest(days: Iterable[date | None]) -> date | None:
    held = list(days)
    known = [day for day in held if day is not None]
    return max(known) if len(known) == len(held) else None


def open_waits(found: Screening) -> tuple[Finding, ...]:
    """The waits that still run: an artist may go past each of them with a reason."""
    return found.of_kind("wait")


def is_passed(finding: Finding, passed: Collection[str]) -> bool:
    return finding.kind == "wait" and key_of(finding) in passed


def _ends(finding: Finding, passed: Collection[str]) -> date | None:
    if finding.kind == "legal_bar":
        return None
    if is_passed(finding, passed):
        # Going past a wait never makes it longer, and never goes below its floor.
        floor = finding.floor_until or date.min
        return floor if finding.clear_from is None else min(floor, finding.clear_from)
    return finding.clear_from
