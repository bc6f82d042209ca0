"""The punch list: what is to be put right, in three categories, with an owner and a retest.

Category A keeps the unit in the shop; B is put right before start-up, C after it (common practice, no source). The
witness may let an item of B or C stand open, never one of A.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vaporwright.acceptance.record.events import Category


@dataclass(frozen=True)
class Mark:
    """Who did something, in which role, when it was entered, by which event, with which words; and when it was done."""

    who: str
    role: str
    at: str
    event_id: str
    words: str = ""
    happened_at: str = ""  # beside the unit, where that was before it was entered
    late_because: str = ""

    @property
    def happened(self) -> str:
        """When it was done, as far as the record knows."""
        return self.happened_at or self.at


@dataclass(frozen=True)
class PunchItem:
    """One item. Closed and accepted open carry who and when, and the evidence of the retest or the witness's note."""

    number: int
    category: Category
    text: str
    owner: str
    step: str
    opened: Mark
    closed: Mark | None = None
    accepted_open: Mark | None = None

    @property
    def settled(self) -> bool:
        """Whether nothing waits for it: closed, or left open with the witness's consent."""
        return self.closed is not None or self.accepted_open is not None


def item_numbered(items: Iterable[PunchItem], number: int) -> PunchItem | None:
    """The item of a number."""
    return next((item for item in items if item.number == number), None)


def keeps_in_the_shop(items: Iterable[PunchItem]) -> tuple[PunchItem, ...]:
    """Items of category A that are not closed."""
    return tuple(item for item in items if item.category == "A" and item.closed is None)
