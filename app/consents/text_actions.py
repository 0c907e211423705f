"""Changing a text to be signed. Earlier versions stay; what was signed keeps the words it was signed with."""

from sqlmodel import Session

from app.consents import text_queries as queries
from app.consents.models import OwnText
from app.consents.texts import missing_lines
from app.platform import clock
from app.platform.audit import Actor, audited, note
from app.platform.forms import Refused
from app.platform.languages import catalogue


@audited("consents.text.written")
def write_text(db: Session, kind: str, language: str, body: str, reason: str, *, by: Actor) -> OwnText:
    """A new version of a text in one language. The lines that the country asks for stand in it, word for word."""
    body = "\n".join(line.rstrip() for line in body.splitlines()).strip()
    required = [line.text for line in queries.required_lines(db, kind)]
    lacking = missing_lines(body, required, catalogue(language).texts)
    if lacking:
        raise Refused("body", f"The rules of your country ask for this line. Put it back: “{lacking[0]}”")
    held = queries.own_text(db, kind, language)
    if body == (held.body if held is not None else queries.shipped(kind, language)):
        raise Refused("body", "These are the words that stand already.")
    _end(db, held, by)
    row = OwnText(kind=kind, language=language, body=body, reason=reason, made_by=by.id, made_at=clock.now())
    db.add(row)
    return row


@audited("consents.text.ended")
def back_to_shipped(db: Session, kind: str, language: str, reason: str, *, by: Actor) -> OwnText:
    """Ends the studio's own wording, so that the shipped text counts again."""
    held = queries.own_text(db, kind, language)
    if held is None:
        raise Refused("reason", "The shipped text stands already.")
    _end(db, held, by)
    note(db, reason=reason)
    return held


def _end(db: Session, held: OwnText | None, by: Actor) -> None:
    if held is not None:
        held.ended_at, held.ended_by = clock.now(), by.id
        db.add(held)
