"""Hydraulics: friction, fittings, valves, pump, motor, suction and the whole spray circuit.

Crane's examples: Technical Paper 410 / 410M, chapter 7; inputs and answers read in a stored copy of a document
quoting them. "Computed" marks values that come from an equation and not from print.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI
from fluids.fittings import K_ball_valve_Crane, K_lift_check_valve_Crane, bend_rounded_Crane
from scipy.optimize import brentq, fsolve

from support import verifies
from vaporwright.equipment.pipe_run import (
    Fitting,
    HotLiquor,
    PipeRun,
    fitting_loss_coefficient,
    flow_coefficient_m3_h,
    friction_factor,
    gravity_flow_m3_s,
    hot_liquor,
    pipe_for_velocity,
    pipe_material,
    pressure_rating_factor,
    run_pressure_loss,
    thermal_growth_m,
)
from vaporwright.equipment.pump import (
    PumpCurve,
    hydraulic_power_W,
    motor_current_A,
    motor_table_current_A,
    npsh_available_m,
    pump_best_flow_m3_s,
    pump_efficiency,
    pump_head_m,
    pump_motor_size_W,
    pump_npsh_required_m,
    pump_pressure_Pa,
    pump_shaft_power_W,
)
from vaporwright.equipment.spray_circuit import (
    CircuitCondition,
    Nozzles,
    SprayCircuit,
    Strainer,
    dividing_tee_loss,
    largest_strainer_hole_m,
    nozzle_pressure_Pa,
    solve_spray_circuit,
    suction_submergence,
    valve_for_spray_flow,
)
from vaporwright.equipment.spray_circuit_warnings import WorkingPoint, spray_circuit_warnings
from vaporwright.equipment.throttling_valve import (
    BallValve,
    choking_outlet_pressure_Pa,
    full_bore_ball_valve,
    required_valve_kv,
    valve_handle_angle_deg,
    valve_kv_m3_h,
)
from vaporwright.properties.liquor import Liquor
from vaporwright.properties.water import saturation_pressure_Pa

FOOT_m = 0.3048
INCH_m = 0.0254
GALLON_MINUTE_m3_s = 3.785411784e-3 / 60.0
LITRE_MINUTE_m3_s = 1.0e-3 / 60.0
POUND_FT3_kg_m3 = 16.018463374
PSI_Pa = 6894.757293168
HORSEPOWER_W = 745.6998715822702
g = 9.80665

STEEL_m = 0.0018 * INCH_m
WATER_15C = HotLiquor(288.15, 999.1, 1.138e-3, 1705.0)
WATER_60F = HotLiquor(288.706, 62.364 * POUND_FT3_kg_m3, 1.1e-3, 1765.0)
THREE_INCH_m, TWO_INCH_m, FOUR_INCH_m = 3.068 * INCH_m, 2.067 * INCH_m, 4.026 * INCH_m


@pytest.mark.parametrize(
    ("reynolds", "roughness", "expected"),
    [
        (1.0e5, 0.0, 0.01799),
        (1.0e5, 0.001, 0.022175),
        (1.0e4, 0.0, 0.030883),
        (1.0e6, 0.0001, 0.013441),
        (1.0e6, 0.001, 0.019943),
        (5.0e4, 0.0009, 0.023744),
    ],
)
@verifies("equipment.pipe_run.friction_factor")
def test_colebrook(reynolds: float, roughness: float, expected: float) -> None:
    """Computed with a library (cases colebrook_*); and the implicit equation, solved here, must agree."""
    assert friction_factor(reynolds, roughness) == pytest.approx(expected, rel=5e-4)
    assert friction_factor(reynolds, roughness) == pytest.approx(_colebrook(reynolds, roughness), rel=1e-6)


def _colebrook(reynolds: float, relative_roughness: float) -> float:
    def residual(root: float) -> float:
        return 1.0 / root + 2.0 * math.log10(relative_roughness / 3.7 + 2.51 / (reynolds * root))

    return brentq(residual, 0.02, 1.0, xtol=1e-15) ** 2


@verifies("equipment.pipe_run.friction_factor")
def test_laminar_friction() -> None:
    """Hagen and Poiseuille: 64/Re."""
    assert friction_factor(800.0, 0.001) == pytest.approx(0.08, rel=1e-12)


@verifies("equipment.pipe_run.run_pressure_loss")
def test_smooth_pipe() -> None:
    """Crane 7.1: water at 30 degC, 50 mm smooth pipe, 200 L/min: Re 100,600, f 0.0179, within 1.5 %."""
    water = HotLiquor(303.15, 995.6, 0.801e-3, 4246.0)
    loss = run_pressure_loss(PipeRun(0.0525, 10.0, 0.0), 200 * LITRE_MINUTE_m3_s, water)
    assert loss.reynolds_number == pytest.approx(100_600, rel=0.015)
    assert loss.friction_factor == pytest.approx(0.0179, rel=0.015)


@verifies("equipment.pipe_run.fitting_loss_coefficient", "equipment.pipe_run.flow_coefficient_m3_h")
def test_flow_coefficient_and_loss_coefficient() -> None:
    """Crane 7.2: Kv 500 in 154 mm is K 3.6. Crane 7.3: K 2.475 in 97.2 mm is Kv 240.2. Within 0.5 %."""
    coefficient = fitting_loss_coefficient(Fitting("flow coefficient", value=500.0), 0.154)
    assert coefficient == pytest.approx(3.6, rel=5e-3)
    assert coefficient / 0.015 * 0.154 == pytest.approx(37.0, rel=5e-3)  # metres of pipe at fT 0.015
    assert flow_coefficient_m3_h(2.475, 0.0972) == pytest.approx(240.2, rel=5e-3)


@pytest.mark.parametrize(
    ("kind", "multiple"),
    [
        ("standard elbow", 30.0),
        ("sweep elbow", 14.0),
        ("45 degree elbow", 16.0),
        ("mitre elbow", 60.0),
        ("return bend", 50.0),
        ("run of tee", 20.0),
        ("branch of tee", 60.0),
        ("gate valve", 8.0),
        ("ball valve", 3.0),
        ("swing check valve", 100.0),
    ],
)
@verifies("equipment.pipe_run.fitting_loss_coefficient")
def test_crane_multiples(kind: str, multiple: float) -> None:
    """Crane TP-410, appendix A, from memory: K as multiple of fT, the friction factor of clean steel at full
    turbulence. By von Karman's limit of Colebrook's equation, 0.25 / log10(eps / 3.7 D)^2, within 1 %."""
    turbulent = 0.25 / math.log10(STEEL_m / FOUR_INCH_m / 3.7) ** 2
    one = fitting_loss_coefficient(Fitting(kind), FOUR_INCH_m)  # type: ignore[arg-type]
    assert one == pytest.approx(multiple * turbulent, rel=0.01)
    assert fitting_loss_coefficient(Fitting(kind, 3), FOUR_INCH_m) == pytest.approx(3.0 * one)  # type: ignore[arg-type]


@verifies("equipment.pipe_run.fitting_loss_coefficient")
def test_entrances_exit_and_sudden_enlargement() -> None:
    """Crane TP-410, appendix A, from memory: 0.5, 0.78, 1; Borda and Carnot: (1 - (d/D)^2)^2."""
    assert fitting_loss_coefficient(Fitting("flush entrance"), 0.05) == pytest.approx(0.5)
    assert fitting_loss_coefficient(Fitting("projecting entrance"), 0.05) == pytest.approx(0.78)
    assert fitting_loss_coefficient(Fitting("exit"), 0.05) == pytest.approx(1.0)
    assert fitting_loss_coefficient(Fitting("sudden enlargement", value=0.1), 0.05) == pytest.approx(0.5625)
    assert fitting_loss_coefficient(Fitting("sudden contraction", value=0.1), 0.05) == pytest.approx(0.375)


@verifies("equipment.pipe_run.gravity_flow_m3_s", "equipment.pipe_run.run_pressure_loss")
def test_flow_from_a_reservoir() -> None:
    """Crane 7.19: 60 degF water, 11.5 ft of head, entrance, 3 in mitre, gate valve, 10 ft, contraction, 20 ft of
    2 in, exit: 137 gal/min. The example takes the ratio of the bores as 0.67 (from memory; 2.067/3.068 is 0.674),
    whose fourth power moves every loss of the smaller pipe by 2 %, and friction factors of two digits: with 0.67
    within 1 %, with the true bore 139.4 gal/min, within 2 %."""
    larger = PipeRun(
        THREE_INCH_m,
        10 * FOOT_m,
        STEEL_m,
        (Fitting("flush entrance"), Fitting("mitre elbow"), Fitting("gate valve")),
    )
    for bore_m, tolerance in ((0.67 * THREE_INCH_m, 0.01), (TWO_INCH_m, 0.02)):
        changes = (Fitting("sudden contraction", value=THREE_INCH_m), Fitting("exit"))
        smaller = PipeRun(bore_m, 20 * FOOT_m, STEEL_m, changes)
        flow = gravity_flow_m3_s((larger, smaller), 11.5 * FOOT_m, WATER_60F)
        assert flow / GALLON_MINUTE_m3_s == pytest.approx(137, rel=tolerance)


@verifies("equipment.pipe_run.gravity_flow_m3_s")
def test_flow_through_a_reduced_ball_valve() -> None:
    """Crane 7.6: 7 m, 60 m of 80 mm pipe, six elbows, reduced ball valve: 781 L/min with f held at 0.017, about
    746 with the friction of the flow itself, within 5 %."""
    K = K_ball_valve_Crane(0.06, 0.0779, 22.5)
    fittings = (
        Fitting("flush entrance"),
        Fitting("standard elbow", 6),
        Fitting("loss coefficient", value=K),
        Fitting("exit"),
    )
    flow = gravity_flow_m3_s((PipeRun(0.0779, 60.0, STEEL_m, fittings),), 7.0, WATER_15C)
    assert flow / LITRE_MINUTE_m3_s == pytest.approx(746, rel=0.05)


@verifies("equipment.pipe_run.run_pressure_loss")
def test_loss_of_a_heating_coil() -> None:
    """Crane 7.11: water at 80 degC, 60 L/min, 9 m of 25 mm schedule 40 with seven 180 degree bends of r/D 4, f read
    as 0.024: 19,609 Pa within 6 %. Clean steel gives that f here too."""
    water = HotLiquor(353.15, 971.8, 0.354e-3, 47.4e3)
    bends = Fitting("loss coefficient", 7, bend_rounded_Crane(0.02664, 180.0, bend_diameters=4.0))
    loss = run_pressure_loss(PipeRun(0.02664, 9.0, STEEL_m, (bends,)), 60 * LITRE_MINUTE_m3_s, water)
    assert loss.friction_factor == pytest.approx(0.024, rel=0.03)
    assert loss.loss_Pa == pytest.approx(19_609, rel=0.06)
    assert loss.loss_Pa == pytest.approx(loss.friction_Pa + loss.fittings_Pa)


@verifies("equipment.pipe_run.run_pressure_loss", "equipment.pump.hydraulic_power_W")
def test_head_and_power_of_a_pumped_line() -> None:
    """Crane 7.15: water at 70 degF, 100 gal/min, 500 ft of 3 in pipe, gate valve, four elbows, lift check valve with
    reduced seat, exit, 400 ft of lift, 70 %: 421 ft and 15.2 hp within 0.5 %."""
    water = HotLiquor(294.26, 62.298 * POUND_FT3_kg_m3, 0.95e-3, 2500.0)
    fittings = (
        Fitting("gate valve"),
        Fitting("standard elbow", 4),
        Fitting("loss coefficient", value=K_lift_check_valve_Crane(2.469 * INCH_m, THREE_INCH_m, angled=False)),
        Fitting("exit"),
    )
    flow = 100 * GALLON_MINUTE_m3_s
    head = 400 * FOOT_m + run_pressure_loss(PipeRun(THREE_INCH_m, 500 * FOOT_m, STEEL_m, fittings), flow, water).head_m
    assert head / FOOT_m == pytest.approx(421, rel=5e-3)
    power = hydraulic_power_W(flow_m3_s=flow, head_m=head, density_kg_m3=water.density_kg_m3) / 0.7
    assert power / HORSEPOWER_W == pytest.approx(15.2, rel=5e-3)


@verifies("equipment.pump.hydraulic_power_W")
def test_electrical_power_of_a_pump() -> None:
    """Crane 7.34: 428 ft, 700 gal/min, pump 70.7 %, motor 95 %, drive 96 %: 107.1 and 117.4 hp within 0.2 %."""
    power = hydraulic_power_W(flow_m3_s=700 * GALLON_MINUTE_m3_s, head_m=428 * FOOT_m, density_kg_m3=999.0)
    assert power / 0.707 / HORSEPOWER_W == pytest.approx(107.1, rel=2e-3)
    assert power / 0.707 / (0.95 * 0.96) / HORSEPOWER_W == pytest.approx(117.4, rel=2e-3)


@verifies("equipment.spray_circuit.dividing_tee_loss")
def test_dividing_wye() -> None:
    """Crane 7.36: 6 in 45 degree wye, 250 gal/min aside, 400 straight on: 0.4646 and -0.0683 within 1 %."""
    tee = dividing_tee_loss(
        run_diameter_m=5.761 * INCH_m,
        branch_diameter_m=5.761 * INCH_m,
        straight_flow_m3_s=400 * GALLON_MINUTE_m3_s,
        branch_flow_m3_s=250 * GALLON_MINUTE_m3_s,
        branch_angle_deg=45.0,
    )
    assert tee.branch == pytest.approx(0.4646, rel=0.01)
    assert tee.straight == pytest.approx(-0.0683, rel=0.01)


@pytest.mark.parametrize(
    ("diameter_m", "recovery", "style", "kv", "choked"),
    [(0.150, 0.9, 0.46, 165.0, False), (0.100, 0.6, 0.98, 238.0, True)],
)
@verifies("equipment.throttling_valve.required_valve_kv")
def test_valve_sizing_of_the_standard(
    diameter_m: float, recovery: float, style: float, kv: float, choked: bool
) -> None:
    """IEC 60534-2-1, annex examples 1 and 2 (read in a stored copy), within 0.5 %."""
    water = HotLiquor(363.0, 965.4, 3.1472e-4, 70.1e3)
    found = required_valve_kv(
        flow_m3_s=0.1,
        inlet_pressure_Pa=680e3,
        outlet_pressure_Pa=220e3,
        liquor=water,
        pipe_diameter_m=diameter_m,
        valve_diameter_m=diameter_m,
        recovery_factor=recovery,
        style_modifier=style,
        critical_pressure_Pa=22.12e6,
    )
    assert found.kv_m3_h == pytest.approx(kv, rel=5e-3)
    assert found.choked is choked


@verifies("equipment.throttling_valve.required_valve_kv", "equipment.throttling_valve.choking_outlet_pressure_Pa")
def test_valve_on_hot_condensate() -> None:
    """Crane 7.27: Cv 79.94 for 250 gal/min from 80.6 to 70.8 psia in a 3 in valve, 4 in pipe, within 0.5 %.
    Crane 7.28 by the IEC's equation: chokes at 18.97 psia, within 1 %."""
    condensate = HotLiquor(344.26, 60.998 * POUND_FT3_kg_m3, 0.39e-3, 4.75 * PSI_Pa)
    found = required_valve_kv(
        flow_m3_s=250 * GALLON_MINUTE_m3_s,
        inlet_pressure_Pa=80.6 * PSI_Pa,
        outlet_pressure_Pa=70.8 * PSI_Pa,
        liquor=condensate,
        pipe_diameter_m=FOUR_INCH_m,
        valve_diameter_m=3.0 * INCH_m,
        recovery_factor=0.9,
    )
    assert found.kv_m3_h * 1.1561 == pytest.approx(79.94, rel=5e-3)
    assert not found.choked
    assert choking_outlet_pressure_Pa(80.6 * PSI_Pa, 4.75 * PSI_Pa, 0.9) / PSI_Pa == pytest.approx(18.97, rel=0.01)


