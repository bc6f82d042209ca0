"""What material rules are asked and what they answer: exposure, findings, verdict; and what no rule covers.

For equipment.materials, metal_rules and plastic_rules.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced

Suitability = Literal["suitable", "with limits", "ask a corrosion engineer", "unsuitable"]
SUITABLE: Final = "suitable"
WITH_LIMITS: Final = "with limits"
ASK: Final = "ask a corrosion engineer"
UNSUITABLE: Final = "unsuitable"
SUITABILITIES: Final[tuple[Suitability, ...]] = (SUITABLE, WITH_LIMITS, ASK, UNSUITABLE)  # best to worst

ORGANICS: Final = ("mineral oil", "detergent", "aromatic solvent", "chlorinated solvent", "ketone or ester")

MATERIALS_CAUTION: Final = (
    "A first look, not a materials selection: a corrosion engineer and the material's maker decide, on an analysis"
    " of the customer's own liquor. Failed tubes and tanks spill hot, corrosive liquor and can let it into a fired"
    " tube: inspect, guard, contain, and lock out and drain before opening."
)

AMBIENT_K: Final = 303.15  # how far the guidelines for natural waters "at ambient" are taken here
LEAST_FLUORIDE: Final = 5e-6  # the threshold for titanium is known to a factor of two


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

    @classmethod
    def unknown(cls, quantity: str, reason: str = "not known, and it decides") -> Finding:
        """What is not known goes to a corrosion engineer."""
        return cls(ASK, reason, "ask-when-unknown", quantity, None, None)


@dataclass(frozen=True, slots=True)
class MaterialVerdict:
    """The verdict for one part; findings worst first, so that the first decides."""

    part: str
    material: str
    findings: tuple[Finding, ...]
    caution: str = MATERIALS_CAUTION

    @classmethod
    def worst_first(cls, part: str, material: str, findings: Iterable[Finding]) -> MaterialVerdict:
        """The verdict of all findings; of equally bad ones the first counts."""
        ranked = sorted(findings, key=lambda finding: -SUITABILITIES.index(finding.suitability))
        return cls(part, material, tuple(ranked))

    @property
    def deciding(self) -> Finding:
        """The worst finding."""
        return self.findings[0]

    @property
    def suitability(self) -> Suitability:
        """The verdict: that of the worst finding."""
        return self.findings[0].suitability


@sourced("ask-when-unknown", "fluoride on a material without a rule for it")
def unruled_fluoride(exposure: Exposure) -> list[Finding]:
    """What the fluoride of a liquor means for a material that no rule covers: ask from 5 ppm on, or where unknown.

    Args: exposure: at end-of-batch strength.
    Returns: one finding; none below 5 ppm.
    Source: ask-when-unknown.
    """
    fluoride, quantity = exposure.fluoride_kg_kg, "fluoride_kg_kg"
    if fluoride is None:
        return [Finding.unknown(quantity)]
    if fluoride < LEAST_FLUORIDE:
        return []
    reason = "fluoride is there, and no rule here covers it for this material"
    return [Finding(ASK, reason, "ask-when-unknown", quantity, fluoride, None)]


@sourced("ask-when-unknown", "oxidisers on a material that they attack")
def unruled_oxidisers(material: str, exposure: Exposure) -> list[Finding]:
    """What oxidisers mean for a material that they attack: ask where they are there or nobody knows.

    Args: material: its name, for the words. exposure: at end-of-batch strength.
    Returns: one finding; none without oxidisers.
    Source: ask-when-unknown.
    """
    if exposure.oxidising is None:
        return [Finding.unknown("oxidising")]
    if not exposure.oxidising:
        return []
    reason = f"oxidisers raise the attack on {material}, and no rule here says by how much"
    return [Finding(ASK, reason, "ask-when-unknown", "oxidising", None, None)]
