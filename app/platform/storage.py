"""Encrypted files on disk. A blob's name is random; its row holds the hash of the plain bytes.

Envelope version 1: the magic `EVS1`, a 12-byte nonce, then AES-256-GCM of the plain bytes with the blob's name as the
additional data, so that one file cannot stand in for another.
"""

import hashlib
import os
import secrets
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from sqlalchemy import BigInteger
from sqlmodel import Field, Session

from app.platform import clock
from app.platform.rows import Row
from app.platform.settings import Settings

MAGIC = b"EVS1"
ENVELOPE = 1
SWEEP_AFTER_SECONDS = 24 * 3600


class Blob(Row, table=True):
    __tablename__ = "blobs"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    sha256: str
    size: int = Field(sa_type=BigInteger)
    kind: str
    envelope: int = ENVELOPE
    key_id: str
    stored_at: datetime


@dataclass(frozen=True)
class Stored:
    """A file that is safely on disk and waits for its row."""

    name: str
    sha256: str
    size: int
    kind: str
    key_id: str


class Damaged(Exception):
    """A stored file that is missing, was altered, or does not open with the key."""


def make_key(file: Path) -> None:
    """Makes the key of this installation, once; without it no stored file opens again."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as out:
        out.write(f"{secrets.token_hex(4)}:{secrets.token_hex(32)}\n")
        out.flush()
        os.fsync(out.fileno())


class Storage:
    def __init__(self, settings: Settings) -> None:
        self.folder = settings.data / "files"
        self._key_file = settings.key
        self._key: tuple[str, AESGCM] | None = None

    def _opened(self) -> tuple[str, AESGCM]:
        if self._key is None:
            if not self._key_file.exists():
                if self.folder.exists() and any(self.folder.rglob("*.blob")):
                    raise Damaged(f"the key file {self._key_file} is missing, and stored files need it")
                make_key(self._key_file)
            key_id, _, secret = self._key_file.read_text().strip().partition(":")
            self._key = key_id, AESGCM(bytes.fromhex(secret))
        return self._key

    def make_ready(self) -> None:
        """Makes the key where there is none yet; raises Damaged where stored files wait for a key that is gone."""
        self._opened()

    def _path(self, name: str) -> Path:
        return self.folder / name[:2] / f"{name}.blob"

    def put(self, plain: bytes, kind: str) -> Stored:
        """Seals and writes: temporary file, fsync, rename, fsync of the folder. Its row comes after."""
        key_id, key = self._opened()
        name, nonce = secrets.token_hex(16), secrets.token_bytes(12)
        path = self._path(name)
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        temporary = path.with_suffix(".part")
        with open(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(MAGIC + nonce + key.encrypt(nonce, plain, name.encode()))
            out.flush()
            os.fsync(out.fileno())
        temporary.rename(path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
        return Stored(name, hashlib.sha256(plain).hexdigest(), len(plain), kind, key_id)

    def get(self, kept: Blob | Stored) -> bytes:
        """The plain bytes, proven against the hash that was kept of them."""
        called = f"file {kept.id}" if isinstance(kept, Blob) else f"file {kept.name}"
        try:
            sealed = self._path(kept.name).read_bytes()
        except FileNotFoundError as error:
            raise Damaged(f"{called} is missing") from error
        if sealed[:4] != MAGIC:
            raise Damaged(f"{called} is not a stored file")
        try:
            plain = self._opened()[1].decrypt(sealed[4:16], sealed[16:], kept.name.encode())
        except InvalidTag as error:
            raise Damaged(f"{called} was altered, or the key is another one") from error
        if hashlib.sha256(plain).hexdigest() != kept.sha256:
            raise Damaged(f"{called} is not the one recorded")
        return plain

    def drop(self, name: str) -> None:
        """Removes a file that no row names any more; one that stays behind is swept."""
        self._path(name).unlink(missing_ok=True)

    def sweep(self, known: set[str]) -> int:
        """Removes files that no row names and that are older than a day (an upload whose transaction never came)."""
        removed = 0
        for path in self.folder.rglob("*.*") if self.folder.exists() else ():
            old = time.time() - path.stat().st_mtime > SWEEP_AFTER_SECONDS
            if path.is_file() and old and path.stem not in known:
                path.unlink()
                removed += 1
        return removed

    def answers(self) -> bool:
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return os.access(self.folder, os.W_OK)


def keep(db: Session, stored: Stored) -> Blob:
    """The row of a file that is already on disk; part of the action that needs it."""
    blob = Blob(
        name=stored.name,
        sha256=stored.sha256,
        size=stored.size,
        kind=stored.kind,
        key_id=stored.key_id,
        stored_at=clock.now(),
    )
    db.add(blob)
    db.flush()
    return blob
