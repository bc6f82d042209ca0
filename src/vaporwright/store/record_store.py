"""Where records are kept: the interface that decisions are handed on to.

A store knows rows and blobs, no events: what may be entered is decided in vaporwright.acceptance.record.deciding.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from vaporwright.acceptance.record.chain import Row
from vaporwright.foundation.errors import InputError, VaporwrightError


class Conflict(VaporwrightError):
    """Somebody else has entered something meanwhile: load again, decide again."""


class StoreError(InputError):
    """The store cannot do it; the message says what is wrong with the store and what to do."""


@dataclass(frozen=True)
class RunEntry:
    """A run in the store: its name, the number of its last event and its head."""

    run: str
    seq: int
    head: str


class RecordStore(Protocol):
    """What a store does. Whatever `append` and `put` have returned for is on the disk."""

    def load(self, run: str, after: int = 0) -> tuple[Row, ...]:
        """The rows of a run in order, those after an event's number."""

    def find(self, run: str, event_id: str) -> Row | None:
        """The row of an event, if it is stored."""

    def append(self, run: str, expected_seq: int, rows: tuple[Row, ...]) -> tuple[Row, ...]:
        """Add rows after the event expected to be last, all or none.

        Rows whose event ids are all stored already are not added again: what is stored comes back.

        Raises: Conflict where another event is last; StoreError where it cannot be written, and then nothing is.
        """

    def runs(self) -> tuple[RunEntry, ...]:
        """Every run, by name."""

    def put(self, content: bytes) -> str:
        """Keep a blob; its SHA-256 comes back."""

    def get(self, sha256: str) -> bytes:
        """A blob by its hash.

        Raises: StoreError where there is none, or it is not what was put.
        """

    def close(self) -> None:
        """Let go of everything."""
