"""Passwords: hashed with argon2id, compared without telling how far they agree, hashed anew when the cost is raised."""

from __future__ import annotations

import threading
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from vaporwright.foundation.errors import InputError

SHORTEST: Final = 10
LONGEST: Final = 200
_HASHER: Final = PasswordHasher()
_TURNS: Final = threading.BoundedSemaphore(2)  # each takes 64 MiB and all of a core
_NOBODY: Final = "$argon2id$v=19$m=65536,t=3,p=4$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"


def hashed(password: str) -> str:
    """The hash of a new password.

    Raises: InputError for one that is too short or too long.
    """
    if not SHORTEST <= len(password) <= LONGEST:
        problem = f"has {len(password)} characters"
        raise InputError("password", "", problem, f"{SHORTEST} to {LONGEST} characters; several words do well")
    with _TURNS:
        return _HASHER.hash(password)


def matches(password_hash: str | None, password: str) -> bool:
    """Whether a password is the one; where there is no account, it takes as long to say no."""
    if len(password) > LONGEST:
        return False
    try:
        with _TURNS:
            return _HASHER.verify(password_hash or _NOBODY, password) and password_hash is not None
    except (VerificationError, InvalidHashError):
        return False


def wants_rehash(password_hash: str) -> bool:
    """Whether the hash was made with other parameters than those of today."""
    return _HASHER.check_needs_rehash(password_hash)
