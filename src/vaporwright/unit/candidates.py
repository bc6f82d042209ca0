"""Units that a catalogue offers for a job: every tower, in the number it takes, on a heat source, with tank and pump.

Towers: one, or as many more as it takes until some tower of the catalogue, in that number, holds the tank below its
clamp by the shop's margin, in summer with the heat full on. More than that only cool the tank and blow more air.

Tank and pump: the tank of least floor and the smallest pump with which nothing stands against the unit. The tank holds
the shop's spray time, the heater lies in it, its levels stack up; the pump carries spray and agitation, reaches the
spray with margins of NPSH and submergence, and does not overload its motor. Where none does, the one with the least
against it stays, and what is against it is said.

A search for clean units settles no unit that cannot be one: each tower is rated at the clamp less the margin, and
dropped where it takes less than the heat source gives there. A unit that misses the duty in winter is not settled in
the other seasons.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.equipment.level_rods import LevelStack
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.foundation.notice import Notice
from vaporwright.properties.moist_air import enthalpy_J_kg
from vaporwright.unit.air_path import TowerRating
from vaporwright.unit.answer import governing_season, required_kg_s
from vaporwright.unit.assembly import (
    AssembledUnit,
    Part,
    WATER_DENSITY_kg_m3,
    pumps_that_carry,
    rated_spray_flow_m3_s,
)
from vaporwright.unit.balance import SeasonResult, clamp_of, conditions_of, operate, settle
from vaporwright.unit.catalogue import (
    Catalogue,
    ElectricHeaterPart,
    GasBurnerPart,
    HeatSourcePart,
    PumpPart,
    SteamCoilPart,
    TankPart,
    TowerPart,
)
from vaporwright.unit.heat import kind_of, rate_heat
from vaporwright.unit.hydraulics import UnitHydraulics, hydraulics_for
from vaporwright.unit.job import SEASONS, Job
from vaporwright.unit.levels import stack_for

MOST_TOWERS: Final = 4
TUBE_LAYERS: Final = 2
TUBE_PITCH_DIAMETERS: Final = 2.0
END_CLEARANCE_m: Final = 0.15
RATED_AT_K: Final = 340.0  # bath at which heat sources are put in order, where the set point is no lower
# Heat from the source per kilogram evaporated, below which no unit comes however large its tower and warm its air:
# the latent heat alone is 2.3e6. Spares rating what is plainly too small.
LEAST_HEAT_J_kg: Final = 1.5e6
MOTOR_ROUNDING: Final = 1.001
SETTLED_difference_K: Final = 0.02  # how far a search for the settling temperature may end from it


@dataclass(frozen=True)
class Criteria:
    """What an engineer weighs. `governing` is the season with the least capacity."""

    governing: str
    capacity_kg_s: float  # in the governing season
    share_of_capacity: float  # of it, that the duty takes
    settling_temperature_K: float  # in summer
    below_clamp_difference_K: float  # in summer
    heat_per_volume_J_m3: float  # drawn, with what warms the room air blown out, per volume evaporated; average season
    power_W: float  # electric, blowers and pump, governing season
    floor_area_m2: float  # tank and towers
    installed_input_W: float  # of the heat source
    towers: int


@dataclass(frozen=True)
class Candidate:
    """A unit that was tried, what it does as far as it was rated, and why it was kept or not."""

    unit: AssembledUnit
    verdict: str
    evaporation_kg_s: float | None = None  # in the governing season, or in winter where that was enough to drop it
    settling_temperature_K: float | None = None  # in summer, or in winter where that was enough to drop it
    criteria: Criteria | None = None  # of every unit that is shown
    conflicts: tuple[str, ...] = ()  # what must be resolved before it can be built
    clear_of_clamp: bool = False  # by the shop's margin, as far as it was rated
    why: Notice | None = None  # of every unit that is shown: what speaks for it


def heat_source_sizes(job: Job, catalogue: Catalogue, wanted_kg_s: float) -> list[list[HeatSourcePart]]:
    """Heat sources of the wanted kind that suit the site, smallest first; equal ones together.

    Plastic coils go with plastic tanks, for liquor that eats metal; elsewhere metal comes first. Of those that are
    plainly too small only the largest is kept, where there is no other.
    Raises: InputError where the catalogue has none, or why none suits the site.
    """
    inputs = _inputs_W(_heat_sources(job, catalogue), job)
    enough = [part for part, (_, heat_W) in inputs.items() if heat_W / LEAST_HEAT_J_kg >= wanted_kg_s]
    if not enough:
        enough = [min(inputs, key=lambda part: (out_of_place(job, part), -inputs[part][1]))]
    sizes: list[list[HeatSourcePart]] = []
    for part in sorted(enough, key=lambda part: (out_of_place(job, part), inputs[part][0], part.part_id)):
        same = sizes and out_of_place(job, sizes[-1][0]) == out_of_place(job, part)
        if same and inputs[part][0] <= (1.0 + 1.0e-6) * inputs[sizes[-1][0]][0]:
            sizes[-1].append(part)
        else:
            sizes.append([part])
    return sizes


def _heat_sources(job: Job, catalogue: Catalogue) -> list[HeatSourcePart]:
    kind, named = job.text("choices.heat_source"), job.text("unit.heat_source")
    if named:
        return [_named("unit.heat_source", named, catalogue.heat_sources)]
    parts = [part for part in catalogue.heat_sources.values() if kind_of(part) == kind]
    if not parts:
        raise InputError("catalogue", "heat sources", f"none of the kind {kind!r} that the job asks for")
    return parts


def _inputs_W(parts: Sequence[HeatSourcePart], job: Job) -> dict[HeatSourcePart, tuple[float, float]]:
    """Installed input and heat of each source that suits the site's fuel, voltage or steam pressure."""
    inputs: dict[HeatSourcePart, tuple[float, float]] = {}
    unfit: VaporwrightError | None = None
    for part in parts:
        try:
            inputs[part] = (installed_input_W(part, job), _rated_heat_W(part, job))
        except VaporwrightError as error:
            unfit = error
    if unfit is not None and not inputs:
        raise unfit
    return inputs


