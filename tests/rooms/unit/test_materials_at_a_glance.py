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
    assert tenfold.parts[0].suitability == "unsuitable"  # 1,100 mg/L, warm
    value = tenfold.parts[0].deciding.value
    assert value == pytest.approx(1.1e-3 / 1.034, rel=0.005)  # a 5 % salt solution weighs 1,034 g/L cold


def test_unknowns_hold_the_verdict_at_ask() -> None:
    sweet = answered(liquid__chloride=0.0005, liquid__dissolved_solids=1.0, liquid__pH=7.5)
    for verdict in materials_at_a_glance(sweet).parts:
        assert verdict.suitability == "ask a corrosion engineer"
        unknown = {finding.quantity for finding in verdict.findings if finding.value is None}
        assert ("fluoride_kg_kg" in unknown) == verdict.material.startswith("stainless")
        assert ("organics" in unknown) == (not verdict.material.startswith("stainless"))


def test_what_is_stated_lifts_the_verdict() -> None:
    # Deionised, neutral, no fluoride, oxidiser or organics: nothing is left to ask about a 316 tank and plastic parts.
    stated = {"liquid__fluoride": 0.0, "liquid__mild_oxidiser": "no", "liquid__organics": ("none",)}
    liquor = {
        "liquid__chloride": 0.0005,
        "liquid__dissolved_solids": 1.0,
        "liquid__pH": 7.5,
        "liquid__pH_end_of_batch": 8.5,
    }
    known = answered(**liquor, **stated)
    verdicts = {verdict.part: verdict.suitability for verdict in materials_at_a_glance(known).parts}
    assert verdicts["tower fill"] == "suitable"
    assert (
        verdicts["tank"] == "with limits"
    )  # 5 mg/kg at 68 degC: hot-water table, but above 60 degC stressed steel cracks
    assert materials_at_a_glance(known).assumed_keys == ("liquid.concentration_factor",)
    # Fluoride at end of batch: 2 mg/L tenfold is about 20 mg/kg, above the threshold for titanium (10 mg/kg).
    etched = answered(replace(HEATER, sheath_material="titanium"), **liquor, **{**stated, "liquid__fluoride": 0.002})
    sheath = materials_at_a_glance(etched).parts[1]
    (finding,) = [finding for finding in sheath.findings if finding.quantity == "fluoride_kg_kg"]
    assert finding.value == pytest.approx(20e-6, rel=0.05)
    assert finding.suitability == "ask a corrosion engineer"
    swollen = answered(**liquor, **{**stated, "liquid__organics": ("aromatic solvent",)})
    parts = {verdict.part: verdict.suitability for verdict in materials_at_a_glance(swollen).parts}
    assert parts["tower shell"] == "unsuitable"


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