@verifies("equipment.spray_circuit.suction_submergence")
def test_submergence() -> None:
    """ANSI/HI 9.8 from memory (case hi_9_8_submergence): 4 in, 100 gal/min: Fr 0.78, 11.2 in within 1 %."""
    found = suction_submergence(
        level_m=15 * INCH_m,
        mouth_height_m=3 * INCH_m,
        mouth_diameter_m=4 * INCH_m,
        flow_m3_s=100 * GALLON_MINUTE_m3_s,
    )
    assert found.froude_number == pytest.approx(0.78, rel=0.01)
    assert found.needed_m / INCH_m == pytest.approx(11.2, rel=0.01)
    assert found.available_m / INCH_m == pytest.approx(12.0)
    assert found.margin_m / INCH_m == pytest.approx(0.8, abs=0.11)


@pytest.mark.parametrize(
    ("horsepower", "currents"),
    [
        (0.5, (2.4, 2.2, 1.1, 0.9)),
        (0.75, (3.5, 3.2, 1.6, 1.3)),
        (1.0, (4.6, 4.2, 2.1, 1.7)),
        (1.5, (6.6, 6.0, 3.0, 2.4)),
        (2.0, (7.5, 6.8, 3.4, 2.7)),
        (3.0, (10.6, 9.6, 4.8, 3.9)),
        (7.5, (24.2, 22.0, 11.0, 9.0)),
        (15.0, (46.2, 42.0, 21.0, 17.0)),
    ],
)
@verifies("equipment.pump.motor_table_current_A", "equipment.pump.motor_current_A")
def test_motor_currents(horsepower: float, currents: tuple[float, ...]) -> None:
    """NFPA 70 table 430.250 (read in a stored copy), exact. It stands above the true current of a usual motor: with
    85 % and a power factor of 0.8 the formula gives 60 to 100 % of it."""
    for voltage, expected in zip((208.0, 230.0, 460.0, 575.0), currents, strict=True):
        assert motor_table_current_A(horsepower * 745.7, voltage) == expected
        formula = motor_current_A(
            shaft_power_W=horsepower * 745.7, voltage_V=voltage, efficiency=0.85, power_factor=0.8
        )
        assert formula == pytest.approx(horsepower * 745.7 / (0.85 * 0.8 * math.sqrt(3.0) * voltage), rel=1e-12)
        assert 0.6 * expected < formula < expected


