"""The liquor's round of a unit: its pump, pipes, valve and nozzles put into equipment.spray_circuit.

Solved where suction is worst: the low rod, the clamp's temperature, end-of-batch strength, the site's pressure. What
the job, the catalogue and the shop's settings do not say is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.pipe_run import (
    Fitting,
    HotLiquor,
    PipeRun,
    PipeSize,
    hot_liquor,
    pipe_for_velocity,
    pipe_material,
    pressure_rating_factor,
    thermal_growth_m,
)
from vaporwright.equipment.pump import pump_motor_size_W, pump_pressure_Pa
from vaporwright.equipment.spray_circuit import (
    SPRAY_CAUTION,
    CircuitCondition,
    CircuitFlows,
    Nozzles,
    SprayCircuit,
    Strainer,
    Submergence,
    solve_spray_circuit,
    suction_submergence,
    valve_for_spray_flow,
)
from vaporwright.equipment.throttling_valve import REFERENCE_DENSITY_kg_m3, full_bore_ball_valve
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult, conditions_of, liquor_of, settle
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.job import Job

KEY: Final = "hydraulics"
TITLE: Final = "Hydraulics at the low rod, hottest liquor"
SUCTION_LENGTH_m: Final = 1.0
DISCHARGE_LENGTH_m: Final = 1.0
AGITATION_LENGTH_m: Final = 3.0
FITTED_AT_K: Final = 293.15
CHOKED_SHARE: Final = 0.7  # of the wanted spray, to show what a choked valve does
_CIRCUIT: Final = ("equipment.spray_circuit.valve_for_spray_flow", "equipment.spray_circuit.solve_spray_circuit")


@dataclass(frozen=True)
class UnitHydraulics:
    """The circuit at the wanted spray flow and with its valve wide open, and what the suction needs."""

    flows: CircuitFlows
    valve_open: CircuitFlows
    valve_choked: CircuitFlows | None  # to CHOKED_SHARE of the spray; None where nothing sprays
    suction_pipe: PipeSize
    discharge_pipe: PipeSize
    agitation_pipe: PipeSize | None
    submergence: Submergence  # of the suction mouth at the low rod
    motor_size_W: float  # the smallest standard motor that no point of the curve overloads
    reaches_spray: bool  # or the open valve passes less than wanted: then `flows` is `valve_open`


@dataclass(frozen=True)
class TurnedValve:
    """What circuit and governing season do with the spray valve elsewhere than set."""

    name: str
    flows: CircuitFlows
    result: SeasonResult


def hydraulics_for(job: Job, unit: AssembledUnit, stack: LevelStack, tower_gauge_Pa: float) -> UnitHydraulics:
    """Solve the circuit of a unit on a job.

    Args: stack: its levels; tower_gauge_Pa [Pa]: air pressure where the nozzles spray, against the room.
    Raises: OutOfRange and NotConverged as equipment.spray_circuit, where pump and circuit do not fit at all.
    """
    liquor = liquor_of(job, end_of_batch=True)
    hot = hot_liquor(liquor, job.number("choices.set_point"))
    plastic = job.text("choices.pipe_material") != "stainless steel"
    schedule = "80" if plastic else "40"
    practice = unit.practice
    suction = pipe_for_velocity(unit.pump.flow_m3_s, practice.suction_velocity_m_s, schedule)
    discharge = pipe_for_velocity(unit.pump.flow_m3_s, practice.discharge_velocity_m_s, schedule)
    agitation_m3_s = unit.pump.flow_m3_s - unit.spray_flow_m3_s
    agitation = (
        pipe_for_velocity(agitation_m3_s, practice.discharge_velocity_m_s, schedule) if agitation_m3_s > 0.0 else None
    )
    circuit = _circuit(job, unit, hot, suction, discharge, agitation)
    low_m = stack.mark("low").height_m
    level_m = unit.tank.standing_height_m + low_m - unit.pump.centre_height_m
    condition = CircuitCondition(hot, level_m, job.pressure_Pa, tower_gauge_Pa)
    valve_open = solve_spray_circuit(circuit, condition)
    try:
        flows, reaches = valve_for_spray_flow(circuit, condition, unit.spray_flow_m3_s), True
    except OutOfRange:
        flows, reaches = valve_open, False
    choked_m3_s = CHOKED_SHARE * flows.spray_flow_m3_s
    return UnitHydraulics(
        flows,
        valve_open,
        valve_for_spray_flow(circuit, condition, choked_m3_s) if choked_m3_s > 0.0 else None,
        suction,
        discharge,
        agitation,
        suction_submergence(
            level_m=low_m,
            mouth_height_m=unit.tank.suction_mouth_m,
            mouth_diameter_m=suction.inner_diameter_m,
            flow_m3_s=flows.pump_flow_m3_s,
        ),
        pump_motor_size_W(unit.pump.curve, hot_liquor(liquor, 288.15).density_kg_m3),
        reaches,
    )


def hydraulics_of(answer: UnitAnswer, stack: LevelStack) -> UnitHydraulics:
    """The circuit of an answer's unit, with the tower's air pressure in the governing season."""
    return hydraulics_for(answer.job, answer.unit, stack, tower_gauge_Pa(answer))


def tower_gauge_Pa(answer: UnitAnswer) -> float:
    """Air pressure at the nozzles, at most: what the blower gives, above the room's before the fill, below it after."""
    static_Pa = answer.seasons[answer.governing].operation.tower.blower_static_pressure_Pa
    return -static_Pa if answer.unit.tower.blower_after_fill else static_Pa


