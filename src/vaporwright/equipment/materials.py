"""Materials at a glance: a first verdict for each wetted part, with the rule and the figure that it rests on.

The liquor is judged at **end-of-batch strength** and at the temperature of the wetted surface: for a heated tube
that is its hot wall, not the bath. Both come from the caller. Every rule gives a finding; the worst one decides.
What is not known, and what no rule here covers, is "ask a corrosion engineer", never "suitable". The tables with
their sources, and what they leave out, are in docs/physics/materials.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced

Suitability = Literal["suitable", "with limits", "ask a corrosion engineer", "unsuitable"]
SUITABLE: Final = "suitable"
WITH_LIMITS: Final = "with limits"
ASK: Final = "ask a corrosion engineer"
UNSUITABLE: Final = "unsuitable"
SUITABILITIES: Final[tuple[Suitability, ...]] = (SUITABLE, WITH_LIMITS, ASK, UNSUITABLE)  # best to worst

METALS: Final = ("stainless steel 304", "stainless steel 316", "duplex 2205", "nickel-chromium-molybdenum", "titanium")
PLASTICS: Final = ("polypropylene", "PVC", "CPVC", "PVDF", "polyethylene", "fibreglass vinyl ester")
ORGANICS: Final = ("mineral oil", "detergent", "aromatic solvent", "chlorinated solvent", "ketone or ester")

MATERIALS_CAUTION: Final = (
    "A first look, not a materials selection: a corrosion engineer and the material's maker decide, on an analysis"
    " of the customer's own liquor. Failed tubes and tanks spill hot, corrosive liquor and can let it into a fired"
    " tube: inspect, guard, contain, and lock out and drain before opening."
)


def _fahrenheit_K(temperature: float) -> float:
    return (temperature + 459.67) / 1.8


AMBIENT_K: Final = 303.15  # how far the guidelines for natural waters "at ambient" are taken here
CRACKING_K: Final = 333.15  # chloride stress corrosion cracking is usual above this metal temperature
PRESSURE_RATING_K: Final = _fahrenheit_K(73.0)  # at which thermoplastic pipe is rated; derated above


@dataclass(frozen=True, slots=True)
class Exposure:
    """What a wetted part meets, at end-of-batch strength. None means that nobody knows.

    Args:
        temperature_K [K]: hottest wetted surface of the part (a heated tube: its wall), 250 to 500.
        chloride_kg_kg, fluoride_kg_kg [kg/kg of liquor]: dissolved ions, 0 to 0.7 and 0 to 0.5.
        lowest_pH, highest_pH: of the liquor over the batch, -1 to 15; both change as it concentrates.
        oxidising: hypochlorite, peroxide, chromate, iron(III) or copper(II) in more than traces.
        organics: which of ORGANICS are there in more than traces; () for none. Other names are unknown stuff.
        under_pressure: whether the part (plastics) holds pressure.
        hydrochloric_acid_kg_kg, sulphuric_acid_kg_kg [kg/kg]: free acid, for titanium below pH 2.
    Raises: OutOfRange.
    """

    temperature_K: float | None = None
    chloride_kg_kg: float | None = None
    fluoride_kg_kg: float | None = None
    lowest_pH: float | None = None
    highest_pH: float | None = None
    oxidising: bool | None = None
    organics: tuple[str, ...] | None = None
    under_pressure: bool | None = None
    hydrochloric_acid_kg_kg: float | None = None
    sulphuric_acid_kg_kg: float | None = None

    def __post_init__(self) -> None:
        limits = (
            ("temperature_K", self.temperature_K, 250.0, 500.0, "wetted surfaces of an open tank"),
            ("chloride_kg_kg", self.chloride_kg_kg, 0.0, 0.7, "mass fraction of a solution"),
            ("fluoride_kg_kg", self.fluoride_kg_kg, 0.0, 0.5, "mass fraction of a solution"),
            ("lowest_pH", self.lowest_pH, -1.0, 15.0, "aqueous liquor"),
            ("highest_pH", self.highest_pH, -1.0, 15.0, "aqueous liquor"),
            ("hydrochloric_acid_kg_kg", self.hydrochloric_acid_kg_kg, 0.0, 1.0, "mass fraction"),
            ("sulphuric_acid_kg_kg", self.sulphuric_acid_kg_kg, 0.0, 1.0, "mass fraction"),
        )
        for name, value, low, high, reason in limits:
            if value is not None:
                require_range(name, value, low, high, reason)
        if self.lowest_pH is not None and self.highest_pH is not None:
            require_range("highest_pH", self.highest_pH, self.lowest_pH, 15.0, "not below lowest_pH")


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says. The figure is kept apart from the words so that it can be shown in the reader's units."""

    suitability: Suitability
    reason: str
    source_id: str
    quantity: str  # the argument that decided, with its unit: "chloride_kg_kg", "temperature_K", ...
    value: float | None  # as given; None where unknown or not a number
    limit: float | None  # the published figure that the rule rests on


