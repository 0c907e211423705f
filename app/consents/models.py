from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.platform.rows import Row

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
    document_id: int = Field(foreign_key="documents.id")
    typed_name: str = ""
    drawing_id: int | None = Field(default=None, foreign_key="blobs.id")
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
    signature_id: int | None = Field(default=None, foreign_key="signatures.id")


class SigningZone(Row, table=True):
    __tablename__ = "signing_zones"
    request_id: int = Field(foreign_key="signing_requests.id", primary_key=True)
    zone_id: int = Field(foreign_key="zones.id", primary_key=True, index=True)
