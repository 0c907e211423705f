"""Holds every signed paper against what is on file: its hash, its text, its signature, its answers, and the trail."""

import json
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from app.consents import papers, site_actions
from app.consents.models import Document, Permission, PermissionZone, Signature, SiteCheck
from app.consents.texts import blocks, version_of
from app.platform.audit import AuditBody, AuditEntry, canonical
from app.platform.storage import Blob


@dataclass(frozen=True)
class Papers:
    """How many papers verify, and how many were signed before papers were kept."""

    checked: int
    before: int
    site_checks: int


class Changed(Exception):
    """A signed paper is not what was signed."""


def check_papers(db: Session) -> Papers:
    """Counts what verifies. Raises Changed with the first that does not."""
    checked = before = 0
    for signature in db.exec(select(Signature).order_by(col(Signature.id))).all():
        if is_before_papers(signature):
            before += 1
            continue
        _check(db, signature)
        checked += 1
    checks = db.exec(select(SiteCheck).order_by(col(SiteCheck.id))).all()
    for check in checks:
        _check_site(db, check)
    return Papers(checked, before, len(checks))


def is_before_papers(signature: Signature) -> bool:
    return not signature.paper and not signature.paper_hash


def fault_of(db: Session, signature: Signature) -> str:
    """What is wrong with one paper and its site check, in words; nothing when all is as it was signed."""
    try:
        _check(db, signature)
        for check in db.exec(select(SiteCheck).where(SiteCheck.signature_id == signature.id)).all():
            _check_site(db, check)
    except Changed as changed:
        return str(changed)
    return ""


def by_hash(db: Session, digest: str) -> Signature | None:
    return db.exec(select(Signature).where(Signature.paper_hash == digest)).first()


def _must(holds: bool, signature: Signature, what: str) -> None:
    if not holds:
        raise Changed(f"what was signed as number {signature.id} was changed: {what}")


def _check(db: Session, signature: Signature) -> None:
    _must(papers.hash_of(signature.paper) == signature.paper_hash, signature, "its paper does not have its hash")
    held = json.loads(signature.paper)
    _must(canonical(held) == signature.paper, signature, "its paper is not written as papers are")
    document = db.get_one(Document, signature.document_id)
    shown = [{"kind": block.kind, "lines": list(block.lines)} for block in blocks(document.text)]
    _must(
        held["text"]["blocks"] == shown
        and held["text"]["version"] == document.version
        and held["text"]["kind"] == document.kind
        and held["text"]["language"] == document.language
        # A document that is no wording of ours may carry a version that is not its hash.
        and (
            document.kind not in ("treatment", "declaration", "permission")
            or version_of(document.text) == document.version
        ),
        signature,
        "the text on file is not the one that was shown",
    )
    signed = held["signed"]
    drawing = db.get(Blob, signature.drawing_id) if signature.drawing_id is not None else None
    _must(signed["drawing_sha256"] == (drawing.sha256 if drawing is not None else ""), signature, "the drawn signature")
    strokes = papers.hash_of(signature.strokes) if signature.strokes else ""
    _must(signed["strokes_sha256"] == strokes, signature, "the lines of the signature")
    _must(
        (signed["typed_name"], signed["typed_reason"], signed["at"])
        == (signature.typed_name, signature.typed_reason, papers.plain_moment(signature.signed_at)),
        signature,
        "the typed name, its reason or the time",
    )
    _check_answers(db, signature, held)
    _check_trail(db, signature, "signatures", signature.id, signature.paper_hash)


def _check_answers(db: Session, signature: Signature, held: dict[str, Any]) -> None:
    """The answers that count on file are those that were signed, no more and no fewer."""
    signed = {each["kind"]: each["answer"] for each in held["asked"] if each["answer"]}
    rows = db.exec(select(Permission).where(Permission.signature_id == signature.id)).all()
    for row in rows:
        if not signed and not held["asked"]:
            continue  # signed without a page of questions: an import, or a form that asked none
        _must(signed.pop(row.kind, "") == ("yes" if row.is_granted else "no"), signature, f"the answer on {row.kind}")
        _must(row.client_id == signature.client_id, signature, f"whose answer on {row.kind} it is")
        named = db.exec(select(PermissionZone.zone_id).where(PermissionZone.permission_id == row.id)).all()
        zones = {zone["id"] for zone in held["zones"]} if row.kind == "treatment" else set()
        _must(set(named) == zones, signature, "the zones that it names")
    _must(not signed, signature, f"an answer is missing on file: {', '.join(sorted(signed))}")


def _check_site(db: Session, check: SiteCheck) -> None:
    signature = db.get_one(Signature, check.signature_id)
    _must(papers.hash_of(check.paper) == check.paper_hash, signature, "its site check does not have its hash")
    now = canonical(site_actions.site_content(signature, check, site_actions.guardian_sha256(db, check)))
    _must(now == check.paper, signature, "what its site check says")
    _check_trail(db, signature, "site_checks", check.id, check.paper_hash)


def _check_trail(db: Session, signature: Signature, table: str, row_id: int | None, digest: str) -> None:
    """The trail, which is chained, holds the hash as it was written; where that content was erased it says nothing."""
    subject = AuditEntry.subject == f"{table}/{row_id}"
    _must(
        db.exec(select(AuditEntry.seq).where(subject)).first() is not None, signature, "the trail knows nothing of it"
    )
    wanted = select(AuditBody.body).join(AuditEntry, col(AuditEntry.seq) == col(AuditBody.seq))
    for body in db.exec(wanted.where(subject)).all():
        for row in json.loads(body)["rows"]:
            if row["table"] == table and row["op"] == "added" and row["id"] == row_id:
                _must(row["set"].get("paper_hash") == digest, signature, "its hash is not the one in the trail")
