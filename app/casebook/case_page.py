"""How a case is shown: its sentences, its next steps, the strip through time, and a line for each zone."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from app.casebook.case_queries import CaseFile, Mix, ZoneFile, zone_facts
from app.casebook.states import (
    CASE_WORDS,
    CaseFacts,
    Sentence,
    ZoneCode,
    called,
    case_sentences,
    case_state,
    day_of,
    zone_state,
    zone_words,
)
from app.colour.spaces import lab_to_srgb8_hex
from app.consents.queries import PermissionLine
from app.outcomes import scores
from app.outcomes.review_queries import ZoneOnFile
from app.platform.pages import list_words
from app.records.happened import happened_words
from app.records.models import Reading
from app.records.photo_words import ReadingWords, reading_words
from app.records.scars import PADDING_WORDS
from app.records.strip import Strip, StripReading, StripSession, StripZone, build
from app.records.strip_shapes import SessionKind
from app.sessions.models import WorkSession

STRIP_WIDTH = 1140.0
SHORT = 24  # letters that a button can hold
DID = {"full": "worked on", "test_spot": "set a test spot on", "allergy_patch": "placed an allergy patch for"}
ENDS = {"open": " The sheet is open.", "stopped": " The work was stopped early."}
DECISIONS = {"": "not decided yet", "accepted": "accepted", "wait": "waits", "declined": "declined"}


@dataclass(frozen=True)
class Step:
    """What can be done next: a page to go to, or, with `is_post`, something to make."""

    words: str
    href: str
    is_post: bool = False


# What may be begun by the most that is cleared today: the step leads to that kind of work.
START_STEPS: Mapping[int, Callable[[int], Step]] = {
    1: lambda case_id: Step("Place an allergy patch", f"/cases/{case_id}/sessions/new?kind=allergy_patch"),
    2: lambda case_id: Step("Set a test spot", f"/cases/{case_id}/sessions/new?kind=test_spot"),
    3: lambda case_id: Step("Start a session", f"/cases/{case_id}/sessions/new"),
}


@dataclass(frozen=True)
class ZoneLine:
    file: ZoneFile
    notes: tuple[str, ...]
    state_words: str
    said: ReadingWords | None
    measured: str
    verdict: str
    mix: str
    why_title: str
    why: tuple[str, ...]
    last_session: int | None


@dataclass(frozen=True)
class SessionLine:
    session: WorkSession
    words: str


@dataclass(frozen=True)
class ScreeningLine:
    id: int
    on: date
    words: str


@dataclass(frozen=True)
class CasePage:
    file: CaseFile
    state: str
    lead: str
    deputy: str
    sentences: tuple[Sentence, ...]
    steps: tuple[Step, ...]
    strip: Strip | None
    zones: tuple[ZoneLine, ...]
    sessions: tuple[SessionLine, ...]
    screenings: tuple[ScreeningLine, ...]
    permissions: tuple[str, ...]


def case_page(file: CaseFile, on: date) -> CasePage:
    facts = file.facts(on)
    lead, deputy = file.names.get(file.case.lead_id, ""), file.names.get(file.case.deputy_id or 0, "")
    return CasePage(
        file,
        CASE_WORDS[case_state(facts, on)],
        lead,
        deputy,
        case_sentences(facts, on),
        tuple(next_steps(file, facts, on)),
        strip_of([zone.on_file for zone in file.zones], on),
        tuple(_zone_line(file, zone, on) for zone in file.zones),
        tuple(_session_line(file, session, on) for session in file.sessions),
        tuple(
            ScreeningLine(one.id or 0, one.screened_on, _decision(one.decision, one.wait_until, on))
            for one in file.screenings
        ),
        permission_sentences(file.permissions),
    )


def _decision(decision: str, wait_until: date | None, on: date) -> str:
    return f"{DECISIONS[decision]}{f' until {day_of(wait_until, on)}' if wait_until and decision == 'wait' else ''}"


def next_steps(file: CaseFile, facts: CaseFacts, on: date) -> Iterator[Step]:
    """What the state of the case asks for, the most pressing first. Nothing starts on hold; a closed case rests."""
    case_id, states = file.case.id or 0, [zone_state(zone, on) for zone in facts.zones]
    if facts.closed_on is not None:
        return
    yield from (
        Step("Go on with the open sheet", f"/sessions/{one.id}") for one in file.sessions if one.state == "open"
    )
    if facts.decision == "":
        yield Step("Decide on the answers", f"/screenings/{file.screenings[0].id}")
    for zone, state in zip(file.zones, states, strict=True):
        if state == "to_judge":
            yield Step(f"Judge {_short(zone.zone.label)}", f"/zones/{zone.zone.id}/verdict")
    if facts.is_held:
        return
    if not facts.is_asked and facts.decision is None:
        yield Step("Make the intake link", f"/cases/{case_id}/intake", is_post=True)
    if facts.decision != "accepted":
        return
    if not file.zones:
        yield Step("Add the first zone", f"/cases/{case_id}/zones/new")
    ready = [zone for zone, state in zip(file.zones, states, strict=True) if _is_ready(zone, state, on)]
    if any(not zone.is_permitted for zone in ready):
        yield Step("Ask for consent", f"/cases/{case_id}/signing")
    grades = [zone.clearance.grade_on(on) for zone in ready if zone.is_permitted and zone.clearance is not None]
    if grades:
        yield START_STEPS[max(grades)](case_id)


def _short(label: str) -> str:
    """A zone as a button names it; a long label is left to the line of the zone."""
    return "the colour" if len(called(label)[0]) > SHORT else _in_sentence(label)


def _is_ready(zone: ZoneFile, state: ZoneCode, on: date) -> bool:
    """Whether work is cleared and its wait is over; the start checks look at everything else."""
    clearance, clock = zone.clearance, zone.on_file.clock
    if clearance is None or not clearance.grade_on(on) or state in ("finished", "in_treatment"):
        return False
    return clock is None or on >= clock.earliest_on


def strip_of(
    zones: Sequence[ZoneOnFile], on: date, *, width: float = STRIP_WIDTH, compact: bool = False
) -> Strip | None:
    """The strip through time of the zones that have anything on it."""
    drawn = [strip_zone(zone) for zone in zones]
    drawn = [zone for zone in drawn if zone.readings or zone.sessions]
    if not drawn:
        return None
    # It begins with the first thing on file, so that no empty stretch stands before it.
    begin = min(
        day for zone in drawn for day in (*(one.on for one in zone.readings), *(one.on for one in zone.sessions))
    )
    return build(drawn, today=on, width=width, begin=min(begin, on), compact=compact)


def strip_zone(one: ZoneOnFile) -> StripZone:
    readings = tuple(found for row in one.readings if (found := _strip_reading(row)) is not None)
    full, sessions = 0, []
    for work in one.work:
        full += work.kind == "full"
        label = f"{_ordinal(full)} session" if work.kind == "full" else work.words
        sessions.append(StripSession(work.worked_on, label, _strip_kind(work.kind)))
    settling = tuple((clock.worked_on, clock.judge_on) for clock in one.clocks)
    judged = f"judged {one.standing.counts}" if one.standing is not None else ""
    return StripZone(one.zone.label, readings, tuple(sessions), settling, judged)


def _strip_kind(kind: str) -> SessionKind:
    return "full" if kind == "full" else "test_spot" if kind == "test_spot" else "allergy_patch"


def _ordinal(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _strip_reading(row: Reading) -> StripReading | None:
    """A measured reading as the strip takes it: the ends of the interval rounded outwards."""
    scar = [value for value in (row.scar_l, row.scar_a, row.scar_b) if value is not None]
    skin = [value for value in (row.skin_l, row.skin_a, row.skin_b) if value is not None]
    low, high = row.delta_e_00_low, row.delta_e_00_high
    if low is None or high is None or len(scar) < 3 or len(skin) < 3:
        return None
    apart = f"{math.floor(low)} to {math.ceil(high)} apart"
    return StripReading(row.taken_on, lab_to_srgb8_hex(scar), lab_to_srgb8_hex(skin), apart)


def _zone_line(file: CaseFile, zone: ZoneFile, on: date) -> ZoneLine:
    measured = [row for row in zone.on_file.readings if row.is_measured]
    said = reading_words(measured[-1], file.case.skin_class) if measured else None
    clock, work = zone.on_file.clock, zone.on_file.work
    waits = clock is not None and on < clock.earliest_on and zone.zone.finished_on is None
    return ZoneLine(
        zone,
        tuple(_notes(zone)),
        zone_words(zone_facts(zone), on),
        said,
        f"Measured {day_of(measured[-1].taken_on, on)}{f'; {said.area}' if said and said.area else ''}."
        if measured
        else "",
        _verdict_words(file, zone, on),
        _mix_words(zone.mix),
        f"Why not before {day_of(clock.earliest_on, on)}" if clock is not None and waits else "",
        (*clock.earliest_reasons, *(f"Judging waits: {words}" for words in clock.judge_reasons))
        if clock and waits
        else (),
        work[-1].session_id if work else None,
    )


def _notes(zone: ZoneFile) -> Iterator[str]:
    row = zone.zone
    yield row.name.rpartition(", ")[2]
    yield PADDING_WORDS[row.padding]
    if row.happened:
        yield f"scar: {happened_words(row.happened)}"
    for is_so, words in (
        (row.is_irradiated, "had radiotherapy"),
        (row.is_grafted, "graft or flap"),
        (row.darkens, "tends to dark marks"),
    ):
        if is_so:
            yield words


def _verdict_words(file: CaseFile, zone: ZoneFile, on: date) -> str:
    verdict = zone.standing
    if verdict is None:
        return ""
    grade = next(step.words for step in scores.VERDICTS if step.key == verdict.counts).lower()
    own = ", who treated it" if verdict.by_treating_artist else ""
    return f"Judged {grade} by {file.names.get(verdict.judged_by, '')}{own}, {day_of(verdict.judged_on, on)}."


def _mix_words(mix: Mix | None) -> str:
    """Last mix: 12 drops (7 white; 5 ochre). Unproven until it is judged."""
    if mix is None:
        return ""
    begin = "Last mix" if mix.is_used else "Mix kept, not used yet"
    counted = "; ".join(f"{drops} {item.label}" for item, drops in mix.parts)
    drops = f"{mix.drops} {'drop' if mix.drops == 1 else 'drops'}"
    proof = f"Judged {mix.recipe.verdict}." if mix.recipe.verdict else "Unproven until it is judged."
    return f"{begin}: {f'{drops} ({counted})' if counted else mix.recipe.name or 'own mix, not measured'}. {proof}"


def _session_line(file: CaseFile, session: WorkSession, on: date) -> SessionLine:
    """Ruth Okonjo worked on the forearm. Entered later from paper."""
    artist, labels = file.names.get(session.artist_id, ""), file.worked.get(session.id or 0, ())
    zones = list_words([_in_sentence(label) for label in labels]) or "no zone"
    did = "stopped before any work on" if session.state == "stopped_before_work" else DID[session.kind]
    paper = " Entered later from paper." if session.from_paper else ""
    corrected = " This corrects an earlier record." if session.replaces_id is not None else ""
    return SessionLine(session, f"{artist} {did} {zones}.{ENDS.get(session.state, '')}{paper}{corrected}")


def _in_sentence(label: str) -> str:
    """A zone inside a sentence: the forearm."""
    name = called(label)[0]
    return f"the {name[4:]}" if name.startswith("The ") else name


def permission_sentences(lines: Sequence[PermissionLine]) -> tuple[str, ...]:
    """What the newest answer to each question allows and what it does not, in a sentence each."""
    newest: dict[tuple[str, tuple[str, ...]], PermissionLine] = {}
    for line in lines:  # the newest comes first
        newest.setdefault((line.kind, line.zones), line)
    treated = [line for (kind, _), line in newest.items() if kind == "treatment" and line.stands]
    others = [line for (kind, _), line in newest.items() if kind != "treatment"]
    zones = list(dict.fromkeys(zone for line in treated for zone in line.zones))
    found = (
        ("Treatment is agreed for ", "; ".join(zones)),
        ("Allowed: ", list_words([line.named for line in others if line.stands])),
        ("Not allowed: ", list_words([line.named for line in others if not line.stands])),
    )
    return tuple(f"{begin}{words}." for begin, words in found if words)
