from collections.abc import Sequence
from datetime import timedelta

from sqlmodel import Session, select

from app.consents.models import Document, Permission, PermissionZone, Signature, SigningRequest, SigningZone
from app.consents.queries import Signing
from app.consents.texts import TREATMENT
from app.platform import clock, links, storage
from app.platform.audit import Actor, about, audited
from app.platform.forms import Refused
from app.platform.storage import Stored
from app.records.models import Case, Zone

SIGNING_LASTS = timedelta(days=1)


def keep_document(db: Session, kind: str, version: str, text: str, *, by: Actor) -> Document:
    """The row of a text, made when it is first needed."""
    held = db.exec(select(Document).where(Document.kind == kind, Document.version == version)).first()
    return held or _add_document(db, kind, version, text, by=by)


@audited("consents.document.kept")
def _add_document(db: Session, kind: str, version: str, text: str, *, by: Actor) -> Document:
    document = Document(kind=kind, version=version, text=text, made_at=clock.now())
    db.add(document)
    return document


@audited("consents.document.signed")
def sign(
    db: Session, client_id: int, document: Document, *, typed_name: str, drawing: Stored | None, by: Actor
) -> Signature:
    assert document.id is not None
    if not typed_name and drawing is None:
        raise Refused("typed_name", "Type your full name, or draw your signature.")
    blob = storage.keep(db, drawing) if drawing is not None else None
    signature = Signature(
        client_id=client_id,
        document_id=document.id,
        typed_name=typed_name,
        drawing_id=blob.id if blob is not None else None,
        signed_at=clock.now(),
    )
    db.add(signature)
    return signature


@audited("consents.permission.answered")
def answer(
    db: Session,
    client_id: int,
    kind: str,
    granted: bool,
    signature: Signature,
    *,
    zones: Sequence[Zone] = (),
    by: Actor,
) -> Permission:
    """One yes or no. A treatment permission names its zones."""
    assert signature.id is not None
    permission = Permission(
        client_id=client_id, kind=kind, is_granted=granted, signature_id=signature.id, given_at=clock.now()
    )
    db.add(permission)
    db.flush()
    assert permission.id is not None
    for zone in zones:
        assert zone.id is not None
        db.add(PermissionZone(permission_id=permission.id, zone_id=zone.id))
    return permission


@audited("consents.permission.revoked")
def revoke(db: Session, permission: Permission, *, by: Actor) -> Permission:
    """Takes one permission back, from now on; it and what was done under it stay on file."""
    if not permission.is_granted or permission.revoked_at is not None:
        raise Refused("permission", "This permission does not stand any more.")
    permission.revoked_at = clock.now()
    db.add(permission)
    return permission


@audited("consents.signing.asked")
def ask_to_sign(db: Session, case: Case, zones: Sequence[Zone], *, by: Actor) -> str:
    """Makes a one-use link to the treatment text for these zones; an earlier one that was not used ends."""
    assert case.id is not None
    if not zones:
        raise Refused("zones", "Choose at least one zone.")
    document = keep_document(db, TREATMENT.kind, TREATMENT.version, TREATMENT.text, by=by)
    links.revoke_all(db, "signing", case.id, by=by)
    token = links.make(db, "signing", case.id, case.client_id, lasts=SIGNING_LASTS, uses=1, by=by)
    db.flush()
    link = links.find(db, token)
    assert link is not None
    assert link.id is not None
    assert document.id is not None
    request = SigningRequest(case_id=case.id, link_id=link.id, document_id=document.id, asked_at=clock.now())
    db.add(request)
    db.flush()
    assert request.id is not None
    for zone in zones:
        assert zone.id is not None
        db.add(SigningZone(request_id=request.id, zone_id=zone.id))
    about(db, request)
    return token


@audited("consents.signing.signed")
def sign_treatment(
    db: Session,
    signing: Signing,
    *,
    treatment: bool,
    answers: Sequence[tuple[str, bool]],
    typed_name: str,
    drawing: Stored | None,
    by: Actor,
) -> SigningRequest:
    """Signs once: the treatment of the named zones, and each permission that was answered, by itself."""
    request = signing.request
    if request.signature_id is not None:
        raise Refused("typed_name", "This has been signed already.")
    assert signing.client.id is not None
    signature = sign(db, signing.client.id, signing.document, typed_name=typed_name, drawing=drawing, by=by)
    answer(db, signing.client.id, "treatment", treatment, signature, zones=signing.zones, by=by)
    for kind, granted in answers:
        answer(db, signing.client.id, kind, granted, signature, by=by)
    request.signature_id = signature.id
    db.add(request)
    return request
