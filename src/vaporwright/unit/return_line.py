"""The gravity return of a unit: one pipe from each tower's sump down to the tank, put into equipment.gravity_return.

The return enters at the end of the tank that the pump's suction leaves free; how much room that gives, no job and no
catalogue says: it is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

import math
from typing import Final

from vaporwright.equipment.gravity_return import (
    LEAST_FALL,
    DOWNCOMER_BELOW_LOW_m,
    DOWNCOMER_VELOCITY_m_s,
    GravityReturn,
    LEAST_DISTANCE_m,
    OUTLET_ABOVE_HIGH_m,
    ReturnConflict,
    return_in_air,
    self_venting_capacity_m3_s,
    vented_downcomer,
)
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.catalogue import COUNTERFLOW
from vaporwright.unit.figures import Figure, Input, Section

KEY: Final = "return"
TITLE: Final = "Gravity return"
IN_AIR: Final = "outlet in air"
DOWNCOMER: Final = "vented downcomer"
END_CLEARANCE_m: Final = 0.15  # outlet off the wall at its end of the tank; common practice, no source
THERMOMETER_SHARE: Final = 0.75  # of the way from outlet to suction: it tells what the tower gets; common practice
TOO_NEAR: Final = "distance to "  # how the equipment names a return that ends too near something
METAL_PIPE: Final = "stainless steel"
_INCH: Final = 0.0254
# ASME B36.10M, from memory: bores of the thick-walled pipe in which plastics are often piped.
SCHEDULE_80_BORES_m: Final = {
    f"NPS {size} schedule 40": bore_in * _INCH
    for size, bore_in in (
        ("1 1/2", 1.500),
        ("2", 1.939),
        ("2 1/2", 2.323),
        ("3", 2.900),
        ("4", 3.826),
        ("6", 5.761),
        ("8", 7.625),
        ("10", 9.562),
    )
}
RETURN_CAUTION: Final = (
    "The return carries hot liquor: no open end may splash where people stand, and no valve belongs into it. The vent"
    " of a downcomer ends away from people, above the tower's sump."
)
_GIVEN_BY_RETURN: Final = {
    IN_AIR: "equipment.gravity_return.return_in_air",
    DOWNCOMER: "equipment.gravity_return.vented_downcomer",
}


def return_section(answer: UnitAnswer, stack: LevelStack) -> Section:
    """Kind, size and place of the return of each tower; what does not fit as notices.

    Raises: OutOfRange where no pipe listed is wide enough or a figure of a part is no return's.
    """
    sized = _sized(answer, stack)
    figures = (
        *_kind_figures(answer, sized),
        *_pipe_figures(answer, sized),
        *_height_figures(answer, stack, sized),
        *_distance_figures(answer, sized),
        *_temperature_figures(answer),
    )
    notices = (*(_conflict_notice(conflict) for conflict in sized.conflicts), *_other_notices(answer, sized))
    return Section(KEY, TITLE, figures, notices, (RETURN_CAUTION,))


def return_kind(answer: UnitAnswer) -> str:
    """How the return ends: as chosen, or a vented downcomer where foam is stated."""
    chosen = answer.job.text("choices.return_kind")
    if chosen in (IN_AIR, DOWNCOMER):
        return chosen
    return DOWNCOMER if answer.job.number("liquid.foam_depth") > 0.0 else IN_AIR


def _flow_m3_s(answer: UnitAnswer) -> float:
    return answer.unit.spray_flow_m3_s / answer.unit.towers


def _sump_bottom_m(answer: UnitAnswer) -> float:
    """Where the return leaves its tower, above the tank's low corner."""
    return answer.unit.tower.sump_bottom_m - answer.unit.tank.standing_height_m


def _distances_m(answer: UnitAnswer) -> tuple[float, float]:
    """From the outlet to pump suction and to thermometer, as far as the tank's length allows."""
    to_suction_m = answer.unit.tank.length_m - END_CLEARANCE_m
    return to_suction_m, THERMOMETER_SHARE * to_suction_m


def _sized(answer: UnitAnswer, stack: LevelStack) -> GravityReturn:
    flow_m3_s, sump_bottom_m = _flow_m3_s(answer), _sump_bottom_m(answer)
    high_m, sump_depth_m = stack.mark("high").height_m, answer.unit.tower.sump_depth_m
    run_m = answer.job.number("choices.return_run")
    to_suction_m, to_thermometer_m = _distances_m(answer)
    if return_kind(answer) == IN_AIR:
        return return_in_air(
            flow_m3_s=flow_m3_s,
            high_rod_m=high_m,
            sump_bottom_m=sump_bottom_m,
            sump_depth_m=sump_depth_m,
            level_run_m=run_m,
            distance_to_suction_m=to_suction_m,
            distance_to_thermometer_m=to_thermometer_m,
        )
    return vented_downcomer(
        flow_m3_s=flow_m3_s,
        low_rod_m=stack.mark("low").height_m,
        high_rod_m=high_m,
        sludge_top_m=stack.mark("sludge top").height_m,
        sump_bottom_m=sump_bottom_m,
        sump_depth_m=sump_depth_m,
        level_run_m=run_m,
        distance_to_suction_m=to_suction_m,
        distance_to_thermometer_m=to_thermometer_m,
    )


