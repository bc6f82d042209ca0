"""Laws of the spray circuit: the tee balances, handles act the right way, inverses invert, hot liquor costs suction."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from vaporwright.equipment.pipe_run import (
    Fitting,
    HotLiquor,
    PipeRun,
    fitting_loss_coefficient,
    flow_coefficient_m3_h,
    gravity_flow_m3_s,
    hot_liquor,
    pressure_rating_factor,
    run_pressure_loss,
    thermal_growth_m,
)
from vaporwright.equipment.pump import PumpCurve, pump_head_m, pump_motor_size_W, pump_shaft_power_W
from vaporwright.equipment.spray_circuit import (
    CircuitCondition,
    CircuitFlows,
    Nozzles,
    SprayCircuit,
    Strainer,
    dividing_tee_loss,
    nozzle_pressure_Pa,
    solve_spray_circuit,
    suction_submergence,
    valve_for_spray_flow,
)
from vaporwright.equipment.throttling_valve import (
    full_bore_ball_valve,
    valve_handle_angle_deg,
    valve_kv_m3_h,
)
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.liquor import Liquor

G = 9.80665


@st.composite
def circuits(draw: st.DrawFn, agitation: bool | None = None) -> SprayCircuit:
    """Invented circuits of the usual size: 40 to 80 ft pumps, 2 in runs, four to eight nozzles."""
    most = draw(st.floats(0.006, 0.012))
    shut_off = draw(st.floats(12.0, 24.0))
    flows = tuple(most * share for share in (0.0, 0.25, 0.5, 0.75, 1.0))
    heads = tuple(shut_off * (1.0 - 0.75 * (flow / most) ** 2) for flow in flows)
    powers = tuple(250.0 + 1.4 * 998.2 * G * flow * head for flow, head in zip(flows, heads, strict=True))
    bore = draw(st.floats(0.04, 0.06))
    has_agitation = draw(st.booleans()) if agitation is None else agitation
    branch = PipeRun(
        draw(st.floats(0.016, 0.03)),
        draw(st.floats(1.0, 6.0)),
        1.5e-6,
        (Fitting("standard elbow", 3), Fitting("exit")),
    )
    return SprayCircuit(
        pump=PumpCurve(flows, heads, powers, (0.8, 1.0, 1.4, 2.0, 3.0)),
        suction=PipeRun(draw(st.floats(0.06, 0.1)), 1.5, 1.5e-6, (Fitting("flush entrance"), Fitting("ball valve"))),
        strainer=Strainer(draw(st.floats(50.0, 150.0)), 0.003, draw(st.floats(0.4, 1.0))),
        discharge=PipeRun(bore, 1.0, 1.5e-6, (Fitting("swing check valve"),)),
        valve=full_bore_ball_valve(bore),
        spray=PipeRun(bore, draw(st.floats(2.0, 8.0)), 1.5e-6, (Fitting("standard elbow", 4),)),
        nozzles=Nozzles(draw(st.integers(4, 8)), draw(st.floats(1.5e-6, 4.0e-6)), 0.008),
        header_height_m=draw(st.floats(1.5, 4.0)),
        agitation=branch if has_agitation else None,
    )


@st.composite
def conditions(draw: st.DrawFn) -> CircuitCondition:
    liquor = hot_liquor(Liquor(draw(st.floats(0.0, 0.2))), draw(st.floats(285.0, 355.0)))
    return CircuitCondition(liquor, draw(st.floats(0.2, 1.2)), draw(st.floats(80.0e3, 101.0e3)), 250.0)


def _check_balance(circuit: SprayCircuit, condition: CircuitCondition, found: CircuitFlows) -> None:
    """Bernoulli along both ways round, written from the answer alone."""
    liquor, weight = condition.liquor, condition.liquor.density_kg_m3 * G
    spray, agitation, total = found.spray_flow_m3_s, found.agitation_flow_m3_s, found.pump_flow_m3_s
    assert spray + agitation == pytest.approx(total, rel=1e-12)
    strainer_Pa = 1.0e5 * (3600.0 * total / (circuit.strainer.kv_m3_h * circuit.strainer.open_share)) ** 2
    strainer_Pa *= liquor.density_kg_m3 / 1000.0
    lost_m = run_pressure_loss(circuit.suction, total, liquor).head_m + strainer_Pa / weight
    lost_m += run_pressure_loss(circuit.discharge, total, liquor).head_m
    tee_m = pump_head_m(circuit.pump, total) - lost_m
    assert found.tee_gauge_Pa == pytest.approx((tee_m + condition.level_above_pump_m) * weight, rel=1e-9)
    straight_m = branch_m = 0.0
    if circuit.agitation is not None:
        tee = dividing_tee_loss(
            run_diameter_m=circuit.discharge.inner_diameter_m,
            branch_diameter_m=circuit.spray.inner_diameter_m,
            straight_flow_m3_s=agitation,
            branch_flow_m3_s=spray,
        )
        speed_head_m = (total / circuit.discharge.area_m2) ** 2 / (2.0 * G)
        branch_m, straight_m = tee.branch * speed_head_m, tee.straight * speed_head_m
        back_m = run_pressure_loss(circuit.agitation, agitation, liquor).head_m + straight_m
        assert back_m == pytest.approx(tee_m, abs=1e-5)
    if spray > 0.0:
        up_m = circuit.header_height_m - condition.level_above_pump_m + branch_m
        up_m += run_pressure_loss(circuit.spray, spray, liquor).head_m
        up_m += (found.valve_drop_Pa + found.header_gauge_Pa) / weight
        assert up_m == pytest.approx(tee_m, abs=1e-5)


@given(circuits(), conditions(), st.floats(20.0, 90.0))
@settings(max_examples=60, deadline=None)
def test_the_tee_balances(circuit: SprayCircuit, condition: CircuitCondition, angle_deg: float) -> None:
    _check_balance(circuit, condition, solve_spray_circuit(circuit, condition, angle_deg))


@given(circuits(), conditions(), st.floats(15.0, 90.0), st.floats(15.0, 90.0))
@settings(max_examples=60, deadline=None)
def test_opening_the_valve_never_lowers_the_spray(
    circuit: SprayCircuit, condition: CircuitCondition, one_deg: float, other_deg: float
) -> None:
    less = solve_spray_circuit(circuit, condition, min(one_deg, other_deg))
    more = solve_spray_circuit(circuit, condition, max(one_deg, other_deg))
    assert more.spray_flow_m3_s >= less.spray_flow_m3_s * (1.0 - 1e-7)
    assert more.header_gauge_Pa >= less.header_gauge_Pa - 0.01
    assert more.pump_flow_m3_s >= less.pump_flow_m3_s * (1.0 - 1e-7)


@given(circuits(), conditions(), st.floats(20.0, 90.0))
@settings(max_examples=60, deadline=None)
def test_the_inverse_finds_the_handle(circuit: SprayCircuit, condition: CircuitCondition, angle_deg: float) -> None:
    set_to = solve_spray_circuit(circuit, condition, angle_deg)
    assume(set_to.spray_flow_m3_s > 1e-5)
    assume(set_to.valve_drop_Pa > 100.0)  # nearly open, the handle hardly acts and flow does not tell its angle
    back = valve_for_spray_flow(circuit, condition, set_to.spray_flow_m3_s)
    assert back.handle_angle_deg == pytest.approx(angle_deg, abs=0.01)
    assert back.pump_flow_m3_s == pytest.approx(set_to.pump_flow_m3_s, rel=1e-6)
    again = solve_spray_circuit(circuit, condition, back.handle_angle_deg)
    assert again.spray_flow_m3_s == pytest.approx(set_to.spray_flow_m3_s, rel=1e-6)


@given(circuits(), conditions())
@settings(max_examples=30, deadline=None)
def test_more_than_the_open_valve_passes_is_refused_with_that_figure(
    circuit: SprayCircuit, condition: CircuitCondition
) -> None:
    most = solve_spray_circuit(circuit, condition).spray_flow_m3_s
    assume(most > 1e-5)
    with pytest.raises(OutOfRange) as caught:
        valve_for_spray_flow(circuit, condition, 1.01 * most)
    assert caught.value.name == "spray_flow_m3_s"
    assert caught.value.high == pytest.approx(most)


@given(circuits(agitation=True), conditions())
@settings(max_examples=30, deadline=None)
def test_a_shut_valve_sends_all_to_agitation(circuit: SprayCircuit, condition: CircuitCondition) -> None:
    found = solve_spray_circuit(circuit, condition, 0.0)
    assert found.spray_flow_m3_s == 0.0
    assert "no spray" in [notice.name for notice in found.warnings]
    _check_balance(circuit, condition, found)


@given(circuits(), st.floats(0.0, 0.2), st.floats(290.0, 350.0), st.floats(1.0, 15.0), st.floats(80.0e3, 101.0e3))
@settings(max_examples=40, deadline=None)
def test_npsh_margin_falls_with_temperature_and_elevation(
    circuit: SprayCircuit, solids: float, temperature_K: float, warmer_K: float, pressure_Pa: float
) -> None:
    def margin_m(at_K: float, site_Pa: float) -> float:
        condition = CircuitCondition(hot_liquor(Liquor(solids), at_K), 0.5, site_Pa)
        return solve_spray_circuit(circuit, condition, 60.0).npsh_margin_m

    cool = margin_m(temperature_K, pressure_Pa)
    # the warmer liquor is thinner and lighter: the flow moves a little, the vapour pressure much more
    assert margin_m(temperature_K + warmer_K, pressure_Pa) < cool + 0.03
    if temperature_K > 315.0:
        assert margin_m(temperature_K + warmer_K, pressure_Pa) < cool
    assert margin_m(temperature_K, pressure_Pa - 5000.0) < cool


@given(circuits(), conditions(), st.floats(0.1, 0.9))
@settings(max_examples=30, deadline=None)
def test_a_dirty_strainer_costs_flow_and_suction(
    circuit: SprayCircuit, condition: CircuitCondition, dirt: float
) -> None:
    strainer = circuit.strainer
    dirty = SprayCircuit(
        **{
            **circuit.__dict__,
            "strainer": Strainer(strainer.kv_m3_h, strainer.hole_m, strainer.open_share * (1.0 - 0.8 * dirt)),
        }
    )
    clean_answer = solve_spray_circuit(circuit, condition, 60.0)
    dirty_answer = solve_spray_circuit(dirty, condition, 60.0)
    assert dirty_answer.pump_flow_m3_s <= clean_answer.pump_flow_m3_s * (1.0 + 1e-7)
    assert dirty_answer.npsh_available_m < clean_answer.npsh_available_m


@given(st.floats(0.02, 0.1), st.floats(0.1, 50.0), st.floats(0.0, 1e-4), st.floats(1e-5, 0.02), st.floats(1.01, 3.0))
@settings(max_examples=100, deadline=None)
def test_loss_rises_with_flow(bore: float, length: float, roughness: float, flow: float, times: float) -> None:
    run = PipeRun(bore, length, roughness, (Fitting("standard elbow", 2), Fitting("exit")))
    water = hot_liquor(Liquor(0.0), 333.15)
    lower, higher = run_pressure_loss(run, flow, water), run_pressure_loss(run, times * flow, water)
    assert lower.loss_Pa < higher.loss_Pa <= times**2 * lower.loss_Pa * 2.0
    assert lower.loss_Pa == pytest.approx(lower.head_m * water.density_kg_m3 * G)


@given(st.floats(0.02, 0.1), st.floats(0.5, 20.0), st.floats(0.05, 20.0))
@settings(max_examples=50, deadline=None)
def test_gravity_flow_uses_up_the_head(bore: float, length: float, head: float) -> None:
    run = PipeRun(bore, length, 1.5e-6, (Fitting("flush entrance"), Fitting("exit")))
    water = hot_liquor(Liquor(0.0), 333.15)
    flow = gravity_flow_m3_s((run, run), head, water)
    assert 2.0 * run_pressure_loss(run, flow, water).head_m == pytest.approx(head, rel=1e-6)


@given(st.floats(0.005, 1000.0), st.floats(0.01, 0.2))
def test_kv_and_loss_coefficient_invert(K: float, bore: float) -> None:
    kv = flow_coefficient_m3_h(K, bore)
    assert fitting_loss_coefficient(Fitting("flow coefficient", value=kv), bore) == pytest.approx(K, rel=1e-9)


@given(st.floats(0.008, 0.3), st.floats(7.6, 90.0), st.floats(7.6, 90.0))
def test_handle_and_kv_invert_and_rise(bore: float, one_deg: float, other_deg: float) -> None:
    valve = full_bore_ball_valve(bore)
    one, other = valve_kv_m3_h(valve, one_deg), valve_kv_m3_h(valve, other_deg)
    assert valve_handle_angle_deg(valve, one) == pytest.approx(one_deg, abs=1e-6)
    if one_deg < other_deg - 1e-6:
        assert one < other


@given(st.floats(1e-4, 0.01), st.floats(600.0, 1300.0))
def test_nozzle_pressure_goes_with_the_square(flow: float, density: float) -> None:
    nozzles = Nozzles(6, 3.0e-6, 0.008)
    assert nozzle_pressure_Pa(nozzles, 2.0 * flow, density) == pytest.approx(
        4.0 * nozzle_pressure_Pa(nozzles, flow, density)
    )


@given(st.floats(0.02, 0.3), st.floats(0.0, 0.02), st.floats(1e-5, 0.01))
def test_submergence_rises_with_flow(diameter: float, flow: float, more: float) -> None:
    def needed(at: float) -> float:
        return suction_submergence(level_m=1.0, mouth_height_m=0.2, mouth_diameter_m=diameter, flow_m3_s=at).needed_m

    assert needed(0.0) == pytest.approx(diameter)
    assert needed(flow + more) > needed(flow)


@given(st.sampled_from(["PVC", "CPVC", "polypropylene", "PVDF"]), st.floats(273.15, 333.0), st.floats(0.0, 40.0))
def test_warm_plastic_holds_less_and_grows(material: str, temperature_K: float, warmer_K: float) -> None:
    factor = pressure_rating_factor(material, temperature_K)
    assert 0.0 < factor <= 1.0
    warmer = min(temperature_K + warmer_K, 333.0)
    assert pressure_rating_factor(material, warmer) <= factor
    assert thermal_growth_m(material, 5.0, -20.0) == -thermal_growth_m(material, 5.0, 20.0) < 0.0


@given(st.floats(900.0, 1300.0))
def test_no_point_of_the_curve_overloads_the_motor(density: float) -> None:
    curve = PumpCurve((0.0, 0.002, 0.004), (15.0, 13.0, 8.0), (300.0, 520.0, 640.0), (1.0, 1.2, 2.0))
    size = pump_motor_size_W(curve, density)
    assert all(pump_shaft_power_W(curve, flow, density) <= size * (1.0 + 1e-12) for flow in curve.flow_m3_s)


def test_a_heavier_liquor_flows_alike_and_costs_power() -> None:
    """At equal kinematic viscosity the heads, and so the flows, do not know the density (open tower at room pressure);
    pressures and power go with it."""
    curve = PumpCurve((0.0, 0.003, 0.006), (16.0, 14.0, 6.0), (400.0, 700.0, 900.0), (0.8, 1.2, 3.0))
    circuit = SprayCircuit(
        pump=curve,
        suction=PipeRun(0.078, 1.5, 1.5e-6),
        strainer=Strainer(80.0, 0.003),
        discharge=PipeRun(0.05, 1.0, 1.5e-6),
        valve=full_bore_ball_valve(0.05),
        spray=PipeRun(0.05, 4.0, 1.5e-6),
        nozzles=Nozzles(6, 2.5e-6, 0.008),
        header_height_m=3.0,
        agitation=PipeRun(0.02, 3.0, 1.5e-6, (Fitting("exit"),)),
    )
    light = solve_spray_circuit(circuit, CircuitCondition(HotLiquor(330.0, 1000.0, 5e-4, 17e3), 0.6, 1e5), 50.0)
    heavy = solve_spray_circuit(circuit, CircuitCondition(HotLiquor(330.0, 1200.0, 6e-4, 17e3), 0.6, 1e5), 50.0)
    assert heavy.spray_flow_m3_s == pytest.approx(light.spray_flow_m3_s, rel=1e-7)
    assert heavy.header_gauge_Pa == pytest.approx(1.2 * light.header_gauge_Pa, rel=1e-6)
    assert heavy.shaft_power_W == pytest.approx(1.2 * light.shaft_power_W, rel=1e-6)
    assert math.isclose(heavy.pump_head_m, light.pump_head_m, rel_tol=1e-6)
