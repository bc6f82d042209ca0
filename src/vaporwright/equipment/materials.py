"""Materials at a glance: a first verdict for each wetted part, with the rule and the figure that it rests on.

The liquor is judged at **end-of-batch strength** and at the temperature of the wetted surface: for a heated tube
that is its hot wall, not the bath. Both come from the caller. Every rule gives a finding; the worst one decides.
What is not known, and what no rule here covers, is "ask a corrosion engineer", never "suitable". The tables with
their sources, and what they leave out, are in docs/physics/materials.md.
"""

from __future__ import annotations

from vaporwright.equipment.material_findings import (
    ASK,
    MATERIALS_CAUTION,
    ORGANICS,
    SUITABILITIES,
    SUITABLE,
    UNSUITABLE,
    WITH_LIMITS,
    Exposure,
    Finding,
    MaterialVerdict,
    Suitability,
)
from vaporwright.equipment.metal_rules import METALS, metal_verdict
from vaporwright.equipment.plastic_rules import PLASTICS, plastic_verdict
from vaporwright.foundation.register import sourced

__all__ = [
    "ASK",
    "MATERIALS_CAUTION",
    "METALS",
    "ORGANICS",
    "PLASTICS",
    "SUITABILITIES",
    "SUITABLE",
    "UNSUITABLE",
    "WITH_LIMITS",
    "Exposure",
    "Finding",
    "MaterialVerdict",
    "Suitability",
    "part_verdict",
]


@sourced("ask-when-unknown", "materials that no rule here covers")
def part_verdict(part: str, material: str, exposure: Exposure) -> MaterialVerdict:
    """First verdict on a part of any material: metal_verdict, plastic_verdict, or "ask a corrosion engineer".

    Args and returns: as in metal_verdict. "stainless steel" without its grade is unknown too.
    """
    if material in PLASTICS:
        return plastic_verdict(part, material, exposure)
    return metal_verdict(part, material, exposure)
