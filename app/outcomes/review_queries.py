"""What an owner reviews: settled zones with what was measured, what was judged, and what is still owed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session, col, select

from app.colour.difference import Estimate
from app.healing.models import Course, CourseZone
from app.outcomes import scores
from app.outcomes.forms import ReviewFilter
from app.outcomes.models import Verdict
from app.outcomes.queries import VerdictLine, may_see
from app.outcomes.work_queries import (
    Clock,
    Early,
    Worked,
    clocks_on,
    difference_of,
    earliness,
    readings_on,
    sessions_words,
    standing_verdict,
    verdicts_on,
    work_on,
)
from app.records.models import Case, Reading, Zone
from app.sessions import queries as sessions
from app.sessions.queries import MissingRecord
from app.studio import queries as studio
from app.studio.access import Who

# A zone with no settled verdict this long after the work counts as lost sight of. Common practice, no source.
LOST_AFTER = timedelta(weeks=16)


@dataclass(frozen=True)
class ZoneOnFile:
    """One zone with its work, clocks, readings and verdicts, oldest first."""

    zone: Zone
    case: Case
    work: tuple[Worked, ...]
    clocks: tuple[Clock, ...]
    readings: tuple[Reading, ...]
    verdicts: tuple[Verdict, ...]

    @property
    def clock(self) -> Clock | None:
        return self.clocks[-1] if self.clocks else None

    @property
    def artist_id(self) -> int | None:
        """Who worked on it last."""
        return self.work[-1].artist_id if self.work else None

    @property
    def standing(self) -> Verdict | None:
        return standing_verdict(self.verdicts, self.clocks)


@dataclass(frozen=True)
class SettledZone:
    """A zone whose colour may be judged, as the review shows it."""

    zone: Zone
    case: Case
    artist: str
    sessions_used: int
    work_words: str
    worked_on: date
    judge_on: date
    before: tuple[float, float] | None
    after: tuple[float, float] | None
    change: scores.Change | None
    verdicts: tuple[VerdictLine, ...]
    standing: VerdictLine | None
    is_lost: bool


@dataclass(frozen=True)
class EarlyReturn:
    zone: Zone
    case: Case
    artist: str
    session_id: int | None
    worked_on: date
    before_on: date
    earliest_on: date
    kind: Early


@dataclass(frozen=True)
class Review:
    worked: int  # zones worked on, of whom this is about
    settled: tuple[SettledZone, ...]
    early: tuple[EarlyReturn, ...]
    share: scores.Proportion
    share_by_others: scores.Proportion
    sessions: scores.MedianIqr | None
    comparison: scores.Comparison | None
    missing: tuple[MissingRecord, ...]

    @property
    def judged(self) -> tuple[SettledZone, ...]:
        return tuple(line for line in self.settled if line.standing is not None)

    @property
    def owed(self) -> tuple[SettledZone, ...]:
        """Past the day they may be judged, with no settled verdict on the work as it stands."""
        return tuple(line for line in self.settled if line.standing is None and not line.is_lost)

    @property
    def lost(self) -> tuple[SettledZone, ...]:
        return tuple(line for line in self.settled if line.standing is None and line.is_lost)


def zones_on_file(db: Session, who: Who, zones: Sequence[Zone]) -> list[ZoneOnFile]:
    """These zones, as far as this member may see them, each with everything that was done and measured."""
    cases = may_see(db, who, [zone.case_id for zone in zones])
    ids = [zone.id for zone in zones if zone.id is not None and zone.case_id in cases]
    work, clocks, readings, verdicts = work_on(db, ids), clocks_on(db, ids), readings_on(db, ids), verdicts_on(db, ids)
    return [
        ZoneOnFile(
            zone,
            cases[zone.case_id],
            tuple(work.get(zone.id, ())),
            tuple(clocks.get(zone.id, ())),
            tuple(readings.get(zone.id, ())),
            tuple(verdicts.get(zone.id, ())),
        )
        for zone in zones
        if zone.id is not None and zone.case_id in cases
    ]


def worked_zones(db: Session, who: Who) -> list[ZoneOnFile]:
    """Every zone with clocks that this member may see, in the order of case and zone."""
    clocked = select(CourseZone.zone_id).join(Course).where(Course.work != "allergy_patch")
    wanted = select(Zone).where(col(Zone.id).in_(clocked)).order_by(col(Zone.case_id), col(Zone.id))
    return [one for one in zones_on_file(db, who, db.exec(wanted).all()) if one.work]


def review(db: Session, who: Who, asked: ReviewFilter, on: date) -> Review:
    """All zones for the owner, an artist's own for an artist, narrowed by what was asked for."""
    names = studio.names(db)
    artist = asked.artist if who.is_owner else who.id
    all_of_mine = [one for one in worked_zones(db, who) if artist is None or one.artist_id == artist]
    mine = [one for one in all_of_mine if _is_within(one, asked)]
    settled = tuple(_settled(one, names, on) for one in mine if one.clock is not None and one.clock.judge_on <= on)
    judged = [line.standing.verdict for line in settled if line.standing is not None]
    by_others = [one for one in judged if not one.by_treating_artist]
    finished = [sum(work.kind == "full" for work in one.work) for one in mine if one.zone.finished_on is not None]
    early = tuple(line for one in mine for line in _early(one, names))
    return Review(
        len(mine),
        settled,
        early,
        _share(judged),
        _share(by_others),
        scores.median_iqr(finished),
        _comparison(mine, names) if who.is_owner and artist is None else None,
        tuple(one for one in sessions.missing_records(db, who) if artist in (None, one.session.artist_id)),
    )


