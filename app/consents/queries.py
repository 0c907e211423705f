from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from app.consents.ages import AgeRule, age_rule
from app.consents.models import (
    Document,
    Permission,
    PermissionZone,
    Signature,
    SigningRequest,
    SigningZone,
    SiteCheck,
)
from app.consents.texts import NAMED, PROCEDURES
from app.platform import clock, links
from app.platform.links import Guest
from app.records import photo_permission
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries
from app.studio.access import NotFound, Who
from app.studio.country import CountryPack, country_pack


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
    procedures: tuple[str, ...] = ()
    is_confirmed: bool = True
    revoked_how: str = ""

    @property
    def stands(self) -> bool:
        return self.is_granted and self.revoked_at is None


@dataclass(frozen=True)
class Signing:
    """What a client was asked to sign."""

    request: SigningRequest
    case: Case
    client: Client
    zones: tuple[Zone, ...]
    age: AgeRule

    @property
    def procedures(self) -> tuple[str, ...]:
        return tuple(self.request.procedure.split())


def permissions_of(db: Session, client_id: int) -> list[Permission]:
    """Every answer of a client, newest first; a later answer to the same question counts."""
    wanted = select(Permission).where(col(Permission.client_id).in_(records.person_ids(db, client_id)))
    return list(db.exec(wanted.order_by(col(Permission.given_at).desc(), col(Permission.id).desc())).all())


def is_granted(db: Session, client_id: int, kind: str) -> bool:
    newest = next((answer for answer in permissions_of(db, client_id) if answer.kind == kind), None)
    return newest is not None and newest.is_granted and newest.revoked_at is None


def may_photograph(db: Session, client_id: int) -> bool:
    return is_granted(db, client_id, "record_photos")


photo_permission.answered_by(may_photograph)  # records, a row below, file no photo without it


def procedures_of(db: Session, permission: Permission) -> tuple[str, ...]:
    """The kinds of session that a treatment permission is about; all of them where it was signed before they were
    named one by one."""
    asked = select(SigningRequest.procedure).where(SigningRequest.signature_id == permission.signature_id)
    named = db.exec(asked).first()
    return tuple(named.split()) if named else tuple(PROCEDURES)


def treatment_in_force(db: Session, zone_id: int, on: date, kind: str = "") -> Permission | None:
    """The permission to treat this zone that stands on a day: the newest answer that names it, and the kind of session
    where one is given, if it is a yes."""
    named = (
        select(Permission).join(PermissionZone).where(PermissionZone.zone_id == zone_id, Permission.kind == "treatment")
    )
    time_zone = ZoneInfo(studio_queries.studio(db).time_zone)
    for answer in db.exec(named.order_by(col(Permission.given_at).desc(), col(Permission.id).desc())).all():
        if answer.given_at.astimezone(time_zone).date() > on or (kind and kind not in procedures_of(db, answer)):
            continue
        taken_back = answer.revoked_at is not None and answer.revoked_at.astimezone(time_zone).date() <= on
        return answer if answer.is_granted and not taken_back else None
    return None


def site_check_of(db: Session, signature_id: int) -> SiteCheck | None:
    return db.exec(select(SiteCheck).where(SiteCheck.signature_id == signature_id)).first()


def is_confirmed(db: Session, permission: Permission) -> bool:
    """Whether an artist saw who signed a treatment and countersigned. What was signed before papers were kept was
    checked on paper, if at all, and stays as valid as it was."""
    if not db.get_one(Signature, permission.signature_id).paper:
        return True
    return site_check_of(db, permission.signature_id) is not None


def age_of(db: Session, client: Client) -> AgeRule:
    """What the client's age means for signing today, where the studio stands."""
    studio = studio_queries.studio(db)
    return age_rule(client.born_on, clock.today(studio.time_zone), country_pack(studio.country))


def pack(db: Session) -> CountryPack:
    return country_pack(studio_queries.studio(db).country)


def permission_for(db: Session, who: Who, permission_id: int) -> Permission:
    answer = db.get(Permission, permission_id)
    if answer is None or not who.sees_health:
        raise NotFound
    refuse_restricted(db, who, answer)
    return answer


def permission_lines(db: Session, who: Who, client: Client) -> list[PermissionLine]:
    """The answers of a client, without those about zones of a case this member may not open."""
    assert client.id is not None
    lines = []
    for answer in permissions_of(db, client.id):
        try:
            refuse_restricted(db, who, answer)
        except NotFound:
            continue
        lines.append(line_of(db, answer))
    return lines


def line_of(db: Session, answer: Permission) -> PermissionLine:
    signature = db.get_one(Signature, answer.signature_id)
    version = db.get_one(Document, signature.document_id).version
    is_treatment = answer.kind == "treatment"
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
        procedures_of(db, answer) if is_treatment and signature.paper else (),
        not is_treatment or is_confirmed(db, answer),
        answer.revoked_how,
    )


def zones_named(db: Session, permission_id: int) -> list[Zone]:
    named = select(Zone).join(PermissionZone).where(PermissionZone.permission_id == permission_id)
    return list(db.exec(named.order_by(col(Zone.id))).all())


def refuse_restricted(db: Session, who: Who, answer: Permission) -> None:
    assert answer.id is not None
    for zone in zones_named(db, answer.id):
        records.zone_for(db, who, zone.id or 0)


def opens_every_case(db: Session, who: Who, client_id: int) -> bool:
    """Whether a member may see all that a client's own page shows: it names the zones of each case."""
    return len(records.case_ids_of(db, client_id)) <= len(records.cases_of(db, who, client_id))


def document_of(db: Session, kind: str, version: str) -> Document:
    """A text as it was kept."""
    return db.exec(select(Document).where(Document.kind == kind, Document.version == version)).one()


def signing_for_guest(db: Session, guest: Guest) -> Signing:
    """What the holder of a pass was asked to sign, through this link and no other."""
    signing = _signing(db, guest.link_id)
    if signing.request.case_id != guest.subject_id:
        raise NotFound
    return signing


def signing_of_link(db: Session, token: str) -> Signing:
    """What was asked through a link that still serves."""
    link = links.find(db, token)
    if link is None or link.id is None:
        raise NotFound
    return _signing(db, link.id)


def _signing(db: Session, link_id: int) -> Signing:
    request = db.exec(select(SigningRequest).where(SigningRequest.link_id == link_id)).first()
    if request is None:
        raise NotFound
    named = select(Zone).join(SigningZone).where(SigningZone.request_id == request.id).order_by(col(Zone.id))
    case = db.get_one(Case, request.case_id)
    client = records.kept_client(db, case.client_id)
    return Signing(request, case, client, tuple(db.exec(named).all()), age_of(db, client))
