"""Waits that an artist went past when deciding on answers: counted in the review, each with its reason."""

import json
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.intake.clearing import finding_key
from app.intake.models import Finding, Screening, Submission
from app.outcomes.forms import ReviewFilter
from app.outcomes.queries import may_see
from app.records.models import Case
from app.studio import queries as studio
from app.studio.access import Who


@dataclass(frozen=True)
class WaitPassed:
    """One decision that went past waits: which, by whom, when and why."""

    case: Case
    screening_id: int
    titles: tuple[str, ...]
    artist: str
    decided_on: date
    reason: str


def waits_passed(db: Session, who: Who, asked: ReviewFilter) -> tuple[WaitPassed, ...]:
    """All for the owner, an artist's own for an artist. What a visit took over was decided once, and counts once."""
    names, artist = studio.names(db), asked.artist if who.is_owner else who.id
    time_zone = ZoneInfo(studio.studio(db).time_zone)
    wanted = select(Screening, Case).join(Case, col(Screening.case_id) == col(Case.id))
    wanted = wanted.join(Submission, col(Screening.submission_id) == col(Submission.id))
    wanted = wanted.where(Screening.decision == "accepted", Screening.passed != "[]", Submission.kind != "visit")
    rows = db.exec(wanted.order_by(col(Screening.id).desc())).all()
    known = may_see(db, who, [case.id or 0 for _, case in rows])
    found = []
    for screening, case in rows:
        if case.id not in known or screening.decided_at is None or artist not in (None, screening.decided_by):
            continue
        on = screening.decided_at.astimezone(time_zone).date()
        if (asked.since or date.min) <= on <= (asked.until or date.max):
            artist_name = names.get(screening.decided_by or 0, "")
            titles = _titles(db, screening)
            found.append(WaitPassed(case, screening.id or 0, titles, artist_name, on, screening.reason))
    return tuple(found)


def _titles(db: Session, screening: Screening) -> tuple[str, ...]:
    passed = set(json.loads(screening.passed))
    rows = db.exec(select(Finding).where(Finding.screening_id == screening.id).order_by(col(Finding.id))).all()
    return tuple(dict.fromkeys(row.title for row in rows if finding_key(row.rule, row.scar_key) in passed))
