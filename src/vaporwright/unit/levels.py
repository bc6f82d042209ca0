"""The levels of a unit: its tank, heater and refill put into the stack-up of equipment.level_rods.

What the job, the catalogue and the shop's settings do not say is common practice, no source, and stands here as a
constant.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from vaporwright.equipment.gravity_return import head_over_outlet_m, self_venting_capacity_m3_s
from vaporwright.equipment.level_rods import (
    MOVABLE,
    LevelConflict,
    LevelMark,
    LevelPlan,
    LevelPractice,
    LevelStack,
    MarkName,
    level_stack,
)
from vaporwright.equipment.tank_volume import (
    ImmersedBody,
    RefillCycle,
    SlopedTank,
    liquor_expansion_ratio,
    refill_cycle,
)
from vaporwright.foundation.notice import Notice
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK
from vaporwright.properties.water import liquid_heat_capacity_J_kgK
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3
from vaporwright.unit.balance import liquor_of
from vaporwright.unit.catalogue import ElectricHeaterPart, HeatSourcePart
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.job import Job

KEY: Final = "levels"
TITLE: Final = "Levels above the tank's low corner"
DEPTH_ROOM_m: Final = 3.0 * 0.0254  # how far the working depth may lie outside the refill band
MAKE_UP_BORE_m: Final = 0.75 * 0.0254
RIM_ABOVE_HIGH_WITH_FOAM_m: Final = 12.0 * 0.0254
CONFLICT_QUANTITIES: Final = {"m": "short length", "m3/s": "liquid flow"}
LEVEL_CAUTION: Final = (
    "Rods control, they do not protect: a rod that reads wet when dry (scale, foam, a wet holder) lets a tank boil"
    " dry and burn. An independent, hard-wired, listed low-water cut-off of another principle and an over-temperature"
    " device at the heater are required. Overflow carries hot liquor: pipe it to a safe place."
)


def levels_of(answer: UnitAnswer) -> LevelStack:
    """The stack-up of an answer's tank; see stack_for."""
    return stack_for(answer.job, answer.unit)


def stack_for(job: Job, unit: AssembledUnit) -> LevelStack:
    """The stack-up of a unit's tank, bottom to make-up outlet, with its conflicts named.

    Raises: OutOfRange where a part's figures fit no stack-up.
    """
    tank = sloped_tank(unit)
    drain_back_m3 = job.number("choices.drain_back") * tank.surface_area_m2
    refill_m3_s = job.number("choices.refill_flow")
    overflow_m3_s = self_venting_capacity_m3_s(unit.tank.overflow_bore_m)
    enough = overflow_m3_s >= refill_m3_s  # where it is not, the stack-up names the conflict
    plan = LevelPlan(
        tank=tank,
        heater_height_m=unit.heat_source.height_m,
        heater_volume_m3=displaced_by_heater_m3(unit.heat_source),
        start_drawdown_m3=drain_back_m3,
        drain_back_m3=drain_back_m3,
        refill_flow_m3_s=refill_m3_s,
        overflow_capacity_m3_s=overflow_m3_s,
        overflow_head_m=head_over_outlet_m(refill_m3_s, unit.tank.overflow_bore_m) if enough else 0.0,
        make_up_bore_m=MAKE_UP_BORE_m,
        expansion_ratio=liquor_expansion_ratio(
            liquor_of(job, end_of_batch=False),
            cold_K=min(job.number("liquid.feed_temperature"), job.number("choices.set_point")),
            hot_K=job.number("choices.set_point"),
        ),
        sludge_depth_m=job.number("choices.sludge_depth"),
        foam_m=job.number("liquid.foam_depth"),
        heater_run_m=tank.length_m,
        overflow_run_m=tank.length_m,
        fixed_heights_m=_given_heights(job),
        practice=_practice(job, unit),
    )
    return level_stack(plan)