@verifies("equipment.pump.motor_current_A")
def test_single_phase_current() -> None:
    """1 hp at 115 V, 80 % and 0.75: 745.7 / (0.6 x 115) = 10.81 A, by hand."""
    current = motor_current_A(shaft_power_W=745.7, voltage_V=115.0, efficiency=0.8, power_factor=0.75, phases=1)
    assert current == pytest.approx(10.81, abs=0.005)


@verifies("equipment.pump.npsh_available_m")
def test_npsh_under_pressure_with_suction_lift() -> None:
    """Crane 7.32: 60 degF water, 5 psig over the tank, level 25 ft below the pump, 6 ft lost: 13.9 ft (computed from
    its figures in the document that quotes them)."""
    found = npsh_available_m(
        site_pressure_Pa=101325.0 + 5 * PSI_Pa,
        vapour_pressure_Pa=0.256 * PSI_Pa,
        density_kg_m3=62.364 * POUND_FT3_kg_m3,
        level_above_pump_m=-25 * FOOT_m,
        suction_loss_m=6 * FOOT_m,
    )
    assert found / FOOT_m == pytest.approx(13.887, abs=0.001)


@verifies("equipment.pump.npsh_available_m", "equipment.pipe_run.hot_liquor")
def test_npsh_with_hot_water() -> None:
    """The Practical Pumping Handbook, section 4.4.2.5 (read in a stored copy): water at 140 degF, open tank at sea
    level, 45 ft of level, 0.378 ft lost: 45 + 34.474 - 6.775 - 0.378 = 72.32 ft. Its 14.7 psi, 2.31 ft/psi and
    specific gravity 0.985 (water at 140 degF has 0.983) leave 0.1 ft."""
    water = hot_liquor(Liquor(0.0), (140 + 459.67) / 1.8)
    found = npsh_available_m(
        site_pressure_Pa=14.7 * PSI_Pa,
        vapour_pressure_Pa=water.vapour_pressure_Pa,
        density_kg_m3=water.density_kg_m3,
        level_above_pump_m=45 * FOOT_m,
        suction_loss_m=0.378 * FOOT_m,
    )
    assert found / FOOT_m == pytest.approx(72.32, abs=0.1)


