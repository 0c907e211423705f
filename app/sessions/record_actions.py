"""Whole sessions as one form: entered later from paper, and corrections. Recording is never refused."""

import json
from collections.abc import Sequence
from datetime import datetime, time
from zoneinfo import ZoneInfo

from sqlmodel import Session

from app.intake import visit_queries as visits
from app.pigments.models import Item
from app.platform import clock
from app.platform.audit import Actor, about, audited, canonical, note
from app.platform.forms import Refused
from app.records import queries as records
from app.records.models import Case, Zone
from app.sessions import queries
from app.sessions.forms import UsedItem, WholeSession, ZoneWork
from app.sessions.healing_course import begin_course, follow_correction
from app.sessions.item_cautions import CAUTIONS, item_breaches
from app.sessions.models import SessionItem, SessionZone, WorkSession
from app.sessions.sheet import MIX_KINDS
from app.sessions.start_checks import start_check
from app.sessions.start_queries import facts_on, root_id
from app.sessions.tap_actions import copied
from app.sessions.terms import AGREED_WORDS, TECHNIQUE
from app.studio import queries as studio_queries
from app.studio.models import Studio

NOT_SAID = "Not on paper that the client said again on the day that nothing is new."


def refuse_stranger(db: Session, artist_id: int, *, former: bool = False) -> None:
    """Who worked is one of the studio's artists; a record from the past may name one who has left."""
    known = studio_queries.members(db) if former else studio_queries.artists(db)
    if artist_id not in {member.id for member in known if member.role != "desk"}:
        raise Refused("artist_id", "Choose one of these.")


@audited("sessions.session.recorded")
def record_past(db: Session, case: Case, form: WholeSession, *, by: Actor) -> WorkSession:
    """Puts on file what was done. Start checks that were not met on the day are listed as breaches, never refused."""
    refuse_stranger(db, form.artist_id, former=True)
    studio = studio_queries.studio(db)
    session = _write(db, case, form, studio, by)
    session.from_paper = True
    session.breaches = _breaches(db, session, form, None)
    session.breaches = with_item_breaches(db, session)
    zones = _touched(db, session)
    if zones:
        begin_course(db, session, zones, studio, by)
    about(db, session)
    note(db, breaches=session.breaches, worked_on=form.worked_on.isoformat())
    return session


@audited("sessions.session.corrected")
def correct(db: Session, session: WorkSession, form: WholeSession, *, by: Actor) -> WorkSession:
    """A new version that says why; the one before stays as it was, and both stay visible."""
    if session.is_open:
        raise Refused("why", "This session is open: change it on its sheet.")
    if queries.is_replaced(db, session):
        raise Refused("why", "This session was corrected already. Open its newest version.")
    if not form.why:
        raise Refused("why", "Say why it is corrected.")
    refuse_stranger(db, form.artist_id, former=True)
    studio = studio_queries.studio(db)
    row = _write(db, db.get_one(Case, session.case_id), form, studio, by)
    row.replaces_id, row.why, row.from_paper = session.id, form.why, session.from_paper
    if row.worked_on == session.worked_on:
        row.started_at = session.started_at
    row.passed, row.passed_reason = session.passed, session.passed_reason
    if row.worked_on == session.worked_on:
        row.submission_id = session.submission_id
    if session.reaffirmed_at is not None and form.said_again:
        row.reaffirmed_at, row.reaffirmed = session.reaffirmed_at, session.reaffirmed
    db.flush()
    root = root_id(db, row)
    row.breaches = session.breaches if _same_work(db, session, row) else _breaches(db, row, form, root)
    row.breaches = with_item_breaches(db, row)
    number = sum(1 for _ in _chain(db, row))
    follow_correction(db, row, _touched(db, row), studio, number, by)
    about(db, row)
    note(db, why=form.why)
    return row


def _chain(db: Session, session: WorkSession) -> Sequence[WorkSession]:
    rows = [session]
    while rows[-1].replaces_id is not None:
        rows.append(db.get_one(WorkSession, rows[-1].replaces_id))
    return rows


def _same_work(db: Session, one: WorkSession, other: WorkSession) -> bool:
    """Whether a correction leaves day, kind and zones as they were, so that the start checks of then still stand."""
    zones = [{work.zone_id for _, work in queries.zones_in(db, row.id or 0)} for row in (one, other)]
    return (one.worked_on, one.kind, zones[0]) == (other.worked_on, other.kind, zones[1])


