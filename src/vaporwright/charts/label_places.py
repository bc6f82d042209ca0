"""Where labels go so that they never overlap: one-dimensional placing, in pixels downwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A shown range."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Where a value lies: 0 at the low end, 1 at the high end."""
        return (value - self.low) / (self.high - self.low)

    def at(self, share: float) -> float:
        """The value at a share of the range."""
        return self.low + share * (self.high - self.low)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as possible to those wanted (ascending), at least `gap` apart, between `low` and `high`.

    Neighbours that would overlap are merged into one block around the mean of what they want.
    """
    high = max(high, low + gap * (len(wanted) - 1))
    blocks: list[tuple[float, int]] = []  # sum of (wanted - offset in block), members
    for place in wanted:
        blocks.append((place, 1))
        while len(blocks) > 1 and _top(blocks[-1], gap, low, high) < _bottom(blocks[-2], gap, low, high) + gap:
            total, count = blocks.pop()
            before, members = blocks.pop()
            blocks.append((before + total - gap * members * count, members + count))
    return [_top(block, gap, low, high) + gap * index for block in blocks for index in range(block[1])]


def _top(block: tuple[float, int], gap: float, low: float, high: float) -> float:
    total, count = block
    return min(max(total / count, low), high - gap * (count - 1))


def _bottom(block: tuple[float, int], gap: float, low: float, high: float) -> float:
    return _top(block, gap, low, high) + gap * (block[1] - 1)


def between(count: int, gap: float, lowest: float, taken: Sequence[float]) -> list[float]:
    """`count` places upwards from `lowest`, `gap` apart, each clear of the places taken; the lowest first."""
    places: list[float] = []
    place = lowest
    while len(places) < count:
        near = [other for other in taken if abs(other - place) < 0.75 * gap]
        if near:
            place = min(near) - 0.76 * gap
            continue
        places.append(place)
        place -= gap
    return places
