"""The review as a table for a spreadsheet: comma-separated, one row for each verdict, or for a zone that has none.

Lines end in CR LF and cells are quoted where needed. A text cell that a spreadsheet would run as a formula gets an
apostrophe in front.

Sources: RFC 4180 (line ends, quoting); OWASP, "CSV injection" (the characters that begin a formula).
"""

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import date

from app.outcomes.queries import VerdictLine
from app.outcomes.review_queries import SettledZone

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
HEADER = (
    "case", "zone", "artist", "full_sessions", "last_work", "judge_from", "before_low", "before_high", "after_low",
    "after_high", "change", "change_least", "change_most", "verdict", "first_light", "second_light", "counts",
    "settled", "judged_on", "judged_by", "by_treating_artist", "seen", "visibility", "satisfaction", "next_step",
)  # fmt: skip
Cell = str | int | float | date | None


def cell(value: Cell) -> str:
    """A value as a cell: nothing that was typed is run as a formula."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.2f}"
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(FORMULA_STARTS) else text


def table(lines: Sequence[SettledZone]) -> str:
    """The whole table as text."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    for line in lines:
        for row in _rows(line):
            writer.writerow([cell(value) for value in row])
    return out.getvalue()


def _rows(line: SettledZone) -> Iterator[tuple[Cell, ...]]:
    about = _about(line)
    for given in line.verdicts or (None,):
        yield (*about, *_verdict(given, line.standing))


def _about(line: SettledZone) -> tuple[Cell, ...]:
    before, after, change = line.before or (None, None), line.after or (None, None), line.change
    return (
        line.case.number,
        line.zone.name,
        line.artist,
        line.sessions_used,
        line.worked_on,
        line.judge_on,
        *before,
        *after,
        change.direction if change else None,
        change.low if change else None,
        change.high if change else None,
    )


def _verdict(given: VerdictLine | None, standing: VerdictLine | None) -> tuple[Cell, ...]:
    if given is None:
        return (None,) * 12
    one = given.verdict
    return (
        one.counts,
        one.grade,
        one.grade_second_light,
        _yes(given is standing),
        _yes(one.was_settled),
        one.judged_on,
        given.by,
        _yes(one.by_treating_artist),
        one.seen,
        one.visibility,
        one.satisfaction,
        one.next_step,
    )


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
