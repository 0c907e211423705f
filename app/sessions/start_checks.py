"""Whether a session may start on a zone on a day, and what would lift each thing that stands against it.

Starting is guarded, recording never is: the same checks refuse a start and are listed as breaches on what was done.
The rules: the clearance of the zone has a first day for this kind of work, and it has come; the client's permission to
treat this very zone is in force and was confirmed on site; the interval since the last work has passed, with a floor
of four weeks (the schedule's own) that nobody goes below, and a wait between the floor and the earliest date that an
artist may pass with a named reason, which is counted; nothing from the client that warns of harm is unread; no allergy
patch is unread; the client is not on hold; the whole form is not too old; and the short questions of the day are
answered with nothing new, or with a decision on what is. That the work may begin is asked again in the start form and
kept with the session.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.intake.visit_days import Said
from app.sessions.terms import GRADE_NEEDED, GRADE_WORDS, KINDS

Code = Literal[
    "closed", "hold", "finished", "open_session", "clearance", "clearance_later", "clearance_over", "permission",
    "site_check", "floor", "wait", "red_flag", "patch_unread", "intake_old", "rescreening", "not_reaffirmed",
]  # fmt: skip
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip


@dataclass(frozen=True)
class StartFacts:
    """What is on file about one zone and its client on the day of the work."""

    # The first day of an allergy patch, a test spot and full work by the clearance that stands; None where none does.
    cleared: tuple[date | None, date | None, date | None] | None
    clearance_until: date | None = None
    has_permission: bool = False
    is_confirmed: bool = True  # on site: an artist saw who signed, and countersigned
    floor_on: date | None = None
    earliest_on: date | None = None
    has_red_flag: bool = False
    has_unread_patch: bool = False
    hold_reason: str = ""
    is_closed: bool = False
    finished_on: date | None = None
    has_open_session: bool = False
    whole_form_due_on: date | None = None  # since when the last whole form is too old
    said: Said = "arrival"  # what the short questions of that day come to
    is_asked_about: bool = True  # and whether this zone was among them


@dataclass(frozen=True)
class Missing:
    """One start check that is not met: in words, and what lifts it."""

    code: Code
    words: str
    what_lifts: str

    @property
    def is_wait(self) -> bool:
        """An artist may go past it with a named reason."""
        return self.code == "wait"


@dataclass(frozen=True)
class StartCheck:
    missing: tuple[Missing, ...]

    @property
    def is_met(self) -> bool:
        return not self.missing

    @property
    def refusals(self) -> tuple[Missing, ...]:
        """What nobody passes in the start form."""
        return tuple(item for item in self.missing if not item.is_wait)

    @property
    def waits(self) -> tuple[Missing, ...]:
        return tuple(item for item in self.missing if item.is_wait)


def start_check(facts: StartFacts, on: date, kind: str) -> StartCheck:
    """Every check in the order in which a person would look. Raises KeyError for a kind that does not exist."""
    found = (
        *_standing(facts),
        *_clearance(facts, on, kind),
        *_permission(facts),
        *_interval(facts, on),
        *_unread(facts),
        *_answers(facts),
    )
    return StartCheck(found)


def _standing(facts: StartFacts) -> list[Missing]:
    found = []
    if facts.is_closed:
        found.append(Missing("closed", "The case is closed.", "Open the case again."))
    if facts.hold_reason:
        words = f"The client is on hold: {facts.hold_reason.rstrip('.')}."
        found.append(Missing("hold", words, "End the hold on the client’s page."))
    if facts.finished_on is not None:
        found.append(Missing("finished", "The zone is finished.", "Open the zone again on its page."))
    if facts.has_open_session:
        words = "A session on this zone is open already."
        found.append(Missing("open_session", words, "Go on with that sheet, or finish it."))
    return found


def _clearance(facts: StartFacts, on: date, kind: str) -> list[Missing]:
    needed, work = GRADE_NEEDED[kind], KINDS[kind].lower()
    if facts.cleared is None:
        return [Missing("clearance", f"Nothing is cleared here, so no {work}.",
                        "A decided screening, with this zone joined to the scar the client declared.")]  # fmt: skip
    first = facts.cleared[needed - 1]
    if first is None:
        most = max((grade for grade, day in enumerate(facts.cleared, 1) if day is not None), default=0)
        return [Missing("clearance", f"Cleared for {GRADE_WORDS[most]}, not for {work}.",
                        "See the screening: each finding says what lifts it.")]  # fmt: skip
    if on < first:
        return [Missing("clearance_later", f"Cleared for {work} from {_day(first)} on.",
                        f"Waiting until {_day(first)}.")]  # fmt: skip
    if facts.clearance_until is not None and on > facts.clearance_until:
        return [Missing("clearance_over", f"The clearance ran out on {_day(facts.clearance_until)}.",
                        "A newer proof on the screening.")]  # fmt: skip
    return []


def _permission(facts: StartFacts) -> list[Missing]:
    if not facts.has_permission:
        words = "No permission to treat this zone is in force."
        return [Missing("permission", words, "The client reads and signs the treatment text that names this zone.")]
    if not facts.is_confirmed:
        words = "The permission to treat this zone was signed and not confirmed on site."
        return [Missing("site_check", words, "An artist sees the identity document and countersigns.")]
    return []


def _interval(facts: StartFacts, on: date) -> list[Missing]:
    if facts.floor_on is not None and on < facts.floor_on:
        return [Missing("floor", f"Nobody works here again before {_day(facts.floor_on)}: four weeks at least.",
                        f"Waiting until {_day(facts.floor_on)}; nothing else lifts it.")]  # fmt: skip
    if facts.earliest_on is not None and on < facts.earliest_on:
        return [Missing("wait", f"The next work here is due from {_day(facts.earliest_on)} on.",
                        "Waiting, or an artist’s named reason below; the review counts it.")]  # fmt: skip
    return []


def _unread(facts: StartFacts) -> list[Missing]:
    found = []
    if facts.has_red_flag:
        words = "The client reported something that warns of harm, and nobody has read it."
        found.append(Missing("red_flag", words, "Read the check-in and answer the client."))
    if facts.has_unread_patch:
        words = "An allergy patch of this client has not been read."
        found.append(Missing("patch_unread", words, "Look at the patch and write down what it shows."))
    return found


_SAID: dict[Said, tuple[str, str]] = {
    "none": ("The short questions of today are not answered.", "Ask them: on a device, or aloud."),
    "undecided": ("Something new was said in the short questions, and nobody has decided on it.",
                  "Decide on the screening of today."),
    "refused": ("By the short questions of today nothing is worked on.", "Another decision on that screening."),
}  # fmt: skip


def _answers(facts: StartFacts) -> list[Missing]:
    """The whole form is not too old, and the short questions of the day were answered and their screening accepted.
    Those of the evening before count once they were asked again, which the start form says."""
    found = []
    if facts.whole_form_due_on is not None:
        words = f"The whole form is too old: it is due again since {_day(facts.whole_form_due_on)}."
        found.append(Missing("intake_old", words, "The client answers the whole form again, and it is decided on."))
    if facts.said in _SAID:
        found.append(Missing("rescreening", *_SAID[facts.said]))
    elif not facts.is_asked_about:
        words = "The short questions of today were not asked about this zone."
        found.append(Missing("rescreening", words, "Add the zone to the visit, and ask once more."))
    return found


def not_reaffirmed(said: Said, is_same: bool, agreed: bool) -> Missing | None:
    """What the client did not say again on the day. Silence is not a no."""
    if said == "evening" and not is_same:
        return Missing("not_reaffirmed", "The answers of last evening were not asked again today.",
                       "Read them to the client, or let them answer again. What has changed goes into the short "
                       "questions first.")  # fmt: skip
    if not agreed:
        words = "The client has not said today that the work may begin."
        return Missing("not_reaffirmed", words, "Ask the client. They may stop at any moment.")
    return None


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
