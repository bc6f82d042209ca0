"""The unit's wetted parts reach the rules with the right liquor, temperature and name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import HEATER, unit
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.job import build_job
from vaporwright.unit.materials_at_a_glance import materials_at_a_glance


def answered(heat_source: Any = None, **changes: Any) -> UnitAnswer:
    parts = {"heat_source": heat_source} if heat_source else {}
    values = {key.replace("__", "."): value for key, value in changes.items()}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(**parts))


def test_salt_at_end_of_batch_rules_a_metal_out_that_the_feed_would_not() -> None:
    salty = {"liquid__chloride": 0.11, "liquid__dissolved_solids": 5.0}
    once = materials_at_a_glance(answered(liquid__concentration_factor=1.05, **salty))
    tenfold = materials_at_a_glance(answered(liquid__concentration_factor=10.0, **salty))
    tank = ("tank", "stainless steel 316")
    assert (once.parts[0].part, once.parts[0].material) == tank
    assert once.parts[0].suitability != "unsuitable"  # 115 mg/kg
    assert tenfold.parts[0].suitability == "unsuitable"  # 1,100 mg/kg, warm
    value = tenfold.parts[0].deciding.value
    assert value == pytest.approx(1.1e-3, rel=0.02)


def test_unknowns_hold_the_verdict_at_ask() -> None:
    sweet = answered(liquid__chloride=0.0005, liquid__dissolved_solids=1.0, liquid__pH=7.5)
    for verdict in materials_at_a_glance(sweet).parts:
        assert verdict.suitability == "ask a corrosion engineer"
        assert "fluoride_kg_kg" in {finding.quantity for finding in verdict.findings if finding.value is None}


def test_the_heating_surface_is_judged_at_its_hottest_season() -> None:
    answer = answered(replace(HEATER, sheath_material="titanium"), liquid__chloride=0.1, liquid__dissolved_solids=1.0)
    titanium = materials_at_a_glance(answer).parts[1]
    assert (titanium.part, titanium.material) == ("heater sheath", "titanium")
    hottest_K = max(result.heat.detail.surface_temperature_K for result in answer.seasons.values())  # type: ignore[union-attr]
    assert hottest_K > max(result.settling_temperature_K for result in answer.seasons.values())
    assert hottest_K in {finding.value for finding in titanium.findings if finding.quantity == "temperature_K"}


def test_a_grade_without_rules_is_asked_about() -> None:
    answer = answered(replace(HEATER, sheath_material="carbon steel"))
    assert materials_at_a_glance(answer).parts[1].deciding.quantity == "material"


def test_what_nobody_stated_is_named() -> None:
    assert "liquid.chloride" in materials_at_a_glance(answered()).assumed_keys
    assert "liquid.chloride" not in materials_at_a_glance(answered(liquid__chloride=0.01)).assumed_keys
