from collections.abc import Mapping, Sequence
from datetime import timedelta

from sqlmodel import Session, select

from app.consents import papers, queries
from app.consents.models import Document, Permission, PermissionZone, Signature, SigningRequest, SigningZone
from app.consents.papers import Asked, Shown, ZoneShown
from app.consents.queries import Signing
from app.consents.text_queries import TextShown, text_in_use
from app.consents.texts import (
    ASKED_ANYWHERE,
    FIRST_KINDS,
    NAMED,
    ONE_YES,
    PERMISSIONS,
    PROCEDURES,
    TREATMENT_ASKED,
    translated_text,
)
from app.platform import clock, links, storage
from app.platform.audit import Actor, about, audited, canonical
from app.platform.forms import Refused
from app.platform.languages import DEFAULT, LANGUAGES, catalogue, translator
from app.platform.storage import Stored
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio_queries

SIGNING_LASTS = timedelta(days=1)
PERMISSIONS_LINK_LASTS = timedelta(days=1)
TEXT_CHANGED = "The text was changed meanwhile. Please read it once more before you sign."
TOO_YOUNG = "By the rules here you cannot sign this at your age. Please talk to us."
GUARDIAN_DECIDES = "At your age a parent or guardian decides this with you. Please talk to us."


def keep_document(db: Session, kind: str, version: str, text: str, *, language: str = DEFAULT, by: Actor) -> Document:
    """The row of a text, made when it is first needed."""
    held = db.exec(select(Document).where(Document.kind == kind, Document.version == version)).first()
    return held or _add_document(db, kind, version, text, language, by=by)


@audited("consents.document.kept")
def _add_document(db: Session, kind: str, version: str, text: str, language: str, *, by: Actor) -> Document:
    document = Document(kind=kind, version=version, text=text, language=language, made_at=clock.now())
    db.add(document)
    return document


def keep_shown(db: Session, text: TextShown, *, by: Actor) -> Document:
    """The row of a text exactly as it was shown."""
    return keep_document(db, text.kind, text.version, text.text, language=text.language, by=by)


