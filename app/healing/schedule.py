"""When a zone may be worked on again, when its colour may be judged, and when the client is asked how it heals.

Every zone carries two clocks from the day it was worked on. The first is about skin: the earliest next work, with a
floor of four weeks that nobody goes below; between the floor and the earliest date an artist may go ahead with a
named reason. The second is about colour: the day from which it may be judged, ten weeks, or twelve where skin is slow
to settle. Six and twelve months are the true outcome. The clocks of a test spot are its own, counted from its own day;
whether full work waits for the spot's verdict is the clearance's business. An allergy patch has no colour to judge: it
is read on the first and the second day, and a clear one does not rule out a later reaction.

Weeks are exact calendar days. A month later is the same day of that month, or the month's last day where there is none.
The day itself clears: on the earliest date work may begin.

Sources: "body", "journal", "law" as in the trade's fact sheets; "common practice, no source" where there is none.
"""

from calendar import monthrange
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

SkinClass = Literal["light", "dark", "unknown"]
Padding = Literal["over_bone", "thin", "padded"]
Work = Literal["full", "test_spot", "allergy_patch"]
MayWork = Literal["floor", "wait", "clear"]
ContactKind = Literal["patch_reading", "check_in", "provisional_photo", "review_booking", "outcome_6m", "outcome_12m"]
StageKey = Literal[
    "fresh", "swelling", "flaking", "patchy", "new_skin", "provisional", "settled", "outcome", "long_term",
    "patch_waiting", "patch_reading", "patch_over",
]  # fmt: skip

# The shortest gap between two visits that a public clinic states: at least one month. Body: NHS Gateshead.
FLOOR_WEEKS = 4
# The usual gap: about 8 weeks. Body: NHS East Kent. Studios wait 6 to 12 (common practice, no source).
EARLIEST_WEEKS = 8
# Thin, irradiated or grafted skin mends more slowly; owners choose 10 (common practice, no source).
EARLIEST_WEEKS_SLOW = 10
# Pigment settles in about 10 weeks (common practice, no source). Colour still moved between months 1 and 3 in
# 60 calibrated areola tattoos, so a look at 4 to 6 weeks is provisional. Journal: Arch Plast Surg 2024.
JUDGE_WEEKS = 10
# 60 to 90 days in darker skin (common practice, no source); dark marks clear in months 3 to 6, so the long end: 12.
JUDGE_WEEKS_SLOW = 12
# Nobody judges before this, whatever was measured: colour moved widely in the first month and significantly until
# the third. Journal: Arch Plast Surg 2024; the figure of 8 weeks is this project's own rule.
JUDGE_FLOOR_WEEKS = 8
# Weeping dries in 1 to 2 days, swelling goes in 24 to 48 h, flaking ends in week 2 (body: NHS Dudley; council
# aftercare template): one look at each turn, and one after bumps of about day 7 would show (body: CDC MMWR 2012).
CHECK_IN_DAYS = (1, 3, 7, 14)
# Weeks 4 to 6 show a provisional colour (common practice, no source): the middle of them.
PROVISIONAL_DAY = 35
# A skin reaction test is read at 24 h and 48 h (common practice, no source).
PATCH_READING_DAYS = (1, 2)
# Reactions to pigment begin about a week in, or later (body: CDC MMWR 2012), so a clear patch is asked about again.
PATCH_LATE_DAY = 14
PATCH_CAUTION = "A clear patch does not rule out a later reaction."


@dataclass(frozen=True)
class ZoneFacts:
    skin_class: SkinClass
    padding: Padding
    irradiated: bool
    grafted: bool
    prone_to_dark_marks: bool
    work: Work = "full"


