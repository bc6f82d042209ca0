"""The spray circuit: tank, strainer, pump, a tee to the spray header and one leg back to the tank for agitation.

    tank ── suction run ── strainer ── pump ── discharge run ── tee (branch) ── ball valve ── spray run ── nozzles
     ▲                                                           │ (straight on)
     └───────────────────── agitation run ───────────────────────┘

Heads are in metres of the liquor, reckoned from the liquor's surface in the tank: at a total flow Q the tee splits
so that both legs need one head, and Q is where the pump gives it. The valve's loss is that of turbulent flow; where
the liquor would flash in the valve, the answer says so and the true spray is less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.equipment.pipe_run import HotLiquor, PipeRun, run_pressure_loss
from vaporwright.equipment.pump import (
    PumpCurve,
    npsh_available_m,
    pump_best_flow_m3_s,
    pump_efficiency,
    pump_head_m,
    pump_npsh_required_m,
    pump_shaft_power_W,
)
from vaporwright.equipment.spray_circuit_warnings import WorkingPoint, spray_circuit_warnings
from vaporwright.equipment.throttling_valve import (
    BallValve,
    OPEN_HANDLE_deg,
    REFERENCE_DENSITY_kg_m3,
    choking_outlet_pressure_Pa,
    valve_handle_angle_deg,
    valve_kv_m3_h,
)
from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root

SUBMERGENCE_FROUDE_FACTOR: Final = 2.3
NOZZLE_TO_HOLE: Final = 2.0
FLOW_TOLERANCE: Final = 1.0e-9
PRESSURE_TOLERANCE: Final = 1.0e-6  # of the pressure at the tee, where the wanted spray is that of the open valve

SPRAY_CAUTION: Final = (
    "Hot liquor scalds and sprays out of a loosened joint or a choked branch: isolation with lock-out, drained and"
    " cooled lines before opening a strainer or nozzle, splash guards, eye protection."
)


@dataclass(frozen=True, slots=True)
class Nozzles:
    """Equal nozzles on the header; coefficient k = flow / sqrt(pressure) of one, on cold water."""

    number: int
    coefficient_m3_s_Pa05: float
    free_passage_m: float

    def __post_init__(self) -> None:
        require_range("number of nozzles", self.number, 1, 1000)
        require_range("coefficient_m3_s_Pa05", self.coefficient_m3_s_Pa05, 1.0e-9, 1.0e-2, "spray nozzles")
        require_range("free_passage_m", self.free_passage_m, 1.0e-4, 0.1, "spray nozzles")


@sourced("nozzle-law", "pressure goes with density and the square of the flow")
def nozzle_pressure_Pa(nozzles: Nozzles, flow_m3_s: float, density_kg_m3: float) -> float:
    """Pressure in the header above the tower's that drives a flow through the nozzles.

    Equation: p = (Q / (n k))^2 rho / 1000.
    Args: flow_m3_s [m3/s] of all nozzles: not negative; density_kg_m3 [kg/m3]: 500 to 2000.
    Returns: pressure difference [Pa].
    Raises: OutOfRange outside those ranges.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    require_range("density_kg_m3", density_kg_m3, 500.0, 2000.0, "liquors")
    root = flow_m3_s / (nozzles.number * nozzles.coefficient_m3_s_Pa05)
    return root * root * density_kg_m3 / REFERENCE_DENSITY_kg_m3


@sourced("strainer-practice", "free passage at least twice the strainer's hole")
def largest_strainer_hole_m(nozzle_free_passage_m: float) -> float:
    """Largest hole of a strainer that keeps nozzles of this free passage open [m]; passage from 1e-4 m to 0.1 m."""
    require_range("nozzle_free_passage_m", nozzle_free_passage_m, 1.0e-4, 0.1, "spray nozzles")
    return nozzle_free_passage_m / NOZZLE_TO_HOLE


