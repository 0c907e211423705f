"""What a zone may have, written down anew whenever a decision, an answer, a proof or a zone changes."""

from datetime import date
from typing import get_args
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.intake import findings as found_of
from app.intake import queries
from app.intake.clearing import finding_key
from app.intake.models import Clearance, Evidence, Finding, Screening
from app.intake.proofs import runs_out_on, seen_for
from app.intake.rules import Proof, Result
from app.platform import clock
from app.platform.audit import Actor, about, audited
from app.records import queries as record_queries
from app.records.models import Case, Zone
from app.studio import queries as studio_queries

NOT_DECIDED = "Answered again: nobody has decided yet."


def today(db: Session) -> date:
    return clock.today(studio_queries.studio(db).time_zone)


def keep_findings(db: Session, screening: Screening, found: found_of.Screening) -> None:
    """A row for each finding that has none yet, so that each can be lifted by itself."""
    assert screening.id is not None
    held = {finding_key(row.rule, row.scar_key) for row in queries.findings_of(db, screening.id)}
    for item in found.findings:
        if finding_key(item.rule_id, item.scar_id) in held:
            continue
        db.add(
            Finding(
                screening_id=screening.id,
                rule=item.rule_id,
                kind=item.kind,
                scar_key=item.scar_id or "",
                title=item.title,
                because=item.because,
                allows=item.allows,
                reason=item.reason,
                source=item.source,
                what_lifts=item.what_lifts,
                client_summary=item.client_summary,
                clear_from=item.clear_from,
                floor_until=item.floor_until,
                proofs=" ".join(item.lifted_by),
                is_sensitive=item.sensitive,
                needs_letter=item.letter_needed,
            )
        )
    db.flush()


@audited("intake.zone.graded")
def regrade(db: Session, zone: Zone, *, by: Actor) -> Clearance | None:
    """What a zone may have now, written down when it differs from what stands; the newest row counts."""
    assert zone.id is not None
    about(db, zone)
    newest = queries.clearance_of(db, zone.id)
    screening = queries.newest_screening(db, zone.case_id)
    if screening is None or screening.id is None:
        return newest
    row = _graded(db, screening, zone)
    if row is None:
        if newest is None or newest.grade == 0:
            return newest
        why = NOT_DECIDED if not screening.decision else "No screened scar, or not accepted."
        row = Clearance(
            zone_id=zone.id,
            screening_id=screening.id,
            grade=0,
            from_on=today(db),
            reasons=why,
            decided_at=clock.now(),
            decided_by=screening.decided_by,
        )
    same = ("days", "from_on", "until_on", "reasons", "screening_id")
    if newest is not None and all(getattr(newest, name) == getattr(row, name) for name in same):
        return newest
    db.add(row)
    return row


def _graded(db: Session, screening: Screening, zone: Zone) -> Clearance | None:
    if screening.decision != "accepted" or screening.decided_at is None:
        return None
    assert zone.id is not None
    assert screening.id is not None
    on = today(db)
    found = queries.screened_on(db, screening, on)
    decided_on = screening.decided_at.astimezone(ZoneInfo(studio_queries.studio(db).time_zone)).date()
    may = queries.zone_cleared(db, screening, zone, found, decided_on)
    if may is None:
        return None
    scars = {"", *(scar.key for scar in queries.scars_of_zone(db, zone))}
    ends = [
        runs_out_on(held, on) for key, held in seen_for(db, screening).items() if key.partition("/")[2] in scars
    ]
    return Clearance(
        zone_id=zone.id,
        screening_id=screening.id,
        grade=may.grade,
        from_on=may.from_on,
        patch_from=may.patch_from,
        spot_from=may.spot_from,
        full_from=may.full_from,
        until_on=min((day for day in ends if day is not None), default=None),
        reasons="; ".join(may.reasons),
        decided_by=screening.decided_by,
        decided_at=clock.now(),
    )


def regrade_case(db: Session, case: Case, by: Actor) -> None:
    assert case.id is not None
    db.flush()
    for zone in record_queries.zones_of(db, case.id):
        regrade(db, zone, by=by)


def regrade_person(db: Session, client_id: int, by: Actor) -> None:
    """Every zone of a person anew, over all their records: what was seen on one of them is true of all."""
    db.flush()
    mine = col(Case.client_id).in_(record_queries.person_ids(db, client_id))
    for case in db.exec(select(Case).where(mine).order_by(col(Case.id))).all():
        screening = queries.newest_screening(db, case.id or 0)
        if screening is not None:
            keep_findings(db, screening, queries.screened_on(db, screening, today(db)))
        regrade_case(db, case, by)


@audited("intake.evidence.written")
def write_evidence(
    db: Session,
    *,
    client_id: int,
    zone_id: int | None,
    kind: str,
    result: str,
    seen_on: date,
    source_key: str,
    placed_on: date | None = None,
    may_read_from: date | None = None,
    read_by: int | None = None,
    words: str = "",
    by: Actor,
) -> Evidence:
    """The result of a patch or a spot, once for each source; every zone of the client is graded anew.

    It is kept with the day it was placed, the day from which it could be read, who read it, and in what words.
    """
    if kind not in get_args(Proof) or result not in get_args(Result):
        raise ValueError(f"no such evidence: {kind}, {result}")
    row = db.exec(select(Evidence).where(Evidence.kind == kind, Evidence.source_key == source_key)).first()
    if row is None:
        row = Evidence(
            client_id=client_id, zone_id=zone_id, kind=kind, result=result, seen_on=seen_on, source_key=source_key
        )
    row.zone_id, row.result, row.seen_on, row.placed_on = zone_id, result, seen_on, placed_on
    row.may_read_from, row.read_by, row.note = may_read_from, read_by, words
    db.add(row)
    db.flush()
    regrade_person(db, client_id, by)
    return row