def _kind_figures(answer: UnitAnswer, sized: GravityReturn) -> tuple[Figure, ...]:
    return (
        Figure(
            "return_kind",
            sized.kind,
            "text",
            "as chosen; where the choice is left to the liquor, a vented downcomer if it foams, else an outlet in air",
            (
                Input("choices.return_kind", answer.job.text("choices.return_kind"), "text"),
                Input("liquid.foam_depth", answer.job.number("liquid.foam_depth"), "short length"),
            ),
            (),
            "kind",
        ),
        Figure(
            "return_flow_m3_s",
            _flow_m3_s(answer),
            "liquid flow",
            "spray flow / towers; what evaporates on the way is not taken off",
            (
                Input("unit.spray_flow", answer.unit.spray_flow_m3_s, "liquid flow"),
                Input("towers", float(answer.unit.towers), "count"),
            ),
            (),
            "flow of each return",
        ),
    )


def _pipe_figures(answer: UnitAnswer, sized: GravityReturn) -> tuple[Figure, ...]:
    flow = Input("return.return_flow_m3_s", _flow_m3_s(answer), "liquid flow")
    bore = Input("return.return_bore_m", sized.pipe.bore_m, "short length")
    size = "the narrowest schedule 40 pipe wide enough for Froude number 0.3"
    limits: tuple[Input, ...] = (flow,)
    if sized.kind == DOWNCOMER:
        size += " and for the velocity against which bubbles still rise"
        limits = (flow, Input("most velocity (common practice, no source)", DOWNCOMER_VELOCITY_m_s, "liquid velocity"))
    by = (_GIVEN_BY_RETURN[sized.kind],)
    return (
        Figure("return_pipe", sized.pipe.name, "text", size, limits, by, "pipe of each return"),
        Figure("return_bore_m", sized.pipe.bore_m, "short length", size, limits, by, "bore"),
        Figure(
            "froude_number",
            sized.froude_number,
            "ratio",
            "Fr = v / sqrt(g D), v as though the pipe ran full; up to 0.3 it vents itself",
            (flow, bore),
            ("equipment.gravity_return.froude_number",),
            "Froude number",
        ),
        Figure(
            "self_venting_capacity_m3_s",
            sized.capacity_m3_s,
            "liquid flow",
            "0.3 sqrt(g D) pi D^2 / 4",
            (bore,),
            ("equipment.gravity_return.self_venting_capacity_m3_s",),
            "vents itself up to",
        ),
        Figure(
            "vent_bore_m",
            sized.vent_bore_m,
            "short length",
            "half the bore; it rises above the sump's rim and lets foam run back (common practice, no source)",
            (bore,),
            by,
            "bore of the downcomer's vent",
            "vents itself",
        ),
    )


def _height_figures(answer: UnitAnswer, stack: LevelStack, sized: GravityReturn) -> tuple[Figure, ...]:
    bore = Input("return.return_bore_m", sized.pipe.bore_m, "short length")
    run_m = answer.job.number("choices.return_run")
    by = (_GIVEN_BY_RETURN[sized.kind],)
    if sized.kind == IN_AIR:
        outlet = "high rod + margin (common practice, no source), so that the outlet stays in air"
        rod = Input("levels.high_m", stack.mark("high").height_m, "short length")
        margin = Input("margin", OUTLET_ABOVE_HIGH_m, "short length")
    else:
        outlet = "low rod - submergence (common practice, no source), so that the end stays sealed"
        rod = Input("levels.low_m", stack.mark("low").height_m, "short length")
        margin = Input("submergence", DOWNCOMER_BELOW_LOW_m, "short length")
    return (
        Figure(
            "return_outlet_m",
            sized.outlet_height_m,
            "short length",
            outlet,
            (rod, margin),
            by,
            "outlet above the tank's low corner",
        ),
        Figure(
            "sump_bottom_m",
            _sump_bottom_m(answer),
            "short length",
            "tower's sump above the floor - tank's low corner above the floor",
            (
                Input("tower's sump above the floor", answer.unit.tower.sump_bottom_m, "short length"),
                Input("tank's low corner above the floor", answer.unit.tank.standing_height_m, "short length"),
            ),
            (),
            "leaves the tower, above the same corner, at",
        ),
        Figure(
            "fall_m",
            LEAST_FALL * run_m,
            "short length",
            "fall per length x level run",
            (
                Input("fall per length (common practice, no source)", LEAST_FALL, "ratio"),
                Input("choices.return_run", run_m, "length"),
            ),
            by,
            "fall of the level run",
        ),
        Figure(
            "sump_head_m",
            sized.sump_head_m,
            "short length",
            "Fr = 0.8 (h / D)^2, solved for the liquor h over the mouth of the pipe",
            (
                Input("return.froude_number", sized.froude_number, "ratio"),
                bore,
                Input("depth of the sump", answer.unit.tower.sump_depth_m, "short length"),
            ),
            ("equipment.gravity_return.head_over_outlet_m",),
            "liquor over its mouth in the sump",
        ),
    )


