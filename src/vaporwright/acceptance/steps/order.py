"""The shortest choice of steps that keeps what a procedure finds, and the order that finds it soonest.

Choice: weighted set cover. Every fault that is found at all needs one of its steps; a step brings along those that must
be accepted before it; hold points always stay. The least sum of minutes, by mixed-integer programming (exact where the
solver says so, within the gap that it states where not).

Order: what finds most new faults per minute comes first, as far as steps that wait for others allow; a hold point and
all that came before it in the procedure are done before what comes after it there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.steps.procedure import Step

SOLVER_s: Final = 30.0


@dataclass(frozen=True)
class Choice:
    """The chosen steps in the procedure's order, their minutes, and the least that any choice could take."""

    steps: tuple[str, ...]
    minutes: float
    least_minutes: float

    @property
    def exact(self) -> bool:
        """No shorter choice exists."""
        return self.minutes <= self.least_minutes * (1.0 + 1.0e-6)


@dataclass(frozen=True)
class Ordered:
    """A step in its place: minutes until its end, and the faults found by then."""

    step: str
    minutes: float
    found: int


def shortest_choice(steps: Sequence[Step], found_by: Sequence[Sequence[str]]) -> Choice:
    """The shortest choice of steps that finds every fault that all of them find.

    Args: found_by: for each fault the keys of the steps that find it; a fault that none finds asks for nothing.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    place = {step.key: index for index, step in enumerate(steps)}
    minutes = np.array([step.minutes for step in steps])
    rows = [[place[key] for key in keys] for keys in {tuple(keys) for keys in found_by} if keys]
    waits = [(index, place[key]) for index, step in enumerate(steps) for key in step.after if key in place]
    matrix = np.zeros((len(rows) + len(waits), len(steps)))
    lows = np.concatenate((np.ones(len(rows)), np.zeros(len(waits))))
    for line, columns in enumerate(rows):
        matrix[line, columns] = 1.0
    for line, (index, before) in enumerate(waits, len(rows)):
        matrix[line, before], matrix[line, index] = 1.0, -1.0
    least = np.array([1.0 if step.point == "hold" else 0.0 for step in steps])
    constraints = [LinearConstraint(matrix, lows, np.inf)] if len(matrix) else []
    result = milp(
        minutes, integrality=np.ones(len(steps)), bounds=Bounds(least, 1.0), constraints=constraints,
        options={"time_limit": SOLVER_s},
    )  # fmt: skip
    assert result.x is not None  # all steps together are a choice
    chosen = tuple(step.key for step, taken in zip(steps, result.x, strict=True) if taken > 0.5)
    taken = float(sum(step.minutes for step in steps if step.key in set(chosen)))
    bound = result.mip_dual_bound
    return Choice(chosen, taken, taken if bound is None else min(float(bound), taken))


def soonest_order(
    steps: Sequence[Step], chosen: Sequence[str], found_by: Sequence[Sequence[str]]
) -> tuple[Ordered, ...]:
    """The chosen steps, those first that find most new faults per minute."""
    waiting = [step for step in steps if step.key in set(chosen)]
    finds: Mapping[str, set[int]] = {
        step.key: {fault for fault, keys in enumerate(found_by) if step.key in keys} for step in waiting
    }
    done: set[str] = set()
    seen: set[int] = set()
    minutes, ordered = 0.0, []
    while waiting:
        ready = [step for step in waiting if _ready(step, waiting, done)]
        best = max(ready, key=lambda step: len(finds[step.key] - seen) / max(step.minutes, 0.1))
        waiting.remove(best)
        done.add(best.key)
        seen |= finds[best.key]
        minutes += best.minutes
        ordered.append(Ordered(best.key, minutes, len(seen)))
    return tuple(ordered)


def _ready(step: Step, waiting: Sequence[Step], done: set[str]) -> bool:
    """What it waits for is done, no hold point stands before it, and a hold point waits for all before it."""
    chosen = {other.key for other in waiting}
    if any(key in chosen for key in step.after if key not in done):
        return False
    before = waiting[: waiting.index(step)]
    return not before if step.point == "hold" else all(other.point != "hold" for other in before)
