"""Set points and delays of the control against common practice and hand work."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_unit import TANK, TOWER, fahrenheit, unit
from support import verifies
from vaporwright.controls.delays import DELAYS, REFILL_RUN, delays_of, delays_section, usual_delays
from vaporwright.controls.set_points import (
    TemperatureChoices,
    overshoot_difference_K,
    set_points_of,
    set_points_section,
)
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import levels_of

F = 1.0 / 1.8


def answer(set_point_F: float = 155.0, plastic_F: float = 180.0) -> UnitAnswer:
    tower = replace(TOWER, temperature_limits_K=(("fill", fahrenheit(plastic_F)), ("shell", fahrenheit(190.0))))
    given = {"duty.volume": 8.6e-6, "choices.set_point": fahrenheit(set_point_F)}
    return answer_for(build_job(given), replace(unit(), tower=tower))


@pytest.fixture(scope="module")
def usual() -> UnitAnswer:
    return answer()


@verifies("controls.set_points.set_points_of")
def test_a_usual_unit_by_hand(usual: UnitAnswer) -> None:
    # Clamp 155 degF, fill to 180 degF: alarm at 160, high limit at 164, pump stops at 180.
    points = set_points_of(usual)
    for value, hand_F in (
        (points.set_point_K, 155.0),
        (points.deviation_alarm_K, 160.0),
        (points.high_limit_K, 164.0),
        (points.plastic_limit_K, 180.0),
    ):
        assert value == pytest.approx(fahrenheit(hand_F), abs=1e-6)
    assert (points.plastic_part, points.lowered) == ("fill", False)


@verifies("controls.set_points.set_points_of")
def test_a_plastic_that_leaves_room_for_the_alarm_only_caps_the_high_limit() -> None:
    # Fill to 163 degF: 155 + 5 = 160, high limit 163 instead of 164, never over the plastic.
    points = set_points_of(answer(155.0, 163.0))
    assert points.set_point_K == pytest.approx(fahrenheit(155.0), abs=1e-6)
    assert points.deviation_alarm_K == pytest.approx(fahrenheit(160.0), abs=1e-6)
    assert points.high_limit_K == pytest.approx(fahrenheit(163.0), abs=1e-6)


@verifies("controls.set_points.set_points_of")
def test_a_plastic_that_leaves_none_lowers_the_set_point() -> None:
    # Fill to 160 degF, set point wanted 160: 5 for the alarm and 2 from there to the high limit leave 153.
    points = set_points_of(answer(160.0, 160.0))
    assert points.set_point_K == pytest.approx(fahrenheit(153.0), abs=1e-6)
    assert points.deviation_alarm_K == pytest.approx(fahrenheit(158.0), abs=1e-6)
    assert points.high_limit_K == pytest.approx(fahrenheit(160.0), abs=1e-6)
    assert points.lowered
    reasons = {figure.name: figure.equation for figure in set_points_section(points).figures}
    assert reasons["set_point_K"] == "lowered under the clamp, so that alarm and high limit fit under fill"


@verifies("controls.set_points.overshoot_difference_K")
def test_overshoot_by_hand() -> None:
    # 100 kW for 30 s of thermometer and 25 s of heater into 1,000 kg at 4.18 kJ/(kg K): 1.316 K.
    found = overshoot_difference_K(heat_W=100e3, liquor_kg=1000.0, temperature_K=fahrenheit(150.0))
    assert found == pytest.approx(100e3 * 55.0 / 4.18e6, rel=3e-3)


@verifies("controls.set_points.set_points_of")
def test_a_small_tank_needs_a_wider_alarm(usual: UnitAnswer) -> None:
    # Half the liquor: overshoot 3.4 degF, with 2 of differential and 1 of thermometers 6.4, in half degrees 6.5.
    points = set_points_of(usual)
    small = replace(usual, unit=replace(usual.unit, tank=replace(TANK, working_depth_m=TANK.working_depth_m / 2.0)))
    narrow = set_points_of(small)
    assert narrow.overshoot_difference_K == pytest.approx(2.0 * points.overshoot_difference_K, rel=1e-9)
    assert narrow.deviation_alarm_K - narrow.set_point_K == pytest.approx(6.5 * F, abs=1e-6)
    assert narrow.least_deviation_difference_K < 6.5 * F
    with pytest.raises(OutOfRange, match=r"deviation_difference_K .*at least differential \+ overshoot"):
        set_points_of(small, TemperatureChoices(deviation_difference_K=5.0 * F))
    # 3.4 + 4 + 1 degF: more than the usual 8, and the unit gets it; a tenth of the liquor would need 20.
    wide = set_points_of(small, TemperatureChoices(differential_difference_K=4.0 * F))
    assert wide.deviation_alarm_K - wide.set_point_K == pytest.approx(8.5 * F, abs=1e-6)
    tiny = replace(usual, unit=replace(usual.unit, tank=replace(TANK, working_depth_m=TANK.working_depth_m / 10.0)))
    with pytest.raises(OutOfRange, match="a smaller differential, or less heat on this tank"):
        set_points_of(tiny)


@pytest.mark.parametrize(
    ("choices", "name"),
    [
        (TemperatureChoices(set_point_K=fahrenheit(156.0)), "set_point_K"),
        (TemperatureChoices(high_limit_difference_K=11.0 * F), "high_limit_difference_K"),
        (TemperatureChoices(deviation_difference_K=3.9 * F), "deviation_difference_K"),
        (TemperatureChoices(deviation_difference_K=8.1 * F), "deviation_difference_K"),
        (TemperatureChoices(thermometer_error_difference_K=float("nan")), "thermometer_error_difference_K"),
    ],
)
def test_a_choice_out_of_range_is_named(usual: UnitAnswer, choices: TemperatureChoices, name: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        set_points_of(usual, choices)
    assert caught.value.name == name


@verifies("controls.delays.delays_of")
def test_delays_are_common_practice(usual: UnitAnswer) -> None:
    practice = {
        "airflow_proving_s": (5.0, 15.0),
        "airflow_loss_s": (2.0, 3.0),
        "pump_proving_s": (10.0, 20.0),
        "rod_dry_s": (3.0, 5.0),
        "rod_wet_s": (1.0, 2.0),
        "tube_cool_down_s": (60.0, 180.0),
        "blower_run_on_s": (60.0, 180.0),
        "pre_purge_s": (15.0, 30.0),
        "post_purge_s": (15.0, 30.0),
    }
    delays = delays_of(usual)
    by_name = {delay.name: delay for delay in DELAYS}
    for name, (low, high) in practice.items():
        assert low <= delays[name] <= high
        assert (by_name[name].low_s, by_name[name].high_s) == (low, high)


@verifies("controls.delays.delays_of")
def test_safety_times_are_within_what_is_remembered_of_the_code(usual: UnitAnswer) -> None:
    # NFPA 86 from memory: trial for ignition at most 15 s, flame failure response at most 4 s.
    assert delays_of(usual)["ignition_s"] <= 15.0
    assert delays_of(usual)["flame_failure_s"] <= 4.0
    for name, most in (("ignition_s", 15.0), ("flame_failure_s", 4.0)):
        with pytest.raises(OutOfRange):
            usual_delays({name: most + 0.5})


@verifies("controls.delays.delays_of")
def test_the_refill_timer_is_twice_the_fill_from_the_low_rod(usual: UnitAnswer) -> None:
    # By hand from the tank's plan and the rods: area x height / (refill - evaporation), in the governing season.
    stack, job = levels_of(usual), usual.job
    low_m, off_m = stack.mark("low").height_m, stack.mark("refill-off").height_m
    result = usual.seasons[usual.governing]
    away_m3_s = (result.evaporation_kg_s + result.operation.drift_kg_s) / 998.2
    fill_s = TANK.length_m * TANK.width_m * (off_m - low_m) / (job.number("choices.refill_flow") - away_m3_s)
    assert delays_of(usual)[REFILL_RUN] == pytest.approx(2.0 * fill_s, abs=1.0)


def test_a_delay_that_a_shop_sets_is_held_to_its_range_and_name(usual: UnitAnswer) -> None:
    assert delays_of(usual, {"rod_dry_s": 5.0, REFILL_RUN: 700.0})["rod_dry_s"] == 5.0
    assert delays_of(usual, {REFILL_RUN: 700.0})[REFILL_RUN] == 700.0
    with pytest.raises(InputError, match="rod_dry: is no delay"):
        delays_of(usual, {"rod_dry": 5.0})
    with pytest.raises(OutOfRange, match="refill_run_s"):
        delays_of(usual, {REFILL_RUN: 5.0})


def test_sections_say_which_times_are_the_safeguards_own(usual: UnitAnswer) -> None:
    delays = delays_of(usual)
    labels = {figure.name: figure.label for figure in delays_section(delays, "gas").figures}
    assert labels["ignition_s"] == "trial for ignition (set at the burner safeguard)"
    assert "ignition_s" not in {figure.name for figure in delays_section(delays, "steam").figures}
    assert {figure.name for figure in delays_section(delays, "gas").figures} >= {"rod_dry_s", REFILL_RUN}
