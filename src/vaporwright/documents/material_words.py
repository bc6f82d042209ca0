"""Materials at a glance in words: parts of one material that end alike are named together."""

from __future__ import annotations

from typing import NamedTuple

from vaporwright.equipment.materials import MaterialVerdict
from vaporwright.unit.materials_at_a_glance import MaterialsAtAGlance


class MaterialLine(NamedTuple):
    """Parts of one material with their verdict, and what decides it."""

    parts: tuple[str, ...]
    material: str
    verdict: str
    reason: str


def material_lines(glance: MaterialsAtAGlance) -> list[MaterialLine]:
    """One line for all parts of a material that end alike."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for verdict in glance.parts:
        alike.setdefault((verdict.material, verdict.suitability, _reason(verdict)), []).append(verdict.part)
    return [
        MaterialLine(tuple(parts), material, suitability, reason)
        for (material, suitability, reason), parts in alike.items()
    ]


def _reason(verdict: MaterialVerdict) -> str:
    """The findings that decide, each reason once, with what it rests on."""
    reasons: dict[str, list[str]] = {}
    for finding in verdict.findings:
        if finding.suitability == verdict.suitability:
            about = finding.quantity.removesuffix("_kg_kg").removesuffix("_K").replace("_", " ")
            reasons.setdefault(finding.reason, []).append(about)
    return "; ".join(f"{', '.join(about)}: {reason}" for reason, about in reasons.items())
