"""The strip through time: each zone's measured scar colour lying on the colour of the skin around it.

Sessions cut across it, settling is hatched because colour is not judged then, and a reading changes both colours from
its date on. What was never measured, and what lies after today, is outlined and not coloured. When the strip can no
longer be seen, the work is done.

Everything is worked out here in SVG units, so that the template only loops. Words stand where they fit beside what
they name; where they would touch something else they become a number and a line of the list below (`notes`), and where
not even the number fits, the line alone. The whole is told again in sentences for those who do not see the picture.
A reading dated after today is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from app.records.strip_axis import Scale, day_words, month_words, sentences, time_span, today_words
from app.records.strip_ink import INK, LINE_CONTRAST, WHITE, grey_on, ink_on, shortened, words_width
from app.records.strip_rows import Ground, Row, under
from app.records.strip_shapes import Hatch, Note, Rect, Rule, Strip, StripReading, StripSession, StripZone, Words

__all__ = ["Strip", "StripReading", "StripSession", "StripZone", "build"]

# Mid grey, as viewing conditions for colour work ask for around what is judged. Source: ISO 3664.
WELL = "#777777"

_PAD, _BAND, _GAP = 11.0, 20.0, 16.0
_HATCH_STEP = 8.0


@dataclass(frozen=True)
class _Frame:
    """What all zones share: the time scale, today, the type size, the heights."""

    scale: Scale
    today: date
    size: float
    row: float
    compact: bool
    labels_inside: bool

    @property
    def above(self) -> float:
        return 0.0 if self.labels_inside else self.size * 1.75

    @property
    def block(self) -> float:
        return 2 * self.row + _BAND


@dataclass
class _Sheet:
    """Gathers what is drawn while zones are laid out one under the other."""

    wells: list[Rect] = field(default_factory=list)
    grounds: list[Rect] = field(default_factory=list)
    hatches: list[Hatch] = field(default_factory=list)
    rules: list[Rule] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)


def _grounds(zone: StripZone, frame: _Frame) -> list[Ground]:
    """The zone's stretches from left to right: never measured, measured, and after today."""
    scale = frame.scale
    readings = sorted((one for one in zone.readings if one.on <= frame.today), key=lambda one: one.on)
    now = scale.x(frame.today)
    starts = [scale.x(one.on) for one in readings] + [now]
    found = [Ground(scale.left, starts[0], WELL, WELL, "unknown")]
    for reading, x0, x1 in zip(readings, starts, starts[1:], strict=False):
        found.append(Ground(x0, x1, reading.skin_hex, reading.scar_hex, "measured"))
    found.append(Ground(now, scale.right, WELL, WELL, "future"))
    return [ground for ground in found if ground.x1 > ground.x0]


def _draw_grounds(sheet: _Sheet, grounds: Sequence[Ground], frame: _Frame, top: float) -> None:
    for ground in grounds:
        width, band_top = round(ground.x1 - ground.x0, 1), top + frame.row
        if ground.kind == "measured":
            sheet.grounds.append(Rect(ground.x0, top, width, frame.block, ground.skin))
            sheet.grounds.append(Rect(ground.x0, band_top, width, _BAND, ground.scar))
        else:
            dashed = ground.kind == "future"
            sheet.grounds.append(Rect(ground.x0, top, width, frame.block, stroke=INK, dashed=dashed))
            sheet.grounds.append(Rect(ground.x0, band_top, width, _BAND, stroke=INK, dashed=dashed))


def _hatch_path(x0: float, x1: float, top: float, bottom: float) -> str:
    """Slanting lines (45 degrees, rising to the right) cut to a rectangle."""
    tall, parts = bottom - top, []
    start = x0 - tall + _HATCH_STEP / 2
    while start < x1:
        left, right = max(start, x0), min(start + tall, x1)
        if right > left:
            parts.append(f"M{left:.1f} {bottom - (left - start):.1f}L{right:.1f} {bottom - (right - start):.1f}")
        start += _HATCH_STEP
    return "".join(parts)