def _distance_figures(answer: UnitAnswer, sized: GravityReturn) -> tuple[Figure, ...]:
    to_suction_m, to_thermometer_m = _distances_m(answer)
    bore = Input("return.return_bore_m", sized.pipe.bore_m, "short length")
    length = Input("tank's length", answer.unit.tank.length_m, "length")
    return (
        Figure(
            "least_distance_m",
            sized.least_distance_m,
            "length",
            "ten bores, no less than the least: the return is colder than the tank (common practice, no source)",
            (bore, Input("least", LEAST_DISTANCE_m, "length")),
            ("equipment.gravity_return.least_return_distance_m",),
            "keep from pump suction and thermometer",
        ),
        Figure(
            "distance_to_suction_m",
            to_suction_m,
            "length",
            "tank's length - clearance of the outlet from its end; the suction is at the other end",
            (length, Input("clearance (common practice, no source)", END_CLEARANCE_m, "short length")),
            (),
            "room to the pump suction",
        ),
        Figure(
            "distance_to_thermometer_m",
            to_thermometer_m,
            "length",
            "half the room to the suction (common practice, no source)",
            (Input("return.distance_to_suction_m", to_suction_m, "length"),),
            (),
            "room to the thermometer",
        ),
    )


def _temperature_figures(answer: UnitAnswer) -> tuple[Figure, ...]:
    operation = answer.seasons[answer.governing].operation
    out_K = operation.tower.rating.water_out_temperature_K
    inputs = (
        Input(f"capacity.{answer.governing}.settling_temperature_K", operation.temperature_K, "temperature"),
        Input(f"capacity.{answer.governing}.merkel_number", operation.tower.merkel_number, "ratio"),
    )
    counterflow = answer.unit.tower.arrangement == COUNTERFLOW
    by = ("equipment.tower.rate_counterflow" if counterflow else "equipment.crossflow.rate_crossflow",)
    return (
        Figure(
            "return_temperature_K",
            out_K,
            "temperature",
            f"liquor out of the fill in {answer.governing}, the season with the least capacity",
            inputs,
            by,
            "liquor that returns",
        ),
        Figure(
            "range_difference_K",
            operation.temperature_K - out_K,
            "temperature difference",
            "range: tank - liquor out of the fill",
            (inputs[0], Input("return.return_temperature_K", out_K, "temperature")),
            by,
            "colder than the tank by (range)",
        ),
    )


def _conflict_notice(conflict: ReturnConflict) -> Notice:
    """What stands in the way; a return that ends too near is built all the same, with a baffle."""
    remedies = ", or ".join(conflict.remedies)
    if conflict.name.startswith(TOO_NEAR):
        where = conflict.name.removeprefix(TOO_NEAR)
        text = f"The return ends {{0}} nearer to {where} than ten bores: {remedies}."
        return Notice(f"return too near: {where}", text, ((conflict.size_m, "short length"),))
    text = f"CONFLICT: gravity return, {conflict.name}: {{0}} short. What would resolve it: {remedies}."
    return Notice(f"return conflict: {conflict.name}", text, ((conflict.size_m, "short length"),))


def _other_notices(answer: UnitAnswer, sized: GravityReturn) -> tuple[Notice, ...]:
    """Foam in an open return, and thick-walled plastic pipe that is too narrow in the size named."""
    found = []
    foam_m = answer.job.number("liquid.foam_depth")
    if sized.kind == IN_AIR and foam_m > 0.0:
        text = "{0} of foam are stated: an outlet in air feeds it and may choke on it; a vented downcomer suits better."
        found.append(Notice("foam in the return", text, ((foam_m, "short length"),)))
    flow_m3_s, bore_m = _flow_m3_s(answer), SCHEDULE_80_BORES_m[sized.pipe.name]
    passes_m3_s = self_venting_capacity_m3_s(bore_m)
    if sized.kind == DOWNCOMER:
        passes_m3_s = min(passes_m3_s, DOWNCOMER_VELOCITY_m_s * 0.25 * math.pi * bore_m**2)
    if answer.job.text("choices.pipe_material") != METAL_PIPE and flow_m3_s > passes_m3_s:
        text = (
            f"{sized.pipe.name} is wide enough for {{0}}; plastic pipe of schedule 80 in this size has a bore of {{1}}"
            " and passes {2}: use schedule 40 (no pressure stands in a return) or the next size."
        )
        figures = ((flow_m3_s, "liquid flow"), (bore_m, "short length"), (passes_m3_s, "liquid flow"))
        found.append(Notice("narrower plastic pipe", text, figures))
    return tuple(found)
