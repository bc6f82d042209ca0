"""Material verdicts against published figures, typed in from the sources named beside them.

"Shared case" is the project's shared list of checks; "read" was read in a stored copy, "from memory" was not.
"""

from __future__ import annotations

import dataclasses

import pytest

from support import verifies
from vaporwright.equipment.material_findings import unruled_fluoride, unruled_oxidisers
from vaporwright.equipment.materials import (
    ASK,
    SUITABILITIES,
    SUITABLE,
    UNSUITABLE,
    WITH_LIMITS,
    Exposure,
    part_verdict,
)
from vaporwright.equipment.metal_rules import metal_verdict, titanium_in_chlorine_gas
from vaporwright.equipment.plastic_rules import plastic_verdict

METAL = "equipment.metal_rules.metal_verdict"
PLASTIC = "equipment.plastic_rules.plastic_verdict"
GAS = "equipment.metal_rules.titanium_in_chlorine_gas"
PART = "equipment.materials.part_verdict"
FLUORIDE = "equipment.material_findings.unruled_fluoride"
OXIDISERS = "equipment.material_findings.unruled_oxidisers"

TYPE_304, TYPE_316 = "stainless steel 304", "stainless steel 316"
MILD = Exposure(
    temperature_K=298.15,
    chloride_kg_kg=0.0,
    fluoride_kg_kg=0.0,
    lowest_pH=8.0,
    highest_pH=8.5,
    oxidising=False,
    organics=(),
    under_pressure=False,
)


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8 + 273.15


def metal(material: str, *, celsius: float, ppm: float, **other: object) -> str:
    exposure = dataclasses.replace(MILD, temperature_K=celsius + 273.15, chloride_kg_kg=ppm / 1e6, **other)
    return metal_verdict("tube", material, exposure).suitability


def plastic(material: str, *, fahrenheit: float, **other: object) -> str:
    exposure = dataclasses.replace(MILD, temperature_K=kelvin(fahrenheit), **other)
    return plastic_verdict("pipe", material, exposure).suitability


def usable(suitability: str) -> bool:
    return suitability in (SUITABLE, WITH_LIMITS)


# Instructions of a plate heat exchanger (read): the plainest metal by chloride in ppm and highest temperature in
# degC. A second maker's (read) allows 316 at 80 degC up to 100 ppm only, and 300 ppm at 60 degC.
HOT_WATER = [
    (10, {60: "304", 80: "304", 120: "304", 130: "316"}),
    (25, {60: "304", 80: "304", 120: "316", 130: "316"}),
    (50, {60: "304", 80: "316", 120: "316", 130: "Ti"}),
    (80, {60: "316", 80: "316", 120: "316", 130: "Ti"}),
    (150, {60: "316", 80: "316", 120: "Ti", 130: "Ti"}),
    (300, {60: "316", 80: "Ti", 120: "Ti", 130: "Ti"}),
    (301, {60: "Ti", 80: "Ti", 120: "Ti", 130: "Ti"}),
]


@pytest.mark.parametrize(("ppm", "row"), HOT_WATER)
@verifies(METAL)
def test_hot_water_table(ppm: float, row: dict[int, str]) -> None:
    for celsius, plainest in row.items():
        assert usable(metal(TYPE_304, celsius=celsius, ppm=ppm)) == (plainest == "304"), (ppm, celsius)
        second_maker_refuses = (ppm, celsius) == (150, 80)
        expected = plainest != "Ti" and not second_maker_refuses
        assert usable(metal(TYPE_316, celsius=celsius, ppm=ppm)) == expected, (ppm, celsius)
        assert usable(metal("titanium", celsius=celsius, ppm=ppm)), (ppm, celsius)


@verifies(METAL)
def test_second_maker_on_316() -> None:
    assert usable(metal(TYPE_316, celsius=80, ppm=100))
    assert not usable(metal(TYPE_316, celsius=80, ppm=101))


