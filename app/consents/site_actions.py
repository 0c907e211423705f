"""Confirming on site who signed: what the artist saw and who helped, beside the client's paper and sealed like it."""

from typing import Any

from sqlmodel import Session, select

from app.consents import papers, queries
from app.consents.forms import SiteCheck as SiteForm
from app.consents.models import Permission, Signature, SiteCheck
from app.platform import clock, storage
from app.platform.audit import Actor, audited, canonical
from app.platform.forms import Refused
from app.platform.storage import Blob, Stored
from app.records import queries as records
from app.records.models import Client
from app.studio.models import Member

IDENTITIES = {
    "passport": "Passport",
    "identity_card": "Identity card",
    "driving_licence": "Driving licence",
    "residence_permit": "Residence permit",
    "other": "Another document with a photo",
}
FORM = 1


def site_content(signature: Signature, check: SiteCheck, guardian_sha256: str) -> dict[str, Any]:
    """The site check as it is sealed: it names the paper it stands beside by its hash."""
    return {
        "form": FORM,
        "signature": signature.id,
        "paper_hash": signature.paper_hash,
        "identity": {"kind": check.identity_kind, "words": check.identity_words},
        "interpreter": check.interpreter,
        "guardian": {
            "name": check.guardian_name,
            "relation": check.guardian_relation,
            "identity": check.guardian_identity,
            "drawing_sha256": guardian_sha256,
        },
        "countersigned": {
            "member": check.countersigned_by,
            "name": check.countersigned_name,
            "at": papers.plain_moment(check.countersigned_at),
        },
    }


@audited("consents.site_check.countersigned")
def countersign(
    db: Session, signature: Signature, form: SiteForm, *, guardian_drawing: Stored | None = None, by: Actor
) -> SiteCheck:
    """What was seen beside the client, once; a mistake in it is put right by having the text signed anew."""
    assert signature.id is not None
    client = records.kept_client(db, signature.client_id)
    needs_guardian = _refuse(db, signature, client, form, guardian_drawing)
    member = db.get_one(Member, by.id)
    blob = storage.keep(db, guardian_drawing) if guardian_drawing is not None and needs_guardian else None
    assert member.id is not None
    check = SiteCheck(
        signature_id=signature.id,
        identity_kind=form.identity_kind,
        identity_words=form.identity_words,
        interpreter=form.interpreter,
        guardian_name=form.guardian_name if needs_guardian else "",
        guardian_relation=form.guardian_relation if needs_guardian else "",
        guardian_identity=form.guardian_identity if needs_guardian else "",
        guardian_drawing_id=blob.id if blob is not None else None,
        countersigned_by=member.id,
        countersigned_name=member.name,
        countersigned_at=clock.now(),
    )
    check.paper = canonical(site_content(signature, check, blob.sha256 if blob is not None else ""))
    check.paper_hash = papers.hash_of(check.paper)
    db.add(check)
    return check


def _refuse(db: Session, signature: Signature, client: Client, form: SiteForm, drawing: Stored | None) -> bool:
    """Refuses what cannot be confirmed; whether a guardian signs, too."""
    assert signature.id is not None
    if not signature.paper or not _is_treatment(db, signature.id):
        raise Refused("_form", "There is no treatment permission here to confirm.")
    if queries.site_check_of(db, signature.id) is not None:
        raise Refused("_form", "This has been confirmed already.")
    age = queries.age_of(db, client)
    if age.is_unknown:
        raise Refused("_form", "There is no birth date on the client’s page. Enter it first, as the document has it.")
    if age.is_barred:
        raise Refused("_form", f"This client may not be treated. {queries.pack(db).age_rule}")
    if form.identity_kind == "other" and not form.identity_words:
        raise Refused("identity_words", "Say what kind of document it was.")
    if age.needs_guardian:
        for name, words in (
            ("guardian_name", "Write the guardian’s name."),
            ("guardian_relation", "Write what the guardian is to the client."),
            ("guardian_identity", "Say by which document the guardian showed who they are."),
        ):
            if not getattr(form, name):
                raise Refused(name, words)
        if drawing is None:
            raise Refused("drawing", "The guardian signs here, too.")
    if form.countersigned != "yes":
        raise Refused("countersigned", "Tick this when you saw the document yourself.")
    return age.needs_guardian


def _is_treatment(db: Session, signature_id: int) -> bool:
    named = select(Permission).where(Permission.signature_id == signature_id, Permission.kind == "treatment")
    answer = db.exec(named).first()
    return answer is not None and answer.is_granted


def guardian_sha256(db: Session, check: SiteCheck) -> str:
    return db.get_one(Blob, check.guardian_drawing_id).sha256 if check.guardian_drawing_id is not None else ""
