import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.platform.audit import AuditBody, AuditEntry
from app.studio.access import NotFound, Who
from app.studio.models import Member, Studio

PAGE = 100


@dataclass(frozen=True)
class TrailLine:
    seq: int
    at: datetime
    actor: str
    action: str
    subject: str
    hash: str
    rows: list[dict[str, Any]]
    note: dict[str, Any]
    is_erased: bool


def studio(db: Session) -> Studio:
    return db.get_one(Studio, 1)


def members(db: Session) -> list[Member]:
    return list(db.exec(select(Member).order_by(Member.name)).all())


def artists(db: Session) -> list[Member]:
    """Who may lead a case: active owners and artists."""
    return [m for m in members(db) if m.is_active and m.role in ("owner", "artist")]


def member_for(db: Session, who: Who, member_id: int) -> Member:
    member = db.get(Member, member_id)
    if member is None or not (who.is_owner or who.id == member_id):
        raise NotFound
    return member


def member_by_login(db: Session, login: str) -> Member | None:
    return db.exec(select(Member).where(Member.login == login, Member.is_active)).first()


def names(db: Session) -> dict[int, str]:
    return {member.id: member.name for member in members(db) if member.id is not None}


def trail(db: Session, *, before: int | None = None, subject: str = "") -> list[TrailLine]:
    """The trail, newest first, a page at a time."""
    wanted = (
        select(AuditEntry, AuditBody).join(AuditBody, isouter=True).order_by(col(AuditEntry.seq).desc()).limit(PAGE)
    )
    if before is not None:
        wanted = wanted.where(AuditEntry.seq < before)
    if subject:
        wanted = wanted.where(AuditEntry.subject == subject)
    known = names(db)
    lines = []
    for row, body in db.exec(wanted).all():
        content = json.loads(body.body) if body is not None else {}
        actor = known.get(row.actor_id or 0, row.actor_kind) if row.actor_kind == "member" else row.actor_kind
        lines.append(
            TrailLine(
                row.seq,
                row.at,
                actor,
                row.action,
                row.subject,
                row.hash,
                content.get("rows", []),
                content.get("note", {}),
                body is None,
            )
        )
    return lines
