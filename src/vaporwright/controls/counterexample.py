"""A counterexample of the proof, and its replay without the solver.

It is a state and the inputs of some scans; run from that state, the table breaks the property in the last scan. The
replay uses the reference interpreter of `scan` and knows nothing of how the solver came to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from vaporwright.controls.expressions import Expr, evaluate
from vaporwright.controls.scan import ScanState, scanned
from vaporwright.controls.table import Table, Timer


@dataclass(frozen=True)
class Fault:
    """One thing stuck: an input on or off, or the contact of an output welded (on) or open (off)."""

    name: str
    stuck: bool


@dataclass(frozen=True)
class Field:
    """What lies between the table and the plant."""

    fault: Fault | None = None
    hard_wired: Mapping[str, Expr] = field(default_factory=dict)  # output: contacts in series with it


@dataclass(frozen=True)
class Counterexample:
    """Where it starts, what comes in, and what the field has that the table can't see."""

    start: ScanState
    inputs: tuple[Mapping[str, bool], ...]  # what is really there, a scan each
    from_power_up: bool  # False: the state satisfies the proof's invariant, but no way to it was shown
    real_before: Mapping[str, bool] = field(default_factory=dict)  # where it differs from what the table saw
    watched_before: Mapping[str, int] = field(default_factory=dict)
    between: Field = field(default_factory=Field)
    other: tuple[ScanState, tuple[Mapping[str, bool], ...]] | None = None  # the second copy, where two are compared


@dataclass(frozen=True)
class Frame:
    """One replayed scan: what the table saw and did, and what was really so in the field."""

    state: ScanState
    real: Mapping[str, bool]


def replayed(table: Table, example: Counterexample, watchers: Sequence[Timer] = ()) -> tuple[Frame, ...]:
    """The state it starts from, then every scan, by the reference interpreter."""
    state, fault = example.start, example.between.fault
    real = {**state.values, **example.real_before}
    counts = dict(example.watched_before)
    real |= {timer.name: counts.get(timer.name, 0) >= timer.scans for timer in watchers}
    frames = [Frame(state, real)]
    for inputs in example.inputs:
        contacts = dict(inputs)
        if fault is not None and fault.name in contacts:
            contacts[fault.name] = fault.stuck
        seen_before, real_before = state.values, real
        state = scanned(table, state, contacts)
        real = {**state.values, **inputs}
        for output in table.outputs:
            closed = fault.stuck if fault is not None and fault.name == output else state.values[output]
            in_series = example.between.hard_wired.get(output)
            real[output] = closed and (in_series is None or evaluate(in_series, contacts, seen_before))
        for timer in watchers:
            counting = evaluate(timer.when, real, real_before)
            counts[timer.name] = min(counts.get(timer.name, 0) + 1, timer.scans) if counting else 0
            real[timer.name] = counts[timer.name] >= timer.scans
        frames.append(Frame(state, real))
    return tuple(frames)


def claim_at_end(claim: Expr, frames: Sequence[Frame]) -> bool:
    """Whether the claim holds in the last scan; a counterexample of it makes this False."""
    return evaluate(claim, frames[-1].real, frames[-2].real)
