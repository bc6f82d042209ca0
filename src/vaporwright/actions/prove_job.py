"""Proof of a job's table: every safety property, and which of them one stuck thing takes away."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from vaporwright.actions.control_job import ControlledJob, control_job
from vaporwright.controls.hard_wired import hard_wired_of
from vaporwright.controls.proof import Proof, prove, rows_that_never_act
from vaporwright.controls.properties import Recovers
from vaporwright.controls.single_faults import FaultOutcome, single_faults
from vaporwright.controls.unit_properties import claims_of, properties_of
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard


@dataclass(frozen=True)
class ProvedJob:
    """What is proved of a job's table, and what its owner accepts in writing."""

    controlled: ControlledJob
    proofs: tuple[Proof, ...]
    never_act: tuple[str, ...]  # rows that nothing can make true
    faults: tuple[FaultOutcome, ...]  # empty where not asked for
    accepted: dict[str, str]  # fallen property to the job's reason

    @property
    def fallen(self) -> tuple[Proof, ...]:
        """Properties that are not proved."""
        return tuple(proof for proof in self.proofs if proof.status != "proved")

    @property
    def holds(self) -> bool:
        """Whether every property is proved, or accepted in writing."""
        return all(proof.name in self.accepted for proof in self.fallen)


def prove_job(path: Path | str, *, with_faults: bool = False, report: Report = unheard) -> ProvedJob:
    """Prove the table of a job; `report` is told stage by stage what is done.

    Errors: InputError, LiquidRefused; InputError where the job accepts a property that there is not.
    """
    report("Sizing the unit and making its table")
    controlled = control_job(path)
    unit, table = controlled.unit, controlled.table
    wanted = properties_of(unit)
    accepted = dict(controlled.job_file.accepted)
    names = [entry.name for entry in wanted]
    for name in accepted:
        if name not in names:
            raise InputError(str(path), f"accepted.{name}", "there is no such property", ", ".join(names))
    long = [entry for entry in wanted if isinstance(entry, Recovers)]  # a thousand times as long: counted in scans
    short = [entry for entry in wanted if not isinstance(entry, Recovers)]
    found: dict[str, Proof] = {}
    for number, entry in enumerate(short):
        report("Proving the properties", number, len(short))
        found[entry.name] = prove(table, entry)
    for recovery in long:
        found[recovery.name] = prove(table, recovery, report=report)
    report("Looking for rows that nothing can make true")
    never_act = rows_that_never_act(table)
    proved = ProvedJob(controlled, tuple(found[name] for name in names), never_act, (), accepted)
    return with_single_faults(proved, report) if with_faults else proved


def with_single_faults(proved: ProvedJob, report: Report = unheard) -> ProvedJob:
    """A proof with what one stuck thing takes away from it; some minutes."""
    unit = proved.controlled.unit
    return replace(
        proved, faults=single_faults(proved.controlled.table, claims_of(unit), hard_wired_of(unit), report=report)
    )