@dataclass(frozen=True)
class StudioIntervals:
    """A studio's own waiting times; longer is its choice, shorter than the floors is refused."""

    earliest_weeks: int = EARLIEST_WEEKS
    earliest_weeks_slow: int = EARLIEST_WEEKS_SLOW
    floor_weeks: int = FLOOR_WEEKS
    judge_weeks: int = JUDGE_WEEKS
    judge_weeks_slow: int = JUDGE_WEEKS_SLOW

    def __post_init__(self) -> None:
        if self.floor_weeks < FLOOR_WEEKS:
            raise ValueError(f"nobody works again before {FLOOR_WEEKS} weeks")
        if not self.floor_weeks <= self.earliest_weeks <= self.earliest_weeks_slow:
            raise ValueError("the earliest next work lies at or after the floor, and the slow interval at or after it")
        if not JUDGE_FLOOR_WEEKS <= self.judge_weeks <= self.judge_weeks_slow:
            raise ValueError(f"colour is judged at {JUDGE_FLOOR_WEEKS} weeks or later, slow skin no sooner than other")


@dataclass(frozen=True)
class ZoneInterval:
    """Other waiting times for one zone of one client, always with the reason; the floors still hold."""

    reason: str
    earliest_weeks: int | None = None
    judge_weeks: int | None = None

    def __post_init__(self) -> None:
        if not self.reason.strip():
            raise ValueError("another interval for a zone needs its reason")
        if self.judge_weeks is not None and self.judge_weeks < JUDGE_FLOOR_WEEKS:
            raise ValueError(f"colour is judged at {JUDGE_FLOOR_WEEKS} weeks or later")


@dataclass(frozen=True)
class Reason:
    words: str
    source: str


@dataclass(frozen=True)
class Clocks:
    """The dates of one zone. An allergy patch has no colour to judge and no outcome: those are None."""

    work: Work
    floor_on: date
    earliest_on: date
    earliest_reasons: tuple[Reason, ...]
    judge_on: date | None
    judge_reasons: tuple[Reason, ...]
    outcome_6m_on: date | None
    outcome_12m_on: date | None


@dataclass(frozen=True)
class Contact:
    """One time the client is to be asked: by a message, or, in a sensitive course, by an artist who has a task."""

    kind: ContactKind
    due_on: date
    day_number: int
    by: Literal["message", "artist"] = "message"


@dataclass(frozen=True)
class CourseContact:
    course: int
    contact: Contact


@dataclass(frozen=True)
class Sending:
    """One message on one day; `joined` are the contacts whose questions the same page asks."""

    on: date
    main: CourseContact
    joined: tuple[CourseContact, ...] = ()


@dataclass(frozen=True)
class Stage:
    day_number: int
    key: StageKey
    words: str


_PRACTICE = "common practice, no source"
_DARK = Reason("Darker skin settles later.", _PRACTICE)
# "Don't know" never passes a question that matters: the longer wait, until a calibrated reading says which it is.
_UNKNOWN = Reason("The skin has not been measured yet, so the longer wait holds.", "this project's own rule")
_DARK_MARKS = Reason("Skin that is left with dark marks needs months 3 to 6 to clear them.", _PRACTICE)
_IRRADIATED = Reason("Irradiated skin mends and settles slowly.", _PRACTICE)
_GRAFTED = Reason("Grafted skin mends and settles slowly.", _PRACTICE)
_THIN = Reason("Skin that is thin or lies over bone is given more time.", _PRACTICE)
_USUAL_GAP = Reason("The usual gap between two visits is about 8 weeks.", "body: NHS East Kent")
_USUAL_SETTLING = Reason(
    "Colour moves widely in the first month and still changes until the third.", "journal: Arch Plast Surg 2024"
)
_PATCH = Reason("The patch is read on the first and the second day.", _PRACTICE)


