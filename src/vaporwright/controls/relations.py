"""Relations between a watching timer and the table, which each scan keeps: what makes claims about time inductive.

    counting    a watcher that has counted has just found its condition true
    ahead       a watcher is at most so many scans ahead of a timer of the table, as long as that one still counts

All those between timers that read a name in common are tried at once; those that some scan breaks, though it began
with all, are dropped, until each scan keeps all that are left. At power-up every one of them holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any as Term

import z3

from vaporwright.controls.counterexample import Field
from vaporwright.controls.expressions import Meaning, Was, atoms, interpret
from vaporwright.controls.models import model_of, truth
from vaporwright.controls.properties import Always
from vaporwright.controls.symbols import (
    Beginning,
    FaultyBeginning,
    SymbolicScan,
    conjunction,
    disjunction,
    negation,
    number,
)
from vaporwright.controls.table import Table, Timer


@dataclass(frozen=True)
class Counting:
    """The watcher has counted only if its condition was true in the last scan."""

    watcher: Timer

    def term(self, state: Beginning | SymbolicScan) -> Term:
        meaning = Meaning[Term](state.real, state.real, negation, conjunction, disjunction)
        still = state.count(self.watcher).term(self.watcher.scans) == number(0, self.watcher.scans)
        return disjunction([still, interpret(self.watcher.when, meaning)])

    def words(self) -> str:
        return f"{self.watcher.name} counts only on its condition"


@dataclass(frozen=True)
class Ahead:
    """The watcher is at most `scans` ahead of a timer that still counts."""

    watcher: Timer
    timer: Timer
    scans: int

    def term(self, state: Beginning | SymbolicScan) -> Term:
        wide = max(self.watcher.scans, self.timer.scans).bit_length() + 1  # so that adding can't overflow
        watched = state.count(self.watcher).term(self.watcher.scans)
        counted = state.count(self.timer)
        term = counted.term(self.timer.scans)
        behind = z3.ULE(z3.ZeroExt(wide - watched.size(), watched), z3.ZeroExt(wide - term.size(), term) + self.scans)
        return disjunction([behind, counted.reached(self.timer.scans)])

    def words(self) -> str:
        return f"{self.watcher.name} is at most {self.scans} ahead of {self.timer.name}"


Relation = Counting | Ahead


def proved_relations(
    table: Table, wanted: Always, between: Field, cut: frozenset[str]
) -> tuple[tuple[Relation, ...], set[str]]:
    """The largest set of relations that each scan keeps, of two about the same timers the tighter; what it rests on."""
    relations: list[Relation] = []
    for watcher in wanted.watchers:
        if not any(isinstance(atom, Was) for atom in atoms(watcher.when)):
            relations.append(Counting(watcher))
        read = {atom.name for atom in atoms(watcher.when)}
        for timer in table.timers:
            if timer.name not in cut and read & {atom.name for atom in atoms(timer.when)}:
                relations += [Ahead(watcher, timer, scans) for scans in (0, 1)]
    start = FaultyBeginning(between)
    scan = SymbolicScan(table, start, 1, between=between, watchers=wanted.watchers, cut=cut)
    before = {relation: relation.term(start) for relation in relations}
    after = {relation: relation.term(scan) for relation in relations}
    while relations:
        kept = conjunction([after[relation] for relation in relations])
        model = model_of([*(before[relation] for relation in relations), negation(kept)], start)
        if model is None:
            break
        relations = [relation for relation in relations if truth(model, after[relation])]
    loose = {Ahead(item.watcher, item.timer, 1) for item in relations if isinstance(item, Ahead) and item.scans == 0}
    return tuple(relation for relation in relations if relation not in loose), start.looked_at
