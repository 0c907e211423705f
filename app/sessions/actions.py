"""Starting, stopping and finishing at the chair. Taps and items: `tap_actions`; whole records: `record_actions`."""

from collections.abc import Mapping, Sequence
from datetime import date

from sqlmodel import Session

from app.intake import actions as intake
from app.intake import visit_queries as visits
from app.intake.visit_queries import DayAnswers
from app.pigments import queries as pigments
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.platform.pages import day_words
from app.records.models import Case, Zone
from app.sessions import queries
from app.sessions.forms import FoundLot, ReadPatch, StartSession, StopSession
from app.sessions.gaps import Gap
from app.sessions.healing_course import begin_course, readable_from
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.sessions.record_actions import correct, record_past, refuse_stranger, with_item_breaches
from app.sessions.sheet import needle_seconds
from app.sessions.start_checks import Missing, not_reaffirmed
from app.sessions.start_queries import may_start, reading_of, root_id, session_key
from app.sessions.tap_actions import (
    add_drop,
    add_item,
    add_mix,
    change_mix,
    refuse_closed,
    remove_item,
    save_zone,
    tap,
)
from app.sessions.terms import AGREED_WORDS, SAME_WORDS
from app.studio import queries as studio_queries
from app.studio.models import Studio

__all__ = [
    "add_drop", "add_item", "change_mix", "correct", "finish", "read_patch", "record_past", "remove_item", "save_zone",
    "start", "stop", "tap",
]  # fmt: skip

RESULTS = {"clear": "clear", "reaction": "reacted", "unclear": "unclear"}


@audited("sessions.session.started")
def start(db: Session, case: Case, form: StartSession, zones: Sequence[Zone], *, by: Actor) -> WorkSession:
    """Opens the sheet. Refused, with everything that is missing, unless every start check is met or is a wait that the
    artist goes past with a reason."""
    if not zones:
        raise Refused("zones", "Choose at least one zone.")
    refuse_stranger(db, form.artist_id)
    on = clock.today(studio_queries.studio(db).time_zone)
    passed = _waits_passed(db, form, zones, on)
    told = visits.day_answers(db, case.id or 0, on)
    _refuse_unsaid(told, form)
    now = clock.now()
    session = WorkSession(
        case_id=case.id or 0, artist_id=form.artist_id, kind=form.kind, worked_on=on, started_at=now, entered_at=now,
        entered_by=by.id, room=form.room, assistant=form.assistant, reaffirmed_at=now, reaffirmed=_said(told, form),
        submission_id=told.newest.form.id if told.newest is not None else None,
        passed=canonical(passed), passed_reason=form.pass_reason if passed else "",
    )  # fmt: skip
    db.add(session)
    db.flush()
    for zone in zones:
        _put_on_sheet(db, session, zone, on)
    about(db, session)
    if passed:
        note(db, passed=passed, reason=form.pass_reason)
    return session


def _refuse_unsaid(told: DayAnswers, form: StartSession) -> None:
    unsaid = not_reaffirmed(told.said, form.is_same, form.agreed)
    if unsaid is not None:
        name = "agreed" if form.is_same or told.said != "evening" else "is_same"
        raise Refused(name, f"{unsaid.words} {unsaid.what_lifts}")


def _said(told: DayAnswers, form: StartSession) -> str:
    """What was asked on the day, in the words of now, and the answers."""
    said = []
    if told.newest is not None:
        screening = told.newest.screening
        said = [{"asked": "The short questions of the day", "answer": screening.reason or screening.decision}]
    if told.said == "evening":
        said.append({"asked": SAME_WORDS, "answer": "yes" if form.is_same else "no"})
    return canonical([*said, {"asked": AGREED_WORDS, "answer": "yes" if form.agreed else "no"}])


def _waits_passed(db: Session, form: StartSession, zones: Sequence[Zone], on: date) -> list[dict[str, object]]:
    """What a reason goes past; raises when anything else stands against the start."""
    checks = [(zone, may_start(db, zone, on, form.kind)) for zone in zones]
    refused = [_said_of(zone, item) for zone, check in checks for item in check.refusals]
    if refused:
        raise Refused("zones", " ".join(refused))
    waits = [(zone, item) for zone, check in checks for item in check.waits]
    if waits and not form.pass_reason:
        due = " ".join(_said_of(zone, item) for zone, item in waits)
        raise Refused("pass_reason", f"{due} To go past it, name the reason.")
    return [{"zone_id": zone.id, "zone": zone.label, "code": item.code, "words": item.words} for zone, item in waits]