def _circuit(
    job: Job,
    unit: AssembledUnit,
    hot: HotLiquor,
    suction: PipeSize,
    discharge: PipeSize,
    agitation: PipeSize | None,
) -> SprayCircuit:
    pump, tower = unit.pump, unit.tower
    roughness_m = pipe_material(job.text("choices.pipe_material")).roughness_m
    leg = None
    if agitation is not None:
        # The leg's own valve is set for what the pump gives beyond the spray at its duty point.
        flow_m3_s = pump.flow_m3_s - unit.spray_flow_m3_s
        ratio = hot.density_kg_m3 / REFERENCE_DENSITY_kg_m3
        pressure_bar = pump_pressure_Pa(pump.curve, pump.flow_m3_s, hot.density_kg_m3) / 1.0e5
        kv = 3600.0 * flow_m3_s * math.sqrt(ratio / pressure_bar)
        fittings = (Fitting("standard elbow", 3), Fitting("flow coefficient", 1, kv), Fitting("exit"))
        leg = PipeRun(agitation.inner_diameter_m, AGITATION_LENGTH_m, roughness_m, fittings)
    rated_m3_s = tower.rated_water_loading_kg_s_m2 * tower.fill.area_m2 / WATER_DENSITY_kg_m3
    coefficient = rated_m3_s / tower.nozzles / math.sqrt(tower.nozzle_gauge_pressure_Pa)
    return SprayCircuit(
        pump=pump.curve,
        suction=PipeRun(
            suction.inner_diameter_m, SUCTION_LENGTH_m, roughness_m, (Fitting("flush entrance"), Fitting("ball valve"))
        ),
        strainer=Strainer(3600.0 * pump.flow_m3_s * math.sqrt(1.0e5 / pump.strainer_loss_Pa), pump.strainer_hole_m),
        discharge=PipeRun(discharge.inner_diameter_m, DISCHARGE_LENGTH_m, roughness_m, (Fitting("swing check valve"),)),
        valve=full_bore_ball_valve(discharge.inner_diameter_m),
        spray=PipeRun(
            discharge.inner_diameter_m,
            max(job.number("choices.piping_length"), 1.0),
            roughness_m,
            (Fitting("standard elbow", 4),),
        ),
        nozzles=Nozzles(unit.towers * tower.nozzles, coefficient, tower.nozzle_passage_m),
        header_height_m=job.number("choices.header_height") - pump.centre_height_m,
        agitation=leg,
    )


def turned_valves(answer: UnitAnswer, found: UnitHydraulics) -> tuple[TurnedValve, ...]:
    """The governing season with the valve wide open, and choked to a share of the wanted spray."""
    result = answer.seasons[answer.governing]
    conditions = conditions_of(answer.job, answer.governing)
    turned = []
    for name, flows in (("open", found.valve_open), ("choked", found.valve_choked)):
        if flows is None or flows.spray_flow_m3_s == 0.0:
            continue  # the liquor does not reach the header: nothing to settle, and a notice says so
        unit = replace(answer.unit, spray_flow_m3_s=flows.spray_flow_m3_s)
        turned.append(TurnedValve(name, flows, settle(unit, conditions, near=result)))
    return tuple(turned)


def hydraulics_section(answer: UnitAnswer, found: UnitHydraulics) -> Section:
    """Settings and margins of the circuit, its pipes and motor, and what a turned valve does."""
    figures = (
        *_flow_figures(answer, found),
        *_suction_figures(answer, found),
        *_pipe_figures(answer, found),
        *_turned_figures(answer, found),
    )
    return Section(KEY, TITLE, figures, tuple(_notices(answer, found)), (SPRAY_CAUTION,))


