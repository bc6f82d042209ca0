"""Warm-up: heat stored over heat left, slower with the tower running, stalling where the unit settles."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import HEATER, TANK, fahrenheit, unit
from vaporwright.unit import warm_up as warm_up_module
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import SeasonResult, conditions_of, settle
from vaporwright.unit.job import build_job
from vaporwright.unit.warm_up import WarmUp, warm_up


def warmed(parts: AssembledUnit, season: str = "winter", **given: Any) -> tuple[SeasonResult, WarmUp]:
    values = {key.replace("__", "."): value for key, value in given.items()}
    result = settle(parts, conditions_of(build_job({"duty.volume": 8.6e-6, **values}), season))
    return result, warm_up(parts, result)


def test_with_the_tower_off_the_water_takes_its_heat_over_the_power() -> None:
    # A lidded, insulated tank under electric heat loses little: mass x heat capacity x rise / power, by hand.
    tank = replace(TANK, insulation_thickness_m=0.1)
    strong = replace(HEATER, rated_power_W=120e3, sheath_area_m2=2.0 * HEATER.sheath_area_m2)
    result, times = warmed(
        unit(tank=tank, heat_source=strong),
        choices__lid_covered=0.98,
        liquid__dissolved_solids=0.0,
        site__air_supply="room",
    )
    litres = 7.0 * 4.0 * 2.2 * 28.3168
    by_hand_s = litres * 4.18e3 * (result.settling_temperature_K - fahrenheit(60.0)) / 120e3
    assert times.tower_off_s is not None
    assert times.tower_off_s == pytest.approx(by_hand_s, rel=0.06)


def test_with_the_tower_running_it_stalls_where_it_settles() -> None:
    result, times = warmed(unit())
    assert result.limit == "heat"
    assert times.stalls_at_K == result.settling_temperature_K == times.target_K
    assert times.tower_off_s is not None
    assert times.tower_on_s is not None
    assert times.tower_off_s < times.tower_on_s
    # Common practice, no source: about an hour with the tower off.
    assert 20.0 < times.tower_off_s / 60.0 < 120.0


@pytest.mark.parametrize("parts", [unit(), unit(merkel=0.4)], ids=["stalls", "clamped"])
def test_its_few_steps_are_enough_up_to_the_stall(parts: AssembledUnit, monkeypatch: pytest.MonkeyPatch) -> None:
    _, few = warmed(parts)
    monkeypatch.setattr(warm_up_module, "STEPS", 128)
    _, many = warmed(parts)
    assert few.tower_on_s == pytest.approx(many.tower_on_s, rel=1e-3)
    assert few.tower_off_s == pytest.approx(many.tower_off_s, rel=1e-3)


def test_a_clamped_tank_does_not_stall() -> None:
    result, times = warmed(unit(merkel=0.4), choices__set_point=fahrenheit(115.0))
    assert result.limit == "tower"
    assert times.stalls_at_K is None
    assert times.target_K == pytest.approx(fahrenheit(115.0))


def test_a_feed_hotter_than_the_tank_needs_no_warm_up() -> None:
    _, times = warmed(unit(), liquid__feed_temperature=fahrenheit(190.0))
    assert times.tower_off_s == 0.0


def test_twice_the_water_takes_twice_the_time() -> None:
    deep = replace(TANK, working_depth_m=2.0 * TANK.working_depth_m, height_m=2.0 * TANK.height_m)
    _, usual = warmed(unit())
    _, doubled = warmed(unit(tank=replace(deep, insulation_thickness_m=TANK.insulation_thickness_m)))
    assert usual.tower_off_s is not None
    assert doubled.tower_off_s is not None
    assert doubled.tower_off_s == pytest.approx(2.0 * usual.tower_off_s, rel=0.03)


def test_a_start_under_the_wet_bulb_of_recirculated_air_is_no_error() -> None:
    # Room air drawn in with much warm exhaust: at a cold start the tower would warm the tank.
    _, times = warmed(
        unit(heat_source=HEATER),
        "summer",
        site__exhaust_recirculation=0.47,
        liquid__feed_temperature=275.0,
        choices__set_point=318.0,
        site__summer__relative_humidity=0.95,
        site__summer__air_temperature=300.0,
    )
    assert times.tower_on_s is not None