@dataclass(frozen=True, slots=True)
class Strainer:
    """Suction strainer: clean Kv [m3/h at 1 bar], hole of its mesh, and the share of the mesh that is still open."""

    kv_m3_h: float
    hole_m: float
    open_share: float = 1.0

    def __post_init__(self) -> None:
        require_range("kv_m3_h of the strainer", self.kv_m3_h, 0.01, 1.0e5)
        require_range("hole_m", self.hole_m, 1.0e-5, 0.05, "strainers")
        require_range("open_share", self.open_share, 0.02, 1.0, "1 is clean; below 0.02 it is plugged")


class TeeLoss(NamedTuple):
    """Loss coefficients of a dividing tee, both on the velocity before it; the straight one may be negative."""

    branch: float
    straight: float


@sourced("crane-tp-410", "diverging tees and wyes")
def dividing_tee_loss(
    *,
    run_diameter_m: float,
    branch_diameter_m: float,
    straight_flow_m3_s: float,
    branch_flow_m3_s: float,
    branch_angle_deg: float = 90.0,
) -> TeeLoss:
    """Loss coefficients of a tee that divides a flow.

    Args:
        run_diameter_m, branch_diameter_m [m]: the branch no larger than the run.
        straight_flow_m3_s, branch_flow_m3_s [m3/s]: not negative, their sum above 0.
        branch_angle_deg [deg]: 30 to 90.
    Returns: TeeLoss.
    Raises: OutOfRange outside those ranges.
    """
    from fluids.fittings import K_branch_diverging_Crane, K_run_diverging_Crane

    require_range("branch_diameter_m", branch_diameter_m, 0.001, run_diameter_m, "no larger than the run")
    require_range("straight_flow_m3_s", straight_flow_m3_s, 0.0, None)
    require_range("branch_flow_m3_s", branch_flow_m3_s, 0.0, None)
    require_range("flow before the tee in m3/s", straight_flow_m3_s + branch_flow_m3_s, 1.0e-12, None)
    require_range("branch_angle_deg", branch_angle_deg, 30.0, 90.0)
    geometry = (run_diameter_m, branch_diameter_m, straight_flow_m3_s, branch_flow_m3_s, branch_angle_deg)
    return TeeLoss(float(K_branch_diverging_Crane(*geometry)), float(K_run_diverging_Crane(*geometry)))


class Submergence(NamedTuple):
    """Liquor over a suction mouth against what keeps a vortex from drawing air."""

    available_m: float
    needed_m: float
    margin_m: float  # negative: the pump may draw air at this level
    froude_number: float


@sourced("hi-9-8", "S = D (1 + 2.3 Fr), Fr = v / sqrt(g D)")
def suction_submergence(
    *, level_m: float, mouth_height_m: float, mouth_diameter_m: float, flow_m3_s: float
) -> Submergence:
    """Submergence of the suction mouth at a level, for instance at the low-level rod.

    Args:
        level_m, mouth_height_m [m]: from one datum; the mouth's centre where it lies horizontal, its plane where
            it looks down.
        mouth_diameter_m [m]: inner diameter of the mouth: 0.01 to 1; flow_m3_s [m3/s]: 0 to 1.
    Returns: Submergence. A vortex plate or a wider mouth lowers the need; a return falling near the mouth brings
        air at any depth.
    Raises: OutOfRange outside those ranges.
    Source: hi-9-8. Below it a pump loses its prime, the spray stops, and the heater loses its cooler.
    Example: 100 gal/min into 4 in needs 11.2 in
        >>> found = suction_submergence(
        ...     level_m=0.5, mouth_height_m=0.1, mouth_diameter_m=0.1016, flow_m3_s=0.0063090196
        ... )
        >>> round(found.needed_m / 0.0254, 1)
        11.2
    """
    require_range("level_m", level_m, -100.0, 100.0)
    require_range("mouth_height_m", mouth_height_m, -100.0, 100.0)
    require_range("mouth_diameter_m", mouth_diameter_m, 0.01, 1.0)
    require_range("flow_m3_s", flow_m3_s, 0.0, 1.0)
    velocity = flow_m3_s / (0.25 * math.pi * mouth_diameter_m**2)
    froude = velocity / math.sqrt(STANDARD_GRAVITY_m_s2 * mouth_diameter_m)
    needed = mouth_diameter_m * (1.0 + SUBMERGENCE_FROUDE_FACTOR * froude)
    available = level_m - mouth_height_m
    return Submergence(available, needed, available - needed, froude)


