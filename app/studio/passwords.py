"""Passwords: argon2, and never worked out while a write handle is open."""

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

# OWASP's smallest argon2id setting (19 MiB, two passes): a studio's small machine shows several pages meanwhile.
_hasher = PasswordHash((Argon2Hasher(memory_cost=19_456, time_cost=2, parallelism=1),))
_nobody = _hasher.hash("nobody has this password")


def hash_password(password: str) -> str:
    return _hasher.hash(password)


def is_right(password: str, password_hash: str | None) -> bool:
    """Checks a password; takes as long for a login that does not exist."""
    return _hasher.verify(password, password_hash or _nobody) and password_hash is not None
