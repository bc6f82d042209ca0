"""Choosing a unit: the smallest that meets the duty from the middle of its range, whatever does not suit the site."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import GALLON
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.answer import answer_for, required_kg_s
from vaporwright.unit.catalogue import SteamCoilPart
from vaporwright.unit.heat import kind_of
from vaporwright.unit.job import build_job
from vaporwright.unit.sizing import MOST_SHARE, Sizing, heater_fits, size_unit

CATALOGUE = read_catalogue_file(None)
GALLON_PER_MONTH = GALLON / (365.25 / 12.0 * 86400.0)


def sized(gallons_a_month: float = 6000.0, catalogue: Any = CATALOGUE, **given: Any) -> Sizing:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return size_unit(build_job({"duty.volume": gallons_a_month * GALLON_PER_MONTH, **values}), catalogue)


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_the_duty_sits_inside_the_range_of_the_chosen_unit(kind: str) -> None:
    found = sized(2500.0, choices__heat_source=kind)
    answer = found.answer
    assert kind_of(answer.unit.heat_source) == kind
    assert answer.meets_duty
    assert answer.share_of_capacity <= MOST_SHARE
    assert answer.share_of_capacity == pytest.approx(required_kg_s(answer.job) / answer.capacity_kg_s)
    for result in answer.seasons.values():
        assert result.settling_temperature_K < result.clamp_K - 1.0
    assert found.candidates[-1].verdict.startswith("chosen")
    assert found.candidates[-1].unit == answer.unit


def test_no_smaller_burner_of_the_catalogue_would_do() -> None:
    found = sized(6000.0)
    chosen = found.answer.unit.heat_source
    inputs = {part.part_id: part.gross_input_W for part in CATALOGUE.heat_sources.values() if kind_of(part) == "gas"}  # type: ignore[union-attr]
    smaller = [CATALOGUE.heat_sources[key] for key, input_W in inputs.items() if input_W < inputs[chosen.part_id]]
    assert smaller
    for part in smaller:
        assert answer_for(found.answer.job, replace(found.answer.unit, heat_source=part)).share_of_capacity > MOST_SHARE


def test_a_larger_duty_never_gets_a_smaller_unit() -> None:
    capacities = [sized(gallons).answer.capacity_kg_s for gallons in (500.0, 2000.0, 6000.0, 12000.0)]
    assert capacities == sorted(capacities)


def test_the_nearest_miss_answers_a_duty_beyond_the_catalogue() -> None:
    answer = sized(150_000.0).answer
    assert not answer.meets_duty
    assert answer.share_of_capacity > 1.0
    largest = max(part.gross_input_W for part in CATALOGUE.heat_sources.values() if kind_of(part) == "gas")  # type: ignore[union-attr]
    assert answer.unit.heat_source.gross_input_W == largest  # type: ignore[union-attr]


def test_one_part_that_does_not_suit_the_site_does_not_stop_the_others() -> None:
    # 50 psi is more than the fluoropolymer coil bears; metal coils bear it.
    pressure_Pa = 50.0 * 6894.757
    answer = sized(6000.0, choices__heat_source="steam", utilities__steam_pressure=pressure_Pa).answer
    assert isinstance(answer.unit.heat_source, SteamCoilPart)
    assert answer.unit.heat_source.highest_gauge_pressure_Pa >= pressure_Pa
    with pytest.raises(InputError, match="is above what S-FP120 bears"):
        sized(choices__heat_source="steam", utilities__steam_pressure=pressure_Pa, unit__heat_source="S-FP120")


def test_where_no_part_suits_the_site_the_reason_is_given() -> None:
    with pytest.raises(InputError, match="'none' does not fire"):
        sized(utilities__fuel="none")
    with pytest.raises(OutOfRange, match="supply_voltage_V = 690"):
        sized(choices__heat_source="electric", utilities__supply_voltage=690.0)


def test_plastic_coils_go_with_plastic_tanks_only() -> None:
    metal = sized(2000.0, choices__heat_source="steam").answer.unit
    plastic = sized(2000.0, choices__heat_source="steam", choices__tank_material="polypropylene").answer.unit
    assert metal.heat_source.material != "fluoropolymer"  # type: ignore[union-attr]
    assert plastic.tank.material == "polypropylene"


def test_named_parts_are_kept() -> None:
    unit = sized(
        3000.0, unit__tower="T9", unit__tank="K10-316", unit__pump="P130", unit__heat_source="G500"
    ).answer.unit
    ids = (unit.tower.part_id, unit.tank.part_id, unit.pump.part_id, unit.heat_source.part_id)
    assert ids == ("T9", "K10-316", "P130", "G500")
    assert sized(3000.0, unit__towers=2.0).answer.unit.towers == 2


@pytest.mark.parametrize("key", ["unit.tower", "unit.tank", "unit.heat_source", "unit.pump"])
def test_unknown_parts_name_key_and_choices(key: str) -> None:
    with pytest.raises(InputError, match="'X99' is not in the catalogue") as caught:
        sized(**{key.replace(".", "__"): "X99"})
    assert caught.value.key == key
    assert caught.value.allowed


def test_a_catalogue_without_the_kind_or_material_asked_for_says_so() -> None:
    gas_only = replace(
        CATALOGUE, heat_sources={key: part for key, part in CATALOGUE.heat_sources.items() if kind_of(part) == "gas"}
    )
    with pytest.raises(InputError, match="none of the kind 'steam'"):
        sized(catalogue=gas_only, choices__heat_source="steam")
    no_steel = replace(
        CATALOGUE, tanks={key: tank for key, tank in CATALOGUE.tanks.items() if tank.material != "carbon steel"}
    )
    with pytest.raises(InputError, match="no tank of 'carbon steel'") as caught:
        sized(catalogue=no_steel, choices__tank_material="carbon steel")
    assert "polypropylene" in caught.value.allowed
    with pytest.raises(InputError, match="no tower"):
        sized(catalogue=replace(CATALOGUE, towers={}))


def test_an_immersion_tube_must_fit_its_tank() -> None:
    burner, small = CATALOGUE.heat_sources["G800"], CATALOGUE.tanks["K4-316"]
    assert not heater_fits(burner, small)  # 58 ft of 8 in. tube in 4 x 2.5 ft
    assert heater_fits(CATALOGUE.heat_sources["G120"], CATALOGUE.tanks["K8-316"])
    assert heater_fits(CATALOGUE.heat_sources["E90"], small)
    assert heater_fits(sized(6000.0).answer.unit.heat_source, sized(6000.0).answer.unit.tank)


def test_the_governing_season_is_the_weakest_or_a_tie_with_it() -> None:
    answer = sized(6000.0).answer
    least = min(result.evaporation_kg_s for result in answer.seasons.values())
    assert answer.capacity_kg_s == pytest.approx(least, rel=0.01)
    assert answer.end_of_batch.evaporation_kg_s <= answer.capacity_kg_s