@dataclass(frozen=True)
class SprayCircuit:
    """The parts of one circuit. Heights are above the pump's centreline.

    agitation: from the tee back under the surface, with its exit and any throttling among its fittings; None
    where there is none. The spray leaves by the tee's branch.
    """

    pump: PumpCurve
    suction: PipeRun
    strainer: Strainer
    discharge: PipeRun
    valve: BallValve
    spray: PipeRun
    nozzles: Nozzles
    header_height_m: float
    agitation: PipeRun | None = None

    def __post_init__(self) -> None:
        require_range("header_height_m", self.header_height_m, 0.0, 30.0, "above the pump's centreline")
        if self.agitation is not None and self.spray.inner_diameter_m > self.discharge.inner_diameter_m:
            problem = f"{self.spray.inner_diameter_m:.6g} m after a tee of {self.discharge.inner_diameter_m:.6g} m"
            raise InputError("spray circuit", "spray.inner_diameter_m", problem, "no larger than the discharge run")


@dataclass(frozen=True, slots=True)
class CircuitCondition:
    """Liquor, level and surroundings at which a circuit is solved."""

    liquor: HotLiquor
    level_above_pump_m: float
    site_pressure_Pa: float  # absolute
    tower_gauge_Pa: float = 0.0  # in the tower at the nozzles: above 0 with the blower before the fill

    def __post_init__(self) -> None:
        require_range("level_above_pump_m", self.level_above_pump_m, -5.0, 20.0)
        require_range("site_pressure_Pa", self.site_pressure_Pa, 50.0e3, 110.0e3, "absolute")
        require_range("tower_gauge_Pa", self.tower_gauge_Pa, -5000.0, 5000.0, "against the room")


@dataclass(frozen=True, slots=True)
class CircuitFlows:
    """A solved circuit."""

    handle_angle_deg: float
    valve_kv_m3_h: float
    spray_flow_m3_s: float
    agitation_flow_m3_s: float
    pump_flow_m3_s: float
    pump_head_m: float
    pump_efficiency: float
    shaft_power_W: float
    tee_gauge_Pa: float  # before the tee, at the pump's height
    valve_drop_Pa: float
    valve_choked: bool
    header_gauge_Pa: float  # against the room, at the header
    suction_velocity_m_s: float
    spray_velocity_m_s: float
    npsh_available_m: float
    npsh_required_m: float
    npsh_margin_m: float
    warnings: tuple[Notice, ...]
    caution: str = SPRAY_CAUTION


def _valve_drop_Pa(kv_m3_h: float, flow_m3_s: float, density_kg_m3: float) -> float:
    if flow_m3_s == 0.0:
        return 0.0
    return 1.0e5 * (3600.0 * flow_m3_s / kv_m3_h) ** 2 * density_kg_m3 / REFERENCE_DENSITY_kg_m3


