"""The unit on paper: its table as designed, scanned by the engine, with sound devices that answer after their lag.

From it comes what a row of the table should do in a trial: which effects change, when, and which alarms stand. The lags
of devices (a blower runs up, a valve strokes) are those of `controls.devices`; a trial is read where they do not
matter. No plant is here: level and temperature stay as the technician holds them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from vaporwright.acceptance.trials.means import STRING
from vaporwright.controls.burner_safeguard import (
    FAN_PROVES,
    CONTACTOR_s,
    FAN_COAST_DOWN_s,
    FAN_RUN_UP_s,
    LIGHTS_AFTER_s,
    STEAM_STROKE_s,
)
from vaporwright.controls.devices import (
    AIR_PROVES,
    FLOW_PROVES,
    SHUT,
    BLOWER_COAST_DOWN_s,
    BLOWER_RUN_UP_s,
    PUMP_COAST_DOWN_s,
    PUMP_RUN_UP_s,
    SPRAY_STROKE_s,
)
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import atoms, evaluate
from vaporwright.controls.hard_wired import hard_wired_of
from vaporwright.controls.scan import Engine, ScanState
from vaporwright.controls.table import Table
from vaporwright.controls.unit_table import UnitTable

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LONG_BLOCK: Final = 400  # scans


@dataclass(frozen=True)
class _Follower:
    """A signal that follows an effect: on so long after it, off so long after it; or the other way round."""

    effect: str
    on_s: float
    off_s: float
    inverted: bool = False


def _followers(delays: Mapping[str, float]) -> dict[str, _Follower]:
    fan_up_s = FAN_PROVES[0] * FAN_RUN_UP_s
    lit_s = fan_up_s + delays.get("pre_purge_s", 0.0) + LIGHTS_AFTER_s
    return {
        "airflow": _Follower("blower", AIR_PROVES[0] * BLOWER_RUN_UP_s, (1.0 - AIR_PROVES[1]) * BLOWER_COAST_DOWN_s),
        "pump_flow": _Follower(
            "spray_pump", FLOW_PROVES[0] * PUMP_RUN_UP_s, (1.0 - FLOW_PROVES[1]) * PUMP_COAST_DOWN_s
        ),
        "spray_shut": _Follower("spray_valve", SHUT * SPRAY_STROKE_s, SPRAY_STROKE_s, inverted=True),
        "contactor_closed": _Follower("heat", CONTACTOR_s, CONTACTOR_s),
        "steam_valve_shut": _Follower("heat", SHUT * STEAM_STROKE_s, STEAM_STROKE_s, inverted=True),
        "flame": _Follower("heat", lit_s, 0.1),
        "combustion_air": _Follower(
            "heat", fan_up_s, delays.get("post_purge_s", 0.0) + (1.0 - FAN_PROVES[1]) * FAN_COAST_DOWN_s
        ),
    }


@dataclass(frozen=True)
class PaperState:
    """All that a unit on paper hands on; trials start from copies of it."""

    scan: ScanState
    inputs: Mapping[str, bool]
    held: Mapping[str, bool]
    real: Mapping[str, bool]  # what following devices say, whoever holds their signal
    moving: Mapping[str, int]  # scans until a device has followed


class PaperUnit:
    """Runs one table as designed; what it read and made of it is kept scan by scan."""

    def __init__(self, unit: UnitTable, resting: Mapping[str, bool], table: Table | None = None) -> None:
        self.unit, self.table = unit, table or expanded(unit.design)
        self.engine = Engine(self.table)
        self.wired = hard_wired_of(unit)
        self.followers = {
            name: item
            for name, item in _followers(unit.delays).items()
            if name in self.table.inputs and item.effect in self.table.outputs
        }
        self.place = {name: place for place, name in enumerate(self.table.names)}
        self.scan_s = self.table.scan_s
        self._acting = [self.place[name] for name in self.wired]
        self._contacts = {name: tuple(atom.name for atom in atoms(expr)) for name, expr in self.wired.items()}
        self._known: dict[tuple[str, tuple[bool, ...]], bool] = {}
        self._resting = {**dict.fromkeys(self.table.signals, False), **resting}
        self.inputs = dict(self._resting)
        self.held: dict[str, bool] = {}
        self.real = {name: item.inverted for name, item in self.followers.items()}
        self.moving: dict[str, int] = {}
        self.last: NDArray[np.bool_] = np.zeros(len(self.table.names), dtype=np.bool_)
        self.read: list[NDArray[np.bool_]] = []
        self.made: list[NDArray[np.bool_]] = []
        self._follow(0)

    # State

    def state(self) -> PaperState:
        """As it stands."""
        return PaperState(self.engine.state(), dict(self.inputs), dict(self.held), dict(self.real), dict(self.moving))

    def load(self, state: PaperState) -> None:
        """Stand as it stood then; the record begins anew."""
        self.engine.load(state.scan)
        self.inputs, self.held = dict(state.inputs), dict(state.held)
        self.real, self.moving = dict(state.real), dict(state.moving)
        self.last = np.array([state.scan.values[name] for name in self.table.names], dtype=np.bool_)
        self.read, self.made = [], []

    def value(self, name: str) -> bool:
        """A name after the last scan."""
        return bool(self.last[self.place[name]])

    def record(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Inputs and all names of every scan since the record began."""
        return np.concatenate(self.read), np.concatenate(self.made)

    # What people do

    def hold(self, changes: Mapping[str, bool]) -> None:
        """Signals held by a person, whatever the device would say."""
        self.held |= changes
        self._follow(0)

    def let_go(self, names: Mapping[str, bool]) -> None:
        """Signals as their devices say again."""
        for name in names:
            self.held.pop(name, None)
            if name != STRING:
                self.inputs[name] = self.real.get(name, self._resting[name])
        self._follow(0)

    # Running

    def run(self, scans: int) -> None:
        """Go on by so many scans."""
        while scans > 0:
            step = min(scans, _LONG_BLOCK, *self.moving.values())
            before = self.engine.state() if step > 1 else None
            made = self._scan(step)
            driven = made[:, self._acting]
            moved = np.flatnonzero((driven[:-1] != self.last[self._acting]).any(axis=1))
            if before is not None and moved.size:  # devices have to follow from there on
                step = int(moved[0]) + 1
                self.engine.load(before)
                made = self._scan(step)
            self.read.append(np.repeat(self._row, step, axis=0))
            self.made.append(made)
            self.last = made[-1]
            self._follow(step)
            scans -= step

    def _scan(self, scans: int) -> NDArray[np.bool_]:
        self._row = np.array([[self.inputs[name] for name in self.table.signals]], dtype=np.bool_)
        return self.engine.run(np.repeat(self._row, scans, axis=0))

    def _follow(self, scans: int) -> None:
        """Devices move on; held signals stay; the string's end is what its contacts make of it."""
        for name, item in self.followers.items():
            wanted = self._driven(item)
            if self.real[name] == wanted:
                self.moving.pop(name, None)
                continue
            lag_s = item.on_s if wanted != item.inverted else item.off_s
            left = self.moving.get(name, round(lag_s / self.scan_s) + scans) - scans
            if left <= 0:
                self.real[name] = wanted
                self.moving.pop(name, None)
            else:
                self.moving[name] = left
        self.inputs |= self.real | self.held
        if STRING in self.inputs and STRING not in self.held and "heat" in self.wired:
            self.inputs[STRING] = True
            self.inputs[STRING] = self._closed("heat")

    def _driven(self, item: _Follower) -> bool:
        return (self.value(item.effect) and self._closed(item.effect)) != item.inverted

    def _closed(self, effect: str) -> bool:
        """Whether the contacts in series with an effect are closed."""
        contacts = tuple(self.inputs[name] for name in self._contacts[effect])
        if (effect, contacts) not in self._known:
            self._known[effect, contacts] = evaluate(self.wired[effect], self.inputs, self.inputs)
        return self._known[effect, contacts]