def _rated_heat_W(part: HeatSourcePart, job: Job) -> float:
    conditions = conditions_of(job, "winter")
    return rate_heat(part, conditions.heat_site, min(conditions.set_point_K, RATED_AT_K)).heat_W


def installed_input_W(part: HeatSourcePart, job: Job) -> float:
    """What a heat source is rated for [W]: gross gas input, electric power; a steam coil's heat at the site's steam."""
    if isinstance(part, GasBurnerPart):
        return part.gross_input_W
    return part.rated_power_W if isinstance(part, ElectricHeaterPart) else _rated_heat_W(part, job)


def out_of_place(job: Job, part: HeatSourcePart) -> bool:
    """Whether a plastic coil would come into a tank of metal."""
    plastic = isinstance(part, SteamCoilPart) and part.material == "fluoropolymer"
    return plastic and job.text("choices.tank_material") != "polypropylene"


def heater_fits(source: HeatSourcePart, tank: TankPart) -> bool:
    """Whether an immersion tube's passes lie side by side in the tank, in two layers at most; others always fit."""
    if not isinstance(source, GasBurnerPart):
        return True
    passes = math.ceil(source.tube_length_m / (tank.length_m - END_CLEARANCE_m))
    abreast = math.floor(tank.width_m / (TUBE_PITCH_DIAMETERS * source.tube_outer_diameter_m))
    return passes <= TUBE_LAYERS * abreast