class _Solver:
    """Heads of one circuit in one condition, in metres of liquor above the tank's surface."""

    def __init__(self, circuit: SprayCircuit, condition: CircuitCondition) -> None:
        self.circuit, self.condition, self.liquor = circuit, condition, condition.liquor
        self.weight_N_m3 = condition.liquor.density_kg_m3 * STANDARD_GRAVITY_m_s2
        self.rise_m = circuit.header_height_m - condition.level_above_pump_m
        require_range("rise from level to header in m", self.rise_m, 0.0, None, "the header stands above the level")

    def suction_m(self, flow_m3_s: float) -> float:
        strainer = self.circuit.strainer
        drop_Pa = _valve_drop_Pa(strainer.kv_m3_h * strainer.open_share, flow_m3_s, self.liquor.density_kg_m3)
        return run_pressure_loss(self.circuit.suction, flow_m3_s, self.liquor).head_m + drop_Pa / self.weight_N_m3

    def offered_m(self, total_m3_s: float) -> float:
        """Head that the pump leaves before the tee."""
        discharge_m = run_pressure_loss(self.circuit.discharge, total_m3_s, self.liquor).head_m
        return pump_head_m(self.circuit.pump, total_m3_s) - self.suction_m(total_m3_s) - discharge_m

    def tee_m(self, spray_m3_s: float, total_m3_s: float) -> tuple[float, float]:
        """Losses of the tee towards the spray and straight on."""
        if self.circuit.agitation is None or total_m3_s == 0.0:
            return 0.0, 0.0
        tee = dividing_tee_loss(
            run_diameter_m=self.circuit.discharge.inner_diameter_m,
            branch_diameter_m=self.circuit.spray.inner_diameter_m,
            straight_flow_m3_s=max(total_m3_s - spray_m3_s, 0.0),
            branch_flow_m3_s=spray_m3_s,
        )
        velocity_head = (total_m3_s / self.circuit.discharge.area_m2) ** 2 / (2.0 * STANDARD_GRAVITY_m_s2)
        return tee.branch * velocity_head, tee.straight * velocity_head

    def spray_without_valve_m(self, spray_m3_s: float, total_m3_s: float) -> float:
        nozzle_Pa = nozzle_pressure_Pa(self.circuit.nozzles, spray_m3_s, self.liquor.density_kg_m3)
        pipe_m = run_pressure_loss(self.circuit.spray, spray_m3_s, self.liquor).head_m
        pressure_m = (nozzle_Pa + self.condition.tower_gauge_Pa) / self.weight_N_m3
        return self.rise_m + pipe_m + pressure_m + self.tee_m(spray_m3_s, total_m3_s)[0]

    def spray_m(self, kv_m3_h: float, spray_m3_s: float, total_m3_s: float) -> float:
        drop_Pa = _valve_drop_Pa(kv_m3_h, spray_m3_s, self.liquor.density_kg_m3)
        return self.spray_without_valve_m(spray_m3_s, total_m3_s) + drop_Pa / self.weight_N_m3

    def agitation_m(self, spray_m3_s: float, total_m3_s: float) -> float:
        assert self.circuit.agitation is not None
        flow_m3_s = max(total_m3_s - spray_m3_s, 0.0)
        pipe_m = run_pressure_loss(self.circuit.agitation, flow_m3_s, self.liquor).head_m
        return pipe_m + self.tee_m(spray_m3_s, total_m3_s)[1]

    def spray_at(self, kv_m3_h: float, total_m3_s: float) -> float:
        """Spray flow out of a total flow: both legs need one head; 0 where the liquor does not reach the header."""
        if self.circuit.agitation is None:
            return total_m3_s
        if kv_m3_h == 0.0:
            return 0.0

        def imbalance_m(spray_m3_s: float) -> float:
            return self.spray_m(kv_m3_h, spray_m3_s, total_m3_s) - self.agitation_m(spray_m3_s, total_m3_s)

        if imbalance_m(0.0) >= 0.0:
            return 0.0
        tolerance = 0.1 * FLOW_TOLERANCE * total_m3_s
        return find_root(imbalance_m, 0.0, total_m3_s, tolerance=tolerance, name="spray_flow_m3_s")

    def total_flow(self, surplus_m: _Surplus, at_least_m3_s: float = 0.0) -> float:
        """Flow of the pump at which it offers what the legs need."""
        flows = self.circuit.pump.flow_m3_s
        low, high = max(flows[0], 1.0e-6 * flows[-1], at_least_m3_s), flows[-1]
        if surplus_m(high) > 0.0:
            raise NotConverged(
                f"pump_flow_m3_s: the pump runs out beyond the end of its curve ({high:.4g} m3/s), where motor and"
                " NPSH are not known; throttle more or give the curve more points"
            )
        if surplus_m(low) < 0.0:
            raise NotConverged(
                f"pump_flow_m3_s: at {low:.4g} m3/s, the beginning of its curve, the pump is already short by"
                f" {-surplus_m(low):.4g} m of the head that the circuit needs"
            )
        return find_root(surplus_m, low, high, tolerance=FLOW_TOLERANCE * high, name="pump_flow_m3_s")


