"""What was signed, as it was shown: read from the paper that was sealed, never from what stands on file today."""

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from app.consents import queries
from app.consents.models import Document, Permission, Signature, SiteCheck
from app.consents.papers import Asked
from app.consents.queries import PermissionLine
from app.consents.texts import NAMED, Block, blocks
from app.platform.links import Guest
from app.platform.storage import Blob
from app.records import queries as records
from app.records.models import Client
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who

TITLES = {
    "treatment": "Text about the treatment",
    "declaration": "Declaration under the health questions",
    "permission": "A permission",
}
OTHER_TITLE = "What was signed"


@dataclass(frozen=True)
class SignedPaper:
    """A signature with all that stood on its page. `hash` is empty for what was signed before papers were kept."""

    id: int
    client: Client
    title: str
    studio: str
    client_name: str
    born_on: date | None
    version: str
    language: str  # of the page: its questions and names
    text_language: str
    notice: str
    blocks: tuple[Block, ...]
    zones: tuple[str, ...]
    procedures: tuple[str, ...]
    asked: tuple[Asked, ...]
    standing: tuple[str, ...]
    about: dict[str, Any]
    signed_at: datetime
    typed_name: str
    typed_reason: str
    drawing_id: int | None
    hash: str
    lines: tuple[PermissionLine, ...]
    site: SiteCheck | None

    @property
    def since(self) -> tuple[PermissionLine, ...]:
        """What was taken back after it had been signed."""
        return tuple(line for line in self.lines if line.revoked_at is not None)

    @property
    def is_treatment(self) -> bool:
        return any(line.kind == "treatment" and line.is_granted for line in self.lines)


def paper_for(db: Session, who: Who, signature_id: int) -> SignedPaper:
    signature = db.get(Signature, signature_id)
    if signature is None or not who.sees_health:
        raise NotFound
    if signature.case_id is not None:
        records.case_for(db, who, signature.case_id)
    for answer in _answers(db, signature_id):
        queries.refuse_restricted(db, who, answer)
    return _paper(db, signature, records.client_for(db, who, signature.client_id))


def paper_for_guest(db: Session, guest: Guest, signature_id: int) -> SignedPaper:
    """The client's own, through their page of permissions."""
    signature = db.get(Signature, signature_id)
    if signature is None or signature.client_id not in records.person_ids(db, guest.client_id):
        raise NotFound
    return _paper(db, signature, records.kept_client(db, guest.client_id))


def paper_of(db: Session, signature: Signature) -> SignedPaper:
    """For who holds the whole record: the command line."""
    return _paper(db, signature, records.kept_client(db, signature.client_id))


def _answers(db: Session, signature_id: int) -> list[Permission]:
    wanted = select(Permission).where(Permission.signature_id == signature_id).order_by(col(Permission.id))
    return list(db.exec(wanted).all())


def _paper(db: Session, signature: Signature, client: Client) -> SignedPaper:
    assert signature.id is not None
    document = db.get_one(Document, signature.document_id)
    lines = tuple(queries.line_of(db, answer) for answer in _answers(db, signature.id))
    held = json.loads(signature.paper) if signature.paper else _before_papers(db, document, client, lines)
    born_on = held["client"]["born_on"]
    return SignedPaper(
        id=signature.id,
        client=client,
        title=TITLES.get(document.kind, OTHER_TITLE),
        studio=held["studio"],
        client_name=held["client"]["name"],
        born_on=date.fromisoformat(born_on) if born_on else None,
        version=held["text"]["version"],
        language=signature.language,
        text_language=held["text"]["language"],
        notice=held["text"]["notice"],
        blocks=tuple(Block(block["kind"], tuple(block["lines"])) for block in held["text"]["blocks"]),
        zones=tuple(zone["name"] for zone in held["zones"]),
        procedures=tuple(each["words"] for each in held["procedures"]),
        asked=tuple(Asked(**each) for each in held["asked"]),
        standing=tuple(held["standing"]),
        about=held["about"],
        signed_at=signature.signed_at,
        typed_name=signature.typed_name,
        typed_reason=signature.typed_reason,
        drawing_id=signature.drawing_id,
        hash=signature.paper_hash,
        lines=lines,
        site=queries.site_check_of(db, signature.id),
    )


def _before_papers(
    db: Session, document: Document, client: Client, lines: tuple[PermissionLine, ...]
) -> dict[str, Any]:
    """What is known of a signature from before papers were kept: its text and its answers."""
    zones = dict.fromkeys(zone for line in lines for zone in line.zones)
    return {
        "studio": studio_queries.studio(db).name,
        "client": {"name": client.name, "born_on": client.born_on.isoformat() if client.born_on else ""},
        "text": {
            "version": document.version,
            "language": document.language,
            "notice": "",
            "blocks": [{"kind": block.kind, "lines": block.lines} for block in blocks(document.text)],
        },
        "zones": [{"name": zone} for zone in zones],
        "procedures": [],
        "asked": [
            {"kind": line.kind, "asked": NAMED[line.kind][:1].upper() + NAMED[line.kind][1:], "hint": "",
             "answer": "yes" if line.is_granted else "no"}
            for line in lines
        ],
        "standing": [],
        "about": {},
    }  # fmt: skip


def drawing_for(db: Session, who: Who, signature_id: int) -> Blob:
    return _blob(db, paper_for(db, who, signature_id).drawing_id)


def guardian_drawing_for(db: Session, who: Who, signature_id: int) -> Blob:
    site = paper_for(db, who, signature_id).site
    return _blob(db, site.guardian_drawing_id if site is not None else None)


def drawings_of(db: Session, paper: SignedPaper) -> tuple[Blob | None, Blob | None]:
    """The pictures of the client's and of the guardian's signature."""
    guardian = paper.site.guardian_drawing_id if paper.site is not None else None
    return (
        db.get(Blob, paper.drawing_id) if paper.drawing_id is not None else None,
        db.get(Blob, guardian) if guardian is not None else None,
    )


def _blob(db: Session, blob_id: int | None) -> Blob:
    if blob_id is None:
        raise NotFound
    return records.blob_of(db, blob_id)


@dataclass(frozen=True)
class PaperLine:
    """One signature in a client's list."""

    id: int
    title: str
    signed_at: datetime
    hash: str
    waits_for_site_check: bool


def papers_of(db: Session, who: Who, client_id: int) -> list[PaperLine]:
    """What a client signed, newest first, without what is about a case this member may not open."""
    found = []
    wanted = (
        select(Signature, Document)
        .join(Document)
        .where(col(Signature.client_id).in_(records.person_ids(db, client_id)))
    )
    for signature, document in db.exec(wanted.order_by(col(Signature.id).desc())).all():
        assert signature.id is not None
        answers = _answers(db, signature.id)
        try:
            if signature.case_id is not None:
                records.case_for(db, who, signature.case_id)
            for answer in answers:
                queries.refuse_restricted(db, who, answer)
        except NotFound:
            continue
        waits = any(
            each.kind == "treatment"
            and each.is_granted
            and each.revoked_at is None
            and not queries.is_confirmed(db, each)
            for each in answers
        )
        title = TITLES.get(document.kind, OTHER_TITLE)
        found.append(PaperLine(signature.id, title, signature.signed_at, signature.paper_hash, waits))
    return found
