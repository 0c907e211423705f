"""Links for clients: a 256-bit token of which only the hash is kept, for one purpose, for a time, to be taken back.

GET shows a start page (mail scanners fetch links); POST swaps the token for a cookie of that purpose, called a pass.
Instead of opening a link a client may type its code, which is good once and for a quarter of an hour.
"""

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from sqlmodel import Field, Session, select

from app.platform import clock
from app.platform.audit import Actor, audited
from app.platform.rows import OFF, REDACTED, Row

PASS_LASTS = timedelta(hours=12)
CODE_LASTS = timedelta(minutes=15)
CODE_LENGTH = 8
# No 0, 1, I, L, O, which look alike; no vowels, so that no code is a word; and of the other pairs that are taken for
# each other only one, the other being read as it: B as 8, G as 6, S as 5, Z as 2. 22 characters, 8 times: 35 bits.
CODE_ALPHABET = "23456789CDFHJKMNPRTVWX"
_READ_AS = str.maketrans("BGSZ", "8652")


class Link(Row, table=True):
    __tablename__ = "links"
    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True, sa_column_kwargs={"info": REDACTED})
    purpose: str
    subject_id: int = Field(index=True)
    client_id: int = Field(index=True)
    language: str = ""  # in which the client reads, as far as it is known
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


class LinkCode(Row, table=True):
    """A short code that a client types instead of opening a link; good once, for a quarter of an hour."""

    __tablename__ = "link_codes"
    __table_args__ = ({"info": OFF},)
    id: int | None = Field(default=None, primary_key=True)
    code_hash: str = Field(unique=True)
    link_id: int = Field(foreign_key="links.id", index=True)
    expires_at: datetime
    used_at: datetime | None = None


NO_PASS = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Guest:
    """A client who came through a link: one purpose, one subject."""

    link_id: int
    purpose: str
    subject_id: int
    client_id: int
    language: str = ""
    pass_ends_at: datetime = field(default=NO_PASS, compare=False)

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
    db: Session, purpose: str, subject_id: int, client_id: int, *, lasts: timedelta, uses: int | None = None,
    language: str = "", by: Actor,
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
            language=language,
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


def why_over(db: Session, token: str) -> str:
    """Why a link that was made once leads nowhere any more: revoked, expired or used; nothing for any other token."""
    link = db.exec(select(Link).where(Link.token_hash == hash_of(token))).first()
    if link is None or is_open(link):
        return ""
    return _ended(link) or "used"


def why_shut(db: Session, secret: str, purpose: str) -> str:
    """Why a pass opens nothing any more: its link is revoked or expired, or the pass is; nothing for a made-up one."""
    found = db.exec(select(Pass, Link).join(Link).where(Pass.secret_hash == hash_of(secret))).first()
    if found is None or found[1].purpose != purpose:
        return ""
    return _ended(found[1]) or "pass"


def _ended(link: Link) -> str:
    if link.revoked_at is not None:
        return "revoked"
    return "expired" if link.expires_at <= clock.now() else ""


def is_held(db: Session, token: str, secret: str, purpose: str) -> bool:
    """Whether this browser came through this very link already, and its pass still stands."""
    guest = guest_of(db, secret, purpose)
    link = db.exec(select(Link).where(Link.token_hash == hash_of(token))).first()
    return guest is not None and link is not None and guest.link_id == link.id


def swap(db: Session, token: str, *, lasts: timedelta = PASS_LASTS) -> tuple[Guest, str] | None:
    """Spends one use and gives the secret of a pass; under the write lock, so a last use is spent once."""
    link = find(db, token)
    return None if link is None else _spend(db, link, lasts)


def _spend(db: Session, link: Link, lasts: timedelta) -> tuple[Guest, str]:
    assert link.id is not None
    if link.uses_left is not None:
        link.uses_left -= 1
        db.add(link)
    secret, ends_at = secrets.token_urlsafe(32), min(link.expires_at, clock.now() + lasts)
    db.add(Pass(secret_hash=hash_of(secret), link_id=link.id, expires_at=ends_at))
    return Guest(link.id, link.purpose, link.subject_id, link.client_id, link.language, ends_at), secret


def make_code(db: Session, link_id: int, *, by: Actor) -> str:
    """A code for a link, as XXXX-XXXX; it is shown once and kept nowhere. Earlier unused codes of the link end."""
    while True:  # two codes alike within a quarter of an hour: once in a thousand million
        code = "".join(secrets.choice(CODE_ALPHABET) for _ in range(CODE_LENGTH))
        if db.exec(select(LinkCode).where(LinkCode.code_hash == hash_of(code))).first() is None:
            break
    _make_code(db, db.get_one(Link, link_id), code, by=by)
    return f"{code[:4]}-{code[4:]}"


@audited("platform.code.made")
def _make_code(db: Session, link: Link, code: str, *, by: Actor) -> Link:
    assert link.id is not None
    now = clock.now()
    for earlier in db.exec(select(LinkCode).where(LinkCode.link_id == link.id, LinkCode.expires_at > now)).all():
        earlier.expires_at = now
        db.add(earlier)
    db.add(LinkCode(code_hash=hash_of(code), link_id=link.id, expires_at=now + CODE_LASTS))
    return link


def as_code(typed: str) -> str:
    """What was typed, as a code is kept: any case, with or without dash and spaces, look-alikes read for each other."""
    plain = unicodedata.normalize("NFKC", typed[:80]).upper()
    return "".join(sign for sign in plain if sign.isalnum()).translate(_READ_AS)


def swap_code(db: Session, code: str, *, lasts: timedelta = PASS_LASTS) -> tuple[Guest, str] | None:
    """Spends a code and one use of its link, and gives the secret of a pass; under the write lock, so once."""
    row = db.exec(select(LinkCode).where(LinkCode.code_hash == hash_of(as_code(code)))).first()
    if row is None or row.used_at is not None or row.expires_at <= clock.now():
        return None
    link = db.get_one(Link, row.link_id)
    if not is_open(link):
        return None
    row.used_at = clock.now()
    db.add(row)
    return _spend(db, link, lasts)


def stretch(db: Session, secret: str, *, lasts: timedelta) -> None:
    """Lets a pass that is in use last on."""
    found = db.exec(select(Pass, Link).join(Link).where(Pass.secret_hash == hash_of(secret))).first()
    if found is not None and found[0].expires_at > clock.now():
        found[0].expires_at = min(found[1].expires_at, clock.now() + lasts)
        db.add(found[0])


def end_pass(db: Session, secret: str) -> None:
    """What this browser was let in by is over; the link itself stands."""
    held = db.exec(select(Pass).where(Pass.secret_hash == hash_of(secret))).first()
    if held is not None and held.expires_at > clock.now():
        held.expires_at = clock.now()
        db.add(held)


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
    return Guest(link.id, link.purpose, link.subject_id, link.client_id, link.language, held.expires_at)
