"""Choosing a unit for a duty: the smallest heat source and tower that meet it from the middle of their range.

Common practice sizes for the middle, not the end: the duty should take about three quarters of what the unit can
do in its worst season, and the tower should hold the tank a few kelvin below its clamp with the heat full on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.unit.answer import UnitAnswer, answer_for, required_kg_s
from vaporwright.unit.assembly import AssembledUnit, rated_spray_flow_m3_s, smallest_pump
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult, clamp_of, conditions_of, settle
from vaporwright.unit.catalogue import Catalogue, GasBurnerPart, HeatSourcePart, SteamCoilPart, TankPart, TowerPart
from vaporwright.unit.heat import kind_of, rate_heat
from vaporwright.unit.job import Job

MOST_SHARE = 0.90  # of the capacity that a duty may take
CLEAR_OF_CLAMP_difference_K = 2.0
MOST_TOWERS = 4
LEAST_TANK_SPRAY_TIME_s = 240.0  # working volume over spray flow; common practice, no source
LEAST_HEAT_J_kg = 2.6e6  # per kilogram evaporated, feed warmed and air heated: spares rating what is plainly too small
TUBE_LAYERS = 2
TUBE_PITCH_DIAMETERS = 2.0
END_CLEARANCE_m = 0.15
USUAL_RATIO = 3.0
CARRIES = "carries the heat"


@dataclass(frozen=True)
class Candidate:
    """A unit that was tried, how far the duty fills it in the season tried, and why it was kept or not."""

    unit: AssembledUnit
    evaporation_kg_s: float | None
    settling_temperature_K: float | None
    verdict: str


@dataclass(frozen=True)
class Sizing:
    """The chosen unit's answer and what else was tried."""

    answer: UnitAnswer
    candidates: tuple[Candidate, ...]


def size_unit(job: Job, catalogue: Catalogue) -> Sizing:
    """Choose a unit from the catalogue for a job; the nearest miss where none meets the duty.

    Raises InputError where the catalogue has no part of the kind that the job asks for.
    """
    wanted = required_kg_s(job)
    tried: list[Candidate] = []
    sources = _heat_sources(job, catalogue, wanted)
    best: Candidate | None = None
    for source in sources:
        unit = _unit_around(job, catalogue, source, tried)
        if unit is None:
            continue
        least = _least_capacity(job, unit)
        if least.evaporation_kg_s * MOST_SHARE >= wanted:
            tried.append(_candidate(least, unit, "chosen: the smallest that meets the duty"))
            return Sizing(answer_for(job, unit), tuple(tried))
        share = wanted / least.evaporation_kg_s
        candidate = _candidate(least, unit, f"the duty would take {share:.0%} of it in {least.season}")
        tried.append(candidate)
        if best is None or least.evaporation_kg_s > (best.evaporation_kg_s or 0.0):
            best = candidate
    if best is None:
        reasons = "; ".join(f"{candidate.unit.label()}: {candidate.verdict}" for candidate in tried[-3:])
        raise InputError("catalogue", "tower", f"no tower of the catalogue works on this job ({reasons})")
    return Sizing(answer_for(job, best.unit), tuple(tried))


def _least_capacity(job: Job, unit: AssembledUnit) -> SeasonResult:
    """The weaker of the summer and winter cases."""
    results = [settle(unit, conditions_of(job, season)) for season in ("summer", "winter")]
    return min(results, key=lambda result: result.evaporation_kg_s)


def _candidate(result: SeasonResult, unit: AssembledUnit, verdict: str) -> Candidate:
    return Candidate(unit, result.evaporation_kg_s, result.settling_temperature_K, verdict)


def _heat_sources(job: Job, catalogue: Catalogue, wanted_kg_s: float) -> list[HeatSourcePart]:
    """Heat sources of the wanted kind, smallest first, without those that are plainly too small."""
    kind = job.text("choices.heat_source")
    named = job.text("unit.heat_source")
    parts = [part for part in catalogue.heat_sources.values() if kind_of(part) == kind]
    if named:
        if named not in catalogue.heat_sources:
            allowed = ", ".join(sorted(catalogue.heat_sources))
            raise InputError("job", "unit.heat_source", f"{named!r} is not in the catalogue", allowed)
        parts = [catalogue.heat_sources[named]]
    if not parts:
        raise InputError("catalogue", "heat sources", f"none of the kind {kind!r} that the job asks for")
    conditions = conditions_of(job, "winter")
    clamp_K = min(conditions.set_point_K, 340.0)
    heat: dict[str, float] = {}
    unfit: VaporwrightError | None = None
    for part in parts:
        try:
            heat[part.part_id] = rate_heat(part, conditions.heat_site, clamp_K).heat_W
        except VaporwrightError as error:  # this one does not suit the site's fuel, voltage or steam pressure
            unfit = error
    parts = [part for part in parts if part.part_id in heat]
    if unfit is not None and not parts:
        raise unfit
    lined = job.text("choices.tank_material") == "polypropylene"
    # Plastic coils go with plastic tanks, for liquor that eats metal; elsewhere metal comes first.
    parts.sort(key=lambda part: (_is_plastic(part) and not lined, heat[part.part_id]))
    enough = [part for part in parts if heat[part.part_id] / LEAST_HEAT_J_kg * MOST_SHARE >= wanted_kg_s]
    return enough or parts[-1:]


def _is_plastic(part: HeatSourcePart) -> bool:
    return isinstance(part, SteamCoilPart) and part.material == "fluoropolymer"


