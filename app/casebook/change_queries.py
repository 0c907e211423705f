"""How a zone changed over its visits, for its page: the picture, the last change, settling, and the skin itself."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from app.colour.change import change, skin_moved, steps_of
from app.colour.difference import Estimate
from app.colour.reading import Reading as Measured
from app.colour.settling import MIN_DAYS_APART, is_settled
from app.outcomes.work_queries import Clock, Worked, clocks_on, work_on
from app.pigments import queries as pigments
from app.platform.pages import day_words
from app.records.models import Case, Photo, Reading, Zone
from app.records.photo_words import skin_class_of
from app.records.queries import AT_REST
from app.records.scars import ZONE_PURPOSES
from app.records.trend import Trend, Visit, trend

# On the day of work skin and scar are red: a colour measured then is no visit's result.
COUNTED = (*AT_REST, "check_in")


@dataclass(frozen=True)
class Seen:
    """One day's reading of a zone."""

    on: date
    purpose: str
    kept: Measured


@dataclass(frozen=True)
class Line:
    """A line of the table behind the picture."""

    on: date
    difference: str
    lightness: str
    words: str


@dataclass(frozen=True)
class ZoneChange:
    """What the page says; empty texts where there is nothing to say."""

    picture: Trend | None
    lines: tuple[Line, ...]
    last_between: str
    last: str
    is_overshot: bool
    whole: str  # from the first visit to the last, where there are more than two
    clock: str
    settling: str
    settling_reasons: tuple[str, ...]
    skin: str
    recipe: str
    recipe_id: int | None


def zone_change(
    db: Session, zone: Zone, case: Case, photos: Sequence[Photo], rows: Sequence[Reading], on: date
) -> ZoneChange:
    zone_id = zone.id or 0
    seen = seen_of(photos, rows)
    at_rest = [one for one in seen if one.purpose in AT_REST]
    work, clocks = _worked(work_on(db, [zone_id]).get(zone_id, [])), clocks_on(db, [zone_id]).get(zone_id, [])
    without = sorted(
        {photo.taken_on for photo in photos if photo.purpose in ZONE_PURPOSES} - {one.on for one in seen}
    )
    skin = skin_class_of(seen[0].kept, case.skin_class) if seen else None
    visits = [Visit(one.on, _size(one.kept), steps_of(one.kept)[0]) for one in seen]
    visits += [Visit(day) for day in without]
    last = change(at_rest[-2].kept, at_rest[-1].kept) if len(at_rest) > 1 else None
    whole = change(at_rest[0].kept, at_rest[-1].kept) if len(at_rest) > 2 else None
    recipe = next(iter(pigments.recipes_of(db, zone_id)), None)
    state, reasons = _settling(seen, clocks)
    return ZoneChange(
        trend(visits, work, skin, on) if skin else None,
        tuple(sorted(_lines(visits, work), key=lambda line: line.on)),
        f"{day_words(at_rest[-2].on)} to {day_words(at_rest[-1].on)}" if last else "",
        last.words if last else "",
        last is not None and last.is_darker_now,
        "" if whole is None else f"Since the first visit, {day_words(at_rest[0].on)}: {whole.words}",
        _clock(clocks, on) if zone.finished_on is None else "",
        state,
        reasons,
        _skin(at_rest),
        pigments.skin_since(db, recipe) if recipe else "",
        recipe.id if recipe else None,
    )


def seen_of(photos: Sequence[Photo], rows: Sequence[Reading]) -> list[Seen]:
    """One calibrated reading a day, oldest first. Of several the one that knows most closely: that choice does not
    depend on what it found."""
    purposes = {photo.id: photo.purpose for photo in photos}
    best: dict[date, Seen] = {}
    for row in rows:
        purpose, kept = purposes.get(row.photo_id, ""), Measured.from_dict(json.loads(row.result))
        if purpose not in COUNTED or kept.lab_scar is None or kept.low is None or kept.high is None:
            continue
        held = best.get(row.taken_on)
        if held is None or _width(kept) < _width(held.kept):
            best[row.taken_on] = Seen(row.taken_on, purpose, kept)
    return [best[day] for day in sorted(best)]


def _size(kept: Measured) -> Estimate:
    low, high = kept.low or 0.0, kept.high or 0.0
    return Estimate(min(max(kept.delta_e_00 or 0.0, low), high), low, high)


def _width(kept: Measured) -> float:
    size = _size(kept)
    return size.high - size.low


def _lines(visits: Sequence[Visit], work: Sequence[tuple[date, str]]) -> list[Line]:
    lines = []
    for one in visits:
        if one.difference is None or one.lightness is None:
            lines.append(Line(one.on, "", "", "photo, not measured"))
        else:
            size, light = one.difference, one.lightness
            lines.append(Line(one.on, f"{size.low:.1f} to {size.high:.1f}",
                              f"{light.low:+.1f} to {light.high:+.1f}".replace("-", "−"), ""))  # fmt: skip
    # On one day the photo came before the work.
    return lines + [Line(on, "", "", words) for on, words in work]


def _worked(work: Sequence[Worked]) -> list[tuple[date, str]]:
    """Each day of work in words: session 1, test spot, session 2."""
    found, sessions = [], 0
    for one in work:
        sessions += one.kind == "full"
        found.append((one.worked_on, f"session {sessions}" if one.kind == "full" else one.words))
    return found


def _clock(clocks: Sequence[Clock], on: date) -> str:
    if not clocks:
        return ""
    judge_on = clocks[-1].judge_on
    return f"The colour may be judged {'from' if judge_on > on else 'since'} {day_words(judge_on)}, by its clock."


def _settling(seen: Sequence[Seen], clocks: Sequence[Clock]) -> tuple[str, tuple[str, ...]]:
    """What two photos after the last work say of settling: the newest, and the newest that lies far enough before."""
    if not clocks:
        return "", ()
    worked_on = clocks[-1].worked_on
    since = [one for one in seen if one.on > worked_on]
    if len(since) < 2:
        return (f"needs two photos with a chart from after the work, {MIN_DAYS_APART} days apart at least; there "
                f"{'is one' if since else 'are none'}"), ()  # fmt: skip
    second = since[-1]
    far = [one for one in since[:-1] if (second.on - one.on).days >= MIN_DAYS_APART]
    first = (far or since[:1])[-1]
    found = is_settled(first.kept, second.kept, (second.on - first.on).days, (second.on - worked_on).days)
    return f"{found.state} ({day_words(first.on)} and {day_words(second.on)})", found.reasons


def _skin(at_rest: Sequence[Seen]) -> str:
    """Whether the skin itself is another than at the visit before, or than at the first."""
    for earlier in dict.fromkeys((len(at_rest) - 2, 0)):
        if 0 <= earlier < len(at_rest) - 1:
            first, last = at_rest[earlier], at_rest[-1]
            if said := skin_moved(first.kept, last.kept).words(f"than on {day_words(first.on)}"):
                return said
    return ""