@dataclass(frozen=True, slots=True)
class MaterialVerdict:
    """The verdict for one part; findings worst first, so that the first decides."""

    part: str
    material: str
    findings: tuple[Finding, ...]
    caution: str = MATERIALS_CAUTION

    @property
    def deciding(self) -> Finding:
        """The worst finding."""
        return self.findings[0]

    @property
    def suitability(self) -> Suitability:
        """The verdict: that of the worst finding."""
        return self.findings[0].suitability


def _verdict(part: str, material: str, findings: list[Finding]) -> MaterialVerdict:
    worst_first = sorted(findings, key=lambda finding: -SUITABILITIES.index(finding.suitability))
    return MaterialVerdict(part, material, tuple(worst_first))


def _unknown(quantity: str, reason: str = "not known, and it decides") -> Finding:
    return Finding(ASK, reason, "ask-when-unknown", quantity, None, None)


# Metals ------------------------------------------------------------------------------------------------------------


class _Austenitic(NamedTuple):
    """Figures of one grade. hot_water: (highest wall temperature, most chloride), by rising temperature."""

    hot_water: tuple[tuple[float, float], ...]
    crevice_from: float  # in natural waters at ambient, below which crevice attack is rare
    crevice_to: float
    pitting_chloride: float
    pitting_K: float


_GRADE_304: Final = _Austenitic(
    hot_water=((333.15, 50e-6), (353.15, 25e-6), (393.15, 10e-6)),
    crevice_from=100e-6,
    crevice_to=200e-6,
    pitting_chloride=300e-6,
    pitting_K=313.15,
)
_GRADE_316: Final = _Austenitic(
    hot_water=((333.15, 300e-6), (353.15, 100e-6), (393.15, 80e-6), (403.15, 25e-6)),
    crevice_from=1000e-6,
    crevice_to=1000e-6,
    pitting_chloride=500e-6,
    pitting_K=343.15,
)
_DUPLEX_AMBIENT: Final = 3600e-6
_DUPLEX_PITTING: Final = 21_000e-6  # 3.5 % sodium chloride
_DUPLEX_PITTING_K: Final = 328.15
_SEA_WATER: Final = 20_000e-6
_HIGHEST_NICKEL_ALLOY_K: Final = 393.15

_TITANIUM_DILUTE: Final = 300e-6
_TITANIUM_BRINE: Final = 1000e-6
_TITANIUM_CREVICE_FROM_K: Final = 343.15
_TITANIUM_CREVICE_TO_K: Final = 353.15
_HIGHEST_TITANIUM_K: Final = 403.15
_TITANIUM_FLUORIDE: Final = 10e-6
_LEAST_FLUORIDE: Final = 5e-6  # the threshold is known to a factor of two
_TITANIUM_ACID: Final = 0.05


def _hot_water_limit(table: tuple[tuple[float, float], ...], temperature_K: float) -> float:
    """Most chloride of the next hotter column; below zero beyond the table, so that nothing passes."""
    return next((chloride for highest_K, chloride in table if temperature_K <= highest_K), -1.0)


