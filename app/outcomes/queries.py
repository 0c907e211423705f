"""What a judgement needs to see, and what was judged, for whom."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from app.outcomes import scores
from app.outcomes.models import Verdict
from app.outcomes.work_queries import (
    Clock,
    Worked,
    clocks_on,
    difference_of,
    readings_on,
    sessions_words,
    verdicts_on,
    work_on,
)
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import Case, Client, Photo, Reading, Zone
from app.records.photo_words import ReadingWords, reading_words
from app.studio import queries as studio
from app.studio.access import Who

CALIBRATED = ("measured", "caution")


@dataclass(frozen=True)
class Look:
    """One side of the pair: a photo, and what was measured in it."""

    photo: Photo
    reading: Reading | None
    words: ReadingWords | None

    @property
    def is_calibrated(self) -> bool:
        return self.photo.calibration_state in CALIBRATED


@dataclass(frozen=True)
class VerdictLine:
    """A verdict with the name of who gave it."""

    verdict: Verdict
    by: str

    @property
    def grade_words(self) -> str:
        return next(step.words for step in scores.VERDICTS if step.key == self.verdict.counts)


@dataclass(frozen=True)
class Judging:
    """A zone as it stands before a judge."""

    zone: Zone
    case: Case
    client: Client
    before: Look | None
    after: Look | None
    clock: Clock | None
    work: tuple[Worked, ...]
    earlier: tuple[VerdictLine, ...]
    on: date

    @property
    def sessions_used(self) -> int:
        """Full sessions; a test spot is a trial."""
        return sum(one.kind == "full" for one in self.work)

    @property
    def work_words(self) -> str:
        return sessions_words(self.work)

    @property
    def is_settled(self) -> bool:
        return self.clock is not None and self.on >= self.clock.judge_on

    @property
    def can_be_judged(self) -> bool:
        return any(one.kind != "allergy_patch" for one in self.work)

    @property
    def recipe_id(self) -> int | None:
        """The recipe that was used last."""
        return next((one.recipe_id for one in reversed(self.work) if one.recipe_id is not None), None)

    def is_treated_by(self, member_id: int | None) -> bool:
        return any(one.artist_id == member_id for one in self.work)

    @property
    def change(self) -> scores.Change | None:
        """By how much the measured difference moved between the two photos."""
        before = difference_of(self.before.reading if self.before else None)
        after = difference_of(self.after.reading if self.after else None)
        return scores.change(before, after) if before and after else None

    @property
    def comparable_words(self) -> str:
        """Whether the colours of the two photos may be compared."""
        if self.before is None or self.after is None:
            return ""
        if self.before.is_calibrated and self.after.is_calibrated:
            return "Both photos were calibrated on a colour chart, so their colours may be compared."
        without = [day_words(look.photo.taken_on) for look in (self.before, self.after) if not look.is_calibrated]
        which = "Neither photo is" if len(without) == 2 else f"The photo of {without[0]} is not"
        return (
            f"{which} calibrated on a colour chart, so the two show different light: compare shape and texture, "
            "not colour."
        )


def verdicts_of(db: Session, zone_id: int) -> list[Verdict]:
    """The verdicts of a zone, oldest first."""
    return verdicts_on(db, [zone_id]).get(zone_id, [])


def judging_of(db: Session, who: Who, zone_id: int, on: date) -> Judging:
    zone = records.zone_for(db, who, zone_id)
    case = records.case_for(db, who, zone.case_id)
    names = studio.names(db)
    before, after = pair_of(db, zone_id, case.skin_class)
    work = [one for one in work_on(db, [zone_id]).get(zone_id, []) if one.kind != "allergy_patch"]
    clocks = clocks_on(db, [zone_id]).get(zone_id, [])
    earlier = tuple(VerdictLine(one, names.get(one.judged_by, "")) for one in verdicts_of(db, zone_id))
    return Judging(
        zone,
        case,
        records.kept_client(db, case.client_id),
        before,
        after,
        clocks[-1] if clocks else None,
        tuple(work),
        earlier,
        on,
    )


def pair_of(db: Session, zone_id: int, case_skin_class: str) -> tuple[Look | None, Look | None]:
    """The first photo from before any work, and the newest settled one."""
    shown = select(Photo).where(Photo.zone_id == zone_id, col(Photo.shown_id).is_not(None))
    photos = db.exec(shown.order_by(col(Photo.taken_on), col(Photo.id))).all()
    readings = {row.photo_id: row for row in readings_on(db, [zone_id]).get(zone_id, [])}
    before = next((photo for photo in photos if photo.purpose == "before"), None)
    after = next((photo for photo in reversed(photos) if photo.purpose == "settled"), None)
    return _look(before, readings, case_skin_class), _look(after, readings, case_skin_class)


def _look(photo: Photo | None, readings: dict[int, Reading], case_skin_class: str) -> Look | None:
    if photo is None or photo.id is None:
        return None
    reading = readings.get(photo.id)
    return Look(photo, reading, reading_words(reading, case_skin_class) if reading else None)


def may_see(db: Session, who: Who, case_ids: Sequence[int]) -> dict[int, Case]:
    """Of these cases the ones this member may open, by id."""
    if not who.sees_health:
        return {}
    found = db.exec(select(Case).where(col(Case.id).in_(set(case_ids)))).all()
    mine = (
        case for case in found if who.is_owner or not case.is_restricted or who.id in (case.lead_id, case.deputy_id)
    )
    return {case.id: case for case in mine if case.id is not None}