@verifies(METAL)
def test_critical_pitting_points() -> None:
    # Shared case ss_cpt, Feltzin figure 1 (read): 304 at 300 ppm 40 degC, 316 at 500 ppm 70 degC, to 5 K
    for material, ppm, celsius in ((TYPE_304, 300, 40), (TYPE_316, 500, 70)):
        hot = dataclasses.replace(MILD, temperature_K=celsius + 5 + 273.15, chloride_kg_kg=ppm / 1e6)
        deciding = metal_verdict("tube", material, hot).deciding
        assert (deciding.suitability, deciding.source_id) == (UNSUITABLE, "feltzin-chlorides")
        assert deciding.limit == pytest.approx(ppm / 1e6)
        cooler = dataclasses.replace(hot, temperature_K=celsius - 5 + 273.15)
        assert metal_verdict("tube", material, cooler).deciding.source_id != "feltzin-chlorides"
    assert metal(TYPE_316, celsius=65, ppm=500) == ASK
    # The same source: 2205 resists pitting better than 316
    assert metal("duplex 2205", celsius=75, ppm=500) == ASK


@verifies(METAL)
def test_crevice_guideline_in_natural_water() -> None:
    # Shared case ss_crevice_chloride, NiDI 11 003 (read): attack rare below 100 to 200 ppm (304), 1000 ppm (316)
    assert metal(TYPE_304, celsius=20, ppm=100) == WITH_LIMITS
    assert metal(TYPE_304, celsius=20, ppm=101) == ASK
    assert metal(TYPE_316, celsius=20, ppm=1000) == WITH_LIMITS
    assert metal(TYPE_316, celsius=20, ppm=1001) == ASK
    # The trade's rule for hot tubes rests on the same figures: at them a hot wall of that grade is no longer usable
    assert metal(TYPE_304, celsius=95, ppm=201) == UNSUITABLE
    assert metal(TYPE_316, celsius=95, ppm=1001) == UNSUITABLE
    assert metal(TYPE_304, celsius=45, ppm=201) == UNSUITABLE


@verifies(METAL)
def test_chloride_cracking_and_acid() -> None:
    # API RP 571 (read): usual above 60 degC; heat transfer leaves no practical lower limit; below pH 2 uniform
    # corrosion. Plate exchanger guides (read): pH 7 and more recommended, below 6 more risk.
    assert metal(TYPE_316, celsius=60, ppm=20) == SUITABLE
    assert metal(TYPE_316, celsius=61, ppm=20) == WITH_LIMITS
    assert metal("duplex 2205", celsius=61, ppm=20) == SUITABLE  # more resistant than the austenitic grades
    for pH, expected in ((7.0, SUITABLE), (6.9, WITH_LIMITS), (6.0, WITH_LIMITS), (5.9, ASK), (2.0, ASK)):
        assert metal(TYPE_316, celsius=50, ppm=20, lowest_pH=pH) == expected, pH
    assert metal(TYPE_316, celsius=50, ppm=20, lowest_pH=1.9) == UNSUITABLE


@verifies(METAL)
def test_duplex_pitting() -> None:
    # Abstract (read): critical pitting temperature 54 to 59 degC; 3.5 % sodium chloride is 21,200 ppm chloride
    assert metal("duplex 2205", celsius=60, ppm=21_200) == UNSUITABLE
    assert metal("duplex 2205", celsius=53, ppm=21_200) == ASK
    # From memory: 3600 ppm in natural water at ambient
    assert metal("duplex 2205", celsius=20, ppm=3600) == WITH_LIMITS
    assert metal("duplex 2205", celsius=20, ppm=3601) == ASK


@verifies(METAL)
def test_nickel_alloy() -> None:
    # From memory: good in sea water (19,400 ppm) and, kept clean, in hot brine; above 45 % nickel nearly immune to
    # chloride cracking (read)
    assert metal("nickel-chromium-molybdenum", celsius=50, ppm=19_400) == SUITABLE
    assert metal("nickel-chromium-molybdenum", celsius=105, ppm=150_000) == WITH_LIMITS
    assert metal("nickel-chromium-molybdenum", celsius=50, ppm=1000, lowest_pH=1.9) == ASK