class Survey:
    """Candidates of one job from one catalogue; results that several share are kept."""

    def __init__(self, job: Job, catalogue: Catalogue) -> None:
        self.job, self.catalogue, self.practice = job, catalogue, catalogue.practice
        self.wanted_kg_s = required_kg_s(job)
        self.towers = _towers(job, catalogue)
        named = round(job.number("unit.towers"))
        self.counts = (named,) if named else tuple(range(1, MOST_TOWERS + 1))
        self._tanks = _tanks(job, catalogue)
        self._pumps = _pumps(job, catalogue)
        self._conditions = {season: conditions_of(job, season) for season in SEASONS}
        self._room_heat_J_kg = _room_heat_J_kg(job)
        self._stacks: dict[tuple[str, str], LevelStack | VaporwrightError] = {}
        self._settled: dict[tuple[str | int, ...], SeasonResult] = {}
        self._near: dict[tuple[str, str], SeasonResult] = {}
        self._rated: dict[str, TowerRating] = {}

    def candidates(self, source: HeatSourcePart, most_share: float, *, clean: bool) -> Iterator[Candidate]:
        """Units on this heat source that the duty fills no further in winter; clean ones only, or whatever there is.

        Those dropped are among them, without criteria.
        """
        for count in self.counts:
            found = [self._candidate(source, tower, count, most_share, clean) for tower in self.towers]
            yield from found
            if any(one.clear_of_clamp and not (clean and one.conflicts) for one in found):
                return

    def _candidate(
        self, source: HeatSourcePart, tower: TowerPart, count: int, most_share: float, clean: bool
    ) -> Candidate:
        spray = self.job.optional("unit.spray_flow") or rated_spray_flow_m3_s(tower, count)
        carry = {pump.part_id for pump in pumps_that_carry(self.catalogue, spray)}
        carrying = [pump for pump in self._pumps if pump.part_id in carry]
        pumps = carrying or self._pumps[-1:]
        tank, against = self._tank(source, spray)
        if not carrying:
            against += (f"{pumps[0].part_id} does not carry the spray with the shop's share for agitation",)
        blower = self.catalogue.blowers[tower.blower_id]
        unit = AssembledUnit(tower, count, blower, tank, source, pumps[0], spray, self.practice)
        if clean and against:
            return Candidate(unit, "; ".join(against), conflicts=against)
        try:
            if clean and not self._screened(unit):
                part = clamp_of(unit, self._conditions["summer"])[1]
                return Candidate(unit, f"tower too small: the tank does not stay clear of its clamp ({part})")
            winter = self._settle(unit, "winter")
            against += tuple(_against_tower(tower, winter.operation.tower))
            if clean and against:
                return Candidate(unit, "; ".join(against), conflicts=against)
            clear = clean or self._settled_clear(unit)
            if self.wanted_kg_s > most_share * winter.evaporation_kg_s:
                return Candidate(
                    unit,
                    _taken(self.wanted_kg_s / winter.evaporation_kg_s, "winter"),
                    winter.evaporation_kg_s,
                    winter.settling_temperature_K,
                    clear_of_clamp=clear,
                )
            return self._with_pump(unit, pumps, against, clear)
        except VaporwrightError as error:
            return Candidate(unit, str(error))

    def _screened(self, unit: AssembledUnit) -> bool:
        """Whether a unit stays clear of its clamp, by one rating as hot as the shop lets it settle in summer.

        It stays cooler where tower and tank take more than the heat source gives there.
        """
        conditions = self._conditions["summer"]
        at_K = clamp_of(unit, conditions)[0] - self.practice.clear_of_clamp_difference_K
        heat_W = rate_heat(unit.heat_source, conditions.heat_site, at_K).heat_W
        nearby = self._rated.get(unit.tower.part_id)
        operation = operate(unit, conditions, at_K, heat_W, (nearby,) if nearby else ())
        self._rated[unit.tower.part_id] = operation.tower
        return operation.energy.closing_W <= 0.0

    def _settled_clear(self, unit: AssembledUnit) -> bool:
        summer = self._settle(unit, "summer")
        below_K = summer.clamp_K - summer.settling_temperature_K
        return below_K >= self.practice.clear_of_clamp_difference_K - SETTLED_difference_K

    def _with_pump(
        self, unit: AssembledUnit, pumps: Sequence[PumpPart], against: tuple[str, ...], clear: bool
    ) -> Candidate:
        """A unit rated in full, with the first of the pumps against which nothing speaks, or the least."""
        found: list[Candidate] = []
        for pump in pumps:
            with_pump = replace(unit, pump=pump)
            seasons = {season: self._settle(with_pump, season) for season in SEASONS}
            criteria = self._criteria(with_pump, seasons)
            conflicts = (*against, *self._against_pump(with_pump, seasons[criteria.governing]))
            found.append(
                Candidate(
                    with_pump,
                    "; ".join((_taken(criteria.share_of_capacity, criteria.governing), *conflicts)),
                    criteria.capacity_kg_s,
                    criteria.settling_temperature_K,
                    criteria,
                    conflicts,
                    clear,
                )
            )
            if len(conflicts) == len(against):
                break
        return min(found, key=lambda candidate: len(candidate.conflicts))

    def _criteria(self, unit: AssembledUnit, seasons: Mapping[str, SeasonResult]) -> Criteria:
        governing = governing_season(seasons)
        least, average, summer = seasons[governing], seasons["average"], seasons["summer"]
        room_W = unit.towers * average.operation.tower.dry_air_flow_kg_s * self._room_heat_J_kg
        return Criteria(
            governing=governing,
            capacity_kg_s=least.evaporation_kg_s,
            share_of_capacity=self.wanted_kg_s / least.evaporation_kg_s,
            settling_temperature_K=summer.settling_temperature_K,
            below_clamp_difference_K=summer.clamp_K - summer.settling_temperature_K,
            heat_per_volume_J_m3=(average.fuel_or_power_W + room_W) / average.evaporation_kg_s * WATER_DENSITY_kg_m3,
            power_W=least.blower_power_W + least.pump_power_W,
            floor_area_m2=unit.tank.length_m * unit.tank.width_m + unit.towers * unit.tower.floor_area_m2,
            installed_input_W=installed_input_W(unit.heat_source, self.job),
            towers=unit.towers,
        )

    def _settle(self, unit: AssembledUnit, season: str) -> SeasonResult:
        """Settled once, from the last unit on the same heat source."""
        nearby = (unit.heat_source.part_id, season)
        key = (unit.tower.part_id, unit.towers, unit.tank.part_id, unit.pump.part_id, *nearby)
        if key not in self._settled:
            result = settle(unit, self._conditions[season], near=self._near.get(nearby))
            self._settled[key] = self._near[nearby] = result
        return self._settled[key]

    def _tank(self, source: HeatSourcePart, spray_m3_s: float) -> tuple[TankPart, tuple[str, ...]]:
        """The tank of least floor with nothing against it, else the largest of those with the least against them."""
        tried: list[tuple[TankPart, tuple[str, ...]]] = []
        for tank in self._tanks:
            against = tuple(self._against_tank(source, tank, spray_m3_s))
            if not against:
                return tank, ()
            tried.append((tank, against))
        return min(reversed(tried), key=lambda entry: len(entry[1]))

    def _against_tank(self, source: HeatSourcePart, tank: TankPart, spray_m3_s: float) -> Iterator[str]:
        if _working_volume_m3(tank) < spray_m3_s * self.practice.least_spray_time_s:
            yield f"{tank.part_id} holds less than the shop's spray time"
        if not heater_fits(source, tank):
            yield f"the tube of {source.part_id} does not fit {tank.part_id}"
        stack = self._stack(source, tank)
        if isinstance(stack, VaporwrightError):
            yield f"levels of {tank.part_id}: {stack}"
        elif stack.conflicts:
            marks = ", ".join(f"{conflict.mark} against {conflict.against}" for conflict in stack.conflicts)
            yield f"levels of {tank.part_id} conflict ({marks})"

    def _stack(self, source: HeatSourcePart, tank: TankPart) -> LevelStack | VaporwrightError:
        key = (source.part_id, tank.part_id)
        if key not in self._stacks:
            tower = self.towers[0]  # levels know tank, heater and refill only
            blower = self.catalogue.blowers[tower.blower_id]
            unit = AssembledUnit(tower, 1, blower, tank, source, self._pumps[0], 1.0e-3, self.practice)
            try:
                self._stacks[key] = stack_for(self.job, unit)
            except VaporwrightError as error:
                self._stacks[key] = error
        return self._stacks[key]

    def _against_pump(self, unit: AssembledUnit, least: SeasonResult) -> Iterator[str]:
        stack = self._stack(unit.heat_source, unit.tank)
        if isinstance(stack, VaporwrightError):
            return  # said of the tank already
        static_Pa = least.operation.tower.blower_static_pressure_Pa
        tower_gauge_Pa = -static_Pa if unit.tower.blower_after_fill else static_Pa
        try:
            found = hydraulics_for(self.job, unit, stack, tower_gauge_Pa)
        except VaporwrightError as error:
            yield f"{unit.pump.part_id} and circuit do not fit: {error}"
            return
        yield from _against_circuit(unit.pump, found)


