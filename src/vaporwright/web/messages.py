"""Messages for the next page somebody sees, kept in memory: one that is lost with the server does no harm."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Final

MOST_READERS: Final = 500
MOST_EACH: Final = 5


@dataclass(frozen=True)
class Message:
    """A line at the head of the next page; kind is "notice" or "caution"."""

    text: str
    kind: str


class Messages:
    """Left by one page, taken by the next."""

    def __init__(self) -> None:
        self._left: OrderedDict[str, tuple[Message, ...]] = OrderedDict()
        self._lock = threading.Lock()

    def leave(self, reader: str, text: str, kind: str) -> None:
        """For whoever has this secret."""
        with self._lock:
            self._left[reader] = (*self._left.pop(reader, ()), Message(text, kind))[-MOST_EACH:]
            while len(self._left) > MOST_READERS:
                self._left.popitem(last=False)

    def taken(self, reader: str) -> tuple[Message, ...]:
        """What was left, and no more the next time."""
        with self._lock:
            return self._left.pop(reader, ())
