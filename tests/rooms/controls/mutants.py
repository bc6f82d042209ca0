"""Mutants of a cause-and-effect matrix, one planted fault each, and what the proofs make of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import z3

from vaporwright.controls.design import CauseAndEffect, Row
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import All, Any, Expr, Is, Meaning, Not, Was, atoms, interpret
from vaporwright.controls.models import model_of
from vaporwright.controls.proof import Proof, prove
from vaporwright.controls.properties import Always, Property
from vaporwright.controls.symbols import Beginning, SymbolicScan
from vaporwright.controls.table import Table
from vaporwright.foundation.errors import InputError

Verdict = Literal["refused", "fell", "equivalent", "survived"]


@dataclass(frozen=True)
class Mutant:
    """What was done to the matrix, and how to get it."""

    kind: str
    what: str
    make: Callable[[], CauseAndEffect]


def mutants(design: CauseAndEffect) -> Iterator[Mutant]:
    """Every single fault of the kinds that people make."""
    for row in design.rows:
        for effect in row.effects:
            kept = {name: cell for name, cell in row.effects.items() if name != effect}
            yield _with_row("dropped cell", f"{row.name} on {effect}", design, row, effects=kept)
        for place, atom in enumerate(atoms(row.condition)):
            inverted = _with_atom(row.condition, place, Not(atom))
            yield _with_row("inverted input", f"{atom} of {row.name}", design, row, condition=inverted)
            other = _neighbour(design, atom)
            if other is not None:
                swapped = _with_atom(row.condition, place, other)
                yield _with_row("swapped contact", f"{atom} of {row.name} by {other}", design, row, condition=swapped)
        if row.delay_s:
            for delay_s in (design.scan_s, 2.0 * row.delay_s):
                yield _with_row("wrong delay", f"{row.name} {delay_s} s", design, row, delay_s=delay_s)
        if row.latched:
            yield _with_row("missing latch", row.name, design, row, latched=False, reset=None)
    for place, column in enumerate(design.columns):
        if column.holds:
            flipped = replace(column, wins="on" if column.wins == "off" else "off")
            columns = (*design.columns[:place], flipped, *design.columns[place + 1 :])
            yield Mutant(
                "set and reset priority", column.name, lambda changed=columns: replace(design, columns=changed)
            )


def _with_row(kind: str, what: str, design: CauseAndEffect, row: Row, **changes: object) -> Mutant:
    def make() -> CauseAndEffect:
        changed = replace(row, **changes)  # type: ignore[arg-type]
        return replace(design, rows=tuple(changed if other is row else other for other in design.rows))

    return Mutant(kind, what, make)


def _with_atom(expr: Expr, place: int, instead: Expr) -> Expr:
    left = iter(range(10_000))

    def swapped(atom: Expr) -> Expr:
        return instead if next(left) == place else atom

    return interpret(
        expr,
        Meaning[Expr](
            lambda name: swapped(Is(name)),
            lambda name: swapped(Was(name)),
            Not,
            lambda parts: All(tuple(parts)),
            lambda parts: Any(tuple(parts)),
        ),
    )


def _neighbour(design: CauseAndEffect, atom: Is | Was) -> Expr | None:
    """The signal on the next terminal."""
    if atom.name not in design.inputs:
        return None
    inputs = design.inputs
    return type(atom)(inputs[(inputs.index(atom.name) + 1) % len(inputs)])


@dataclass(frozen=True)
class Original:
    """The unmutated table with the proofs of its properties."""

    table: Table
    properties: tuple[Property, ...]
    proofs: tuple[Proof, ...]

    @classmethod
    def of(cls, design: CauseAndEffect, properties: Sequence[Property]) -> Original:
        table = expanded(design)
        proofs = tuple(prove(table, wanted) for wanted in properties)
        assert all(proof.status == "proved" for proof in proofs)
        return cls(table, tuple(properties), proofs)

    def verdict(self, mutant: Mutant) -> Verdict:
        """Refused when made, fallen to a property, proved equal to the original, or left to the rehearsal."""
        try:
            table = expanded(mutant.make())
        except InputError:
            return "refused"
        before, after = self.table.item_of, table.item_of
        changed = {name for name in before | after if before.get(name) != after.get(name)}
        for wanted, proof in zip(self.properties, self.proofs, strict=True):
            if isinstance(wanted, Always) and not changed & proof.rests_on:
                continue  # the proof holds for the mutant, word for word
            try:
                if prove(table, wanted).status == "fallen":
                    return "fell"
            except KeyError:
                return "fell"  # the mutant lacks an item that the property names
        return "equivalent" if equivalent(self.table, table) else "survived"


def equivalent(one: Table, two: Table) -> bool:
    """Whether no common state and no inputs make the two differ in anything after a scan."""
    if one.names != two.names or [timer.scans for timer in one.timers] != [timer.scans for timer in two.timers]:
        return False
    start = Beginning()
    first, second = SymbolicScan(one, start, 1), SymbolicScan(two, start, 1)
    apart = [z3.BoolVal(False)]
    for name in one.names:
        a, b = first.seen(name), second.seen(name)
        apart.append(z3.BoolVal(a != b) if isinstance(a, bool) and isinstance(b, bool) else a != b)
    for timer, other in zip(one.timers, two.timers, strict=True):
        apart.append(first.count(timer).term(timer.scans) != second.count(other).term(other.scans))
    return model_of([z3.Or(apart)], start) is None


def score(original: Original, chosen: Sequence[Mutant]) -> tuple[Counter[tuple[str, Verdict]], list[Mutant]]:
    """How many of each kind came to what, and those that survived."""
    counts: Counter[tuple[str, Verdict]] = Counter()
    survivors = []
    for mutant in chosen:
        verdict = original.verdict(mutant)
        counts[mutant.kind, verdict] += 1
        if verdict == "survived":
            survivors.append(mutant)
    return counts, survivors
