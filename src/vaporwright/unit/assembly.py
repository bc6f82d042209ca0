"""The assembled unit: which tower, how many, on which blower, tank, heat source and pump, at which spray flow."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from vaporwright.equipment.tank import Tank
from vaporwright.foundation.errors import InputError
from vaporwright.unit.catalogue import BlowerPart, Catalogue, HeatSourcePart, PumpPart, TankPart, TowerPart
from vaporwright.unit.job import Job
from vaporwright.unit.practice import ShopPractice

Part = TypeVar("Part")

WATER_DENSITY_kg_m3 = 998.2
LID_INSULATION_m = 0.0


@dataclass(frozen=True)
class AssembledUnit:
    """One unit of catalogue parts. The spray flow is that of all towers together."""

    tower: TowerPart
    towers: int
    blower: BlowerPart
    tank: TankPart
    heat_source: HeatSourcePart
    pump: PumpPart
    spray_flow_m3_s: float
    practice: ShopPractice = field(default_factory=ShopPractice)

    def label(self) -> str:
        """One line that names the parts."""
        count = f"{self.towers} x " if self.towers > 1 else ""
        return f"{count}{self.tower.name}, {self.tank.name}, {self.heat_source.name}, {self.pump.name}"


def tank_of(part: TankPart, lid_fraction: float) -> Tank:
    """A catalogue tank as its losses see it; the floor stands free and bare, the lid is a bare sheet."""
    return Tank(
        length_m=part.length_m,
        width_m=part.width_m,
        liquid_depth_m=part.working_depth_m,
        wall_height_m=part.height_m,
        lid_fraction=lid_fraction,
        shell_resistance_m2K_W=part.wall_thickness_m / part.wall_conductivity_W_mK,
        wall_insulation_m=part.insulation_thickness_m,
        floor_insulation_m=0.0,
        lid_insulation_m=LID_INSULATION_m,
        insulation_conductivity_W_mK=part.insulation_conductivity_W_mK,
    )


def temperature_limits_K(unit: AssembledUnit) -> tuple[tuple[str, float], ...]:
    """Every part that hot liquor touches, with its limit; the lowest clamps the set point."""
    return (*unit.tower.temperature_limits_K, ("tank", unit.tank.temperature_limit_K))


def rated_spray_flow_m3_s(tower: TowerPart, towers: int) -> float:
    """Spray flow at the tower's rated water loading, all towers together."""
    return tower.rated_water_loading_kg_s_m2 * tower.fill.area_m2 * towers / WATER_DENSITY_kg_m3


def given_unit(job: Job, catalogue: Catalogue) -> AssembledUnit:
    """The unit that the job file names.

    Raises InputError where a part is missing or not in the catalogue.
    """
    tower = _part(job, "unit.tower", catalogue.towers)
    towers = round(job.number("unit.towers")) or 1
    spray = job.optional("unit.spray_flow") or rated_spray_flow_m3_s(tower, towers)
    pumps = catalogue.pumps
    pump = _part(job, "unit.pump", pumps) if job.text("unit.pump") else smallest_pump(catalogue, spray)
    return AssembledUnit(
        tower=tower,
        towers=towers,
        blower=catalogue.blowers[tower.blower_id],
        tank=_part(job, "unit.tank", catalogue.tanks),
        heat_source=_part(job, "unit.heat_source", catalogue.heat_sources),
        pump=pump,
        spray_flow_m3_s=spray,
        practice=catalogue.practice,
    )


def pumps_that_carry(catalogue: Catalogue, spray_flow_m3_s: float) -> tuple[PumpPart, ...]:
    """Pumps whose flow carries the spray and the shop's share for agitation, smallest first."""
    if not catalogue.pumps:
        raise InputError("catalogue", "pump", "the catalogue has no pump", "at least one")
    least_m3_s = spray_flow_m3_s * (1.0 - 1.0e-6) / catalogue.practice.spray_share  # equal but for rounding is enough
    ordered = sorted(catalogue.pumps.values(), key=lambda pump: (pump.flow_m3_s, pump.motor_rating_W, pump.part_id))
    return tuple(pump for pump in ordered if pump.flow_m3_s >= least_m3_s)


def smallest_pump(catalogue: Catalogue, spray_flow_m3_s: float) -> PumpPart:
    """The smallest pump that carries the spray by its flow; the largest if none does. Nothing is said of its head."""
    carrying = pumps_that_carry(catalogue, spray_flow_m3_s)
    return carrying[0] if carrying else pumps_that_carry(catalogue, 0.0)[-1]


def _part(job: Job, key: str, parts: dict[str, Part]) -> Part:
    wanted = job.text(key)
    if not wanted:
        raise InputError("job", key, "missing; rating a given unit needs it", ", ".join(sorted(parts)))
    if wanted not in parts:
        raise InputError("job", key, f"{wanted!r} is not in the catalogue", ", ".join(sorted(parts)))
    return parts[wanted]
