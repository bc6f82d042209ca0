"""The three ways of heating as the limit string and the table see them; for gas, with the burner's own safeguard.

The burner safeguard is a device of its own, listed for its purpose. It alone purges, lights, watches the flame and
locks out; the table only asks for heat and listens. This model is for rehearsals. It is no design of a safeguard, and
its times are the most that the adopted code of the job may allow, not what a given device does.

    standby      asked, with the string closed and the air switch seen open: fan on
    pre-purge    counts only with air proved, at least four volumes of the tube; air missing for long: lock-out
    ignition     spark and gas, at most the trial's time; no flame by then: lock-out
    run          flame gone for the response time, or air lost: gas shut, lock-out
    post-purge   after every run, with the fan on
    lock-out     gas shut; by a person's reset at the device only; a power loss does not clear it

A string that opens, or a call that ends, shuts the gas at once and is no lock-out. A flame where none should be, is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, Protocol

from vaporwright.controls.devices import SHUT, Ramp, Switch
from vaporwright.foundation.errors import require_range
from vaporwright.unit.catalogue import GasBurnerPart

LONGEST_TRIAL_s: Final = 15.0
LONGEST_FLAME_FAILURE_s: Final = 4.0
PURGE_VOLUMES: Final = 4.0
SHORTEST_PURGE_s: Final = 15.0
AIR_MISSING_s: Final = 10.0  # the fan runs and no air is proved
AIR_STUCK_s: Final = 30.0  # asked for, and the air switch is closed with the fan at rest
FAN_RUN_UP_s: Final = 3.0
FAN_COAST_DOWN_s: Final = 6.0
FAN_PROVES: Final = (0.8, 0.7)
LIGHTS_AFTER_s: Final = 3.0  # gas in the manifold, spark, flame
AIR_J_m3: Final = 3.7e6  # gross heat of fuel burnt in a cubic metre of air: 100 Btu per cubic foot, a rule of thumb
CONTACTOR_s: Final = 0.1
STEAM_STROKE_s: Final = 15.0
Phase = Literal["standby", "pre-purge", "ignition", "run", "post-purge", "lock-out"]


@dataclass(frozen=True)
class SafeguardTimes:
    """Its times; raises OutOfRange for a purge of less than four volumes and for safety times that are too long.

    Args:
        chamber_m3 [m3]: tube and flue box; purge_air_m3_s [m3/s]: that the fan blows through them.
    """

    pre_purge_s: float = 30.0
    ignition_s: float = 15.0
    flame_failure_s: float = 4.0
    post_purge_s: float = 15.0
    chamber_m3: float = 0.0
    purge_air_m3_s: float = 0.1

    def __post_init__(self) -> None:
        require_range("purge_air_m3_s", self.purge_air_m3_s, 1.0e-3, 10.0, "combustion fan")
        volumes_s = PURGE_VOLUMES * self.chamber_m3 / self.purge_air_m3_s
        require_range("pre_purge_s", self.pre_purge_s, max(SHORTEST_PURGE_s, volumes_s), 600.0, "four volumes")
        require_range("ignition_s", self.ignition_s, 1.0, LONGEST_TRIAL_s, "trial for ignition")
        require_range("flame_failure_s", self.flame_failure_s, 0.1, LONGEST_FLAME_FAILURE_s, "flame failure response")
        require_range("post_purge_s", self.post_purge_s, 0.0, 600.0, "post-purge")


def chamber_and_air(part: GasBurnerPart) -> tuple[float, float]:
    """Volume of the immersion tube [m3] and the fan's air at full fire [m3/s], for the purge."""
    bore_m = part.tube_outer_diameter_m - 2.0 * part.tube_wall_thickness_m
    return 0.25 * math.pi * bore_m**2 * part.tube_length_m, part.gross_input_W / AIR_J_m3


