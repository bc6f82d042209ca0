"""The liquor's round of a sized unit: its pump, pipes, valve and nozzles put into equipment.spray_circuit.

Solved where suction is worst: the low rod, the clamp's temperature, the site's pressure. What the catalogue and the job
do not say is common practice, no source, and stands here as a constant. The pressure in the tower is left out: a few
centimetres of water at most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.pipe_run import Fitting, HotLiquor, PipeRun, PipeSize, hot_liquor, pipe_for_velocity
from vaporwright.equipment.pump import pump_motor_size_W, pump_pressure_Pa
from vaporwright.equipment.spray_circuit import (
    CircuitCondition,
    CircuitFlows,
    Nozzles,
    PSI_Pa,
    SprayCircuit,
    Strainer,
    Submergence,
    solve_spray_circuit,
    suction_submergence,
    valve_for_spray_flow,
)
from vaporwright.equipment.throttling_valve import REFERENCE_DENSITY_kg_m3, full_bore_ball_valve
from vaporwright.foundation.errors import OutOfRange
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import conditions_of, liquor_of
from vaporwright.unit.levels import levels_of

SUCTION_VELOCITY_m_s: Final = 1.2
DISCHARGE_VELOCITY_m_s: Final = 2.0
SUCTION_LENGTH_m: Final = 1.0
PUMP_CENTRE_m: Final = 0.25  # above the floor, on which the tank stands too
SUCTION_MOUTH_m: Final = 0.12  # its centre above the tank's low corner
PLASTIC_ROUGHNESS_m: Final = 1.5e-6
NOZZLE_PRESSURE_Pa: Final = 5.0 * PSI_Pa  # at the rated spray flow
NOZZLE_AREA_m2: Final = 0.09  # of fill under each nozzle
NOZZLE_PASSAGE_m: Final = 0.008
STRAINER_HOLE_m: Final = 0.003
STRAINER_DROP_Pa: Final = 2.0e3  # clean, at the pump's duty flow


@dataclass(frozen=True)
class UnitHydraulics:
    """The circuit at the wanted spray flow and with its valve wide open, and what the suction needs."""

    flows: CircuitFlows
    valve_open: CircuitFlows
    suction_pipe: PipeSize
    discharge_pipe: PipeSize
    submergence: Submergence  # of the suction mouth at the low rod
    motor_size_W: float  # the smallest standard motor that no point of the curve overloads
    reaches_spray: bool  # or the open valve passes less than wanted: then `flows` is `valve_open`


def hydraulics_of(answer: UnitAnswer) -> UnitHydraulics:
    """Solve the circuit of an answer's unit.

    Raises: OutOfRange and NotConverged as equipment.spray_circuit, where pump and circuit do not fit at all.
    """
    unit, job = answer.unit, answer.job
    liquor = liquor_of(job, end_of_batch=True)
    hot = hot_liquor(liquor, job.number("choices.set_point"))
    suction = pipe_for_velocity(unit.pump.flow_m3_s, SUCTION_VELOCITY_m_s)
    discharge = pipe_for_velocity(unit.pump.flow_m3_s, DISCHARGE_VELOCITY_m_s)
    circuit = _circuit(answer, hot, suction, discharge)
    low_m = levels_of(answer).mark("low").height_m
    condition = CircuitCondition(hot, low_m - PUMP_CENTRE_m, conditions_of(job, answer.governing).pressure_Pa)
    valve_open = solve_spray_circuit(circuit, condition)
    try:
        flows, reaches = valve_for_spray_flow(circuit, condition, unit.spray_flow_m3_s), True
    except OutOfRange:
        flows, reaches = valve_open, False
    return UnitHydraulics(
        flows,
        valve_open,
        suction,
        discharge,
        suction_submergence(
            level_m=low_m,
            mouth_height_m=SUCTION_MOUTH_m,
            mouth_diameter_m=suction.inner_diameter_m,
            flow_m3_s=flows.pump_flow_m3_s,
        ),
        pump_motor_size_W(unit.pump.curve, hot_liquor(liquor, 288.15).density_kg_m3),
        reaches,
    )


def _circuit(answer: UnitAnswer, hot: HotLiquor, suction: PipeSize, discharge: PipeSize) -> SprayCircuit:
    unit, job = answer.unit, answer.job
    pump_m3_s, spray_m3_s = unit.pump.flow_m3_s, unit.spray_flow_m3_s
    count = max(1, round(unit.towers * unit.tower.fill.area_m2 / NOZZLE_AREA_m2))
    # The agitation leg's own valve is set for what the pump gives beyond the spray at its duty point.
    agitation_m3_s = pump_m3_s - spray_m3_s
    agitation = None
    if agitation_m3_s > 0.0:
        ratio = hot.density_kg_m3 / REFERENCE_DENSITY_kg_m3
        pressure_bar = pump_pressure_Pa(unit.pump.curve, pump_m3_s, hot.density_kg_m3) / 1.0e5
        agitation_kv = 3600.0 * agitation_m3_s * math.sqrt(ratio / pressure_bar)
        bore_m = pipe_for_velocity(agitation_m3_s, DISCHARGE_VELOCITY_m_s).inner_diameter_m
        fittings = (Fitting("standard elbow", 3), Fitting("flow coefficient", 1, agitation_kv), Fitting("exit"))
        agitation = PipeRun(bore_m, 3.0, PLASTIC_ROUGHNESS_m, fittings)
    strainer_kv = 3600.0 * pump_m3_s * math.sqrt(1.0e5 / STRAINER_DROP_Pa)
    coefficient = spray_m3_s / count / math.sqrt(NOZZLE_PRESSURE_Pa)
    return SprayCircuit(
        pump=unit.pump.curve,
        suction=PipeRun(
            suction.inner_diameter_m,
            SUCTION_LENGTH_m,
            PLASTIC_ROUGHNESS_m,
            (Fitting("flush entrance"), Fitting("ball valve")),
        ),
        strainer=Strainer(strainer_kv, STRAINER_HOLE_m),
        discharge=PipeRun(discharge.inner_diameter_m, 1.0, PLASTIC_ROUGHNESS_m, (Fitting("swing check valve"),)),
        valve=full_bore_ball_valve(discharge.inner_diameter_m),
        spray=PipeRun(
            discharge.inner_diameter_m,
            max(job.number("choices.piping_length"), 1.0),
            PLASTIC_ROUGHNESS_m,
            (Fitting("standard elbow", 4),),
        ),
        nozzles=Nozzles(count, coefficient, NOZZLE_PASSAGE_m),
        header_height_m=job.number("choices.header_height") - PUMP_CENTRE_m,
        agitation=agitation,
    )
