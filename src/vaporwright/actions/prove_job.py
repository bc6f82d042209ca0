"""Proof of a job's table: every safety property, and which of them one stuck thing takes away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from vaporwright.actions.control_job import ControlledJob, control_job
from vaporwright.controls.hard_wired import hard_wired_of
from vaporwright.controls.proof import Proof, prove, rows_that_never_act
from vaporwright.controls.single_faults import FaultOutcome, single_faults
from vaporwright.controls.unit_properties import claims_of, properties_of
from vaporwright.foundation.errors import InputError

Report = Callable[[float], None]
SHARE_OF_FAULTS = 0.8  # of the time, where single faults are looked at too


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


def prove_job(path: Path | str, *, with_faults: bool = False, report: Report | None = None) -> ProvedJob:
    """Prove the table of a job; `report` is told the share done.

    Errors: InputError, LiquidRefused; InputError where the job accepts a property that there is not.
    """
    controlled = control_job(path)
    unit, table = controlled.unit, controlled.table
    wanted = properties_of(unit)
    accepted = dict(controlled.job_file.accepted)
    names = [entry.name for entry in wanted]
    for name in accepted:
        if name not in names:
            raise InputError(str(path), f"accepted.{name}", "there is no such property", ", ".join(names))
    share = 1.0 - SHARE_OF_FAULTS if with_faults else 1.0

    def told(done: float) -> None:
        if report is not None:
            report(done)

    proofs = []
    for number, entry in enumerate(wanted):
        proofs.append(prove(table, entry))
        told(share * (number + 1) / len(wanted))
    faults: tuple[FaultOutcome, ...] = ()
    if with_faults:
        hard_wired = hard_wired_of(unit)
        faults = single_faults(
            table, claims_of(unit), hard_wired, report=lambda done: told(share + (1.0 - share) * done)
        )
    return ProvedJob(controlled, tuple(proofs), rows_that_never_act(table), faults, accepted)