def _austenitic(grade: _Austenitic, temperature_K: float, chloride: float) -> Finding:
    ambient, cracking = temperature_K <= AMBIENT_K, temperature_K > CRACKING_K
    allowed = _hot_water_limit(grade.hot_water, temperature_K)
    if chloride >= grade.pitting_chloride and temperature_K >= grade.pitting_K:
        reason = "at and above a published pitting point in chloride and temperature"
        return Finding(UNSUITABLE, reason, "feltzin-chlorides", "chloride_kg_kg", chloride, grade.pitting_chloride)
    if (chloride > grade.crevice_to and not ambient) or (chloride > grade.crevice_from and cracking):
        most = grade.crevice_from if cracking else grade.crevice_to
        reason = "above the chloride from which crevices corrode even in cold water, and the surface is warm"
        return Finding(UNSUITABLE, reason, "nidi-11003", "chloride_kg_kg", chloride, most)
    if chloride <= allowed and cracking:
        reason = (
            "within the hot-water table, but above the temperature from which chloride cracks stressed austenitic"
            " steel, and a hot wall concentrates chloride under scale: keep it clean, inspect"
        )
        return Finding(WITH_LIMITS, reason, "api-571-chloride-cracking", "temperature_K", temperature_K, CRACKING_K)
    if chloride <= allowed:
        reason = "within the table of chloride against temperature for hot water"
        return Finding(SUITABLE, reason, "plate-exchanger-water-guides", "chloride_kg_kg", chloride, allowed)
    if ambient and chloride <= grade.crevice_from:
        reason = "crevice attack is rare in natural water at ambient; no tight crevices, no deposits"
        return Finding(WITH_LIMITS, reason, "nidi-11003", "chloride_kg_kg", chloride, grade.crevice_from)
    if ambient:
        reason = "above the chloride below which crevice attack is rare in cold natural water"
        return Finding(ASK, reason, "nidi-11003", "chloride_kg_kg", chloride, grade.crevice_from)
    reason = "above the table of chloride against temperature for hot water"
    return Finding(
        ASK, reason, "plate-exchanger-water-guides", "chloride_kg_kg", chloride, allowed if allowed >= 0.0 else None
    )


def _duplex(temperature_K: float, chloride: float) -> Finding:
    allowed = _hot_water_limit(_GRADE_316.hot_water, temperature_K)
    if chloride >= _DUPLEX_PITTING and temperature_K >= _DUPLEX_PITTING_K:
        reason = "at and above the critical pitting temperature in sodium chloride solution"
        return Finding(UNSUITABLE, reason, "duplex-pitting", "temperature_K", temperature_K, _DUPLEX_PITTING_K)
    if chloride <= allowed:
        reason = "within the hot-water table of 316, which this grade exceeds in pitting and cracking"
        return Finding(SUITABLE, reason, "plate-exchanger-water-guides", "chloride_kg_kg", chloride, allowed)
    if temperature_K <= AMBIENT_K and chloride <= _DUPLEX_AMBIENT:
        reason = "within the guideline for natural waters at ambient"
        return Finding(WITH_LIMITS, reason, "duplex-water-guideline", "chloride_kg_kg", chloride, _DUPLEX_AMBIENT)
    reason = "no published figure here for this chloride on a warm surface"
    return Finding(ASK, reason, "duplex-water-guideline", "chloride_kg_kg", chloride, _DUPLEX_AMBIENT)


def _nickel_alloy(temperature_K: float, chloride: float) -> Finding:
    source = "nickel-alloy-practice"
    if temperature_K > _HIGHEST_NICKEL_ALLOY_K:
        reason = "hotter than the practice covers"
        return Finding(ASK, reason, source, "temperature_K", temperature_K, _HIGHEST_NICKEL_ALLOY_K)
    if chloride <= _SEA_WATER and temperature_K <= CRACKING_K:
        reason = "no more chloride than about sea water, and warm at most"
        return Finding(SUITABLE, reason, source, "chloride_kg_kg", chloride, _SEA_WATER)
    reason = "nearly immune to chloride cracking, but crevices under scale can corrode in hot brine: keep it clean"
    return Finding(WITH_LIMITS, reason, source, "chloride_kg_kg", chloride, _SEA_WATER)


