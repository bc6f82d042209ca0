"""A unit as it was found: each factor moves what it should, and none is taken outside its range."""

import math

import pytest

from invented_unit import unit
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.balance import SeasonResult, conditions_of, settle
from vaporwright.unit.catalogue import SteamCoilPart
from vaporwright.unit.job import build_job


def settled(**factors: float) -> SeasonResult:
    conditions = conditions_of(build_job({"duty.volume": 8.6e-6}), "winter")
    return settle(*as_found(unit(), conditions, AsFound(**factors)))


def test_all_ones_are_the_design() -> None:
    conditions = conditions_of(build_job({"duty.volume": 8.6e-6}), "winter")
    assert as_found(unit(), conditions, AsFound()) == (unit(), conditions)


@pytest.mark.parametrize("factor", ["merkel_factor", "air_factor", "spray_factor"])
def test_a_worse_tower_is_a_hotter_tank_at_nearly_the_same_rate(factor: str) -> None:
    # Trade: a heat-limited rate tells nothing about the fill; the settling temperature does.
    design, worse = settled(), settled(**{factor: 0.75})
    assert design.limit == worse.limit == "heat"
    assert worse.settling_temperature_K > design.settling_temperature_K + 2.0
    assert worse.evaporation_kg_s == pytest.approx(design.evaporation_kg_s, rel=0.02)


@pytest.mark.parametrize("factor", ["input_factor", "heat_factor"])
def test_short_heat_is_a_colder_tank_and_less_water(factor: str) -> None:
    design, short = settled(), settled(**{factor: 0.9})
    assert short.settling_temperature_K < design.settling_temperature_K - 1.0
    assert short.heat_W == pytest.approx(0.9 * design.heat_W, rel=0.01)
    assert 0.85 < short.evaporation_kg_s / design.evaporation_kg_s < 0.92
    drawn = 0.9 if factor == "input_factor" else 1.0
    assert short.fuel_or_power_W == pytest.approx(drawn * design.fuel_or_power_W, rel=1e-9)


def test_air_follows_the_fan_law() -> None:
    # On the same ducts pressure goes with the flow squared, so that all three laws meet: flow as the factor.
    design, slow = settled().operation.tower, settled(air_factor=0.8).operation.tower
    assert slow.blower_flow_m3_s == pytest.approx(0.8 * design.blower_flow_m3_s, rel=0.015)
    assert slow.blower_shaft_power_W == pytest.approx(0.8**3 * design.blower_shaft_power_W, rel=0.04)


@pytest.mark.parametrize("wrong", [0.0, -1.0, 10.0, math.nan, math.inf])
def test_a_factor_that_no_unit_has_is_refused(wrong: float) -> None:
    with pytest.raises(OutOfRange, match="air_factor"):
        AsFound(air_factor=wrong)


def test_a_steam_coil_has_no_input_factor() -> None:
    coil = SteamCoilPart("S", "coil", "316", 0.2, 0.02, 0.001, 15.0, 10.0, 2, 7e5, 50.0)
    conditions = conditions_of(build_job({"duty.volume": 8.6e-6, "choices.heat_source": "steam"}), "winter")
    with pytest.raises(InputError, match="input_factor"):
        as_found(unit(heat_source=coil), conditions, AsFound(input_factor=0.9))
