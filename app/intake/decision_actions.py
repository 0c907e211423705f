"""Deciding on a screening, and lifting what stands by the proof its rule names."""

from collections.abc import Collection, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from sqlmodel import Session

from app.intake import findings as found_of
from app.intake import queries, wait_actions
from app.intake.clearing import cleared, finding_key, key_of, open_waits
from app.intake.forms import Lifting
from app.intake.grading import keep_findings, regrade_case, today
from app.intake.letter_forms import InformedDecision
from app.intake.letter_words import TOLD
from app.intake.models import Finding, Screening
from app.intake.proofs import seen_for
from app.platform import clock
from app.platform.audit import Actor, audited, canonical, note
from app.platform.forms import Refused
from app.records.models import Case
from app.studio import queries as studio_queries

DECIDED_MEANWHILE = "Somebody decided meanwhile. It stands above; decide again only if you still mean to."


@audited("intake.screening.decided")
def decide(
    db: Session,
    screening: Screening,
    decision: str,
    reason: str = "",
    wait_until: date | None = None,
    *,
    passed: Collection[str] = (),
    seen: str | None = None,
    by: Actor,
) -> Screening:
    """An artist's decision. Accepting writes what each zone may have; a later decision takes the place of this one, but
    never unseen: `seen` is the mark of the decision that the artist had before them, where they came from a page.

    `passed` names each wait that the artist goes past, by its key. A wait that lifts on a day leaves a word to the
    client for that day, or a task to speak with them.
    """
    on = today(db)
    newest = queries.newest_screening(db, screening.case_id)
    if newest is None or newest.id != screening.id:
        raise Refused("decision", "The client answered again since. Decide on the newer answers.")
    if seen is not None and seen != queries.decision_mark(screening):
        raise Refused("decision", DECIDED_MEANWHILE)
    found = queries.screened_on(db, screening, on)
    gone_past = [key_of(item) for item in open_waits(found) if key_of(item) in passed]
    if decision == "accepted":
        _refuse_acceptance(found, gone_past, passed, reason)
    elif passed:
        raise Refused("passed", "A wait is gone past only by accepting.")
    elif not reason:
        raise Refused("reason", "Say why.")
    if decision == "wait" and (wait_until is None or wait_until <= on):
        raise Refused("wait_until", "Give a day that is still to come.")
    screening.decision, screening.reason, screening.passed = decision, reason, canonical(gone_past)
    screening.wait_until = wait_until if decision == "wait" else None
    screening.decided_by, screening.decided_at = by.id, clock.now()
    db.add(screening)
    note(db, reason=reason, passed_waits=gone_past)
    keep_findings(db, screening, found)
    regrade_case(db, db.get_one(Case, screening.case_id), by)
    follow_up(db, screening, found, on, by=by)
    return screening


def _refuse_acceptance(
    found: found_of.Screening, gone_past: Sequence[str], passed: Collection[str], reason: str
) -> None:
    if found.of_kind("legal_bar"):
        raise Refused("decision", "The law stands against it, and nobody can accept past that.")
    if set(passed) - set(gone_past):
        raise Refused("passed", "A wait that was ticked is not open any more. Look through them once more.")
    if passed and not reason:
        raise Refused("reason", "Say why you go past the wait. It stands on the record and in the review.")


def follow_up(db: Session, screening: Screening, found: found_of.Screening, on: date, *, by: Actor) -> None:
    """Plans what the newest decision leaves behind, in place of what an earlier one planned."""
    assert screening.id is not None
    passed = set(queries.passed_of(screening))
    decided_on = decided_day(db, screening, on)
    may = [cleared(found, scar.scar_id, passed=passed, from_on=decided_on) for scar in found.scars]
    sensitive = wait_actions.is_sensitive(db, screening, found, queries.findings_of(db, screening.id))
    wait_actions.end_plans(db, screening, by=by)
    days = wait_actions.days_of(screening.decision, screening.wait_until, may, on)
    wait_actions.plan_wait_over(db, screening, days, sensitive=sensitive, by=by)


def decided_day(db: Session, screening: Screening, otherwise: date) -> date:
    """The day of a decision where the studio stands."""
    if screening.decided_at is None:
        return otherwise
    return screening.decided_at.astimezone(ZoneInfo(studio_queries.studio(db).time_zone)).date()


@audited("intake.finding.lifted")
def lift(db: Session, finding: Finding, form: Lifting, *, by: Actor) -> Finding:
    """Lifts a finding by a proof its rule names; a legal bar never, and a patch or spot only by doing it."""
    on, proofs = today(db), finding.proofs.split()
    if finding.kind == "legal_bar":
        raise Refused("proof", "Nobody lifts what the law sets.")
    if form.proof not in proofs:
        raise Refused("proof", "This proof does not lift it. " + finding.what_lifts)
    if form.proof == "informed_decision":
        _refuse_informed(db, finding)
    if form.seen_on > on:
        raise Refused("seen_on", "This day lies ahead.")
    if form.until is not None and form.until < max(on, form.seen_on):
        raise Refused("until", "This has run out already. Ask for a new one.")
    finding.lifted_by, finding.lifted_at, finding.lifted_reason = by.id, clock.now(), form.reason
    finding.lifted_with, finding.proof_on, finding.proof_until = form.proof, form.seen_on, form.until
    finding.carried_from = None
    db.add(finding)
    db.flush()
    screening = db.get_one(Screening, finding.screening_id)
    case = db.get_one(Case, screening.case_id)
    settle(db, screening, case, by=by)
    if form.until is not None:
        address = f"/screenings/{screening.id}"
        wait_actions.plan_letter_end(db, case, f"finding/{finding.id}", form.until, address, on, by=by)
    return finding


def settle(db: Session, screening: Screening, case: Case, *, by: Actor) -> None:
    """Grades the zones anew after a proof. Where it moves the day of a decided wait, the plans follow."""
    regrade_case(db, case, by)
    newest = queries.newest_screening(db, screening.case_id)
    if newest is not None and newest.id == screening.id and screening.decision == "accepted":
        on = today(db)
        follow_up(db, screening, queries.screened_on(db, screening, on), on, by=by)


def _refuse_informed(db: Session, finding: Finding) -> None:
    """Only after a letter was asked for and the clinician would not say; never against a clinician's advice."""
    screening = db.get_one(Screening, finding.screening_id)
    key = finding_key(finding.rule, finding.scar_key)
    letters = [one for one in seen_for(db, screening).get(key, []) if one.kind == "letter"]
    if any(one.result == "advises_against" for one in letters):
        raise Refused("proof", "A clinician advised against it. The client’s own decision does not lift that.")
    if not letters or letters[-1].result != "declines":
        raise Refused("proof", "Ask for a letter first. This way is open only where the clinician would not say.")


def lift_by_decision(db: Session, finding: Finding, form: InformedDecision, *, by: Actor) -> Finding:
    """The client's informed decision: everything was told, by a named artist, with the reason."""
    if set(form.told) != set(TOLD):
        raise Refused("told", "Tell the client each of these, and tick it when you have.")
    lifting = Lifting(proof="informed_decision", seen_on=form.decided_on, reason=form.reason)
    try:
        return lift(db, finding, lifting, by=by)
    except Refused as refused:
        raise Refused({"seen_on": "decided_on", "proof": "_proof"}.get(refused.name, refused.name),
                      refused.message) from refused  # fmt: skip
