"""A table in the solver's terms: scans in a chain, each worked out only as far as something asks.

What is known is kept as Python's own True, False and int, so that a script with given inputs mostly computes and
little is left to solve. Everything else is a z3 term.

Two views of one scan differ only under a fault. The table sees what its input cards and its own outputs say. The
field has what is really there: the true state behind a stuck input, the contact behind a welded output, and limits
that are hard-wired in series with it. Properties speak of the field.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any as Term

import z3

from vaporwright.controls.counterexample import Field
from vaporwright.controls.expressions import Expr, Meaning, interpret
from vaporwright.controls.table import Cause, Effect, Latch, Table, Timer


# The solver's own And, Or and Not look at each argument's sort again and again, which took most of a proof's time.
def negation(term: Term) -> Term:
    return not term if isinstance(term, bool) else z3.BoolRef(z3.Z3_mk_not(term.ctx_ref(), term.as_ast()), term.ctx)


def conjunction(terms: Sequence[Term]) -> Term:
    if any(term is False for term in terms):
        return False
    open_terms = [term for term in terms if term is not True]
    if not open_terms:
        return True
    return open_terms[0] if len(open_terms) == 1 else _joined(z3.Z3_mk_and, open_terms)


def disjunction(terms: Sequence[Term]) -> Term:
    if any(term is True for term in terms):
        return True
    open_terms = [term for term in terms if term is not False]
    if not open_terms:
        return False
    return open_terms[0] if len(open_terms) == 1 else _joined(z3.Z3_mk_or, open_terms)


def _joined(make: Term, terms: Sequence[Term]) -> Term:
    arguments = (z3.Ast * len(terms))(*(term.as_ast() for term in terms))
    return z3.BoolRef(make(terms[0].ctx_ref(), len(terms), arguments), terms[0].ctx)


@dataclass(frozen=True)
class Count:
    """What a timer has counted: a number, or a term of which at least a lower bound is known."""

    value: Term
    at_least: int = 0

    def next(self, when: Term, preset: int) -> Count:
        """After a scan that found the condition so."""
        if when is False:
            return Count(0)
        if isinstance(self.value, int):
            more = min(self.value + 1, preset)
            if when is True:
                return Count(more, more)
            return Count(z3.If(when, number(more, preset), number(0, preset)))
        if when is True and self.at_least + 1 >= preset:
            return Count(preset, preset)
        more = z3.If(z3.ULT(self.value, preset), self.value + 1, number(preset, preset))
        if when is True:
            return Count(more, self.at_least + 1)
        return Count(z3.If(when, more, number(0, preset)))

    def reached(self, preset: int) -> Term:
        """Whether it has got to its preset."""
        if isinstance(self.value, int):
            return self.value >= preset
        return self.value == preset

    def term(self, preset: int) -> Term:
        """The count as a term of the solver."""
        return number(self.value, preset) if isinstance(self.value, int) else self.value


def number(value: int, preset: int) -> Term:
    """A number as wide as a timer of that preset needs."""
    return z3.BitVecVal(value, preset.bit_length())


class Beginning:
    """A state before the first scan: any at all, with variables named after its parts."""

    def __init__(self, mark: str = "") -> None:
        self.mark = mark
        self.conditions: list[Term] = []  # that make the variables a state: no timer beyond its preset
        self.looked_at: set[str] = set()  # names on which the terms made so far rest, in this state and scans after it
        self._counts: dict[str, Count] = {}

    def seen(self, name: str) -> Term:
        self.looked_at.add(name)
        return z3.Bool(f"{name}@0{self.mark}")

    def real(self, name: str) -> Term:
        return self.seen(name)

    def count(self, timer: Timer) -> Count:
        if timer.name not in self._counts:
            variable = z3.BitVec(f"{timer.name}#0{self.mark}", timer.scans.bit_length())
            self.conditions.append(z3.ULE(variable, timer.scans))
            self._counts[timer.name] = Count(variable)
        return self._counts[timer.name]


class FaultyBeginning(Beginning):
    """Any state before the first scan, with what is really there unknown for what the field changes."""

    def __init__(self, between: Field) -> None:
        super().__init__()
        self.changed = {*between.hard_wired} | ({between.fault.name} if between.fault else set())

    def real(self, name: str) -> Term:
        self.looked_at.add(name)
        return z3.Bool(f"{name}@0real") if name in self.changed else self.seen(name)


class PowerUp(Beginning):
    """Everything false, every timer at nothing."""

    def seen(self, _name: str) -> Term:
        return False

    def real(self, _name: str) -> Term:
        return False

    def count(self, _timer: Timer) -> Count:
        return Count(0)


class SymbolicScan:
    """One scan after a state, worked out on demand.

    Args:
        inputs: terms of the signals; those not in it are free variables, named after signal, place and mark.
        watchers: timers of a property, which see the field.
        cut: items taken as free instead of worked out. What is proved so holds all the more of the table as it is.
    """

    def __init__(
        self,
        table: Table,
        before: Beginning | SymbolicScan,
        place: int,
        *,
        mark: str = "",
        inputs: Mapping[str, Term] | None = None,
        between: Field | None = None,
        watchers: Sequence[Timer] = (),
        cut: frozenset[str] = frozenset(),
    ) -> None:
        self.table, self.before, self.place, self.mark = table, before, place, mark
        self.between = between or Field()
        self.looked_at: set[str] = before.looked_at
        self._inputs = inputs or {}
        self._cut = cut
        self._watchers = {timer.name: timer for timer in watchers}
        self._seen: dict[str, Term] = {}
        self._real: dict[str, Term] = {}
        self._counts: dict[str, Count] = {}
        self._as_seen = Meaning[Term](self.seen, before.seen, negation, conjunction, disjunction)
        self._as_real = Meaning[Term](self.real, before.real, negation, conjunction, disjunction)
        self._as_wired = Meaning[Term](self._contact, before.seen, negation, conjunction, disjunction)

    def seen(self, name: str) -> Term:
        """The value as the table has it."""
        self.looked_at.add(name)
        if name not in self._seen:
            if name in self._cut:
                self._seen[name] = z3.Bool(f"{name}@{self.place}{self.mark}")
            elif name in self.table.item_of:
                self._seen[name] = self._worked_out(name)
            else:
                self._seen[name] = self._contact(name)
        return self._seen[name]

    def real(self, name: str) -> Term:
        """The value as it is in the field."""
        self.looked_at.add(name)
        if name not in self._real:
            if name in self._watchers:
                self._real[name] = self.count(self._watchers[name]).reached(self._watchers[name].scans)
            elif name not in self.table.item_of:
                self._real[name] = self._given(name)
            else:
                self._real[name] = self._in_series(name)
        return self._real[name]

    def count(self, timer: Timer) -> Count:
        """What a timer has counted after this scan."""
        self.looked_at.add(timer.name)
        if timer.name not in self._counts:
            meaning = self._as_real if timer.name in self._watchers else self._as_seen
            when = interpret(timer.when, meaning)
            self._counts[timer.name] = self.before.count(timer).next(when, timer.scans)
        return self._counts[timer.name]

    def put(self, name: str, term: Term) -> None:
        """Replace a value by an equal one."""
        self._seen[name] = term

    def put_count(self, timer: Timer, count: Count) -> None:
        """Replace a count by an equal one."""
        self._counts[timer.name] = count

    def claim(self, expr: Expr) -> Term:
        """A condition of a property, over the field."""
        return interpret(expr, self._as_real)

    def _given(self, name: str) -> Term:
        return self._inputs.get(name, z3.Bool(f"{name}@{self.place}{self.mark}"))

    def _contact(self, name: str) -> Term:
        """What the device of a signal says, which is its fault where it has one."""
        self.looked_at.add(name)
        fault = self.between.fault
        return fault.stuck if fault is not None and fault.name == name else self._given(name)

    def _in_series(self, name: str) -> Term:
        fault = self.between.fault
        contact = fault.stuck if fault is not None and fault.name == name else self.seen(name)
        if name in self.between.hard_wired:
            return conjunction([contact, interpret(self.between.hard_wired[name], self._as_wired)])
        return contact

    def _worked_out(self, name: str) -> Term:
        match self.table.item_of[name]:
            case Timer() as timer:
                return self.count(timer).reached(timer.scans)
            case Cause(_, on):
                return interpret(on, self._as_seen)
            case Latch(_, asked, ended, set_wins):
                sets, kept = interpret(asked, self._as_seen), negation(interpret(ended, self._as_seen))
                held = self.before.seen(name)
                if set_wins:
                    return disjunction([sets, conjunction([held, kept])])
                return conjunction([disjunction([sets, held]), kept])
            case Effect(_, on, unless):
                return conjunction([interpret(on, self._as_seen), negation(interpret(unless, self._as_seen))])