def _flow_figures(answer: UnitAnswer, found: UnitHydraulics) -> Iterator[Figure]:
    flows, unit, job = found.flows, answer.unit, answer.job
    circuit = (
        Input("wanted spray", unit.spray_flow_m3_s, "liquid flow"),
        Input("liquor, at its clamp", job.number("choices.set_point"), "temperature"),
        Input("choices.header_height", job.number("choices.header_height"), "length"),
        Input("choices.piping_length", job.number("choices.piping_length"), "length"),
        Input("air pressure at the nozzles, at most", tower_gauge_Pa(answer), "pressure"),
    )
    split = "where the pump's head meets what either leg needs; both legs need the same at the tee"
    for name, value, quantity, equation, label in (
        ("spray_flow_m3_s", flows.spray_flow_m3_s, "liquid flow", split, "spray"),
        ("agitation_flow_m3_s", flows.agitation_flow_m3_s, "liquid flow", split, "agitation, back to the tank"),
        ("pump_flow_m3_s", flows.pump_flow_m3_s, "liquid flow", split, "pump"),
        ("pump_head_m", flows.pump_head_m, "length", "pump curve at that flow", "pump head"),
        (
            "header_pressure_Pa",
            flows.header_gauge_Pa,
            "gauge pressure",
            "(flow / (nozzles x coefficient))² x density / 1000 + air pressure in the tower",
            "header pressure, by which the spray valve is set",
        ),
        (
            "valve_handle_angle_deg",
            flows.handle_angle_deg,
            "angle",
            "handle at which the valve's Kv takes what pump and agitation leave over",
            "spray valve's handle, of 90 open",
        ),
        ("shaft_power_W", flows.shaft_power_W, "power", "pump curve, with the liquor's density", "pump shaft"),
        (
            "motor_size_W",
            found.motor_size_W,
            "power",
            "smallest standard motor that no point of the curve overloads, end-of-batch liquor cold",
            "smallest motor that serves",
        ),
    ):
        yield Figure(name, value, quantity, equation, circuit, _CIRCUIT, label)


def _suction_figures(answer: UnitAnswer, found: UnitHydraulics) -> Iterator[Figure]:
    flows = found.flows
    yield Figure(
        "npsh_margin_m",
        flows.npsh_margin_m,
        "length",
        "available (site pressure - vapour pressure + level over the pump - suction losses) - required by the pump",
        (
            Input("NPSH available", flows.npsh_available_m, "length"),
            Input("NPSH required", flows.npsh_required_m, "length"),
            Input("site pressure", answer.job.pressure_Pa, "absolute pressure"),
        ),
        ("equipment.pump.npsh_available_m",),
        "NPSH margin at the low rod",
    )
    yield Figure(
        "submergence_margin_m",
        found.submergence.margin_m,
        "short length",
        "liquor over the suction's centre - D (1 + 2.3 Fr)",
        (
            Input("submergence", found.submergence.available_m, "short length"),
            Input("needed against a vortex", found.submergence.needed_m, "short length"),
            Input("Froude number in the mouth", found.submergence.froude_number, "ratio"),
        ),
        ("equipment.spray_circuit.suction_submergence",),
        "submergence margin at the low rod",
    )


def _pipe_figures(answer: UnitAnswer, found: UnitHydraulics) -> Iterator[Figure]:
    job, practice = answer.job, answer.unit.practice
    material = job.text("choices.pipe_material")
    schedule = "40" if material == "stainless steel" else "80"
    for name, pipe, velocity_m_s, label in (
        ("suction_pipe", found.suction_pipe, practice.suction_velocity_m_s, "suction pipe"),
        ("discharge_pipe", found.discharge_pipe, practice.discharge_velocity_m_s, "discharge and spray pipe"),
        ("agitation_pipe", found.agitation_pipe, practice.discharge_velocity_m_s, "agitation pipe"),
    ):
        if pipe is None:
            continue
        inputs = (
            Input("bore", pipe.inner_diameter_m, "short length"),
            Input("velocity that it keeps at the pump's duty flow", velocity_m_s, "liquid velocity"),
        )
        text = f"{pipe.nominal_in:g} in {material}, schedule {schedule}"
        equation = "the smallest pipe that keeps the shop's velocity"
        functions = ("equipment.pipe_run.pipe_for_velocity",)
        yield Figure(name, text, "text", equation, inputs, functions, label)
    warm_K = job.number("choices.set_point") - FITTED_AT_K
    length_m = max(job.number("choices.piping_length"), 1.0)
    yield Figure(
        "pipe_growth_m",
        thermal_growth_m(material, length_m, warm_K),
        "short length",
        "coefficient of expansion x length x (clamp - 20 degC)",
        (Input("choices.piping_length", length_m, "length"), Input("warmed by", warm_K, "temperature difference")),
        ("equipment.pipe_run.thermal_growth_m",),
        "growth of the hot run, to be taken by offsets or loops",
    )
    yield _rating_figure(answer, material)


