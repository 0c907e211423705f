"""What a zone may have, written down anew whenever a decision, an answer, a proof or a zone changes."""

from datetime import date
from typing import get_args
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.intake import findings as found_of
from app.intake import queries
from app.intake.clearing import finding_key
from app.intake.models import Clearance, Evidence, Finding, Screening
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
    same = ("grade", "from_on", "until_on", "reasons", "screening_id")
    if newest is not None and all(getattr(newest, name) == getattr(row, name) for name in same):
        return newest
    db.add(row)
    return row


def _graded(db: Session, screening: Screening, zone: Zone) -> Clearance | None:
    if screening.decision != "accepted" or screening.decided_at is None:
        return None
    assert zone.id is not None
    assert screening.id is not None
    found = queries.screened_on(db, screening, today(db))
    decided_on = screening.decided_at.astimezone(ZoneInfo(studio_queries.studio(db).time_zone)).date()
    may = queries.zone_cleared(db, screening, zone, found, decided_on)
    if may is None:
        return None
    keys = {"", *(scar.key for scar in queries.scars_of_zone(db, zone))}
    ends = [
        row.proof_until
        for row in queries.findings_of(db, screening.id)
        if row.proof_until is not None and row.scar_key in keys
    ]
    return Clearance(
        zone_id=zone.id,
        screening_id=screening.id,
        grade=may.grade,
        from_on=may.from_on,
        until_on=min(ends, default=None),
        reasons="; ".join(may.reasons),
        decided_by=screening.decided_by,
        decided_at=clock.now(),
    )


def regrade_case(db: Session, case: Case, by: Actor) -> None:
    assert case.id is not None
    db.flush()
    for zone in record_queries.zones_of(db, case.id):
        regrade(db, zone, by=by)


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
    by: Actor,
) -> Evidence:
    """The result of a patch or a spot, once for each source; every zone of the client is graded anew."""
    if kind not in get_args(Proof) or result not in get_args(Result):
        raise ValueError(f"no such evidence: {kind}, {result}")
    row = db.exec(select(Evidence).where(Evidence.kind == kind, Evidence.source_key == source_key)).first()
    if row is None:
        row = Evidence(
            client_id=client_id, zone_id=zone_id, kind=kind, result=result, seen_on=seen_on, source_key=source_key
        )
    row.zone_id, row.result, row.seen_on, row.placed_on = zone_id, result, seen_on, placed_on
    db.add(row)
    db.flush()
    for case in db.exec(select(Case).where(Case.client_id == client_id).order_by(col(Case.id))).all():
        screening = queries.newest_screening(db, case.id or 0)
        if screening is not None:
            keep_findings(db, screening, queries.screened_on(db, screening, today(db)))
        regrade_case(db, case, by)
    return row
