"""The alerts that follow from a form: what it raises, and what an earlier form said and this one no longer does."""

import json

from sqlmodel import Session

from app.intake import findings as found_of
from app.intake.models import Screening
from app.intake.rules import RuleSet
from app.platform.audit import Actor
from app.records import actions as records
from app.records import queries as record_queries
from app.records.alert_actions import BY_ANSWERS
from app.records.models import Case


def follow_answers(
    db: Session, case: Case, found: found_of.Screening, before: Screening | None, rule_set: RuleSet, *, kind: str,
    by: Actor,
) -> None:  # fmt: skip
    """A full form raises what it says, and marks what it no longer says: it never ends an alert. The short questions of
    a visit stand on the full answers of then, so that they raise only what is new: an alert that an artist has ended
    meanwhile does not come back because nothing was said about it."""
    known = _codes(before) if kind == "visit" and before is not None else frozenset()
    raised = {alert.code: alert for alert in found.alerts}
    for code, alert in raised.items():
        if code not in known:
            records.raise_alert(db, case.client_id, kind=code, words=alert.words, audience=alert.audience,
                                source=BY_ANSWERS, by=by)  # fmt: skip
    if kind != "visit":
        gone = _asked(db, case, rule_set) - raised.keys()
        records.mark_answered_no(db, case.client_id, gone, found.on, by=by)


def _codes(screening: Screening) -> frozenset[str]:
    return frozenset(alert["code"] for alert in json.loads(screening.result)["alerts"])


def _asked(db: Session, case: Case, rule_set: RuleSet) -> set[str]:
    """The alerts of which a form could have said no: those about the person; those about a scar only where the person
    has no other case, whose scars this form did not ask about. What was seen (a patch) is not an answer."""
    is_only = len(record_queries.case_ids_of(db, case.client_id)) == 1
    return {
        rule.alert.code
        for rule in rule_set.rules
        if rule.alert is not None and rule.trigger.kind != "evidence" and (is_only or rule.scope.kind == "client")
    }
