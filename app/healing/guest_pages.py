"""What a client's pages show, worked out from a course and a day."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session

from app.healing import aftercare, queries
from app.healing.aftercare import AftercareDay, RedFlags
from app.healing.aftercare_edits import without_for
from app.healing.fade import Fade, fade
from app.healing.models import CheckIn, Course
from app.healing.queries import Lot
from app.platform.links import Guest
from app.platform.pages import day_words
from app.records import queries as records
from app.studio.country import CHECK_LOCALLY, country_pack
from app.studio.models import Studio

WORK_DONE = {
    "full": "Skin-toned pigment was placed in the skin with fine needles (paramedical tattooing).",
    "test_spot": "A small test spot of skin-toned pigment was placed in the skin with fine needles.",
    "allergy_patch": "A very small amount of pigment was put on or in the skin to see whether it reacts.",
}


@dataclass(frozen=True)
class Advice:
    """Who is needed, in the words of that level; `call` is a number to dial, or empty."""

    level: str
    heading: str
    what_to_do: str
    call: str


@dataclass(frozen=True)
class AftercarePage:
    course: Course
    day_number: int
    heading: str
    review: str
    day: AftercareDay
    picture: Fade | None
    flags: tuple[RedFlags, ...]
    call: str
    reads: str
    replies: tuple[CheckIn, ...]
    cautions: tuple[str, ...]
    newer: date | None


@dataclass(frozen=True)
class Treatment:
    """What was done on one day, in plain words, with everything that touched the skin."""

    course: Course
    words: str
    lots: tuple[Lot, ...]


def emergency_number(studio: Studio) -> str | None:
    number = country_pack(studio.country).emergency_number
    return None if number == CHECK_LOCALLY else number


def when_read(studio: Studio, now: datetime) -> str:
    """When somebody will see what is sent now."""
    local = now.astimezone(ZoneInfo(studio.time_zone))
    if f"{local:%H:%M}" < studio.opens_at:
        return f"Nobody at the studio reads this before {studio.opens_at}."
    return f"We read this when the studio is open, from {studio.opens_at}. Nobody reads it at night."


def day_number(course: Course, studio: Studio, now: datetime) -> int:
    """Day 0 is the day of the work; a page opened in a place where it is still the day before shows day 0."""
    return max(0, (now.astimezone(ZoneInfo(studio.time_zone)).date() - course.worked_on).days)


def part_of(db: Session, course: Course, day: int) -> AftercareDay:
    """As it was given when healing began, and without what an alert raised since speaks against."""
    without = queries.without_of(course) | without_for(records.kinds_of(db, course.client_id))
    if course.work == "allergy_patch":
        return aftercare.for_patch(day, without=without)
    return aftercare.for_day("dry" if course.school == "dry" else "film", day, without=without)


def aftercare_page(db: Session, guest: Guest, studio: Studio, now: datetime) -> AftercarePage:
    course = queries.course_for_guest(db, guest)
    day, judged = day_number(course, studio, now), queries.judge_on(db, course)
    last = (judged - course.worked_on).days if judged else 0
    # A sensitive course counts no days at anybody: the page says what holds now, and no more.
    counts = not course.is_sensitive
    review = ""
    if counts and last:
        review = (
            f"About day {last}, from {day_words(judged)}, we look at the settled colour together." if day < last
            else "The colour has had its time to settle. If we have not looked at it together yet, please tell us."
        )  # fmt: skip
    number = emergency_number(studio)
    return AftercarePage(
        course=course,
        day_number=day,
        heading=f"Day {day}" if counts else "Your skin today",
        review=review,
        day=part_of(db, course, day),
        picture=fade(day, last) if counts and last else None,
        flags=aftercare.red_flags(number),
        call=(number or "").split(" ")[0],
        reads=when_read(studio, now),
        replies=tuple(row for row in queries.check_ins_of(db, course) if row.reply and row.answers != "{}"),
        cautions=aftercare.LASTING_CAUTIONS,
        newer=_newer(db, course),
    )


def _newer(db: Session, course: Course) -> date | None:
    """The day of the last work after this one: its skin is younger, and these lines do not hold for it."""
    last = max(one.worked_on for one in queries.courses_of(db, course.case_id))
    return last if last > course.worked_on else None


def advice(level: str, studio: Studio) -> Advice:
    """What a check-in is answered with, at once."""
    number = emergency_number(studio)
    for flags in aftercare.red_flags(number):
        if flags.level == level:
            call = (number or "").split(" ")[0] if level == "emergency" else ""
            heading = {
                "emergency": "Get help now",
                "today": "See a doctor today",
                "days": "See a doctor in the next few days",
                "studio": "We will look at it",
            }[level]
            return Advice(level, heading, flags.what_to_do, call)
    return Advice("none", "Thank you", "Nothing that you answered needs a doctor today.", "")


def clinician_sheet(db: Session, guest: Guest) -> tuple[Treatment, ...]:
    """All work of the case, newest first: a reaction may come from an earlier day."""
    course = queries.course_for_guest(db, guest)
    return tuple(
        Treatment(one, WORK_DONE[one.work], queries.lots_of(one)) for one in queries.courses_of(db, course.case_id)
    )


def client_name(db: Session, guest: Guest) -> str:
    """As the sheet for clinicians shows it."""
    return records.kept_client(db, guest.client_id).name
