"""Proof of a table with the solver z3, by induction over all inputs, timers and memory.

A claim is proved when no state at all leads, in one scan or after up to DEEPEST - 1 scans that keep it, to a scan that
breaks it, and no run of that length from power-up does. The states are all those with no timer beyond its preset;
where a property watches time, also only those in which its watching timer is behind a timer of the table, a relation
that is itself proved by induction first. Nothing is left to the luck of a bounded search.

A claim that is not proved has fallen. Its counterexample starts at power-up where a short run from there breaks it,
and otherwise in a state of which nobody has shown how to get there, nor that one can't.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any as Term
from typing import Final, Literal

from vaporwright.controls.counterexample import Counterexample, Field
from vaporwright.controls.expressions import Is, Not, atoms
from vaporwright.controls.models import amount, inputs_of, model_of, state_of, truth
from vaporwright.controls.properties import Always, Property, Recovers, UnaffectedBy
from vaporwright.controls.recovery import prove_recovery
from vaporwright.controls.relations import Relation, proved_relations
from vaporwright.controls.symbols import Beginning, FaultyBeginning, PowerUp, SymbolicScan, negation
from vaporwright.controls.table import Table, conditions
from vaporwright.controls.twins import prove_unaffected
from vaporwright.foundation.telling import Report, unheard

DEEPEST: Final = 3  # scans of an induction
NEAR: Final = 4  # steps of reading from a claim at which a first attempt stops
REACH: Final = 6  # scans from power-up in which a counterexample is looked for


@dataclass(frozen=True)
class Proof:
    """What became of one property."""

    name: str
    sentence: str
    status: Literal["proved", "fallen"]
    how: str
    counterexample: Counterexample | None = None
    rests_on: frozenset[str] = frozenset()  # of a proved claim: all that its proof read


def prove(table: Table, wanted: Property, between: Field | None = None, report: Report = unheard) -> Proof:
    """Prove one property, or say how it falls.

    Args: between: what lies between table and plant, for claims only: a fault, hard-wired limits.
    """
    match wanted:
        case Always():
            return _prove_claim(table, wanted, between or Field())
        case UnaffectedBy():
            changed, example = prove_unaffected(table, wanted)
            how = f"two-copy induction; it changes {', '.join(changed)}" if changed else "two-copy induction"
        case Recovers():
            example = prove_recovery(table, wanted, report)
            how = f"every state followed through {sum(step.scans for step in wanted.script)} scans"
    return Proof(wanted.name, wanted.sentence, "fallen" if example else "proved", how, example)


def rows_that_never_act(table: Table) -> tuple[str, ...]:
    """Causes that nothing can make true, proved by induction: unreachable rows."""
    return tuple(cause.name for cause in table.causes if _never_true(table, cause.name))


def _never_true(table: Table, name: str) -> bool:
    claim, between = Always(name, "", Not(Is(name))), Field()
    depth, _ = _induction(table, claim, between)
    return depth is not None and _broken_from_power_up(table, claim, between, depth - 1) is None


def _prove_claim(table: Table, wanted: Always, between: Field) -> Proof:
    proved, last = _induction(table, wanted, between)
    depth = len(last.scans)
    early = _broken_from_power_up(table, wanted, between, REACH if proved is None else depth - 1)
    if early is not None:
        return Proof(wanted.name, wanted.sentence, "fallen", "breaks soon after power-up", early)
    if proved is None:
        example = last.example(last.model, depth)
        return Proof(wanted.name, wanted.sentence, "fallen", f"no induction over {depth} scans", example)
    words = [f"induction over {depth} scan{'s' if depth > 1 else ''}", *(item.words() for item in last.relations)]
    return Proof(wanted.name, wanted.sentence, "proved", "; ".join(words), rests_on=frozenset(last.start.looked_at))


def _induction(table: Table, wanted: Always, between: Field) -> tuple[int | None, _Chain]:
    """Over how many scans the claim is inductive, if it is, and the last chain that was tried."""
    far = _far_from(table, wanted)
    for depth in range(1, DEEPEST + 1):
        for cut in (far, frozenset[str]()) if far else (far,):
            chain = _Chain(table, wanted, between, depth, cut=cut)
            if not chain.breaks_at(depth):
                return depth, chain
    return None, chain


def _far_from(table: Table, wanted: Always) -> frozenset[str]:
    """Items that are more than NEAR steps of reading from the claim: most proofs can do without them."""
    near: set[str] = set()
    edge = {atom.name for expr in (wanted.claim, *(timer.when for timer in wanted.watchers)) for atom in atoms(expr)}
    for _ in range(NEAR):
        near |= edge
        items = [table.item_of[name] for name in edge if name in table.item_of]
        edge = {atom.name for item in items for expr in conditions(item) for atom in atoms(expr)} - near
    return frozenset(table.item_of) - near


def _broken_from_power_up(table: Table, wanted: Always, between: Field, scans: int) -> Counterexample | None:
    if scans < 1:
        return None
    chain = _Chain(table, wanted, between, scans, from_power_up=True)
    places = range(1, scans + 1)
    return next((chain.example(chain.model, place) for place in places if chain.breaks_at(place)), None)


class _Chain:
    """Scans one after another, and the question whether a claim that held so far breaks at one of them."""

    def __init__(
        self,
        table: Table,
        wanted: Always,
        between: Field,
        scans: int,
        *,
        from_power_up: bool = False,
        cut: frozenset[str] = frozenset(),
    ) -> None:
        self.table, self.wanted, self.between = table, wanted, between
        self.model: Term | None = None
        self.relations: tuple[Relation, ...] = ()
        self.start: Beginning = PowerUp() if from_power_up else FaultyBeginning(between)
        if not from_power_up and wanted.watchers:
            self.relations, read = proved_relations(table, wanted, between, cut)
            self.start.looked_at |= read
        self.scans: list[SymbolicScan] = []
        before: Beginning | SymbolicScan = self.start
        for place in range(1, scans + 1):
            before = SymbolicScan(table, before, place, between=between, watchers=wanted.watchers, cut=cut)
            self.scans.append(before)

    def breaks_at(self, place: int) -> bool:
        """Whether some run keeps the claim in all scans before this one and breaks it here; then `model` is one."""
        kept = [scan.claim(self.wanted.claim) for scan in self.scans[: place - 1]]
        broken = negation(self.scans[place - 1].claim(self.wanted.claim))
        related = [relation.term(self.start) for relation in self.relations]
        self.model = model_of([*kept, broken, *related], self.start)
        return self.model is not None

    def example(self, model: Term, scans: int) -> Counterexample:
        """The run of a model, of so many scans."""
        table, start = self.table, self.start
        from_power_up = isinstance(start, PowerUp)
        changed = start.changed if isinstance(start, FaultyBeginning) else set()
        return Counterexample(
            start=state_of(model, table, start),
            inputs=tuple(inputs_of(model, scan) for scan in self.scans[:scans]),
            from_power_up=from_power_up,
            real_before={name: truth(model, start.real(name)) for name in sorted(changed)},
            watched_before={timer.name: amount(model, start, timer) for timer in self.wanted.watchers},
            between=self.between,
        )
