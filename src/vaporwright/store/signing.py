"""The shop's key, and signatures over the head of a record (Ed25519, RFC 8032).

The key lies in a file at the edge, readable by its owner only, and is made on first use. A signature says which key
signed; that the key is the shop's is what its fingerprint, known from elsewhere, is for. It shows that a record is the
one that was signed; it does not show that the test was a good one.
"""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from vaporwright.acceptance.record.chain import SignedHead, Verification, signing_text
from vaporwright.acceptance.record.events import ReleaseToShip, Signed, Stamp
from vaporwright.acceptance.record.state import RunState
from vaporwright.foundation.errors import InputError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


class SigningKey:
    """The key in a file. Made on first use, with permissions for the owner alone."""

    def __init__(self, path: Path) -> None:
        """Read the key, or make it.

        Raises: InputError for a file that is no such key, or that others may read.
        """
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import (
            Encoding,
            NoEncryption,
            PrivateFormat,
            load_pem_private_key,
        )

        if not path.exists():
            fresh = Ed25519PrivateKey.generate()
            _write_once(path, fresh.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        if os.name == "posix" and stat.S_IMODE(path.stat().st_mode) & 0o077:
            raise InputError(str(path), "", "others may read this signing key", "permissions 0600")
        try:
            key = load_pem_private_key(path.read_bytes(), None)
        except (ValueError, TypeError):
            key = None
        if not isinstance(key, Ed25519PrivateKey):
            raise InputError(str(path), "", "is no signing key", "an Ed25519 key in PEM, as this tool makes it")
        self._key: Ed25519PrivateKey = key
        self.public_key = key.public_key().public_bytes_raw().hex()

    @property
    def fingerprint(self) -> str:
        """What people compare."""
        return fingerprint_of(self.public_key)

    def sign(self, state: RunState, stamp: Stamp, statement: str) -> Signed:
        """The sign-off of the head that the state shows."""
        signature = self._over(state, stamp, statement)
        return Signed(stamp, state.seq, state.head, statement, self.public_key, signature)

    def release(self, state: RunState, stamp: Stamp, statement: str) -> ReleaseToShip:
        """The ship release, signed over the head that the state shows."""
        signature = self._over(state, stamp, statement)
        return ReleaseToShip(stamp, state.seq, state.head, statement, self.public_key, signature)

    def _over(self, state: RunState, stamp: Stamp, statement: str) -> str:
        return self._key.sign(signing_text(state.run, state.seq, state.head, stamp.role, stamp.who, statement)).hex()


def _write_once(path: Path, content: bytes) -> None:
    """Write a new file for the owner alone; one that appeared meanwhile stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(prefix=path.name, dir=path.parent)  # 0600
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(draft, path)  # whole or not at all, and never over another
    except FileExistsError:
        pass
    finally:
        os.unlink(draft)


def fingerprint_of(public_key: str) -> str:
    """SHA-256 of a public key, in groups of four that can be read out."""
    digits = hashlib.sha256(bytes.fromhex(public_key)).hexdigest()
    return " ".join(digits[place : place + 4] for place in range(0, 32, 4))


def is_genuine(run: str, signed: SignedHead) -> bool:
    """Whether a signature was made with its key over what it claims."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    text = signing_text(run, signed.seq - 1, signed.head, signed.role, signed.name, signed.statement)
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(signed.public_key)).verify(
            bytes.fromhex(signed.signature), text
        )
    except (ValueError, InvalidSignature):
        return False
    return True


def verify_signatures(found: Verification, fingerprint: str | None = None) -> Verification:
    """A verification of a chain, taken further to its signatures; with a fingerprint: all must be of that key.

    Asking for a fingerprint asks for a signature: a record that nobody signed then fails.
    """
    if not found.ok:
        return found
    for signed in found.signatures:
        if not is_genuine(found.run, signed):
            return _failed(found, f"the signature of {signed.name} ({signed.role}) is not genuine", signed.seq)
        if fingerprint is not None and fingerprint_of(signed.public_key) != " ".join(fingerprint.split()):
            return _failed(found, f"{signed.name} ({signed.role}) signed with another key", signed.seq)
    if fingerprint is not None and not found.signatures:
        return _failed(found, "nobody signed the record", 0)
    return found


def _failed(found: Verification, problem: str, seq: int) -> Verification:
    return replace(found, ok=False, problem=problem, seq=seq)
