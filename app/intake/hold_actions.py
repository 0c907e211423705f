"""One step puts all plans of a client on hold, and one lets them go on.

While it lasts no message leaves, no session starts, no short questions are asked (their links say to call the studio),
and no visit is planned; tasks of the artists stay. What was kept back and still means something goes on afterwards.
"""

from datetime import date

from sqlmodel import Session

from app.intake.visit_actions import resume_visits
from app.messages import actions as messages
from app.platform.audit import Actor, about, audited
from app.platform.forms import Refused
from app.records import actions as records
from app.records.models import Client
from app.studio import queries as studio_queries


@audited("intake.plans.held")
def hold(db: Session, client: Client, reason: str, *, by: Actor) -> Client:
    if client.held_at is not None:
        raise Refused("reason", "The client is on hold already.")
    return records.hold_client(db, client, reason, by=by)


@audited("intake.plans.released")
def release(db: Session, client: Client, on: date, *, by: Actor) -> Client:
    """Ends the hold: visits whose day has passed are cancelled, others go on, and what is still worth asking is planned
    from tomorrow on. Releasing twice does nothing the second time."""
    held_at = client.held_at
    if held_at is None or client.id is None:
        return client
    records.release_client(db, client, by=by)
    messages.resume(db, client.id, on, studio=studio_queries.studio(db), by=by)
    resume_visits(db, client.id, held_at, on, by=by)
    about(db, client)
    return client
