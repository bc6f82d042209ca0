"""A sized unit's pump, pipes and nozzles reach the circuit; what falls short is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import FOOT, GPM, PUMP, TANK, TOWER, unit
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.hydraulics import CHOKED_SHARE, UnitHydraulics, hydraulics_section, turned_valves
from vaporwright.unit.hydraulics import hydraulics_of as solved
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import levels_of

TALL = {"tank": replace(TANK, height_m=4.5 * FOOT)}


def answered(spray_gpm: float = 45.0, parts: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(spray_gpm=spray_gpm, **(parts or TALL)))


def hydraulics_of(answer: UnitAnswer) -> UnitHydraulics:
    return solved(answer, levels_of(answer))


def test_the_valve_is_set_for_the_wanted_spray() -> None:
    answer = answered()
    found = hydraulics_of(answer)
    assert found.reaches_spray
    assert found.flows.spray_flow_m3_s == pytest.approx(45.0 * GPM, rel=1e-6)
    assert found.valve_open.spray_flow_m3_s > found.flows.spray_flow_m3_s
    assert 0.0 < found.flows.handle_angle_deg < 90.0
    # By hand, nozzle law: the rated pressure of the tower's nozzles x (spray / rated spray)^2 x density, on top of the
    # tower's own air pressure.
    rated_gpm = TOWER.rated_water_loading_kg_s_m2 * TOWER.fill.area_m2 / 998.2 / GPM
    nozzle_Pa = TOWER.nozzle_gauge_pressure_Pa * (45.0 / rated_gpm) ** 2
    static_Pa = answer.seasons[answer.governing].operation.tower.blower_static_pressure_Pa
    assert found.flows.header_gauge_Pa == pytest.approx(nozzle_Pa + static_Pa, rel=0.04)


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


def test_a_turned_valve_moves_rate_and_drift() -> None:
    answer = answered()
    found = hydraulics_of(answer)
    wide, choked = turned_valves(answer, found)
    base = answer.seasons[answer.governing]
    assert choked.flows.spray_flow_m3_s == pytest.approx(CHOKED_SHARE * 45.0 * GPM)
    assert choked.flows.shaft_power_W < found.flows.shaft_power_W < wide.flows.shaft_power_W  # it rises with the flow
    assert choked.flows.handle_angle_deg < found.flows.handle_angle_deg < wide.flows.handle_angle_deg
    # Drift is a share of the spray; with less spray the tank must be hotter to lose the same heat.
    assert choked.result.operation.drift_kg_s == pytest.approx(
        CHOKED_SHARE * base.operation.drift_kg_s, rel=0.005
    )  # density
    assert choked.result.settling_temperature_K > base.settling_temperature_K > wide.result.settling_temperature_K


def test_a_pipe_without_a_rating_at_the_clamp_is_named() -> None:
    answer = answered(
        choices__pipe_material="PVC"
    )  # PVC ends at 140 degF (plastic-pressure-derating), the clamp is 155
    section = hydraulics_section(answer, hydraulics_of(answer))
    assert section.value("pipe_rating_Pa") is None
    assert any(notice.name == "pipe too hot" for notice in section.notices)
    cooler = answered(choices__pipe_material="PVC", choices__set_point=(135.0 + 459.67) / 1.8)
    rating = hydraulics_section(cooler, hydraulics_of(cooler)).value("pipe_rating_Pa")
    # By hand: shut-off head 54 ft of hot liquor, PVC keeps 0.26 of its rating at 135 degF.
    assert rating == pytest.approx(54.0 * FOOT * 9.80665 * 1012.0 / 0.26, rel=0.03)
