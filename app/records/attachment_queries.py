"""Letters on file, and for whom: the desk files them and opens none."""

from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.platform.storage import Blob
from app.records.models import Attachment, Case, Client
from app.records.people import person_ids, persons
from app.records.queries import blob_of, case_for
from app.records.tasks import may_open_all
from app.studio.access import NotFound, Who


@dataclass(frozen=True)
class LetterLine:
    """A letter that nobody has read, with whose it is."""

    letter: Attachment
    client: Client
    case: Case | None


def letter_for(db: Session, who: Who, attachment_id: int) -> Attachment:
    """A letter of a case that this member may open; one of no case may be of any, so all must be open to them."""
    letter = db.get(Attachment, attachment_id)
    if letter is None or not _is_open_to(db, who, letter):
        raise NotFound
    return letter


def _is_open_to(db: Session, who: Who, letter: Attachment) -> bool:
    if not who.sees_health:
        return False
    if letter.case_id is None:
        return may_open_all(db, who, letter.client_id)
    try:
        case_for(db, who, letter.case_id)
    except NotFound:
        return False
    return True


def letters_to_read(db: Session, who: Who) -> list[LetterLine]:
    """What was filed and nobody has read, oldest first."""
    tree = persons()
    wanted = select(Attachment, Client).join(tree, col(Attachment.client_id) == tree.c.id)
    wanted = wanted.join(Client, col(Client.id) == tree.c.kept_id)
    wanted = wanted.where(col(Attachment.read_at).is_(None)).order_by(col(Attachment.filed_at), col(Attachment.id))
    return [
        LetterLine(letter, client, db.get_one(Case, letter.case_id) if letter.case_id is not None else None)
        for letter, client in db.exec(wanted).all()
        if _is_open_to(db, who, letter)
    ]


def letters_of(db: Session, who: Who, client_id: int) -> list[Attachment]:
    """The letters of a client that this member may open, newest first."""
    wanted = select(Attachment).where(col(Attachment.client_id).in_(person_ids(db, client_id)))
    wanted = wanted.order_by(col(Attachment.id).desc())
    return [letter for letter in db.exec(wanted).all() if _is_open_to(db, who, letter)]


def unread_count(db: Session) -> int:
    """How many letters wait for an artist: all that the desk may know of them."""
    return len(db.exec(select(Attachment.id).where(col(Attachment.read_at).is_(None))).all())


def picture_of(db: Session, who: Who, attachment_id: int) -> Blob:
    """The picture that we encoded; there is none of a PDF."""
    letter = letter_for(db, who, attachment_id)
    if letter.shown_id is None:
        raise NotFound
    return blob_of(db, letter.shown_id)


def original_of(db: Session, who: Who, attachment_id: int) -> Blob:
    """The PDF as it came in. A picture is shown as we encoded it, and its original is not handed out."""
    letter = letter_for(db, who, attachment_id)
    if letter.shown_id is not None:
        raise NotFound
    return blob_of(db, letter.blob_id)
