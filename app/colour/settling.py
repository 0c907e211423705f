"""Whether a scar's colour has settled after work, as far as two readings can show it.

"No difference was seen" is no proof of none: a poor photo sees none either. So it is turned round, as when two
medicines are to be shown alike: the colour counts as settled only when a change as large as the bound is excluded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from app.colour.change import Change, change, steps_of
from app.colour.difference import Estimate
from app.colour.quality import STILL_RED_ABOVE
from app.colour.reading import Reading

SettledState = Literal["settled", "not settled", "too early", "cannot tell"]

# The program's rule 10: a choice of this program, common practice, no source for the figures themselves. 2 CIEDE2000 is
# the limit of a match on light skin (thresholds.LIMITS), so that a later verdict would not be moved by a whole grade.
BOUND_DELTA_E_00 = 2.0
MIN_DAYS_APART = 14
FLOOR_DAYS = 56


@dataclass(frozen=True, slots=True)
class Settled:
    """Whether the colour has settled, why, and the change that was tested (None where nothing could be compared)."""

    state: SettledState
    reasons: tuple[str, ...]
    change: Change | None = None


def is_settled(
    first: Reading, second: Reading, days_apart: int, days_since_work: int, bound: float = BOUND_DELTA_E_00
) -> Settled:
    """Whether a scar's colour has stopped changing after work.

    Settled only when all of this holds: 8 weeks since the work, two calibrated readings at least 14 days apart and both
    from after the work, no redness left (the whole interval of a* against the skin under the limit), and the whole
    90 % interval of the change inside the bound, in every direction. An interval that reaches over the bound is no
    agreement and no disagreement: "cannot tell".

    Takes: the two readings, oldest first; days from one to the other, days from the last work to the second; bound in
    CIEDE2000, above 0. Gives: Settled. Raises ValueError for days or a bound below 0.
    Source: the program's rule 10; equivalence by two one-sided tests at 5 % each, see `change.furthest`; redness as
    `quality.finding_of_redness`.
    """
    if days_apart < 0 or days_since_work < 0 or not bound > 0:
        raise ValueError("Days are counted forwards from the work, and a bound is more than 0.")
    early = _too_early(days_apart, days_since_work)
    if first.lab_scar is None or second.lab_scar is None:
        reason = "Both photos need a colour chart: without one they cannot be compared."
        return Settled("too early" if early else "cannot tell", (*early, reason))
    found = change(first, second)
    tests = (_redness(steps_of(second)[1]), _moving(found.moved, bound))
    reasons = (*early, *(reason for _, reason in tests))
    states = {state for state, _ in tests}
    if early:
        return Settled("too early", reasons, found)
    for state in ("not settled", "cannot tell"):
        if state in states:
            return Settled(state, reasons, found)
    return Settled("settled", reasons, found)


def _too_early(days_apart: int, days_since_work: int) -> tuple[str, ...]:
    found = []
    if days_since_work < FLOOR_DAYS:
        found.append(f"The later photo is of day {days_since_work} after the work: 8 weeks ({FLOOR_DAYS} days) are the "
                     "least.")
    if days_apart < MIN_DAYS_APART:
        found.append(f"The photos are {days_apart} days apart: {MIN_DAYS_APART} are the least.")
    if days_apart >= days_since_work:
        found.append("The earlier photo is from before the work, so that the change holds the work itself.")
    return tuple(found)


def _redness(over_skin: Estimate) -> tuple[SettledState, str]:
    """Gone only when the whole interval lies under the limit."""
    figures = f"a* over the skin’s by {_signed(over_skin.low)} to {_signed(over_skin.high)}; limit {STILL_RED_ABOVE:g}"
    if over_skin.high <= STILL_RED_ABOVE:
        return "settled", f"The redness has gone ({figures})."
    if over_skin.low > STILL_RED_ABOVE:
        return "not settled", f"It is still red ({figures})."
    return "cannot tell", f"It may still be red ({figures})."


def _moving(moved: Estimate, bound: float) -> tuple[SettledState, str]:
    figures = f"{moved.low:.1f} to {moved.high:.1f} (CIEDE2000, 90 % interval); bound {bound:g}"
    if moved.high <= bound:
        return "settled", f"The colour changed by no more than the bound: {figures}."
    if moved.low > bound:
        return "not settled", f"The colour still changes: {figures}."
    return "cannot tell", f"The photos cannot tell a settled colour from a changing one: {figures}."


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")
