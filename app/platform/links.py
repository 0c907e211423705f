"""Links for clients: a 256-bit token of which only the hash is kept, for one purpose, for a time, to be taken back.

GET shows a start page (mail scanners fetch links); POST swaps the token for a cookie of that purpose, called a pass.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Field, Session, select

from app.platform import clock
from app.platform.audit import Actor, audited
from app.platform.rows import OFF, REDACTED, Row

PASS_LASTS = timedelta(hours=12)


class Link(Row, table=True):
    __tablename__ = "links"
    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True, sa_column_kwargs={"info": REDACTED})
    purpose: str
    subject_id: int = Field(index=True)
    client_id: int = Field(index=True)
    made_at: datetime
    expires_at: datetime
    uses_left: int | None = Field(default=None, sa_column_kwargs={"info": OFF})
    revoked_at: datetime | None = None


class Pass(Row, table=True):
    """What a swapped link leaves in the browser: good for one purpose and one subject."""

    __tablename__ = "passes"
    __table_args__ = ({"info": OFF},)
    id: int | None = Field(default=None, primary_key=True)
    secret_hash: str = Field(unique=True)
    link_id: int = Field(foreign_key="links.id", index=True)
    expires_at: datetime


@dataclass(frozen=True)
class Guest:
    """A client who came through a link: one purpose, one subject."""

    link_id: int
    purpose: str
    subject_id: int
    client_id: int

    @property
    def actor(self) -> Actor:
        return Actor("client", self.client_id)


def hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


@audited("platform.link.made")
def _make(db: Session, link: Link, *, by: Actor) -> Link:
    db.add(link)
    return link


def make(
    db: Session, purpose: str, subject_id: int, client_id: int, *, lasts: timedelta, uses: int | None = None, by: Actor
) -> str:
    """Makes a link and returns its token, which is shown or sent once and kept nowhere."""
    token = secrets.token_urlsafe(32)
    now = clock.now()
    _make(
        db,
        Link(
            token_hash=hash_of(token),
            purpose=purpose,
            subject_id=subject_id,
            client_id=client_id,
            made_at=now,
            expires_at=now + lasts,
            uses_left=uses,
        ),
        by=by,
    )
    return token


@audited("platform.link.revoked")
def revoke(db: Session, link: Link, *, by: Actor) -> Link:
    link.revoked_at = clock.now()
    db.add(link)
    return link


def revoke_all(db: Session, purpose: str, subject_id: int, *, by: Actor) -> None:
    """Takes back every link of one purpose to one subject."""
    found = db.exec(select(Link).where(Link.purpose == purpose, Link.subject_id == subject_id, Link.revoked_at == None))  # noqa: E711
    for link in found.all():
        revoke(db, link, by=by)


def is_open(link: Link) -> bool:
    return link.revoked_at is None and link.expires_at > clock.now() and (link.uses_left is None or link.uses_left > 0)


def find(db: Session, token: str) -> Link | None:
    """The link of a token, while it may still be used."""
    link = db.exec(select(Link).where(Link.token_hash == hash_of(token))).first()
    return link if link is not None and is_open(link) else None


def is_held(db: Session, token: str, secret: str, purpose: str) -> bool:
    """Whether this browser came through this very link already, and its pass still stands."""
    guest = guest_of(db, secret, purpose)
    link = db.exec(select(Link).where(Link.token_hash == hash_of(token))).first()
    return guest is not None and link is not None and guest.link_id == link.id


def swap(db: Session, token: str) -> tuple[Guest, str] | None:
    """Spends one use and gives the secret of a pass; under the write lock, so a last use is spent once."""
    link = find(db, token)
    if link is None or link.id is None:
        return None
    if link.uses_left is not None:
        link.uses_left -= 1
        db.add(link)
    secret = secrets.token_urlsafe(32)
    db.add(
        Pass(secret_hash=hash_of(secret), link_id=link.id, expires_at=min(link.expires_at, clock.now() + PASS_LASTS))
    )
    return Guest(link.id, link.purpose, link.subject_id, link.client_id), secret


def guest_of(db: Session, secret: str, purpose: str) -> Guest | None:
    """Who holds this pass, while its link stands."""
    found = db.exec(select(Pass, Link).join(Link).where(Pass.secret_hash == hash_of(secret))).first()
    if found is None:
        return None
    held, link = found
    if held.expires_at <= clock.now() or link.revoked_at is not None or link.expires_at <= clock.now():
        return None
    if link.purpose != purpose or link.id is None:
        return None
    return Guest(link.id, link.purpose, link.subject_id, link.client_id)
