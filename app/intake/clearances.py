"""What zones may have as it stands on file, and what of it the desk may know: days, never why."""

import json
from datetime import date

from sqlmodel import Session, col, select

from app.intake import findings as found_of
from app.intake.clearing import Cleared, cleared, together
from app.intake.models import Clearance, Finding, Screening
from app.platform.pages import day_words
from app.records import queries as records
from app.records.models import DeclaredScar, Zone

ASK_THE_ARTIST = "Ask the artist."
Days = tuple[date | None, date | None, date | None]


def clearance_of(db: Session, zone_id: int) -> Clearance | None:
    """The newest clearance of a zone; `grade_on` says what it allows on a day."""
    return db.exec(
        select(Clearance).where(Clearance.zone_id == zone_id).order_by(col(Clearance.id).desc()).limit(1)
    ).first()


def grade_on(db: Session, zone_id: int, on: date) -> int:
    """What a zone may have on a day: 0 consultation only, 1 allergy patch, 2 test spot, 3 full work."""
    newest = clearance_of(db, zone_id)
    return newest.grade_on(on) if newest is not None else 0


def scars_of_zone(db: Session, zone: Zone) -> list[DeclaredScar]:
    return [scar for scar in records.declared_of(db, zone.case_id) if scar.zone_id == zone.id]


def zone_cleared(
    db: Session, screening: Screening, zone: Zone, found: found_of.Screening, decided_on: date
) -> Cleared | None:
    """What a zone may have by a screening, or None where none of its scars was screened."""
    known = {scar.scar_id for scar in found.scars}
    keys = [scar.key for scar in scars_of_zone(db, zone) if scar.key in known]
    passed = json.loads(screening.passed)
    return together([cleared(found, key, passed=passed, from_on=decided_on) for key in keys]) if keys else None


def desk_line(db: Session, case_id: int, on: date) -> str:
    """What the desk may know for booking: "Not before DATE.", "Ask the artist.", or nothing that stands against it."""
    newest = select(Screening).where(Screening.case_id == case_id).order_by(col(Screening.id).desc())
    screening = db.exec(newest.limit(1)).first()
    if screening is None or screening.decision in ("", "declined"):
        return ASK_THE_ARTIST
    wanted = select(Finding.id).where(Finding.screening_id == screening.id, col(Finding.is_sensitive))
    is_sensitive = db.exec(wanted.limit(1)).first() is not None
    zones = records.zones_of(db, case_id)
    is_sensitive = is_sensitive or any(zone.is_sensitive for zone in zones)
    if screening.decision == "wait":
        until = screening.wait_until
        if until is None or until <= on or is_sensitive:
            return ASK_THE_ARTIST
        return f"Not before {day_words(until)}."
    rows = [clearance_of(db, zone.id or 0) for zone in zones]
    standing = [row.days for row in rows if row is not None and (row.until_on is None or row.until_on >= on)]
    return booking_words(_soonest(standing), on, is_sensitive=is_sensitive)


def _soonest(rows: list[Days]) -> Days:
    patch, spot, full = (min((day for row in rows if (day := row[at]) is not None), default=None) for at in range(3))
    return patch, spot, full


def booking_words(days: Days, on: date, *, is_sensitive: bool = False) -> str:
    """From the first days of a patch, a spot and full work to the line for the desk; empty where all may be booked."""
    patch, spot, full = days
    if full is not None and full <= on:
        return ""
    begin = f"Not before {day_words(full)}" if full is not None and not is_sensitive else "Ask the artist"
    for words, day in (("a test spot", spot), ("an allergy patch", patch)):
        if day is not None and day != full and (day <= on or not is_sensitive):
            return f"{begin}; {words} {'may be booked now' if day <= on else f'from {day_words(day)}'}."
    return f"{begin}."