def _titanium(temperature_K: float, chloride: float) -> Finding:
    if temperature_K > _HIGHEST_TITANIUM_K:
        reason = "hotter than the table covers"
        return Finding(ASK, reason, "plate-exchanger-water-guides", "temperature_K", temperature_K, _HIGHEST_TITANIUM_K)
    if chloride <= _TITANIUM_DILUTE:
        reason = "within the table of chloride against temperature for hot water"
        return Finding(SUITABLE, reason, "plate-exchanger-water-guides", "chloride_kg_kg", chloride, _TITANIUM_DILUTE)
    source, quantity = "titanium-limits", "temperature_K"
    if temperature_K <= _TITANIUM_CREVICE_FROM_K:
        reason = "below the temperature from which crevices of unalloyed titanium corrode in chloride"
        return Finding(SUITABLE, reason, source, quantity, temperature_K, _TITANIUM_CREVICE_FROM_K)
    if temperature_K <= _TITANIUM_CREVICE_TO_K or chloride <= _TITANIUM_BRINE:
        reason = "near or above the temperature from which crevices under scale and gaskets corrode: keep it clean"
        return Finding(WITH_LIMITS, reason, source, quantity, temperature_K, _TITANIUM_CREVICE_FROM_K)
    reason = "hot brine attacks crevices of unalloyed titanium; a palladium-bearing grade may be needed"
    return Finding(ASK, reason, source, quantity, temperature_K, _TITANIUM_CREVICE_TO_K)


def _chloride(material: str, exposure: Exposure) -> list[Finding]:
    if exposure.temperature_K is None:
        return [_unknown("temperature_K")]
    if exposure.chloride_kg_kg is None:
        return [_unknown("chloride_kg_kg")]
    at = (exposure.temperature_K, exposure.chloride_kg_kg)
    if material == "stainless steel 304":
        return [_austenitic(_GRADE_304, *at)]
    if material == "stainless steel 316":
        return [_austenitic(_GRADE_316, *at)]
    if material == "duplex 2205":
        return [_duplex(*at)]
    return [_titanium(*at) if material == "titanium" else _nickel_alloy(*at)]


def _acidity(material: str, exposure: Exposure) -> list[Finding]:
    if material == "titanium":
        found = _titanium_acid(exposure)
    elif exposure.lowest_pH is None:
        found = [_unknown("lowest_pH")]
    elif material == "nickel-chromium-molybdenum":
        acid = exposure.lowest_pH < 2.0
        reason = "strongly acid: which acid decides" if acid else "not strongly acid"
        found = [
            Finding(ASK if acid else SUITABLE, reason, "nickel-alloy-practice", "lowest_pH", exposure.lowest_pH, 2.0)
        ]
    else:
        found = [_steel_acid(exposure.lowest_pH)]
    if exposure.highest_pH is None:
        found.append(_unknown("highest_pH"))
    elif exposure.highest_pH > 12.0:
        reason = "strongly alkaline: no rule here covers hot caustic"
        found.append(Finding(ASK, reason, "ask-when-unknown", "highest_pH", exposure.highest_pH, 12.0))
    return found


def _steel_acid(pH: float) -> Finding:
    guides = "plate-exchanger-water-guides"
    if pH < 2.0:
        reason = "so acid that the whole surface corrodes"
        return Finding(UNSUITABLE, reason, "api-571-chloride-cracking", "lowest_pH", pH, 2.0)
    if pH < 6.0:
        return Finding(
            ASK, "acid: the risk rises, and the chloride figures no longer hold", guides, "lowest_pH", pH, 6.0
        )
    if pH < 7.0:
        reason = "slightly acid: outside the pH for which the chloride figures are recommended"
        return Finding(WITH_LIMITS, reason, guides, "lowest_pH", pH, 7.0)
    return Finding(SUITABLE, "not acid", guides, "lowest_pH", pH, 7.0)