class _Surplus:
    """Head offered less head needed at a total flow, with either the valve or the spray flow given."""

    def __init__(self, solver: _Solver, kv_m3_h: float | None, spray_m3_s: float) -> None:
        self.solver, self.kv_m3_h, self.spray_m3_s = solver, kv_m3_h, spray_m3_s

    def __call__(self, total_m3_s: float) -> float:
        solver = self.solver
        spray = self.spray_m3_s if self.kv_m3_h is None else solver.spray_at(self.kv_m3_h, total_m3_s)
        if solver.circuit.agitation is not None:
            return solver.offered_m(total_m3_s) - solver.agitation_m(spray, total_m3_s)
        assert self.kv_m3_h is not None
        return solver.offered_m(total_m3_s) - solver.spray_m(self.kv_m3_h, spray, total_m3_s)


@sourced("tee-balance", "the split at the tee and the pump's working point")
@sourced("crane-tp-410", "tee and fittings")
@sourced("spray-circuit-practice", "warnings")
def solve_spray_circuit(
    circuit: SprayCircuit, condition: CircuitCondition, handle_angle_deg: float = OPEN_HANDLE_deg
) -> CircuitFlows:
    """Flows, pressures, power and suction head with the spray valve at an angle.

    Equation: pump head = suction and discharge losses + head of either leg; both legs need the same.
    Args: handle_angle_deg [deg]: 0 shut to 90 open; open and choked positions show what a turned handle does.
    Returns: CircuitFlows; spray 0 with a warning where the liquor does not reach the header.
    Raises: OutOfRange outside that range, and where the shut valve leaves the pump no way at all; NotConverged
        where the pump would run out beyond its curve, or cannot lift the liquor.
    Source: tee-balance; losses by crane-tp-410 and colebrook-white.
    """
    kv_m3_h = valve_kv_m3_h(circuit.valve, handle_angle_deg)
    if circuit.agitation is None and kv_m3_h == 0.0:
        reason = "without an agitation leg the pump would run against a shut valve, heat the liquor in it and boil"
        raise OutOfRange("handle_angle_deg", handle_angle_deg, circuit.valve.handle_angle_deg[0], 90.0, reason)
    solver = _Solver(circuit, condition)
    total = solver.total_flow(_Surplus(solver, kv_m3_h, 0.0))
    return _answer(solver, handle_angle_deg, kv_m3_h, solver.spray_at(kv_m3_h, total), total)


@sourced("tee-balance", "the valve takes what pump and agitation leg leave over")
@sourced("spray-circuit-practice", "warnings")
def valve_for_spray_flow(circuit: SprayCircuit, condition: CircuitCondition, spray_flow_m3_s: float) -> CircuitFlows:
    """Valve position for a wanted spray flow: handle angle, and the header pressure by which to set it.

    Args: spray_flow_m3_s [m3/s]: above 0, no more than the open valve passes.
    Returns: CircuitFlows; handle_angle_deg is the mark, header_gauge_Pa the setting that counts.
    Raises: OutOfRange where the open valve passes less, with what it passes; NotConverged as
        solve_spray_circuit.
    Source: tee-balance.
    """
    require_range("spray_flow_m3_s", spray_flow_m3_s, 1.0e-9, circuit.pump.flow_m3_s[-1], "the pump's curve")
    solver = _Solver(circuit, condition)
    if circuit.agitation is None:
        total = spray_flow_m3_s
    else:
        surplus = _Surplus(solver, None, spray_flow_m3_s)
        starts = max(spray_flow_m3_s, circuit.pump.flow_m3_s[0])
        if surplus(starts) <= 0.0 or surplus(circuit.pump.flow_m3_s[-1]) > 0.0:
            raise _more_than_open(circuit, condition, spray_flow_m3_s)
        total = solver.total_flow(surplus, starts)
    left_m = solver.offered_m(total) - solver.spray_without_valve_m(spray_flow_m3_s, total)
    left_Pa = left_m * solver.weight_N_m3
    open_drop_Pa = _valve_drop_Pa(circuit.valve.kv_m3_h[-1], spray_flow_m3_s, condition.liquor.density_kg_m3)
    if left_Pa < open_drop_Pa - PRESSURE_TOLERANCE * solver.offered_m(total) * solver.weight_N_m3:
        raise _more_than_open(circuit, condition, spray_flow_m3_s)
    density_ratio = condition.liquor.density_kg_m3 / REFERENCE_DENSITY_kg_m3
    kv_m3_h = 3600.0 * spray_flow_m3_s * math.sqrt(1.0e5 * density_ratio / max(left_Pa, open_drop_Pa))
    angle_deg = valve_handle_angle_deg(circuit.valve, kv_m3_h)
    return _answer(solver, angle_deg, kv_m3_h, spray_flow_m3_s, total)


