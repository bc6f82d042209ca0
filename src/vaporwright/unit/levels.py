"""The levels of a sized unit: its tank, heater and refill put into the stack-up of equipment.level_rods.

What the catalogue and the job do not say is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

import math
from typing import Final

from vaporwright.equipment.level_rods import LevelPlan, LevelStack, level_stack
from vaporwright.equipment.tank_volume import (
    ImmersedBody,
    RefillCycle,
    SlopedTank,
    liquor_expansion_ratio,
    refill_cycle,
)
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK
from vaporwright.properties.water import liquid_heat_capacity_J_kgK
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import liquor_of
from vaporwright.unit.catalogue import ElectricHeaterPart, HeatSourcePart

BOTTOM_SLOPE: Final = 0.125 / 12.0  # to the drain
OVERFLOW_OVER_REFILL: Final = 2.0  # what the passive overflow is made for; the least is one
MAKE_UP_BORE_m: Final = 0.75 * 0.0254


def levels_of(answer: UnitAnswer) -> LevelStack:
    """The stack-up of an answer's tank, bottom to make-up outlet, with its conflicts named.

    Raises: OutOfRange where a part's figures fit no stack-up.
    """
    unit, job = answer.unit, answer.job
    tank = SlopedTank(
        length_m=unit.tank.length_m,
        width_m=unit.tank.width_m,
        wall_height_m=unit.tank.height_m,
        bottom_slope=BOTTOM_SLOPE,
    )
    drain_back_m3 = job.number("choices.drain_back") * tank.length_m * tank.width_m
    refill_m3_s = job.number("choices.refill_flow")
    plan = LevelPlan(
        tank=tank,
        heater_height_m=unit.heat_source.height_m,
        heater_volume_m3=displaced_by_heater_m3(unit.heat_source),
        start_drawdown_m3=drain_back_m3,
        drain_back_m3=drain_back_m3,
        refill_flow_m3_s=refill_m3_s,
        overflow_capacity_m3_s=OVERFLOW_OVER_REFILL * refill_m3_s,
        make_up_bore_m=MAKE_UP_BORE_m,
        expansion_ratio=liquor_expansion_ratio(
            liquor_of(job, end_of_batch=False),
            cold_K=min(job.number("liquid.feed_temperature"), job.number("choices.set_point")),
            hot_K=job.number("choices.set_point"),
        ),
        sludge_depth_m=job.number("choices.sludge_depth"),
        heater_run_m=tank.length_m,
        overflow_run_m=tank.length_m,
    )
    return level_stack(plan)


def refill_of(answer: UnitAnswer, stack: LevelStack) -> RefillCycle:
    """One refill between its two rods in the governing season: how long, how often, how far the tank sags.

    Raises: OutOfRange where the rods conflict or the refill is no larger than what evaporates.
    """
    job, unit = answer.job, answer.unit
    result = answer.seasons[answer.governing]
    operation = result.operation
    liquor = liquor_of(job, end_of_batch=False)
    liquor_K, feed_K = result.settling_temperature_K, job.number("liquid.feed_temperature")
    body = ImmersedBody(
        stack.mark("heater bottom").height_m, unit.heat_source.height_m, displaced_by_heater_m3(unit.heat_source)
    )
    return refill_cycle(
        SlopedTank(unit.tank.length_m, unit.tank.width_m, unit.tank.height_m, BOTTOM_SLOPE, (body,)),
        refill_on_m=stack.mark("refill-on").height_m,
        refill_off_m=stack.mark("refill-off").height_m,
        refill_flow_m3_s=job.number("choices.refill_flow"),
        evaporation_m3_s=(result.evaporation_kg_s + operation.drift_kg_s) / WATER_DENSITY_kg_m3,
        liquor_temperature_K=liquor_K,
        feed_temperature_K=feed_K,
        liquor_heat_capacity_J_m3K=density_kg_m3(liquor, liquor_K) * heat_capacity_J_kgK(liquor, liquor_K),
        feed_heat_capacity_J_m3K=WATER_DENSITY_kg_m3 * liquid_heat_capacity_J_kgK(feed_K),
    )


def displaced_by_heater_m3(part: HeatSourcePart) -> float:
    """Volume of liquor that a heat source takes up [m3]: its tubes or rods as cylinders."""
    if isinstance(part, ElectricHeaterPart):
        return part.sheath_area_m2 * part.sheath_diameter_m / 4.0
    return math.pi * part.tube_outer_diameter_m**2 / 4.0 * part.tube_length_m
