"""A performance run that never took place: a unit with known factors, logged by instruments with known errors.

The truth comes from the model (unit.balance.operate at a few tank temperatures, straight lines between), the tank
warms by its own heat balance, and every channel then gets its gain, its offset and its noise. What is true stands in
the result, so that a test can ask whether the evaluation found it. The evaluation knows only the log.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

from vaporwright.acceptance.run.averages import DEFAULT_UNCERTAINTIES, RANGE
from vaporwright.acceptance.run.log import CHANNEL_OF, RunLog
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.tank_volume import level_at_volume_m, volume_at_level_m3
from vaporwright.foundation.constants import MOLAR_GAS_CONSTANT_J_molK
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.flue_gas import burn, gross_combustion_efficiency
from vaporwright.properties.fuels import gross_heating_value_J_standard_m3, standard_molar_volume_m3_mol
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK
from vaporwright.properties.moist_air import enthalpy_J_kg, saturation_humidity_ratio_kg_kg, wet_bulb_temperature_K
from vaporwright.properties.moist_air_kernels import air_state_from_enthalpy
from vaporwright.properties.steam import latent_heat_J_kg
from vaporwright.properties.water import liquid_enthalpy_J_kg, saturation_temperature_K
from vaporwright.properties.water_transport import liquid_density_kg_m3
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import LIMIT_TOWER, Conditions, SeasonResult, operate, settle
from vaporwright.unit.heat import FUELS
from vaporwright.unit.levels import tank_with_heater

# Standard deviation of one reading about its mean, by channel [SI]; shares where below "share".
NOISE: Mapping[str, float] = {
    "make_up_mass_kg": 0.02,
    "make_up_volume_m3": 0.5e-4,
    "stilling_level_m": 0.3e-3,
    "feed_temperature_K": 0.05,
    "tank_temperature_K": 0.05,
    "return_temperature_K": 0.05,
    "inlet_air_temperature_K": 0.1,
    "inlet_wet_bulb_K": 0.1,
    "exhaust_temperature_K": 0.1,
    "exhaust_wet_bulb_K": 0.1,
    "room_temperature_K": 0.1,
    "barometer_Pa": 10.0,
    "gas_volume_standard_m3": 1.0e-4,
    "gas_volume_meter_m3": 1.0e-4,
    "gas_meter_temperature_K": 0.1,
    "gas_meter_gauge_Pa": 2.0,
    "stack_temperature_K": 1.0,
    "flue_oxygen": 5.0e-4,
    "electric_energy_J": 1.0e4,
    "condensate_mass_kg": 0.05,
    "steam_gauge_Pa": 500.0,
}
NOISE_SHARE: Mapping[str, float] = {"spray_flow_m3_s": 0.005, "air_flow_m3_s": 0.01, "tracer_kg_m3": 0.002}


@dataclass(frozen=True)
class RunOptions:
    """What goes on in a simulated run, beside the unit itself."""

    hours: float = 4.0
    row_s: float = 60.0
    colder_at_start_K: float = 6.0
    leak_kg_s: float = 0.0
    drift_factor: float = 1.0
    tracer_kg_m3: float = 2.0  # at the start; 0 for none
    feed_tracer_kg_m3: float = 0.0
    hold_up_kg: float = 0.0
    gains: Mapping[str, float] = field(default_factory=dict)  # of a channel's instrument: a planted fault
    offsets: Mapping[str, float] = field(default_factory=dict)
    air_beside_fill: float = 0.0  # share of the measured air that leaks out before the fill
    isolated_h: tuple[float, float] | None = None  # refill shut from one hour to another
    pump_stops_h: float | None = None  # for three minutes, seen in the spray flow alone
    weighed: bool = True
    metered: bool = False
    gas_meter: tuple[float, float] | None = None  # gas at a dial [K, Pa gauge]; None: a meter that corrects
    noise: float = 1.0
    calibration: float = 0.0  # 1: gains and offsets drawn from the instruments' own uncertainty
    without: tuple[str, ...] = ()  # channels that are not logged


@dataclass(frozen=True)
class SimulatedRun:
    """The log, and what was true while it was taken."""

    log: RunLog
    settled: SeasonResult
    unit: AssembledUnit  # as found
    conditions: Conditions
    evaporated_kg: tuple[float, ...]  # true running total at the log's times
    design_drift_kg_s: float
    liquid_lost_kg_s: float  # true drift and leak

    def evaporation_kg_s(self, begin_s: float, end_s: float) -> float:
        """True mean between two rows."""
        times = self.log.times_s
        begin, end = bisect_right(times, begin_s) - 1, bisect_right(times, end_s) - 1
        return (self.evaporated_kg[end] - self.evaporated_kg[begin]) / (times[end] - times[begin])


def simulate_run(
    unit: AssembledUnit,
    conditions: Conditions,
    stack: LevelStack,
    *,
    seed: int = 1,
    found: AsFound | None = None,
    options: RunOptions | None = None,
) -> SimulatedRun:
    """A run of a unit that differs from its design by `found`, logged once a minute."""
    options = options or RunOptions()
    rng = random.Random(seed)
    true_unit, true_conditions = as_found(unit, conditions, found or AsFound())
    settled = settle(true_unit, true_conditions)
    table = _table(true_unit, true_conditions, settled, options)
    times, states, evaporated = _march(true_unit, true_conditions, stack, settled, table, options)
    columns = _logged(times, states, options, rng)
    spray_kg_s = true_unit.spray_flow_m3_s * density_kg_m3(true_conditions.liquor, settled.settling_temperature_K)
    design_drift = unit.tower.drift_fraction * spray_kg_s
    lost = design_drift * options.drift_factor + options.leak_kg_s
    log = RunLog(times, columns)
    return SimulatedRun(log, settled, true_unit, true_conditions, evaporated, design_drift, lost)


def _table(
    unit: AssembledUnit, conditions: Conditions, settled: SeasonResult, options: RunOptions
) -> list[tuple[float, dict[str, float]]]:
    at_K = settled.settling_temperature_K
    low_K = at_K - options.colder_at_start_K - 1.0
    places = [low_K + (at_K + 4.0 - low_K) * step / 4.0 for step in range(5)]
    return [(kelvin, _readable(unit, conditions, settled, kelvin, options)) for kelvin in sorted({*places, at_K})]


def _readable(
    unit: AssembledUnit, conditions: Conditions, settled: SeasonResult, tank_K: float, options: RunOptions
) -> dict[str, float]:
    full_W = settled.heat_curve.heat_W(tank_K)
    if settled.limit == LIMIT_TOWER:  # the burner cycles; its mean is what holds the clamp
        full_W = settled.heat_W
    operation = operate(unit, conditions, tank_K, full_W)
    tower, rating = operation.tower, operation.tower.rating
    pressure, intake = conditions.pressure_Pa, conditions.intake
    outdoor_J_kg = enthalpy_J_kg(intake.temperature_K, intake.humidity_ratio_kg_kg, pressure)
    share = intake.recirculated_share
    mixed_J_kg = (1.0 - share) * outdoor_J_kg + share * rating.air_out_enthalpy_J_kg
    humidity = tower.air_in_humidity_ratio_kg_kg
    inlet_K = air_state_from_enthalpy(mixed_J_kg, humidity, pressure, intake.temperature_K, False, 1e-6).temperature_K
    exhaust_K = rating.air_out_temperature_K
    seen = min(rating.air_out_humidity_ratio_kg_kg, saturation_humidity_ratio_kg_kg(exhaust_K, pressure))
    values = {
        "evaporation": operation.evaporation_kg_s,
        "drift": operation.drift_kg_s,
        "closing": operation.energy.closing_W,
        "tank_temperature_K": tank_K,
        "return_temperature_K": rating.water_out_temperature_K,
        "spray_flow_m3_s": unit.spray_flow_m3_s,
        "inlet_air_temperature_K": inlet_K,
        "inlet_wet_bulb_K": wet_bulb_temperature_K(inlet_K, humidity, pressure),
        "air_flow_m3_s": unit.towers * tower.blower_flow_m3_s / (1.0 - options.air_beside_fill),
        "exhaust_temperature_K": exhaust_K,
        "exhaust_wet_bulb_K": wet_bulb_temperature_K(exhaust_K, seen * (1.0 - 1e-9), pressure),
        "barometer_Pa": pressure,
        "room_temperature_K": conditions.air.temperature_K,
        "feed_temperature_K": conditions.feed_temperature_K,
    }
    return values | _heat(conditions, settled, full_W)


def _heat(conditions: Conditions, settled: SeasonResult, full_W: float) -> dict[str, float]:
    """What the meters of the heat source show at that heat; the stack is as hot as its efficiency asks for."""
    kind, site = settled.heat.kind, conditions.heat_site
    if kind == "electric":
        return {"power": full_W / settled.heat.efficiency}
    if kind == "steam":
        boiling_K = saturation_temperature_K(site.steam_gauge_pressure_Pa + conditions.pressure_Pa)
        condensate = full_W / (0.99 * latent_heat_J_kg(boiling_K))
        return {"condensate": condensate, "steam_gauge_Pa": site.steam_gauge_pressure_Pa}
    fuel = FUELS[site.fuel]
    drawn_W = settled.heat.drawn_W * (settled.load if settled.limit == LIMIT_TOWER else 1.0)
    flue = burn(fuel, site.excess_air_fraction, site.air_humidity_ratio_kg_kg)

    def short(stack_K: float) -> float:
        return gross_combustion_efficiency(flue, stack_K, site.air_temperature_K) - full_W / drawn_W

    stack_K = find_root(short, 300.0, 1400.0, tolerance=1e-3, name="stack temperature")
    return {
        "gas": drawn_W / gross_heating_value_J_standard_m3(fuel),
        "stack_temperature_K": stack_K,
        "flue_oxygen": flue.oxygen_dry_fraction,
    }


def _dial(standard_m3: float, barometer_Pa: float, options: RunOptions) -> dict[str, float]:
    """What a meter shows that corrects nothing: as many moles, at its own temperature and pressure."""
    if options.gas_meter is None:
        return {}
    gas_K, gauge_Pa = options.gas_meter
    moles = standard_m3 / standard_molar_volume_m3_mol()
    dial_m3 = moles * MOLAR_GAS_CONSTANT_J_molK * gas_K / (barometer_Pa + gauge_Pa)
    return {"gas_volume_meter_m3": dial_m3, "gas_meter_temperature_K": gas_K, "gas_meter_gauge_Pa": gauge_Pa}


def _between(table: list[tuple[float, dict[str, float]]], kelvin: float) -> dict[str, float]:
    place = min(max(bisect_right([entry[0] for entry in table], kelvin), 1), len(table) - 1)
    (low_K, low), (high_K, high) = table[place - 1], table[place]
    share = (kelvin - low_K) / (high_K - low_K)
    return {name: value + share * (high[name] - value) for name, value in low.items()}


def _march(
    unit: AssembledUnit,
    conditions: Conditions,
    stack: LevelStack,
    settled: SeasonResult,
    table: list[tuple[float, dict[str, float]]],
    options: RunOptions,
) -> tuple[tuple[float, ...], list[dict[str, float]], tuple[float, ...]]:
    """The true state at every row: temperature by the heat balance, level by the water, tracer by what leaves."""
    tank, liquor = tank_with_heater(unit, stack), conditions.liquor
    on_m, off_m = stack.mark("refill-on").height_m, stack.mark("refill-off").height_m
    aim_m = 0.5 * (on_m + off_m)
    kelvin = settled.settling_temperature_K
    if settled.limit != LIMIT_TOWER:
        kelvin -= options.colder_at_start_K
    held = volume_at_level_m3(tank, aim_m) * density_kg_m3(liquor, kelvin)
    feed_K = conditions.feed_temperature_K
    feed_density = liquid_density_kg_m3(feed_K)
    reference = density_kg_m3(liquor, 298.15)
    salt = options.tracer_kg_m3 / reference * (held + options.hold_up_kg)
    made_up, evaporated, energy, gas, condensate = 5.0, 0.0, 0.0, 0.0, 1.0
    steps = 6
    dt = options.row_s / steps
    times, states, totals = [], [], []
    for row in range(round(options.hours * 3600.0 / options.row_s) + 1):
        time_s = row * options.row_s
        now = _between(table, kelvin)
        level_m = level_at_volume_m(tank, held / density_kg_m3(liquor, kelvin))
        times.append(time_s)
        totals.append(evaporated)
        states.append(
            now
            | {
                "make_up_mass_kg": made_up,
                "make_up_volume_m3": made_up / feed_density,
                "stilling_level_m": level_m,
                "tracer_kg_m3": salt / (held + options.hold_up_kg) * reference,
                "electric_energy_J": energy,
                "gas_volume_standard_m3": gas,
                "condensate_mass_kg": condensate,
            }
            | _dial(gas, now["barometer_Pa"], options)
        )
        shut = options.isolated_h is not None and options.isolated_h[0] <= time_s / 3600.0 < options.isolated_h[1]
        for _ in range(steps):
            now = _between(table, kelvin)
            liquid = now["drift"] * options.drift_factor + options.leak_kg_s
            lost = now["evaporation"] + liquid
            make_up = 0.0 if shut else lost * max(1.0 + 10.0 * (aim_m - level_m), 0.0)
            warming_W = now["closing"] + (make_up - now["evaporation"] - now["drift"]) * (
                liquid_enthalpy_J_kg(feed_K) - liquid_enthalpy_J_kg(kelvin)
            )
            share = salt / (held + options.hold_up_kg)
            salt += (make_up / reference * options.feed_tracer_kg_m3 - liquid * share) * dt
            if settled.limit != LIMIT_TOWER:
                whole = held + options.hold_up_kg
                kelvin += warming_W * dt / (whole * heat_capacity_J_kgK(liquor, kelvin))
            held += (make_up - lost) * dt
            made_up += make_up * dt
            evaporated += now["evaporation"] * dt
            energy += now.get("power", 0.0) * dt
            gas += now.get("gas", 0.0) * dt
            condensate += now.get("condensate", 0.0) * dt
    return tuple(times), states, tuple(totals)


def _logged(
    times: tuple[float, ...], states: list[dict[str, float]], options: RunOptions, rng: random.Random
) -> dict[str, tuple[float | None, ...]]:
    """Every channel with the error of its instrument; totals never fall."""
    unused = {"make_up_mass_kg"} if not options.weighed else set()
    unused |= {"make_up_volume_m3"} if not options.metered else set()
    unused |= {"tracer_kg_m3"} if options.tracer_kg_m3 <= 0.0 else set()
    unused |= {"gas_volume_standard_m3"} if options.gas_meter is not None else set()
    needs = {"electric_energy_J": "power", "gas_volume_standard_m3": "gas", "condensate_mass_kg": "condensate"}
    needs |= dict.fromkeys(("gas_volume_meter_m3", "gas_meter_temperature_K", "gas_meter_gauge_Pa"), "gas")
    columns: dict[str, tuple[float | None, ...]] = {}
    common_K = rng.gauss(0.0, _half(options, "tank_temperature_K", 1))
    range_K = rng.gauss(0.0, _half(options, RANGE, 1))
    for name in CHANNEL_OF:
        gain = 1.0 + rng.gauss(0.0, _half(options, name, 0))
        offset = rng.gauss(0.0, _half(options, name, 1))
        end = rng.gauss(0.0, _half(options, name, 1))
        if name in ("tank_temperature_K", "return_temperature_K"):
            offset = common_K - (range_K if name == "return_temperature_K" else 0.0)
        gain *= options.gains.get(name, 1.0)
        absent = name not in states[0] or (name in needs and needs[name] not in states[0])
        if absent or name in unused or name in options.without:
            continue
        drifts = CHANNEL_OF[name].total or name == "stilling_level_m"
        values = []
        for time_s, state in zip(times, states, strict=True):
            deviation = options.noise * (NOISE.get(name, 0.0) + NOISE_SHARE.get(name, 0.0) * state[name])
            moved = offset + (end - offset) * time_s / times[-1] if drifts else offset
            if CHANNEL_OF[name].total:
                moved -= offset  # a total begins where it begins
            value = state[name] * gain + moved + options.offsets.get(name, 0.0) + rng.gauss(0.0, deviation)
            stopped = options.pump_stops_h is not None and 0.0 <= time_s / 3600.0 - options.pump_stops_h < 0.05
            values.append(0.0 if stopped and name == "spray_flow_m3_s" else value)
        columns[name] = tuple(_rising(values)) if CHANNEL_OF[name].total else tuple(values)
    return columns


def _half(options: RunOptions, name: str, part: int) -> float:
    return options.calibration * DEFAULT_UNCERTAINTIES[name][part] / 2.0


def _rising(values: list[float]) -> list[float]:
    highest = 0.0
    result = []
    for value in values:
        highest = max(highest, value)
        result.append(highest)
    return result
