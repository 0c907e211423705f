import os
import time
from pathlib import Path

import pytest

from app.platform.audit import SYSTEM, entry
from app.platform.service import Service
from app.platform.storage import Blob, Damaged, Storage, keep


def kept(service: Service, plain: bytes) -> Blob:
    stored = service.storage.put(plain, "image/jpeg")
    with service.database.write() as db, entry(db, "platform.blob.kept", SYSTEM):
        return keep(db, stored)


def files(service: Service) -> list[Path]:
    return sorted(service.storage.folder.rglob("*.blob"))


def test_a_file_comes_back_as_it_went_in(service: Service) -> None:
    plain = os.urandom(100_000)
    assert service.storage.get(kept(service, plain)) == plain


def test_on_disk_it_shows_nothing(service: Service) -> None:
    kept(service, b"a letter of a clinician" * 50)
    assert b"clinician" not in files(service)[0].read_bytes()
    assert files(service)[0].stat().st_mode & 0o077 == 0


def test_two_equal_files_are_two_blobs(service: Service) -> None:
    first, second = kept(service, b"same"), kept(service, b"same")
    assert first.name != second.name
    assert first.sha256 == second.sha256
    one, other = files(service)
    assert one.read_bytes() != other.read_bytes()


@pytest.mark.parametrize("where", [0, 5, 20, -1])
def test_one_changed_byte_is_found(service: Service, where: int) -> None:
    blob = kept(service, b"the plain bytes of a photo")
    path = files(service)[0]
    content = bytearray(path.read_bytes())
    content[where] ^= 1
    path.write_bytes(content)
    with pytest.raises(Damaged):
        service.storage.get(blob)


def test_one_file_cannot_stand_in_for_another(service: Service) -> None:
    blob, other = kept(service, b"mine"), kept(service, b"yours")
    by_name = {path.stem: path for path in files(service)}
    by_name[blob.name].write_bytes(by_name[other.name].read_bytes())
    with pytest.raises(Damaged):
        service.storage.get(blob)


def test_a_missing_file_is_said(service: Service) -> None:
    blob = kept(service, b"gone")
    files(service)[0].unlink()
    with pytest.raises(Damaged, match="missing"):
        service.storage.get(blob)


def test_the_key_stands_outside_the_data_and_is_not_made_twice(service: Service) -> None:
    blob = kept(service, b"needs the key")
    key = service.settings.key
    assert service.settings.data not in key.parents
    assert key.stat().st_mode & 0o077 == 0
    key.unlink()
    with pytest.raises(Damaged, match="key file"):
        Storage(service.settings).get(blob)
    with pytest.raises(Damaged, match="key file"):
        Storage(service.settings).make_ready()
    assert not key.exists()


def test_only_old_files_without_a_row_are_swept(service: Service) -> None:
    blob = kept(service, b"has a row")
    old, new = service.storage.put(b"old", "image/jpeg"), service.storage.put(b"new", "image/jpeg")
    for path in files(service):
        if path.stem in (old.name, blob.name):
            long_ago = time.time() - 2 * 24 * 3600
            os.utime(path, (long_ago, long_ago))
    assert service.storage.sweep({blob.name}) == 1
    assert {path.stem for path in files(service)} == {blob.name, new.name}