def _against_circuit(pump: PumpPart, found: UnitHydraulics) -> Iterator[str]:
    for present, what in (
        (not found.reaches_spray, "does not reach the wanted spray"),
        (found.flows.npsh_margin_m <= 0.0, "has no NPSH margin at the low rod"),
        (found.submergence.margin_m <= 0.0, "may draw air at the low rod"),
        (found.motor_size_W > MOTOR_ROUNDING * pump.motor_rating_W, "overloads its motor"),
    ):
        if present:
            yield f"{pump.part_id} {what}"


def _against_tower(tower: TowerPart, rating: TowerRating) -> Iterator[str]:
    fill, loading = tower.fill, rating.water_loading_kg_s_m2
    for present, what in (
        (loading < fill.least_water_loading_kg_s_m2, "water loading below what wets the fill"),
        (loading > fill.most_water_loading_kg_s_m2, "water loading above what the fill takes"),
        (rating.face_velocity_m_s > fill.flooding_air_velocity_m_s, "the air floods the fill"),
    ):
        if present:
            yield what


def _taken(share: float, season: str) -> str:
    return f"the duty would take {share:.0%} of it, {season} air"


def _room_heat_J_kg(job: Job) -> float:
    """Heat that warms a kilogram of dry outdoor air to the heated room from which the blower takes it, on average."""
    air, room_K = job.air["average"], job.number("site.room_winter_temperature")
    if job.text("site.air_supply") != "room" or air.outdoor_temperature_K >= room_K:
        return 0.0
    humidity = air.humidity_ratio_kg_kg
    warm = enthalpy_J_kg(room_K, humidity, job.pressure_Pa)
    return warm - enthalpy_J_kg(air.outdoor_temperature_K, humidity, job.pressure_Pa)