def _titanium_acid(exposure: Exposure) -> list[Finding]:
    source = "titanium-limits"
    found = []
    for quantity, acid in (
        ("hydrochloric_acid_kg_kg", exposure.hydrochloric_acid_kg_kg),
        ("sulphuric_acid_kg_kg", exposure.sulphuric_acid_kg_kg),
    ):
        if acid is not None and acid > _TITANIUM_ACID:
            found.append(
                Finding(UNSUITABLE, "warm reducing acid dissolves titanium", source, quantity, acid, _TITANIUM_ACID)
            )
    if exposure.lowest_pH is None:
        found.append(_unknown("lowest_pH"))
    elif exposure.lowest_pH < 2.0:
        reason = "strongly acid: kind, strength and inhibitors of the acid decide"
        found.append(Finding(ASK, reason, source, "lowest_pH", exposure.lowest_pH, 2.0))
    else:
        reason = "free acid is far below the reducing acids that attack titanium"
        found.append(Finding(SUITABLE, reason, source, "lowest_pH", exposure.lowest_pH, 2.0))
    return found


def _fluoride(material: str, exposure: Exposure) -> list[Finding]:
    fluoride, quantity = exposure.fluoride_kg_kg, "fluoride_kg_kg"
    if fluoride is None:
        return [_unknown(quantity)]
    if material != "titanium":
        if fluoride < _LEAST_FLUORIDE:
            return []
        reason = "fluoride is there, and no rule here covers it for this material"
        return [Finding(ASK, reason, "ask-when-unknown", quantity, fluoride, None)]
    source = "titanium-fluoride"
    if fluoride < _LEAST_FLUORIDE:
        return [Finding(SUITABLE, "below half the threshold", source, quantity, fluoride, _TITANIUM_FLUORIDE)]
    if fluoride >= _TITANIUM_FLUORIDE and exposure.lowest_pH is not None and exposure.lowest_pH < 7.0:
        reason = "acid fluoride dissolves titanium's film"
        return [Finding(UNSUITABLE, reason, source, quantity, fluoride, _TITANIUM_FLUORIDE)]
    reason = "near or above the threshold found in acids; acidity under scale decides"
    return [Finding(ASK, reason, source, quantity, fluoride, _TITANIUM_FLUORIDE)]


def _oxidisers(exposure: Exposure, material: str) -> list[Finding]:
    if exposure.oxidising is None:
        return [_unknown("oxidising")]
    if not exposure.oxidising:
        return []
    reason = f"oxidisers raise the attack on {material}, and no rule here says by how much"
    return [Finding(ASK, reason, "ask-when-unknown", "oxidising", None, None)]


@sourced("plate-exchanger-water-guides", "304, 316 and titanium by chloride and highest temperature; pH")
@sourced("nidi-11003", "chloride below which crevice attack is rare: 304 100 to 200 ppm, 316 1000 ppm")
@sourced("feltzin-chlorides", "critical pitting: 304 at 300 ppm from 40 degC, 316 at 500 ppm from 70 degC")
@sourced("api-571-chloride-cracking", "cracking above 60 degC; below pH 2 uniform corrosion; nickel above 45 %")
@sourced("duplex-pitting", "2205 in sodium chloride solution")
@sourced("duplex-water-guideline", "2205 in natural waters at ambient, 3600 ppm")
@sourced("nickel-alloy-practice", "nickel-chromium-molybdenum in brine")
@sourced("titanium-fluoride", "threshold in acids, 10 to 19 ppm")
@sourced("titanium-limits", "crevices in hot chloride; reducing acids")
@sourced("ask-when-unknown", "what is unknown or uncovered goes to a corrosion engineer")
def metal_verdict(part: str, material: str, exposure: Exposure) -> MaterialVerdict:
    """First verdict on a metal part in the liquor at end of batch.

    Rules: chloride against temperature of the wetted surface, acidity and alkalinity, fluoride, oxidisers; the
        worst decides. Each is a staircase between published figures, nothing is interpolated.
    Args:
        part: its name, for the verdict. material: one of METALS; any other is "ask a corrosion engineer".
        exposure: at end-of-batch strength, with the hottest wetted surface of this part.
    Returns: the verdict with its findings, worst first.
    Source: as in the register; docs/physics/materials.md has the tables.
    Example: 0.3 % chloride on a wall at 90 degC
        >>> hot = Exposure(
        ...     temperature_K=363.15, chloride_kg_kg=0.003, fluoride_kg_kg=0.0, lowest_pH=8.0, highest_pH=9.0,
        ...     oxidising=False,
        ... )
        >>> metal_verdict("immersion tube", "stainless steel 316", hot).suitability
        'unsuitable'
    """
    if material not in METALS:
        return _verdict(part, material, [_unknown("material", "no rule here covers this material or grade")])
    findings = [*_chloride(material, exposure), *_acidity(material, exposure), *_fluoride(material, exposure)]
    if material != "titanium":
        findings += _oxidisers(exposure, material)
    return _verdict(part, material, findings)


