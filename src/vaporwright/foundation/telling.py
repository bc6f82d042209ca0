"""How work that takes a while tells how far it is: to a command's line, or from another process to a page."""

from __future__ import annotations

from typing import Protocol


class Report(Protocol):
    """Told the stage in words, and in it how many of how many steps are done; 0 of 0 where they cannot be counted."""

    def __call__(self, stage: str, done: int = 0, of: int = 0) -> None: ...


def unheard(stage: str, done: int = 0, of: int = 0) -> None:
    """Nobody listens."""
    del stage, done, of
