"""One tower on its blower: where air meets resistance, what the intake draws in again, where rounds begin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BLOWER, FILL, IN_WC, TOWER
from vaporwright.equipment.blower import blower_best_flow_m3_s
from vaporwright.foundation.errors import InputError
from vaporwright.properties.moist_air import enthalpy_J_kg, specific_volume_m3_kg
from vaporwright.unit.air_path import (
    Intake,
    TowerRating,
    blower_curve,
    merkel_number_of_fill,
    rate_tower_on_blower,
    with_merkel_factor,
)

PRESSURE_Pa = 101325.0
AIR = Intake(298.15, 0.010, PRESSURE_Pa, 0.0, 0.0)


def rated(intake: Intake = AIR, water_K: float = 325.0, **changed: Any) -> TowerRating:
    given = {"tower": TOWER, "blower": BLOWER, "water_flow_kg_s": 2.8, "water_activity": 1.0, **changed}
    return rate_tower_on_blower(intake=intake, water_temperature_K=water_K, **given)


def test_the_blower_stands_where_its_pressure_meets_the_resistance() -> None:
    duct_Pa = 0.4 * IN_WC
    free, ducted = rated(), rated(replace(AIR, duct_loss_Pa=duct_Pa))
    assert ducted.blower_flow_m3_s < free.blower_flow_m3_s
    best_m3_s = blower_best_flow_m3_s(blower_curve(BLOWER))
    for result, loss_Pa in ((free, 0.0), (ducted, duct_Pa)):
        out = result.rating
        volume_in = specific_volume_m3_kg(result.air_in_temperature_K, result.air_in_humidity_ratio_kg_kg, PRESSURE_Pa)
        volume_out = specific_volume_m3_kg(out.air_out_temperature_K, out.air_out_humidity_ratio_kg_kg, PRESSURE_Pa)
        volume = 0.5 * (volume_in + volume_out)
        humidity = 0.5 * (result.air_in_humidity_ratio_kg_kg + out.air_out_humidity_ratio_kg_kg)
        velocity = result.dry_air_flow_kg_s * volume / FILL.area_m2
        heads = 28.0 + 1.2 * 2.8 / FILL.area_m2 + 6.0
        tower_Pa = heads * 0.5 * (1.0 + humidity) / volume * velocity**2
        # The duct's loss is stated at the blower's best flow and 1.2 kg/m3.
        density = (1.0 + AIR.humidity_ratio_kg_kg) / specific_volume_m3_kg(298.15, 0.010, PRESSURE_Pa)
        there_Pa = loss_Pa * (result.blower_flow_m3_s / best_m3_s) ** 2 * density / 1.2
        assert result.blower_static_pressure_Pa == pytest.approx(tower_Pa + there_Pa, rel=1e-3)


def test_a_blower_before_the_fill_warms_the_air_and_one_after_it_does_not() -> None:
    before = rated()
    cp_J_kgK = 1006.0 + 0.010 * 1860.0  # textbook heat capacities of dry air and vapour
    rise_K = before.blower_shaft_power_W / before.dry_air_flow_kg_s / cp_J_kgK
    assert before.air_in_temperature_K - AIR.temperature_K == pytest.approx(rise_K, rel=0.01)
    after = rated(tower=replace(TOWER, blower_after_fill=True))
    assert after.air_in_temperature_K == pytest.approx(AIR.temperature_K, abs=1e-3)
    # Hot wet exhaust is lighter: the same blower moves less dry air.
    assert after.blower_density_kg_m3 < before.blower_density_kg_m3
    assert after.dry_air_flow_kg_s < before.dry_air_flow_kg_s


def test_recirculated_exhaust_mixes_in_by_mass() -> None:
    share = 0.15
    result = rated(replace(AIR, recirculated_share=share), tower=replace(TOWER, blower_after_fill=True))
    out = result.rating
    humidity = (1.0 - share) * 0.010 + share * out.air_out_humidity_ratio_kg_kg
    assert result.air_in_humidity_ratio_kg_kg == pytest.approx(humidity, rel=1e-3)
    outdoor_J_kg = enthalpy_J_kg(298.15, 0.010, PRESSURE_Pa)
    mixed_J_kg = (1.0 - share) * outdoor_J_kg + share * out.air_out_enthalpy_J_kg
    got_J_kg = enthalpy_J_kg(result.air_in_temperature_K, result.air_in_humidity_ratio_kg_kg, PRESSURE_Pa)
    assert got_J_kg == pytest.approx(mixed_J_kg, abs=200.0)
    assert result.evaporation_kg_s < rated(tower=replace(TOWER, blower_after_fill=True)).evaporation_kg_s


def test_evaporation_is_air_times_the_humidity_gained() -> None:
    result = rated()
    gained = result.rating.air_out_humidity_ratio_kg_kg - result.air_in_humidity_ratio_kg_kg
    assert result.evaporation_kg_s == pytest.approx(result.dry_air_flow_kg_s * gained, rel=1e-9)
    assert result.water_to_air_ratio == pytest.approx(2.8 / result.dry_air_flow_kg_s)
    assert result.merkel_number == pytest.approx(0.35 * result.water_to_air_ratio**-0.6)
    assert result.blower_input_W == pytest.approx(result.blower_shaft_power_W / 0.85)


@pytest.mark.parametrize("recirculated", [0.0, 0.3])
def test_where_the_rounds_begin_does_not_matter(recirculated: float) -> None:
    air = replace(AIR, recirculated_share=recirculated)
    hot, hotter = rated(air, 335.0), rated(air, 345.0)
    scratch = rated(air, 318.0)
    for earlier in ([hot], [hotter, hot], [hot, hotter]):
        again = rated(air, 318.0, earlier=earlier)
        assert again.evaporation_kg_s == pytest.approx(scratch.evaporation_kg_s, rel=5e-4)
        assert again.dry_air_flow_kg_s == pytest.approx(scratch.dry_air_flow_kg_s, rel=2e-4)


def test_a_line_from_hot_to_cold_water_that_runs_below_dry_air_is_not_followed() -> None:
    # Cold dry air, tower far too large for its heat: the third guess of the search lies far below the first two.
    cold = Intake(266.5, 0.0015, PRESSURE_Pa, 0.0, 60.0)
    earlier = [rated(cold, 341.0), rated(cold, 315.0)]
    assert earlier[1].rating.air_out_humidity_ratio_kg_kg * 2.0 < earlier[0].rating.air_out_humidity_ratio_kg_kg
    again = rated(cold, 289.0, earlier=earlier)
    assert again.evaporation_kg_s == pytest.approx(rated(cold, 289.0).evaporation_kg_s, rel=5e-4)


def test_points_reduced_by_another_model_are_not_used() -> None:
    tower = replace(TOWER, fill=replace(FILL, model="merkel"))
    with pytest.raises(InputError, match="refit the raw points"):
        merkel_number_of_fill(tower, 3.0)


def test_a_merkel_factor_scales_the_law() -> None:
    assert merkel_number_of_fill(with_merkel_factor(TOWER, 1.3), 2.5) == pytest.approx(
        1.3 * merkel_number_of_fill(TOWER, 2.5)
    )


def test_a_liquor_of_less_heat_capacity_cools_more_and_evaporates_less() -> None:
    water, liquor = rated(), rated(heat_capacity_share=0.9)
    assert liquor.evaporation_kg_s < water.evaporation_kg_s
    # K a V stays: a tenth less heat capacity costs far less than a tenth of the evaporation.
    assert liquor.evaporation_kg_s > 0.96 * water.evaporation_kg_s