@pytest.mark.parametrize("solids", [0.0, 0.05, 0.10, 0.20, 0.23])
@pytest.mark.parametrize("temperature_C", [10.0, 20.0, 30.0, 40.0])
@verifies("equipment.pipe_run.hot_liquor")
def test_viscosity_of_brine(solids: float, temperature_C: float) -> None:
    """CoolProp's sodium chloride brine (Melinder) up to 40 degC; its own fit and this one agree within 3 %."""
    fluid = f"INCOMP::MNA[{solids}]" if solids else "Water"
    expected = PropsSI("V", "T", temperature_C + 273.15, "P", 101325.0, fluid)
    found = hot_liquor(Liquor(solids), temperature_C + 273.15)
    assert found.viscosity_Pa_s == pytest.approx(expected, rel=0.03)


@verifies("equipment.pipe_run.hot_liquor")
def test_hot_brine() -> None:
    """Vapour pressure falls with the water activity: 0.7598 at 6 mol/kg (Robinson and Stokes, 25 degC)."""
    found = hot_liquor(Liquor(0.25963), 298.15)
    assert found.vapour_pressure_Pa / saturation_pressure_Pa(298.15) == pytest.approx(0.7598, rel=1e-3)
    assert found.density_kg_m3 == pytest.approx(1194.0, rel=2e-3)  # 26 % at 25 degC, from memory