def _write(db: Session, case: Case, form: WholeSession, studio: Studio, by: Actor) -> WorkSession:
    if form.worked_on > clock.today(studio.time_zone):
        raise Refused("worked_on", "This day is still to come.")
    if form.state != "finished" and not form.stop_reason:
        raise Refused("stop_reason", "Say why it was stopped.")
    now = clock.now()
    session = WorkSession(
        case_id=case.id or 0, artist_id=form.artist_id, kind=form.kind, state=form.state, worked_on=form.worked_on,
        # The hour is not on paper; noon stands for the day and is not shown.
        started_at=datetime.combine(form.worked_on, time(12), ZoneInfo(studio.time_zone)), finished_at=now,
        entered_at=now, entered_by=by.id, room=form.room, assistant=form.assistant, note=form.note,
        needle_seconds=None if form.needle_minutes is None else form.needle_minutes * 60,
        stop_reason=form.stop_reason if form.state != "finished" else "",
    )  # fmt: skip
    told = visits.day_answers(db, case.id or 0, form.worked_on).newest
    session.submission_id = told.form.id if told is not None else None
    if form.said_again:
        session.reaffirmed_at = session.started_at
        said = [{"asked": "On paper: the client said that nothing was new", "answer": "yes"}]
        session.reaffirmed = canonical([*said, {"asked": AGREED_WORDS, "answer": "yes"}])
    db.add(session)
    db.flush()
    _write_zones(db, session, form.works)
    _write_items(db, session, form.items)
    db.flush()
    if form.state != "stopped_before_work" and not _touched(db, session):
        raise Refused("zones", "Name at least one zone that was worked on, or say “stopped before work”.")
    return session


def _write_zones(db: Session, session: WorkSession, works: Sequence[ZoneWork]) -> None:
    assert session.id is not None
    for work in works:
        zone = db.get(Zone, work.zone_id)
        if zone is None or zone.case_id != session.case_id:
            raise Refused("zones", "Choose from the zones of this case.")
        values = work.model_dump(exclude={"zone_id", "techniques"})
        known = [key for key in work.techniques if key in TECHNIQUE]
        db.add(SessionZone(session_id=session.id, zone_id=work.zone_id, techniques=canonical(known), **values))


def _write_items(db: Session, session: WorkSession, items: Sequence[UsedItem]) -> None:
    assert session.id is not None
    for used in items:
        shelf = db.get(Item, used.shelf_id) if used.shelf_id is not None else None
        if shelf is not None and not used.label:
            drops = used.drops if shelf.kind in MIX_KINDS else None
            db.add(copied(session.id, shelf, used.zone_id, drops, session.worked_on))
        elif used.kind and used.label:
            db.add(SessionItem(
                session_id=session.id, zone_id=used.zone_id, item_id=shelf.id if shelf is not None else None,
                kind=used.kind, label=used.label, lot=used.lot, lot_unreadable=used.lot_unreadable and not used.lot,
                expires_on=used.expires_on, caution=used.caution, drops=used.drops))  # fmt: skip
        else:
            raise Refused("items", "Say what each item is: its kind, and its name as the label says.")


def _touched(db: Session, session: WorkSession) -> list[Zone]:
    assert session.id is not None
    if session.state == "stopped_before_work":
        return []
    return [zone for zone, work in queries.zones_in(db, session.id) if not work.is_untouched]


def with_item_breaches(db: Session, session: WorkSession) -> str:
    """The breaches on file, and what was used against an alert that stood by the day of the work."""
    assert session.id is not None
    time_zone = ZoneInfo(studio_queries.studio(db).time_zone)
    case = db.get_one(Case, session.case_id)
    stood = {
        alert.kind for alert in records.alerts_of(db, case.client_id, medical=True)
        if alert.raised_at.astimezone(time_zone).date() <= session.worked_on
    }  # fmt: skip
    used = {item.kind for item in queries.items_of(db, session.id)} if session.state != "stopped_before_work" else set()
    codes = {one.alert for one in CAUTIONS}
    kept = [one for one in json.loads(session.breaches) if one["code"] not in codes]
    against = item_breaches(used, stood)
    added = [{"zone_id": None, "zone": "", "code": one.alert, "words": one.breach} for one in against]
    return canonical([*kept, *added])


def _breaches(db: Session, session: WorkSession, form: WholeSession, but: int | None) -> str:
    """What would have stood against starting on the day of the work, zone by zone."""
    found: list[dict[str, object]] = []
    # On paper "nothing is new" stands for the short questions, where none were answered here that day.
    is_on_paper = form.said_again and not visits.day_answers(db, session.case_id, session.worked_on).told
    for zone in _touched(db, session):
        for item in start_check(
            facts_on(db, zone, session.worked_on, session.kind, but=but), session.worked_on, session.kind
        ).missing:
            if item.code != "open_session" and not (item.code == "rescreening" and is_on_paper):
                found.append({"zone_id": zone.id, "zone": zone.label, "code": item.code, "words": item.words})
    if not form.said_again and session.state != "stopped_before_work":
        found.append({"zone_id": None, "zone": "", "code": "not_reaffirmed", "words": NOT_SAID})
    return canonical(found)
