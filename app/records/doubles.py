"""Records that may be one person, two of them side by side, and what was merged."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, or_, select

from app.platform.forms import Refused
from app.platform.search import words_of
from app.records import queries
from app.records.likeness import Known, Likeness, likeness, name_words
from app.records.models import Client, Merge, NotTheSame, SearchWord
from app.records.people import kept_client, kept_clients, person_ids, records_of
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who

LOOKED_AT = 500  # records that share something; a name that everybody has finds no more than these


@dataclass(frozen=True)
class Double:
    """Another person on file who may be the same, and what speaks for it."""

    client: Client
    likeness: Likeness


@dataclass(frozen=True)
class Side:
    """One of two records that are compared, with those that were merged into it."""

    client: Client
    others: tuple[Client, ...]
    numbers: tuple[int, ...]  # of the cases this member may know of
    language: str


@dataclass(frozen=True)
class Comparison:
    left: Side
    right: Side
    likeness: Likeness
    said_different: str  # who said that they are two people; empty when nobody did


@dataclass(frozen=True)
class MergeLine:
    """One merging as the list shows it."""

    row: Merge
    kept: Client
    merged: Client
    by: str
    undone_by: str

    @property
    def stands(self) -> bool:
        return self.row.undone_at is None


@dataclass(frozen=True)
class ToldApart:
    first: Client
    second: Client
    row: NotTheSame
    by: str


def known(client: Client) -> Known:
    return Known(client.name, client.born_on, client.phone_key, client.email)


def pair(one: int, other: int) -> tuple[int, int]:
    """Two ids in the order in which they are kept."""
    return min(one, other), max(one, other)


def doubles_of(db: Session, client_id: int) -> list[Double]:
    """Who may be the same person, the likeliest first, without those who were told apart."""
    mine = records_of(db, client_id)
    ids = {row.id or 0 for row in mine}
    apart = _told_apart(db, ids)
    best: dict[int, Double] = {}
    found = [row for row in _sharing(db, mine) if row.id not in ids]
    kept = kept_clients(db, [row.id or 0 for row in found])
    for row in found:
        client = kept[row.id or 0]
        like = max((likeness(known(own), known(row)) for own in mine), key=lambda one: one.points)
        held = best.get(client.id or 0)
        if client.id not in apart and like.is_offered and (held is None or held.likeness.points < like.points):
            best[client.id or 0] = Double(client, like)
    return sorted(best.values(), key=lambda one: (-one.likeness.points, one.client.sort_name))


def _sharing(db: Session, mine: Sequence[Client]) -> list[Client]:
    """Records that share a date of birth, a number, an address or a word of the name: no others can be alike enough."""
    born = {row.born_on for row in mine if row.born_on is not None}
    phones, emails = {row.phone_key for row in mine} - {""}, {row.email.lower() for row in mine} - {""}
    words = {word for row in mine for word in (*name_words(row.name), *words_of(row.name))}
    named = select(SearchWord.client_id).where(col(SearchWord.word).in_(words))
    wanted = select(Client).where(
        or_(col(Client.born_on).in_(born), col(Client.phone_key).in_(phones), func.lower(col(Client.email)).in_(emails),
            col(Client.id).in_(named))
    )  # fmt: skip
    return list(db.exec(wanted.order_by(col(Client.id).desc()).limit(LOOKED_AT)).all())


def _told_apart(db: Session, ids: set[int]) -> set[int]:
    """The persons of whom somebody said that they are not this one."""
    wanted = select(NotTheSame).where(col(NotTheSame.first_id).in_(ids) | col(NotTheSame.second_id).in_(ids))
    others = {row.second_id if row.first_id in ids else row.first_id for row in db.exec(wanted).all()}
    return {client.id or 0 for client in kept_clients(db, others).values()}


def comparison(db: Session, who: Who, client_id: int, other_id: int) -> Comparison:
    """Two persons side by side. Raises NotFound where the two are one already."""
    left, right = queries.client_for(db, who, client_id), queries.client_for(db, who, other_id)
    if left.id is None or right.id is None or left.id == right.id:
        raise NotFound
    pairs = [(known(one), known(other)) for one in records_of(db, left.id) for other in records_of(db, right.id)]
    best = max((likeness(*both) for both in pairs), key=lambda one: one.points)
    said = db.get(NotTheSame, pair(left.id, right.id))
    by = "" if said is None else studio_queries.names(db).get(said.said_by or 0, "Somebody")
    return Comparison(_side(db, who, left), _side(db, who, right), best, by)


def to_merge(db: Session, client_id: int, other_id: int, keep: int) -> tuple[Client, Client]:
    """The record to keep and the other, as they stand, whatever became of them meanwhile."""
    rows = {one: db.get(Client, one) for one in (client_id, other_id)}
    kept, merged = rows.get(keep), rows.get(client_id if keep == other_id else other_id)
    if None in rows.values():
        raise NotFound
    if kept is None or merged is None:
        raise Refused("keep", "Choose which record is kept.")
    return kept, merged


def _side(db: Session, who: Who, client: Client) -> Side:
    assert client.id is not None
    others = tuple(row for row in records_of(db, client.id) if row.id != client.id)
    numbers = tuple(case.number for case in queries.cases_of(db, who, client.id))
    return Side(client, others, numbers, client.language)


def merges(db: Session) -> list[MergeLine]:
    """Every merging, the newest first, those undone too."""
    names = studio_queries.names(db)
    rows = db.exec(select(Merge).order_by(col(Merge.id).desc())).all()
    return [_line(db, row, names) for row in rows]


def merges_of(db: Session, client_id: int) -> list[MergeLine]:
    """What stands merged into one person."""
    names, ids = studio_queries.names(db), person_ids(db, client_id)
    wanted = select(Merge).where(col(Merge.merged_id).in_(ids), col(Merge.undone_at).is_(None))
    return [_line(db, row, names) for row in db.exec(wanted.order_by(col(Merge.id))).all()]


def _line(db: Session, row: Merge, names: dict[int, str]) -> MergeLine:
    kept, merged = db.get_one(Client, row.kept_id), db.get_one(Client, row.merged_id)
    return MergeLine(row, kept, merged, names.get(row.merged_by or 0, ""), names.get(row.undone_by or 0, ""))


def merge_for(db: Session, merge_id: int) -> MergeLine:
    """One merging that stands."""
    row = db.get(Merge, merge_id)
    if row is None or row.undone_at is not None:
        raise NotFound
    return _line(db, row, studio_queries.names(db))


def told_apart(db: Session) -> list[ToldApart]:
    """Whom somebody told apart, the newest first."""
    names = studio_queries.names(db)
    rows = db.exec(select(NotTheSame).order_by(col(NotTheSame.said_at).desc())).all()
    return [
        ToldApart(kept_client(db, row.first_id), kept_client(db, row.second_id), row, names.get(row.said_by or 0, ""))
        for row in rows
    ]