@pytest.mark.parametrize(
    ("inches", "schedule", "bore_in"),
    [(2.0, "40", 2.067), (2.0, "80", 1.939), (3.0, "40", 3.068), (3.0, "80", 2.900), (4.0, "40", 4.026)],
)
@verifies("equipment.pipe_run.pipe_for_velocity")
def test_pipe_sizes(inches: float, schedule: str, bore_in: float) -> None:
    """ASME B36.10M, from memory: at a little less than the flow that fits, the pipe is found; at more, the next."""
    fits = 2.0 * 0.25 * math.pi * (bore_in * INCH_m) ** 2
    found = pipe_for_velocity(0.995 * fits, 2.0, schedule)
    assert found.nominal_in == inches
    assert found.inner_diameter_m / INCH_m == pytest.approx(bore_in, abs=0.005)
    assert found.outer_diameter_m / INCH_m == pytest.approx({2.0: 2.375, 3.0: 3.5, 4.0: 4.5}[inches], abs=0.005)
    assert pipe_for_velocity(1.005 * fits, 2.0, schedule).nominal_in > inches


@verifies("equipment.pipe_run.thermal_growth_m", "equipment.pipe_run.pipe_material")
def test_growth_of_plastic_pipe() -> None:
    """A merchant's guide, read in a stored copy: PVC 0.360 in and CPVC 0.456 in per 100 ft and 10 degF; its example:
    500 ft of PVC and 60 degF, 10.8 in. Metals and the other plastics from memory."""
    assert thermal_growth_m("PVC", 500 * FOOT_m, 60 / 1.8) / INCH_m == pytest.approx(10.8, rel=1e-6)
    assert thermal_growth_m("CPVC", 100 * FOOT_m, 10 / 1.8) / INCH_m == pytest.approx(0.456, rel=1e-6)
    assert thermal_growth_m("polypropylene", 10.0, 40.0) == pytest.approx(0.060)
    assert thermal_growth_m("PVDF", 10.0, 40.0) == pytest.approx(0.056)
    assert thermal_growth_m("stainless steel", 10.0, 40.0) == pytest.approx(0.0066)
    assert pipe_material("stainless steel").roughness_m == pytest.approx(0.0018 * INCH_m)