@verifies(METAL)
def test_titanium_fluoride() -> None:
    # Shared case titanium_fluoride (abstract, read): 0.0005 to 0.001 mol/L, 10 to 19 ppm, in acids; factor 2
    molar_mass_fluorine = 18.998
    for threshold_mol_L in (0.0005, 0.001):
        fluoride = threshold_mol_L * molar_mass_fluorine * 1e-3  # of a litre of a kilogram
        above = metal("titanium", celsius=60, ppm=100, lowest_pH=4.0, fluoride_kg_kg=2.0 * fluoride)
        assert above == UNSUITABLE
    low = 0.0005 * molar_mass_fluorine * 1e-3
    assert metal("titanium", celsius=60, ppm=100, lowest_pH=4.0, fluoride_kg_kg=low / 2.0) == SUITABLE
    assert metal("titanium", celsius=60, ppm=100, lowest_pH=4.0, fluoride_kg_kg=0.6 * low) == ASK
    assert metal("titanium", celsius=60, ppm=100, fluoride_kg_kg=3.0 * low) == ASK  # no figure for alkaline liquor


@verifies(METAL)
def test_titanium_crevices_and_acids() -> None:
    # Shared case titanium_limits_other (from memory): crevices above 70 to 80 degC in hot chloride; not for
    # hydrochloric acid above about 5 % or sulphuric above 1 to 5 % when warm
    assert metal("titanium", celsius=69, ppm=100_000) == SUITABLE
    assert metal("titanium", celsius=75, ppm=100_000) == WITH_LIMITS
    assert metal("titanium", celsius=81, ppm=100_000) == ASK
    for acid in ("hydrochloric_acid_kg_kg", "sulphuric_acid_kg_kg"):
        assert metal("titanium", celsius=50, ppm=0, lowest_pH=0.0, **{acid: 0.055}) == UNSUITABLE
        assert metal("titanium", celsius=50, ppm=0, lowest_pH=1.0, **{acid: 0.01}) == ASK
    # 0.01 mol/L of either acid (pH 2 and under) is 0.04 to 0.1 %, below the least of those figures
    assert metal("titanium", celsius=50, ppm=0, lowest_pH=2.0) == SUITABLE


@verifies(GAS)
def test_titanium_in_chlorine() -> None:
    # Public articles on titanium and halogens (read): 1 % water at room temperature, about 1.5 % at 199 degC
    for water, celsius, expected in (
        (0.009, 20.0, UNSUITABLE),
        (0.011, 20.0, WITH_LIMITS),
        (0.014, 199.0, UNSUITABLE),
        (0.016, 198.9, WITH_LIMITS),
        (0.05, 210.0, ASK),
    ):
        verdict = titanium_in_chlorine_gas("scrubber", water_kg_kg=water, temperature_K=celsius + 273.15)
        assert verdict.suitability == expected, (water, celsius)


# Shared case plastic_max_service_F, to 10 degF: PVC 140; CPVC 180 at 100 psi, 190 (Machinery's Handbook), 200 to 210;
# PP 180 without pressure; PVDF 280 (from memory).
SERVICE_F = [("PVC", 140, 140), ("CPVC", 180, 210), ("polypropylene", 180, 180), ("PVDF", 280, 280)]


@pytest.mark.parametrize(("material", "low", "high"), SERVICE_F)
@verifies(PLASTIC)
def test_service_temperature(material: str, low: float, high: float) -> None:
    assert plastic(material, fahrenheit=low - 10.5) == SUITABLE
    assert plastic(material, fahrenheit=low - 0.5) in (SUITABLE, WITH_LIMITS)
    assert plastic(material, fahrenheit=high + 10.0) == UNSUITABLE
    figure = plastic_verdict("pipe", material, MILD).deciding.limit
    assert figure is not None
    assert kelvin(low - 10) <= figure <= kelvin(high + 10)


@verifies(PLASTIC)
def test_vinyl_ester_and_pressure() -> None:
    # Surface finishing guidebook, table VI (read): vinyl ester cured at ambient up to 160 degF
    assert plastic("fibreglass vinyl ester", fahrenheit=159.0) == SUITABLE
    assert plastic("fibreglass vinyl ester", fahrenheit=161.0) == WITH_LIMITS
    # Application table (read): polypropylene and polyethylene under pressure to 100 degF, CPVC to 180 degF;
    # every thermoplastic is rated at 73 degF
    for material, limit in (("polypropylene", 100), ("polyethylene", 100)):
        exposure = dataclasses.replace(MILD, temperature_K=kelvin(limit + 5), under_pressure=True)
        deciding = plastic_verdict("header", material, exposure).deciding
        assert deciding.suitability == WITH_LIMITS
        assert deciding.limit == pytest.approx(kelvin(limit))
    assert plastic("PVC", fahrenheit=72.0, under_pressure=True) == SUITABLE
    assert plastic("PVC", fahrenheit=74.0, under_pressure=True) == WITH_LIMITS


