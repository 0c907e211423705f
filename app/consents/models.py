from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import REDACTED, Row

KINDS = (
    "treatment",
    "numbing",
    "record_photos",
    "show_in_studio",
    "teaching",
    "website",
    "social_media",
    "recognisable",
    "contact_clinician",
    "reminders_email",
    "reminders_text",
    "voice_notes",
)


class Document(Row, table=True):
    """A text as it was shown for signing; a new wording is a new version."""

    __tablename__ = "documents"
    __table_args__ = (UniqueConstraint("kind", "version"),)
    id: int | None = Field(default=None, primary_key=True)
    kind: str
    version: str
    language: str = "en"
    text: str
    made_at: datetime


class Signature(Row, table=True):
    __tablename__ = "signatures"
    id: int | None = Field(default=None, primary_key=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    case_id: int | None = Field(default=None, foreign_key="cases.id", index=True)  # none: about the person
    document_id: int = Field(foreign_key="documents.id")
    typed_name: str = ""
    typed_reason: str = ""  # why the name was typed rather than drawn
    drawing_id: int | None = Field(default=None, foreign_key="blobs.id")
    # Canonical JSON of the drawn lines, as they were drawn. Large; its hash stands in the paper, which the trail holds.
    strokes: str = Field(default="", sa_column_kwargs={"info": REDACTED})
    language: str = "en"
    paper: str = ""  # canonical JSON: exactly what was shown and answered, and how it was signed
    paper_hash: str = ""  # SHA-256 of `paper`; printed on it, and held against it by `check`
    signed_at: datetime


class Permission(Row, table=True):
    """One yes or no of the client, revocable by itself. Treatment names its zones."""

    __tablename__ = "permissions"
    __table_args__ = (CheckConstraint(f"kind IN {KINDS}", name="kind"),)
    id: int | None = Field(default=None, primary_key=True)
    client_id: int = Field(foreign_key="clients.id", index=True)
    kind: str
    is_granted: bool
    signature_id: int = Field(foreign_key="signatures.id")
    given_at: datetime
    revoked_at: datetime | None = None
    revoked_how: str = ""  # by the client on their own page, or by the studio as the client asked


class PermissionZone(Row, table=True):
    __tablename__ = "permission_zones"
    permission_id: int = Field(foreign_key="permissions.id", primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", primary_key=True, index=True)


class SigningRequest(Row, table=True):
    """What a client was asked to sign through one link: the zones travel with it."""

    __tablename__ = "signing_requests"
    id: int | None = Field(default=None, primary_key=True)
    case_id: int = Field(foreign_key="cases.id", index=True)
    link_id: int = Field(foreign_key="links.id", unique=True)
    document_id: int = Field(foreign_key="documents.id")
    asked_at: datetime
    procedure: str = ""
    language: str = "en"
    signature_id: int | None = Field(default=None, foreign_key="signatures.id")


class SigningZone(Row, table=True):
    __tablename__ = "signing_zones"
    request_id: int = Field(foreign_key="signing_requests.id", primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", primary_key=True, index=True)


class SiteCheck(Row, table=True):
    """What the artist confirms beside a treatment signature: who it was, by which document, and who helped."""

    __tablename__ = "site_checks"
    id: int | None = Field(default=None, primary_key=True)
    signature_id: int = Field(foreign_key="signatures.id", unique=True)
    identity_kind: str = ""
    identity_words: str = ""
    interpreter: str = ""
    guardian_name: str = ""
    guardian_relation: str = ""
    guardian_identity: str = ""
    guardian_drawing_id: int | None = Field(default=None, foreign_key="blobs.id")
    countersigned_by: int = Field(foreign_key="members.id")
    countersigned_name: str
    countersigned_at: datetime
    paper: str = ""  # canonical JSON of all this and the hash of the client's paper
    paper_hash: str = ""


class OwnText(Row, table=True):
    """A studio's own wording of a text to be signed, in one language; the newest that was not ended counts."""

    __tablename__ = "own_texts"
    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(index=True)
    language: str
    body: str
    reason: str
    made_by: int | None = Field(default=None, foreign_key="members.id")
    made_at: datetime
    ended_at: datetime | None = None
    ended_by: int | None = Field(default=None, foreign_key="members.id")