@sourced("titanium-chlorine-gas", "1 % water at room temperature, 1.5 % at 199 degC")
@sourced("ask-when-unknown", "what is unknown goes to a corrosion engineer")
def titanium_in_chlorine_gas(part: str, *, water_kg_kg: float | None, temperature_K: float | None) -> MaterialVerdict:
    """First verdict on titanium in chlorine gas: dry chlorine can set it on fire.

    Args:
        part: its name. water_kg_kg [kg/kg of gas]: 0 to 1, None if unknown.
        temperature_K [K]: 250 to 600, None if unknown.
    Returns: "unsuitable" below 1 % water up to 30 degC and below 1.5 % above, "with limits" from there on (flow,
        pressure and scratches raise the need), "ask a corrosion engineer" where unknown or above 199 degC.
    Raises: OutOfRange.
    Source: titanium-chlorine-gas.
    """
    if water_kg_kg is not None:
        require_range("water_kg_kg", water_kg_kg, 0.0, 1.0, "mass fraction")
    if temperature_K is not None:
        require_range("temperature_K", temperature_K, 250.0, 600.0)
    source, quantity = "titanium-chlorine-gas", "water_kg_kg"
    if water_kg_kg is not None and water_kg_kg < 0.01:
        finding = Finding(
            UNSUITABLE, "dry chlorine attacks and can ignite titanium", source, quantity, water_kg_kg, 0.01
        )
    elif water_kg_kg is None:
        finding = _unknown(quantity)
    elif temperature_K is None:
        finding = _unknown("temperature_K")
    elif temperature_K > AMBIENT_K and water_kg_kg < 0.015:
        reason = "too dry for warm chlorine, which attacks and can ignite titanium"
        finding = Finding(UNSUITABLE, reason, source, quantity, water_kg_kg, 0.015)
    elif temperature_K > 472.15:
        finding = Finding(ASK, "hotter than the published figures", source, "temperature_K", temperature_K, 472.15)
    else:
        least = 0.01 if temperature_K <= AMBIENT_K else 0.015
        reason = "moist enough when still; flow, pressure and damage of the film raise the need for water"
        finding = Finding(WITH_LIMITS, reason, source, quantity, water_kg_kg, least)
    return _verdict(part, "titanium", [finding])


# Plastics ----------------------------------------------------------------------------------------------------------


class _Plastic(NamedTuple):
    """full_K: suitable up to here; service_K: unsuitable above; pressure_K: end of one table's use under pressure."""

    full_K: float
    service_K: float
    pressure_K: float | None
    source_id: str


