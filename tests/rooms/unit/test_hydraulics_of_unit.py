"""A sized unit's pump, pipes and nozzles reach the circuit; what falls short is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import FOOT, GPM, PUMP, TANK, unit
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.hydraulics import NOZZLE_PRESSURE_Pa, hydraulics_of
from vaporwright.unit.job import build_job

TALL = {"tank": replace(TANK, height_m=4.5 * FOOT)}


def answered(spray_gpm: float = 45.0, parts: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(spray_gpm=spray_gpm, **(parts or TALL)))


def test_the_valve_is_set_for_the_wanted_spray() -> None:
    found = hydraulics_of(answered())
    assert found.reaches_spray
    assert found.flows.spray_flow_m3_s == pytest.approx(45.0 * GPM, rel=1e-6)
    assert found.valve_open.spray_flow_m3_s > found.flows.spray_flow_m3_s
    assert 0.0 < found.flows.handle_angle_deg < 90.0
    # The nozzles were chosen for this pressure with water; by the nozzle law it goes with the liquor's density.
    assert found.flows.header_gauge_Pa == pytest.approx(NOZZLE_PRESSURE_Pa, rel=0.05)


def test_a_pump_too_weak_for_a_high_header_is_said_not_hidden() -> None:
    found = hydraulics_of(answered(58.0, choices__header_height=36.0 * FOOT))
    assert not found.reaches_spray
    assert found.flows.spray_flow_m3_s < 58.0 * GPM


def test_hotter_liquor_and_thinner_air_cost_suction() -> None:
    cool, hot = (
        hydraulics_of(answered(choices__set_point=temperature_K, site__elevation=0.0))
        for temperature_K in (333.15, 344.15)
    )
    high = hydraulics_of(answered(choices__set_point=344.15, site__elevation=2500.0))
    margins = [found.flows.npsh_margin_m for found in (cool, hot, high)]
    assert margins == sorted(margins, reverse=True)
    assert margins[1] - margins[2] == pytest.approx((101325.0 - 74683.0) / (980.0 * 9.80665), rel=0.05)  # ISA, by hand


def test_the_motor_serves_the_whole_curve_at_the_heaviest_liquor() -> None:
    water = hydraulics_of(answered(liquid__dissolved_solids=0.0))
    heavy = hydraulics_of(answered(liquid__dissolved_solids=15.0, liquid__concentration_factor=15.0))
    assert water.motor_size_W >= max(PUMP.curve.shaft_power_W)
    assert heavy.motor_size_W >= water.motor_size_W
