"""Maps for the simulated unit against exact ratings at random temperatures."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest

from invented_unit import BURNER, HEATER, fahrenheit, unit
from vaporwright.foundation.errors import NotConverged, OutOfRange, VaporwrightError
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK
from vaporwright.unit import tower_map as module
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, conditions_of, operate
from vaporwright.unit.bath_map import LiquorParts, Losses, heat_table, liquor_table, loss_table
from vaporwright.unit.heat import rate_heat
from vaporwright.unit.job import build_job
from vaporwright.unit.temperature_table import STEP_K, rated_ends_K, table_through
from vaporwright.unit.tower_map import TowerMap, rate_tower, tower_map

OUTDOOR_WINTER = {"site.air_supply": "outdoors", "site.winter.air_temperature": 258.15}
CASES = (("summer", {}), ("winter", {}), ("winter", OUTDOOR_WINTER))
WORKING_K = (300.0, fahrenheit(160.0))


def conditions(season: str = "summer", **given: Any) -> Conditions:
    job = {"duty.volume": 8.6e-6, "choices.set_point": fahrenheit(160.0), "liquid.dissolved_solids": 8.0}
    return conditions_of(build_job({**job, **given}), season)


@lru_cache
def mapped(case: int) -> tuple[AssembledUnit, Conditions, TowerMap]:
    season, given = CASES[case]
    parts, around = unit(), conditions(season, **given)
    return parts, around, tower_map(parts, around)


def worst(case: int, spray_share: float, air_share: float) -> tuple[float, float]:
    """Greatest share by which heat and evaporation differ from the exact rating."""
    parts, around, by_map = mapped(case)
    draw = random.Random(20)
    heat = evaporation = 0.0
    for _ in range(40):
        temperature_K = draw.uniform(max(WORKING_K[0], by_map.table.first_node_K + 8.0), WORKING_K[1])
        exact = rate_tower(parts, around, temperature_K, spray_share, air_share)
        found = by_map.rates(temperature_K, spray_share, air_share)
        heat = max(heat, abs(found.heat_W / exact.heat_to_air_W - 1.0))
        evaporation = max(evaporation, abs(found.evaporation_kg_s / exact.evaporation_kg_s - 1.0))
    return heat, evaporation


@pytest.mark.parametrize("case", range(len(CASES)))
@pytest.mark.parametrize(
    ("spray_share", "air_share", "within"),
    [
        (1.0, 1.0, 1.0e-3),
        (0.85, 1.0, 3.0e-3),
        (0.55, 1.0, 3.0e-3),
        (0.7, 1.0, 1.5e-3),
        (1.0, 0.75, 2.0e-2),
        (0.7, 0.5, 1.5e-3),
        (1.0, 0.3, 9.0e-2),
    ],
)
def test_the_map_agrees_with_exact_ratings(case: int, spray_share: float, air_share: float, within: float) -> None:
    heat, evaporation = worst(case, spray_share, air_share)
    assert heat < within
    assert evaporation < within


def test_the_map_is_what_the_balance_uses() -> None:
    parts, around, by_map = mapped(0)
    towers = replace(parts, towers=2, spray_flow_m3_s=2.0 * parts.spray_flow_m3_s)
    doubled = tower_map(towers, around)
    for temperature_K in (310.0, 325.0, 338.0):
        one, two = operate(parts, around, temperature_K, 0.0), operate(towers, around, temperature_K, 0.0)
        assert by_map.rates(temperature_K).heat_W == pytest.approx(one.energy.tower_air_W, rel=1e-3)
        assert doubled.rates(temperature_K).heat_W == pytest.approx(two.energy.tower_air_W, rel=1e-3)
        assert doubled.rates(temperature_K).evaporation_kg_s == pytest.approx(two.tower_evaporation_kg_s, rel=1e-3)
        assert doubled.blower_power_W(temperature_K) == pytest.approx(2.0 * two.tower.blower_input_W, rel=2e-3)
        assert doubled.air_flow_m3_s(temperature_K) == pytest.approx(2.0 * two.tower.blower_flow_m3_s, rel=2e-3)


def test_without_spray_or_without_air_the_tower_does_nothing() -> None:
    _, _, by_map = mapped(0)
    assert by_map.rates(330.0, 0.0, 1.0) == (0.0, 0.0)
    assert by_map.rates(330.0, 1.0, 0.0) == (0.0, 0.0)


def test_half_speed_moves_half_the_air() -> None:
    # Fan laws against a resistance that goes with the square of the flow; hot exhaust shifts it by a little.
    parts, around, _ = mapped(0)
    full, half = rate_tower(parts, around, 312.0), rate_tower(parts, around, 312.0, 1.0, 0.5)
    assert half.blower_flow_m3_s == pytest.approx(0.5 * full.blower_flow_m3_s, rel=5e-3)
    assert half.blower_shaft_power_W == pytest.approx(0.125 * full.blower_shaft_power_W, rel=1.5e-2)


def test_under_the_wet_bulb_the_air_warms_the_liquor() -> None:
    _, around, by_map = mapped(0)
    coldest_K = by_map.table.first_node_K
    assert 0.0 < coldest_K - around.air.wet_bulb_temperature_K < 1.5
    # What the enthalpies of saturated air say: about as steep below the wet bulb as above.
    above, below = by_map.rates(coldest_K + 4.0).heat_W, by_map.rates(coldest_K - 4.0).heat_W
    assert below < 0.0
    assert -below == pytest.approx(above, rel=0.35)
    heats = [by_map.rates(274.0 + 0.5 * index).heat_W for index in range(190)]
    assert heats == sorted(heats)


def test_freezing_in_the_fill_ends_the_rated_range() -> None:
    parts, around, by_map = mapped(2)
    assert 274.0 < by_map.table.first_node_K < 285.0
    with pytest.raises(OutOfRange, match="freeze"):
        rate_tower(parts, around, 273.65)


def test_few_exact_ratings_make_the_map(monkeypatch: pytest.MonkeyPatch) -> None:
    count = 0
    exact = module.rate_tower_on_blower

    def counted(**given: Any) -> Any:
        nonlocal count
        count += 1
        return exact(**given)

    monkeypatch.setattr(module, "rate_tower_on_blower", counted)
    tower_map(unit(), conditions())
    assert 60 < count < 110


def test_a_trickle_gives_up_no_more_heat_per_kilogram_than_the_least_spray_rated() -> None:
    _, _, found = mapped(0)
    least = min(found.spray_shares)
    per_share = [found.rates(330.0, share).heat_W / share for share in (least, 0.5 * least, 0.05 * least)]
    assert per_share == pytest.approx([per_share[0]] * 3)
    assert found.rates(330.0, 1.001 * least).heat_W == pytest.approx(found.rates(330.0, 0.999 * least).heat_W, rel=0.01)


def test_a_spray_share_that_cannot_be_rated_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    parts, around, by_map = mapped(0)
    exact = module.rate_tower_on_blower
    least_kg_s = 0.5 * 998.0 * parts.spray_flow_m3_s

    def blower_runs_out(**given: Any) -> Any:
        if given["water_flow_kg_s"] < least_kg_s:
            raise NotConverged("air_flow_m3_s: the blower runs out beyond the end of its curve")
        return exact(**given)

    monkeypatch.setattr(module, "rate_tower_on_blower", blower_runs_out)
    shorter = tower_map(parts, around)
    assert by_map.spray_shares == (1.0, 0.7, 0.4)
    assert shorter.spray_shares == (1.0, 0.7)
    for spray_share in (1.0, 0.85, 0.7):
        heat_W = by_map.rates(330.0, spray_share).heat_W
        assert shorter.rates(330.0, spray_share).heat_W == pytest.approx(heat_W, rel=1e-2)
    assert 0.0 < shorter.rates(330.0, 0.2).heat_W < shorter.rates(330.0, 0.4).heat_W < by_map.rates(330.0, 0.7).heat_W


def test_losses_and_heat_agree_with_exact_ratings() -> None:
    parts, around = unit(), conditions("winter")
    losses, burner = loss_table(parts, around), heat_table(parts, around)
    electric = heat_table(unit(heat_source=HEATER), around)
    draw = random.Random(3)
    for _ in range(25):
        temperature_K = draw.uniform(*WORKING_K)
        exact, found = operate(parts, around, temperature_K, 0.0), Losses(*losses.at(temperature_K))
        assert found.surface_evaporation_kg_s == pytest.approx(exact.surface_evaporation_kg_s, rel=1e-3)
        assert found.surface_vapour_W == pytest.approx(exact.energy.surface_vapour_W, rel=1e-3)
        assert found.surface_dry_W == pytest.approx(exact.energy.surface_dry_W, rel=1e-3)
        assert found.walls_W == pytest.approx(exact.energy.walls_W, rel=1e-3)
        assert found.piping_W == pytest.approx(exact.energy.piping_W, rel=1e-3)
        heat_W = rate_heat(BURNER, around.heat_site, temperature_K).heat_W
        assert burner.at(temperature_K)[0] == pytest.approx(heat_W, rel=1e-4)
        assert electric.at(temperature_K)[0] == pytest.approx(60e3, rel=1e-4)


@pytest.mark.parametrize("solids_kg_m3", [0.0, 1.0, 8.0])
def test_water_and_salt_parts_make_the_liquor(solids_kg_m3: float) -> None:
    around = conditions(**{"liquid.dissolved_solids": solids_kg_m3})
    liquor, table = around.liquor, liquor_table(around)
    w = liquor.dissolved_solids_kg_kg
    assert (w > 0.0) == (solids_kg_m3 > 0.0)
    for temperature_K in (283.15, 310.0, 341.3):
        at = LiquorParts(*table.at(temperature_K))
        volume_m3_kg = (1.0 - w) * at.water_m3_kg + w * at.salt_m3_kg
        assert volume_m3_kg == pytest.approx(1.0 / density_kg_m3(liquor, temperature_K), rel=2e-6)
        warmer = LiquorParts(*table.at(temperature_K + 2.0))
        rise_J_kg = (1.0 - w) * (warmer.water_J_kg - at.water_J_kg) + w * (warmer.salt_J_kg - at.salt_J_kg)
        # The liquid's enthalpy and heat capacity are fits of their own, within 0.1 % of one another.
        assert rise_J_kg == pytest.approx(2.0 * heat_capacity_J_kgK(liquor, temperature_K + 1.0), rel=1.5e-3)


def test_outside_the_table_and_beyond_the_design_is_an_error() -> None:
    _, _, by_map = mapped(0)
    for temperature_K in (272.0, 400.0):
        with pytest.raises(OutOfRange, match="temperature_K"):
            by_map.rates(temperature_K)
    with pytest.raises(OutOfRange, match="spray_share"):
        by_map.rates(330.0, 1.1)
    with pytest.raises(OutOfRange, match="air_share"):
        by_map.rates(330.0, 1.0, -0.1)


def test_a_table_meets_a_cubic_inside_and_its_end_slope_outside() -> None:
    def cubic(x: float) -> float:
        return 1.0 + 0.02 * (x - 330.0) + 3e-4 * (x - 310.0) ** 2 - 1e-5 * (x - 320.0) ** 3

    nodes = [(cubic(300.0 + 10.0 * index),) for index in range(6)]
    table = table_through(nodes, 300.0, 350.0, 360.0)
    for temperature_K in (300.05, 304.0, 333.3, 349.9):
        assert table.at(temperature_K)[0] == pytest.approx(cubic(temperature_K), abs=0.2 * STEP_K**2)
    step = table.at(300.2)[0] - table.at(300.0)[0]
    assert table.at(300.0)[0] - table.at(299.8)[0] == pytest.approx(step, rel=0.1)


def test_the_rated_range_is_searched_from_both_ends() -> None:
    def rate(temperature_K: float) -> None:
        if temperature_K < 290.0:
            raise OutOfRange("temperature_K", temperature_K, 290.0, None, "says where it begins")
        if temperature_K > 341.0:
            raise VaporwrightError("does not say where it ends")

    first_K, last_K = rated_ends_K(rate, 274.0, 370.0)
    assert 290.0 < first_K < 290.2
    assert 337.0 <= last_K <= 341.0

    def never(temperature_K: float) -> None:
        raise VaporwrightError(f"no {temperature_K}")

    with pytest.raises(VaporwrightError, match="no "):
        rated_ends_K(never, 274.0, 370.0)
