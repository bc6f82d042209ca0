"""Evaporation by make-up and by level, drift by tracer, and slopes with what their meters leave open."""

from __future__ import annotations

import math

import pytest

from run_simulator import OnTest, RunOptions, SimulatedRun, on_test, simulate_run
from vaporwright.acceptance.run.averages import DEFAULT_UNCERTAINTIES, mean_of, means_of, rate_of
from vaporwright.acceptance.run.evaporation import (
    TracerResult,
    WaterLoss,
    compare,
    drift_by_design,
    drift_by_tracer,
    level_fall,
    make_up_channels,
    water_loss,
)
from vaporwright.acceptance.run.log import Measured, RunLog
from vaporwright.foundation.errors import InputError
from vaporwright.unit.levels import tank_with_heater


def simulated(kind: str, seed: int = 2, **options: object) -> tuple[OnTest, SimulatedRun]:
    given = on_test(kind)
    return given, simulate_run(
        given.unit,
        given.conditions,
        given.stack,
        seed=seed,
        options=RunOptions(**options),  # type: ignore[arg-type]
    )


def lost(given: OnTest, log: RunLog, make_up: str = "make_up_mass_kg") -> WaterLoss:
    tank = tank_with_heater(given.unit, given.stack)
    found = water_loss(log, make_up, tank, given.conditions.liquor, DEFAULT_UNCERTAINTIES)
    assert found is not None
    return found


def tracer(given: OnTest, run: SimulatedRun, **more: object) -> TracerResult:
    tank = tank_with_heater(given.unit, given.stack)
    found = drift_by_tracer(
        run.log.between(1800.0, 14400.0),
        "make_up_mass_kg",
        tank,
        given.conditions.liquor,
        DEFAULT_UNCERTAINTIES,
        design_kg_s=run.design_drift_kg_s,
        **more,  # type: ignore[arg-type]
    )
    assert found is not None
    return found


def test_a_tank_that_expands_while_it_warms_makes_no_water() -> None:
    # The first half hour: the tank warms by 4 K, its level rises by half a millimetre of expansion alone.
    given, run = simulated("gas", noise=0.0, colder_at_start_K=10.0)
    found = lost(given, run.log.between(0.0, 1800.0))
    truth = run.evaporation_kg_s(0.0, 1800.0) + run.liquid_lost_kg_s
    warmed_K = run.log.columns["tank_temperature_K"][30] - run.log.columns["tank_temperature_K"][0]  # type: ignore[operator]
    expansion_kg_s = 4.9e-4 * warmed_K * found.held_kg / 1800.0
    assert expansion_kg_s > 0.05 * truth  # what it would be, were the level taken for water
    assert found.lost_kg_s.value == pytest.approx(truth, rel=0.01)


def test_make_up_by_meter_and_by_scale() -> None:
    given, run = simulated("steam", metered=True)
    log = run.log.between(7200.0, 14400.0)
    by_scale, by_meter = lost(given, log), lost(given, log, "make_up_volume_m3")
    assert compare(by_scale.lost_kg_s, by_meter.lost_kg_s).agrees
    assert by_meter.lost_kg_s.standard_uncertainty > by_scale.lost_kg_s.standard_uncertainty
    # The meter's 1 % stands, however long it runs.
    assert by_meter.lost_kg_s.standard_uncertainty > 0.005 * by_meter.lost_kg_s.value


def test_two_figures_agree_within_what_both_leave_open() -> None:
    assert compare(Measured(10.0, 0.3), Measured(9.1, 0.4)).agrees  # 0.9 apart, 1.0 left open
    assert not compare(Measured(10.0, 0.3), Measured(8.9, 0.4)).agrees


def test_the_level_alone_is_coarser() -> None:
    given, run = simulated("electric", hours=4.5, isolated_h=(3.75, 4.4))
    tank = tank_with_heater(given.unit, given.stack)
    log = run.log.between(1800.0, 16200.0)
    fall = level_fall(log, "make_up_mass_kg", tank, given.conditions.liquor, DEFAULT_UNCERTAINTIES)
    assert fall is not None
    assert fall.begin_s == pytest.approx(3.75 * 3600.0, abs=61.0)
    assert fall.end_s == pytest.approx(4.4 * 3600.0, abs=61.0)
    truth = run.evaporation_kg_s(fall.begin_s, fall.end_s) + run.liquid_lost_kg_s
    whole = lost(given, run.log.between(5400.0, 13500.0))
    assert abs(fall.lost_kg_s.value - truth) < 2.0 * fall.lost_kg_s.standard_uncertainty
    assert fall.lost_kg_s.standard_uncertainty > 2.0 * whole.lost_kg_s.standard_uncertainty


