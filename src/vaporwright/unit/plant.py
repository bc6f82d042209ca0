"""A unit in motion: the simulated plant that controls are rehearsed on, second by second.

The terms are the balance's (unit.balance): heat + pump + feed x h(feed) - tower - surface - walls - piping - drift.
Tank and header are one well-mixed volume (no stratification; near the feed's inlet it is colder than this says). What
the spray lays on the fill runs back late and at the temperature that the tower left it, through a reservoir that holds
in proportion to its flow; with the pump stopped it drains back in the same way. Water, salt and energy are each kept.

    C dT = heater + pump + feed (h_feed - h) + return (h_return - h) - surface (h_vapour - h) - dry losses

Steps: temperature by the midpoint rule, its half step on the slope of the step before (second order, one look-up per
step); header, reservoir, heater's metal and thermometer by their exact exponentials; levels and outflows as they stand
at the step's begin. Halving a step of 1 s moves the totals of a day by less than 0.01 % (tests/laws/test_plant_laws).

Left out: metal of the tank (a few per cent of its liquor's heat), the heater's lag apart; part-load efficiency of a
burner (heat goes with the load); the change of activity and boiling point over a batch; ice.

It is a model: what it shows safe in a rehearsal still has to be proved on the unit, by those whom local code names.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import require_range
from vaporwright.properties.water import vapour_enthalpy_J_kg
from vaporwright.unit.plant_design import HEADER_DRAINS_s, PlantDesign
from vaporwright.unit.plant_state import PlantInputs, PlantState, PlantTotals
from vaporwright.unit.temperature_table import COLDEST_K, STEP_K, Row, place_in
from vaporwright.unit.tower_map import rates_between

LONGEST_STEP_s: Final = 2.0
LEAST_LIQUOR_kg: Final = 5.0  # below, the tank counts as empty: nothing heats, cools or evaporates
DRY_m3: Final = 1.0e-9  # the film that never drains
SMALL_GAIN: Final = 0.02  # of the water in the tank in one step
_LOSSES, _HEAT, _TOWER = 4, 9, 10  # first columns in the design's rows


@dataclass(frozen=True, slots=True)
class _Setting:
    """What follows from the inputs and the length of a step alone; kept while they last."""

    spray_m3: float  # that the pump would lift to the header
    spray_share: float
    weights: tuple[float, ...]  # of the tower's layers at that share
    refill_kg: float
    trickle_kg: float
    feed_J_kg: tuple[float, float]  # of its water and of its salt
    pump_m5_s2: float  # times density: heat of the pump over the step
    header_keeps: float
    tower_keeps: float
    heater_keeps: float
    thermometer_keeps: float


class _Liquor(NamedTuple):
    """The liquor of tank and header over one step, in the middle of it."""

    below: Row
    above: Row
    share: float
    water_J_kg: float
    salt_J_kg: float
    water_J_kgK: float
    salt_J_kgK: float
    salt_share: float
    density_kg_m3: float
    tank_m3: float
    level_m: float


class Plant:
    """A unit, its liquor and its sums; see the module's text for the model.

    Args: level_m [m]: of the tank at the start, tower and header empty; temperature_K [K]: of its liquor;
        solids_kg_kg: of its liquor, the season's where not given.
    Raises: OutOfRange for a level outside the tank, a temperature that is ice or steam.
    """

    __slots__ = ("_dt_s", "_inputs", "_setting", "design", "state", "totals")

    def __init__(
        self, design: PlantDesign, *, level_m: float, temperature_K: float, solids_kg_kg: float | None = None
    ) -> None:
        require_range("level_m", level_m, 0.0, design.levels_m[-1], "the tank, to its rim")
        require_range("temperature_K", temperature_K, COLDEST_K, design.boiling_K, "liquid")
        solids = design.solids_kg_kg if solids_kg_kg is None else solids_kg_kg
        require_range("solids_kg_kg", solids, 0.0, 0.3, "a liquor")
        at = self._parts(design, temperature_K)
        mass_kg = _volume_at_m3(design, level_m) / ((1.0 - solids) * at[2] + solids * at[3])
        self.design = design
        self.state = PlantState(
            time_s=0.0,
            temperature_K=temperature_K,
            water_kg=(1.0 - solids) * mass_kg,
            salt_kg=solids * mass_kg,
            header_m3=0.0,
            tower_water_kg=0.0,
            tower_salt_kg=0.0,
            return_temperature_K=temperature_K,
            heater_W=0.0,
            thermometer_K=temperature_K,
            slope_K_s=0.0,
            spray_share=0.0,
            heater_uncovered_s=0.0,
            pump_dry_s=0.0,
        )
        self.totals = PlantTotals()
        self._inputs = PlantInputs()
        self._dt_s = 1.0
        self._setting = self._prepared(self._inputs, 1.0)

    # What can be measured

    @property
    def tank_volume_m3(self) -> float:
        """Liquor in the tank."""
        at = self._parts(self.design, self.state.temperature_K)
        return max(self.state.water_kg * at[2] + self.state.salt_kg * at[3] - self.state.header_m3, 0.0)

    @property
    def level_m(self) -> float:
        """Still level above the low corner, without foam."""
        return self.design.level_m(self.tank_volume_m3)

    def level_at_rods_m(self, later_s: float = 0.0) -> float:
        """What the rods see: level, foam, and the tank's first sloshing wave along its length.

        Args: later_s [s]: after the step's end, for scans between two steps.
        """
        level_m, inputs = self.level_m, self._inputs
        if inputs.wave_m == 0.0:
            return level_m + inputs.foam_m
        number = math.pi / self.design.tank_length_m
        turn = math.sqrt(STANDARD_GRAVITY_m_s2 * number * math.tanh(number * level_m))
        return level_m + inputs.foam_m + inputs.wave_m * math.sin(turn * (self.state.time_s + later_s))

    @property
    def spray_flow_m3_s(self) -> float:
        """Spray that falls over the fill, all towers."""
        return self.state.spray_share * self.design.spray_m3_s

    @property
    def air_flow_m3_s(self) -> float:
        """Volume flow at the blowers, all towers."""
        return self.design.tower.air_flow_m3_s(self.state.temperature_K, self._inputs.air_share)

    @property
    def solids_kg_kg(self) -> float:
        """Mass fraction of dissolved solids in tank and header."""
        mass_kg = self.state.water_kg + self.state.salt_kg
        return self.state.salt_kg / mass_kg if mass_kg > 0.0 else 0.0

    @property
    def heater_uncovered(self) -> bool:
        """Liquor stands below the heater's top; with heat on, the bare metal overheats."""
        return self.level_m < self.design.heater_bottom_m + self.design.heater_height_m

    @property
    def mass_kg(self) -> float:
        """All liquor: tank, header, tower."""
        state = self.state
        return state.water_kg + state.salt_kg + state.tower_water_kg + state.tower_salt_kg

    @property
    def salt_kg(self) -> float:
        """All dissolved solids."""
        return self.state.salt_kg + self.state.tower_salt_kg

    @property
    def energy_J(self) -> float:
        """Enthalpy of all liquor above the water's triple point, and heat of the heater's metal over the bath."""
        state = self.state
        tank, tower = (self._parts(self.design, at) for at in (state.temperature_K, state.return_temperature_K))
        stored_J = state.water_kg * tank[0] + state.salt_kg * tank[1]
        stored_J += state.tower_water_kg * tower[0] + state.tower_salt_kg * tower[1]
        return stored_J + state.heater_W * self.design.heater_lag_s

    # One step

    def step(self, inputs: PlantInputs, dt_s: float = 1.0) -> None:
        """Go on by one step with the inputs held.

        Args: dt_s [s]: above 0, to 2.
        Raises: OutOfRange where the liquor would freeze, in the tank or on the fill, and for a step out of range.
        """
        if inputs is not self._inputs or dt_s != self._dt_s:
            self._setting = self._prepared(inputs, dt_s)
            self._inputs, self._dt_s = inputs, dt_s
        state, totals, setting = self.state, self.totals, self._setting
        liquor = self._liquor(dt_s)
        out_kg = self._let_out(liquor, dt_s)
        round_water_kg, round_salt_kg, heat_J = self._go_round_the_tower(liquor, dt_s)
        feed_kg = setting.refill_kg + setting.trickle_kg
        surface_kg = 0.0
        if state.water_kg + state.salt_kg > LEAST_LIQUOR_kg:
            surface_kg, lost_J = self._lose(liquor, dt_s)
            heat_J += self._heat(liquor, dt_s) - lost_J
        if feed_kg > 0.0:
            heat_J += self._feed(liquor, setting)
        feed_salt_kg = feed_kg * self.design.feed_solids_kg_kg
        gain_water_kg = round_water_kg + feed_kg - feed_salt_kg - surface_kg - out_kg * (1.0 - liquor.salt_share)
        gain_salt_kg = round_salt_kg + feed_salt_kg - out_kg * liquor.salt_share
        small = abs(gain_water_kg) < SMALL_GAIN * state.water_kg
        on_the_way = 0.5 if small else 1.0  # a jet into an all but empty tank mixes with itself
        heated_J_K = (state.water_kg + on_the_way * gain_water_kg) * liquor.water_J_kgK
        heated_J_K += (state.salt_kg + on_the_way * gain_salt_kg) * liquor.salt_J_kgK
        before_K = state.temperature_K
        change_K = heat_J / heated_J_K if heated_J_K > 0.0 else 0.0
        state.water_kg += gain_water_kg
        state.salt_kg += gain_salt_kg
        state.temperature_K = before_K + change_K
        state.slope_K_s = change_K / dt_s if small else 0.0
        totals.salt_out_kg += out_kg * liquor.salt_share
        if state.temperature_K > self.design.boiling_K:
            self._boil(liquor)
        mean_K = 0.5 * (before_K + state.temperature_K)
        state.thermometer_K = mean_K + (state.thermometer_K - mean_K) * setting.thermometer_keeps
        state.time_s += dt_s

    def _liquor(self, dt_s: float) -> _Liquor:
        state, design = self.state, self.design
        middle_K = min(state.temperature_K + 0.5 * dt_s * state.slope_K_s, design.boiling_K)
        row, share = place_in(design.rows, middle_K)
        below, above = design.rows[row], design.rows[row + 1]
        water_m3_kg = below[2] + share * (above[2] - below[2])
        salt_m3_kg = below[3] + share * (above[3] - below[3])
        mass_kg = state.water_kg + state.salt_kg
        volume_m3 = state.water_kg * water_m3_kg + state.salt_kg * salt_m3_kg
        tank_m3 = max(volume_m3 - state.header_m3, 0.0)
        return _Liquor(
            below,
            above,
            share,
            below[0] + share * (above[0] - below[0]),
            below[1] + share * (above[1] - below[1]),
            (above[0] - below[0]) / STEP_K,
            (above[1] - below[1]) / STEP_K,
            state.salt_kg / mass_kg if mass_kg > 0.0 else 0.0,
            mass_kg / volume_m3 if volume_m3 > 0.0 else 1.0 / water_m3_kg,
            tank_m3,
            design.level_m(tank_m3),
        )

    def _let_out(self, liquor: _Liquor, dt_s: float) -> float:
        """Mass that drain, overflow, rim and filter press take from the tank; at most half of it in one step."""
        inputs, design, totals = self._inputs, self.design, self.totals
        drained_m3 = pressed_m3 = 0.0
        if inputs.drain_opening > 0.0:
            drained_m3 = design.drain_m3_s(liquor.level_m, inputs.drain_opening) * dt_s
        if inputs.press_m3_s > 0.0 and liquor.level_m > design.suction_m:
            pressed_m3 = inputs.press_m3_s * dt_s
        overflowed_m3 = design.overflow_m3_s(liquor.level_m) * dt_s
        spilled_m3 = max(liquor.tank_m3 - design.rim_volume_m3, 0.0)
        out_m3 = drained_m3 + pressed_m3 + overflowed_m3 + spilled_m3
        if out_m3 == 0.0 or liquor.tank_m3 < DRY_m3:
            return 0.0
        density = liquor.density_kg_m3 * min(1.0, 0.5 * liquor.tank_m3 / out_m3)
        totals.drained_kg += drained_m3 * density
        totals.pressed_kg += pressed_m3 * density
        totals.overflowed_kg += overflowed_m3 * density
        totals.spilled_kg += spilled_m3 * density
        out_kg = out_m3 * density
        totals.liquor_out_J += out_kg * _enthalpy_J_kg(liquor)
        return out_kg

    def _sprayed_m3(self, liquor: _Liquor) -> float:
        """Fill or drain the header; the volume that falls as spray meanwhile."""
        state, setting, full_m3 = self.state, self._setting, self.design.header_m3
        dry = liquor.level_m < self.design.suction_m
        if dry and self._inputs.pump_share > 0.0:
            state.pump_dry_s += self._dt_s
        if dry or setting.spray_m3 == 0.0:
            state.header_m3 *= setting.header_keeps
            return 0.0
        filled_m3 = min(full_m3 - state.header_m3, setting.spray_m3)
        if filled_m3 == 0.0:
            return setting.spray_m3
        state.header_m3 = full_m3 if filled_m3 < setting.spray_m3 else state.header_m3 + filled_m3
        return setting.spray_m3 - filled_m3

    def _go_round_the_tower(self, liquor: _Liquor, dt_s: float) -> tuple[float, float, float]:
        """Water and salt that come back less those that left, and the heat they bring over the tank's liquor."""
        state, setting, design, totals = self.state, self._setting, self.design, self.totals
        spray_m3 = self._sprayed_m3(liquor)
        share = setting.spray_share if spray_m3 == setting.spray_m3 else spray_m3 / (design.spray_m3_s * dt_s)
        state.spray_share = share
        if spray_m3 == 0.0 and state.tower_water_kg == 0.0:
            return 0.0, 0.0, 0.0
        spray_kg = spray_m3 * liquor.density_kg_m3
        air_W = evaporation_kg = drift_kg = 0.0
        if spray_m3 > 0.0 and self._inputs.air_share > 0.0:
            air_share = self._inputs.air_share
            weights = setting.weights if share == setting.spray_share else design.tower.weights(share, air_share)
            air_W, evaporation_kg_s = rates_between(liquor.below[_TOWER:], liquor.above[_TOWER:], liquor.share, weights)
            evaporation_kg = evaporation_kg_s * dt_s
            drift_kg = design.tower.drift_fraction * air_share * spray_kg  # without air nothing is carried off
            totals.tower_air_J += air_W * dt_s
            totals.tower_evaporation_kg += evaporation_kg
            totals.drift_kg += drift_kg
            totals.drift_J += drift_kg * _enthalpy_J_kg(liquor)
            totals.salt_out_kg += drift_kg * liquor.salt_share
        laid_kg = spray_kg - drift_kg
        back_kg, salt_share, water_J_kg, salt_J_kg = self._return(liquor, laid_kg, evaporation_kg, air_W * dt_s)
        back_salt_kg = back_kg * salt_share
        heat_J = (back_kg - back_salt_kg) * (water_J_kg - liquor.water_J_kg)
        heat_J += back_salt_kg * (salt_J_kg - liquor.salt_J_kg)
        left_salt_kg = spray_kg * liquor.salt_share
        return back_kg - back_salt_kg - (spray_kg - left_salt_kg), back_salt_kg - left_salt_kg, heat_J

    def _return(
        self, liquor: _Liquor, laid_kg: float, evaporation_kg: float, air_J: float
    ) -> tuple[float, float, float, float]:
        """Mix what is laid on the fill into what runs there, take its heat, let a share run back.

        Returns: mass back, its share of salt, and the enthalpies of its water and salt.
        """
        state = self.state
        held = self._parts_and_slopes(state.return_temperature_K)
        laid_salt_kg = laid_kg * liquor.salt_share
        laid_water_kg = laid_kg - laid_salt_kg
        water_kg = state.tower_water_kg + laid_water_kg - evaporation_kg
        salt_kg = state.tower_salt_kg + laid_salt_kg
        heat_J = laid_water_kg * (liquor.water_J_kg - held[0]) + laid_salt_kg * (liquor.salt_J_kg - held[1])
        heat_J -= air_J - evaporation_kg * held[0]
        state.return_temperature_K += heat_J / (water_kg * held[2] + salt_kg * held[3])
        mixed = self._parts_and_slopes(state.return_temperature_K)
        pool_kg = water_kg + salt_kg
        steady_kg = (laid_kg - evaporation_kg) * self.design.return_delay_s / self._dt_s
        before_kg = state.tower_water_kg + state.tower_salt_kg
        after_kg = steady_kg + (before_kg - steady_kg) * self._setting.tower_keeps
        if after_kg < 1.0e-6:
            after_kg = 0.0
        state.tower_water_kg = water_kg * after_kg / pool_kg
        state.tower_salt_kg = salt_kg * after_kg / pool_kg
        return pool_kg - after_kg, salt_kg / pool_kg, mixed[0], mixed[1]

    def _heat(self, liquor: _Liquor, dt_s: float) -> float:
        """Heat that heater and pump give the liquor over the step; a bare part of the heater gives none."""
        state, design, totals, inputs = self.state, self.design, self.totals, self._inputs
        covered = (liquor.level_m - design.heater_bottom_m) / design.heater_height_m
        covered = min(max(covered, 0.0), 1.0)
        target_W = 0.0
        if inputs.heat_load > 0.0:
            full_W = liquor.below[_HEAT] + liquor.share * (liquor.above[_HEAT] - liquor.below[_HEAT])
            source_W = full_W * inputs.heat_load * inputs.heat_transfer_factor
            target_W = source_W * covered
            if covered < 1.0:
                state.heater_uncovered_s += dt_s
                totals.uncovered_heater_J += (source_W - target_W) * dt_s
            totals.heat_source_J += target_W * dt_s
        after_W = target_W + (state.heater_W - target_W) * self._setting.heater_keeps
        heat_J = target_W * dt_s - design.heater_lag_s * (after_W - state.heater_W)
        state.heater_W = after_W
        if self._setting.pump_m5_s2 > 0.0 and liquor.level_m >= design.suction_m:
            pump_J = self._setting.pump_m5_s2 * liquor.density_kg_m3
            totals.pump_J += pump_J
            heat_J += pump_J
        return heat_J

    def _lose(self, liquor: _Liquor, dt_s: float) -> tuple[float, float]:
        """Mass that evaporates from the surface; heat lost, its vapour counted over the liquor."""
        evaporation_kg_s, vapour_W, dry_W, walls_W, piping_W = (
            below + liquor.share * (above - below)
            for below, above in zip(liquor.below[_LOSSES:_HEAT], liquor.above[_LOSSES:_HEAT], strict=True)
        )
        surface_kg = evaporation_kg_s * dt_s
        totals = self.totals
        totals.surface_evaporation_kg += surface_kg
        totals.surface_vapour_J += vapour_W * dt_s
        totals.surface_dry_J += dry_W * dt_s
        totals.walls_J += walls_W * dt_s
        totals.piping_J += piping_W * dt_s
        return surface_kg, (vapour_W + dry_W + walls_W + piping_W) * dt_s - surface_kg * liquor.water_J_kg

    def _feed(self, liquor: _Liquor, setting: _Setting) -> float:
        """Heat that the feed brings over the tank's liquor: mostly negative."""
        feed_kg = setting.refill_kg + setting.trickle_kg
        salt_kg = feed_kg * self.design.feed_solids_kg_kg
        water_J_kg, salt_J_kg = setting.feed_J_kg
        totals = self.totals
        totals.refill_kg += setting.refill_kg
        totals.trickle_kg += setting.trickle_kg
        totals.feed_salt_kg += salt_kg
        totals.feed_J += (feed_kg - salt_kg) * water_J_kg + salt_kg * salt_J_kg
        return (feed_kg - salt_kg) * (water_J_kg - liquor.water_J_kg) + salt_kg * (salt_J_kg - liquor.salt_J_kg)

    def _boil(self, liquor: _Liquor) -> None:
        """Hold the liquor at its boiling point and let the surplus of heat boil it off."""
        state, boiling_K = self.state, self.design.boiling_K
        surplus_J = (state.temperature_K - boiling_K) * (
            state.water_kg * liquor.water_J_kgK + state.salt_kg * liquor.salt_J_kgK
        )
        vapour_J_kg = vapour_enthalpy_J_kg(boiling_K)
        boiled_kg = min(surplus_J / (vapour_J_kg - self._parts(self.design, boiling_K)[0]), state.water_kg)
        state.temperature_K = boiling_K
        state.water_kg -= boiled_kg
        self.totals.boiled_kg += boiled_kg
        self.totals.boiled_J += boiled_kg * vapour_J_kg

    def _prepared(self, inputs: PlantInputs, dt_s: float) -> _Setting:
        require_range("dt_s", dt_s, 1.0e-3, LONGEST_STEP_s, "a step of the simulated unit")
        design = self.design
        share = inputs.pump_share * inputs.spray_open * inputs.nozzle_share
        open_both = inputs.refill_valve_open and inputs.refill_second_valve_open
        delay_s = design.return_delay_s
        feed = self._parts(design, design.feed_temperature_K)
        return _Setting(
            spray_m3=share * design.spray_m3_s * dt_s,
            spray_share=share,
            weights=design.tower.weights(share, inputs.air_share),
            refill_kg=design.refill_m3_s * design.feed_kg_m3 * dt_s if open_both else 0.0,
            trickle_kg=inputs.trickle_m3_s * design.feed_kg_m3 * dt_s,
            feed_J_kg=(feed[0], feed[1]),
            pump_m5_s2=design.pump_J_kg * design.pump_m3_s * inputs.pump_share**3 * dt_s,
            header_keeps=math.exp(-dt_s / HEADER_DRAINS_s),
            tower_keeps=math.exp(-dt_s / delay_s) if delay_s > 0.0 else 0.0,
            heater_keeps=math.exp(-dt_s / design.heater_lag_s),
            thermometer_keeps=math.exp(-dt_s / design.thermometer_lag_s),
        )

    @staticmethod
    def _parts(design: PlantDesign, temperature_K: float) -> tuple[float, float, float, float]:
        """The liquor's parts at a temperature, as LiquorParts."""
        row, share = place_in(design.rows, temperature_K)
        below, above = design.rows[row], design.rows[row + 1]
        water_J_kg, salt_J_kg, water_m3_kg, salt_m3_kg = (
            a + share * (b - a) for a, b in zip(below[:_LOSSES], above[:_LOSSES], strict=True)
        )
        return water_J_kg, salt_J_kg, water_m3_kg, salt_m3_kg

    def _parts_and_slopes(self, temperature_K: float) -> tuple[float, float, float, float]:
        """Enthalpies of water and salt at a temperature, and their heat capacities."""
        row, share = place_in(self.design.rows, temperature_K)
        below, above = self.design.rows[row], self.design.rows[row + 1]
        water_J, salt_J = above[0] - below[0], above[1] - below[1]
        return below[0] + share * water_J, below[1] + share * salt_J, water_J / STEP_K, salt_J / STEP_K


def _enthalpy_J_kg(liquor: _Liquor) -> float:
    return (1.0 - liquor.salt_share) * liquor.water_J_kg + liquor.salt_share * liquor.salt_J_kg


def _volume_at_m3(design: PlantDesign, level_m: float) -> float:
    """Inverse of design.level_m."""
    row = min(bisect_right(design.levels_m, level_m), len(design.levels_m) - 1)
    low_m, high_m = design.levels_m[row - 1], design.levels_m[row]
    place = row - 1 + (level_m - low_m) / (high_m - low_m)
    return place / (len(design.levels_m) - 1) * design.rim_volume_m3
