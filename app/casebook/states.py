"""What state a zone and a case are in, and the sentences that say so. Nothing here is typed in: it follows from what
is on file.

A zone is recorded, cleared or waiting, then in treatment, settling until its colour may be judged, judged, and
finished. A case follows from its zones once work has begun, and from its screening before that: enquiry, screening,
waiting or declined, planned, in treatment, settling, finished. A hold or a closed case goes before all else.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

ZoneCode = Literal[
    "recorded", "barred", "waiting", "cleared", "in_treatment", "settling", "to_judge", "judged", "finished",
]  # fmt: skip
CaseCode = Literal[
    "enquiry", "screening", "waiting", "declined", "planned", "in_treatment", "settling", "finished", "on_hold",
    "closed",
]  # fmt: skip
CASE_WORDS: dict[CaseCode, str] = {
    "enquiry": "Enquiry", "screening": "Screening", "waiting": "Waiting", "declined": "Declined", "planned": "Planned",
    "in_treatment": "In treatment", "settling": "Settling", "finished": "Finished", "on_hold": "On hold",
    "closed": "Closed",
}  # fmt: skip
GRADE_WORDS = ("consultation only", "an allergy patch", "a test spot", "full work")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip
# "Soon" on Today: far enough ahead to book the check. Common practice, no source.
SOON = timedelta(days=14)


@dataclass(frozen=True)
class ZoneFacts:
    """What is on file about one zone on a day. `cleared` are the first days of an allergy patch, a test spot and full
    work, None where nobody has decided; `standing` is the grade of the newest settled verdict on the work as it
    stands."""

    label: str
    cleared: tuple[date | None, date | None, date | None] | None = None
    cleared_until: date | None = None
    has_open_session: bool = False
    worked_on: date | None = None
    is_spot: bool = False
    earliest_on: date | None = None
    judge_on: date | None = None
    standing: str = ""
    next_step: str = ""
    finished_on: date | None = None


@dataclass(frozen=True)
class CaseFacts:
    zones: tuple[ZoneFacts, ...] = ()
    is_asked: bool = False
    answered_on: date | None = None
    decision: str | None = None  # of the newest screening; "" is undecided, None is no screening
    wait_until: date | None = None
    open_findings: int = 0
    is_held: bool = False
    closed_on: date | None = None


@dataclass(frozen=True)
class Sentence:
    words: str
    is_strong: bool = False


def zone_state(facts: ZoneFacts, on: date) -> ZoneCode:
    """The state of one zone on a day."""
    if facts.has_open_session:
        return "in_treatment"
    if facts.finished_on is not None:
        return "finished"
    if facts.worked_on is not None:
        if facts.standing:
            return "judged"
        return "settling" if facts.judge_on is not None and on < facts.judge_on else "to_judge"
    if facts.cleared is None or (facts.cleared_until is not None and on > facts.cleared_until):
        return "recorded"
    days = [day for day in facts.cleared if day is not None]
    if not days:
        return "barred"
    return "cleared" if min(days) <= on else "waiting"


def cleared_words(days: tuple[date | None, date | None, date | None], on: date) -> str:
    """What a zone is cleared for now and later: "a test spot, and for full work from 10 June"."""
    now = max((grade for grade, day in enumerate(days, 1) if day is not None and day <= on), default=0)
    parts = [GRADE_WORDS[now]] if now else []
    for grade, day in enumerate(days, 1):
        above = days[grade] if grade < len(days) else None
        if grade > now and day is not None and day != above:  # the higher grade of one day says it all
            parts.append(f"{GRADE_WORDS[grade]} from {day_of(day, on)}")
    return ", and for ".join(parts)


def case_state(facts: CaseFacts, on: date) -> CaseCode:
    """The state of a case on a day."""
    if facts.closed_on is not None:
        return "closed"
    if facts.is_held:
        return "on_hold"
    states = [zone_state(zone, on) for zone in facts.zones]
    begun = [state for state in states if state in ("in_treatment", "settling", "to_judge", "judged", "finished")]
    if begun:
        if all(state == "finished" for state in states):
            return "finished"
        if "settling" in begun and not {"in_treatment", "to_judge", "judged"} & set(begun):
            return "settling"
        return "in_treatment"
    if facts.decision is None:
        return "screening" if facts.is_asked else "enquiry"
    if facts.decision == "declined":
        return "declined"
    if facts.decision == "wait":
        return "waiting"
    return "planned" if facts.decision == "accepted" else "screening"


def day_of(day: date, on: date) -> str:
    """14 November, with its year where it is another than today's."""
    return f"{day.day} {MONTHS[day.month - 1]}" + ("" if day.year == on.year else f" {day.year}")


