"""How good the procedure of a job is, measured: planted faults, and which of its steps finds each.

The share says how many of these planted faults were found. It does not say that no other fault can be there, and it is
no functional-safety assessment.
"""

from __future__ import annotations

import pickle
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Final

from vaporwright.acceptance.quality.fault_study import Finding, Study
from vaporwright.acceptance.quality.simulated_floor import subject_of
from vaporwright.acceptance.steps.day import DayConditions, usual_day
from vaporwright.acceptance.steps.order import Choice, Ordered, shortest_choice, soonest_order
from vaporwright.acceptance.steps.procedure import Variant
from vaporwright.actions.control_job import control_job

Report = Callable[[float], None]
SEEDS: Final = tuple(range(1, 9))
PROCESSES: Final = 2


@dataclass(frozen=True)
class QualityReport:
    """What came of the planted faults."""

    heat: str
    findings: tuple[Finding, ...]
    steps: int
    minutes: float  # of the whole procedure
    choice: Choice
    order: tuple[Ordered, ...]
    false_alarms: tuple[int, int]  # steps of a sound unit that did not pass, of so many
    false_alarm_steps: dict[str, int]

    @property
    def unseen(self) -> tuple[Finding, ...]:
        """Faults that no step found and nobody could: the table does the same with and without them."""
        return tuple(item for item in self.findings if not item.caught and item.fault.unseen)

    @property
    def survivors(self) -> tuple[Finding, ...]:
        """Faults that no step found though somebody could."""
        return tuple(item for item in self.findings if not item.caught and not item.fault.unseen)

    @property
    def share(self) -> float:
        """Faults found, of those that can be."""
        caught = sum(item.caught for item in self.findings)
        return caught / max(caught + len(self.survivors), 1)

    @property
    def by_kind(self) -> dict[str, tuple[int, int, int]]:
        """Found, unseen and missed of each kind."""
        found: dict[str, Counter[str]] = {}
        for item in self.findings:
            state = "found" if item.caught else "unseen" if item.fault.unseen else "missed"
            found.setdefault(item.fault.kind, Counter())[state] += 1
        return {kind: (count["found"], count["unseen"], count["missed"]) for kind, count in found.items()}

    @property
    def only_by(self) -> dict[str, int]:
        """Steps that are the only one to find some fault, and how many."""
        return dict(Counter(item.steps[0] for item in self.findings if len(item.steps) == 1))


def measure_quality(
    path: Path | str,
    *,
    variant: Variant = "full",
    limit: int = 0,
    day: DayConditions | None = None,
    processes: int = PROCESSES,
    report: Report | None = None,
) -> QualityReport:
    """Plant faults into the unit of a job and perform its procedure on each.

    Args: limit: so many faults, evenly spread over all kinds; 0: all. report: is told the share done.
    Errors: InputError and LiquidRefused as a sizing.
    """
    controlled = control_job(path)
    study = Study(subject_of(controlled.answer, controlled.unit, day or usual_day(controlled.answer), variant))
    number = len(study.faults)
    places = spread(number, limit)
    findings: list[Finding] = []
    for found in _findings(study, places, processes):
        findings.append(found)
        if report is not None:
            report(len(findings) / len(places))
    findings.sort(key=lambda item: item.place)
    return _reported(study, findings)


def spread(number: int, limit: int) -> list[int]:
    """Places of a sample, evenly spread over all."""
    return sorted({place * number // limit for place in range(limit)}) if 0 < limit < number else list(range(number))


def _reported(study: Study, findings: Sequence[Finding]) -> QualityReport:
    procedure = study.subject.procedure
    steps = tuple(procedure.steps)
    found_by = [item.steps for item in findings]
    choice = shortest_choice(steps, found_by)
    failed, done, which = study.false_alarms(SEEDS)
    return QualityReport(
        heat=procedure.heat,
        findings=tuple(findings),
        steps=len(steps),
        minutes=procedure.minutes,
        choice=choice,
        order=soonest_order(steps, choice.steps, found_by),
        false_alarms=(failed, done),
        false_alarm_steps=which,
    )


_studied: Study | None = None


def _take(pickled: bytes) -> None:
    global _studied
    _studied = pickle.loads(pickled)


def _find(place: int) -> Finding:
    assert _studied is not None
    return _studied.finding(place)


def _findings(study: Study, places: Sequence[int], processes: int):  # type: ignore[no-untyped-def]
    if processes <= 1:
        yield from map(study.finding, places)
        return
    with get_context("spawn").Pool(processes, initializer=_take, initargs=(pickle.dumps(study),)) as pool:
        yield from pool.imap_unordered(_find, places, chunksize=2)