@audited("consents.document.signed")
def sign(
    db: Session,
    client_id: int,
    document: Document,
    *,
    typed_name: str,
    drawing: Stored | None,
    strokes: str = "",
    typed_reason: str = "",
    language: str = DEFAULT,
    shown: Shown | None = None,
    case_id: int | None = None,
    by: Actor,
) -> Signature:
    """One signature under the document, with all that stood beside it, sealed by the hash of the whole."""
    assert document.id is not None
    if not typed_name and drawing is None:
        raise Refused("typed_name", "Type your full name, or draw your signature.")
    blob = storage.keep(db, drawing) if drawing is not None else None
    client, signed_at = db.get_one(Client, client_id), clock.now()
    content = papers.content(
        studio=studio_queries.studio(db).name,
        client=client.name,
        born_on=client.born_on,
        kind=document.kind,
        version=document.version,
        text=document.text,
        language=document.language,
        shown=shown or Shown(),
        signed=papers.Signed(signed_at, typed_name, typed_reason, blob.sha256 if blob else "", strokes),
        translate=translator(language),
    )
    paper = canonical(content)
    signature = Signature(
        client_id=client_id,
        case_id=case_id,
        document_id=document.id,
        typed_name=typed_name,
        typed_reason=typed_reason,
        drawing_id=blob.id if blob is not None else None,
        strokes=strokes,
        language=language,
        paper=paper,
        paper_hash=papers.hash_of(paper),
        signed_at=signed_at,
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
    permission.revoked_how = "client" if by.kind == "client" else "studio"
    db.add(permission)
    return permission


@audited("consents.signing.asked")
def ask_to_sign(
    db: Session, case: Case, zones: Sequence[Zone], *, procedures: Sequence[str] = tuple(PROCEDURES), by: Actor
) -> str:
    """Makes a one-use link to the treatment text for these zones; an earlier one that was not used ends."""
    assert case.id is not None
    if not zones:
        raise Refused("zones", "Choose at least one zone.")
    if not procedures:
        raise Refused("procedures", "Choose what the permission is for.")
    client = records.kept_client(db, case.client_id)
    if queries.age_of(db, client).is_barred:
        raise Refused("zones", f"This client may not sign. {queries.pack(db).age_rule}")
    text = text_in_use(db, "treatment", client.language if client.language in LANGUAGES else DEFAULT)
    document = keep_shown(db, text, by=by)
    links.revoke_all(db, "signing", case.id, by=by)
    token = links.make(db, "signing", case.id, case.client_id, lasts=SIGNING_LASTS, uses=1,
                       language=client.language, by=by)  # fmt: skip
    db.flush()
    link = links.find(db, token)
    assert link is not None
    assert link.id is not None
    assert document.id is not None
    request = SigningRequest(
        case_id=case.id, link_id=link.id, document_id=document.id, asked_at=clock.now(),
        procedure=" ".join(kind for kind in PROCEDURES if kind in procedures), language=text.language,
    )  # fmt: skip
    db.add(request)
    db.flush()
    assert request.id is not None
    for zone in zones:
        assert zone.id is not None
        db.add(SigningZone(request_id=request.id, zone_id=zone.id))
    about(db, request)
    return token


def standing_kinds(db: Session, client_id: int) -> tuple[str, ...]:
    """A yes that stands is not asked for again, where a quick "no to all" would take it back unmeant."""
    return tuple(kind for kind in ASKED_ANYWHERE if queries.is_granted(db, client_id, kind))


def as_shown(db: Session, kind: str, language: str, version: str) -> TextShown:
    """The text in use, which has to be the one that the page showed."""
    text = text_in_use(db, kind, language)
    if version and version != text.version:
        raise Refused("_text", TEXT_CHANGED)
    return text


@audited("consents.signing.signed")
def sign_treatment(
    db: Session,
    signing: Signing,
    *,
    treatment: bool,
    answers: Sequence[tuple[str, bool]],
    typed_name: str,
    drawing: Stored | None,
    strokes: str = "",
    typed_reason: str = "",
    language: str = DEFAULT,
    text_version: str = "",
    by: Actor,
) -> SigningRequest:
    """Signs once: the treatment of the named zones, and each permission that was answered, by itself."""
    request, client_id = signing.request, signing.client.id
    assert client_id is not None
    if request.signature_id is not None:
        raise Refused("typed_name", "This has been signed already.")
    if signing.age.is_barred:
        raise Refused("treatment", TOO_YOUNG)
    text = as_shown(db, "treatment", language, text_version)
    say, standing = translator(language), standing_kinds(db, client_id)
    shown = Shown(
        zones=[ZoneShown(zone.id or 0, papers.zone_words(zone.label, zone.side, say)) for zone in signing.zones],
        procedures=signing.procedures,
        asked=[
            Asked("treatment", say(TREATMENT_ASKED), "", "yes" if treatment else "no"),
            *papers.asked_words([words.kind for words in PERMISSIONS if words.kind not in standing], answers, say),
        ],
        standing=[say(NAMED[kind]) for kind in standing],
        notice=say(text.notice) if text.notice else "",
    )
    document = keep_shown(db, text, by=by)
    signature = sign(
        db, client_id, document, typed_name=typed_name, drawing=drawing, strokes=strokes, typed_reason=typed_reason,
        language=language, shown=shown, case_id=request.case_id, by=by,
    )  # fmt: skip
    answer(db, client_id, "treatment", treatment, signature, zones=signing.zones, by=by)
    for kind, granted in answers:
        if kind not in standing:
            answer(db, client_id, kind, granted, signature, by=by)
    assert document.id is not None
    request.signature_id, request.document_id, request.language = signature.id, document.id, text.language
    db.add(request)
    return request


def sign_declaration(
    db: Session,
    client_id: int,
    *,
    typed_name: str,
    drawing: Stored | None,
    strokes: str = "",
    typed_reason: str = "",
    language: str = DEFAULT,
    text_version: str = "",
    permissions: Sequence[tuple[str, bool]] = (),
    asked: Sequence[str] = FIRST_KINDS,
    concerning: Mapping[str, str | int] | None = None,
    case_id: int | None = None,
    by: Actor,
) -> Signature:
    """Signs the declaration under the health questions, with the permissions that the same page asked for.
    `concerning` names the form and the hash of its answers, so that the signature stands under these and no others."""
    text = as_shown(db, "declaration", language, text_version)
    say = translator(language)
    shown = Shown(
        asked=papers.asked_words(tuple(asked), permissions, say),
        notice=say(text.notice) if text.notice else "",
        about=concerning,
    )
    signature = sign(
        db, client_id, keep_shown(db, text, by=by), typed_name=typed_name, drawing=drawing, strokes=strokes,
        typed_reason=typed_reason, language=language, shown=shown, case_id=case_id, by=by,
    )  # fmt: skip
    for kind, granted in permissions:
        answer(db, client_id, kind, granted, signature, by=by)
    return signature


def one_yes(language: str) -> TextShown:
    """The text under a single permission, in the client's language where it is there."""
    translated = translated_text(ONE_YES.text, catalogue(language).texts) if language != DEFAULT else None
    return TextShown(ONE_YES.kind, language if translated else DEFAULT, translated or ONE_YES.text, False)


@audited("consents.permission.given")
def give_one(
    db: Session,
    client_id: int,
    kind: str,
    *,
    typed_name: str,
    drawing: Stored | None,
    strokes: str = "",
    typed_reason: str = "",
    language: str = DEFAULT,
    text_version: str = "",
    by: Actor,
) -> Permission:
    """A client's yes to one thing, on their own page, signed by itself."""
    if kind not in ASKED_ANYWHERE or queries.is_granted(db, client_id, kind):
        raise Refused("_asked", "You have said yes to this already.")
    age = queries.age_of(db, records.kept_client(db, client_id))
    if age.is_barred or age.needs_guardian:
        raise Refused("_asked", GUARDIAN_DECIDES)
    text = one_yes(language)
    if text_version and text_version != text.version:
        raise Refused("_text", TEXT_CHANGED)
    shown = Shown(asked=papers.asked_words((kind,), ((kind, True),), translator(language)))
    document = keep_shown(db, text, by=by)
    signature = sign(
        db, client_id, document, typed_name=typed_name, drawing=drawing, strokes=strokes, typed_reason=typed_reason,
        language=language, shown=shown, by=by,
    )  # fmt: skip
    return answer(db, client_id, kind, True, signature, by=by)


def make_permissions_link(db: Session, client: Client, *, by: Actor) -> str:
    """A fresh one-use link to the client's own page of permissions; an earlier one that was not used ends."""
    assert client.id is not None
    links.revoke_all(db, "permissions", client.id, by=by)
    return links.make(db, "permissions", client.id, client.id, lasts=PERMISSIONS_LINK_LASTS, uses=1,
                      language=client.language, by=by)  # fmt: skip