def test_no_level_fall_where_the_refill_never_rests() -> None:
    given, run = simulated("electric")
    tank = tank_with_heater(given.unit, given.stack)
    assert level_fall(run.log, "make_up_mass_kg", tank, given.conditions.liquor, DEFAULT_UNCERTAINTIES) is None


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_the_tracer_finds_the_drift(kind: str) -> None:
    given, run = simulated(kind)
    found = tracer(given, run)
    assert abs(found.lost_kg_s.value - run.liquid_lost_kg_s) < 2.0 * found.lost_kg_s.standard_uncertainty
    assert not found.leak_suspected


def test_the_gain_of_its_meter_does_not_matter() -> None:
    given, run = simulated("gas", noise=0.0)
    _, off = simulated("gas", noise=0.0, gains={"tracer_kg_m3": 1.3})
    assert tracer(given, off).lost_kg_s.value == pytest.approx(tracer(given, run).lost_kg_s.value, rel=1e-6)


def test_salt_in_the_make_up_hides_a_leak_unless_it_is_stated() -> None:
    leak_kg_s = 0.002
    given, run = simulated("gas", leak_kg_s=leak_kg_s, feed_tracer_kg_m3=0.1)
    blind = tracer(given, run)
    stated = tracer(given, run, feed_tracer_kg_m3=Measured(0.1, 0.005))
    assert blind.lost_kg_s.value < 0.6 * run.liquid_lost_kg_s
    assert stated.lost_kg_s.value == pytest.approx(run.liquid_lost_kg_s, rel=0.1)
    assert stated.leak_suspected
    assert stated.lost_kg_s.standard_uncertainty > blind.lost_kg_s.standard_uncertainty


def test_liquor_held_in_the_tower_counts() -> None:
    given, run = simulated("gas", leak_kg_s=0.003, hold_up_kg=120.0)
    assert tracer(given, run, hold_up_kg=120.0).lost_kg_s.value == pytest.approx(run.liquid_lost_kg_s, rel=0.05)
    assert tracer(given, run).lost_kg_s.value < 0.97 * run.liquid_lost_kg_s


def test_a_tracer_of_nothing_is_refused() -> None:
    given, run = simulated("gas", gains={"tracer_kg_m3": 0.0}, noise=0.0)
    with pytest.raises(InputError, match="reads zero"):
        tracer(given, run)


def test_drift_that_nobody_measured_is_as_uncertain_as_drift_is() -> None:
    # 0.005 to 0.05 % of the spray about 0.02 %: a rectangle of that width has 0.65 of the middle.
    assert drift_by_design(0.02).standard_uncertainty == pytest.approx((0.05 - 0.005) / math.sqrt(12.0), rel=0.01)


def test_no_make_up_no_run() -> None:
    given, run = simulated("gas", without=("make_up_mass_kg",))
    with pytest.raises(InputError, match="make-up weighed, or metered"):
        make_up_channels(run.log)
    assert given.unit.towers == 1


def test_a_level_above_the_rim_is_refused() -> None:
    given, run = simulated("gas", offsets={"stilling_level_m": 1.5})
    with pytest.raises(InputError, match=r"stilling_level_m at 0 s: .* the rim"):
        lost(given, run.log)


def test_fewer_than_five_rows_tell_nothing() -> None:
    given, run = simulated("gas")
    tank, liquor = tank_with_heater(given.unit, given.stack), given.conditions.liquor
    few = run.log.between(0.0, 180.0)
    assert water_loss(few, "make_up_mass_kg", tank, liquor, DEFAULT_UNCERTAINTIES) is None
    assert rate_of(few, "make_up_mass_kg", DEFAULT_UNCERTAINTIES) is None


def test_means_and_rates_hold_their_calibration() -> None:
    times = tuple(60.0 * place for place in range(61))
    log = RunLog(
        times,
        {
            "spray_flow_m3_s": tuple(0.002 for _ in times),
            "electric_energy_J": tuple(36.0e3 * time_s for time_s in times),
            "tank_temperature_K": tuple(330.0 + (0.1 if place % 2 else -0.1) for place in range(61)),
            "return_temperature_K": tuple(320.0 for _ in times),
        },
    )
    means = means_of(log, DEFAULT_UNCERTAINTIES)
    assert means["spray_flow_m3_s"].standard_uncertainty == pytest.approx(0.015 * 0.002)
    assert means["electric_energy_J"].value == pytest.approx(36.0e3)
    assert means["electric_energy_J"].standard_uncertainty == pytest.approx(0.005 * 36.0e3)
    # Both thermometers by 0.5 degF, their difference by 0.2 degF.
    assert means["return_temperature_K"].standard_uncertainty == pytest.approx(0.25 / 1.8)
    assert means["range_difference_K"].standard_uncertainty == pytest.approx(0.1 / 1.8, rel=0.05)


def test_a_mean_of_two_readings_is_credited_with_no_averaging() -> None:
    log = RunLog((0.0, 60.0), {"tank_temperature_K": (330.0, 332.0)})
    mean = mean_of(log, "tank_temperature_K", DEFAULT_UNCERTAINTIES)
    assert mean is not None
    assert mean.standard_uncertainty == pytest.approx(math.hypot(math.sqrt(2.0), 0.25 / 1.8))
