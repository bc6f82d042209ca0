"""What a simulated unit stands in: the seasons as rated, the day of a test as settled on it."""

from __future__ import annotations

from dataclasses import asdict
from types import SimpleNamespace
from typing import Any

import pytest

from example_rigs import example_answer, example_table
from example_subjects import day_of
from vaporwright.actions.surroundings import chosen, day_of_test, rig_in, seasons_of
from vaporwright.foundation.errors import InputError
from vaporwright.unit.balance import conditions_of, settle


def test_seasons_have_their_own_air_and_the_figures_of_the_rating() -> None:
    answer = example_answer("gas")
    found = {one.key: one for one in seasons_of(answer)}
    assert list(found) == ["summer", "winter", "average"]
    assert found["summer"].air_temperature_K > found["winter"].air_temperature_K
    for key, one in found.items():
        rated = settle(answer.unit, conditions_of(answer.job, key))
        assert one.settles_K == pytest.approx(rated.settling_temperature_K, abs=1e-6)
        assert one.evaporates_kg_s == pytest.approx(rated.evaporation_kg_s, rel=1e-9)
    assert [key for key, one in found.items() if one.governs] == [answer.governing]


def test_a_unit_is_built_in_the_air_that_was_chosen() -> None:
    answer, table = example_answer("gas"), example_table("gas")
    summer = chosen(seasons_of(answer), "summer")
    rig = rig_in(answer, table, summer)
    assert rig.season.season == "summer"
    assert rig.season.conditions.air.temperature_K == answer.job.air["summer"].temperature_K
    assert summer.worked_out(rig).settles_K == rig.season.settling_temperature_K
    with pytest.raises(InputError, match="is not offered"):
        chosen(seasons_of(answer), "monsoon")


@pytest.mark.parametrize(("variant", "clean"), [("full", True), ("start-up", False)])
def test_the_day_of_a_test_has_the_air_of_its_procedure(variant: str, clean: bool) -> None:
    answer, table, day = example_answer("gas"), example_table("gas"), day_of("gas")
    procedure: Any = SimpleNamespace(conditions=day.as_dict(), variant=variant)
    where = day_of_test("FAT-1", procedure)
    assert (where.key, where.clean_water, where.settles_K) == ("day FAT-1", clean, None)
    assert asdict(day)["air_temperature_K"] == where.air_temperature_K
    rig = rig_in(answer, table, where)
    assert rig.season.conditions.air.temperature_K == day.air_temperature_K
    assert rig.season.conditions.feed_temperature_K == day.water_temperature_K
    solids = rig.season.conditions.liquor.dissolved_solids_kg_kg
    assert (solids < 1e-3) == clean  # tap water, or the job's liquor
