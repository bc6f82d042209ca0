"""Laws of the material verdicts: nothing that makes a liquor worse improves one, and the unknown is never suitable."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.equipment.materials import (
    ASK,
    METALS,
    ORGANICS,
    PLASTICS,
    SUITABILITIES,
    UNSUITABLE,
    Exposure,
    MaterialVerdict,
    part_verdict,
)
from vaporwright.equipment.metal_rules import titanium_in_chlorine_gas
from vaporwright.foundation.register import sources

materials = st.sampled_from((*METALS, *PLASTICS))
temperatures = st.one_of(
    st.floats(280.0, 420.0), st.sampled_from([303.15, 313.15, 333.15, 343.15, 353.15, 393.15, 403.15])
)
chlorides = st.one_of(
    st.floats(-6.0, -0.7).map(lambda power: 10.0**power),
    st.sampled_from([0.0, 50e-6, 100e-6, 200e-6, 300e-6, 500e-6, 1e-3, 3.6e-3, 2.1e-2]),
)
fluorides = st.one_of(st.just(0.0), st.floats(1e-6, 1e-4))
pHs = st.one_of(st.floats(-0.5, 14.5), st.sampled_from([1.0, 2.0, 6.0, 7.0, 12.0, 13.0]))
acids = st.one_of(st.none(), st.floats(0.0, 0.2))
KNOWN_BY_ALL = ("temperature_K", "lowest_pH", "highest_pH")
DECIDES = {
    **dict.fromkeys(METALS, (*KNOWN_BY_ALL, "chloride_kg_kg", "fluoride_kg_kg", "oxidising")),
    "titanium": (*KNOWN_BY_ALL, "chloride_kg_kg", "fluoride_kg_kg"),
    **dict.fromkeys(PLASTICS, (*KNOWN_BY_ALL, "organics", "under_pressure")),
}


@st.composite
def exposures(draw: st.DrawFn) -> Exposure:
    low, high = sorted((draw(pHs), draw(pHs)))
    return Exposure(
        temperature_K=draw(temperatures),
        chloride_kg_kg=draw(chlorides),
        fluoride_kg_kg=draw(fluorides),
        lowest_pH=low,
        highest_pH=high,
        oxidising=draw(st.booleans()),
        organics=tuple(draw(st.sets(st.sampled_from((*ORGANICS, "something else"))))),
        under_pressure=draw(st.booleans()),
        hydrochloric_acid_kg_kg=draw(acids),
        sulphuric_acid_kg_kg=draw(acids),
    )


def rank(verdict: MaterialVerdict) -> int:
    return SUITABILITIES.index(verdict.suitability)


def assert_no_better(material: str, worse: Exposure, better: Exposure) -> None:
    assert rank(part_verdict("part", material, worse)) >= rank(part_verdict("part", material, better))


@given(materials, exposures(), temperatures)
def test_hotter_never_improves(material: str, exposure: Exposure, other_K: float) -> None:
    assert exposure.temperature_K is not None
    cooler, hotter = sorted((exposure.temperature_K, other_K))
    better, worse = (dataclasses.replace(exposure, temperature_K=value) for value in (cooler, hotter))
    assert_no_better(material, worse, better)


@given(materials, exposures(), chlorides, fluorides)
def test_saltier_never_improves(material: str, exposure: Exposure, more_chloride: float, more_fluoride: float) -> None:
    assert exposure.chloride_kg_kg is not None
    assert exposure.fluoride_kg_kg is not None
    for change in (
        {"chloride_kg_kg": exposure.chloride_kg_kg + more_chloride},
        {"fluoride_kg_kg": exposure.fluoride_kg_kg + more_fluoride},
    ):
        assert_no_better(material, dataclasses.replace(exposure, **change), exposure)


@given(materials, exposures(), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_a_wider_pH_never_improves(material: str, exposure: Exposure, more_acid: float, more_alkaline: float) -> None:
    assert exposure.lowest_pH is not None
    assert exposure.highest_pH is not None
    wider = dataclasses.replace(
        exposure, lowest_pH=exposure.lowest_pH - more_acid, highest_pH=exposure.highest_pH + more_alkaline
    )
    assert_no_better(material, wider, exposure)


@given(materials, exposures())
def test_more_stuff_or_pressure_never_improves(material: str, exposure: Exposure) -> None:
    clean = dataclasses.replace(
        exposure,
        oxidising=False,
        organics=(),
        under_pressure=False,
        hydrochloric_acid_kg_kg=0.0,
        sulphuric_acid_kg_kg=0.0,
    )
    assert_no_better(material, exposure, clean)


@pytest.mark.parametrize("material", [*METALS, *PLASTICS])
@given(exposure=exposures(), data=st.data())
def test_unknown_is_never_suitable(material: str, exposure: Exposure, data: st.DataObject) -> None:
    missing = data.draw(st.sampled_from(DECIDES[material]))
    verdict = part_verdict("part", material, dataclasses.replace(exposure, **{missing: None}))
    assert verdict.suitability in (ASK, UNSUITABLE)
    assert any(finding.quantity == missing for finding in verdict.findings)


@given(st.text(max_size=20).filter(lambda name: name not in (*METALS, *PLASTICS)), exposures())
def test_unknown_material_is_for_an_engineer(material: str, exposure: Exposure) -> None:
    assert part_verdict("part", material, exposure).suitability == ASK


@given(st.sampled_from(PLASTICS), exposures())
def test_contents_without_a_rule_are_for_an_engineer(material: str, exposure: Exposure) -> None:
    verdict = part_verdict("part", material, dataclasses.replace(exposure, organics=("something else",)))
    assert verdict.suitability in (ASK, UNSUITABLE)
    assert any(finding.quantity == "organics" and finding.suitability == ASK for finding in verdict.findings)


@given(materials, exposures())
def test_findings_are_worst_first_with_sources_that_exist(material: str, exposure: Exposure) -> None:
    verdict = part_verdict("part", material, exposure)
    ranks = [SUITABILITIES.index(finding.suitability) for finding in verdict.findings]
    assert ranks == sorted(ranks, reverse=True)
    assert verdict.suitability == verdict.deciding.suitability
    for finding in verdict.findings:
        assert finding.source_id in sources()
        assert finding.reason


waters = st.floats(0.0, 0.05)
gas_temperatures = st.floats(280.0, 550.0)


@given(waters, waters, gas_temperatures, gas_temperatures)
def test_drier_or_hotter_chlorine_never_improves(water: float, other: float, cool_K: float, hot_K: float) -> None:
    dry, wet = sorted((water, other))
    cool_K, hot_K = sorted((cool_K, hot_K))
    better = titanium_in_chlorine_gas("part", water_kg_kg=wet, temperature_K=cool_K)
    assert rank(titanium_in_chlorine_gas("part", water_kg_kg=dry, temperature_K=cool_K)) >= rank(better)
    assert rank(titanium_in_chlorine_gas("part", water_kg_kg=wet, temperature_K=hot_K)) >= rank(better)
