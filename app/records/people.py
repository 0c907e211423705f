"""Who is one person: records that were merged lead to the one that was kept, and nothing of theirs is moved.

Whatever belongs to a person (cases, alerts, permissions, messages, letters, tasks, proofs) stays with the record it was
filed under. A question about a person therefore asks for all of `person_ids`; who they are, how to reach them and
whether they are on hold is what the kept record says.
"""

from collections.abc import Collection

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.platform.rows import METADATA
from app.records.models import Client


def kept_client(db: Session, client_id: int) -> Client:
    """The record that stands for a person: this one, or the one it was merged into."""
    client = db.get_one(Client, client_id)
    while client.merged_into is not None:
        client = db.get_one(Client, client.merged_into)
    return client


def person_ids(db: Session, client_id: int) -> tuple[int, ...]:
    """Every record of the person, the kept one first, whichever of them is asked about."""
    if db.get(Client, client_id) is None:
        return ()
    found = [kept_client(db, client_id).id or 0]
    for one in found:  # grows while it is read: records merged into merged records belong to the person, too
        merged = select(Client.id).where(Client.merged_into == one).order_by(col(Client.id))
        found += [row for row in db.exec(merged).all() if row is not None]
    return tuple(found)


def persons() -> sa.CTE:
    """For queries over many: the columns `id`, of every record, and `kept_id`, of the record that stands for it."""
    table = METADATA.tables["clients"]
    begins = sa.select(table.c.id, table.c.id.label("kept_id")).where(table.c.merged_into.is_(None))
    tree = begins.cte("persons", recursive=True)
    return tree.union_all(sa.select(table.c.id, tree.c.kept_id).join(tree, table.c.merged_into == tree.c.id))


def kept_clients(db: Session, client_ids: Collection[int]) -> dict[int, Client]:
    """For each record asked about, the one that stands for it."""
    tree = persons()
    wanted = select(tree.c.id, Client).join(Client, col(Client.id) == tree.c.kept_id)
    return dict(db.exec(wanted.where(tree.c.id.in_(set(client_ids)))).all())


def records_of(db: Session, client_id: int) -> list[Client]:
    """The person's records, the kept one first."""
    return [db.get_one(Client, one) for one in person_ids(db, client_id)]
