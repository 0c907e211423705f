from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.consents.models import Document, Permission, PermissionZone, Signature, SigningRequest, SigningZone
from app.consents.texts import NAMED, Block, blocks
from app.platform.links import Guest
from app.platform.storage import Blob
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who


@dataclass(frozen=True)
class PermissionLine:
    """One answer as the record shows it."""

    id: int
    kind: str
    named: str
    is_granted: bool
    given_at: datetime
    revoked_at: datetime | None
    version: str
    signature_id: int
    zones: tuple[str, ...]

    @property
    def stands(self) -> bool:
        return self.is_granted and self.revoked_at is None


@dataclass(frozen=True)
class SignedPaper:
    """A signature with the text as it was shown and the answers given with it."""

    signature: Signature
    client: Client
    document: Document
    blocks: tuple[Block, ...]
    lines: tuple[PermissionLine, ...]


@dataclass(frozen=True)
class Signing:
    """What a client was asked to sign."""

    request: SigningRequest
    case: Case
    client: Client
    document: Document
    blocks: tuple[Block, ...]
    zones: tuple[Zone, ...]


def permissions_of(db: Session, client_id: int) -> list[Permission]:
    """Every answer of a client, newest first; a later answer to the same question counts."""
    wanted = select(Permission).where(Permission.client_id == client_id)
    return list(db.exec(wanted.order_by(col(Permission.given_at).desc(), col(Permission.id).desc())).all())


def is_granted(db: Session, client_id: int, kind: str) -> bool:
    newest = next((answer for answer in permissions_of(db, client_id) if answer.kind == kind), None)
    return newest is not None and newest.is_granted and newest.revoked_at is None


def treatment_in_force(db: Session, zone_id: int, on: date) -> Permission | None:
    """The permission to treat this zone that stands on a day: the newest answer that names it, if it is a yes."""
    named = (
        select(Permission).join(PermissionZone).where(PermissionZone.zone_id == zone_id, Permission.kind == "treatment")
    )
    time_zone = ZoneInfo(studio_queries.studio(db).time_zone)
    for answer in db.exec(named.order_by(col(Permission.given_at).desc(), col(Permission.id).desc())).all():
        if answer.given_at.astimezone(time_zone).date() > on:
            continue
        taken_back = answer.revoked_at is not None and answer.revoked_at.astimezone(time_zone).date() <= on
        return answer if answer.is_granted and not taken_back else None
    return None


def permission_for(db: Session, who: Who, permission_id: int) -> Permission:
    answer = db.get(Permission, permission_id)
    if answer is None or not who.sees_health:
        raise NotFound
    _refuse_restricted(db, who, answer)
    return answer


def permission_lines(db: Session, who: Who, client: Client) -> list[PermissionLine]:
    """The answers of a client, without those about zones of a case this member may not open."""
    assert client.id is not None
    lines = []
    for answer in permissions_of(db, client.id):
        try:
            lines.append(_line(db, who, answer))
        except NotFound:
            continue
    return lines


def _line(db: Session, who: Who, answer: Permission) -> PermissionLine:
    _refuse_restricted(db, who, answer)
    signature = db.get_one(Signature, answer.signature_id)
    version = db.get_one(Document, signature.document_id).version
    assert answer.id is not None
    return PermissionLine(
        answer.id,
        answer.kind,
        NAMED[answer.kind],
        answer.is_granted,
        answer.given_at,
        answer.revoked_at,
        version,
        answer.signature_id,
        tuple(zone.name for zone in zones_named(db, answer.id)),
    )


def zones_named(db: Session, permission_id: int) -> list[Zone]:
    named = select(Zone).join(PermissionZone).where(PermissionZone.permission_id == permission_id)
    return list(db.exec(named.order_by(col(Zone.id))).all())


def _refuse_restricted(db: Session, who: Who, answer: Permission) -> None:
    assert answer.id is not None
    for zone in zones_named(db, answer.id):
        records.zone_for(db, who, zone.id or 0)


def paper_for(db: Session, who: Who, signature_id: int) -> SignedPaper:
    """A signed text as it was shown."""
    signature = db.get(Signature, signature_id)
    if signature is None or not who.sees_health:
        raise NotFound
    given = db.exec(
        select(Permission).where(Permission.signature_id == signature_id).order_by(col(Permission.id))
    ).all()
    document = db.get_one(Document, signature.document_id)
    lines = tuple(_line(db, who, answer) for answer in given)
    return SignedPaper(
        signature, records.client_for(db, who, signature.client_id), document, blocks(document.text), lines
    )


def drawing_for(db: Session, who: Who, signature_id: int) -> Blob:
    signature = paper_for(db, who, signature_id).signature
    if signature.drawing_id is None:
        raise NotFound
    return records.blob_of(db, signature.drawing_id)


def document_of(db: Session, kind: str, version: str) -> Document:
    """A text as it was kept."""
    return db.exec(select(Document).where(Document.kind == kind, Document.version == version)).one()


def signing_for_guest(db: Session, guest: Guest) -> Signing:
    """What the holder of a pass was asked to sign, through this link and no other."""
    request = db.exec(select(SigningRequest).where(SigningRequest.link_id == guest.link_id)).first()
    if request is None or request.case_id != guest.subject_id:
        raise NotFound
    case, document = db.get_one(Case, request.case_id), db.get_one(Document, request.document_id)
    named = select(Zone).join(SigningZone).where(SigningZone.request_id == request.id).order_by(col(Zone.id))
    client = db.get_one(Client, guest.client_id)
    return Signing(request, case, client, document, blocks(document.text), tuple(db.exec(named).all()))
