"""Filing letters unread, and saying that one was read."""

from datetime import timedelta

from sqlmodel import Session

from app.platform import clock
from app.platform.audit import Actor, about, audited
from app.platform.forms import Refused
from app.platform.storage import Stored, keep
from app.records.attachment_forms import ReadLetter
from app.records.models import Attachment, Case, Client

# Places where it is already tomorrow are up to 14 hours ahead of UTC.
AHEAD = timedelta(hours=14)


@audited("records.letter.filed")
def file_letter(
    db: Session,
    client: Client,
    case: Case | None,
    *,
    name: str,
    from_whom: str,
    original: Stored,
    shown: Stored | None,
    by: Actor,
) -> Attachment:
    """Files a letter whose bytes are stored already. Nobody has read it yet."""
    assert client.id is not None
    blob = keep(db, original)
    picture = keep(db, shown) if shown is not None else None
    assert blob.id is not None
    letter = Attachment(
        client_id=client.id,
        case_id=case.id if case is not None else None,
        blob_id=blob.id,
        shown_id=picture.id if picture is not None else None,
        name=name,
        from_whom=from_whom,
        filed_by=by.id if by.kind == "member" else None,
        filed_at=clock.now(),
    )
    db.add(letter)
    db.flush()
    about(db, letter)
    return letter


@audited("records.letter.read")
def read_letter(db: Session, letter: Attachment, form: ReadLetter, *, by: Actor) -> Attachment:
    """Keeps what a letter says of itself. Who read it first stays on file."""
    if form.dated_on is not None and form.dated_on > (clock.now() + AHEAD).date():
        raise Refused("dated_on", "This day lies ahead. Give the day that stands on the letter.")
    if form.dated_on is not None and form.expires_on is not None and form.expires_on < form.dated_on:
        raise Refused("expires_on", "It would have run out before it was written.")
    letter.from_whom, letter.dated_on, letter.expires_on = form.from_whom, form.dated_on, form.expires_on
    letter.note = form.note
    if letter.read_at is None:
        letter.read_by, letter.read_at = by.id, clock.now()
    db.add(letter)
    return letter
