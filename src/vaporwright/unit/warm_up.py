"""Warm-up: how long from cold to working temperature, with the tower off and on, and where it stalls.

With the tower running, heat goes up the stack of air long before the set point: the tank creeps towards its settling
temperature and stays there. With the tower off (agitation branch on, spray shut) only surface and walls lose heat.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from vaporwright.equipment.tank import tank_losses
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK, water_activity
from vaporwright.unit.assembly import AssembledUnit, tank_of
from vaporwright.unit.balance import LIMIT_HEAT, Conditions, Operation, SeasonResult, operate, pump_shaft_power_W
from vaporwright.unit.heat import heat_curve

STEPS = 8
FAR_difference_K = 100.0
SHORT_OF_SETTLING_difference_K = 1.0
COLDEST_START_K = 278.15


@dataclass(frozen=True)
class WarmUp:
    """Times from the cold start; None where that state is not reached."""

    start_K: float
    target_K: float  # working temperature: where the unit settles or is clamped
    tower_off_s: float | None
    tower_on_s: float | None  # to 1 K short of settling
    stalls_at_K: float | None  # below the clamp, with the tower on; None where it reaches the clamp


def warm_up(unit: AssembledUnit, result: SeasonResult) -> WarmUp:
    """Warm-up of the tank filled with feed, heat full on; liquid only, the metal's heat is left out (a few per cent).

    The time is the integral over temperature of heat stored over heat left.
    """
    conditions = result.conditions
    start_K = max(conditions.feed_temperature_K, COLDEST_START_K)
    target_K = result.settling_temperature_K
    coldest_K = max(min(start_K, target_K - 30.0), COLDEST_START_K)
    curve = heat_curve(unit.heat_source, conditions.heat_site, coldest_K, target_K)
    part = unit.tank
    volume_m3 = part.length_m * part.width_m * part.working_depth_m
    density = density_kg_m3(conditions.liquor, start_K)
    pump_W = pump_shaft_power_W(unit, density)

    def idle_W(temperature_K: float) -> float:
        return curve.heat_W(temperature_K) + pump_W - _tank_only_W(unit, conditions, temperature_K)

    latest: list[Operation] = [result.operation]

    def running_W(temperature_K: float) -> float:
        try:
            operation = operate(unit, conditions, temperature_K, curve.heat_W(temperature_K), [latest[-1].tower])
        except OutOfRange:  # under the wet bulb of the air with its recirculated exhaust: the tower takes no heat
            return idle_W(temperature_K)
        latest.append(operation)
        return operation.energy.closing_W

    mass_kg = volume_m3 * density
    heat_J_K = mass_kg * heat_capacity_J_kgK(conditions.liquor, 0.5 * (start_K + target_K))
    never_K = target_K + FAR_difference_K  # without the tower it does not stall below the target
    off_s = _time_s(idle_W, start_K, target_K, never_K, heat_J_K)
    wet_bulb_K = conditions.air.wet_bulb_temperature_K
    first_K = max(start_K, wet_bulb_K + 4.0)  # below that the air warms the water more than it cools it
    on_s = _time_s(running_W, first_K, target_K - SHORT_OF_SETTLING_difference_K, target_K, heat_J_K)
    if on_s is not None and first_K > start_K:
        before_s = _time_s(idle_W, start_K, first_K, never_K, heat_J_K)
        on_s = None if before_s is None else on_s + before_s
    stalls_at_K = target_K if result.limit == LIMIT_HEAT else None
    return WarmUp(start_K, target_K, off_s, on_s, stalls_at_K)


def _tank_only_W(unit: AssembledUnit, conditions: Conditions, temperature_K: float) -> float:
    air = conditions.air
    losses = tank_losses(
        tank=tank_of(unit.tank, conditions.lid_fraction),
        liquid_temperature_K=temperature_K,
        room_temperature_K=air.temperature_K,
        room_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        pressure_Pa=conditions.pressure_Pa,
        air_speed_m_s=conditions.air_speed_m_s,
        water_activity=water_activity(conditions.liquor, temperature_K),
    )
    return losses.heat_W


def _time_s(
    net_W: Callable[[float], float], start_K: float, end_K: float, stall_K: float, heat_J_K: float
) -> float | None:
    """Time from one temperature to another; None where the heat runs out.

    Simpson's rule on (stall - T) / net heat over equal steps of ln(stall - T): near the stall the net heat goes as
    stall - T, so that this stays smooth where 1 / net heat over temperature would not.
    """
    if end_K <= start_K:
        return 0.0
    first, last = math.log(stall_K - start_K), math.log(stall_K - end_K)
    step = (first - last) / STEPS
    total = 0.0
    for index in range(STEPS + 1):
        below_K = math.exp(first - index * step)
        left_W = net_W(stall_K - below_K)
        if left_W <= 0.0:
            return None
        weight = 1.0 if index in (0, STEPS) else (4.0 if index % 2 else 2.0)
        total += weight * below_K / left_W
    return heat_J_K * total * step / 3.0
