"""The texts to be signed as they stand: the studio's own where it wrote one, else the shipped one, in a language."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.consents.models import OwnText
from app.consents.texts import WORDINGS, Block, blocks, missing_lines, translated_text, version_of, with_required
from app.platform.languages import DEFAULT, LANGUAGES, catalogue
from app.studio import queries as studio_queries
from app.studio.access import NotFound
from app.studio.country import ConsentLine, country_pack
from app.studio.models import Member

# What a client is told where nobody has the text in their language.
OTHER_LANGUAGE = "This text is not there in your language. Ask us to go through it with you before you sign."
PARTLY = "A part of this text is only there in English. Ask us to go through it with you before you sign."


@dataclass(frozen=True)
class TextShown:
    """A text exactly as it is shown, with the language it is in and what has to be said about that."""

    kind: str
    language: str
    text: str
    is_own: bool
    notice: str = ""

    @property
    def version(self) -> str:
        return version_of(self.text)

    @property
    def blocks(self) -> tuple[Block, ...]:
        return blocks(self.text)


@dataclass(frozen=True)
class TextLine:
    """One text in one language as the owner's list shows it."""

    kind: str
    language: str
    own: OwnText | None
    is_shipped: bool  # whether a shipped text is there in this language
    made_by: str


@dataclass(frozen=True)
class Version:
    """A version of a text: the shipped one has the number 0."""

    id: int
    body: str
    reason: str
    made_by: str
    made_at: datetime | None
    ended_at: datetime | None


def required_lines(db: Session, kind: str) -> tuple[ConsentLine, ...]:
    """What the country's rules ask the treatment text to hold; they say nothing of the other."""
    return country_pack(studio_queries.studio(db).country).required_consent_lines if kind == "treatment" else ()


def own_text(db: Session, kind: str, language: str) -> OwnText | None:
    """The studio's own wording that counts: the newest, unless it was ended."""
    wanted = select(OwnText).where(OwnText.kind == kind, OwnText.language == language)
    newest = db.exec(wanted.order_by(col(OwnText.id).desc())).first()
    return newest if newest is not None and newest.ended_at is None else None


def shipped(kind: str, language: str) -> str | None:
    """The shipped text in a language, where every line of it is there."""
    text = WORDINGS[kind].text
    return text if language == DEFAULT else translated_text(text, catalogue(language).texts)


def text_in_use(db: Session, kind: str, language: str) -> TextShown:
    """The text for who reads a language: in it where it is there, else in the studio's, else in English, and then the
    page says so. The lines that the country asks for are always in it."""
    required = [line.text for line in required_lines(db, kind)]
    for way in dict.fromkeys((language, studio_queries.studio(db).language, DEFAULT)):
        own = own_text(db, kind, way)
        body = own.body if own is not None else shipped(kind, way)
        if body is not None:
            break
    assert body is not None
    known = catalogue(way).texts
    lacking = missing_lines(body, required, known)
    notice = "" if way == language else OTHER_LANGUAGE
    if not notice and way != DEFAULT and any(line not in known for line in lacking):
        notice = PARTLY
    return TextShown(kind, way, with_required(body, required, known), own is not None, notice)


def text_lines(db: Session) -> list[TextLine]:
    found = []
    for kind in WORDINGS:
        for language in LANGUAGES:
            own = own_text(db, kind, language)
            found.append(TextLine(kind, language, own, shipped(kind, language) is not None, _name(db, own)))
    return found


def _name(db: Session, own: OwnText | None) -> str:
    return db.get_one(Member, own.made_by).name if own is not None and own.made_by is not None else ""


def body_to_edit(db: Session, kind: str, language: str) -> str:
    """What the owner begins with: the text in use in that language, else the English one to be put into it."""
    if kind not in WORDINGS or language not in LANGUAGES:
        raise NotFound
    own = own_text(db, kind, language)
    body = own.body if own is not None else shipped(kind, language) or WORDINGS[kind].text
    return with_required(body, [line.text for line in required_lines(db, kind)], catalogue(language).texts)


def versions(db: Session, kind: str, language: str) -> list[Version]:
    """Every version of a text in a language, newest first; the shipped one is the first there was."""
    if kind not in WORDINGS or language not in LANGUAGES:
        raise NotFound
    wanted = select(OwnText).where(OwnText.kind == kind, OwnText.language == language)
    found = [
        Version(row.id or 0, row.body, row.reason, _name(db, row), row.made_at, row.ended_at)
        for row in db.exec(wanted.order_by(col(OwnText.id).desc())).all()
    ]
    body = shipped(kind, language)
    if body is None:
        return found
    shown = with_required(body, [line.text for line in required_lines(db, kind)], catalogue(language).texts)
    return [*found, Version(0, shown, "", "", None, None)]
