"""What a test says of a reading, a step or a run; the same six words everywhere."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal, TypeAlias

Outcome: TypeAlias = Literal[
    "accepted", "accepted in the guard band", "not accepted", "undecided", "not run", "error of the test itself"
]
ACCEPTED: Final = "accepted"
IN_GUARD_BAND: Final = "accepted in the guard band"
NOT_ACCEPTED: Final = "not accepted"
UNDECIDED: Final = "undecided"
NOT_RUN: Final = "not run"
TEST_ERROR: Final = "error of the test itself"
OUTCOMES: Final[tuple[Outcome, ...]] = (NOT_ACCEPTED, TEST_ERROR, UNDECIDED, NOT_RUN, IN_GUARD_BAND, ACCEPTED)
PASSES: Final[frozenset[Outcome]] = frozenset((ACCEPTED, IN_GUARD_BAND))


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """The outcome of several together: the first of OUTCOMES among them, worst first; `not run` of none."""
    found = set(outcomes)
    return next((outcome for outcome in OUTCOMES if outcome in found), NOT_RUN)
