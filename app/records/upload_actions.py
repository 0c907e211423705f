"""What brings photos in: filing one that was read, and keeping the pieces of one until it is whole.

The pieces are no part of the record and not in the trail; the photo that they become is.
"""

import json
from collections.abc import Sequence
from datetime import date, timedelta

from sqlmodel import Session, col, select

from app.platform import clock
from app.platform.audit import Actor, canonical
from app.platform.forms import Refused
from app.platform.storage import Stored
from app.records import upload_queries
from app.records.capture_models import PhotoUpload, UploadPiece
from app.records.models import Case, Photo, Zone
from app.records.photo_actions import add_photo
from app.records.photo_header import Header, sensible_day, taken_at
from app.records.upload_forms import MAX_PHOTO, PIECE_SIZE, AboutPhoto, BeginUpload

KEPT = timedelta(days=1)  # what is on its way for longer will not arrive any more
MOST_AT_ONCE = 60  # of one member, so that nobody fills the disk
OTHER_KEY = "This key stands for another photo. Choose the photo again."
DAY_AHEAD = "This day lies ahead. Give the day the photo was taken."
WHO_IS_THERE = "Name who else is in the room, or write that the client wished for nobody."


def lacks_chaperone(zone: Zone, chaperone: str) -> bool:
    """Of a sensitive place it is always said who else was in the room, be it that the client wished for nobody."""
    return zone.is_sensitive and not chaperone.strip()


def file_photo(db: Session, zone: Zone, header: Header, original: Stored, about: AboutPhoto, *, on: date,
               time_zone: str, upload_key: str | None = None, by: Actor) -> Photo:
    """Files a photo of a zone with what its camera wrote; `on` is today where the studio stands."""
    return add_photo(
        db, db.get_one(Case, zone.case_id), zone, purpose=about.purpose, original=original, width=header.width,
        height=header.height, camera=header.camera, taken_on=about.taken_on or sensible_day(header, on) or on,
        taken_at=taken_at(header, on, time_zone), facts=header.facts.text(), frame=about.frame,
        chaperone=about.chaperone if zone.is_sensitive else "", upload_key=upload_key, by=by,
    )  # fmt: skip


def begin_upload(db: Session, zone: Zone, asked: BeginUpload, *, on: date, by: Actor) -> PhotoUpload:
    """An upload to be sent in pieces; asked for twice with one key, it is the same one."""
    assert zone.id is not None
    known = upload_queries.upload_with_key(db, asked.key)
    if known is not None:
        if (known.zone_id, known.begun_by, known.size) != (zone.id, by.id, asked.size):
            raise Refused("key", OTHER_KEY)
        return known
    if upload_queries.photo_with_key(db, asked.key) is not None:  # of another zone: a page has one key for one photo
        raise Refused("key", OTHER_KEY)
    if asked.size > MAX_PHOTO:
        raise Refused("size", f"The photo is larger than {MAX_PHOTO // 1024**2} megabytes. Send a smaller one.")
    if asked.taken_on is not None and asked.taken_on > on:
        raise Refused("taken_on", DAY_AHEAD)
    if lacks_chaperone(zone, asked.chaperone):
        raise Refused("chaperone", WHO_IS_THERE)
    if upload_queries.unfinished_of(db, by.id or 0) >= MOST_AT_ONCE:
        raise Refused("photos", "Too many photos of yours are on their way. Wait until they are in.")
    about = AboutPhoto.model_validate(asked.model_dump()).model_dump(mode="json")
    upload = PhotoUpload(key=asked.key, zone_id=zone.id, name=asked.name, size=asked.size, piece_size=PIECE_SIZE,
                         about=canonical(about), begun_by=by.id, begun_at=clock.now())
    db.add(upload)
    db.flush()
    return upload


def keep_piece(db: Session, upload: PhotoUpload, number: int, kept: Stored) -> bool:
    """Notes a piece that is on disk; false when it was there already, and its file is not needed."""
    assert upload.id is not None
    if upload.photo_id is not None or upload_queries.piece_of(db, upload, number) is not None:
        return False
    db.add(UploadPiece(upload_id=upload.id, number=number, file_name=kept.name, sha256=kept.sha256, size=kept.size,
                       key_id=kept.key_id))
    return True


def drop_pieces(db: Session, upload: PhotoUpload) -> list[str]:
    """Forgets the pieces of an upload; gives the files to remove once that is written."""
    pieces = upload_queries.pieces_of(db, upload)
    for piece in pieces:
        db.delete(piece)
    return [piece.file_name for piece in pieces]


def finish_upload(db: Session, upload: PhotoUpload, header: Header, original: Stored, *, on: date, time_zone: str,
                  by: Actor) -> Photo:
    """Files the photo that the pieces are, once: asked for again, it is the same photo."""
    if upload.photo_id is not None:
        return db.get_one(Photo, upload.photo_id)
    about = AboutPhoto.model_validate(json.loads(upload.about))
    photo = file_photo(db, db.get_one(Zone, upload.zone_id), header, original, about, on=on, time_zone=time_zone,
                       upload_key=upload.key, by=by)
    upload.photo_id = photo.id
    db.add(upload)
    return photo


def give_up(db: Session, uploads: Sequence[PhotoUpload]) -> list[str]:
    """Forgets uploads; gives the files to remove once that is written."""
    files = [name for upload in uploads for name in drop_pieces(db, upload)]
    db.flush()
    for upload in uploads:
        db.delete(upload)
    return files


def give_up_stale(db: Session) -> list[str]:
    """Forgets the uploads that were begun more than a day ago, arrived or not."""
    stale = select(PhotoUpload).where(col(PhotoUpload.begun_at) < clock.now() - KEPT)
    return give_up(db, db.exec(stale.order_by(col(PhotoUpload.id))).all())