@verifies(PLASTIC)
def test_oils_and_solvents() -> None:
    for material, content, expected in (
        ("polypropylene", "aromatic solvent", UNSUITABLE),  # benzene 3 and 4 of 4 at 20 and 60 degC (read)
        ("polypropylene", "ketone or ester", UNSUITABLE),  # ethyl acetate 4 of 4 at 60 degC (read)
        ("polypropylene", "detergent", SUITABLE),  # rarely cracks (read)
        ("polyethylene", "detergent", WITH_LIMITS),  # some crack (read)
        ("PVC", "detergent", SUITABLE),  # nonionic surfactants to 140 degF (read)
        ("CPVC", "detergent", ASK),  # nonionic surfactants not recommended (read)
        ("PVC", "aromatic solvent", UNSUITABLE),  # xylene (read)
        ("CPVC", "aromatic solvent", UNSUITABLE),
        ("PVC", "chlorinated solvent", UNSUITABLE),  # tetrachloroethylene (read)
        ("CPVC", "chlorinated solvent", UNSUITABLE),
        ("PVC", "ketone or ester", UNSUITABLE),  # acetone (read)
        ("CPVC", "ketone or ester", UNSUITABLE),
        ("PVDF", "ketone or ester", UNSUITABLE),  # from memory
    ):
        assert plastic(material, fahrenheit=100.0, organics=(content,)) == expected, (material, content)
    # From memory: PVDF cracks in alkali above about pH 12
    assert plastic("PVDF", fahrenheit=100.0, highest_pH=12.5) == UNSUITABLE


@verifies(FLUORIDE, OXIDISERS)
def test_what_no_rule_covers_goes_to_an_engineer() -> None:
    """Common practice, no source: what nobody knows, and what no rule covers. 10 ppm within a factor of two (read)."""
    for ppm, expected in ((0.0, []), (4.9, []), (5.1, [ASK]), (1000.0, [ASK]), (None, [ASK])):
        exposure = dataclasses.replace(MILD, fluoride_kg_kg=None if ppm is None else ppm / 1e6)
        assert [finding.suitability for finding in unruled_fluoride(exposure)] == expected, ppm
        assert metal_verdict("tank", TYPE_316, exposure).suitability == (ASK if expected else SUITABLE), ppm
        glass = plastic_verdict("tank", "fibreglass vinyl ester", exposure).suitability
        assert glass == (ASK if expected else SUITABLE), ppm  # hydrofluoric acid etches glass
    for oxidising, expected in ((False, []), (True, [ASK]), (None, [ASK])):
        exposure = dataclasses.replace(MILD, oxidising=oxidising)
        assert [finding.suitability for finding in unruled_oxidisers("polypropylene", exposure)] == expected
        for attacked in ("polypropylene", "polyethylene", "fibreglass vinyl ester"):
            assert plastic_verdict("pipe", attacked, exposure).suitability == (ASK if expected else SUITABLE), attacked
        assert plastic_verdict("pipe", "PVDF", exposure).suitability == SUITABLE  # bears them


@verifies(PART)
def test_each_part_goes_to_the_rules_of_its_material() -> None:
    hot = dataclasses.replace(MILD, temperature_K=kelvin(150.0), chloride_kg_kg=0.003)
    assert part_verdict("return pipe", "PVC", hot).suitability == UNSUITABLE  # 140 degF
    assert part_verdict("spray header", "CPVC", hot).suitability == SUITABLE  # 180 degF; chloride is nothing to it
    assert part_verdict("tank", TYPE_316, hot).suitability == UNSUITABLE  # 1000 ppm
    assert part_verdict("coil", "titanium", hot).suitability == SUITABLE  # 70 degC
    assert part_verdict("coil", "fluoropolymer", hot).suitability == ASK
    assert SUITABILITIES == (SUITABLE, WITH_LIMITS, ASK, UNSUITABLE)
