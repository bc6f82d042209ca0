"""One input changes nothing else: two copies of the unit that differ in it stay alike.

The set of what may come to differ starts with the input and grows by whatever a scan makes differ between two states
that agree outside the set, until no scan adds to it. What is outside then never differs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any as Term

import z3

from vaporwright.controls.counterexample import Counterexample
from vaporwright.controls.models import inputs_of, model_of, state_of, truth
from vaporwright.controls.properties import UnaffectedBy
from vaporwright.controls.symbols import Beginning, Count, SymbolicScan, disjunction
from vaporwright.controls.table import Table, Timer
from vaporwright.foundation.errors import InputError


class _Other(Beginning):
    """The same state as the first copy's, apart from what may differ."""

    def __init__(self, first: Beginning, differing: Callable[[str], bool]) -> None:
        super().__init__("other")
        self._first, self._differing = first, differing

    def seen(self, name: str) -> Term:
        return super().seen(name) if self._differing(name) else self._first.seen(name)

    def count(self, timer: Timer) -> Count:
        return super().count(timer) if self._differing(timer.name) else self._first.count(timer)


def prove_unaffected(table: Table, wanted: UnaffectedBy) -> tuple[tuple[str, ...], Counterexample | None]:
    """What the input can change, in order of the table, and two runs where that is more than was said."""
    for name in (wanted.signal, *wanted.apart_from):
        if name not in table.names:
            raise InputError(table.name, wanted.name, f"names the unknown item {name}", "a name of the table")
    watched = {latch.name for latch in table.latches} | set(table.outputs)
    differing, example = {wanted.signal}, None
    while True:
        found, runs = _spread(table, wanted.signal, differing, watched - set(wanted.apart_from))
        example = example or runs
        if not found:
            break
        differing |= found
    return tuple(name for name in table.names if name in differing and name != wanted.signal), example


def _spread(
    table: Table, signal: str, differing: set[str], watched: set[str]
) -> tuple[set[str], Counterexample | None]:
    """What one scan can make differ beyond the set, and the runs in which something watched does."""
    first = Beginning()
    other = _Other(first, differing.__contains__)
    one = SymbolicScan(table, first, 1)
    two = SymbolicScan(table, other, 1, inputs={signal: z3.Bool(f"{signal}@1other")})
    apart = {item.name: z3.Xor(one.seen(item.name), two.seen(item.name)) for item in table.items}
    for timer in table.timers:
        apart[timer.name] = one.count(timer).term(timer.scans) != two.count(timer).term(timer.scans)
    found: set[str] = set()
    example: Counterexample | None = None
    while rest := [name for name in apart if name not in differing | found]:
        model = model_of([disjunction([apart[name] for name in rest]), *other.conditions], first)
        if model is None:
            break
        new = {name for name in rest if truth(model, apart[name])}
        found |= new
        if example is None and new & watched:
            example = Counterexample(
                state_of(model, table, first),
                (inputs_of(model, one),),
                from_power_up=False,
                other=(state_of(model, table, other), (inputs_of(model, two),)),
            )
    return found, example
