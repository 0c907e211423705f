"""What the page of one client shows, for whoever asks."""

from dataclasses import dataclass

from sqlmodel import Session

from app.records import queries
from app.records.doubles import Double, MergeLine, doubles_of, merges_of
from app.records.models import Alert, Case, Client
from app.records.phones import phone_of
from app.studio import queries as studio
from app.studio.access import Who


@dataclass(frozen=True)
class ClientPage:
    client: Client
    cases: tuple[Case, ...]
    alerts: tuple[Alert, ...]
    contact: tuple[str, ...]  # how they may be reached, where it is restricted
    names: dict[int, str]
    doubles: tuple[Double, ...]
    merged: tuple[MergeLine, ...]
    is_phone_doubtful: bool


def client_page(db: Session, who: Who, client_id: int) -> ClientPage:
    client = queries.client_for(db, who, client_id)
    assert client.id is not None
    return ClientPage(
        client=client,
        cases=tuple(queries.cases_of(db, who, client.id)),
        alerts=tuple(queries.alerts_of(db, client.id, medical=who.sees_health)),
        contact=queries.contact_lines(db, [client.id]).get(client.id, ()),
        names=studio.names(db),
        doubles=tuple(doubles_of(db, client.id)),
        merged=tuple(merges_of(db, client.id)),
        is_phone_doubtful=bool(client.phone) and phone_of(client.phone, studio.studio(db).country) is None,
    )