_TABLE, _MEMORY, _SOLVENTS = "plastic-service-temperatures", "plastic-service-from-memory", "plastic-solvents-memory"
_PLASTICS: Final = {
    "PVC": _Plastic(_fahrenheit_K(130.0), _fahrenheit_K(140.0), None, _TABLE),
    "CPVC": _Plastic(_fahrenheit_K(180.0), _fahrenheit_K(190.0), _fahrenheit_K(180.0), _TABLE),
    "polypropylene": _Plastic(_fahrenheit_K(170.0), _fahrenheit_K(180.0), _fahrenheit_K(100.0), _TABLE),
    "polyethylene": _Plastic(_fahrenheit_K(130.0), _fahrenheit_K(140.0), _fahrenheit_K(100.0), _MEMORY),
    "PVDF": _Plastic(_fahrenheit_K(270.0), _fahrenheit_K(280.0), None, _MEMORY),
    "fibreglass vinyl ester": _Plastic(_fahrenheit_K(160.0), _fahrenheit_K(210.0), None, _MEMORY),
}
_PP, _VINYL = "polypropylene-resistance", "vinyl-pipe-resistance"
_ORGANIC_RULES: Final[dict[tuple[str, str], tuple[Suitability, str]]] = {
    ("polypropylene", "detergent"): (SUITABLE, "polyolefin-stress-cracking"),
    ("polypropylene", "mineral oil"): (WITH_LIMITS, _SOLVENTS),  # swells when hot
    ("polypropylene", "aromatic solvent"): (UNSUITABLE, _PP),
    ("polypropylene", "chlorinated solvent"): (UNSUITABLE, _SOLVENTS),
    ("polypropylene", "ketone or ester"): (UNSUITABLE, _PP),
    ("polyethylene", "detergent"): (WITH_LIMITS, "polyolefin-stress-cracking"),
    ("polyethylene", "mineral oil"): (WITH_LIMITS, _SOLVENTS),
    ("polyethylene", "aromatic solvent"): (UNSUITABLE, _SOLVENTS),
    ("polyethylene", "chlorinated solvent"): (UNSUITABLE, _SOLVENTS),
    ("PVC", "detergent"): (SUITABLE, _VINYL),
    ("PVC", "mineral oil"): (WITH_LIMITS, _SOLVENTS),
    ("PVC", "aromatic solvent"): (UNSUITABLE, _VINYL),
    ("PVC", "chlorinated solvent"): (UNSUITABLE, _VINYL),
    ("PVC", "ketone or ester"): (UNSUITABLE, _VINYL),
    ("CPVC", "detergent"): (ASK, _VINYL),  # nonionic ones are listed as not recommended
    ("CPVC", "aromatic solvent"): (UNSUITABLE, _VINYL),
    ("CPVC", "chlorinated solvent"): (UNSUITABLE, _VINYL),
    ("CPVC", "ketone or ester"): (UNSUITABLE, _VINYL),
    ("PVDF", "detergent"): (SUITABLE, _SOLVENTS),
    ("PVDF", "mineral oil"): (SUITABLE, _SOLVENTS),
    ("PVDF", "ketone or ester"): (UNSUITABLE, _SOLVENTS),
    ("fibreglass vinyl ester", "mineral oil"): (SUITABLE, _SOLVENTS),
    ("fibreglass vinyl ester", "chlorinated solvent"): (UNSUITABLE, _SOLVENTS),
    ("fibreglass vinyl ester", "ketone or ester"): (UNSUITABLE, _SOLVENTS),
}


def _service_temperature(material: str, exposure: Exposure) -> list[Finding]:
    plastic, temperature_K, quantity = _PLASTICS[material], exposure.temperature_K, "temperature_K"
    if temperature_K is None:
        return [_unknown(quantity)]
    source = plastic.source_id
    if temperature_K > plastic.service_K:
        found = Finding(UNSUITABLE, "hotter than its service limit", source, quantity, temperature_K, plastic.service_K)
    elif temperature_K > plastic.full_K:
        reason = "close to its service limit, on which sources differ: the maker of the part decides"
        if material == "fibreglass vinyl ester":
            source, reason = "finishing-guidebook-linings", "hotter than the resin cured cold: post-cured laminate only"
        found = Finding(WITH_LIMITS, reason, source, quantity, temperature_K, plastic.full_K)
    else:
        found = Finding(SUITABLE, "within its service limit", source, quantity, temperature_K, plastic.service_K)
    if exposure.under_pressure is None:
        return [found, _unknown("under_pressure")]
    if not exposure.under_pressure or temperature_K <= PRESSURE_RATING_K:
        return [found]
    reason, limit_K = "under pressure: derate by the maker's curve", PRESSURE_RATING_K
    if plastic.pressure_K is not None and temperature_K > plastic.pressure_K:
        reason, limit_K = "hotter than one published table uses it under pressure: maker's curve", plastic.pressure_K
    return [found, Finding(WITH_LIMITS, reason, _TABLE, quantity, temperature_K, limit_K)]


