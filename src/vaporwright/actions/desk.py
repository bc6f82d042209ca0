"""Whoever enters something into a record: name, role, and the clock and ids of the edge, in one place.

A command and a page both enter through a desk: it stamps the command, signs with the shop's key where a signature is
asked for, and commits. Entered twice under one id, it is entered once.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from vaporwright.acceptance.record.events import Attachment, Command, Stamp
from vaporwright.acceptance.record.state import RunState
from vaporwright.foundation.errors import InputError
from vaporwright.store.commit import commit, load_state
from vaporwright.store.record_store import RecordStore
from vaporwright.store.signing import SigningKey


def now() -> str:
    """The time here, ISO 8601 with its offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def fresh_id() -> str:
    """An id for a new event."""
    return str(uuid.uuid4())


@dataclass(frozen=True)
class Desk:
    """One person at one store."""

    store: RecordStore
    who: str
    role: str
    clock: Callable[[], str] = field(default=now)
    ids: Callable[[], str] = field(default=fresh_id)

    def stamp(self, event_id: str = "") -> Stamp:
        """For a command; the id of an entry that may be sent again is handed in."""
        return Stamp(event_id or self.ids(), self.clock(), self.who, self.role, version("vaporwright"))

    def state(self, run: str, known: RunState | None = None) -> RunState:
        """A run as it stands; from a state known before, only what came since is read.

        Raises: InputError where there is no such run.
        """
        state = load_state(self.store, run, known)
        if state.kind is None:
            there = ", ".join(entry.run for entry in self.store.runs()) or "none yet"
            raise InputError("store", run, "is no run of this store", there)
        return state

    def enter(self, run: str, command: Command, known: RunState | None = None) -> RunState:
        """Enter a command; the state after it comes back, and it is on the disk."""
        return commit(self.store, run, command, known)

    def attach(self, content: bytes, name: str, media_type: str) -> Attachment:
        """Keep a file, to be named in a command."""
        if not content:
            raise InputError(name, "", "is empty", "a file with something in it")
        sha256 = self.store.put(content)
        assert sha256 == hashlib.sha256(content).hexdigest()
        return Attachment(sha256, name, media_type, len(content))

    def sign(self, run: str, key_file: Path, statement: str) -> RunState:
        """Sign the head of a run as it stands now."""
        state = self.state(run)
        return self.enter(run, SigningKey(key_file).sign(state, self.stamp(), statement), state)

    def release(self, run: str, key_file: Path, statement: str) -> RunState:
        """Sign the ship release."""
        state = self.state(run)
        return self.enter(run, SigningKey(key_file).release(state, self.stamp(), statement), state)