# four makers' tables, read in stored copies: degF against factor
TABLES = {
    "PVC": (
        {73: 1.00, 80: 0.88, 90: 0.75, 100: 0.62, 110: 0.51, 120: 0.40, 130: 0.31, 140: 0.22},
        {80: 0.90, 90: 0.75, 100: 0.62, 110: 0.50, 120: 0.40, 130: 0.30, 140: 0.22},
    ),
    "CPVC": (
        {73: 1.00, 80: 0.94, 90: 0.86, 100: 0.78, 110: 0.71, 120: 0.64, 130: 0.57, 140: 0.50, 150: 0.43, 160: 0.37}
        | {180: 0.25, 200: 0.18},
        {80: 0.96, 90: 0.92, 100: 0.85, 110: 0.77, 120: 0.70, 130: 0.62, 140: 0.55, 150: 0.47, 160: 0.40, 170: 0.32}
        | {180: 0.25, 200: 0.18},
        {80: 1.00, 90: 0.92, 100: 0.82, 110: 0.77, 120: 0.65, 130: 0.62, 140: 0.50, 150: 0.47, 160: 0.40, 170: 0.32}
        | {180: 0.25, 190: 0.22, 200: 0.20},
    ),
    "polypropylene": (
        {73: 1.00, 80: 0.93, 90: 0.83, 100: 0.71, 110: 0.66, 120: 0.58, 130: 0.51, 140: 0.40, 150: 0.38, 160: 0.23},
        {80: 0.97, 90: 0.91, 100: 0.85, 110: 0.80, 120: 0.75, 130: 0.68, 140: 0.65, 150: 0.57, 160: 0.50},
    ),
    "PVDF": (
        {73: 1.00, 80: 0.93, 90: 0.87, 100: 0.82, 110: 0.76, 120: 0.71, 130: 0.65, 140: 0.61, 150: 0.57, 160: 0.54}
        | {180: 0.47, 200: 0.41, 210: 0.38},
        {80: 0.95, 90: 0.87, 100: 0.80, 110: 0.75, 120: 0.68, 130: 0.62, 140: 0.58, 150: 0.52, 160: 0.49, 170: 0.45}
        | {180: 0.42, 200: 0.36, 210: 0.33},
    ),
}


@pytest.mark.parametrize("material", sorted(TABLES))
@verifies("equipment.pipe_run.pressure_rating_factor", "equipment.pipe_run.pipe_material")
def test_pressure_derating(material: str) -> None:
    """Never above a maker's table; where the tables share a temperature, the lowest of them."""
    tables = TABLES[material]
    for temperature_F in tables[0]:
        kelvin = (temperature_F + 459.67) / 1.8
        lowest = min(table[temperature_F] for table in tables if temperature_F in table)
        assert pressure_rating_factor(material, kelvin) == pytest.approx(lowest, abs=1e-9), temperature_F
    for table in tables[1:]:
        for temperature_F, factor in table.items():
            assert pressure_rating_factor(material, (temperature_F + 459.67) / 1.8) <= factor + 1e-9


@pytest.mark.parametrize(("closed_deg", "K"), [(10, 0.29), (20, 1.56), (40, 17.3), (60, 206.0)])
@verifies(
    "equipment.throttling_valve.full_bore_ball_valve",
    "equipment.throttling_valve.valve_kv_m3_h",
    "equipment.throttling_valve.valve_handle_angle_deg",
)
def test_cock_in_a_pipe(closed_deg: float, K: float) -> None:
    """Weisbach's cock (read in a stored copy of a table of fittings): K at these angles closed; open, 3 fT of Crane
    (fT of 2 in from memory: 0.019)."""
    valve = full_bore_ball_valve(TWO_INCH_m)
    kv = valve_kv_m3_h(valve, 90.0 - closed_deg)
    assert fitting_loss_coefficient(Fitting("flow coefficient", value=kv), TWO_INCH_m) == pytest.approx(K, rel=1e-6)
    assert valve_handle_angle_deg(valve, kv) == pytest.approx(90.0 - closed_deg, abs=1e-9)
    open_K = fitting_loss_coefficient(Fitting("flow coefficient", value=valve_kv_m3_h(valve, 90.0)), TWO_INCH_m)
    assert open_K == pytest.approx(3 * 0.019, rel=0.02)


@verifies("equipment.spray_circuit.nozzle_pressure_Pa", "equipment.spray_circuit.largest_strainer_hole_m")
def test_nozzle() -> None:
    """Torricelli: an ideal 10 mm orifice passes A sqrt(2 p / rho) of cold water; passage twice the hole (practice)."""
    area = 0.25 * math.pi * 0.01**2
    nozzles = Nozzles(6, area * math.sqrt(2.0 / 1000.0), 0.01)
    pressure = 34.0e3
    for density in (1000.0, 970.0, 1150.0):
        flow = 6 * area * math.sqrt(2.0 * pressure / density)
        assert nozzle_pressure_Pa(nozzles, flow, density) == pytest.approx(pressure)
    assert largest_strainer_hole_m(0.01) == pytest.approx(0.005)


