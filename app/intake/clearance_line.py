"""What each scar may have, drawn along time: a line that opens.

A hairline is consultation only. It widens on the day an allergy patch may be placed, again for a test spot, and to its
full height for full work. Where it stays narrow, time alone does not widen it; where it closes, a letter runs out.
Everything drawn is also said in sentences. Pure.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from app.intake.clearing import GRADED
from app.records.strip_axis import Scale, day_words, month_words
from app.records.strip_ink import shortened, words_width
from app.records.strip_shapes import Words

WIDTH = 1140.0
HALF_HEIGHTS = (0.75, 4.0, 9.0, 16.0)  # of the line, by what may be done: nothing, a patch, a spot, full work
WHAT = ("consultation only", "allergy patch", "test spot", "full work")
SIZE, LABEL_SIZE = 15.0, 16.0
_LABEL_TO_LINE, _LINE_TO_WORDS, _WORDS_STEP, _BETWEEN = 30.0, 36.0, 20.0, 18.0
_LEAST_SHOWN = timedelta(days=120)
_AFTER = 0.12  # of the time shown lies after the last change, so that it can be seen to go on
_GAP = 14.0

Days = tuple[date | None, date | None, date | None]


@dataclass(frozen=True)
class ScarSpan:
    """One scar: the first day of each grade, and the day on which a proof behind it runs out."""

    label: str
    days: Days
    until: date | None = None
    is_barred: bool = False


@dataclass(frozen=True)
class Band:
    """The line of one scar: what it encloses, and its two edges."""

    fill: str
    edges: tuple[str, str]


@dataclass(frozen=True)
class ClearanceLine:
    width: float
    height: float
    title: str
    bands: tuple[Band, ...]
    ticks: tuple[tuple[float, float, float], ...]  # x, top, bottom
    words: tuple[Words, ...]
    sentences: tuple[str, ...]


def is_worth_drawing(spans: Sequence[ScarSpan], today: date) -> bool:
    """Whether anything changes from today on: where all is as it stays, words suffice."""
    return any(day is not None and day > today for span in spans for day in (*span.days, span.until))


def draw(spans: Sequence[ScarSpan], today: date, width: float = WIDTH) -> ClearanceLine:
    """The picture of all scars over one axis of time that begins today."""
    scale = Scale(today, _end(spans, today), 1.0, width - 1.0)
    bands: list[Band] = []
    words: list[Words] = []
    ticks: list[tuple[float, float, float]] = []
    y = 0.0
    for span in spans:
        label = shortened(span.label, LABEL_SIZE, width)
        words.append(Words(0.0, y + 14.0, label, LABEL_SIZE, words_width(label, LABEL_SIZE), bold=True))
        middle = y + _LABEL_TO_LINE + HALF_HEIGHTS[3]
        steps = _steps(span, today)
        bands.append(_band(steps, span, scale, middle))
        said, lines = _step_words(steps, span, scale, today, middle + _LINE_TO_WORDS, width)
        words += said
        ticks += [(scale.x(day), middle + HALF_HEIGHTS[3] + 2, middle + _LINE_TO_WORDS - SIZE + 2)
                  for day, _ in steps if day > today]  # fmt: skip
        y = middle + _LINE_TO_WORDS + _WORDS_STEP * (lines - 1) + _BETWEEN
    months = [Words(one.x, y + one.y, one.words, one.size, one.width) for one in month_words(scale, 14.0, width)]
    ticks += [(one.x, y - 6.0, y + 1.0) for one in months]
    title = f"What may be done when, from {day_words(today)} on"
    return ClearanceLine(width, y + 24.0, title, tuple(bands), tuple(ticks), (*words, *months),
                         tuple(_sentences(spans, today)))  # fmt: skip


def _end(spans: Sequence[ScarSpan], today: date) -> date:
    last = max([today, *(day for span in spans for day in (*span.days, span.until) if day is not None)])
    shown = max(last - today, _LEAST_SHOWN)
    return today + timedelta(days=round(shown.days * (1 + _AFTER)))


def _steps(span: ScarSpan, today: date) -> list[tuple[date, int]]:
    """The days on which more may be done, each with the most that may be done from then on; the first is today."""
    found: list[tuple[date, int]] = [(today, 0)]
    for grade in GRADED:
        day = span.days[grade - 1]
        if day is None:
            break
        day = max(day, today)
        if day == found[-1][0]:
            found[-1] = (day, grade)
        else:
            found.append((day, grade))
    return found


def _band(steps: Sequence[tuple[date, int]], span: ScarSpan, scale: Scale, middle: float) -> Band:
    is_closed = span.until is not None and span.until >= scale.begin
    right = scale.x(span.until) if is_closed and span.until is not None else scale.right
    above: list[tuple[float, float]] = []
    for day, grade in steps:
        x = min(scale.x(day), right)
        if above:
            above.append((x, above[-1][1]))
        above.append((x, HALF_HEIGHTS[grade]))
    above.append((right, above[-1][1]))
    top = " ".join(f"{x:.1f},{middle - half:.1f}" for x, half in above)
    bottom = " ".join(f"{x:.1f},{middle + half:.1f}" for x, half in above)
    back = " ".join(f"{x:.1f},{middle + half:.1f}" for x, half in reversed(above))
    if is_closed:
        bottom += f" {right:.1f},{middle - above[-1][1]:.1f}"
    return Band(f"{top} {back}", (top, bottom))


def _step_words(
    steps: Sequence[tuple[date, int]], span: ScarSpan, scale: Scale, today: date, y: float, width: float
) -> tuple[list[Words], int]:
    """What opens on each day, under its day; a word that would touch the one before goes a line lower."""
    told = [(scale.x(day), _opens(steps, index, today)) for index, (day, _) in enumerate(steps)]
    if span.until is not None and span.until >= today:
        told.append((scale.x(span.until), f"a letter runs out {day_words(span.until)}"))
    ends: list[float] = []
    found = []
    for x, words in told:
        room = words_width(words, SIZE)
        left = max(0.0, min(x, width - room - 2))
        line = next((at for at, end in enumerate(ends) if end + _GAP <= left), len(ends))
        ends[line:line + 1] = [left + room]
        found.append(Words(round(left, 1), y + line * _WORDS_STEP, words, SIZE, room))
    rest = _rest(span)
    if rest:
        room = words_width(rest, SIZE)
        left = max(0.0, width - room - 2)
        line = next((at for at, end in enumerate(ends) if end + _GAP <= left), len(ends))
        ends[line:line + 1] = [left + room]
        found.append(Words(round(left, 1), y + line * _WORDS_STEP, rest, SIZE, room))
    return found, len(ends)


def _opens(steps: Sequence[tuple[date, int]], index: int, today: date) -> str:
    day, grade = steps[index]
    before = steps[index - 1][1] if index else 0
    opened = [WHAT[step] for step in range(before + 1, grade + 1)] or [WHAT[0]]
    words = opened[0] if len(opened) == 1 else f"{', '.join(opened[:-1])} and {opened[-1]}"
    return f"now: {words}" if day == today else f"{words} {day_words(day)}"


def _rest(span: ScarSpan) -> str:
    if span.is_barred:
        return "the law stands against it"
    closed = [WHAT[grade] for grade in GRADED if span.days[grade - 1] is None]
    if not closed:
        return ""
    words = closed[0] if len(closed) == 1 else f"{', '.join(closed[:-1])} and {closed[-1]}"
    return f"{words}: not by time alone"


def _sentences(spans: Sequence[ScarSpan], today: date) -> Iterator[str]:
    for span in spans:
        steps = _steps(span, today)
        yield f"{span.label}: {_opens(steps, 0, today)}."
        for index, _ in list(enumerate(steps))[1:]:
            yield f"{span.label}: {_opens(steps, index, today)}."
        if _rest(span):
            yield f"{span.label}: {_rest(span)}."
        if span.until is not None and span.until >= today:
            yield f"{span.label}: a letter runs out on {day_words(span.until)}, and nothing starts after it."