def _draw_settling(sheet: _Sheet, zone: StripZone, grounds: Sequence[Ground], frame: _Frame, top: float) -> None:
    spans = sorted((frame.scale.x(start), frame.scale.x(until)) for start, until in zone.settling)
    reached = frame.scale.left
    for start, until in spans:
        # Where two settlings overlap the hatching is drawn once.
        start, reached = max(start, reached), max(reached, until)
        for ground in grounds:
            x0, x1 = max(start, ground.x0), min(until, ground.x1)
            path = _hatch_path(x0, x1, top + frame.row, top + frame.row + _BAND) if x1 > x0 else ""
            if path:
                sheet.hatches.append(Hatch(path, grey_on(ground.scar)))


def _rule(session: StripSession, grounds: Sequence[Ground], frame: _Frame, top: float) -> Rule:
    """A full session cuts across scar and skin, a spot or patch across the scar only."""
    x = frame.scale.x(session.on)
    near = under(grounds, x - 2, x + 2)
    crossed = tuple(dict.fromkeys(hex_colour for one in near for hex_colour in (one.skin, one.scar)))
    ink = ink_on(crossed, LINE_CONTRAST)
    casing = None
    if ink is None:
        ink, casing = INK, WHITE
    if session.kind == "full":
        return Rule(x, top, top + frame.block, ink, casing, session.on > frame.today)
    band_top = top + frame.row
    return Rule(x, band_top - 4, band_top + _BAND + 4, ink, casing, session.on > frame.today)


def _shown_readings(zone: StripZone, frame: _Frame) -> list[StripReading]:
    """Readings whose words belong on the picture: those in its time, and the last one before it begins."""
    known = sorted((one for one in zone.readings if one.on <= frame.today), key=lambda one: one.on)
    earlier = [one for one in known if one.on < frame.scale.begin]
    return earlier[-1:] + [one for one in known if frame.scale.shows(one.on)]


def _rows(zone: StripZone, grounds: Sequence[Ground], frame: _Frame, top: float) -> tuple[Row, Row]:
    scale = frame.scale
    now = [scale.x(frame.today)] if scale.shows(frame.today) else []
    sessions = [one for one in zone.sessions if scale.shows(one.on)]
    upper = [scale.x(one.on) for one in sessions] + now
    lower = [scale.x(one.on) for one in sessions if one.kind == "full"] + now
    baseline = top + (frame.row + frame.size * 0.7) / 2
    below = baseline + frame.row + _BAND
    return (
        Row(round(baseline, 1), frame.size, scale.left, scale.right, grounds, upper, []),
        Row(round(below, 1), frame.size, scale.left, scale.right, grounds, lower, []),
    )


def _place_label(zone: StripZone, row: Row) -> bool:
    return row.place(zone.label, row.left - 2, bold=True)


def _labels_fit(zones: Sequence[StripZone], frame: _Frame) -> bool:
    return all(_place_label(zone, _rows(zone, _grounds(zone, frame), frame, 0.0)[0]) for zone in zones)


def _place_words(sheet: _Sheet, zone: StripZone, rows: tuple[Row, Row], frame: _Frame) -> None:
    """Puts session labels above and readings below the band, by date; what has no room becomes a numbered note."""
    upper, lower = rows
    events: list[tuple[date, str, Row, bool]] = [
        (one.on, one.label, upper, False) for one in zone.sessions if frame.scale.shows(one.on)
    ]
    readings = _shown_readings(zone, frame)
    for reading in readings:
        last = zone.judged and reading is readings[-1]
        events.append((reading.on, f"{reading.words}, {zone.judged}" if last else reading.words, lower, True))
    if zone.judged and not readings:
        events.append((frame.today, zone.judged, lower, True))
    for on, words, row, back in sorted(events, key=lambda event: event[0]):
        anchor = frame.scale.x(on)
        if not frame.compact and row.place(words, anchor, bold=not back, back=back):
            continue
        number = len(sheet.notes) + 1
        row.place(str(number), anchor, bold=True, back=back)
        planned = ", planned" if on > frame.today else ""
        sheet.notes.append(Note(number, f"{zone.label}: {words}, {day_words(on)}{planned}"))
    sheet.words += upper.placed + lower.placed


