"""The cause-and-effect table as the machine reads it: flat, ordered, each item written once.

One scan, always in this order, at a fixed period:

    inputs       read once; comparators turn quantities into inputs of the same kind
    timers       on-delays: on in the n-th scan in a row that finds the condition true, off at once
    causes       conditions with a name
    latches      the memory
    effects      what the unit is told; effects that are no outputs are steps on the way

`Is` names only items that come earlier in that order, so that a scan is one pass and nothing is read before it is
worked out. `Was` names anything as it was after the scan before. At power-up everything is false and every timer is
at nothing. Delays are whole numbers of scans.

Shops edit the rows of a `design.CauseAndEffect`; this table is expanded from it. The table describes ordinary
control. It is no safety controller: limits that protect people are hard-wired ahead of it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Literal

from vaporwright.controls.expressions import Expr, Is, atoms
from vaporwright.foundation.errors import InputError

LONGEST_DELAY_s: Final = 24.0 * 3600.0
SCANS_s: Final = (0.01, 10.0)  # shortest and longest period of the scan
_NAME: Final = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
# Words of IEC 61131-3 that an identifier must not be, and the affixes that the PLC text adds by itself.
_KEYWORDS: Final = (
    "and or xor not true false if then elsif else end if var program bool int dint real lreal time task with on of at "
    "do by to for while repeat until case exit return mod configuration resource function retain constant step "
    "action transition type struct array string byte word dword date interval priority single en eno abs min max sel "
    "mux limit move left right len find concat insert delete replace shl shr rol ror ton tof tp sr rs ctu ctd ctud"
)
Direction = Literal["above", "below"]
AlarmPriority = Literal["low", "medium", "high"]


@dataclass(frozen=True)
class Timer:
    """On-delay: on in the `scans`-th scan in a row that finds the condition true; off at once; it saturates."""

    name: str
    when: Expr
    scans: int


@dataclass(frozen=True)
class Cause:
    """A condition with a name."""

    name: str
    on: Expr


@dataclass(frozen=True)
class Latch:
    """Memory: set, kept, reset. Where both ask at once, set_wins says which is obeyed."""

    name: str
    set: Expr
    reset: Expr
    set_wins: bool


@dataclass(frozen=True)
class Effect:
    """On where `on` holds and `unless` does not."""

    name: str
    on: Expr
    unless: Expr


@dataclass(frozen=True)
class Comparator:
    """A quantity against a limit, ahead of the table: on at the limit, off once it is the hysteresis back."""

    name: str
    quantity: str  # name with its unit suffix: tank_temperature_K
    side: Direction
    limit: float
    hysteresis: float

    def output(self, value: float, before: bool) -> bool:
        """What it says of a value after it said `before`; a value that is no number is an error, never a guess."""
        if not math.isfinite(value):
            raise InputError("comparator", self.name, f"{self.quantity} is {value}", "a finite number")
        if self.side == "above":
            return value >= self.limit or (before and value >= self.back)
        return value <= self.limit or (before and value <= self.back)

    @property
    def back(self) -> float:
        """The value up to which it stays on once it is on."""
        return self.limit - self.hysteresis if self.side == "above" else self.limit + self.hysteresis


@dataclass(frozen=True)
class Label:
    """What people read about an item."""

    title: str
    kind: str  # of device or item: button, selector, rod, motor, timer, latch, ...
    on_means: str = ""


@dataclass(frozen=True)
class Alarm:
    """The items that together are one alarm; `alarms.alarm_state` reads its ISA-18.2 state from them."""

    row: str
    priority: AlarmPriority
    active: str  # the condition itself
    unacknowledged: str
    latched: str | None  # the item that keeps it until a reset


Item = Timer | Cause | Latch | Effect


@dataclass(frozen=True)
class Table:
    """The whole table; made valid or not at all.

    Raises: InputError that names the item, what is wrong and what is allowed.
    """

    name: str
    scan_s: float
    inputs: tuple[str, ...]
    comparators: tuple[Comparator, ...]
    timers: tuple[Timer, ...]
    causes: tuple[Cause, ...]
    latches: tuple[Latch, ...]
    effects: tuple[Effect, ...]
    outputs: tuple[str, ...]  # the effects that are wired to something
    alarms: tuple[Alarm, ...] = ()
    first_out: Mapping[str, str] = field(default_factory=dict)  # latch to the row that it says came first
    labels: Mapping[str, Label] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _require_scan(self.name, self.scan_s)
        self._check_names()
        self._check_references()
        for timer in self.timers:
            require_delay(self.name, timer.name, timer.scans * self.scan_s, self.scan_s)
        for comparator in self.comparators:
            _require_comparator(self.name, comparator)
        effects = {effect.name for effect in self.effects}
        for output in self.outputs:
            if output not in effects:
                raise InputError(self.name, output, "is an output but no effect", ", ".join(sorted(effects)))

    @cached_property
    def signals(self) -> tuple[str, ...]:
        """What the table reads, in order: inputs, then the outputs of the comparators."""
        return self.inputs + tuple(comparator.name for comparator in self.comparators)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """What the table works out, in order."""
        return self.timers + self.causes + self.latches + self.effects

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Everything that has a value in a scan, in order of processing."""
        return self.signals + tuple(item.name for item in self.items)

    @cached_property
    def item_of(self) -> Mapping[str, Item]:
        return {item.name: item for item in self.items}

    def _check_names(self) -> None:
        seen: set[str] = set()
        for name in self.names:
            require_name(self.name, name)
            if name in seen:
                raise InputError(self.name, name, "is written twice", "each item once")
            seen.add(name)

    def _check_references(self) -> None:
        everything, earlier = set(self.names), set(self.signals)
        for item in self.items:
            for expr in conditions(item):
                for atom in atoms(expr):
                    if atom.name not in everything:
                        raise InputError(self.name, item.name, f"names the unknown signal {atom.name}", "a known name")
                    if isinstance(atom, Is) and atom.name not in earlier:
                        raise InputError(
                            self.name, item.name, f"reads {atom.name} before it is worked out", f"Was({atom.name})"
                        )
            earlier.add(item.name)


