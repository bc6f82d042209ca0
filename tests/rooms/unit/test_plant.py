"""The simulated unit against sums by hand and against the equipment's own formulas."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import pytest

from invented_unit import GPM, HEATER, INCH, TANK, unit
from vaporwright.equipment.gravity_return import head_over_outlet_m
from vaporwright.equipment.level_rods import LevelStack, MarkName
from vaporwright.equipment.tank_volume import drain_time_s, liquor_expansion_ratio
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.water import vapour_enthalpy_J_kg
from vaporwright.unit.balance import Conditions, conditions_of
from vaporwright.unit.job import Job, build_job
from vaporwright.unit.levels import stack_for, tank_with_heater
from vaporwright.unit.plant import Plant
from vaporwright.unit.plant_design import PlantDesign, plant_design
from vaporwright.unit.plant_state import PlantInputs
from vaporwright.unit.weights import DRAIN_LOSS

PARTS = unit(tank=replace(TANK, insulation_thickness_m=0.1), heat_source=HEATER)
DRAIN_BACK_m = 1.25 * INCH
RUNNING = PlantInputs(heat_load=1.0, air_share=1.0, pump_share=1.0, spray_open=1.0)
PUMPING = PlantInputs(pump_share=1.0, spray_open=1.0)


@lru_cache
def designed(solids_kg_m3: float = 8.0) -> tuple[Job, Conditions, LevelStack, PlantDesign]:
    job = build_job(
        {
            "duty.volume": 8.6e-6,
            "liquid.dissolved_solids": solids_kg_m3,
            "liquid.feed_temperature": 288.15,
            "choices.lid_covered": 0.98,
            "choices.drain_back": DRAIN_BACK_m,
            "choices.refill_flow": 7.0 * GPM,
            "choices.piping_length": 0.1,
        }
    )
    around, stack = conditions_of(job, "summer"), stack_for(job, PARTS)
    return job, around, stack, plant_design(job, PARTS, around, stack)


def height_m(mark: MarkName) -> float:
    return designed()[2].mark(mark).height_m


def plant(level_m: float | None = None, temperature_K: float = 320.0, solids_kg_m3: float = 8.0) -> Plant:
    at_m = height_m("refill-off") if level_m is None else level_m
    return Plant(designed(solids_kg_m3)[3], level_m=at_m, temperature_K=temperature_K)


def run(subject: Plant, inputs: PlantInputs, seconds: int) -> Plant:
    for _ in range(seconds):
        subject.step(inputs)
    return subject


def test_heat_warms_the_liquor_by_hand() -> None:
    # Near room temperature a lidded, insulated tank loses next to nothing: m c dT = P t, less what the metal holds.
    around = designed()[1]
    subject = plant(temperature_K=around.air.temperature_K)
    mass_kg = subject.mass_kg
    run(subject, PlantInputs(heat_load=1.0), 600)
    w = around.liquor.dissolved_solids_kg_kg
    c_J_kgK = 4180.0 * (1.0 - 1.2 * w)  # sodium chloride's first few per cent, by handbook to about 1 %
    by_hand_K = 60e3 * (600.0 - subject.design.heater_lag_s) / (mass_kg * c_J_kgK)
    assert subject.state.temperature_K - around.air.temperature_K == pytest.approx(by_hand_K, rel=0.02)
    assert subject.state.heater_W == pytest.approx(60e3, rel=1e-3)


def test_the_heater_goes_on_for_its_lag() -> None:
    # 4 MJ/(m3 K) x a quarter of the rod / 1000 W/(m2 K)
    lag_s = 4.0e6 * HEATER.sheath_diameter_m / 4.0 / 1000.0
    subject = run(plant(), PlantInputs(heat_load=1.0), 300)
    assert subject.design.heater_lag_s == pytest.approx(lag_s)
    hot_K = subject.state.temperature_K
    heat_J_K = subject.mass_kg * 4.08e3
    run(subject, PlantInputs(), 90)
    cooled_K = hot_K - run(plant(temperature_K=hot_K), PlantInputs(), 90).state.temperature_K
    assert subject.state.temperature_K - hot_K + cooled_K == pytest.approx(60e3 * lag_s / heat_J_K, rel=0.03)


def test_a_scaled_heater_and_part_load_give_less() -> None:
    for inputs in (PlantInputs(heat_load=0.4), PlantInputs(heat_load=1.0, heat_transfer_factor=0.4)):
        subject = run(plant(), inputs, 100)
        assert subject.totals.heat_source_J == pytest.approx(0.4 * 60e3 * 100.0, rel=1e-4)


def test_the_level_rises_when_the_liquor_warms() -> None:
    liquor = designed()[1].liquor
    subject = plant(temperature_K=290.0)
    volume_m3 = subject.tank_volume_m3
    run(subject, PlantInputs(heat_load=1.0), 3000)
    lost_m3 = subject.totals.evaporation_kg / 985.0
    ratio = liquor_expansion_ratio(liquor, cold_K=290.0, hot_K=subject.state.temperature_K)
    assert ratio > 1.01
    assert subject.tank_volume_m3 + lost_m3 == pytest.approx(ratio * volume_m3, rel=2e-4)


def test_the_pumps_start_draws_the_tank_down_and_its_stop_gives_it_back() -> None:
    subject = plant()
    before_m = subject.level_m
    run(subject, PUMPING, 300)
    assert before_m - subject.level_m == pytest.approx(DRAIN_BACK_m, rel=0.02)
    run(subject, PlantInputs(), 20)
    assert before_m - subject.level_m > 0.2 * DRAIN_BACK_m  # the return takes its time
    run(subject, PlantInputs(), 280)
    assert subject.level_m == pytest.approx(before_m, abs=2e-4)
    assert subject.state.tower_water_kg < 0.1


def test_spray_falls_when_the_header_is_full() -> None:
    subject = plant()
    area_m2 = TANK.length_m * TANK.width_m
    full_s = 0.25 * DRAIN_BACK_m * area_m2 / PARTS.spray_flow_m3_s
    run(subject, PUMPING, math.floor(full_s))
    assert subject.spray_flow_m3_s == 0.0
    run(subject, PUMPING, 1)
    assert 0.0 < subject.spray_flow_m3_s < PARTS.spray_flow_m3_s
    run(subject, PUMPING, 1)
    assert subject.spray_flow_m3_s == pytest.approx(PARTS.spray_flow_m3_s, rel=1e-12)
    half = run(plant(), replace(PUMPING, nozzle_share=0.5), 60)
    assert half.spray_flow_m3_s == pytest.approx(0.5 * PARTS.spray_flow_m3_s, rel=1e-12)


def test_shut_spray_only_agitates() -> None:
    subject = run(plant(), PlantInputs(heat_load=1.0, air_share=1.0, pump_share=1.0), 60)
    assert subject.totals.tower_evaporation_kg == 0.0
    assert subject.state.header_m3 == 0.0
    pump_W = 9.80665 * 1020.0 * PARTS.pump.head_m * PARTS.pump.flow_m3_s / PARTS.pump.efficiency
    assert subject.totals.pump_J == pytest.approx(60.0 * pump_W, rel=0.02)
    half = run(plant(), PlantInputs(pump_share=0.5), 60)  # affinity laws
    assert half.totals.pump_J == pytest.approx(60.0 * pump_W / 8.0, rel=0.02)


def test_without_air_the_spray_returns_as_hot_as_the_tank() -> None:
    hot = run(plant(), PUMPING, 300)
    assert hot.state.return_temperature_K == pytest.approx(hot.state.temperature_K, abs=0.05)
    assert hot.totals.tower_evaporation_kg == hot.totals.drift_kg == 0.0
    # Trade knowledge: with air the return is 12 to 25 degF colder; this tank is colder and its range smaller.
    cooled = run(plant(), RUNNING, 300)
    assert 4.0 < cooled.state.temperature_K - cooled.state.return_temperature_K < 14.0
    assert cooled.air_flow_m3_s == pytest.approx(1.04, rel=0.15)  # about 2,200 cfm


def test_a_refill_needs_both_valves() -> None:
    one = run(plant(), PlantInputs(refill_valve_open=True), 30)
    other = run(plant(), PlantInputs(refill_second_valve_open=True), 30)
    both = run(plant(), PlantInputs(refill_valve_open=True, refill_second_valve_open=True), 30)
    assert one.totals.feed_kg == other.totals.feed_kg == 0.0
    assert both.totals.refill_kg == pytest.approx(7.0 * GPM * 30.0 * 1004.3, rel=1e-3)  # 8 g/L at 15 degC
    assert both.totals.feed_salt_kg == pytest.approx(8.0 * 7.0 * GPM * 30.0, rel=2e-3)


def test_the_tank_drains_in_the_time_of_torricelli() -> None:
    subject = plant()
    vessel = tank_with_heater(PARTS, designed()[2])
    from_m, to_m = subject.level_m, 0.1
    by_formula_s = drain_time_s(
        vessel, from_level_m=from_m, to_level_m=to_m, drain_bore_m=TANK.drain_bore_m, loss_coefficient=DRAIN_LOSS
    )
    seconds = 0
    while subject.level_m > to_m:
        run(subject, PlantInputs(drain_opening=1.0), 1)
        seconds += 1
    assert seconds == pytest.approx(by_formula_s, rel=5e-3)
    half = run(plant(), PlantInputs(drain_opening=0.5), 10).totals.drained_kg
    assert half == pytest.approx(0.5 * run(plant(), PlantInputs(drain_opening=1.0), 10).totals.drained_kg, rel=5e-3)
    run(subject, PlantInputs(drain_opening=1.0, heat_load=1.0), 3600)
    assert subject.mass_kg < 1.0
    assert math.isfinite(subject.state.temperature_K)


def test_the_overflow_carries_a_stuck_refill_at_its_head() -> None:
    subject = plant(height_m("high-high"))
    stuck = PlantInputs(refill_valve_open=True, refill_second_valve_open=True)
    run(subject, stuck, 6000)
    head_m = head_over_outlet_m(7.0 * GPM, TANK.overflow_bore_m)
    assert subject.level_m - height_m("overflow") == pytest.approx(head_m, rel=2e-2)
    before_kg = subject.totals.overflowed_kg
    run(subject, stuck, 100)
    assert subject.totals.overflowed_kg - before_kg == pytest.approx(100.0 * 7.0 * GPM * 1004.3, rel=1e-2)
    assert subject.totals.spilled_kg == 0.0


def test_what_passes_the_rim_is_spilled() -> None:
    blocked = replace(designed()[3], overflow_m=9.0)
    subject = Plant(blocked, level_m=height_m("overflow"), temperature_K=320.0)
    run(subject, PlantInputs(refill_valve_open=True, refill_second_valve_open=True), 3600)
    assert subject.level_m == pytest.approx(TANK.height_m, abs=1e-3)
    assert subject.totals.spilled_kg > 100.0
    assert subject.mass_kg < 1.05 * 1000.0 * TANK.length_m * TANK.width_m * TANK.height_m


def test_a_bare_heater_is_named_and_heats_no_liquor() -> None:
    top_m, middle_m = height_m("heater top"), height_m("heater top") - 0.5 * HEATER.height_m
    covered = run(plant(top_m + 0.01), PlantInputs(heat_load=1.0), 10)
    assert not covered.heater_uncovered
    assert covered.state.heater_uncovered_s == 0.0
    half = run(plant(middle_m), PlantInputs(heat_load=1.0), 10)
    assert half.heater_uncovered
    assert half.state.heater_uncovered_s == 10.0
    assert half.totals.heat_source_J == pytest.approx(half.totals.uncovered_heater_J, rel=0.02)
    assert half.totals.heat_source_J + half.totals.uncovered_heater_J == pytest.approx(600e3, rel=1e-4)
    cold = run(plant(middle_m), PlantInputs(), 10)
    assert cold.heater_uncovered
    assert cold.state.heater_uncovered_s == 0.0


def test_boiling_holds_the_temperature_and_takes_the_heat() -> None:
    design = designed()[3]
    subject = plant(temperature_K=design.boiling_K - 0.05)
    run(subject, PlantInputs(heat_load=1.0), 600)
    assert subject.state.temperature_K == pytest.approx(design.boiling_K, abs=1e-9)
    before_kg, mass_kg = subject.totals.boiled_kg, subject.mass_kg
    lost_J = sum_of_losses(subject)
    run(subject, PlantInputs(heat_load=1.0), 600)
    latent_J_kg = vapour_enthalpy_J_kg(373.15) - 419.1e3
    left_J = 60e3 * 600.0 - (sum_of_losses(subject) - lost_J)
    assert subject.totals.boiled_kg - before_kg == pytest.approx(left_J / latent_J_kg, rel=0.02)
    assert mass_kg - subject.mass_kg > subject.totals.boiled_kg - before_kg


def sum_of_losses(subject: Plant) -> float:
    """Heat that surface, walls and piping took, over liquor at its boiling point."""
    totals = subject.totals
    dry_J = totals.surface_dry_J + totals.walls_J + totals.piping_J
    return dry_J + totals.surface_vapour_J - totals.surface_evaporation_kg * 419.1e3


def test_a_dry_suction_pumps_nothing() -> None:
    subject = run(plant(TANK.suction_mouth_m - 0.01), PUMPING, 60)
    assert subject.spray_flow_m3_s == 0.0
    assert subject.state.pump_dry_s == 60.0
    assert subject.totals.pump_J == 0.0


def test_the_thermometer_lags_a_ramp_by_its_time_constant() -> None:
    subject = run(plant(temperature_K=300.0), PlantInputs(heat_load=1.0), 400)
    ramp_K_s = subject.state.slope_K_s
    behind_K = subject.state.temperature_K - subject.state.thermometer_K
    assert behind_K == pytest.approx(30.0 * ramp_K_s, rel=0.02)


def test_foam_and_waves_move_only_what_the_rods_see() -> None:
    subject = run(plant(), PlantInputs(foam_m=0.06), 1)
    assert subject.level_at_rods_m() - subject.level_m == pytest.approx(0.06)
    run(subject, PlantInputs(wave_m=0.01, foam_m=0.03), 1)
    seen = [subject.level_at_rods_m(0.05 * index) - subject.level_m - 0.03 for index in range(100)]
    assert max(seen) == pytest.approx(0.01, rel=0.02)
    assert min(seen) == pytest.approx(-0.01, rel=0.02)
    # Long waves run at sqrt(g h); this tank is not quite shallow: its first wave takes a little more than 2 L / that.
    shallow_s = 2.0 * TANK.length_m / math.sqrt(9.80665 * subject.level_m)
    crossings = sum(1 for before, after in pairwise(seen) if (before > 0.0) != (after > 0.0))
    assert 0.75 * shallow_s < 2.0 * 5.0 / crossings < 1.6 * shallow_s


def test_the_filter_press_takes_liquor_with_its_salt() -> None:
    subject = plant()
    salt_kg, strength = subject.salt_kg, subject.solids_kg_kg
    run(subject, PlantInputs(press_m3_s=5.0 * GPM), 600)
    assert subject.totals.pressed_kg == pytest.approx(5.0 * GPM * 600.0 * 1025.0, rel=0.02)
    assert salt_kg - subject.salt_kg == pytest.approx(subject.totals.pressed_kg * strength, rel=1e-3)


@pytest.mark.parametrize("level_m", [0.0002, 0.02])
def test_feed_into_an_all_but_empty_tank_mixes(level_m: float) -> None:
    subject = Plant(designed()[3], level_m=level_m, temperature_K=350.0)
    previous_K, hot_kg = 350.0, subject.mass_kg
    for _ in range(300):
        run(subject, PlantInputs(refill_valve_open=True, refill_second_valve_open=True), 1)
        assert 288.15 - 0.1 <= subject.state.temperature_K <= previous_K + 1e-9
        previous_K = subject.state.temperature_K
    mixed_K = (hot_kg * 350.0 + subject.totals.feed_kg * 288.15) / (hot_kg + subject.totals.feed_kg)
    assert subject.state.temperature_K == pytest.approx(mixed_K, abs=0.6)  # losses and the salt's heat capacity


def test_evaporation_leaves_the_salt() -> None:
    subject = plant()
    salt_kg, strength = subject.salt_kg, subject.solids_kg_kg
    run(subject, RUNNING, 1800)
    assert subject.salt_kg == pytest.approx(salt_kg - subject.totals.salt_out_kg, rel=1e-9)
    assert subject.totals.salt_out_kg == pytest.approx(subject.totals.drift_kg * strength, rel=0.05)
    assert subject.solids_kg_kg > strength
    slowed = run(plant(), replace(RUNNING, air_share=0.5), 1800)  # half the air carries off half the drift
    assert slowed.totals.drift_kg == pytest.approx(0.5 * subject.totals.drift_kg, rel=0.01)


def test_clean_water_has_no_salt_part() -> None:
    subject = run(plant(solids_kg_m3=0.0), RUNNING, 600)
    assert subject.salt_kg == 0.0
    assert subject.totals.evaporation_kg > 0.0


@pytest.mark.parametrize(
    ("name", "value"),
    [("heat_load", 1.2), ("air_share", -0.1), ("nozzle_share", 1.1), ("trickle_m3_s", -1e-6), ("foam_m", math.nan)],
)
def test_inputs_out_of_range_are_named(name: str, value: float) -> None:
    given: dict[str, Any] = {name: value}
    with pytest.raises(OutOfRange, match=name):
        PlantInputs(**given)


def test_starts_and_steps_out_of_range_are_named() -> None:
    with pytest.raises(OutOfRange, match="level_m"):
        plant(2.0)
    with pytest.raises(OutOfRange, match="temperature_K"):
        plant(temperature_K=400.0)
    with pytest.raises(OutOfRange, match="dt_s"):
        plant().step(RUNNING, 10.0)


def test_ice_is_an_error() -> None:
    job = build_job({"duty.volume": 8.6e-6, "site.air_supply": "outdoors", "site.winter.air_temperature": 255.0})
    around = conditions_of(job, "winter")
    design = plant_design(job, PARTS, around, designed()[2])
    subject = Plant(design, level_m=height_m("low"), temperature_K=280.0)
    with pytest.raises(OutOfRange, match="temperature_K"):
        run(subject, replace(RUNNING, heat_load=0.0), 7200)
