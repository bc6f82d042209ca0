"""What the material verdicts refuse, and how they carry their figures and caution."""

from __future__ import annotations

import pytest

from vaporwright.equipment.materials import (
    ASK,
    UNSUITABLE,
    Exposure,
    part_verdict,
)
from vaporwright.equipment.metal_rules import metal_verdict, titanium_in_chlorine_gas
from vaporwright.equipment.plastic_rules import plastic_verdict
from vaporwright.foundation.errors import OutOfRange


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("temperature_K", 85.0),  # degC by mistake
        ("chloride_kg_kg", 250.0),  # ppm by mistake
        ("chloride_kg_kg", -1e-6),
        ("fluoride_kg_kg", 0.6),
        ("lowest_pH", 16.0),
        ("highest_pH", float("nan")),
        ("hydrochloric_acid_kg_kg", 5.0),  # per cent by mistake
        ("sulphuric_acid_kg_kg", -0.1),
    ],
)
def test_out_of_range(name: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=rf"^{name} = .*allowed"):
        Exposure(**{name: value})


def test_pH_the_wrong_way_round() -> None:
    with pytest.raises(OutOfRange, match=r"highest_pH = 6: allowed 8 to 15 \(not below lowest_pH\)"):
        Exposure(lowest_pH=8.0, highest_pH=6.0)


def test_nothing_known_is_for_an_engineer() -> None:
    for verdict in (
        part_verdict("tube", "stainless steel 316", Exposure()),
        part_verdict("tube", "titanium", Exposure()),
        part_verdict("fill", "PVC", Exposure()),
        titanium_in_chlorine_gas("pipe", water_kg_kg=None, temperature_K=None),
    ):
        assert verdict.suitability == ASK
        assert {finding.suitability for finding in verdict.findings} == {ASK}


@pytest.mark.parametrize("material", ["stainless steel", "carbon steel", "fluoropolymer", "brass", ""])
def test_a_material_or_grade_without_a_rule(material: str) -> None:
    for judge in (part_verdict, metal_verdict, plastic_verdict):
        verdict = judge("coil", material, Exposure(temperature_K=330.0))
        assert verdict.suitability == ASK
        assert verdict.deciding.quantity == "material"


def test_a_plastic_is_no_metal() -> None:
    assert metal_verdict("pipe", "PVC", Exposure()).deciding.quantity == "material"
    assert plastic_verdict("pipe", "titanium", Exposure()).deciding.quantity == "material"


def test_what_is_known_to_be_unsuitable_outranks_the_unknown() -> None:
    verdict = part_verdict("tube", "stainless steel 304", Exposure(temperature_K=368.15, chloride_kg_kg=0.002))
    assert verdict.suitability == UNSUITABLE
    assert verdict.deciding.quantity == "chloride_kg_kg"
    assert verdict.deciding.value == 0.002
    assert {finding.quantity for finding in verdict.findings[1:]} >= {"lowest_pH", "fluoride_kg_kg", "oxidising"}


def test_chlorine_gas_known_too_dry_needs_no_temperature() -> None:
    assert titanium_in_chlorine_gas("pipe", water_kg_kg=0.001, temperature_K=None).suitability == UNSUITABLE
    with pytest.raises(OutOfRange, match="water_kg_kg"):
        titanium_in_chlorine_gas("pipe", water_kg_kg=1.5, temperature_K=300.0)
    with pytest.raises(OutOfRange, match="temperature_K"):
        titanium_in_chlorine_gas("pipe", water_kg_kg=0.5, temperature_K=25.0)


def test_the_verdict_says_who_decides() -> None:
    verdict = part_verdict("tube", "titanium", Exposure())
    assert (verdict.part, verdict.material) == ("tube", "titanium")
    assert "corrosion engineer" in verdict.caution
    assert "lock out" in verdict.caution
