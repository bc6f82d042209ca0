"""Materials at a glance: the wetted parts of a unit against the liquor as the batch ends.

The tank is judged at its clamp, the heating surface at its hottest wetted point over the seasons. What the enquiry
does not say (fluoride, detergents and solvents, the pH after the batch) stays unknown, so that no verdict is better
than "ask a corrosion engineer" yet; what is worse than that is worth knowing before a tank is chosen. The rules are
in equipment.materials.
"""

from __future__ import annotations

from dataclasses import dataclass

from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.materials import Exposure, MaterialVerdict, part_verdict
from vaporwright.equipment.steam_coil import SteamCoilRating
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import SeasonResult, liquor_of
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart, HeatSourcePart
from vaporwright.unit.job import Job

# What the catalogue calls a material, as the rules call it.
NAMES_IN_RULES = {
    "304 stainless": "stainless steel 304",
    "316 stainless": "stainless steel 316",
    "2205 duplex": "duplex 2205",
}
NEUTRAL_pH = 7.0
MAY_BE_ASSUMED = ("liquid.chloride", "liquid.pH", "liquid.concentration_factor")


@dataclass(frozen=True)
class MaterialsAtAGlance:
    """Verdicts for the wetted parts, the worst first seen by the caller, and what of their basis nobody stated."""

    parts: tuple[MaterialVerdict, ...]
    assumed_keys: tuple[str, ...]


def materials_at_a_glance(answer: UnitAnswer) -> MaterialsAtAGlance:
    """Judge tank and heating surface at the liquor's end-of-batch strength."""
    unit, job = answer.unit, answer.job
    heater = unit.heat_source
    hottest_K = max(_wetted_surface_K(result) for result in answer.seasons.values())
    parts = (
        ("tank", unit.tank.material, job.number("choices.set_point")),
        (_heating_surface(heater), _heater_material(heater), hottest_K),
    )
    assumed = {entry.key for entry in job.assumptions}
    return MaterialsAtAGlance(
        tuple(
            part_verdict(part, NAMES_IN_RULES.get(material, material), _exposure(job, temperature_K))
            for part, material, temperature_K in parts
        ),
        tuple(key for key in MAY_BE_ASSUMED if key in assumed),
    )


def _exposure(job: Job, temperature_K: float) -> Exposure:
    pH = job.number("liquid.pH")
    return Exposure(
        temperature_K=temperature_K,
        chloride_kg_kg=liquor_of(job, end_of_batch=True).chloride_kg_kg,
        # An acid feed ends at least as acid, an alkaline one as alkaline; the other end nobody knows before a sample.
        lowest_pH=pH if pH < NEUTRAL_pH else None,
        highest_pH=pH if pH > NEUTRAL_pH else None,
        oxidising=False,  # strongly oxidising liquids were refused before anything was sized
        under_pressure=False,
    )


def _wetted_surface_K(result: SeasonResult) -> float:
    detail = result.heat.detail
    if isinstance(detail, GasBurnerRating):
        return detail.hottest_surface_temperature_K
    if isinstance(detail, ElectricHeaterRating):
        return detail.surface_temperature_K
    assert isinstance(detail, SteamCoilRating)
    return detail.wetted_surface_temperature_K


def _heating_surface(part: HeatSourcePart) -> str:
    if isinstance(part, GasBurnerPart):
        return "immersion tube"
    return "heater sheath" if isinstance(part, ElectricHeaterPart) else "steam coil"


def _heater_material(part: HeatSourcePart) -> str:
    if isinstance(part, GasBurnerPart):
        return part.tube_material
    return part.sheath_material if isinstance(part, ElectricHeaterPart) else part.material