def _plastic_pH(material: str, exposure: Exposure) -> list[Finding]:
    found = []
    if exposure.lowest_pH is None:
        found.append(_unknown("lowest_pH"))
    elif exposure.lowest_pH < 1.0:
        reason = "strong acid: its kind and strength decide"
        found.append(Finding(ASK, reason, "ask-when-unknown", "lowest_pH", exposure.lowest_pH, 1.0))
    most = 12.0 if material in ("PVDF", "fibreglass vinyl ester") else 13.0
    if exposure.highest_pH is None:
        found.append(_unknown("highest_pH"))
    elif exposure.highest_pH > most and material == "PVDF":
        reason = "strong alkali cracks it"
        found.append(Finding(UNSUITABLE, reason, _SOLVENTS, "highest_pH", exposure.highest_pH, most))
    elif exposure.highest_pH > most:
        reason = "strong alkali: strength and temperature decide"
        found.append(Finding(ASK, reason, "ask-when-unknown", "highest_pH", exposure.highest_pH, most))
    return found


def _organics(material: str, exposure: Exposure) -> list[Finding]:
    if exposure.organics is None:
        return [_unknown("organics")]
    found = []
    for content in exposure.organics:
        suitability, source = _ORGANIC_RULES.get((material, content), (ASK, "ask-when-unknown"))
        uncovered = ", and no rule here covers it" if source == "ask-when-unknown" else ""
        found.append(Finding(suitability, f"{content} in the liquor{uncovered}", source, "organics", None, None))
    return found


@sourced("plastic-service-temperatures", "highest service temperature, with and without pressure")
@sourced("plastic-service-from-memory", "PVDF 280 degF, polyethylene 140 degF, vinyl ester laminate 210 degF")
@sourced("finishing-guidebook-linings", "vinyl ester cured at ambient: 160 degF")
@sourced("polypropylene-resistance", "aromatics, petrol and esters at 20 and 60 degC")
@sourced("vinyl-pipe-resistance", "PVC and CPVC with salt water, surfactants, xylene, ketones, chlorinated solvents")
@sourced("polyolefin-stress-cracking", "detergents crack some polyethylenes, polypropylene rarely")
@sourced("plastic-solvents-memory", "remaining solvents and oils; PVDF above pH 12")
@sourced("ask-when-unknown", "what is unknown or uncovered goes to a corrosion engineer")
def plastic_verdict(part: str, material: str, exposure: Exposure) -> MaterialVerdict:
    """First verdict on a plastic part: service temperature, pressure, pH, oils and solvents, oxidisers, fluoride.

    Args:
        part: its name, for the verdict. material: one of PLASTICS; any other is "ask a corrosion engineer".
        exposure: at end-of-batch strength, with the hottest wetted surface of this part: near the heater or at
            the high limit, not the usual bath. Chloride does not matter.
    Returns: the verdict with its findings, worst first. How far pressure must come down is not answered here.
    Source: as in the register; docs/physics/materials.md has the tables.
    Example: a PVC pipe at 150 degF
        >>> warm = Exposure(
        ...     temperature_K=338.7, fluoride_kg_kg=0.0, lowest_pH=7.0, highest_pH=9.0, oxidising=False,
        ...     organics=(), under_pressure=False,
        ... )
        >>> plastic_verdict("return pipe", "PVC", warm).suitability
        'unsuitable'
    """
    if material not in PLASTICS:
        return _verdict(part, material, [_unknown("material", "no rule here covers this material or grade")])
    findings = [
        *_service_temperature(material, exposure),
        *_plastic_pH(material, exposure),
        *_organics(material, exposure),
    ]
    if material in ("polypropylene", "polyethylene", "fibreglass vinyl ester"):
        findings += _oxidisers(exposure, material)
    if material == "fibreglass vinyl ester":
        findings += _fluoride(material, exposure)
    return _verdict(part, material, findings)


@sourced("ask-when-unknown", "materials that no rule here covers")
def part_verdict(part: str, material: str, exposure: Exposure) -> MaterialVerdict:
    """First verdict on a part of any material: metal_verdict, plastic_verdict, or "ask a corrosion engineer".

    Args and returns: as in metal_verdict. "stainless steel" without its grade is unknown too.
    """
    if material in PLASTICS:
        return plastic_verdict(part, material, exposure)
    return metal_verdict(part, material, exposure)