def _rating_figure(answer: UnitAnswer, material: str) -> Figure:
    """What the pipe must be rated for when cold, to bear the shut-off pressure when hot."""
    pump, clamp_K = answer.unit.pump, answer.job.number("choices.set_point")
    liquor = hot_liquor(liquor_of(answer.job, end_of_batch=True), clamp_K)
    shut_off_Pa = pump_pressure_Pa(pump.curve, pump.curve.flow_m3_s[0], liquor.density_kg_m3)
    factor: float | None = 1.0
    if pipe_material(material).pressure_factors:
        try:
            factor = pressure_rating_factor(material, clamp_K)
        except OutOfRange:
            factor = None
    return Figure(
        "pipe_rating_Pa",
        None if factor is None else shut_off_Pa / factor,
        "gauge pressure",
        "pump pressure at shut-off / share of its 73 degF rating that the pipe keeps at the clamp",
        (
            Input("pump pressure at shut-off", shut_off_Pa, "gauge pressure"),
            Input("share kept", "none" if factor is None else factor, "text" if factor is None else "fraction"),
        ),
        ("equipment.pipe_run.pressure_rating_factor",),
        "pressure rating at 73 °F that the pipe needs",
        absent="no rating so hot",
    )


def _turned_figures(answer: UnitAnswer, found: UnitHydraulics) -> Iterator[Figure]:
    words = {"open": "valve wide open", "choked": f"valve choked to {CHOKED_SHARE:.0%} of the spray"}
    for turned in turned_valves(answer, found):
        result, where = turned.result, words[turned.name]
        inputs = (
            Input("spray", turned.flows.spray_flow_m3_s, "liquid flow"),
            Input("tank settles at", result.settling_temperature_K, "temperature"),
        )
        functions = ("equipment.spray_circuit.solve_spray_circuit",)
        rate = f"the whole balance of {answer.governing} settled again with that spray"
        yield Figure(
            f"spray_valve_{turned.name}_m3_s",
            turned.flows.spray_flow_m3_s,
            "liquid flow",
            "the circuit with the valve there",
            (),
            functions,
            f"{where}: sprays",
        )
        yield Figure(
            f"shaft_power_valve_{turned.name}_W",
            turned.flows.shaft_power_W,
            "power",
            "pump curve at the flow of the circuit with the valve there",
            (Input("pump flow", turned.flows.pump_flow_m3_s, "liquid flow"),),
            functions,
            f"{where}: pump shaft",
        )
        yield Figure(
            f"evaporation_valve_{turned.name}_kg_s",
            result.evaporation_kg_s,
            "evaporation",
            rate,
            inputs,
            (),
            f"{where}: evaporates",
        )
        yield Figure(
            f"temperature_valve_{turned.name}_K",
            result.settling_temperature_K,
            "temperature",
            rate,
            inputs,
            (),
            f"{where}: tank settles at",
        )
        yield Figure(
            f"drift_valve_{turned.name}_kg_s",
            result.operation.drift_kg_s,
            "evaporation",
            "drift share of the eliminator x spray",
            inputs,
            (),
            f"{where}: drifts",
        )


def _notices(answer: UnitAnswer, found: UnitHydraulics) -> Iterator[Notice]:
    flows, unit = found.flows, answer.unit
    if not found.reaches_spray:
        yield Notice(
            "spray not reached",
            "SHORT: the open spray valve passes {0}, less than the wanted {1}.",
            ((flows.spray_flow_m3_s, "liquid flow"), (unit.spray_flow_m3_s, "liquid flow")),
        )
    if found.motor_size_W > 1.001 * unit.pump.motor_rating_W:
        yield Notice(
            "pump motor overload",
            "OVERLOAD: end-of-batch liquor asks for a pump motor of {0} somewhere on its curve; it has {1}.",
            ((found.motor_size_W, "power"), (unit.pump.motor_rating_W, "power")),
        )
    if found.submergence.margin_m < 0.0:
        yield Notice(
            "suction vortex",
            "VORTEX: at the low rod the pump may draw air: {0} of liquor over its suction, {1} needed. A vortex plate, "
            "a wider mouth or a higher low rod.",
            ((found.submergence.available_m, "short length"), (found.submergence.needed_m, "short length")),
        )
    material = answer.job.text("choices.pipe_material")
    if _rating_figure(answer, material).value is None:
        yield Notice(
            "pipe too hot",
            f"PIPE: {material} has no pressure rating at {{0}}: another pipe material or a lower set point.",
            ((answer.job.number("choices.set_point"), "temperature"),),
        )
    yield from flows.warnings