def called(label: str) -> tuple[str, bool]:
    """How a sentence calls a zone, and whether it is many: ("The elbow", False), ("The marks on the thigh", True).

    A label with capitals or digits after its first letter is a name and stays as it was written.
    """
    rest = label[1:]
    head = label
    for joint in (" on ", " of ", " near ", " at ", " in ", " under ", " over ", ",", " ("):
        head = head.split(joint)[0]
    is_many = head.lower().endswith("s") and not head.lower().endswith(("ss", "us", "is"))
    if rest != rest.lower() or any(sign.isdigit() for sign in label) or label.lower().split(" ")[0] in _OWN:
        return label, is_many
    return f"The {label[:1].lower()}{rest}", is_many


_OWN = ("the", "a", "an", "both", "my", "all", "two", "three", "four", "some")


def case_sentences(facts: CaseFacts, on: date) -> tuple[Sentence, ...]:
    """What stands, in the order in which an artist needs to know it."""
    if facts.closed_on is not None:
        return (Sentence(f"The case was closed on {day_of(facts.closed_on, on)}."),)
    held = (Sentence("The client is on hold: nothing is sent and nothing starts.", True),) if facts.is_held else ()
    return (*held, *_screening_sentences(facts, on), *_zone_sentences(facts.zones, on))


def _screening_sentences(facts: CaseFacts, on: date) -> list[Sentence]:
    if facts.decision is None:
        if facts.is_asked:
            return [Sentence("The client has the link to the questions and has not answered yet.")]
        return [Sentence("The client has not been asked yet: make the intake link first.")]
    answered = f"the answers of {day_of(facts.answered_on, on)}" if facts.answered_on else "the answers"
    if facts.decision == "":
        return [Sentence(f"{answered[:1].upper()}{answered[1:]} wait for a decision.", True)]
    if facts.decision == "declined":
        return [Sentence("Work was declined.", True)]
    if facts.decision == "wait":
        until = f" until {day_of(facts.wait_until, on)}" if facts.wait_until else ""
        return [Sentence(f"Work waits{until}.", True)]
    if not facts.open_findings:
        return [Sentence(f"Nothing found in {answered}.")]
    many = "one finding stands" if facts.open_findings == 1 else f"{facts.open_findings} findings stand"
    return [Sentence(f"Accepted on {answered}; {many}.")]


def _zone_sentences(zones: Sequence[ZoneFacts], on: date) -> list[Sentence]:
    """One sentence for all zones of which the same is to be said, the pressing ones first."""
    told: dict[tuple[int, str, bool], list[str]] = {}
    for zone in zones:
        rank, words, is_strong = _said(zone, on)
        told.setdefault((rank, words, is_strong), []).append(zone.label)
    return [Sentence(_together(labels, words), is_strong) for (_, words, is_strong), labels in sorted(told.items())]


def _together(labels: Sequence[str], words: str) -> str:
    """`words` holds {is} and {has} where one zone or many make a difference."""
    names, is_many = [], len(labels) > 1
    for index, label in enumerate(labels):
        name, many = called(label)
        names.append(name if index == 0 or not name.startswith("The ") else f"the {name[4:]}")
        is_many = is_many or many
    subject = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{subject} {words.format(**{'is': 'are' if is_many else 'is', 'has': 'have' if is_many else 'has'})}"


def zone_words(zone: ZoneFacts, on: date) -> str:
    """The same beside the zone's name: "Settling; no work there before 14 November, …"."""
    words = _said(zone, on)[1].format(**{"is": "", "has": ""}).strip()
    return words[:1].upper() + words[1:]


def _said(zone: ZoneFacts, on: date) -> tuple[int, str, bool]:
    """Rank, words after the zone's name, and whether they are to stand out."""
    state = zone_state(zone, on)
    if state == "in_treatment":
        return 0, "{is} being worked on: the sheet is open.", True
    if state == "to_judge":
        return 1, "may be judged now.", True
    if state == "settling":
        return 2, f"{{is}} settling; {_until(zone, on)}.", True
    if state == "judged":
        step = {"another_session": "another session is planned", "wait": "waiting was chosen"}.get(zone.next_step, "")
        return 3, f"{{is}} judged {zone.standing}{f'; {step}' if step else ''}.", False
    if state == "cleared":
        return 4, f"{{is}} cleared for {cleared_words(zone.cleared or (None, None, None), on)}.", False
    if state == "waiting":
        return 5, f"{{is}} cleared for {cleared_words(zone.cleared or (None, None, None), on)}.", True
    if state == "barred":
        return 6, "may have a consultation only.", True
    if state == "recorded":
        return 7, "{is} recorded and not cleared.", False
    return 8, "{is} finished.", False


def _until(zone: ZoneFacts, on: date) -> str:
    judge = f"first judgement on {day_of(zone.judge_on, on)}" if zone.judge_on else ""
    if zone.earliest_on is None or on >= zone.earliest_on:
        return f"work could go on, {judge}"
    return f"no work there before {day_of(zone.earliest_on, on)}, {judge}"