class BurnerSafeguard:
    """The state machine; one call a scan."""

    __slots__ = ("_dark_s", "_stuck_s", "flame_relay", "phase", "reason", "seconds", "times")

    def __init__(self, times: SafeguardTimes) -> None:
        self.times = times
        self.phase: Phase = "standby"
        self.seconds = 0.0  # in this phase; in pre-purge, with air proved
        self.reason = ""  # of the last lock-out
        self.flame_relay = False
        self._dark_s = 0.0  # flame missing in run, air missing in pre-purge, flame seen where none should be
        self._stuck_s = 0.0

    @property
    def fan(self) -> bool:
        """It asks the combustion fan to run."""
        purging = self.phase == "lock-out" and self.seconds < self.times.post_purge_s
        return purging or self.phase in ("pre-purge", "ignition", "run", "post-purge")

    @property
    def gas(self) -> bool:
        """It opens the gas valves."""
        return self.phase in ("ignition", "run")

    @property
    def settled(self) -> bool:
        """Nothing in it counts."""
        over = self.phase == "lock-out" and self.seconds >= self.times.post_purge_s
        return (over or self.phase in ("standby", "run")) and self._dark_s == 0.0 and self._stuck_s == 0.0

    def reset(self) -> None:
        """A person's reset at the device."""
        if self.phase == "lock-out":
            self._enter("standby")

    def power_lost(self) -> None:
        """Without power its relays fall; a lock-out is kept."""
        self.flame_relay = False
        if self.phase != "lock-out":
            self._enter("standby")

    def step(self, *, called: bool, string: bool, air: bool, flame: bool, dt_s: float) -> None:
        """One scan: called by the table, limit string closed, air switch closed, flame seen."""
        self.seconds = min(self.seconds + dt_s, 1.0e6)
        wanted = called and string
        if self.phase == "run":
            self._run(wanted, air, flame, dt_s)
        elif self.phase == "ignition":
            self._ignite(wanted, air, flame)
        elif self.phase == "lock-out":
            self.flame_relay = flame
        elif not self._flame_unasked(flame, dt_s):
            if self.phase == "pre-purge":
                self._pre_purge(wanted, air, dt_s)
            elif self.phase == "post-purge":
                if self.seconds >= self.times.post_purge_s:
                    self._enter("standby")
            else:
                self._stand_by(wanted, air, dt_s)

    def _enter(self, phase: Phase) -> None:
        self.phase = phase
        self.seconds = self._dark_s = self._stuck_s = 0.0

    def _lock_out(self, reason: str) -> None:
        self.reason = reason
        self.flame_relay = False
        self._enter("lock-out")

    def _flame_unasked(self, flame: bool, dt_s: float) -> bool:
        """Whether it locks out on a flame in standby or purge; after a run the flame has the response time to go."""
        self.flame_relay = flame
        if not flame:
            if self.phase != "pre-purge":
                self._dark_s = 0.0
            return False
        self._dark_s += dt_s
        if self._dark_s >= self.times.flame_failure_s:
            self._lock_out("flame where none should be")
            self.flame_relay = flame
        return True

    def _stand_by(self, wanted: bool, air: bool, dt_s: float) -> None:
        if not wanted:
            self._stuck_s = 0.0
        elif not air:
            self._enter("pre-purge")
        else:
            self._stuck_s += dt_s
            if self._stuck_s >= AIR_STUCK_s:
                self._lock_out("air switch closed with the fan at rest")

    def _pre_purge(self, wanted: bool, air: bool, dt_s: float) -> None:
        if not wanted:
            self._enter("standby")
        elif air:
            self._dark_s = 0.0
            if self.seconds >= self.times.pre_purge_s:
                self._enter("ignition")
        else:
            self.seconds = 0.0  # four volumes are blown in one go or not at all
            self._dark_s += dt_s
            if self._dark_s >= AIR_MISSING_s:
                self._lock_out("no combustion air")

    def _ignite(self, wanted: bool, air: bool, flame: bool) -> None:
        if not air:
            self._lock_out("combustion air lost")
        elif not wanted:
            self._enter("post-purge")
        elif flame:
            self._enter("run")
            self.flame_relay = True
        elif self.seconds >= self.times.ignition_s:
            self._lock_out("no flame in the trial for ignition")

    def _run(self, wanted: bool, air: bool, flame: bool, dt_s: float) -> None:
        if not air:
            self._lock_out("combustion air lost")
        elif not wanted:
            self._enter("post-purge")
        elif flame:
            self._dark_s = 0.0
        else:
            self._dark_s += dt_s
            if self._dark_s >= self.times.flame_failure_s:
                self._lock_out("flame failure")


class HeatDevice(Protocol):
    """What heats, from the table's call to the share of full heat."""

    load: float

    @property
    def settled(self) -> bool: ...

    def step(self, *, called: bool, string: bool, live: bool, dt_s: float) -> None:
        """One scan: the effect's contact, the limit string, power behind the emergency stop."""
        ...

    def contacts(self) -> dict[str, bool]:
        """What it tells the table, and what it has in the limit string."""
        ...

    @property
    def phase(self) -> str:
        """What it is doing, in words."""
        ...


