"""Hydraulics: bad input is one clear error; a circuit that will not work well is a warning."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from vaporwright.equipment.pipe_run import (
    Fitting,
    HotLiquor,
    PipeRun,
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
    motor_current_A,
    motor_table_current_A,
    npsh_available_m,
    pump_head_m,
    pump_motor_size_W,
)
from vaporwright.equipment.spray_circuit import (
    CircuitCondition,
    CircuitFlows,
    Nozzles,
    SprayCircuit,
    Strainer,
    dividing_tee_loss,
    solve_spray_circuit,
    suction_submergence,
    valve_for_spray_flow,
)
from vaporwright.equipment.throttling_valve import (
    BallValve,
    full_bore_ball_valve,
    valve_kv_m3_h,
)
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.properties.liquor import Liquor

NAN = float("nan")
WATER = hot_liquor(Liquor(0.0), 338.15)
CURVE = PumpCurve(
    (0.0, 0.0012, 0.0025, 0.0038, 0.005),
    (14.6, 14.3, 13.7, 12.2, 9.8),
    (500.0, 650.0, 800.0, 900.0, 980.0),
    (1.0, 1.1, 1.3, 1.7, 2.4),
)
CIRCUIT = SprayCircuit(
    pump=CURVE,
    suction=PipeRun(0.0779, 1.5, 1.5e-6, (Fitting("flush entrance"), Fitting("ball valve"))),
    strainer=Strainer(60.0, 0.003),
    discharge=PipeRun(0.0525, 1.0, 1.5e-6, (Fitting("swing check valve"),)),
    valve=full_bore_ball_valve(0.0525),
    spray=PipeRun(0.0525, 4.0, 1.5e-6, (Fitting("standard elbow", 3),)),
    nozzles=Nozzles(4, 3.3e-6, 0.008),
    header_height_m=3.0,
    agitation=PipeRun(0.0158, 3.0, 1.5e-6, (Fitting("standard elbow", 3), Fitting("exit"))),
)
CONDITION = CircuitCondition(WATER, 0.6, 101325.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"flow_m3_s": (0.0, 0.002), "head_m": (9.0, 8.0)}, ("flow_m3_s", "2 points", "at least 3")),
        ({"flow_m3_s": ()}, ("flow_m3_s", "0 points")),
        ({"flow_m3_s": (0.0, 0.002, 0.002)}, ("flow_m3_s", "0.002 follows 0.002", "rise")),
        ({"flow_m3_s": (0.0, 0.003, 0.002)}, ("flow_m3_s", "0.002 follows 0.003")),
        ({"head_m": (9.0, 9.5, 5.0)}, ("head_m", "rises from 9 to 9.5 m", "two flows at one head")),
        ({"head_m": (9.0, 8.0)}, ("head_m", "2 values", "3, one for each flow")),
        ({"head_m": (9.0, NAN, 5.0)}, ("head_m", "nan")),
        ({"npsh_required_m": (1.0, -1.0, 2.0)}, ("npsh_required_m", "-1")),
        ({"shaft_power_W": (0.4, 0.5, 0.6)}, ("shaft_power_W", "no more than the liquid receives")),
    ],
)
def test_a_bad_pump_curve_is_one_message(changes: dict[str, Any], words: tuple[str, ...]) -> None:
    curve = {
        "flow_m3_s": (0.0, 0.002, 0.004),
        "head_m": (9.0, 8.0, 5.0),
        "shaft_power_W": (300.0, 400.0, 500.0),
        "npsh_required_m": (1.0, 1.2, 2.0),
    }
    with pytest.raises(InputError) as caught:
        PumpCurve(**{**curve, **changes})
    assert str(caught.value).startswith("pump curve: ")
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("call", "error", "word"),
    [
        (lambda: PipeRun(0.0, 1.0, 0.0), OutOfRange, "inner_diameter_m"),
        (lambda: PipeRun(0.05, -1.0, 0.0), OutOfRange, "length_m"),
        (lambda: PipeRun(0.05, 1.0, 0.01), OutOfRange, "roughness_m"),
        (lambda: PipeRun(0.05, 1.0, 0.0, (Fitting("sudden contraction", value=0.04),)), OutOfRange, "smaller"),
        (lambda: Fitting("elbow"), InputError, "standard elbow"),  # type: ignore[arg-type]
        (lambda: Fitting("standard elbow", value=0.5), InputError, "takes no value"),
        (lambda: Fitting("flow coefficient"), InputError, "missing"),
        (lambda: Fitting("exit", quantity=-1), OutOfRange, "quantity"),
        (lambda: friction_factor(0.0, 0.0), OutOfRange, "reynolds_number"),
        (lambda: friction_factor(1e5, 0.2), OutOfRange, "relative_roughness"),
        (lambda: run_pressure_loss(CIRCUIT.spray, -0.001, WATER), OutOfRange, "flow_m3_s"),
        (lambda: run_pressure_loss(CIRCUIT.spray, NAN, WATER), OutOfRange, "flow_m3_s"),
        (lambda: run_pressure_loss(CIRCUIT.spray, 50.0, WATER), OutOfRange, "flow_m3_s"),
        (lambda: gravity_flow_m3_s((), 1.0, WATER), InputError, "runs"),
        (lambda: gravity_flow_m3_s((CIRCUIT.spray,), 0.0, WATER), OutOfRange, "head_m"),
        (lambda: hot_liquor(Liquor(0.05), 400.0), OutOfRange, "temperature_K"),
        (lambda: HotLiquor(300.0, 1.0, 1e-3, 1e3), OutOfRange, "density_kg_m3"),
        (lambda: pipe_for_velocity(0.003, 2.0, "10S"), InputError, "schedule"),
        (lambda: pipe_for_velocity(0.0, 2.0), OutOfRange, "flow_m3_s"),
        (lambda: pipe_material("bamboo"), InputError, "PVC"),
        (lambda: thermal_growth_m("PVC", 10.0, 300.0), OutOfRange, "temperature_difference_K"),
        (lambda: pressure_rating_factor("PVC", 335.0), OutOfRange, "140 degF"),
        (lambda: pressure_rating_factor("polypropylene", 345.0), OutOfRange, "160 degF"),
        (lambda: pressure_rating_factor("PVC", NAN), OutOfRange, "temperature_K"),
        (lambda: pressure_rating_factor("carbon steel", 335.0), InputError, "no derating"),
        (lambda: pump_head_m(CURVE, 0.006), OutOfRange, "the pump's curve"),
        (lambda: pump_motor_size_W(CURVE, 0.0), OutOfRange, "density_kg_m3"),
        (lambda: motor_table_current_A(745.7 * 4, 460.0), InputError, "4 hp"),
        (lambda: motor_table_current_A(745.7, 480.0), InputError, "208, 230, 460, 575"),
        (lambda: _current(efficiency=85.0), OutOfRange, "efficiency"),
        (lambda: _current(phases=2), OutOfRange, "1 or 3"),
        (lambda: _npsh(site_pressure_Pa=14.7), OutOfRange, "site_pressure_Pa"),
        (lambda: _npsh(vapour_pressure_Pa=120e3), OutOfRange, "boils"),
        (lambda: BallValve((0.0, 45.0, 90.0), (0.0, 20.0, 10.0)), InputError, "rise"),
        (lambda: BallValve((0.0, 45.0, 80.0), (0.0, 20.0, 30.0)), InputError, "from 0 up to 90"),
        (lambda: BallValve((0.0, 90.0), (0.0, 20.0)), InputError, "three points"),
        (lambda: BallValve((10.0, 45.0, 90.0), (1.0, 20.0, 30.0)), InputError, "where it shuts"),
        (lambda: valve_kv_m3_h(CIRCUIT.valve, 91.0), OutOfRange, "handle_angle_deg"),
        (lambda: Nozzles(0, 1e-6, 0.008), OutOfRange, "number of nozzles"),
        (lambda: Strainer(60.0, 0.003, 0.0), OutOfRange, "open_share"),
        (lambda: dividing_tee_loss(**_TEE, branch_diameter_m=0.06), OutOfRange, "branch_diameter_m"),
        (lambda: _submergence(mouth_diameter_m=0.0), OutOfRange, "mouth_diameter_m"),
        (lambda: replace(CIRCUIT, header_height_m=-1.0), OutOfRange, "header_height_m"),
        (lambda: replace(CIRCUIT, spray=PipeRun(0.06, 4.0, 0.0)), InputError, "no larger than the discharge"),
        (lambda: replace(CONDITION, site_pressure_Pa=0.0), OutOfRange, "absolute"),
        (lambda: solve_spray_circuit(CIRCUIT, replace(CONDITION, level_above_pump_m=4.0)), OutOfRange, "header stands"),
        (lambda: solve_spray_circuit(replace(CIRCUIT, agitation=None), CONDITION, 0.0), OutOfRange, "shut valve"),
        (lambda: valve_for_spray_flow(CIRCUIT, CONDITION, 0.0049), OutOfRange, "spray_flow_m3_s"),
        (lambda: valve_for_spray_flow(CIRCUIT, CONDITION, 0.0), OutOfRange, "spray_flow_m3_s"),
    ],
)
def test_bad_input_is_one_clear_error(call: Callable[[], object], error: type[Exception], word: str) -> None:
    with pytest.raises(error, match=word):
        call()


_TEE = {"run_diameter_m": 0.05, "straight_flow_m3_s": 0.001, "branch_flow_m3_s": 0.001}


def _current(**changes: Any) -> float:
    duty = {"shaft_power_W": 1500.0, "voltage_V": 460.0, "efficiency": 0.85, "power_factor": 0.8}
    return motor_current_A(**{**duty, **changes})


def _npsh(**changes: Any) -> float:
    duty = {
        "site_pressure_Pa": 101325.0,
        "vapour_pressure_Pa": 25e3,
        "density_kg_m3": 980.0,
        "level_above_pump_m": 0.5,
        "suction_loss_m": 0.2,
    }
    return npsh_available_m(**{**duty, **changes})


def _submergence(**changes: Any) -> object:
    duty = {"level_m": 0.5, "mouth_height_m": 0.1, "mouth_diameter_m": 0.08, "flow_m3_s": 0.003}
    return suction_submergence(**{**duty, **changes})


def _named(found: CircuitFlows, name: str) -> Notice:
    (notice,) = [notice for notice in found.warnings if notice.name == name]
    return notice


def test_a_usual_circuit_raises_no_warning() -> None:
    found = solve_spray_circuit(CIRCUIT, CONDITION)
    assert found.warnings == ()
    assert "scald" in found.caution


def test_a_pump_that_runs_out_is_named() -> None:
    wide = replace(CIRCUIT, agitation=PipeRun(0.05, 1.0, 0.0, (Fitting("exit"),)))
    with pytest.raises(NotConverged, match="runs out beyond the end of its curve"):
        solve_spray_circuit(wide, CONDITION)


def test_a_pump_that_cannot_lift_is_named() -> None:
    high = replace(CIRCUIT, agitation=None, header_height_m=20.0)
    with pytest.raises(NotConverged, match="already short"):
        solve_spray_circuit(high, CONDITION)


def test_a_header_out_of_reach_leaves_agitation_and_a_warning() -> None:
    found = solve_spray_circuit(replace(CIRCUIT, header_height_m=20.0), CONDITION)
    assert found.spray_flow_m3_s == 0.0
    assert found.agitation_flow_m3_s > 0.0
    assert _named(found, "no spray").figures == ()


def test_warnings_name_what_is_wrong_with_the_figures_that_the_answer_has() -> None:
    coarse = solve_spray_circuit(replace(CIRCUIT, strainer=Strainer(60.0, 0.006)), CONDITION)
    lengths = tuple((size_m, "short length") for size_m in (0.006, 0.008, 0.004))  # hole, passage, half of it
    assert _named(coarse, "coarse strainer").figures == lengths
    plugged = solve_spray_circuit(replace(CIRCUIT, strainer=Strainer(60.0, 0.003, 0.1)), CONDITION)
    heads = ((plugged.npsh_available_m, "length"), (plugged.npsh_required_m, "length"))
    assert _named(plugged, "pump cavitates").figures == heads
    choked = solve_spray_circuit(CIRCUIT, replace(CONDITION, liquor=hot_liquor(Liquor(0.0), 355.0)), 20.0)
    assert choked.valve_choked
    assert _named(choked, "flashing in the spray valve").figures == ()
    narrow = solve_spray_circuit(replace(CIRCUIT, spray=PipeRun(0.035, 4.0, 1.5e-6)), CONDITION)
    speeds = ((narrow.spray_velocity_m_s, "liquid velocity"), (2.5, "liquid velocity"))
    assert _named(narrow, "fast spray run").figures == speeds
    thin = solve_spray_circuit(replace(CIRCUIT, suction=PipeRun(0.045, 1.5, 1.5e-6)), CONDITION)
    speeds = ((thin.suction_velocity_m_s, "liquid velocity"), (1.5, "liquid velocity"))
    assert _named(thin, "fast suction").figures == speeds
    little = solve_spray_circuit(replace(CIRCUIT, agitation=PipeRun(0.0080, 3.0, 1.5e-6)), CONDITION)
    share = little.agitation_flow_m3_s / little.pump_flow_m3_s
    assert _named(little, "unusual agitation").figures[0] == (pytest.approx(share), "fraction")


def test_a_circuit_warns_in_the_readers_units() -> None:
    def in_US(value: float, quantity: str) -> str:
        return {"short length": f"{value / 0.0254:.3f} in"}[quantity]

    coarse = solve_spray_circuit(replace(CIRCUIT, strainer=Strainer(60.0, 0.006)), CONDITION)
    text = _named(coarse, "coarse strainer").words(in_US)
    assert text == (
        "Strainer holes of 0.236 in let through what plugs nozzles of 0.315 in free passage: holes of 0.157 in at most."
    )


def test_the_spray_is_choked_by_the_handle_and_the_header_shows_it() -> None:
    wide_open = solve_spray_circuit(CIRCUIT, CONDITION)
    choked = solve_spray_circuit(CIRCUIT, CONDITION, 27.0)
    assert choked.header_gauge_Pa < 0.5 * wide_open.header_gauge_Pa
    assert choked.shaft_power_W < wide_open.shaft_power_W
    assert choked.npsh_margin_m > wide_open.npsh_margin_m
    usual = ((20684.27, "gauge pressure"), (82737.09, "gauge pressure"))  # 3 and 12 psi
    header, *limits = _named(choked, "unusual header pressure").figures
    assert header == (choked.header_gauge_Pa, "gauge pressure")
    assert limits == [(pytest.approx(value_Pa), quantity) for value_Pa, quantity in usual]


def test_importing_hydraulics_does_not_import_the_library() -> None:
    code = (
        "import sys, vaporwright.equipment.spray_circuit;"
        "sys.exit(any(name in sys.modules for name in ('fluids', 'numpy', 'scipy')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