def _said_of(zone: Zone, item: Missing) -> str:
    return f"{zone.label}: {item.words}"


def _put_on_sheet(db: Session, session: WorkSession, zone: Zone, on: date) -> None:
    """A zone with the mix that is kept for it, each bottle with its lot."""
    assert session.id is not None
    assert zone.id is not None
    recipe = next(iter(pigments.recipes_of(db, zone.id)), None)
    db.add(SessionZone(session_id=session.id, zone_id=zone.id, recipe_id=recipe.id if recipe is not None else None))
    if recipe is not None and recipe.id is not None:
        add_mix(db, session, zone, recipe.id, on)


@audited("sessions.session.stopped")
def stop(db: Session, session: WorkSession, form: StopSession, *, studio: Studio, by: Actor) -> WorkSession:
    """Ends a session early, with the reason. What was worked on until then heals like any other work."""
    refuse_closed(session)
    session.stop_reason = form.reason
    return _close(db, session, "stopped_before_work" if form.before_work else "stopped", studio, by)


@audited("sessions.session.finished")
def finish(
    db: Session, session: WorkSession, found: Mapping[str, FoundLot], *, studio: Studio, by: Actor
) -> WorkSession:
    """Ends a session. `found` answers each gap by its key; the rest goes on the follow-up list."""
    refuse_closed(session)
    for gap in queries.gaps_of(db, session):
        answer = found.get(gap.key)
        if answer is not None and not answer.is_blank:
            _fill_gap(db, session, gap, answer)
    db.flush()
    return _close(db, session, "finished", studio, by)


def _fill_gap(db: Session, session: WorkSession, gap: Gap, found: FoundLot) -> None:
    assert session.id is not None
    if gap.about == "item":
        item = queries.item_in(db, session, gap.id)
        item.lot, item.lot_unreadable = found.lot, found.lot_unreadable and not found.lot
        db.add(item)
    elif gap.about == "zone" and found.no_pigment:
        work = queries.zone_in(db, session, gap.id)[1]
        work.no_pigment = True
        db.add(work)
    else:
        is_needle = gap.about == "needle"
        db.add(SessionItem(
            session_id=session.id, zone_id=None if is_needle else gap.id, kind="needle" if is_needle else "skin_tone",
            label=found.label or ("Needle" if is_needle else "Pigment"), lot=found.lot,
            lot_unreadable=found.lot_unreadable and not found.lot))  # fmt: skip


def _close(db: Session, session: WorkSession, state: str, studio: Studio, by: Actor) -> WorkSession:
    assert session.id is not None
    now = clock.now()
    if session.needle_since is not None:
        session.needle_seconds, session.needle_since = needle_seconds(session), None
    zones = [zone for zone, work in queries.zones_in(db, session.id) if not work.is_untouched]
    if state != "stopped_before_work" and not zones:
        raise Refused("zones", "No zone was worked on. Say “stopped before work”, with the reason.")
    session.state, session.finished_at = state, now
    db.add(session)
    db.flush()
    if state != "stopped_before_work":
        session.breaches = with_item_breaches(db, session)
        begin_course(db, session, zones, studio, by)
    about(db, session)
    note(db, missing=[gap.words for gap in queries.gaps_of(db, session)])
    return session


@audited("sessions.patch.read")
def read_patch(db: Session, session: WorkSession, form: ReadPatch, *, on: date, by: Actor) -> WorkSession:
    """Writes down what an allergy patch or a test spot shows; the client's zones are graded anew from it."""
    if session.kind == "full" or session.state not in queries.DONE or queries.is_replaced(db, session):
        raise Refused("result", "There is no patch and no spot to read here.")
    first = readable_from(db, session)
    if on < first:
        raise Refused("result", f"It can first be read on {day_words(first)}.")
    case = db.get_one(Case, session.case_id)
    root = root_id(db, session)
    zones = [zone for zone, work in queries.zones_in(db, session.id or 0) if not work.is_untouched]
    earlier = reading_of(db, session)
    for zone in zones if session.kind == "test_spot" else zones[:1]:
        key = session_key(root) + (f"/{zone.id}" if session.kind == "test_spot" else "")
        intake.write_evidence(db, client_id=case.client_id, zone_id=zone.id, kind=session.kind, source_key=key,
                              result=RESULTS[form.result], seen_on=on, placed_on=session.worked_on,
                              may_read_from=first, read_by=by.id, words=form.note, by=by)  # fmt: skip
    note(db, result=form.result, before=earlier.result if earlier is not None else "")
    about(db, session)
    return session
