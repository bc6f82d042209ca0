"""The balance of the unit: its clamp, the liquor of a batch, its warnings, and where nothing settles."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BURNER, FILL, FOOT, GPM, HEATER, PUMP, TANK, TOWER, fahrenheit, unit
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import (
    SeasonResult,
    clamp_of,
    conditions_of,
    liquor_of,
    operate,
    pump_shaft_power_W,
    settle,
)
from vaporwright.unit.job import build_job

VOLUME: dict[str, Any] = {"duty.volume": 8.6e-6}


def settled(parts: AssembledUnit, season: str = "summer", **given: Any) -> SeasonResult:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return settle(parts, conditions_of(build_job({**VOLUME, **values}), season))


def test_the_clamp_is_the_lowest_of_set_point_parts_and_boiling() -> None:
    conditions = conditions_of(build_job({**VOLUME, "choices.set_point": fahrenheit(150.0)}), "summer")
    assert clamp_of(unit(), conditions) == (pytest.approx(fahrenheit(150.0)), "set point")
    soft = replace(TOWER, temperature_limits_K=(("fill", fahrenheit(160.0)), ("hose", fahrenheit(140.0))))
    assert clamp_of(unit(tower=soft), conditions) == (pytest.approx(fahrenheit(140.0)), "hose")
    lined = replace(TANK, temperature_limit_K=fahrenheit(120.0))
    assert clamp_of(unit(tank=lined), conditions) == (pytest.approx(fahrenheit(120.0)), "tank")
    given = {**VOLUME, "choices.set_point": 368.15, "site.elevation": 3500.0}
    hardy = unit(
        tower=replace(TOWER, temperature_limits_K=(("fill", 372.0),)), tank=replace(TANK, temperature_limit_K=372.0)
    )
    limit_K, part = clamp_of(hardy, conditions_of(build_job(given), "summer"))
    # Water boils at about 88.4 degC under the standard 65.8 kPa of 3,500 m (steam tables)
    assert limit_K == pytest.approx(273.15 + 88.4 - 5.0, abs=0.3)
    assert "boiling" in part


def test_pump_heat_is_density_gravity_head_flow_over_efficiency() -> None:
    hydraulic_W = 1000.0 * 9.80665 * 40.0 * FOOT * 60.0 * GPM
    assert pump_shaft_power_W(unit(), 1000.0) == pytest.approx(hydraulic_W / 0.5)


def test_the_liquor_is_struck_halfway_and_at_the_end_of_a_batch() -> None:
    job = build_job({**VOLUME, "liquid.dissolved_solids": 6.0, "liquid.concentration_factor": 9.0})
    feed = 6.0 / (998.0 + 0.65 * 6.0)
    halfway, end = liquor_of(job, end_of_batch=False), liquor_of(job, end_of_batch=True)
    # Nine volumes of feed in one leave all solids behind; the water is reckoned out of the volume.
    assert halfway.dissolved_solids_kg_kg == pytest.approx(5.0 * feed, rel=0.04)
    assert end.dissolved_solids_kg_kg == pytest.approx(9.0 * feed, rel=0.06)


def test_chloride_may_be_all_of_the_solids() -> None:
    job = build_job({**VOLUME, "liquid.dissolved_solids": 5.0, "liquid.chloride": 5.0})
    liquor = liquor_of(job, end_of_batch=False)
    assert liquor.chloride_kg_kg == pytest.approx(liquor.dissolved_solids_kg_kg)


def test_a_batch_that_would_crystallise_names_factor_and_limit() -> None:
    job = build_job({**VOLUME, "liquid.dissolved_solids": 60.0, "liquid.concentration_factor": 20.0})
    with pytest.raises(InputError, match=r"20 would crystallise salt from 60000 mg/L") as caught:
        conditions_of(job, "summer")
    assert caught.value.key == "liquid.concentration_factor"
    most = float(caught.value.allowed.removeprefix("at most ").split()[0])
    allowed = build_job({**VOLUME, "liquid.dissolved_solids": 60.0, "liquid.concentration_factor": most * 0.995})
    conditions_of(allowed, "summer")


def test_at_the_clamp_the_heat_drawn_is_what_the_tank_takes() -> None:
    small = unit(merkel=0.5, heat_source=HEATER)
    result = settled(small, choices__set_point=fahrenheit(115.0))
    assert result.limit == "tower"
    assert result.settling_temperature_K == pytest.approx(fahrenheit(115.0))
    assert 0.0 < result.load < 1.0
    assert result.at_clamp is None
    assert result.heat_W == pytest.approx(result.load * result.heat.heat_W)
    assert result.fuel_or_power_W == pytest.approx(result.load * 60e3)
    assert abs(result.operation.energy.closing_W) < 1e-6 * result.heat_W
    again = operate(small, result.conditions, result.settling_temperature_K, result.heat_W)
    assert again.evaporation_kg_s == pytest.approx(result.evaporation_kg_s, rel=1e-4)


def test_below_the_clamp_the_tower_could_carry_more() -> None:
    result = settled(unit(), choices__set_point=fahrenheit(160.0))
    assert result.limit == "heat"
    assert result.load == 1.0
    assert result.at_clamp is not None
    assert result.at_clamp.temperature_K == pytest.approx(result.clamp_K)
    assert result.at_clamp.evaporation_kg_s > result.evaporation_kg_s
    assert result.at_clamp.energy.closing_W < 0.0


def test_a_tower_far_too_large_for_its_heat_still_settles_close_to_the_wet_bulb() -> None:
    large = replace(TOWER, fill=replace(FILL, area_m2=1.7, merkel_coefficient=0.8))
    weak = replace(HEATER, rated_power_W=11e3, sheath_area_m2=HEATER.sheath_area_m2 / 5.0)
    result = settled(unit(tower=large, heat_source=weak), "summer")
    above_K = result.settling_temperature_K - result.conditions.air.wet_bulb_temperature_K
    assert 3.0 < above_K < 5.0
    assert abs(result.operation.energy.closing_W) < 1e-4 * result.heat_W


def test_heat_that_does_not_cover_the_losses_is_named() -> None:
    feeble = replace(HEATER, rated_power_W=500.0)
    with pytest.raises(NotConverged, match="heat source does not cover the losses of the tank"):
        settled(unit(heat_source=feeble), "winter", site__air_supply="outdoors")


def test_a_set_point_below_the_wet_bulb_is_named() -> None:
    with pytest.raises(OutOfRange, match="the wet bulb of the summer air") as caught:
        settled(unit(), choices__set_point=303.15, site__summer__wet_bulb=302.0, site__summer__air_temperature=306.0)
    assert caught.value.name == "set_point_K"


def names(result: SeasonResult) -> set[str]:
    return {notice.name for notice in result.warnings}


def test_warnings_of_the_wetted_fill() -> None:
    usual = settled(unit(), site__air_supply="room")
    assert not names(usual) & {"minimum wetting", "water loading", "flooding", "pump too small"}
    assert "minimum wetting" in names(settled(unit(spray_gpm=20.0)))
    drowned = names(settled(unit(spray_gpm=80.0)))
    assert {"water loading", "pump too small"} <= drowned
    flooded = replace(TOWER, fill=replace(FILL, flooding_air_velocity_m_s=1.0))
    assert "flooding" in names(settled(unit(tower=flooded)))
    narrow = replace(TOWER, fill=replace(FILL, tested_ratio_low=5.0, tested_ratio_high=6.0))
    assert "L/G outside the fill test" in names(settled(unit(tower=narrow)))


def test_a_hotter_tank_than_the_fill_test_is_flagged() -> None:
    cool = replace(TOWER, fill=replace(FILL, tested_water_high_K=fahrenheit(100.0)))
    hot = replace(TOWER, fill=replace(FILL, tested_water_high_K=fahrenheit(160.0)))
    assert "hotter than the fill test" in names(settled(unit(tower=cool)))
    assert "hotter than the fill test" not in names(settled(unit(tower=hot)))


def test_drift_and_feed_follow_the_spray() -> None:
    result = settled(unit(heat_source=BURNER, pump=PUMP))
    operation = result.operation
    spray_kg_s = 45.0 * GPM * 990.0
    assert operation.drift_kg_s == pytest.approx(2e-4 * spray_kg_s, rel=0.03)
    assert operation.feed_kg_s == pytest.approx(operation.evaporation_kg_s + operation.drift_kg_s)
