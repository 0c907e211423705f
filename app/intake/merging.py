"""Merging two records: records does it, and here every zone is graded anew in the same step, since a patch that was
read under one record is a patch of the person."""

from sqlmodel import Session

from app.intake.grading import regrade_person
from app.platform.audit import Actor, audited
from app.records import merging
from app.records.models import Client, Merge


@audited("intake.person.graded")
def _grade(db: Session, row: Merge, *, by: Actor) -> Merge:
    for client_id in (row.kept_id, row.merged_id):
        regrade_person(db, client_id, by)
    return row


def merge(db: Session, kept: Client, merged: Client, why: str, *, by: Actor) -> Merge:
    return _grade(db, merging.merge(db, kept, merged, why, by=by), by=by)


def undo(db: Session, row: Merge, why: str, *, by: Actor) -> Merge:
    return _grade(db, merging.undo(db, row, why, by=by), by=by)
