"""What the schedule asks of a case, a zone and the studio; plain words that actions and queries share."""

from app.healing import schedule
from app.healing.models import Course
from app.records.models import Case, Zone
from app.studio.models import Studio

OUTCOMES = ("outcome_6m", "outcome_12m")
SERIOUS = ("today", "emergency")


def course_key(course: Course) -> str:
    """Under which a course's messages are planned."""
    return f"course/{course.id}"


def intervals(studio: Studio) -> schedule.StudioIntervals:
    """The studio's waiting times; slow skin never waits less than other skin, whatever was set."""
    return schedule.StudioIntervals(
        earliest_weeks=studio.earliest_weeks,
        earliest_weeks_slow=max(studio.earliest_weeks, schedule.EARLIEST_WEEKS_SLOW),
        judge_weeks=studio.judge_weeks,
        judge_weeks_slow=max(studio.judge_weeks, studio.judge_weeks_slow),
    )


def facts_of(case: Case, zone: Zone, work: schedule.Work) -> schedule.ZoneFacts:
    """A skin class that was never measured counts as not known, which takes the longer wait."""
    skin: schedule.SkinClass = "light" if case.skin_class == "light" else "dark" if case.skin_class else "unknown"
    padding: schedule.Padding = (
        "over_bone" if zone.padding == "over_bone" else "thin" if zone.padding == "thin" else "padded"
    )
    return schedule.ZoneFacts(skin, padding, zone.is_irradiated, zone.is_grafted, zone.darkens, work)
