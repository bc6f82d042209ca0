"""What is to be proved of a table: sentences with an id, in the table's own conditions.

    Always         a claim holds in every scan, whatever the inputs, timers and memory
    within         a consequence follows at most so many scans after its condition (an Always with a watching timer)
    UnaffectedBy   one input changes nothing but what is named: two units that differ in that input only stay alike
    Recovers       from any state, a healthy unit that is worked by a stated script gets to its goal

A proof of the table proves the table, not sensors, wiring, contacts or burner; it is no functional-safety assessment.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vaporwright.controls.expressions import Expr, Is, Not, both
from vaporwright.controls.table import Timer


@dataclass(frozen=True)
class Always:
    """The claim holds in every scan. `watchers` are timers that only the proof has; the claim may name them."""

    name: str
    sentence: str
    claim: Expr
    watchers: tuple[Timer, ...] = ()


@dataclass(frozen=True)
class UnaffectedBy:
    """Memory and outputs other than `apart_from` are the same whatever this input does."""

    name: str
    sentence: str
    signal: str
    apart_from: tuple[str, ...]


@dataclass(frozen=True)
class Step:
    """One step of a script: signals that people or the plant hold for so many scans."""

    title: str
    scans: int
    signals: Mapping[str, bool] = field(default_factory=dict)


@dataclass(frozen=True)
class Recovers:
    """From any state the script leads to the goal.

    A signal is what the step says, else what the healthy plant makes of the scan before (`healthy`, conditions in
    Was), else anything at all.
    """

    name: str
    sentence: str
    script: tuple[Step, ...]
    healthy: Mapping[str, Expr]
    goal: Expr


Property = Always | UnaffectedBy | Recovers


def never(name: str, sentence: str, condition: Expr) -> Always:
    """The condition never holds."""
    return Always(name, sentence, Not(condition))


def never_for(name: str, sentence: str, condition: Expr, scans: int) -> Always:
    """The condition never holds for that many scans in a row."""
    watcher = Timer(f"{name}_watcher", condition, scans)
    return Always(name, sentence, Not(Is(watcher.name)), (watcher,))


def within(name: str, sentence: str, condition: Expr, scans: int, consequence: Expr) -> Always:
    """While the condition stays, the consequence is there at most `scans` scans after the first."""
    return never_for(name, sentence, both(condition, Not(consequence)), scans + 1)
