"""What a rehearsal needs of one unit, and what it writes down every second."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from vaporwright.controls.burner_safeguard import SafeguardTimes, chamber_and_air
from vaporwright.controls.expressions import Expr
from vaporwright.controls.set_points import SetPoints
from vaporwright.controls.table import Table
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.foundation.errors import InputError
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.catalogue import GasBurnerPart, HeatSourcePart
from vaporwright.unit.heat import HeatKind
from vaporwright.unit.plant_design import PlantDesign


@dataclass(frozen=True)
class Rig:
    """Everything of one unit that a rehearsal needs: its table, its plant in one season, its devices' settings."""

    table: Table
    heat: HeatKind
    points: SetPoints
    delays: Mapping[str, float]
    design: PlantDesign
    stack: LevelStack
    season: SeasonResult
    heat_source: HeatSourcePart
    hard_wired: Mapping[str, Expr]  # of an output: the contacts in series with it, as the proof has them

    @property
    def scans_per_s(self) -> int:
        """Scans in a second; raises InputError where that is no whole number."""
        scans = round(1.0 / self.table.scan_s)
        if scans < 1 or abs(scans * self.table.scan_s - 1.0) > 1.0e-9:
            raise InputError(self.table.name, "scan_s", f"{self.table.scan_s:g} s", "a whole number of scans a second")
        return scans

    @property
    def safeguard_times(self) -> SafeguardTimes:
        """Of the burner, from the delays and the tube."""
        assert isinstance(self.heat_source, GasBurnerPart)
        chamber_m3, air_m3_s = chamber_and_air(self.heat_source)
        names = ("pre_purge_s", "ignition_s", "flame_failure_s", "post_purge_s")
        return SafeguardTimes(
            **{name: self.delays[name] for name in names}, chamber_m3=chamber_m3, purge_air_m3_s=air_m3_s
        )


class Sample(NamedTuple):
    """What the rehearsal writes down every second."""

    tank_temperature_K: float
    thermometer_K: float
    heater_surface_K: float
    level_m: float
    solids_kg_kg: float
    heat_load: float
    airflow_share: float
    spray_share: float
    evaporated_kg: float
    heat_J: float
    refilled_m3: float
    overflowed_m3: float  # as water
    heater_bare_s: float
    pump_dry_s: float
