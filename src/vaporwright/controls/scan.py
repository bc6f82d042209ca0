"""Running a table: a reference that reads it as written, and an engine that runs its flat program fast.

Both start at power-up, with everything false and every timer at nothing, and both can be put into any state, so that
a counterexample of the proof can be replayed on either.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporwright.controls.expressions import evaluate
from vaporwright.controls.program import compiled_program, run_scans
from vaporwright.controls.table import Cause, Effect, Latch, Table, Timer
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.kernels import compiled

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class ScanState:
    """All that one scan hands to the next."""

    values: Mapping[str, bool]  # of every name after the last scan
    counts: Mapping[str, int]  # of every timer


def power_up(table: Table) -> ScanState:
    """Everything false, every timer at nothing."""
    return ScanState(dict.fromkeys(table.names, False), {timer.name: 0 for timer in table.timers})


def scanned(table: Table, state: ScanState, inputs: Mapping[str, bool]) -> ScanState:
    """The reference: one scan, read off the table as it is written."""
    now, counts = {name: bool(inputs[name]) for name in table.signals}, dict(state.counts)
    for item in table.items:
        match item:
            case Timer(name, when, scans):
                counts[name] = min(counts[name] + 1, scans) if evaluate(when, now, state.values) else 0
                now[name] = counts[name] >= scans
            case Cause(name, on):
                now[name] = evaluate(on, now, state.values)
            case Latch(name, asked, ended, set_wins):
                sets, resets = evaluate(asked, now, state.values), evaluate(ended, now, state.values)
                if sets and resets:
                    now[name] = set_wins
                else:
                    now[name] = sets or (state.values[name] and not resets)
            case Effect(name, on, unless):
                now[name] = evaluate(on, now, state.values) and not evaluate(unless, now, state.values)
    return ScanState(now, counts)


class Engine:
    """The compiled interpreter with the program and the state of one table.

    `run` takes many scans in one call, `scan` one; both carry on from where the last call ended.
    """

    def __init__(self, table: Table) -> None:
        self.table = table
        self._program = compiled_program(table)
        self._values = np.zeros(self._program.slots, dtype=np.uint8)
        self._counters = np.zeros(self._program.counters, dtype=np.int64)
        self._run = compiled(run_scans)

    def run(self, inputs: ArrayLike) -> NDArray[np.bool_]:
        """All names after each scan.

        Args: inputs: shape (scans, signals), true or false, in the order of `table.signals`.
        Returns: shape (scans, names), in the order of `table.names`.
        Raises: InputError where the shape is another or an entry is neither 0 nor 1.
        """
        given = np.asarray(inputs)
        if given.ndim != 2 or given.shape[1] != self._program.signals:
            raise InputError(
                self.table.name, "inputs", f"shape {given.shape}", f"(scans, {self._program.signals}): one a signal"
            )
        if given.dtype != np.bool_ and not np.isin(given, (0, 1)).all():
            raise InputError(self.table.name, "inputs", "an entry is neither 0 nor 1", "true or false")
        read = np.ascontiguousarray(given, dtype=np.uint8)
        record = np.empty((read.shape[0], self._program.names), dtype=np.uint8)
        program = self._program
        self._run(
            program.code, program.kept, program.signals, program.names, self._values, self._counters, read, record
        )
        return record.view(np.bool_)

    def scan(self, inputs: Mapping[str, bool]) -> dict[str, bool]:
        """All names after one scan with the given signals, every one of them named."""
        row = np.array([[inputs[name] for name in self.table.signals]], dtype=np.bool_).reshape(1, -1)
        return dict(zip(self.table.names, self.run(row)[0].tolist(), strict=True))

    def state(self) -> ScanState:
        """The state after the last scan."""
        values = self._values[1 : 1 + self._program.names].astype(bool).tolist()
        counts = self._counters.tolist()
        return ScanState(
            dict(zip(self.table.names, values, strict=True)),
            {timer.name: count for timer, count in zip(self.table.timers, counts, strict=True)},
        )

    def load(self, state: ScanState) -> None:
        """Put the engine into a state, as though the scan before had left it."""
        names = self.table.names
        self._values[1 : 1 + len(names)] = [state.values[name] for name in names]
        self._counters[:] = [state.counts[timer.name] for timer in self.table.timers]
        for current, kept in self._program.kept.tolist():
            self._values[kept] = self._values[current]
