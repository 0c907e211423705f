"""What photos are taken with: charts of the studio's own, printed capture cards, and photos on their way in pieces."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from app.platform.rows import OFF, Row


class ChartKind(Row, table=True):
    """A colour chart of the studio's own with its measured values. Photos keep pointing at the one they stood on."""

    __tablename__ = "chart_kinds"
    id: int | None = Field(default=None, primary_key=True)
    name: str
    layout: str  # canonical JSON: columns, rows, which patches are neutral, their names
    values: str  # canonical JSON: lab_d65 of every patch, row by row
    values_from: str  # who measured it with what, in words
    pitch_mm: float | None = None  # from one patch to the next, by a ruler
    is_grey_card: bool = False
    is_default: bool = False
    registered_by: int | None = Field(default=None, foreign_key="members.id")
    registered_at: datetime
    retired_at: datetime | None = None
    revision: int = 1


class CaptureCard(Row, table=True):
    """A printed card with a marker of stated size. It gives no scale until the length of its bar was typed in."""

    __tablename__ = "capture_cards"
    id: int | None = Field(default=None, primary_key=True)
    marker_id: int = Field(unique=True)
    marker_mm: float  # as drawn; what it truly is follows from the bar
    bar_mm: float | None = None  # measured length of the bar drawn as 100 mm
    measured_by: int | None = Field(default=None, foreign_key="members.id")
    measured_at: datetime | None = None
    printed_by: int | None = Field(default=None, foreign_key="members.id")
    printed_at: datetime
    retired_at: datetime | None = None
    revision: int = 1


class PhotoUpload(Row, table=True):
    """A photo on its way in pieces, so that a phone that loses the network goes on where it was."""

    __tablename__ = "photo_uploads"
    __table_args__ = ({"info": OFF},)
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)  # made in the page
    zone_id: int = Field(foreign_key="zones.id", index=True)
    name: str = ""
    size: int
    piece_size: int
    about: str = "{}"  # canonical JSON of what was said of it: purpose, frame, date
    begun_by: int | None = Field(default=None, foreign_key="members.id")
    begun_at: datetime
    photo_id: int | None = Field(default=None, foreign_key="photos.id")


class UploadPiece(Row, table=True):
    """One piece of a photo on its way, encrypted like every file; no file of the record, it goes when that is in."""

    __tablename__ = "upload_pieces"
    __table_args__ = (UniqueConstraint("upload_id", "number"), {"info": OFF})
    id: int | None = Field(default=None, primary_key=True)
    upload_id: int = Field(foreign_key="photo_uploads.id", index=True)
    number: int
    file_name: str = Field(unique=True)
    sha256: str
    size: int
    key_id: str