CURVE = PumpCurve(
    flow_m3_s=(0.0, 0.002, 0.004, 0.006),
    head_m=(16.0, 15.0, 12.0, 6.0),
    shaft_power_W=(400.0, 600.0, 800.0, 900.0),
    npsh_required_m=(0.8, 1.0, 1.6, 3.0),
    density_kg_m3=1000.0,
)


@verifies(
    "equipment.pump.pump_head_m",
    "equipment.pump.pump_pressure_Pa",
    "equipment.pump.pump_shaft_power_W",
    "equipment.pump.pump_npsh_required_m",
    "equipment.pump.pump_efficiency",
    "equipment.pump.pump_best_flow_m3_s",
    "equipment.pump.pump_motor_size_W",
)
def test_pump_relations() -> None:
    """By hand at 3 L/s between the points: 13.5 m, 700 W, 1.3 m; 13.5 x 3 x 9.80665 / 700 = 56.7 %; on brine of 1200
    kg/m3 158.9 kPa and 840 W. Greatest power 900 W: 1.5 hp (1118.5 W) on water, on brine 1080 W still 1.5 hp, at
    1300 kg/m3 1170 W: 2 hp. Efficiencies of the points 49, 58.8, 39.2 %: the best is at 4 L/s."""
    assert pump_head_m(CURVE, 0.003) == pytest.approx(13.5)
    assert pump_shaft_power_W(CURVE, 0.003, 1000.0) == pytest.approx(700.0)
    assert pump_npsh_required_m(CURVE, 0.003) == pytest.approx(1.3)
    assert pump_efficiency(CURVE, 0.003) == pytest.approx(0.5674, abs=1e-4)
    assert pump_pressure_Pa(CURVE, 0.003, 1200.0) == pytest.approx(158.87e3, rel=1e-4)
    assert pump_shaft_power_W(CURVE, 0.003, 1200.0) == pytest.approx(840.0)
    assert pump_best_flow_m3_s(CURVE) == 0.004
    assert pump_motor_size_W(CURVE, 1000.0) / HORSEPOWER_W == pytest.approx(1.5)
    assert pump_motor_size_W(CURVE, 1200.0) / HORSEPOWER_W == pytest.approx(1.5)
    assert pump_motor_size_W(CURVE, 1300.0) / HORSEPOWER_W == pytest.approx(2.0)


VALVE = BallValve((0.0, 30.0, 60.0, 90.0), (0.0, 10.0, 40.0, 200.0))
CIRCUIT = SprayCircuit(
    pump=CURVE,
    suction=PipeRun(0.078, 2.0, 1.0e-5, (Fitting("loss coefficient", value=1.2),)),
    strainer=Strainer(60.0, 0.003, open_share=0.8),
    discharge=PipeRun(0.05, 1.5, 1.0e-5, (Fitting("loss coefficient", value=2.0),)),
    valve=VALVE,
    spray=PipeRun(0.05, 5.0, 1.0e-5, (Fitting("loss coefficient", value=1.8),)),
    nozzles=Nozzles(5, 3.0e-6, 0.008),
    header_height_m=3.2,
    agitation=PipeRun(0.025, 4.0, 1.0e-5, (Fitting("loss coefficient", value=9.0),)),
)
CONDITION = CircuitCondition(HotLiquor(338.15, 1020.0, 5.0e-4, 24.0e3), 0.7, 98.0e3, tower_gauge_Pa=200.0)


def _slow_circuit(handle_kv: float) -> tuple[float, float]:
    """Spray and agitation flows by SciPy's simultaneous solver, every equation written out a second time."""
    rho, mu = 1020.0, 5.0e-4

    def pipe_m(flow: float, bore: float, length: float, K: float) -> float:
        speed = flow / (math.pi * bore**2 / 4)
        return (_colebrook(rho * speed * bore / mu, 1.0e-5 / bore) * length / bore + K) * speed**2 / (2 * g)

    def valve_m(flow: float, kv: float) -> float:
        return (flow * 3600 / kv) ** 2 * 1.0e5 / (1000.0 * g)  # a head: density cancels

    def head_m(flow: float) -> float:
        return 15.0 - 1500.0 * (flow - 0.002) if flow < 0.004 else 12.0 - 3000.0 * (flow - 0.004)

    def balance(flows: tuple[float, float]) -> tuple[float, float]:
        spray, agitation = abs(flows[0]), abs(flows[1])
        total = spray + agitation
        r = spray / total
        speed_head = (total / (math.pi * 0.05**2 / 4)) ** 2 / (2 * g)
        branch = (1 + 0.3 * r**2) * (1 + 0.3 * r**2) * speed_head
        straight = (2.0 if r <= 0.5 else 0.3) * (2 * r - 1) * r**2 * speed_head
        offered = head_m(total) - pipe_m(total, 0.078, 2.0, 1.2) - valve_m(total, 60 * 0.8)
        offered -= pipe_m(total, 0.05, 1.5, 2.0)
        nozzle = (spray / (5 * 3.0e-6)) ** 2 / (1000.0 * g) + 200.0 / (rho * g)
        up = 3.2 - 0.7 + pipe_m(spray, 0.05, 5.0, 1.8) + valve_m(spray, handle_kv) + nozzle + branch
        back = pipe_m(agitation, 0.025, 4.0, 9.0) + straight
        return offered - up, offered - back

    spray, agitation = fsolve(balance, (0.002, 0.001), xtol=1e-12)
    return abs(spray), abs(agitation)