def _is_within(one: ZoneOnFile, asked: ReviewFilter) -> bool:
    if one.clock is None:
        return False
    return (asked.since or date.min) <= one.clock.judge_on <= (asked.until or date.max)


def _share(verdicts: Sequence[Verdict]) -> scores.Proportion:
    return scores.proportion(sum(one.counts in ("good", "excellent") for one in verdicts), len(verdicts))


def _settled(one: ZoneOnFile, names: dict[int, str], on: date) -> SettledZone:
    assert one.clock is not None
    before, after = _differences(one)
    lines = tuple(VerdictLine(verdict, names.get(verdict.judged_by, "")) for verdict in one.verdicts)
    standing = next((line for line in lines if line.verdict is one.standing), None)
    return SettledZone(
        one.zone,
        one.case,
        names.get(one.artist_id or 0, ""),
        sum(work.kind == "full" for work in one.work),
        sessions_words(one.work),
        one.clock.worked_on,
        one.clock.judge_on,
        (before.low, before.high) if before else None,
        (after.low, after.high) if after else None,
        scores.change(before, after) if before and after else None,
        lines,
        standing,
        on - one.clock.worked_on >= LOST_AFTER,
    )


def _differences(one: ZoneOnFile) -> tuple[Estimate | None, Estimate | None]:
    """The difference before any work and the newest one since it settled: what the verdict saw, if there is one."""
    measured = [row for row in one.readings if row.is_measured]
    if one.standing is not None and one.standing.after_reading_id is not None:
        by_id = {row.id: row for row in one.readings}
        saw = one.standing.before_reading_id, one.standing.after_reading_id
        return difference_of(by_id.get(saw[0])), difference_of(by_id.get(saw[1]))
    first, settled_on = one.clocks[0].worked_on, one.clocks[-1].judge_on
    before = next((row for row in measured if row.taken_on <= first), None)
    after = next((row for row in reversed(measured) if row.taken_on >= settled_on), None)
    return difference_of(before), difference_of(after)


def _early(one: ZoneOnFile, names: dict[int, str]) -> list[EarlyReturn]:
    sessions = {work.worked_on: work for work in one.work}
    lines = []
    for before, after, kind in earliness(one.clocks):
        work = sessions.get(after.worked_on)
        lines.append(
            EarlyReturn(
                one.zone,
                one.case,
                names.get(work.artist_id, "") if work else "",
                work.session_id if work else None,
                after.worked_on,
                before.worked_on,
                before.earliest_on,
                kind,
            )
        )
    return lines


def _comparison(zones: Sequence[ZoneOnFile], names: dict[int, str]) -> scores.Comparison | None:
    """Artists beside each other by their finished zones; none when fewer than two have worked."""
    artists = {one.artist_id for one in zones if one.artist_id is not None}
    if len(artists) < 2:
        return None
    groups = []
    for artist_id in artists:
        finished = [one for one in zones if one.artist_id == artist_id and one.zone.finished_on is not None]
        good = sum(one.standing is not None and one.standing.counts in ("good", "excellent") for one in finished)
        groups.append(scores.Group(names.get(artist_id, ""), good, len(finished)))
    return scores.compare(groups)
