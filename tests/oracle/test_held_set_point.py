"""A unit whose set point stands under the clamp, against its tower rated at that temperature by the slow solver.

The control ends the heat at the set point, so that the tank is held there: the tower evaporates what it carries at that
temperature, and the heat is on for as long as air, surface and losses ask for, over what it gives when it is on.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import pytest

from example_rigs import example_answer, example_table
from example_subjects import day_of
from oracle import slow_tower
from support import verifies
from vaporwright.acceptance.diagnosis.causes import CAUSES, Case, predicted_readings
from vaporwright.acceptance.quality.as_built import AsBuilt, Truth
from vaporwright.acceptance.sections.performance import run_section
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest, under_test
from vaporwright.acceptance.steps.day import answer_on
from vaporwright.acceptance.steps.procedure import ReadingField
from vaporwright.unit.answer import held_at
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.balance import SeasonResult, operate, settle
from vaporwright.unit.heat import rate_heat
from vaporwright.unit.job import SEASONS

HEATS = ("gas", "electric", "steam")
LOWERED_K = 7.0  # under where the tank would settle
TWO_HOURS_s = 7200.0


class Held(NamedTuple):
    evaporation_kg_s: float
    load: float


def by_hand(result: SeasonResult, tank_K: float) -> Held:
    """Tower by SciPy and CoolProp on the air that the blower gives at that temperature; surface and losses added."""
    conditions = result.conditions
    unit = example_answer(result.heat.kind).unit
    at = operate(unit, conditions, tank_K, 0.0)
    tower = at.tower
    slow = slow_tower.rate(
        water_temperature_K=tank_K,
        water_flow_kg_s=tower.water_flow_kg_s * at.heat_capacity_share,
        air_temperature_K=tower.air_in_temperature_K,
        air_humidity_ratio_kg_kg=tower.air_in_humidity_ratio_kg_kg,
        dry_air_flow_kg_s=tower.dry_air_flow_kg_s,
        pressure_Pa=conditions.pressure_Pa,
        merkel_number=tower.merkel_number / at.heat_capacity_share,
        water_activity=at.water_activity,
        options=slow_tower.Options(relative_tolerance=1e-6),
    )
    in_J_kg = slow_tower.air_enthalpy_J_kg(
        tower.air_in_temperature_K, tower.air_in_humidity_ratio_kg_kg, conditions.pressure_Pa
    )
    evaporation_kg_s = unit.towers * slow.evaporation_kg_s + at.surface_evaporation_kg_s
    energy = at.energy
    feed_kg_s = evaporation_kg_s + at.drift_kg_s
    taken_W = (
        unit.towers * tower.dry_air_flow_kg_s * (slow.air_out_enthalpy_J_kg - in_J_kg)
        + energy.surface_vapour_W
        + energy.surface_dry_W
        + energy.walls_W
        + energy.piping_W
        + at.drift_kg_s * slow_tower.liquid_enthalpy_J_kg(tank_K)
        - energy.pump_W
        - feed_kg_s * slow_tower.liquid_enthalpy_J_kg(conditions.feed_temperature_K)
    )
    return Held(evaporation_kg_s, taken_W / rate_heat(unit.heat_source, conditions.heat_site, tank_K).heat_W)


@cache
def sound(heat: str) -> SeasonResult:
    return answer_on(example_answer(heat), day_of(heat)).seasons["average"]


def held_K(heat: str) -> float:
    return sound(heat).settling_temperature_K - LOWERED_K


@cache
def expected(heat: str) -> Held:
    return by_hand(sound(heat), held_K(heat))


@pytest.mark.parametrize("heat", HEATS)
def test_a_lowered_set_point_is_told_from_full_heat(heat: str) -> None:
    # The tests below would see nothing if the tower carried the same at both.
    assert expected(heat).evaporation_kg_s < 0.85 * sound(heat).evaporation_kg_s
    assert expected(heat).load < 0.9


@verifies("unit.balance.settle")
@pytest.mark.parametrize("heat", HEATS)
def test_as_found_the_tank_is_held_at_it(heat: str) -> None:
    changed = as_found(example_answer(heat).unit, sound(heat).conditions, AsFound(set_point_K=held_K(heat)))
    found = settle(*changed)
    assert (found.limit, found.clamp_part) == ("tower", "set point")
    assert found.settling_temperature_K == pytest.approx(held_K(heat), abs=1e-9)
    assert found.evaporation_kg_s == pytest.approx(expected(heat).evaporation_kg_s, rel=2e-3)
    assert found.load == pytest.approx(expected(heat).load, rel=3e-3)
    assert found.fuel_or_power_W == pytest.approx(expected(heat).load * found.heat.drawn_W, rel=3e-3)


@pytest.mark.parametrize("heat", HEATS)
def test_the_answer_of_every_season_is_held_at_it(heat: str) -> None:
    answer = example_answer(heat)
    coldest_K = min(result.settling_temperature_K for result in answer.seasons.values())
    hottest_K = max(result.settling_temperature_K for result in answer.seasons.values())
    middle_K = 0.5 * (coldest_K + hottest_K)
    held = held_at(answer, middle_K)
    for season in SEASONS:
        before, now = answer.seasons[season], held.seasons[season]
        if before.settling_temperature_K < middle_K:
            assert now.limit == "heat"
            assert now.evaporation_kg_s == pytest.approx(before.evaporation_kg_s, rel=1e-4)
        else:
            at_it = by_hand(before, middle_K)
            assert now.evaporation_kg_s == pytest.approx(at_it.evaporation_kg_s, rel=2e-3)
    assert held.capacity_kg_s == min(entry.evaporation_kg_s for entry in held.seasons.values())
    assert held_at(answer, answer.seasons["summer"].clamp_K) is answer


# The procedure, whose control may stand under the clamp to leave room under a plastic


@cache
def held_under_test(heat: str) -> UnitUnderTest:
    table = example_table(heat)
    lower = replace(table, points=replace(table.points, set_point_K=held_K(heat)))
    return under_test(example_answer(heat), lower, day_of(heat), "full")


def field(under: UnitUnderTest, step: str, key: str) -> ReadingField:
    steps = {entry.key: entry for entry in run_section(under).steps}
    found = steps[step].field(key)
    assert found is not None
    return found


@pytest.mark.parametrize("heat", HEATS)
def test_the_procedure_expects_what_the_tower_carries_there(heat: str) -> None:
    under = held_under_test(heat)
    assert field(under, "run.settle", "tank_temperature_K").expected == pytest.approx(held_K(heat))
    evaporated = field(under, "run.log", "evaporated_kg").expected
    assert evaporated == pytest.approx(expected(heat).evaporation_kg_s * TWO_HOURS_s, rel=2e-3)
    meter = {"gas": "gas_volume_standard_m3", "electric": "electric_energy_J", "steam": "condensate_kg"}[heat]
    full = field(under_test(example_answer(heat), example_table(heat), day_of(heat), "full"), "run.log", meter).expected
    by_load = field(under, "run.log", meter).expected
    assert isinstance(full, float)
    # A coil in the colder tank gives more while it is on.
    at_full = rate_heat(under.unit.heat_source, under.result.conditions.heat_site, held_K(heat)).drawn_W
    assert by_load == pytest.approx(full * expected(heat).load * at_full / sound(heat).heat.drawn_W, rel=5e-3)


@pytest.mark.parametrize("offset", [{"point_set_point": -1.0}, {"thermometer": 1.0}])
def test_a_unit_built_with_it_runs_as_its_tower_does_there(offset: dict[str, float]) -> None:
    heat = "electric"
    under = under_test(example_answer(heat), example_table(heat), day_of(heat), "full")
    (name, sign), *_ = offset.items()
    over_K = under.result.conditions.set_point_K - held_K(heat)
    truth = Truth(under, AsBuilt(offsets={name: sign * over_K}))
    evaporated = field(under, "run.log", "evaporated_kg")
    step = next(entry for entry in run_section(under).steps if entry.key == "run.log")
    assert truth.value(step, evaporated) == pytest.approx(expected(heat).evaporation_kg_s * TWO_HOURS_s, rel=2e-3)
    unharmed = Truth(under, AsBuilt(offsets={name: 0.5 * sign * (over_K - LOWERED_K)}))
    assert unharmed.value(step, evaporated) == evaporated.expected


# Diagnosis


@pytest.mark.parametrize("heat", HEATS)
def test_the_cause_of_a_diagnosis_reads_the_same(heat: str) -> None:
    (cause,) = (entry for entry in CAUSES if entry.key == "set_point_low")
    result = sound(heat)
    case = Case(example_answer(heat).unit, result.conditions)
    reads = predicted_readings(cause.change(case, result.clamp_K - held_K(heat)))
    assert reads["set_point_K"] == pytest.approx(held_K(heat))
    assert reads["tank_temperature_K"] == pytest.approx(held_K(heat))
    assert reads["evaporation_kg_s"] == pytest.approx(expected(heat).evaporation_kg_s, rel=2e-3)
    harmless = predicted_readings(cause.change(case, 1.0))
    assert harmless["set_point_K"] == pytest.approx(result.clamp_K - 1.0)
    assert harmless["evaporation_kg_s"] == pytest.approx(result.evaporation_kg_s, rel=1e-4)