@pytest.mark.parametrize("handle_deg", [40.0, 60.0, 90.0])
@verifies("equipment.spray_circuit.solve_spray_circuit", "equipment.spray_circuit.valve_for_spray_flow")
def test_circuit_against_a_separate_solution(handle_deg: float) -> None:
    """SciPy's fsolve with Colebrook, Crane's tee, Kv and nozzle equations written out here, within 1e-6."""
    kv = {40.0: 10.0 * 4.0 ** (1.0 / 3.0), 60.0: 40.0, 90.0: 200.0}[handle_deg]
    spray, agitation = _slow_circuit(kv)
    found = solve_spray_circuit(CIRCUIT, CONDITION, handle_deg)
    assert found.spray_flow_m3_s == pytest.approx(spray, rel=1e-6)
    assert found.agitation_flow_m3_s == pytest.approx(agitation, rel=1e-6)
    assert found.header_gauge_Pa == pytest.approx(200.0 + (spray / 1.5e-5) ** 2 * 1.02, rel=1e-5)
    back = valve_for_spray_flow(CIRCUIT, CONDITION, spray)
    assert back.handle_angle_deg == pytest.approx(handle_deg, abs=1e-2)
    total = spray + agitation
    suction = total / (math.pi * 0.078**2 / 4)
    friction = _colebrook(1020.0 * suction * 0.078 / 5.0e-4, 1.0e-5 / 0.078) * 2.0 / 0.078
    lost = (friction + 1.2) * suction**2 / (2 * g) + (total * 3600 / 48.0) ** 2 * 1.0e5 / (1000.0 * g)
    assert found.npsh_available_m == pytest.approx((98.0e3 - 24.0e3) / (1020.0 * g) + 0.7 - lost, rel=1e-6)


USUAL = WorkingPoint(
    npsh_available_m=4.0,
    npsh_required_m=2.0,
    suction_velocity_m_s=1.0,
    share_of_best_flow=1.0,
    strainer_hole_m=0.003,
    largest_strainer_hole_m=0.004,
    nozzle_free_passage_m=0.008,
    spray_flow_m3_s=0.002,
    spray_velocity_m_s=2.0,
    valve_choked=False,
    header_gauge_Pa=5.0 * PSI_Pa,
    agitation_share=0.2,
)


@pytest.mark.parametrize(
    ("within", "beyond", "name"),
    [
        ({"npsh_available_m": 2.61}, {"npsh_available_m": 2.59}, "little NPSH reserve"),
        ({"npsh_available_m": 2.01}, {"npsh_available_m": 1.99}, "pump cavitates"),
        ({"suction_velocity_m_s": 1.49}, {"suction_velocity_m_s": 1.51}, "fast suction"),
        ({"share_of_best_flow": 0.71}, {"share_of_best_flow": 0.69}, "pump off its best flow"),
        ({"share_of_best_flow": 1.19}, {"share_of_best_flow": 1.21}, "pump off its best flow"),
        ({"strainer_hole_m": 0.0039}, {"strainer_hole_m": 0.0041}, "coarse strainer"),
        ({"header_gauge_Pa": 3.01 * PSI_Pa}, {"header_gauge_Pa": 2.99 * PSI_Pa}, "unusual header pressure"),
        ({"header_gauge_Pa": 11.9 * PSI_Pa}, {"header_gauge_Pa": 12.1 * PSI_Pa}, "unusual header pressure"),
        ({"spray_velocity_m_s": 2.49}, {"spray_velocity_m_s": 2.51}, "fast spray run"),
        ({"agitation_share": 0.11}, {"agitation_share": 0.09}, "unusual agitation"),
        ({"agitation_share": 0.29}, {"agitation_share": 0.31}, "unusual agitation"),
        ({"agitation_share": 0.29}, {"valve_choked": True}, "flashing in the spray valve"),
        ({"agitation_share": None}, {"spray_flow_m3_s": 0.0}, "no spray"),
    ],
)
@verifies("equipment.spray_circuit_warnings.spray_circuit_warnings")
def test_limits_of_the_warnings(within: dict[str, float], beyond: dict[str, float], name: str) -> None:
    """The practice as the register words it, typed in again: common practice, no source."""
    assert spray_circuit_warnings(USUAL) == ()
    assert name not in [notice.name for notice in spray_circuit_warnings(replace(USUAL, **within))]
    (notice,) = spray_circuit_warnings(replace(USUAL, **beyond))
    assert notice.name == name
    for value in beyond.values() if notice.figures else ():
        assert value in [figure for figure, _ in notice.figures]
