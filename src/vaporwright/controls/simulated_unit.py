"""The simulated unit: a table wired to devices, and these to the plant. Logic once a scan, physics once a second.

In one second: the devices move and the table scans, ten times at a scan of 0.1 s, with level and temperature as they
stood at its begin; then the plant makes one step with the devices' mean over these scans. A refill valve counts as
open for the whole second if it was for half of it.

Most of a day nothing changes but level and temperature. Then the scans of a second are not run one by one: while every
input stays and no timer can run out, a scan only moves timers on, and the owed scans are run in one call later. Where
a wave plays at a rod, the scans of a second are run in one call, as long as no effect follows. Neither changes a result
(tests/rooms/controls/test_simulated_unit).

Power off: every coil drops, the table forgets all, the safeguard falls back and keeps a lock-out. The emergency stop
cuts the coils by wire as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from vaporwright.controls.burner_safeguard import (
    ElectricHeat,
    GasHeat,
    HeatDevice,
    SteamHeat,
)
from vaporwright.controls.devices import (
    AIR_PROVES,
    ALWAYS_AGITATES,
    FLOW_PROVES,
    LOW_WATER_SHARE,
    SHUT,
    BLOWER_COAST_DOWN_s,
    BLOWER_RUN_UP_s,
    DRAIN_STROKE_s,
    EffectContact,
    FLOAT_FALLS_m,
    HeaterSurface,
    ManualReset,
    Panel,
    PRESS_DRAWS_m3_s,
    PUMP_COAST_DOWN_s,
    PUMP_RUN_UP_s,
    Ramp,
    REFILL_STROKE_s,
    Rods,
    SPRAY_STROKE_s,
    SURFACE_LIMIT_difference_K,
    Switch,
)
from vaporwright.controls.expressions import evaluate
from vaporwright.controls.rig import Rig, Sample
from vaporwright.controls.scan import Engine, power_up, scanned
from vaporwright.controls.script import RODS
from vaporwright.foundation.errors import InputError
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.plant import Plant
from vaporwright.unit.plant_state import PlantInputs

if TYPE_CHECKING:
    from numpy.typing import NDArray

THERMOMETER: Final = "tank_temperature_K"
NEVER: Final = 1 << 60  # scans


class SimulatedUnit:
    """A unit that runs.

    Args:
        rig: what it is made of.
        level_m, temperature_K: of the tank at the start.
        signals: inputs of the table that no device here drives, held until the script sticks them.
    Raises: InputError for an input or a quantity of the table that nothing here drives.
    """

    def __init__(
        self, rig: Rig, *, level_m: float, temperature_K: float, signals: Mapping[str, bool] | None = None
    ) -> None:
        self.rig, self.table = rig, rig.table
        self.engine = Engine(rig.table)
        self.plant = Plant(rig.design, level_m=level_m, temperature_K=temperature_K)
        self.level_m = self.plant.level_m  # still, at the begin of this second
        self.scans_per_s, self.scan = rig.scans_per_s, 0
        self.changes: list[tuple[int, int, bool]] = []  # scan, place in table.names, value
        self.panel, self.surface = Panel(), HeaterSurface()
        self.power, self.refill_supply = True, True
        self.shorted: dict[str, bool] = {}
        self.stuck: dict[str, bool] = {}
        self.blower_belt_broken = self.pump_prime_lost = False
        self.overloads = {"blower_overload": True, "pump_overload": True}
        self.nozzle_share, self.heat_transfer_factor = 1.0, 1.0
        self.foam_m = self.wave_m = self.trickle_m3_s = 0.0
        self.thermometer_elsewhere_K: float | None = None
        self.effect_contacts = {name: EffectContact() for name in rig.table.outputs}
        self._others = dict(signals or {})
        self._make_devices(rig)
        self._comparators = list(rig.table.comparators)
        self._said = dict.fromkeys((item.name for item in self._comparators), False)
        self._values = np.zeros(len(rig.table.names), dtype=np.bool_)
        self._row = np.zeros((1, len(rig.table.signals)), dtype=np.bool_)
        self._place = {name: place for place, name in enumerate(rig.table.names)}
        self._told = dict.fromkeys(rig.table.outputs, False)
        self._real: Mapping[str, bool] = {"emergency_stop_clear": False}  # contacts as they were in the last scan
        self._wired = dict.fromkeys(rig.table.outputs, False)
        self._string = False
        self._plant_inputs = PlantInputs()
        self._owed, self._safe_scans = 0, 0  # scans not yet run, and how many can be owed
        self._tips = self._floats = self._readings = (math.inf, -math.inf)  # between which nothing switches
        self._rod_columns = [(rod, place) for place, rod in enumerate(rig.table.signals) if rod in self.rods.tips_m]
        self._output_columns = [self._place[name] for name in rig.table.outputs]
        self._at_rest = False  # every device stands still
        self._check_wiring()

    def _make_devices(self, rig: Rig) -> None:
        mark = rig.stack.mark
        self.blower = Ramp(BLOWER_RUN_UP_s, BLOWER_COAST_DOWN_s)
        self.pump = Ramp(PUMP_RUN_UP_s, PUMP_COAST_DOWN_s)
        self.valves = {
            "spray_valve": Ramp(SPRAY_STROKE_s),
            "agitation_valve": Ramp(SPRAY_STROKE_s),
            "refill_valve": Ramp(REFILL_STROKE_s),
            "refill_shutoff": Ramp(REFILL_STROKE_s),
            "drain_valve": Ramp(DRAIN_STROKE_s),
        }
        self._branched = "spray_valve" in rig.table.outputs
        if not self._branched:
            self.valves["spray_valve"].stuck = self.valves["spray_valve"].position = 1.0  # there is no valve
        self.air_switch, self.flow_switch = Switch(*AIR_PROVES), Switch(*FLOW_PROVES)
        high_high_m = mark("high-high").height_m
        self.float_switch = Switch(high_high_m, high_high_m - FLOAT_FALLS_m)
        self.low_water, self.high_limit, self.surface_limit = ManualReset(), ManualReset(), ManualReset()
        self.rods = Rods(
            {signal: mark(name).height_m for name, signal in RODS.items()},  # type: ignore[arg-type]
            rig.stack.reference.height_m,
        )
        heater_top_m = mark("heater top").height_m
        self.low_water_m = heater_top_m + LOW_WATER_SHARE * (mark("low").height_m - heater_top_m)
        self.surface_limit_K = rig.design.boiling_K + SURFACE_LIMIT_difference_K
        self.heater: HeatDevice
        if rig.heat == "gas":
            self.heater = GasHeat(rig.safeguard_times)
        else:
            self.heater = ElectricHeat() if rig.heat == "electric" else SteamHeat()

    def _check_wiring(self) -> None:
        known = self._contacts(self.level_m)
        for name in self.table.inputs:
            if name not in known:
                allowed = f"start.signals.{name} of the script, or one of {', '.join(sorted(known))}"
                raise InputError(self.table.name, name, "is an input that no simulated device drives", allowed)
        for comparator in self.table.comparators:
            if comparator.quantity != THERMOMETER:
                raise InputError(
                    self.table.name,
                    comparator.name,
                    f"reads {comparator.quantity}, which is not simulated",
                    THERMOMETER,
                )

    # What can be read

    @property
    def time_s(self) -> float:
        """Since the start."""
        return self.scan / self.scans_per_s

    def value(self, name: str) -> bool:
        """A name of the table after the last scan."""
        return bool(self._values[self._place[name]])

    @property
    def reading_K(self) -> float:
        """What the control's thermometer reads."""
        elsewhere = self.thermometer_elsewhere_K
        return self.plant.state.thermometer_K if elsewhere is None else elsewhere

    def sample(self) -> Sample:
        """What is written down every second."""
        plant = self.plant
        state, totals = plant.state, plant.totals
        return Sample(
            state.temperature_K,
            self.reading_K,
            state.temperature_K + self.surface.rise_K,
            self.level_m,
            plant.solids_kg_kg,
            self.heater.load,
            self._plant_inputs.air_share,
            state.spray_share,
            totals.tower_evaporation_kg + totals.surface_evaporation_kg + totals.boiled_kg,
            totals.heat_source_J,
            (totals.refill_kg + totals.trickle_kg) / plant.design.feed_kg_m3,
            (totals.overflowed_kg + totals.spilled_kg) / WATER_DENSITY_kg_m3,
            state.heater_uncovered_s,
            state.pump_dry_s,
        )

    # One second

    def second(self, before_scan: Callable[[int], None], *, due: bool, watching: Sequence[str] = ()) -> None:
        """Go on by one second.

        Args:
            before_scan: called with the scan's number before each scan that is run by itself.
            due: in this second people or faults act, so that its scans are run by themselves.
            watching: names that someone waits for: scans in which one of them changes are run by themselves.
        """
        scans = self.scans_per_s
        if not due and self._stays(scans):
            self._owed += scans
            self.scan += scans
        else:
            self._pay()
            if due or not self._only_rods_move(scans, watching):
                self._step_scans(scans, before_scan, due)
        self.plant.step(self._plant_inputs)
        self.level_m = self.plant.level_m
        self.surface.second(self._plant_inputs.heat_load, self._covered(), self.heat_transfer_factor)

    def _covered(self) -> float:
        design = self.plant.design
        share = (self.level_m - design.heater_bottom_m) / design.heater_height_m
        return min(max(share, 0.0), 1.0)

    def _stays(self, scans: int) -> bool:
        """Whether this second can be owed: no input can change, no timer can run out."""
        if self._owed + scans > self._safe_scans:
            return False
        low_m, high_m = self._tips
        return low_m < self.level_m < high_m and self._inside()

    def _inside(self) -> bool:
        """Nothing but a rod can switch: level, readings and the heater's surface are between where something does."""
        state, (low_m, high_m), (cold_K, hot_K) = self.plant.state, self._floats, self._readings
        return (
            low_m < self.level_m < high_m
            and cold_K < state.thermometer_K < hot_K
            and state.temperature_K + self.surface.rise_K < self.surface_limit_K
        )

    def _only_rods_move(self, scans: int, watching: Sequence[str]) -> bool:
        """Run the scans of a second in one call where only rods can switch and no effect follows; else leave it."""
        if not (self._at_rest and self.power and self._inside()):
            return False
        rows = np.repeat(self._row, scans, axis=0)
        reach_m, foaming_m = self.wave_m + 1.0e-6, self.level_m + self.foam_m
        near = [(rod, column) for rod, column in self._rod_columns if self._near(rod, foaming_m, reach_m)]
        for place in range(scans if near else 0):
            level_m = self.plant.level_at_rods_m(place / scans)
            for rod, column in near:
                rows[place, column] = self.shorted.get(rod, self.stuck.get(rod, self.rods.wet(rod, level_m)))
        before = self.engine.state()
        record = self.engine.run(rows)
        moved = (record != self._values).any(axis=0)
        if moved.any():
            if moved[self._output_columns].any() or any(moved[self._place[name]] for name in watching):
                self.engine.load(before)
                return False
            for place in range(scans):
                self._write_down(record[place], self.scan + place)
        self._row = rows[-1:]
        self.scan += scans
        if not moved.any():
            self._tips, self._floats = self._level_windows()
            self._find_quiet()
        return True

    def _near(self, rod: str, level_m: float, reach_m: float) -> bool:
        """Whether a wave may have passed the tip since it was last looked at: it is in reach, or on the other side."""
        wet_at_rest = self.rods.wet(rod, level_m)
        seen = self.shorted.get(rod, self.stuck.get(rod, wet_at_rest))
        return abs(self.rods.tip_m(rod) - level_m) <= reach_m or seen != self.value(rod)

    def _pay(self) -> None:
        """Run the scans that are owed; nothing but timers can have moved."""
        if self._owed and self.power and self._safe_scans < NEVER:
            record = self.engine.run(np.repeat(self._row, self._owed, axis=0))
            assert (record == self._values).all()
        self._owed = self._safe_scans = 0

    def _step_scans(self, scans: int, before_scan: Callable[[int], None], due: bool) -> None:
        sums = [0.0] * 7
        quiet_before, told = len(self.changes), self._told
        settled = True
        for place in range(scans):
            before_scan(self.scan)
            settled = self._one_scan(place / scans) and settled  # all second long, or the means would not last
            for index, share in enumerate(self._shares()):
                sums[index] += share
            self.scan += 1
        self._plant_inputs = self._inputs_of([value / scans for value in sums])
        self._at_rest = settled and not due and self._told == told
        if self._at_rest:
            self._readings = self._reading_window()
            self._tips, self._floats = self._level_windows()
            if len(self.changes) == quiet_before:
                self._find_quiet()

    def _one_scan(self, later_s: float) -> bool:
        """Devices move, the table scans; whether every device stands still."""
        dt_s = self.table.scan_s
        settled = self._move(dt_s)
        contacts = self._contacts(self.plant.level_at_rods_m(later_s))
        contacts |= {name: stuck for name, stuck in self.stuck.items() if name in contacts}
        self._see(contacts)
        contacts = contacts | self.shorted
        if not self.power:
            values = np.zeros_like(self._values)
        else:
            read = [contacts[name] for name in self.table.inputs]
            for comparator in self._comparators:
                said = comparator.output(self.reading_K, self._said[comparator.name])
                self._said[comparator.name] = said
                read.append(self.shorted.get(comparator.name, said))
            self._row[0] = read
            values = self.engine.run(self._row)[0]
        self._write_down(values, self.scan)
        return settled

    def _write_down(self, values: NDArray[np.bool_], scan: int) -> None:
        changed = np.flatnonzero(values != self._values)
        if changed.size:
            self.changes += [(scan, int(place), bool(values[place])) for place in changed]
            self._values = values
            self._told = {name: bool(values[self._place[name]]) for name in self._told}

    def _see(self, contacts: dict[str, bool]) -> None:
        """Work out what is wired in series with each output; the string's own end is the last of the heat's limits."""
        contacts["limit_string_closed"] = True
        if contacts != self._real:
            self._real = dict(contacts)
            self._wired = {name: evaluate(expr, contacts, contacts) for name, expr in self.rig.hard_wired.items()}
        end = self.stuck.get("limit_string_closed", self._wired["heat"])
        contacts["limit_string_closed"] = end
        self._string = end and self._wired["heat"]

    def _driven(self, effect: str) -> bool:
        """Whether the coil behind an effect has current: power, what is wired in series, the effect's own contact."""
        contact = self.effect_contacts.get(effect)
        return self.power and contact is not None and self._wired[effect] and contact.closed(self._told[effect])

    def _move(self, dt_s: float) -> bool:
        """All devices by one scan, as the last scan told them; whether all stand still."""
        level_m = self.level_m  # floats hang in a still tube: no foam, no wave
        blower, pump = self._driven("blower"), self._driven("spray_pump")
        self.blower.step(blower, dt_s)
        self.pump.step(pump, dt_s)
        settled = self.blower.settled(blower) and self.pump.settled(pump)
        for name, valve in self.valves.items():
            driven = self._driven(name)
            valve.step(driven, dt_s)
            settled = settled and valve.settled(driven)
        called = self.effect_contacts["heat"].closed(self._told["heat"])
        live = self.power and self._real["emergency_stop_clear"]
        self.heater.step(called=called, string=self._string, live=live, dt_s=dt_s)
        self.air_switch.step(0.0 if self.blower_belt_broken else self.blower.position)
        self.flow_switch.step(self._flow_share())
        self.float_switch.step(level_m)
        self.low_water.step(level_m >= self.low_water_m)
        state = self.plant.state
        self.high_limit.step(state.thermometer_K < self.rig.points.high_limit_K)  # a bulb in a well of its own
        self.surface_limit.step(state.temperature_K + self.surface.rise_K < self.surface_limit_K)
        return settled and self.heater.settled

    def _flow_share(self) -> float:
        """What flows in the pump's discharge, of the design's."""
        if self.pump_prime_lost or self.level_m < self.plant.design.suction_m:
            return 0.0
        sprayed = (1.0 - ALWAYS_AGITATES) * self.valves["spray_valve"].position * self.nozzle_share
        return self.pump.position * max(self.valves["agitation_valve"].position, ALWAYS_AGITATES + sprayed)

    def _contacts(self, level_m: float) -> dict[str, bool]:
        """Every contact of the unit as it really stands."""
        return {
            **self._others,
            **self.panel.contacts(),
            **{rod: self.rods.wet(rod, level_m) for rod in self.rods.tips_m},
            **self.heater.contacts(),
            "airflow": self.air_switch.closed,
            "pump_flow": self.flow_switch.closed,
            "blower_overload_clear": self.overloads["blower_overload"],
            "pump_overload_clear": self.overloads["pump_overload"],
            "high_high_clear": not self.float_switch.closed,
            "low_water_clear": self.low_water.clear,
            "high_limit_clear": self.high_limit.clear,
            ("tube_temperature_clear" if self.rig.heat == "gas" else "sheath_temperature_clear"): (
                self.surface_limit.clear or self.rig.heat == "steam"
            ),
            "spray_shut": self._branched and self.valves["spray_valve"].position <= SHUT,
            "limit_string_closed": False,
        }

    def _shares(self) -> tuple[float, ...]:
        valves = self.valves
        refill = valves["refill_valve"].position >= 0.5 and valves["refill_shutoff"].position >= 0.5
        press = self._driven("press_feed") and self._real["press_feed_asked"]
        return (
            self.heater.load,
            0.0 if self.blower_belt_broken else self.blower.position,
            0.0 if self.pump_prime_lost else self.pump.position,
            valves["spray_valve"].position,
            float(refill),
            valves["drain_valve"].position,
            float(press),
        )

    def _inputs_of(self, means: Sequence[float]) -> PlantInputs:
        """The plant's inputs; the same object while they stay, which the plant takes as a sign that they do."""
        heat, air, pump, spray, refill, drain, press = (min(mean, 1.0) for mean in means)
        refilling = refill >= 0.5 and self.refill_supply
        found = PlantInputs(
            heat_load=heat,
            air_share=air,
            pump_share=pump,
            spray_open=spray,
            nozzle_share=self.nozzle_share,
            refill_valve_open=refilling,
            refill_second_valve_open=refilling,
            trickle_m3_s=self.trickle_m3_s,
            drain_opening=drain,
            press_m3_s=press * PRESS_DRAWS_m3_s,
            foam_m=self.foam_m,
            wave_m=self.wave_m,
            heat_transfer_factor=self.heat_transfer_factor,
        )
        return self._plant_inputs if found == self._plant_inputs else found

    # Standing still

    def _find_quiet(self) -> None:
        """How many scans can be owed, and between which levels and readings."""
        self._safe_scans = 0
        if not self._tips[0] < self.level_m < self._tips[1]:
            return
        self._safe_scans = NEVER
        if not self.power:
            return
        state = self.engine.state()
        after = scanned(self.table, state, dict(zip(self.table.signals, self._row[0].tolist(), strict=True)))
        if after.values != state.values:
            self._safe_scans = 0
        elif after.counts != state.counts:
            counting = (timer for timer in self.table.timers if after.counts[timer.name] != state.counts[timer.name])
            self._safe_scans = min(timer.scans - state.counts[timer.name] for timer in counting) - 1

    def _level_windows(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Levels of the tank between which no rod switches, and no float, cut-off or suction."""
        floats = [self.low_water_m, self.float_switch.closes_at, self.float_switch.opens_under]
        still = [*floats, self.plant.design.suction_m]
        tips = [self.rods.reference_m, *(self.rods.tip_m(rod) for rod in self.rods.tips_m)]
        level_m, foam_m, wave_m = self.level_m, self.foam_m, self.wave_m
        return (
            (
                max((tip - foam_m + wave_m for tip in tips if tip - foam_m <= level_m), default=-math.inf),
                min((tip - foam_m - wave_m for tip in tips if tip - foam_m > level_m), default=math.inf),
            ),
            (
                max((mark for mark in still if mark <= level_m), default=-math.inf),
                min((mark for mark in still if mark > level_m), default=math.inf),
            ),
        )

    def _reading_window(self) -> tuple[float, float]:
        """Readings of the thermometer in its well between which no comparator and no high limit switches."""
        marks = [self.rig.points.high_limit_K]
        if self.thermometer_elsewhere_K is None:
            marks += [value for item in self._comparators for value in (item.limit, item.back)]
        now_K = self.plant.state.thermometer_K
        cold_K = max((mark for mark in marks if mark <= now_K), default=-math.inf)
        hot_K = min((mark for mark in marks if mark > now_K), default=math.inf)
        return cold_K, hot_K

    # What people do

    def move_set_point(self, set_point_K: float) -> None:
        """Set another set point; the deviation alarm keeps its distance."""
        by_K = set_point_K - self.rig.points.set_point_K
        moved = ("at_set_point", "over_set_point")
        self._comparators = [
            replace(item, limit=item.limit + by_K) if item.name in moved else item for item in self.table.comparators
        ]

    def switch_power(self, on: bool) -> None:
        """Take the power away, or give it back: the table then starts from nothing."""
        if on and not self.power:
            self.engine.load(power_up(self.table))
            self._said = dict.fromkeys(self._said, False)
        self.power = on
