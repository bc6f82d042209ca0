"""The devices between the table and the simulated plant: motors, valves, switches, rods, the hard-wired limits.

Each is small, moves once a scan, and can fail in the ways in which such devices fail. All figures here are common
practice, no source; none of them is a safety time. What the plant itself does to a device (level, temperature, flow)
is handed in; what the device does to the plant is a share of the design's, 0 to 1.

Motors run up and coast down at a constant rate, valves stroke at one; both then stand exactly at their end, so that a
unit at rest can be seen to be at rest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from vaporwright.foundation.errors import require_range

BLOWER_RUN_UP_s: Final = 5.0
BLOWER_COAST_DOWN_s: Final = 20.0
PUMP_RUN_UP_s: Final = 1.5
PUMP_COAST_DOWN_s: Final = 2.0
SPRAY_STROKE_s: Final = 10.0  # spray and agitation branch
REFILL_STROKE_s: Final = 1.0
DRAIN_STROKE_s: Final = 10.0
SHUT: Final = 0.02  # of the stroke: the position switch of a valve
AIR_PROVES: Final = (0.7, 0.6)  # shares of airflow at which the switch closes and opens: 0.49 and 0.36 of its pressure
FLOW_PROVES: Final = (0.5, 0.4)  # shares of the pump's flow
ALWAYS_AGITATES: Final = 0.25  # of the pump's flow, past the spray
PRESS_DRAWS_m3_s: Final = 6.3e-4  # 10 gal/min to the filter press
FLOAT_FALLS_m: Final = 0.010  # before the high-high float lets go again
LOW_WATER_SHARE: Final = 0.5  # of the way from the heater's top to the low rod
SURFACE_LAG_s: Final = 60.0  # of the heater's surface
SURFACE_RISE_difference_K: Final = 60.0  # of a clean, covered heater over the bath, at full load
BARE_RISE_difference_K: Final = 500.0  # of a heater in air
SURFACE_LIMIT_difference_K: Final = 150.0  # of the over-temperature device over boiling liquor
Failure = Literal["sound", "welded", "open"]


class Ramp:
    """A motor's speed or a valve's position, 0 to 1, at a constant rate each way.

    Args: up_s, down_s [s]: over the whole way.
    """

    __slots__ = ("_down_per_s", "_up_per_s", "position", "stuck")

    def __init__(self, up_s: float, down_s: float | None = None) -> None:
        require_range("up_s", up_s, 0.1, 600.0, "a motor or valve")
        require_range("down_s", up_s if down_s is None else down_s, 0.1, 600.0, "a motor or valve")
        self._up_per_s = 1.0 / up_s
        self._down_per_s = 1.0 / (up_s if down_s is None else down_s)
        self.position = 0.0
        self.stuck: float | None = None  # a valve that hangs, at this position

    def step(self, driven: bool, dt_s: float) -> None:
        """Move for one scan."""
        if self.stuck is not None:
            self.position = self.stuck
        elif driven:
            self.position = min(self.position + dt_s * self._up_per_s, 1.0)
        else:
            self.position = max(self.position - dt_s * self._down_per_s, 0.0)

    def settled(self, driven: bool) -> bool:
        """It stands where it is driven to."""
        return self.position == (self.stuck if self.stuck is not None else float(driven))


class Switch:
    """Closes at one value and opens again under another; a float, a pressure difference, a flow."""

    __slots__ = ("closed", "closes_at", "opens_under")

    def __init__(self, closes_at: float, opens_under: float) -> None:
        require_range("opens_under", opens_under, None, closes_at, "a switch opens under where it closes")
        self.closes_at, self.opens_under = closes_at, opens_under
        self.closed = False

    def step(self, value: float) -> bool:
        """What it says of a value after what it said before."""
        self.closed = value >= (self.opens_under if self.closed else self.closes_at)
        return self.closed


class ManualReset:
    """A limit that opens and stays open until a person resets it at the device, which works only in good order."""

    __slots__ = ("clear", "healthy")

    def __init__(self) -> None:
        self.clear = True
        self.healthy = True

    def step(self, healthy: bool) -> bool:
        """Open where it is not healthy; otherwise as it was."""
        self.healthy = healthy
        self.clear = self.clear and healthy
        return self.clear

    def reset(self) -> None:
        """Push its button."""
        self.clear = self.healthy


@dataclass(slots=True)
class EffectContact:
    """The contact of one effect: it follows the table, or is welded, or stays open."""

    failure: Failure = "sound"

    def closed(self, told: bool) -> bool:
        """What it does with what it is told."""
        return self.failure == "welded" or (told and self.failure != "open")


RodFailure = Literal["sound", "stuck wet", "stuck dry"]


@dataclass(slots=True)
class Rods:
    """Level rods on one relay: a rod is wet where the liquor reaches its tip, and the reference closes the circuit.

    Foam and waves come with the level. Faults: stuck wet (scale, foam, a wet holder), stuck dry (a broken wire), a
    broken reference (all read dry), a rod lifted out of its place, all rods taken out and dipped into a bucket.
    """

    tips_m: Mapping[str, float]  # above the tank's low corner
    reference_m: float
    failures: dict[str, RodFailure] = field(default_factory=dict)
    lifted_m: dict[str, float] = field(default_factory=dict)
    reference_broken: bool = False
    bucket: frozenset[str] | None = None  # the rods that its liquor reaches; None: they hang in the tank

    def wet(self, rod: str, level_m: float) -> bool:
        """Whether its relay sees liquor."""
        failure = self.failures.get(rod, "sound")
        if failure == "stuck wet":
            return True
        if failure == "stuck dry" or self.reference_broken:
            return False
        if self.bucket is not None:
            return rod in self.bucket
        return level_m >= max(self.tip_m(rod), self.reference_m)

    def tip_m(self, rod: str) -> float:
        """Where its tip hangs now."""
        return self.tips_m[rod] + self.lifted_m.get(rod, 0.0)

    def dip(self, up_to: str) -> None:
        """Hold all rods in a bucket whose liquor reaches the tip of that rod and of those that hang lower."""
        self.bucket = frozenset(rod for rod in self.tips_m if self.tips_m[rod] <= self.tips_m[up_to])


@dataclass(slots=True)
class HeaterSurface:
    """Temperature of the heater's surface over the bath: with load, with bare metal, with scale.

    A scaled heater lets through less, so that its surface stands hotter by the same factor.
    """

    rise_K: float = 0.0
    keeps: float = math.exp(-1.0 / SURFACE_LAG_s)  # over one second

    def second(self, load: float, covered: float, transfer_factor: float) -> None:
        """Go on for one second."""
        full_K = SURFACE_RISE_difference_K * covered + BARE_RISE_difference_K * (1.0 - covered)
        target_K = load * full_K / max(transfer_factor, 0.1)
        self.rise_K = target_K + (self.rise_K - target_K) * self.keeps


@dataclass(slots=True)
class Panel:
    """Selectors and buttons, worked by people; the emergency stop stays in until it is pulled."""

    selectors: dict[str, str] = field(default_factory=lambda: dict.fromkeys(SELECTORS, "off"))
    pushed: set[str] = field(default_factory=set)

    def contacts(self) -> dict[str, bool]:
        """What the panel's contacts say."""
        found = {signal: self.selectors[name] == position for name, position, signal in _POSITIONS}
        found |= {button: button in self.pushed for button in ("start", "reset", "silence", "acknowledge")}
        found["stop_clear"] = "stop" not in self.pushed
        found["emergency_stop_clear"] = EMERGENCY_STOP not in self.pushed
        return found


EMERGENCY_STOP: Final = "emergency stop"
BUTTONS: Final = ("start", "stop", "reset", "silence", "acknowledge", EMERGENCY_STOP)
SELECTORS: Final[Mapping[str, tuple[str, ...]]] = {
    "blower": ("off", "auto", "hand"),
    "pump": ("off", "auto", "hand"),
    "refill": ("off", "auto", "hand"),
    "heat": ("off", "auto"),
    "warm_up": ("off", "on"),
    "drain": ("off", "on"),
    "press": ("off", "on"),
}
_POSITIONS: Final = (
    ("blower", "auto", "blower_auto"),
    ("blower", "hand", "blower_hand"),
    ("pump", "auto", "pump_auto"),
    ("pump", "hand", "pump_hand"),
    ("refill", "auto", "refill_auto"),
    ("refill", "hand", "refill_hand"),
    ("heat", "auto", "heat_auto"),
    ("warm_up", "on", "warm_up"),
    ("drain", "on", "drain_selected"),
    ("press", "on", "press_feed_asked"),
)
SIGNAL_OF: Final[Mapping[tuple[str, str], str]] = {(name, position): signal for name, position, signal in _POSITIONS}