def _more_than_open(circuit: SprayCircuit, condition: CircuitCondition, spray_flow_m3_s: float) -> OutOfRange:
    most = solve_spray_circuit(circuit, condition).spray_flow_m3_s
    return OutOfRange("spray_flow_m3_s", spray_flow_m3_s, 0.0, most, "what the circuit sprays with its valve open")


def _answer(solver: _Solver, angle_deg: float, kv_m3_h: float, spray: float, total: float) -> CircuitFlows:
    circuit, condition, liquor = solver.circuit, solver.condition, solver.liquor
    tee_gauge_Pa = (solver.offered_m(total) + condition.level_above_pump_m) * solver.weight_N_m3
    drop_Pa = _valve_drop_Pa(kv_m3_h, spray, liquor.density_kg_m3)
    inlet_Pa = condition.site_pressure_Pa + tee_gauge_Pa - solver.tee_m(spray, total)[0] * solver.weight_N_m3
    choked = spray > 0.0 and inlet_Pa - drop_Pa < choking_outlet_pressure_Pa(inlet_Pa, liquor.vapour_pressure_Pa)
    available_m = npsh_available_m(
        site_pressure_Pa=condition.site_pressure_Pa,
        vapour_pressure_Pa=liquor.vapour_pressure_Pa,
        density_kg_m3=liquor.density_kg_m3,
        level_above_pump_m=condition.level_above_pump_m,
        suction_loss_m=solver.suction_m(total),
    )
    required_m = pump_npsh_required_m(circuit.pump, total)
    header_Pa = condition.tower_gauge_Pa + nozzle_pressure_Pa(circuit.nozzles, spray, liquor.density_kg_m3)
    suction_velocity = total / circuit.suction.area_m2
    spray_velocity = spray / circuit.spray.area_m2
    point = WorkingPoint(
        npsh_available_m=available_m,
        npsh_required_m=required_m,
        suction_velocity_m_s=suction_velocity,
        share_of_best_flow=total / pump_best_flow_m3_s(circuit.pump),
        strainer_hole_m=circuit.strainer.hole_m,
        largest_strainer_hole_m=largest_strainer_hole_m(circuit.nozzles.free_passage_m),
        nozzle_free_passage_m=circuit.nozzles.free_passage_m,
        spray_flow_m3_s=spray,
        spray_velocity_m_s=spray_velocity,
        valve_choked=choked,
        header_gauge_Pa=header_Pa,
        agitation_share=None if circuit.agitation is None else 1.0 - spray / total,
    )
    return CircuitFlows(
        handle_angle_deg=angle_deg,
        valve_kv_m3_h=kv_m3_h,
        spray_flow_m3_s=spray,
        agitation_flow_m3_s=total - spray,
        pump_flow_m3_s=total,
        pump_head_m=pump_head_m(circuit.pump, total),
        pump_efficiency=pump_efficiency(circuit.pump, total),
        shaft_power_W=pump_shaft_power_W(circuit.pump, total, liquor.density_kg_m3),
        tee_gauge_Pa=tee_gauge_Pa,
        valve_drop_Pa=drop_Pa,
        valve_choked=choked,
        header_gauge_Pa=header_Pa,
        suction_velocity_m_s=suction_velocity,
        spray_velocity_m_s=spray_velocity,
        npsh_available_m=available_m,
        npsh_required_m=required_m,
        npsh_margin_m=available_m - required_m,
        warnings=spray_circuit_warnings(point),
    )
