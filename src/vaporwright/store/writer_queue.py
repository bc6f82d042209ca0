"""One writer at a time, and one commit for all who wait: what is acknowledged costs a sync, shared by the group.

There is no thread of its own: whoever gets the turn writes for everybody who has lined up meanwhile.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from vaporwright.acceptance.record.chain import Row

LARGEST_GROUP = 50


@dataclass
class Request:
    """Rows to append, and what came of it: the rows as stored, or why not. Neither is set before the commit."""

    run: str
    expected_seq: int
    rows: tuple[Row, ...]
    stored: tuple[Row, ...] | None = None
    error: Exception | None = None

    @property
    def answered(self) -> bool:
        """Whether it is known what came of it."""
        return self.stored is not None or self.error is not None


class WriterQueue:
    """Lines up requests and has them written in groups, by a function that answers each of a group."""

    def __init__(self, write: Callable[[list[Request]], None]) -> None:
        self._write = write
        self._line: list[Request] = []
        self._writing = False
        self._changed = threading.Condition()

    def submit(self, request: Request) -> tuple[Row, ...]:
        """Wait until a request is written, with whoever waits too; raise what came of it otherwise."""
        with self._changed:
            self._line.append(request)
            self._changed.wait_for(lambda: request.answered or not self._writing)
            while not request.answered:  # nobody writes: this one does, for all in line
                self._writing = True
                group, self._line = self._line[:LARGEST_GROUP], self._line[LARGEST_GROUP:]
                self._write_unlocked(group)
                self._changed.wait_for(lambda: request.answered or not self._writing)
        if request.error is not None:
            raise request.error
        return request.stored or ()

    def _write_unlocked(self, group: list[Request]) -> None:
        """Write while others may line up; those who are answered then all go on at once."""
        self._changed.release()
        try:
            self._write(group)
        finally:
            self._changed.acquire()
            self._writing = False
            self._changed.notify_all()
