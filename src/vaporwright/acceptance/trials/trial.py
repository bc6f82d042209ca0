"""A trial: what is done to a unit in a step of the procedure, at which moments, and what is looked at and timed.

It is the machine's form of a step. The unit on paper says what is expected; a simulated technician does the same to a
simulated unit and reads it (`simulated_floor`). Times are in scans from the trial's begin.

What is looked at, an item, is written as kind:name

    output:heat            the lamp of an output at the controller
    device:blower          what hangs on the output: contactor, valve, lamp
    input:airflow          the lamp of an input at the controller
    alarm:low_level        the alarm is listed on the panel, in whatever state
    unseen:low_level       it is listed as not acknowledged
    first:low_level        the panel names it as the first of its group
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from vaporwright.acceptance.trials.means import Deed, Means
from vaporwright.acceptance.trials.paper_unit import PaperState, PaperUnit
from vaporwright.controls.expressions import evaluate
from vaporwright.controls.scan import Engine, ScanState, power_up
from vaporwright.controls.table import Table

if TYPE_CHECKING:
    from numpy.typing import NDArray

OUTPUT, DEVICE, INPUT, ALARM, UNSEEN, FIRST = "output", "device", "input", "alarm", "unseen", "first"
TIME_SHARE: Final = 0.1  # of a timer's setting; common practice, no source
TIME_s: Final = 1.0  # at least
POWER_OFF: Final[Deed] = ("supply", "power", "off")
POWER_ON: Final[Deed] = ("supply", "power", "on")


@dataclass(frozen=True)
class Act:
    """What is done at a scan: deeds for a simulated unit, held signals for the unit on paper."""

    scan: int
    deeds: tuple[Deed, ...]
    hold: Mapping[str, bool] = field(default_factory=dict)
    let_go: Mapping[str, bool] = field(default_factory=dict)
    said: str = ""


@dataclass(frozen=True)
class Look:
    """One field of a step: at a scan all these items are so."""

    field: str
    scan: int
    expected: Mapping[str, bool]


@dataclass(frozen=True)
class Sign:
    """An item that goes on or off."""

    item: str
    on: bool


@dataclass(frozen=True)
class Timing:
    """One field of a step: seconds from a deed, or from a sign, to another sign."""

    field: str
    begin: int | Sign  # scan of the deed
    end: Sign
    expected_s: float

    @property
    def tolerance_s(self) -> float:
        """A tenth of it, at least a second."""
        return max(TIME_SHARE * self.expected_s, TIME_s)


@dataclass(frozen=True)
class Trial:
    """A trial from a standing start: a context of the unit, then acts, looks and timings."""

    key: str  # of its step
    context: str
    acts: tuple[Act, ...]
    looks: tuple[Look, ...]
    timings: tuple[Timing, ...]
    scans: int
    hot: bool = False


@dataclass(frozen=True)
class Context:
    """How the unit stands before a trial, and how it was brought there from power-up."""

    key: str
    words: str
    acts: tuple[Act, ...]
    scans: int
    state: PaperState
    read: NDArray[np.bool_]  # every input, scan by scan, since power-up or since its base
    outputs: tuple[bool, ...]
    fired: bool = False
    base: Context | None = None


class Film(Protocol):
    """What was seen of a unit during a trial."""

    table: Table

    def column(self, name: str) -> NDArray[np.bool_] | None:
        """A name of the table after each scan; None where the table has no such name."""
        ...

    def lamp(self, name: str) -> NDArray[np.bool_] | None:
        """The lamp of an input at the controller."""
        ...

    def device(self, name: str, scan: int) -> bool:
        """Whether what hangs on an output is on."""
        ...


def value_of(film: Film, item: str, scan: int) -> bool:
    """An item after a scan; what the table does not have is never seen."""
    kind, _, name = item.partition(":")
    if kind == DEVICE:
        return film.device(name, scan)
    line = line_of(film, item)
    return bool(line[scan]) if line is not None else False


def line_of(film: Film, item: str) -> NDArray[np.bool_] | None:
    """An item over all scans of a trial."""
    kind, _, name = item.partition(":")
    if kind == INPUT:
        return film.lamp(name)
    if kind == OUTPUT:
        return film.column(name) if name in film.table.outputs else None
    if kind == FIRST:
        latch = next((latch for latch, row in film.table.first_out.items() if row == name), None)
        return film.column(latch) if latch else None
    alarm = next((alarm for alarm in film.table.alarms if alarm.row == name), None)
    if alarm is None:
        return None
    if kind == UNSEEN:
        return film.column(alarm.unacknowledged)
    found = [film.column(part) for part in (alarm.active, alarm.unacknowledged, alarm.latched) if part]
    together: NDArray[np.bool_] = np.logical_or.reduce([line for line in found if line is not None])
    return together


def first_change(film: Film, sign: Sign, begin: int, end: int) -> int | None:
    """The first scan from begin to before end after which the sign is there and was not before."""
    line = line_of(film, sign.item)
    if line is None or begin >= end:
        return None
    before = bool(line[begin - 1]) if begin else False
    wanted = line[begin:end] == sign.on
    fresh = wanted & ~np.concatenate(([before == sign.on], wanted[:-1]))
    found = np.flatnonzero(fresh)
    return begin + int(found[0]) if found.size else None


def timed_s(film: Film, timing: Timing, scans: int, scan_s: float) -> float | None:
    """Seconds as a stopwatch would have them; None where the end never came."""
    begin = timing.begin
    if isinstance(begin, Sign):
        found = first_change(film, begin, 1, scans)
        if found is None:
            return None
        begin = found
    end = first_change(film, timing.end, begin, scans)
    return None if end is None else (end - begin) * scan_s


@dataclass
class PaperFilm:
    """What the unit on paper, or another table on the same inputs, made of a trial."""

    table: Table
    read: NDArray[np.bool_]
    made: NDArray[np.bool_]
    wired: Mapping[str, object]

    def __post_init__(self) -> None:
        self._place = {name: place for place, name in enumerate(self.table.names)}

    def column(self, name: str) -> NDArray[np.bool_] | None:
        """See Film."""
        place = self._place.get(name)
        return None if place is None else self.made[:, place]

    def lamp(self, name: str) -> NDArray[np.bool_] | None:
        """See Film."""
        return self.column(name)

    def device(self, name: str, scan: int) -> bool:
        """See Film."""
        line = self.column(name)
        if line is None or not line[scan]:
            return False
        if name not in self.wired:
            return True
        contacts = {signal: bool(self.read[scan, place]) for place, signal in enumerate(self.table.signals)}
        return evaluate(self.wired[name], contacts, contacts)  # type: ignore[arg-type]


def perform_on_paper(paper: PaperUnit, state: PaperState | None, trial_acts: tuple[Act, ...], scans: int) -> PaperFilm:
    """Do the acts to the unit on paper, from a state, or as it stands."""
    if state is not None:
        paper.load(state)
    at = 0
    for act in sorted(trial_acts, key=lambda item: item.scan):
        paper.run(act.scan - at)
        at = act.scan
        apply_act(paper, act)
    paper.run(scans - at)
    read, made = paper.record()
    return PaperFilm(paper.table, read, made, paper.wired)


def apply_act(paper: PaperUnit, act: Act) -> None:
    """One act on paper; power that comes back finds the table as new."""
    if POWER_ON in act.deeds:
        paper.engine.load(power_up(paper.table))
        paper.last = np.zeros_like(paper.last)
    paper.let_go(act.let_go)
    if act.hold:
        paper.hold(act.hold)


class Replay:
    """Another table, put to the same inputs from power-up on; it remembers how it stands in each context."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self._engine = Engine(table)
        self._states: dict[str, ScanState] = {}

    def film(self, context: Context, film: PaperFilm) -> PaperFilm:
        """What it makes of a trial."""
        self._engine.load(self._state(context))
        return PaperFilm(self.table, film.read, self._engine.run(film.read), film.wired)

    def _state(self, context: Context) -> ScanState:
        if context.key not in self._states:
            self._engine.load(power_up(self.table) if context.base is None else self._state(context.base))
            self._engine.run(context.read)
            self._states[context.key] = self._engine.state()
        return self._states[context.key]


def use(means: Means, scan: int, held_scans: int) -> tuple[Act, ...]:
    """The acts of a means: a button is let go again after a moment."""
    first = Act(scan, means.deeds, hold=means.changes, said=means.action)
    if not means.momentary:
        return (first,)
    return (first, Act(scan + held_scans, means.undo, let_go=means.changes))


def undo(means: Means, scan: int) -> tuple[Act, ...]:
    """The acts that put things back."""
    return () if means.momentary else (Act(scan, means.undo, let_go=means.changes, said=means.restore),)
