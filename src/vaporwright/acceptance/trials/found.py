"""Trials as they were found: of a row, of anything else, and all of a unit's control together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from vaporwright.acceptance.trials.means import Means
from vaporwright.acceptance.trials.table_changes import Aspect
from vaporwright.acceptance.trials.trial import Context, PaperFilm, Trial
from vaporwright.controls.design import Row


@dataclass(frozen=True)
class RowTrial:
    """A trial of a row with the aspects that it shows, and in words what was done."""

    row: Row
    trial: Trial
    film: PaperFilm  # of the unit on paper
    context: Context
    means: Means
    shows: tuple[Aspect, ...]
    wait_s: float
    cost: float


@dataclass(frozen=True)
class OtherTrial:
    """A trial with what it is about, and what is done in it."""

    about: str  # name of an input or output, or empty
    trial: Trial
    context: Context
    means: tuple[Means, ...]


@dataclass(frozen=True)
class ControlTrials:
    """All trials of a unit's control.

    hidden: aspects of rows that nothing seen from outside can tell, by row; covered: rows without a trial of their own,
    by the step that shows them.
    """

    rows: tuple[RowTrial, ...]
    others: tuple[OtherTrial, ...]
    contexts: Mapping[str, Context]
    hidden: Mapping[str, tuple[Aspect, ...]]
    covered: Mapping[str, str]

    @cached_property
    def by_step(self) -> dict[str, Trial]:
        """Every trial by the key of its step, inputs and outputs first."""
        trials = [*(item.trial for item in self.others), *(item.trial for item in self.rows)]
        return {trial.key: trial for trial in trials}

    def of(self, row: str) -> tuple[RowTrial, ...]:
        """Those of a row."""
        return tuple(item for item in self.rows if item.row.name == row)
