"""Rules for metals: chloride against temperature, acidity, fluoride; titanium in chlorine gas.

Staircases between published figures, nothing is interpolated. The tables with their sources are in
docs/physics/materials.md.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from vaporwright.equipment.material_findings import (
    AMBIENT_K,
    ASK,
    LEAST_FLUORIDE,
    SUITABLE,
    UNSUITABLE,
    WITH_LIMITS,
    Exposure,
    Finding,
    MaterialVerdict,
    unruled_fluoride,
    unruled_oxidisers,
)
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced

METALS: Final = ("stainless steel 304", "stainless steel 316", "duplex 2205", "nickel-chromium-molybdenum", "titanium")

CRACKING_K: Final = 333.15  # chloride stress corrosion cracking is usual above this metal temperature


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
        return [Finding.unknown("temperature_K")]
    if exposure.chloride_kg_kg is None:
        return [Finding.unknown("chloride_kg_kg")]
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
        found = [Finding.unknown("lowest_pH")]
    elif material == "nickel-chromium-molybdenum":
        acid = exposure.lowest_pH < 2.0
        reason = "strongly acid: which acid decides" if acid else "not strongly acid"
        found = [
            Finding(ASK if acid else SUITABLE, reason, "nickel-alloy-practice", "lowest_pH", exposure.lowest_pH, 2.0)
        ]
    else:
        found = [_steel_acid(exposure.lowest_pH)]
    if exposure.highest_pH is None:
        found.append(Finding.unknown("highest_pH"))
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
        found.append(Finding.unknown("lowest_pH"))
    elif exposure.lowest_pH < 2.0:
        reason = "strongly acid: kind, strength and inhibitors of the acid decide"
        found.append(Finding(ASK, reason, source, "lowest_pH", exposure.lowest_pH, 2.0))
    else:
        reason = "free acid is far below the reducing acids that attack titanium"
        found.append(Finding(SUITABLE, reason, source, "lowest_pH", exposure.lowest_pH, 2.0))
    return found


def _titanium_fluoride(exposure: Exposure) -> list[Finding]:
    fluoride, quantity = exposure.fluoride_kg_kg, "fluoride_kg_kg"
    if fluoride is None:
        return [Finding.unknown(quantity)]
    source = "titanium-fluoride"
    if fluoride < LEAST_FLUORIDE:
        return [Finding(SUITABLE, "below half the threshold", source, quantity, fluoride, _TITANIUM_FLUORIDE)]
    if fluoride >= _TITANIUM_FLUORIDE and exposure.lowest_pH is not None and exposure.lowest_pH < 7.0:
        reason = "acid fluoride dissolves titanium's film"
        return [Finding(UNSUITABLE, reason, source, quantity, fluoride, _TITANIUM_FLUORIDE)]
    reason = "near or above the threshold found in acids; acidity under scale decides"
    return [Finding(ASK, reason, source, quantity, fluoride, _TITANIUM_FLUORIDE)]


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
        return MaterialVerdict.worst_first(
            part, material, [Finding.unknown("material", "no rule here covers this material or grade")]
        )
    findings = [*_chloride(material, exposure), *_acidity(material, exposure)]
    if material == "titanium":
        findings += _titanium_fluoride(exposure)
    else:
        findings += [*unruled_fluoride(exposure), *unruled_oxidisers(material, exposure)]
    return MaterialVerdict.worst_first(part, material, findings)


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
        finding = Finding.unknown(quantity)
    elif temperature_K is None:
        finding = Finding.unknown("temperature_K")
    elif temperature_K > AMBIENT_K and water_kg_kg < 0.015:
        reason = "too dry for warm chlorine, which attacks and can ignite titanium"
        finding = Finding(UNSUITABLE, reason, source, quantity, water_kg_kg, 0.015)
    elif temperature_K > 472.15:
        finding = Finding(ASK, "hotter than the published figures", source, "temperature_K", temperature_K, 472.15)
    else:
        least = 0.01 if temperature_K <= AMBIENT_K else 0.015
        reason = "moist enough when still; flow, pressure and damage of the film raise the need for water"
        finding = Finding(WITH_LIMITS, reason, source, quantity, water_kg_kg, least)
    return MaterialVerdict.worst_first(part, "titanium", [finding])
