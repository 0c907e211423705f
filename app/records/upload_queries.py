"""Photos on their way in pieces: what is there of them, and for whom."""

from dataclasses import dataclass
from math import ceil

from sqlmodel import Session, col, func, select

from app.platform.storage import Stored
from app.records import queries
from app.records.capture_models import PhotoUpload, UploadPiece
from app.records.models import Photo
from app.studio.access import NotFound, Who


@dataclass(frozen=True)
class Arriving:
    """An upload and the pieces of it that are there."""

    upload: PhotoUpload
    pieces: tuple[UploadPiece, ...]

    @property
    def have(self) -> list[int]:
        return [piece.number for piece in self.pieces]

    @property
    def is_whole(self) -> bool:
        return len(self.pieces) == count_of(self.upload)


def count_of(upload: PhotoUpload) -> int:
    return ceil(upload.size / upload.piece_size)


def length_of(upload: PhotoUpload, number: int) -> int:
    """How long one piece is, in bytes; 0 when there is no such piece."""
    return max(0, min(upload.piece_size, upload.size - number * upload.piece_size))


def stored(piece: UploadPiece) -> Stored:
    return Stored(piece.file_name, piece.sha256, piece.size, "piece", piece.key_id)


def arriving_for(db: Session, who: Who, upload_id: int) -> Arriving:
    """An upload of this member's own, to a zone that they may open."""
    upload = db.get(PhotoUpload, upload_id)
    if upload is None or upload.begun_by != who.id:
        raise NotFound
    queries.zone_for(db, who, upload.zone_id)
    return Arriving(upload, tuple(pieces_of(db, upload)))


def pieces_of(db: Session, upload: PhotoUpload) -> list[UploadPiece]:
    wanted = select(UploadPiece).where(UploadPiece.upload_id == upload.id).order_by(col(UploadPiece.number))
    return list(db.exec(wanted).all())


def piece_of(db: Session, upload: PhotoUpload, number: int) -> UploadPiece | None:
    wanted = select(UploadPiece).where(UploadPiece.upload_id == upload.id, UploadPiece.number == number)
    return db.exec(wanted).first()


def upload_with_key(db: Session, key: str) -> PhotoUpload | None:
    return db.exec(select(PhotoUpload).where(PhotoUpload.key == key)).first()


def photo_with_key(db: Session, key: str) -> Photo | None:
    return db.exec(select(Photo).where(Photo.upload_key == key)).first()


def unfinished_of(db: Session, member_id: int) -> int:
    """How many photos of a member are on their way."""
    wanted = select(func.count(col(PhotoUpload.id))).where(PhotoUpload.begun_by == member_id)
    return db.exec(wanted.where(col(PhotoUpload.photo_id).is_(None))).one()


def piece_files(db: Session) -> set[str]:
    """The files that belong to photos on their way."""
    return set(db.exec(select(UploadPiece.file_name)).all())
