"""No deadlock: from any state, a healthy unit that is worked by a stated script gets to its goal.

All states are followed through the script at once. Most signals are given, so most of the table is computed. What is
not known gets a variable of its own in each scan, so that terms stay small over hundreds of scans, and at the end of
each step the solver is asked which of these can have one value only; from there on they are known.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any as Term

import z3

from vaporwright.controls.counterexample import Counterexample
from vaporwright.controls.expressions import Is, Meaning, atoms, interpret
from vaporwright.controls.models import decided, inputs_of, state_of
from vaporwright.controls.properties import Recovers
from vaporwright.controls.symbols import Beginning, Count, SymbolicScan, conjunction, disjunction, negation
from vaporwright.controls.table import Table, Timer
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard


def prove_recovery(table: Table, wanted: Recovers, report: Report = unheard) -> Counterexample | None:
    """A state, and inputs within the script, from which the goal is missed; None where it is always reached.

    Args: report: told the scans that every state was followed through.
    """
    _check(table, wanted)
    stage, of = f"Following every state scan by scan: {wanted.name}", sum(step.scans for step in wanted.script)
    start = Beginning()
    for timer in table.timers:
        start.count(timer)
    solver = z3.Solver()
    solver.add(start.conditions)
    before: Beginning | SymbolicScan = start
    scans: list[SymbolicScan] = []
    for step in wanted.script:
        for _ in range(step.scans):
            inputs = _plant(wanted, before) | dict(step.signals)
            before = SymbolicScan(table, before, len(scans) + 1, inputs=inputs)
            scans.append(before)
            report(stage, len(scans), of)
            _name_what_is_open(before, solver)
        if step.scans:
            _learn(scans[-1], solver)
    missed = negation(scans[-1].claim(wanted.goal))
    if missed is False:
        return None
    if missed is not True:
        solver.add(missed)
    model = decided(solver)
    if model is None:
        return None
    return Counterexample(
        state_of(model, table, start), tuple(inputs_of(model, scan) for scan in scans), from_power_up=False
    )


def _plant(wanted: Recovers, before: Beginning | SymbolicScan) -> dict[str, Term]:
    meaning = Meaning[Term](before.seen, before.seen, negation, conjunction, disjunction)
    return {name: interpret(expr, meaning) for name, expr in wanted.healthy.items()}


def _name_what_is_open(scan: SymbolicScan, solver: Term) -> None:
    """A variable, equal to it, for everything that is not known."""
    for name in scan.table.names:
        term = scan.seen(name)
        if not isinstance(term, bool) and not z3.is_const(term):
            variable = z3.Bool(f"{name}@{scan.place}named")
            solver.add(variable == term)
            scan.put(name, variable)
    for timer in scan.table.timers:
        count = scan.count(timer)
        if not isinstance(count.value, int) and not z3.is_const(count.value):
            number = z3.BitVec(f"{timer.name}#{scan.place}", timer.scans.bit_length())
            solver.add(number == count.value)
            scan.put_count(timer, Count(number, count.at_least))


def _learn(scan: SymbolicScan, solver: Term) -> None:
    """Make known what can have one value only: drop from a model's values what some other model has otherwise."""
    values: dict[str, Term] = {name: scan.seen(name) for name in scan.table.names}
    counts = {timer.name: scan.count(timer).value for timer in scan.table.timers}
    terms = {
        name: term
        for name, term in (values | {f"{name}#": count for name, count in counts.items()}).items()
        if isinstance(term, z3.ExprRef)
    }
    fixed: dict[str, Term] | None = None
    solver.push()
    while (model := decided(solver)) is not None:
        found = {name: model.eval(term, model_completion=True) for name, term in terms.items()}
        fixed = found if fixed is None else {name: value for name, value in fixed.items() if found[name].eq(value)}
        if not fixed:
            break
        solver.add(disjunction([terms[name] != value for name, value in fixed.items()]))
    solver.pop()
    for name, value in (fixed or {}).items():
        if name.endswith("#"):
            timer = scan.table.item_of[name[:-1]]
            assert isinstance(timer, Timer)
            scan.put_count(timer, Count(value.as_long(), value.as_long()))
        else:
            scan.put(name, z3.is_true(value))


def _check(table: Table, wanted: Recovers) -> None:
    if not any(step.scans for step in wanted.script):
        raise InputError(table.name, wanted.name, "its script has no scan", "at least one step of one scan")
    said: list[Mapping[str, object]] = [wanted.healthy, *(step.signals for step in wanted.script)]
    for signals in said:
        for name in signals:
            if name not in table.signals:
                raise InputError(table.name, wanted.name, f"sets the unknown signal {name}", ", ".join(table.signals))
    for name, expr in wanted.healthy.items():
        for atom in atoms(expr):
            if isinstance(atom, Is) or atom.name not in table.names:
                raise InputError(
                    table.name, wanted.name, f"the plant's {name} can't follow from {atom}", "Was of a known name"
                )