def _lay_out(sheet: _Sheet, zone: StripZone, frame: _Frame, y: float) -> float:
    """Draws one zone from y down; gives the bottom of its well."""
    scale, well_top = frame.scale, y + frame.above
    width = scale.right - scale.left + 2 * _PAD
    top = well_top + _PAD
    sheet.wells.append(Rect(scale.left - _PAD, well_top, width, frame.block + 2 * _PAD, WELL))
    grounds = _grounds(zone, frame)
    _draw_grounds(sheet, grounds, frame, top)
    _draw_settling(sheet, zone, grounds, frame, top)
    sheet.rules += [_rule(one, grounds, frame, top) for one in zone.sessions if scale.shows(one.on)]
    rows = _rows(zone, grounds, frame, top)
    if frame.labels_inside:
        _place_label(zone, rows[0])
    else:
        label = shortened(zone.label, frame.size, width)
        baseline = round(y + frame.size * 1.1, 1)
        sheet.words.append(Words(0.0, baseline, label, frame.size, words_width(label, frame.size), bold=True))
    _place_words(sheet, zone, rows, frame)
    return well_top + frame.block + 2 * _PAD


def build(
    zones: Sequence[StripZone],
    *,
    today: date,
    width: float,
    begin: date | None = None,
    end: date | None = None,
    compact: bool = False,
) -> Strip:
    """The whole picture, `width` units wide (one unit is one CSS pixel when shown at its own size).

    `compact` keeps only numbers on the strip, their words in the notes. Raises ValueError for no zones, for less than
    200 units, or when it would end before it begins.
    """
    if not zones:
        raise ValueError("a strip shows at least one zone")
    if width < 200:
        raise ValueError("a strip is at least 200 units wide")
    begin, end = time_span(zones, today, begin, end)
    scale, size = Scale(begin, end, _PAD, width - _PAD), 14.0
    row = size * (1.4 if compact else 1.7)
    inside = not compact and _labels_fit(zones, _Frame(scale, today, size, row, compact, True))
    frame = _Frame(scale, today, size, row, compact, inside)
    sheet = _Sheet(words=month_words(scale, size, width))
    axis = size * 1.7
    ticks = tuple(Rule(one.left, axis - 4, axis, "currentColor") for one in sheet.words)
    y = axis + (0.0 if inside else 2.0)
    for zone in zones:
        y = _lay_out(sheet, zone, frame, y) + _GAP
    bottom = y - _GAP
    now: tuple[Rule, ...] = ()
    if scale.shows(today):
        x = scale.x(today)
        now = tuple(Rule(x, well.y - 3, well.y + well.height + 3, INK, WHITE) for well in sheet.wells)
        sheet.words.append(today_words(scale, today, size, round(bottom + size * 1.3, 1), width))
    told = tuple(words for zone in zones for words in sentences(zone, today))
    return Strip(
        width=width,
        height=round(bottom + size * 1.8, 1),
        title=f"Strip through time, {day_words(begin)} to {day_words(end)}: {', '.join(zone.label for zone in zones)}",
        wells=tuple(sheet.wells),
        grounds=tuple(sheet.grounds),
        hatches=tuple(sheet.hatches),
        rules=tuple(sheet.rules),
        ticks=ticks,
        today=now,
        words=tuple(sheet.words),
        notes=tuple(sheet.notes),
        sentences=(*told, f"Today is {day_words(today)}."),
    )
