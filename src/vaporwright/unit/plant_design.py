"""What a simulated unit is made of: its maps, its vessel, its hold-up, its openings.

Taken from the job, the assembled unit and its level stack-up; what those do not say is common practice, no source, and
stands here as a constant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.tank_volume import SlopedTank, level_at_volume_m, volume_at_level_m3
from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.properties.liquor import Liquor, boiling_temperature_K, density_kg_m3
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3
from vaporwright.unit.balance import Conditions, pump_shaft_power_W
from vaporwright.unit.bath_map import heat_table, liquor_table, loss_table
from vaporwright.unit.catalogue import ElectricHeaterPart, HeatSourcePart
from vaporwright.unit.job import Job
from vaporwright.unit.levels import sloped_tank, tank_with_heater
from vaporwright.unit.temperature_table import Row
from vaporwright.unit.tower_map import TowerMap, tower_map
from vaporwright.unit.weights import DRAIN_LOSS

HEADER_SHARE: Final = 0.25  # of the hold-up: riser and header, full before spray falls; the rest fill, sump, return
HEADER_DRAINS_s: Final = 5.0  # time constant with the pump stopped
THERMOMETER_LAG_s: Final = 30.0  # in its well
METAL_J_m3K: Final = 4.0e6  # steel, and about a packed electric element
BATH_FILM_W_m2K: Final = 1000.0  # heater to moving liquor
LEVELS: Final = 1500  # rows of the level table
OVERFLOW_FROUDE: Final = 0.8  # of a passive outlet under a head of one bore, equipment.gravity_return


@dataclass(frozen=True)
class PlantDesign:
    """A unit in one season, ready to be simulated. Heights are above the tank's low corner."""

    rows: tuple[Row, ...]  # LiquorParts, Losses, heat at full output, then the columns of the tower's map
    tower: TowerMap
    boiling_K: float
    solids_kg_kg: float  # of the season's liquor
    levels_m: tuple[float, ...]  # at evenly spaced volumes, empty to rim
    rim_volume_m3: float
    feed_kg_m3: float
    feed_solids_kg_kg: float
    feed_temperature_K: float
    refill_m3_s: float
    spray_m3_s: float
    pump_J_kg: float  # shaft work over mass, at the duty flow
    pump_m3_s: float
    header_m3: float
    return_delay_s: float  # tower, sump and return pipe: liquor held over flow
    heater_bottom_m: float
    heater_height_m: float
    heater_lag_s: float
    thermometer_lag_s: float
    suction_m: float
    drain_m2: float  # clear area
    overflow_m: float
    overflow_bore_m: float
    tank_length_m: float

    def level_m(self, volume_m3: float) -> float:
        """Level of a volume of liquor in the tank, at most the rim."""
        place = volume_m3 / self.rim_volume_m3 * (LEVELS - 1)
        index = min(max(int(place), 0), LEVELS - 2)
        below_m = self.levels_m[index]
        return below_m + min(place - index, 1.0) * (self.levels_m[index + 1] - below_m)

    def overflow_m3_s(self, level_m: float) -> float:
        """Flow over the lip of the passive overflow: J = 0.8 (h / D)^2 up to one bore, a full pipe's root beyond."""
        bores = (level_m - self.overflow_m) / self.overflow_bore_m
        if bores <= 0.0:
            return 0.0
        area_m2 = 0.25 * math.pi * self.overflow_bore_m**2
        rise = bores**2 if bores < 1.0 else math.sqrt(bores)
        return OVERFLOW_FROUDE * rise * math.sqrt(STANDARD_GRAVITY_m_s2 * self.overflow_bore_m) * area_m2

    def drain_m3_s(self, level_m: float, opening: float) -> float:
        """Flow through the drain in the low corner, its valve's clear area opened to a share."""
        return opening * self.drain_m2 * math.sqrt(2.0 * STANDARD_GRAVITY_m_s2 * level_m / (1.0 + DRAIN_LOSS))


def plant_design(job: Job, unit: AssembledUnit, conditions: Conditions, stack: LevelStack) -> PlantDesign:
    """Build the maps of a unit in one season; takes under a second.

    Raises: OutOfRange, InputError and NotConverged from the parts, each naming its variable.
    """
    tower = tower_map(unit, conditions)
    tables = (liquor_table(conditions), loss_table(unit, conditions), heat_table(unit, conditions), tower.table)
    rows = tuple(
        tuple(value for row in beside for value in row)
        for beside in zip(*(table.rows for table in tables), strict=True)
    )
    vessel = tank_with_heater(unit, stack)
    rim_m3 = volume_at_level_m3(vessel, vessel.wall_height_m)
    hold_up_m3 = job.number("choices.drain_back") * sloped_tank(unit).surface_area_m2
    solids_kg_m3 = job.number("liquid.dissolved_solids")
    feed_solids = solids_kg_m3 / (WATER_DENSITY_kg_m3 + 0.65 * solids_kg_m3)  # as the balance's liquor
    return PlantDesign(
        rows=rows,
        tower=tower,
        boiling_K=boiling_temperature_K(conditions.liquor, conditions.pressure_Pa),
        solids_kg_kg=conditions.liquor.dissolved_solids_kg_kg,
        levels_m=_levels_m(vessel, rim_m3),
        rim_volume_m3=rim_m3,
        feed_kg_m3=density_kg_m3(Liquor(feed_solids), conditions.feed_temperature_K),
        feed_solids_kg_kg=feed_solids,
        feed_temperature_K=conditions.feed_temperature_K,
        refill_m3_s=job.number("choices.refill_flow"),
        spray_m3_s=unit.spray_flow_m3_s,
        pump_J_kg=pump_shaft_power_W(unit, 1.0) / unit.pump.flow_m3_s,
        pump_m3_s=unit.pump.flow_m3_s,
        header_m3=HEADER_SHARE * hold_up_m3,
        return_delay_s=(1.0 - HEADER_SHARE) * hold_up_m3 / unit.spray_flow_m3_s,
        heater_bottom_m=stack.mark("heater bottom").height_m,
        heater_height_m=unit.heat_source.height_m,
        heater_lag_s=_heater_lag_s(unit.heat_source),
        thermometer_lag_s=THERMOMETER_LAG_s,
        suction_m=unit.tank.suction_mouth_m,
        drain_m2=0.25 * math.pi * unit.tank.drain_bore_m**2,
        overflow_m=stack.mark("overflow").height_m,
        overflow_bore_m=unit.tank.overflow_bore_m,
        tank_length_m=vessel.length_m,
    )


def _levels_m(vessel: SlopedTank, rim_m3: float) -> tuple[float, ...]:
    volumes = [rim_m3 * index / (LEVELS - 1) for index in range(LEVELS)]
    return tuple(level_at_volume_m(vessel, min(volume_m3, rim_m3)) for volume_m3 in volumes)


def _heater_lag_s(part: HeatSourcePart) -> float:
    """Time constant of the heater's metal against the bath: heat capacity per area over the film outside."""
    if isinstance(part, ElectricHeaterPart):
        depth_m = 0.25 * part.sheath_diameter_m  # volume of a rod over its face
    else:
        depth_m = part.tube_wall_thickness_m
    return depth_m * METAL_J_m3K / BATH_FILM_W_m2K
