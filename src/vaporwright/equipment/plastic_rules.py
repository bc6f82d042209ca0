"""Rules for plastics: service temperature, pressure, pH, oils and solvents.

The tables with their sources are in docs/physics/materials.md.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from vaporwright.equipment.material_findings import (
    ASK,
    SUITABLE,
    UNSUITABLE,
    WITH_LIMITS,
    Exposure,
    Finding,
    MaterialVerdict,
    Suitability,
    unruled_fluoride,
    unruled_oxidisers,
)
from vaporwright.foundation.register import sourced

PLASTICS: Final = ("polypropylene", "PVC", "CPVC", "PVDF", "polyethylene", "fibreglass vinyl ester")


def _fahrenheit_K(temperature: float) -> float:
    return (temperature + 459.67) / 1.8


PRESSURE_RATING_K: Final = _fahrenheit_K(73.0)  # at which thermoplastic pipe is rated; derated above


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
        return [Finding.unknown(quantity)]
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
        return [found, Finding.unknown("under_pressure")]
    if not exposure.under_pressure or temperature_K <= PRESSURE_RATING_K:
        return [found]
    reason, limit_K = "under pressure: derate by the maker's curve", PRESSURE_RATING_K
    if plastic.pressure_K is not None and temperature_K > plastic.pressure_K:
        reason, limit_K = "hotter than one published table uses it under pressure: maker's curve", plastic.pressure_K
    return [found, Finding(WITH_LIMITS, reason, _TABLE, quantity, temperature_K, limit_K)]


def _plastic_pH(material: str, exposure: Exposure) -> list[Finding]:
    found = []
    if exposure.lowest_pH is None:
        found.append(Finding.unknown("lowest_pH"))
    elif exposure.lowest_pH < 1.0:
        reason = "strong acid: its kind and strength decide"
        found.append(Finding(ASK, reason, "ask-when-unknown", "lowest_pH", exposure.lowest_pH, 1.0))
    most = 12.0 if material in ("PVDF", "fibreglass vinyl ester") else 13.0
    if exposure.highest_pH is None:
        found.append(Finding.unknown("highest_pH"))
    elif exposure.highest_pH > most and material == "PVDF":
        reason = "strong alkali cracks it"
        found.append(Finding(UNSUITABLE, reason, _SOLVENTS, "highest_pH", exposure.highest_pH, most))
    elif exposure.highest_pH > most:
        reason = "strong alkali: strength and temperature decide"
        found.append(Finding(ASK, reason, "ask-when-unknown", "highest_pH", exposure.highest_pH, most))
    return found


def _organics(material: str, exposure: Exposure) -> list[Finding]:
    if exposure.organics is None:
        return [Finding.unknown("organics")]
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
        return MaterialVerdict.worst_first(
            part, material, [Finding.unknown("material", "no rule here covers this material or grade")]
        )
    findings = [
        *_service_temperature(material, exposure),
        *_plastic_pH(material, exposure),
        *_organics(material, exposure),
    ]
    if material in ("polypropylene", "polyethylene", "fibreglass vinyl ester"):
        findings += unruled_oxidisers(material, exposure)
    if material == "fibreglass vinyl ester":
        findings += unruled_fluoride(exposure)
    return MaterialVerdict.worst_first(part, material, findings)