def _practice(job: Job, unit: AssembledUnit) -> LevelPractice:
    """The shop's gaps, with a higher rim where foam is stated."""
    practice = unit.practice.levels
    if job.number("liquid.foam_depth") > 0.0:
        return replace(practice, rim_above_high_m=max(practice.rim_above_high_m, RIM_ABOVE_HIGH_WITH_FOAM_m))
    return practice


def _given_heights(job: Job) -> dict[MarkName, float]:
    given = {name: job.optional(f"levels.{key_of(name)}") for name in MOVABLE}
    return {name: height_m for name, height_m in given.items() if height_m is not None}


def key_of(mark: MarkName) -> str:
    """A mark's name as job file and JSON spell it."""
    return mark.replace(" ", "_").replace("-", "_")


def sloped_tank(unit: AssembledUnit, *immersed: ImmersedBody) -> SlopedTank:
    """A unit's tank as a vessel."""
    part = unit.tank
    return SlopedTank(part.length_m, part.width_m, part.height_m, unit.practice.bottom_slope, immersed)


def tank_with_heater(unit: AssembledUnit, stack: LevelStack) -> SlopedTank:
    """A unit's tank as a vessel, with its heater in it."""
    heater = unit.heat_source
    body = ImmersedBody(stack.mark("heater bottom").height_m, heater.height_m, displaced_by_heater_m3(heater))
    return sloped_tank(unit, body)


def refill_of(answer: UnitAnswer, stack: LevelStack) -> RefillCycle:
    """One refill between its two rods in the governing season: how long, how often, how far the tank sags.

    Raises: OutOfRange where the rods conflict or the refill is no larger than what evaporates.
    """
    job, unit = answer.job, answer.unit
    result = answer.seasons[answer.governing]
    liquor = liquor_of(job, end_of_batch=False)
    liquor_K, feed_K = result.settling_temperature_K, job.number("liquid.feed_temperature")
    return refill_cycle(
        tank_with_heater(unit, stack),
        refill_on_m=stack.mark("refill-on").height_m,
        refill_off_m=stack.mark("refill-off").height_m,
        refill_flow_m3_s=job.number("choices.refill_flow"),
        evaporation_m3_s=(result.evaporation_kg_s + result.operation.drift_kg_s) / WATER_DENSITY_kg_m3,
        liquor_temperature_K=liquor_K,
        feed_temperature_K=feed_K,
        liquor_heat_capacity_J_m3K=density_kg_m3(liquor, liquor_K) * heat_capacity_J_kgK(liquor, liquor_K),
        feed_heat_capacity_J_m3K=WATER_DENSITY_kg_m3 * liquid_heat_capacity_J_kgK(feed_K),
        trickle_flow_m3_s=job.number("choices.trickle_flow"),
    )


def displaced_by_heater_m3(part: HeatSourcePart) -> float:
    """Volume of liquor that a heat source takes up [m3]: its tubes or rods as cylinders."""
    if isinstance(part, ElectricHeaterPart):
        return part.sheath_area_m2 * part.sheath_diameter_m / 4.0
    return math.pi * part.tube_outer_diameter_m**2 / 4.0 * part.tube_length_m


def levels_section(answer: UnitAnswer, stack: LevelStack) -> Section:
    """Marks from the bottom up, rods as cut, one refill; conflicts as notices.

    Raises: OutOfRange where the refill is no larger than what evaporates.
    """
    marks = [_mark_figure(mark) for mark in (*stack.stack, stack.reference, stack.rod_holder)]
    rods = [
        Figure(
            f"{key_of(rod.name)}_rod_m",
            rod.cut_length_m,
            "short length",
            "seat of the rod holder - tip; cut plus or minus the tolerance",
            (
                Input("levels.rod_holder_m", stack.rod_holder.height_m, "short length"),
                Input(f"levels.{key_of(rod.name)}_m", rod.tip_height_m, "short length"),
                Input("tolerance", rod.tolerance_m, "short length"),
            ),
            ("equipment.level_rods.level_stack",),
            f"{rod.name} rod, cut to",
            absent="conflict",
        )
        for rod in stack.rods
    ]
    refill = () if stack.conflicts else _refill_figures(answer.job, stack, refill_of(answer, stack))
    notices = tuple(_conflict_notice(conflict) for conflict in stack.conflicts)
    if not stack.conflicts:
        notices += _depth_notice(answer, stack)
    return Section(KEY, TITLE, (*marks, *rods, *refill), notices, (LEVEL_CAUTION,))