class GasHeat:
    """Burner, fan and gas train behind the safeguard; full fire while there is a flame."""

    def __init__(self, times: SafeguardTimes) -> None:
        self.safeguard = BurnerSafeguard(times)
        self.load = 0.0
        self.supply = "on"  # "low", "high", "off"
        self.flame_out = self.fan_failed = self.valve_leaks = False
        self._fan = Ramp(FAN_RUN_UP_s, FAN_COAST_DOWN_s)
        self._air = Switch(*FAN_PROVES)
        self._lighting_s = 0.0

    @property
    def settled(self) -> bool:
        """Nothing in it moves or counts."""
        return self.safeguard.settled and self._fan.settled(self._fan_driven) and self._lighting_s == 0.0

    @property
    def phase(self) -> str:
        """The safeguard's phase, with the reason of a lock-out."""
        guard = self.safeguard
        return f"lock-out: {guard.reason}" if guard.phase == "lock-out" else guard.phase

    @property
    def _fan_driven(self) -> bool:
        return self.safeguard.fan and not self.fan_failed

    def step(self, *, called: bool, string: bool, live: bool, dt_s: float) -> None:
        """One scan."""
        guard = self.safeguard
        self._fan.step(live and self._fan_driven, dt_s)
        self._air.step(self._fan.position)
        if live:
            guard.step(called=called, string=string, air=self._air.closed, flame=self.load > 0.0, dt_s=dt_s)
        else:
            guard.power_lost()
        flows = self.supply != "off" and not self.flame_out and ((live and guard.gas) or self.valve_leaks)
        if not flows:
            self.load = self._lighting_s = 0.0
        elif self.load == 0.0 and guard.phase == "ignition":
            self._lighting_s += dt_s
            if self._lighting_s >= LIGHTS_AFTER_s:
                self.load, self._lighting_s = 1.0, 0.0

    def contacts(self) -> dict[str, bool]:
        """Gas pressures, combustion air, flame, lock-out."""
        return {
            "gas_pressure_low_clear": self.supply in ("on", "high"),
            "gas_pressure_high_clear": self.supply != "high",
            "combustion_air": self._air.closed,
            "flame": self.safeguard.flame_relay,
            "lockout": self.safeguard.phase == "lock-out",
        }


class ElectricHeat:
    """Two contactors in series: the table's, whose auxiliary is read, and one that only the limit string holds.

    The string feeds the coils of both, so that a contact of the table that is welded is still cut off by a limit.
    """

    def __init__(self) -> None:
        self.load = 0.0
        self.ground_fault = False
        self._contactor = Ramp(CONTACTOR_s)
        self._settled = True

    @property
    def settled(self) -> bool:
        """It stands where it was told to."""
        return self._settled

    @property
    def phase(self) -> str:
        """Heating or not."""
        return "heating" if self.load else "off"

    def step(self, *, called: bool, string: bool, live: bool, dt_s: float) -> None:
        """One scan."""
        coil = called and string and live
        self._contactor.step(coil, dt_s)
        self._settled = self._contactor.settled(coil)
        powered = string and live and not self.ground_fault
        self.load = 1.0 if self._contactor.position == 1.0 and powered else 0.0

    def contacts(self) -> dict[str, bool]:
        """Auxiliary, ground fault."""
        return {"contactor_closed": self._contactor.position == 1.0, "ground_fault_clear": not self.ground_fault}


class SteamHeat:
    """A valve that opens with its pilot, which the limit string feeds; without current it shuts. Heat as its stroke."""

    def __init__(self) -> None:
        self.valve = Ramp(STEAM_STROKE_s)
        self.load = 0.0
        self.supply = "on"  # or "off"
        self._driven = False

    @property
    def settled(self) -> bool:
        """It stands where it was told to."""
        return self.valve.settled(self._driven)

    @property
    def phase(self) -> str:
        """Where the valve stands."""
        if self.valve.position == 0.0:
            return "shut"
        return "open" if self.valve.position == 1.0 else "on its way"

    def step(self, *, called: bool, string: bool, live: bool, dt_s: float) -> None:
        """One scan."""
        self._driven = called and string and live
        self.valve.step(self._driven, dt_s)
        self.load = self.valve.position if self.supply == "on" else 0.0

    def contacts(self) -> dict[str, bool]:
        """Its position switch."""
        return {"steam_valve_shut": self.valve.position <= SHUT}