def _unit_around(
    job: Job, catalogue: Catalogue, source: HeatSourcePart, tried: list[Candidate]
) -> AssembledUnit | None:
    """The smallest tower that carries this heat below the clamp, in summer; as few towers as will do.

    Where none does, the one that evaporates most, and None where none works at all.
    """
    named = round(job.number("unit.towers"))
    best: Candidate | None = None
    for count in [named] if named else range(1, MOST_TOWERS + 1):
        found = _smallest_of(job, catalogue, source, count, tried)
        if found is not None and found.verdict == CARRIES:
            return found.unit
        if found is not None and (best is None or (found.evaporation_kg_s or 0.0) > (best.evaporation_kg_s or 0.0)):
            best = found
    return best.unit if best else None


def _smallest_of(
    job: Job, catalogue: Catalogue, source: HeatSourcePart, count: int, tried: list[Candidate]
) -> Candidate | None:
    """Among towers in this number, the smallest that carries the heat, else the best that works."""
    options = _towers_by_transfer(job, catalogue)
    conditions = conditions_of(job, "summer")
    good: Candidate | None = None
    best: Candidate | None = None
    low, high = 0, len(options) - 1
    middle = high  # the largest first: where it does not carry the heat, none does
    while low <= high:
        unit = _assemble(job, catalogue, source, options[middle], count)
        try:
            result = settle(unit, conditions)
        except VaporwrightError as error:
            tried.append(Candidate(unit, None, None, str(error)))
            low = middle + 1
            middle = (low + high) // 2
            continue
        clear_K = clamp_of(unit, conditions)[0] - CLEAR_OF_CLAMP_difference_K
        clear = result.limit == LIMIT_HEAT and result.settling_temperature_K <= clear_K
        verdict = CARRIES if clear else f"tower too small: the tank reaches its clamp ({result.clamp_part})"
        candidate = _candidate(result, unit, verdict)
        tried.append(candidate)
        if clear:
            good, high = candidate, middle - 1
        else:
            low = middle + 1
            if best is None or result.evaporation_kg_s > (best.evaporation_kg_s or 0.0):
                best = candidate
        middle = (low + high) // 2
    return good or best


def _towers_by_transfer(job: Job, catalogue: Catalogue) -> list[TowerPart]:
    """Towers in order of what they carry: rated water flow times the Merkel number at a usual L/G."""
    towers = list(catalogue.towers.values())
    named = job.text("unit.tower")
    if named:
        if named not in catalogue.towers:
            raise InputError(
                "job", "unit.tower", f"{named!r} is not in the catalogue", ", ".join(sorted(catalogue.towers))
            )
        return [catalogue.towers[named]]
    if not towers:
        raise InputError("catalogue", "tower", "the catalogue has no tower", "at least one")

    def transfer(tower: TowerPart) -> float:
        merkel = tower.fill.merkel_coefficient * math.pow(USUAL_RATIO, tower.fill.merkel_exponent)
        return tower.fill.area_m2 * tower.rated_water_loading_kg_s_m2 * merkel

    return sorted(towers, key=transfer)


def _assemble(job: Job, catalogue: Catalogue, source: HeatSourcePart, tower: TowerPart, count: int) -> AssembledUnit:
    spray = job.optional("unit.spray_flow") or rated_spray_flow_m3_s(tower, count)
    named_pump = job.text("unit.pump")
    if named_pump and named_pump not in catalogue.pumps:
        raise InputError(
            "job", "unit.pump", f"{named_pump!r} is not in the catalogue", ", ".join(sorted(catalogue.pumps))
        )
    return AssembledUnit(
        tower=tower,
        towers=count,
        blower=catalogue.blowers[tower.blower_id],
        tank=_tank(job, catalogue, source, spray),
        heat_source=source,
        pump=catalogue.pumps[named_pump] if named_pump else smallest_pump(catalogue, spray),
        spray_flow_m3_s=spray,
    )


def _tank(job: Job, catalogue: Catalogue, source: HeatSourcePart, spray_flow_m3_s: float) -> TankPart:
    named = job.text("unit.tank")
    if named:
        if named not in catalogue.tanks:
            raise InputError(
                "job", "unit.tank", f"{named!r} is not in the catalogue", ", ".join(sorted(catalogue.tanks))
            )
        return catalogue.tanks[named]
    material = job.text("choices.tank_material")
    tanks = [tank for tank in catalogue.tanks.values() if tank.material == material]
    if not tanks:
        have = ", ".join(sorted({tank.material for tank in catalogue.tanks.values()}))
        raise InputError("job", "choices.tank_material", f"no tank of {material!r} in the catalogue", have)
    tanks.sort(key=_working_volume_m3)
    for tank in tanks:
        enough = _working_volume_m3(tank) >= spray_flow_m3_s * LEAST_TANK_SPRAY_TIME_s
        if enough and heater_fits(source, tank):
            return tank
    return tanks[-1]


def _working_volume_m3(tank: TankPart) -> float:
    return tank.length_m * tank.width_m * tank.working_depth_m


def heater_fits(source: HeatSourcePart, tank: TankPart) -> bool:
    """Whether an immersion tube's passes lie side by side in the tank, in two layers at most; others always fit."""
    if not isinstance(source, GasBurnerPart):
        return True
    passes = math.ceil(source.tube_length_m / (tank.length_m - END_CLEARANCE_m))
    abreast = math.floor(tank.width_m / (TUBE_PITCH_DIAMETERS * source.tube_outer_diameter_m))
    return passes <= TUBE_LAYERS * abreast
