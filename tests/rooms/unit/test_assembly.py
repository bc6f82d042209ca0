"""The assembled unit: named parts, the pump that carries the spray, the limits of parts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import GPM, unit
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError
from vaporwright.unit.assembly import (
    given_unit,
    pumps_that_carry,
    rated_spray_flow_m3_s,
    smallest_pump,
    temperature_limits_K,
)
from vaporwright.unit.job import build_job

CATALOGUE = read_catalogue_file(None)
NAMED: dict[str, Any] = {
    "duty.volume": 8.6e-6,
    "unit.tower": "T6",
    "unit.tank": "K8-316",
    "unit.heat_source": "G350",
}


def test_a_given_unit_takes_rated_spray_and_a_pump_of_its_own() -> None:
    parts = given_unit(build_job(NAMED), CATALOGUE)
    assert (parts.tower.part_id, parts.tank.part_id, parts.heat_source.part_id) == ("T6", "K8-316", "G350")
    assert parts.towers == 1
    assert parts.spray_flow_m3_s == pytest.approx(48.0 * GPM, rel=1e-3)  # 6 ft2 at 8 gal/min ft2
    assert parts.pump.part_id == "P75"  # 48 gal/min and a quarter of the pump's flow for agitation
    assert parts.blower.part_id == parts.tower.blower_id


def test_given_towers_spray_and_pump_are_taken() -> None:
    given = {**NAMED, "unit.towers": 2.0, "unit.spray_flow": 80.0 * GPM, "unit.pump": "P130"}
    parts = given_unit(build_job(given), CATALOGUE)
    assert (parts.towers, parts.pump.part_id) == (2, "P130")
    assert parts.spray_flow_m3_s == pytest.approx(80.0 * GPM)
    assert parts.label().startswith("2 x tower 6 sq ft, ")


@pytest.mark.parametrize("key", ["unit.tower", "unit.tank", "unit.heat_source"])
def test_missing_and_unknown_parts_name_key_and_choices(key: str) -> None:
    without = {name: value for name, value in NAMED.items() if name != key}
    with pytest.raises(InputError, match="missing; rating a given unit needs it") as caught:
        given_unit(build_job(without), CATALOGUE)
    assert caught.value.key == key
    with pytest.raises(InputError, match="'X99' is not in the catalogue") as caught:
        given_unit(build_job({**NAMED, key: "X99"}), CATALOGUE)
    assert caught.value.key == key
    assert str(NAMED[key]) in caught.value.allowed


def test_the_smallest_pump_that_carries_spray_and_agitation() -> None:
    assert smallest_pump(CATALOGUE, 20.0 * GPM).part_id == "P25"
    assert smallest_pump(CATALOGUE, 20.1 * GPM).part_id == "P50"
    assert smallest_pump(CATALOGUE, 500.0 * GPM).part_id == "P130"
    with pytest.raises(InputError, match="no pump"):
        smallest_pump(replace(CATALOGUE, pumps={}), 1e-3)


def test_pumps_that_carry_come_smallest_first_and_leave_the_shops_share() -> None:
    assert [pump.part_id for pump in pumps_that_carry(CATALOGUE, 48.0 * GPM)] == ["P75", "P100", "P130"]
    assert pumps_that_carry(CATALOGUE, 104.1 * GPM) == ()  # four fifths of 130
    mean = replace(CATALOGUE, practice=replace(CATALOGUE.practice, spray_share=0.97))
    assert [pump.part_id for pump in pumps_that_carry(mean, 48.0 * GPM)] == ["P50", "P75", "P100", "P130"]
    strong = replace(CATALOGUE.pumps["P50"], part_id="A50", motor_rating_W=5e3)
    pumps = {"A50": strong, **CATALOGUE.pumps}
    assert [pump.part_id for pump in pumps_that_carry(replace(CATALOGUE, pumps=pumps), 40.0 * GPM)][:2] == [
        "P50",
        "A50",
    ]


def test_rated_spray_grows_with_the_number_of_towers() -> None:
    tower = CATALOGUE.towers["T4"]
    assert rated_spray_flow_m3_s(tower, 3) == pytest.approx(3.0 * rated_spray_flow_m3_s(tower, 1))


def test_every_part_that_liquor_touches_has_a_limit() -> None:
    names = [name for name, _ in temperature_limits_K(unit())]
    assert names[-1] == "tank"
    assert "fill" in names
