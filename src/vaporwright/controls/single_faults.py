"""Which claims survive one thing stuck: by the table alone, by the hard-wired limits, or not at all.

Every input is stuck on and off (a rod that is open, a switch that is short-circuited), every output's contact welded
and open. What the table sees is then not what is so, and the claims are about what is so. A claim that falls is a
task for the designer: a second device of another principle, hard-wired ahead of the table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from vaporwright.controls.counterexample import Counterexample, Fault, Field
from vaporwright.controls.expressions import Expr, Is, atoms
from vaporwright.controls.proof import prove
from vaporwright.controls.properties import Always
from vaporwright.controls.table import Table
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard

Survival = Literal["by the table alone", "by the hard-wired limits", "falls"]


@dataclass(frozen=True)
class FaultOutcome:
    """One claim under one fault."""

    fault: Fault
    claim: str
    survival: Survival
    counterexample: Counterexample | None  # of a claim that falls


def every_fault(table: Table) -> tuple[Fault, ...]:
    """Each signal stuck either way, each output's contact welded or open."""
    return tuple(Fault(name, stuck) for name in (*table.signals, *table.outputs) for stuck in (True, False))


def single_faults(
    table: Table,
    claims: Sequence[Always],
    hard_wired: Mapping[str, Expr],
    faults: Sequence[Fault] | None = None,
    report: Report = unheard,
) -> tuple[FaultOutcome, ...]:
    """Every claim under every fault.

    Args:
        hard_wired: for an output, the contacts in series between it and what it drives. They are the devices'
            contacts: a device that is stuck is stuck for the limit too.
        faults: those to look at; all of them where not given. report: told the faults that were looked at.
    """
    for output, contacts in hard_wired.items():
        if output not in table.outputs:
            raise InputError(table.name, output, "is no output to wire a limit to", ", ".join(table.outputs))
        for atom in atoms(contacts):
            if not isinstance(atom, Is) or atom.name not in table.signals:
                raise InputError(table.name, output, f"{atom} is no contact to wire in series", "Is of a signal")
    chosen = every_fault(table) if faults is None else faults
    without = {}
    for number, claim in enumerate(claims, 1):
        without[claim.name] = prove(table, claim)
        report("Proving each claim without a fault", number, len(claims))

    def outcome(fault: Fault, claim: Always) -> FaultOutcome:
        if without[claim.name].status == "proved" and fault.name not in without[claim.name].rests_on:
            return FaultOutcome(
                fault, claim.name, "by the table alone", None
            )  # the proof would be the same, word for word
        return _outcome(table, claim, fault, hard_wired)

    found: list[FaultOutcome] = []
    for number, fault in enumerate(chosen, 1):
        found += [outcome(fault, claim) for claim in claims]
        report("Looking at single faults", number, len(chosen))
    return tuple(found)


def _outcome(table: Table, claim: Always, fault: Fault, hard_wired: Mapping[str, Expr]) -> FaultOutcome:
    alone = prove(table, claim, Field(fault))
    if alone.status == "proved":
        return FaultOutcome(fault, claim.name, "by the table alone", None)
    if not hard_wired:
        return FaultOutcome(fault, claim.name, "falls", alone.counterexample)
    limited = prove(table, claim, Field(fault, hard_wired))
    if limited.status == "proved":
        return FaultOutcome(fault, claim.name, "by the hard-wired limits", None)
    return FaultOutcome(fault, claim.name, "falls", limited.counterexample)