def months_after(day: date, months: int) -> date:
    """The same day of a later month, or that month's last day where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def _weeks_after(day: date, weeks: int) -> date:
    return day + timedelta(weeks=weeks)


def _slow_to_mend(facts: ZoneFacts) -> tuple[Reason, ...]:
    found = ((facts.irradiated, _IRRADIATED), (facts.grafted, _GRAFTED), (facts.padding != "padded", _THIN))
    return tuple(reason for holds, reason in found if holds)


def _slow_to_settle(facts: ZoneFacts) -> tuple[Reason, ...]:
    found = (
        (facts.skin_class == "dark", _DARK),
        (facts.skin_class == "unknown", _UNKNOWN),
        (facts.prone_to_dark_marks, _DARK_MARKS),
    )
    return tuple(reason for holds, reason in found if holds) + _slow_to_mend(facts)


def clocks(worked_on: date, facts: ZoneFacts, intervals: StudioIntervals, own: ZoneInterval | None = None) -> Clocks:
    """The dates that follow from one day's work on one zone. `own` replaces the studio's weeks, not the floors."""
    if facts.work == "allergy_patch":
        read_on = worked_on + timedelta(days=PATCH_READING_DAYS[-1])
        return Clocks(facts.work, read_on, read_on, (_PATCH,), None, (), None, None)
    mend, settle = _slow_to_mend(facts), _slow_to_settle(facts)
    earliest_weeks = intervals.earliest_weeks_slow if mend else intervals.earliest_weeks
    judge_weeks = intervals.judge_weeks_slow if settle else intervals.judge_weeks
    earliest_reasons, judge_reasons = mend or (_USUAL_GAP,), settle or (_USUAL_SETTLING,)
    if own is not None and own.earliest_weeks is not None:
        if own.earliest_weeks < intervals.floor_weeks:
            raise ValueError(f"nobody works again before {intervals.floor_weeks} weeks")
        earliest_weeks, earliest_reasons = own.earliest_weeks, (Reason(own.reason, "named by the artist"),)
    if own is not None and own.judge_weeks is not None:
        judge_weeks, judge_reasons = own.judge_weeks, (Reason(own.reason, "named by the artist"),)
    return Clocks(
        work=facts.work,
        floor_on=_weeks_after(worked_on, intervals.floor_weeks),
        earliest_on=_weeks_after(worked_on, earliest_weeks),
        earliest_reasons=earliest_reasons,
        judge_on=_weeks_after(worked_on, judge_weeks),
        judge_reasons=judge_reasons,
        outcome_6m_on=months_after(worked_on, 6),
        outcome_12m_on=months_after(worked_on, 12),
    )


def may_work(on: date, clocks: Clocks) -> MayWork:
    """Below the floor nobody works; until the earliest date it is a wait that an artist may pass with a reason."""
    if on < clocks.floor_on:
        return "floor"
    return "wait" if on < clocks.earliest_on else "clear"


def planned_contacts(worked_on: date, clocks: Clocks, sensitive: bool) -> tuple[Contact, ...]:
    """What is asked when, in order. In a sensitive course nothing sends by itself: each is a task for the artist."""
    if clocks.work == "allergy_patch":
        days: list[tuple[ContactKind, date]] = [
            ("patch_reading", worked_on + timedelta(days=day)) for day in PATCH_READING_DAYS
        ]
        days.append(("check_in", worked_on + timedelta(days=PATCH_LATE_DAY)))
    else:
        days = [("check_in", worked_on + timedelta(days=day)) for day in CHECK_IN_DAYS]
        days.append(("provisional_photo", worked_on + timedelta(days=PROVISIONAL_DAY)))
        if clocks.judge_on is not None:
            days.append(("review_booking", clocks.judge_on))
    # A test spot is soon covered by full work, whose own course asks for the outcome.
    if clocks.work == "full" and clocks.outcome_6m_on is not None and clocks.outcome_12m_on is not None:
        days += [("outcome_6m", clocks.outcome_6m_on), ("outcome_12m", clocks.outcome_12m_on)]
    by: Literal["message", "artist"] = "artist" if sensitive else "message"
    planned = (Contact(kind, due_on, (due_on - worked_on).days, by) for kind, due_on in days)
    return tuple(sorted(planned, key=lambda contact: contact.due_on))


# What cannot wait comes first: a patch is readable for two days, a red flag is asked for at its turn; a booking, an
# outcome and a provisional photo lose nothing by a few days.
_IMPORTANCE: tuple[ContactKind, ...] = (
    "patch_reading", "check_in", "review_booking", "outcome_6m", "outcome_12m", "provisional_photo",
)  # fmt: skip
_ASKS_RED_FLAGS: frozenset[ContactKind] = frozenset({"patch_reading", "check_in"})


def one_a_day(courses: Mapping[int, Sequence[Contact]], taken: Collection[date] = ()) -> tuple[Sending, ...]:
    """At most one message a day to one client, whatever the number of courses. Tasks for the artist are left out.

    Each day the most important contact is sent (then the one due first, then the lower course number). Check-ins and
    patch readings of the same day are joined to a message that asks about red flags, because its page asks about every
    open course: so none is late and none is dropped. Everything else moves to the next free day. `taken` are days on
    which the client has already been written to.
    """
    waiting = [
        CourseContact(course, contact)
        for course, contacts in courses.items()
        for contact in contacts
        if contact.by == "message"
    ]
    waiting.sort(key=lambda one: (_IMPORTANCE.index(one.contact.kind), one.contact.due_on, one.course))
    sendings: list[Sending] = []
    on = min((one.contact.due_on for one in waiting), default=date.min)
    while waiting:
        due = [] if on in taken else [one for one in waiting if one.contact.due_on <= on]
        if due:
            main, joined = due[0], []
            if main.contact.kind in _ASKS_RED_FLAGS:
                joined = [one for one in due[1:] if one.contact.kind in _ASKS_RED_FLAGS]
            sendings.append(Sending(on, main, tuple(joined)))
            sent = [main, *joined]
            waiting = [one for one in waiting if not any(one is other for other in sent)]
        on += timedelta(days=1)
    return tuple(sendings)


# What the client sees by the last day of each stage (body: NHS Dudley for crusts of 14 to 21 days and redness of 1 to
# 7; council aftercare template for flakes and about 4 weeks to heal; the rest common practice, no source).
_STAGES: tuple[tuple[int, StageKey, str], ...] = (
    (0, "fresh", "Fresh: red, warm and tight; the colour looks too strong or is hidden by redness."),
    (3, "swelling", "Swelling goes down and weeping dries."),
    (7, "flaking", "A dry film, fine flakes, some itch."),
    (14, "patchy", "Flaking ends; it may look milky, patchy or lighter."),
    (28, "new_skin", "New skin: shiny, pinkish, uneven."),
)


def stage(worked_on: date, on: date, clocks: Clocks) -> Stage:
    """Where healing stands on a day. Raises ValueError for a day before the work."""
    day = (on - worked_on).days
    if day < 0:
        raise ValueError("healing begins on the day of the work")
    if clocks.judge_on is None or clocks.outcome_6m_on is None or clocks.outcome_12m_on is None:
        if day == 0:
            return Stage(day, "patch_waiting", "The patch is first read tomorrow.")
        if day <= PATCH_READING_DAYS[-1]:
            return Stage(day, "patch_reading", f"The patch is read today. {PATCH_CAUTION}")
        return Stage(day, "patch_over", f"The days for reading the patch are over. {PATCH_CAUTION}")
    if on >= clocks.judge_on:
        if on >= clocks.outcome_12m_on:
            return Stage(day, "long_term", "A year or more: slow fading; the season's tan may make a difference.")
        if on >= clocks.outcome_6m_on:
            return Stage(day, "outcome", "Six months or more: the outcome can be seen.")
        return Stage(day, "settled", "The colour may be judged.")
    for last_day, key, words in _STAGES:
        if day <= last_day:
            return Stage(day, key, words)
    return Stage(day, "provisional", "The colour is settling; what is seen now is provisional.")
