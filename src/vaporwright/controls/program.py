"""The table as a flat program of two kinds of instruction, and the one interpreter that runs any such program.

Every condition becomes gates of two inputs, each of which may be inverted, with equal gates shared; latches are gates
that read what they were. So a program is an integer array, and no table needs a compiler of its own: the interpreter
is one kernel, plain Python as it stands, compiled once for all tables on first use.

    slot 0                  false
    slots 1 ... n           the names of the table in order: signals, timers, causes, latches, effects
    then                    what names were after the scan before, where something asks
    then                    results in between

An instruction is (operation, target, slot a, a inverted, slot b, b inverted), of a timer (TIMER, target, slot a, a
inverted, preset, counter). The integers are unsigned: the compiled interpreter is a third faster for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from vaporwright.controls.expressions import Expr, Meaning, interpret
from vaporwright.controls.table import Cause, Effect, Item, Latch, Table, Timer
from vaporwright.foundation.kernels import kernel

if TYPE_CHECKING:
    from numpy.typing import NDArray

GATE: Final = 0  # target = a and b
INVERTED_GATE: Final = 1  # target = not (a and b)
TIMER: Final = 2  # counter counts while a, up to b; target = it has got there
_FALSE: Final = 0
_TRUE: Final = 1
Key = tuple[int, int]  # of a gate: its two literals, the smaller first


@dataclass(frozen=True)
class Program:
    """Integers that are a table."""

    code: NDArray[np.uint32]  # one instruction a row
    kept: NDArray[np.uint32]  # pairs of slots: a name, and where it is kept for the next scan
    slots: int
    signals: int
    names: int
    counters: int


@kernel
def run_scans(  # type: ignore[no-untyped-def]
    code, kept, signals, names, values, counters, inputs, record
) -> None:
    """Scan after scan: one row of inputs in, one row of all names out; values and counters carry on."""
    for scan in range(inputs.shape[0]):
        for place in range(signals):
            values[1 + place] = inputs[scan, place]
        for step in range(code.shape[0]):
            operation = code[step, 0]
            a = values[code[step, 2]] ^ code[step, 3]
            if operation == 2:
                preset = code[step, 4]
                counter = code[step, 5]
                count = counters[counter]
                if a == 0:
                    count = 0
                elif count < preset:
                    count += 1
                counters[counter] = count
                values[code[step, 1]] = count >= preset
            else:
                b = values[code[step, 4]] ^ code[step, 5]
                values[code[step, 1]] = (a & b) ^ operation
        for place in range(names):
            record[scan, place] = values[1 + place]
        for place in range(kept.shape[0]):
            values[kept[place, 1]] = values[kept[place, 0]]


def compiled_program(table: Table) -> Program:
    """The flat program of a table."""
    work = _Assembler(table)
    for item in table.items:
        work.add(item)
    return Program(
        code=np.array(work.code, dtype=np.uint32).reshape(-1, 6),
        kept=np.array(list(work.before.items()), dtype=np.uint32).reshape(-1, 2),
        slots=work.next_slot,
        signals=len(table.signals),
        names=len(table.names),
        counters=len(table.timers),
    )


class _Assembler:
    """Works with literals: twice a slot, plus one where it is inverted."""

    def __init__(self, table: Table) -> None:
        self.slot = {name: 1 + place for place, name in enumerate(table.names)}
        self.next_slot = 1 + len(table.names)
        self.before: dict[int, int] = {}  # slot of a name to the slot that keeps it
        self.code: list[list[int]] = []
        self.gates: dict[Key, int] = {}  # to the literal that has its value
        self.last_key: Key | None = None  # of the gate that the last instruction makes into a slot in between
        self.counters = 0
        self.meaning = Meaning[int](
            now=lambda name: 2 * self.slot[name],
            before=lambda name: 2 * self.slot_before(name),
            negation=lambda literal: literal ^ 1,
            conjunction=self.conjunction,
            disjunction=lambda literals: self.conjunction([literal ^ 1 for literal in literals]) ^ 1,
        )

    def add(self, item: Item) -> None:
        """The instructions of one item."""
        match item:
            case Timer():
                when = self.literal(item.when)
                self.code.append([TIMER, self.slot[item.name], when >> 1, when & 1, item.scans, self.counters])
                self.counters += 1
                self.last_key = None
            case Cause():
                self.store(item.name, self.literal(item.on))
            case Latch():
                held = 2 * self.slot_before(item.name)
                asked, ended = self.literal(item.set), self.literal(item.reset)
                if item.set_wins:
                    self.store(item.name, self.gate(asked ^ 1, self.gate(held, ended ^ 1) ^ 1) ^ 1)
                else:
                    self.store(item.name, self.gate(self.gate(asked ^ 1, held ^ 1) ^ 1, ended ^ 1))
            case Effect():
                self.store(item.name, self.gate(self.literal(item.on), self.literal(item.unless) ^ 1))

    def literal(self, expr: Expr) -> int:
        return interpret(expr, self.meaning)

    def slot_before(self, name: str) -> int:
        slot = self.slot[name]
        if slot not in self.before:
            self.before[slot] = self.next_slot
            self.next_slot += 1
        return self.before[slot]

    def conjunction(self, literals: Sequence[int]) -> int:
        result = _TRUE
        for literal in literals:
            result = self.gate(result, literal)
        return result

    def gate(self, a: int, b: int) -> int:
        """The literal of `a and b`; an equal gate made before is used again."""
        a, b = min(a, b), max(a, b)
        if a == _FALSE or a ^ 1 == b:
            return _FALSE
        if a in (_TRUE, b):
            return b
        key = (a, b)
        if key not in self.gates:
            self.gates[key] = 2 * self.next_slot
            self.code.append([GATE, self.next_slot, a >> 1, a & 1, b >> 1, b & 1])
            self.next_slot += 1
            self.last_key = key
        return self.gates[key]

    def store(self, name: str, literal: int) -> None:
        """Give a name its value: by the last instruction if that has just worked it out, by a copy otherwise."""
        slot, inverted = self.slot[name], literal & 1
        key = self.last_key
        if key is not None and self.gates[key] == literal ^ inverted and self.code[-1][1] == literal >> 1:
            self.code[-1][:2] = [INVERTED_GATE if inverted else GATE, slot]
            self.gates[key] = (2 * slot) ^ inverted
        else:
            self.code.append([GATE, slot, literal >> 1, inverted, literal >> 1, inverted])
        self.last_key = None