def _named(key: str, named: str, parts: dict[str, Part]) -> Part:
    if named not in parts:
        raise InputError("job", key, f"{named!r} is not in the catalogue", ", ".join(sorted(parts)))
    return parts[named]


def _towers(job: Job, catalogue: Catalogue) -> list[TowerPart]:
    named = job.text("unit.tower")
    if named:
        return [_named("unit.tower", named, catalogue.towers)]
    if not catalogue.towers:
        raise InputError("catalogue", "tower", "the catalogue has no tower", "at least one")
    return list(catalogue.towers.values())


def _tanks(job: Job, catalogue: Catalogue) -> list[TankPart]:
    """Tanks of the wanted material, least floor first."""
    named, material = job.text("unit.tank"), job.text("choices.tank_material")
    if named:
        return [_named("unit.tank", named, catalogue.tanks)]
    tanks = [tank for tank in catalogue.tanks.values() if tank.material == material]
    if not tanks:
        have = ", ".join(sorted({tank.material for tank in catalogue.tanks.values()}))
        raise InputError("job", "choices.tank_material", f"no tank of {material!r} in the catalogue", have)
    return sorted(tanks, key=lambda tank: (tank.length_m * tank.width_m, _working_volume_m3(tank), tank.part_id))


def _pumps(job: Job, catalogue: Catalogue) -> list[PumpPart]:
    """Pumps to choose from, smallest first."""
    named = job.text("unit.pump")
    if named:
        return [_named("unit.pump", named, catalogue.pumps)]
    return list(pumps_that_carry(catalogue, 0.0))


def _working_volume_m3(tank: TankPart) -> float:
    return tank.length_m * tank.width_m * tank.working_depth_m
