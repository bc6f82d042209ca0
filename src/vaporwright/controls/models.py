"""Questions to the solver, and its models read back into states and inputs of a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any as Term

import z3

from vaporwright.controls.scan import ScanState
from vaporwright.controls.symbols import Beginning, SymbolicScan, conjunction
from vaporwright.controls.table import Table, Timer
from vaporwright.foundation.errors import NotConverged


def model_of(conditions: Sequence[Term], start: Beginning) -> Term | None:
    """A model of all the conditions and of the beginning being a state; None where there is none."""
    everything = conjunction([*conditions, *start.conditions])
    if everything is False:
        return None
    solver = z3.Solver()
    if everything is not True:
        solver.add(everything)
    return decided(solver)


def decided(solver: Term) -> Term | None:
    """A model of what the solver has been told; None where there is none.

    Raises: NotConverged where it gives up: that is no proof.
    """
    answer = solver.check()
    if answer == z3.unknown:
        raise NotConverged(f"proof: the solver gave up: {solver.reason_unknown()}")
    return solver.model() if answer == z3.sat else None


def truth(model: Term, term: Term) -> bool:
    """The value of a condition; what the model leaves open is false."""
    return term if isinstance(term, bool) else z3.is_true(model.eval(term, model_completion=True))


def amount(model: Term, state: Beginning, timer: Timer) -> int:
    """What a timer has counted."""
    value = state.count(timer).value
    return value if isinstance(value, int) else int(model.eval(value, model_completion=True).as_long())


def state_of(model: Term, table: Table, start: Beginning) -> ScanState:
    """The state before the first scan."""
    return ScanState(
        {name: truth(model, start.seen(name)) for name in table.names},
        {timer.name: amount(model, start, timer) for timer in table.timers},
    )


def inputs_of(model: Term, scan: SymbolicScan) -> dict[str, bool]:
    """What comes in at a scan, as it really is."""
    return {name: truth(model, scan.real(name)) for name in scan.table.signals}
