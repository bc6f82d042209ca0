"""Things about a result that its reader must know, with their figures kept apart from the words.

The edge puts the figures in, in the reader's units.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Shown = Callable[[float, str], str]  # SI value and quantity of display_units to number and unit


@dataclass(frozen=True)
class Notice:
    """A named warning: a sentence with {0}, {1}, ... for its figures, each an SI value with its quantity."""

    name: str
    text: str
    figures: tuple[tuple[float, str], ...] = ()
    seasons: tuple[str, ...] = ()  # which raise it; empty for all

    def words(self, shown: Shown) -> str:
        """The sentence with its figures."""
        text = self.text.format(*(shown(value, quantity) for value, quantity in self.figures))
        return f"{text} ({', '.join(self.seasons)})" if self.seasons else text


def merged(by_season: dict[str, tuple[Notice, ...]]) -> tuple[Notice, ...]:
    """Every notice once, with the figures of the first season that raises it and the names of all that do."""
    first: dict[str, Notice] = {}
    raised: dict[str, list[str]] = {}
    for season, notices in by_season.items():
        for notice in notices:
            first.setdefault(notice.name, notice)
            raised.setdefault(notice.name, []).append(season)
    return tuple(
        Notice(notice.name, notice.text, notice.figures, _unless_all(raised[name], len(by_season)))
        for name, notice in first.items()
    )


def _unless_all(seasons: list[str], count: int) -> tuple[str, ...]:
    return () if len(seasons) == count else tuple(seasons)
