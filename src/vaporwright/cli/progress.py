"""Progress with the time left, for a person at a terminal who would wait more than two seconds."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TextIO

PATIENCE_s = 2.0
WIDTH = 78


class Progress:
    """Called with the share done, 0 to 1; writes one line that goes away at the end. Silent where nobody watches."""

    def __init__(
        self,
        what: str = "",
        stream: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._what = what
        self._stream = sys.stderr if stream is None else stream
        self._clock = clock
        self._began_s = clock()
        self._shown = False

    def __call__(self, share: float) -> None:
        """Show the share done and the time left, as far as it can be told from the time passed."""
        if not self._stream.isatty():
            return
        if share >= 1.0:
            self._write("" if self._shown else None)
            return
        passed_s = self._clock() - self._began_s
        left_s = passed_s * (1.0 - share) / share if share > 0.0 else 0.0
        if self._shown or passed_s + left_s > PATIENCE_s:
            self._shown = True
            self._write(f"{self._what}: {share:.0%} done, about {left_s:.0f} s left")

    def told(self, stage: str, done: int = 0, of: int = 0) -> None:
        """Show a stage that says its steps; one whose steps cannot be counted shows nothing."""
        if stage != self._what:
            if self._shown:
                self._write("")
            self._what, self._began_s, self._shown = stage, self._clock(), False
        if of:
            self(done / of)

    def _write(self, text: str | None) -> None:
        if text is not None:
            self._stream.write(f"\r{text:<{WIDTH}}\r")
            self._stream.flush()
