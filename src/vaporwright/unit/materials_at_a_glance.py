"""Materials at a glance: the wetted parts of a unit against the liquor as the batch ends.

Tank, pipe and tower parts are judged at the clamp, the heating surface at its hottest wetted point over the seasons.
What the enquiry does not say stays unknown, and then no verdict is better than "ask a corrosion engineer"; what is
worse than that is worth knowing before a part is chosen. The rules are in equipment.materials.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.materials import Exposure, MaterialVerdict, part_verdict
from vaporwright.equipment.steam_coil import SteamCoilRating
from vaporwright.properties.liquor import density_kg_m3
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import SeasonResult, liquor_of
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart, HeatSourcePart
from vaporwright.unit.job import Job

# What the catalogue calls a material, as the rules call it.
NAMES_IN_RULES = {
    "304 stainless": "stainless steel 304",
    "316 stainless": "stainless steel 316",
    "2205 duplex": "duplex 2205",
}
MAY_BE_ASSUMED = (
    "liquid.chloride",
    "liquid.pH",
    "liquid.pH_end_of_batch",
    "liquid.fluoride",
    "liquid.mild_oxidiser",
    "liquid.organics",
    "liquid.concentration_factor",
)


@dataclass(frozen=True)
class MaterialsAtAGlance:
    """Verdicts for the wetted parts, and what of their basis nobody stated."""

    parts: tuple[MaterialVerdict, ...]
    assumed_keys: tuple[str, ...]


@dataclass(frozen=True)
class _Wetted:
    part: str
    material: str
    temperature_K: float
    under_pressure: bool = False


def materials_at_a_glance(answer: UnitAnswer) -> MaterialsAtAGlance:
    """Judge the wetted parts at the liquor's end-of-batch strength."""
    job = answer.job
    hottest_K = max(_wetted_surface_K(result) for result in answer.seasons.values())
    assumed = {entry.key for entry in job.assumptions}
    return MaterialsAtAGlance(
        tuple(
            part_verdict(wetted.part, NAMES_IN_RULES.get(wetted.material, wetted.material), _exposure(job, wetted))
            for wetted in _wetted_parts(job, answer.unit, hottest_K)
        ),
        tuple(key for key in MAY_BE_ASSUMED if key in assumed),
    )


def _wetted_parts(job: Job, unit: AssembledUnit, hottest_K: float) -> Iterator[_Wetted]:
    clamp_K = job.number("choices.set_point")
    yield _Wetted("tank", unit.tank.material, clamp_K)
    yield _Wetted(_heating_surface(unit.heat_source), _heater_material(unit.heat_source), hottest_K)
    yield _Wetted("recirculation pipe", job.text("choices.pipe_material"), clamp_K, under_pressure=True)
    stated = dict(unit.tower.materials)
    for part, _ in unit.tower.temperature_limits_K:
        if part in stated:
            yield _Wetted(f"tower {part}", stated[part], clamp_K, under_pressure=part == "header")


def _exposure(job: Job, wetted: _Wetted) -> Exposure:
    lowest, highest = _acidity(job)
    oxidiser = job.text("liquid.mild_oxidiser")
    return Exposure(
        temperature_K=wetted.temperature_K,
        chloride_kg_kg=liquor_of(job, end_of_batch=True).chloride_kg_kg,
        fluoride_kg_kg=_fluoride_kg_kg(job),
        lowest_pH=lowest,
        highest_pH=highest,
        oxidising=None if oxidiser == "not known" else oxidiser == "yes",
        organics=_organics(job),
        under_pressure=wetted.under_pressure,
    )


def _acidity(job: Job) -> tuple[float | None, float | None]:
    """Lowest and highest pH over a batch; of a feed alone only the end on its own side of neutral is known."""
    feed, end = job.number("liquid.pH"), job.optional("liquid.pH_end_of_batch")
    if end is not None:
        return min(feed, end), max(feed, end)
    neutral = 7.0
    return (feed if feed < neutral else None), (feed if feed > neutral else None)


def _fluoride_kg_kg(job: Job) -> float | None:
    feed_kg_m3 = job.optional("liquid.fluoride")
    if feed_kg_m3 is None:
        return None
    density = density_kg_m3(liquor_of(job, end_of_batch=True), job.number("choices.set_point"))
    return feed_kg_m3 * job.number("liquid.concentration_factor") / density


def _organics(job: Job) -> tuple[str, ...] | None:
    stated = job.values["liquid.organics"]
    assert isinstance(stated, tuple)
    if not stated:
        return None
    return tuple(name for name in stated if name != "none")


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