def conditions(item: Item) -> Iterator[Expr]:
    """The expressions that an item is made of."""
    match item:
        case Timer():
            yield item.when
        case Cause():
            yield item.on
        case Latch():
            yield from (item.set, item.reset)
        case Effect():
            yield from (item.on, item.unless)


def require_name(where: str, name: str) -> None:
    """Raise InputError unless the name can stand in the table, the proof and the PLC text alike."""
    if not _NAME.fullmatch(name) or name in _KEYWORDS.split() or name.startswith("was_") or name.endswith("_count"):
        raise InputError(
            where,
            name,
            "can't be a name",
            "small letters, digits and single underscores; no word of the PLC language; not was_... or ..._count",
        )


def require_delay(where: str, key: str, delay_s: float, scan_s: float) -> int:
    """The delay in scans; raises InputError unless it is a whole number of scans from one scan to 24 hours."""
    allowed = f"a multiple of the scan of {scan_s:g} s, from one scan to {LONGEST_DELAY_s:g} s"
    if not scan_s * (1.0 - 1.0e-9) <= delay_s <= LONGEST_DELAY_s * (1.0 + 1.0e-9):
        raise InputError(where, key, f"a delay of {delay_s:g} s is out of range", allowed)
    scans = round(delay_s / scan_s)
    if abs(scans * scan_s - delay_s) > 1.0e-6 * scan_s:
        raise InputError(where, key, f"a delay of {delay_s:g} s is no whole number of scans", allowed)
    return scans


def _require_scan(where: str, scan_s: float) -> None:
    shortest, longest = SCANS_s
    if not shortest <= scan_s <= longest:
        raise InputError(where, "scan_s", f"{scan_s:g} s is out of range", f"{shortest:g} to {longest:g} s")
    if abs(scan_s * 1000.0 - round(scan_s * 1000.0)) > 1.0e-6:
        raise InputError(where, "scan_s", f"{scan_s:g} s is no whole number of milliseconds", "a multiple of 0.001 s")


def _require_comparator(where: str, comparator: Comparator) -> None:
    if not (math.isfinite(comparator.limit) and 0.0 <= comparator.hysteresis < math.inf):
        raise InputError(
            where,
            comparator.name,
            f"limit {comparator.limit:g}, hysteresis {comparator.hysteresis:g}",
            "a finite limit and a hysteresis of nothing or more",
        )
    require_name(where, comparator.quantity.lower())