def _mark_figure(mark: LevelMark) -> Figure:
    given = "given in the job; " if mark.given else ""
    return Figure(
        f"{key_of(mark.name)}_m",
        mark.height_m,
        "short length",
        f"{given}{mark.why}: above {mark.above} by the larger of these allowances together and the usual gap",
        tuple(Input(f"{part.name} ({part.basis})", part.rise_m, "short length") for part in mark.allowances),
        ("equipment.level_rods.level_stack",),
        mark.name,
    )


def _refill_figures(job: Job, stack: LevelStack, cycle: RefillCycle) -> tuple[Figure, ...]:
    functions = ("equipment.tank_volume.refill_cycle",)
    inputs = (
        Input("levels.refill_on_m", stack.mark("refill-on").height_m, "short length"),
        Input("levels.refill_off_m", stack.mark("refill-off").height_m, "short length"),
        Input("choices.refill_flow", job.number("choices.refill_flow"), "liquid flow"),
        Input("choices.trickle_flow", job.number("choices.trickle_flow"), "liquid flow"),
        Input("liquid.feed_temperature", job.number("liquid.feed_temperature"), "temperature"),
    )
    none = "nothing to refill"
    return (
        Figure("refill_volume_m3", cycle.band_m3, "volume", "refill-on to refill-off", inputs, functions, "one refill"),
        Figure(
            "refill_time_s",
            cycle.fill_time_s,
            "short duration",
            "volume of the band / (refill - what evaporates meanwhile)",
            inputs,
            functions,
            "a refill takes",
            none,
        ),
        Figure(
            "refill_period_s",
            cycle.period_s,
            "short duration",
            "time to evaporate the band + time to refill it",
            inputs,
            functions,
            "from refill to refill",
            none,
        ),
        Figure(
            "refill_timer_s",
            cycle.run_timer_s,
            "short duration",
            "twice the expected fill; a refill that runs longer stops with an alarm",
            inputs,
            functions,
            "refill run timer",
            none,
        ),
        Figure(
            "refill_sag_difference_K",
            cycle.sag_difference_K,
            "temperature difference",
            "(tank - feed) x heat capacity of the band / (of the tank + of the band), mixed",
            inputs,
            functions,
            "a refill cools the tank by",
        ),
    )


def _conflict_notice(conflict: LevelConflict) -> Notice:
    enough = ", ".join(remedy.change for remedy in conflict.remedies if remedy.enough)
    text = (
        f"CONFLICT: {conflict.mark} is {{0}} short of {conflict.against}. What would resolve it: "
        f"{enough or 'only several changes together'}."
    )
    return Notice(f"level conflict: {conflict.mark}", text, ((conflict.size, CONFLICT_QUANTITIES[conflict.unit]),))


def _depth_notice(answer: UnitAnswer, stack: LevelStack) -> tuple[Notice, ...]:
    """The catalogue's working depth, at which losses and warm-up are reckoned, against the band of the rods."""
    depth_m = answer.unit.tank.working_depth_m
    on_m, off_m = stack.mark("refill-on").height_m, stack.mark("refill-off").height_m
    if on_m - DEPTH_ROOM_m <= depth_m <= off_m + DEPTH_ROOM_m:
        return ()
    text = (
        "Losses and warm-up are reckoned at the tank's working depth of {0}; with this heater its rods keep the liquor"
        " between {1} and {2}. State that depth in the catalogue."
    )
    return (Notice("working depth", text, tuple((value, "short length") for value in (depth_m, on_m, off_m))),)
