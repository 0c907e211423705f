"""A client's own page of permissions: what stands, what may be said yes to, and what they signed."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.consents import papers, queries
from app.consents.models import Document, Permission, Signature
from app.consents.texts import ASKED_ANYWHERE, NAMED, PROCEDURE_NAMES, PermissionWords, permission_words
from app.platform.languages import translator
from app.platform.links import Guest
from app.records import queries as records
from app.records.models import Client
from app.studio.access import NotFound

MEANS = {
    "treatment": "We will do no more work there until you say yes again. What was done stays on your record.",
    "numbing": "We will use no numbing product there from now on.",
    "record_photos": "We will take no more photos. Those that were taken stay with your record.",
    "contact_clinician": "We will not write to or call your doctor from now on. What was said stays on your record.",
    "reminders_email": "We will send you no more reminders by e-mail.",
    "reminders_text": "We will send you no more reminders by text message.",
    "voice_notes": "Your artist will write from now on. What was spoken stays with your record.",
}
MEANS_SHOWN = "We stop showing them and show no new ones. What others copied before cannot be called back for certain."


def client_words() -> tuple[str, ...]:
    """What the page says of each permission, for the catalogues."""
    return (*MEANS.values(), *PROCEDURE_NAMES.values())


@dataclass(frozen=True)
class Standing:
    """A yes that stands, as its owner reads it."""

    id: int
    kind: str
    named: str
    zones: tuple[str, ...]
    procedures: tuple[str, ...]
    given_at: datetime

    @property
    def means(self) -> str:
        """What taking it back means, in words for the catalogues."""
        return MEANS.get(self.kind, MEANS_SHOWN)


@dataclass(frozen=True)
class SignedLine:
    id: int
    kind: str
    signed_at: datetime


@dataclass(frozen=True)
class OwnPage:
    client: Client
    standing: tuple[Standing, ...]
    open: tuple[PermissionWords, ...]
    signed: tuple[SignedLine, ...]
    may_say_yes: bool


def own_page(db: Session, guest: Guest, language: str) -> OwnPage:
    client = records.kept_client(db, guest.client_id)
    age, client_id = queries.age_of(db, client), client.id or 0
    theirs = col(Signature.client_id).in_(records.person_ids(db, guest.client_id))
    wanted = select(Signature, Document).join(Document).where(theirs).order_by(col(Signature.id).desc())
    return OwnPage(
        client,
        tuple(_standing(db, guest.client_id, language)),
        tuple(
            words for words in permission_words(*ASKED_ANYWHERE) if not queries.is_granted(db, client_id, words.kind)
        ),
        tuple(SignedLine(row.id or 0, document.kind, row.signed_at) for row, document in db.exec(wanted).all()),
        not (age.is_barred or age.needs_guardian),
    )


def _standing(db: Session, client_id: int, language: str) -> list[Standing]:
    """The newest answer to each question and place, where it is a yes that was not taken back."""
    found, seen = [], set()
    for answer in queries.permissions_of(db, client_id):
        zones = queries.zones_named(db, answer.id or 0)
        key = (answer.kind, tuple(zone.id for zone in zones))
        if key in seen:
            continue
        seen.add(key)
        if answer.is_granted and answer.revoked_at is None:
            found.append(_shown(db, answer, language))
    return found


def _shown(db: Session, answer: Permission, language: str) -> Standing:
    say = translator(language)
    procedures = queries.procedures_of(db, answer) if answer.kind == "treatment" else ()
    assert answer.id is not None
    return Standing(
        answer.id,
        answer.kind,
        NAMED[answer.kind],
        tuple(papers.zone_words(zone.label, zone.side, say) for zone in queries.zones_named(db, answer.id)),
        tuple(PROCEDURE_NAMES[kind] for kind in procedures),
        answer.given_at,
    )


def own_permission(db: Session, guest: Guest, permission_id: int) -> Permission:
    answer = db.get(Permission, permission_id)
    if answer is None or answer.client_id not in records.person_ids(db, guest.client_id):
        raise NotFound
    return answer


def own_standing(db: Session, guest: Guest, permission_id: int, language: str) -> Standing:
    """One yes that stands; there is no page for taking back what does not."""
    answer = own_permission(db, guest, permission_id)
    if not answer.is_granted or answer.revoked_at is not None:
        raise NotFound
    return _shown(db, answer, language)


def may_be_given(db: Session, guest: Guest, kind: str) -> PermissionWords:
    """The words of a permission that a client may say yes to now."""
    words = [words for words in permission_words(*ASKED_ANYWHERE) if words.kind == kind]
    if not words or queries.is_granted(db, guest.client_id, kind):
        raise NotFound
    return words[0]
