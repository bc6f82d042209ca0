"""The shop's own parts as frozen dataclasses: towers, blowers, tanks, heat sources, pumps. SI throughout.

A shop edits them in TOML; files.catalogue_file reads and checks that. Nothing here chooses.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, TypeAlias

from vaporwright.equipment.pump import PumpCurve, pump_efficiency, pump_head_m
from vaporwright.unit.practice import ShopPractice

COUNTERFLOW: Final = "counterflow"
CROSSFLOW: Final = "crossflow"


@dataclass(frozen=True)
class FillTestPoint:
    """One raw reading of a fill test, as measured."""

    water_in_temperature_K: float
    water_out_temperature_K: float
    water_flow_kg_s: float
    air_temperature_K: float
    air_humidity_ratio_kg_kg: float
    dry_air_flow_kg_s: float
    pressure_Pa: float


@dataclass(frozen=True)
class Fill:
    """Packing of a tower: transfer law Me = coefficient x (L/G)^exponent per tower, and its air resistance.

    model: by which model the test points were reduced, "poppe" or "merkel"; Poppe's number is 7 to 12 % higher
    in hot cases, so a number is never used with the other model.
    """

    area_m2: float
    depth_m: float
    merkel_coefficient: float
    merkel_exponent: float  # negative: more water per air, smaller number
    model: str
    tested_ratio_low: float  # range of L/G tested
    tested_ratio_high: float
    tested_water_high_K: float
    loss_velocity_heads: float  # dry fill, in velocity heads of the face velocity
    loss_velocity_heads_per_loading: float  # added per kg/(s m2) of water
    least_water_loading_kg_s_m2: float  # below: dry patches
    most_water_loading_kg_s_m2: float
    flooding_air_velocity_m_s: float  # face velocity that holds the water up
    test_points: tuple[FillTestPoint, ...] = ()


@dataclass(frozen=True)
class BlowerPart:
    """A blower: static pressure and shaft power against flow at the stated density."""

    part_id: str
    name: str
    flow_m3_s: tuple[float, ...]
    static_pressure_Pa: tuple[float, ...]
    shaft_power_W: tuple[float, ...]
    density_kg_m3: float
    motor_efficiency: float
    motor_rating_W: float


@dataclass(frozen=True)
class TowerPart:
    """A tower with its fill, blower and plastic parts."""

    part_id: str
    name: str
    fill: Fill
    blower_id: str
    blower_after_fill: bool  # handles warm wet exhaust instead of dry intake air
    rated_water_loading_kg_s_m2: float
    other_loss_velocity_heads: float  # inlet louvre, eliminator, outlet; of the face velocity
    drift_fraction: float  # of the spray flow
    temperature_limits_K: tuple[tuple[str, float], ...]  # (part, highest water or air temperature)
    materials: tuple[tuple[str, str], ...]  # (part, plastic), as far as stated
    nozzles: int
    nozzle_gauge_pressure_Pa: float  # at the rated water loading
    nozzle_passage_m: float
    sump_bottom_m: float  # above the floor
    sump_depth_m: float
    mass_kg: float  # dry, with fill, blower and stand
    floor_area_m2: float  # that it stands on, besides the tank's; zero on top of the tank
    arrangement: str = COUNTERFLOW


@dataclass(frozen=True)
class TankPart:
    """A rectangular heated tank, open or lidded."""

    part_id: str
    name: str
    material: str
    length_m: float
    width_m: float
    height_m: float
    working_depth_m: float
    wall_thickness_m: float
    wall_conductivity_W_mK: float
    insulation_thickness_m: float
    insulation_conductivity_W_mK: float
    temperature_limit_K: float
    standing_height_m: float  # of its low corner above the floor
    suction_mouth_m: float  # centre of the pump's suction above the low corner
    drain_bore_m: float
    overflow_bore_m: float


@dataclass(frozen=True)
class GasBurnerPart:
    """A gas burner firing into an immersion tube."""

    part_id: str
    name: str
    fuels: tuple[str, ...]
    gross_input_W: float
    least_input_W: float
    fan_assisted: bool
    height_m: float
    tube_material: str
    tube_outer_diameter_m: float
    tube_wall_thickness_m: float
    tube_length_m: float
    tube_conductivity_W_mK: float
    tube_emissivity: float
    flame_length_m: float
    blower_power_W: float
    train_lowest_gauge_Pa: float  # at the train's inlet, full fire
    train_highest_gauge_Pa: float
    manifold_gauge_Pa: float  # at full fire
    flue_diameter_m: float
    mass_kg: float


@dataclass(frozen=True)
class ElectricHeaterPart:
    """Electric immersion heaters."""

    part_id: str
    name: str
    rated_power_W: float
    rated_voltage_V: float
    phases: int
    height_m: float
    sheath_material: str
    sheath_area_m2: float
    sheath_diameter_m: float
    circuits: int
    mass_kg: float


@dataclass(frozen=True)
class SteamCoilPart:
    """A steam coil of parallel tubes."""

    part_id: str
    name: str
    material: str
    height_m: float
    tube_outer_diameter_m: float
    tube_wall_thickness_m: float
    wall_conductivity_W_mK: float
    tube_length_m: float  # total of all tubes
    parallel_tubes: int
    highest_gauge_pressure_Pa: float
    mass_kg: float


HeatSourcePart: TypeAlias = GasBurnerPart | ElectricHeaterPart | SteamCoilPart


@dataclass(frozen=True)
class PumpPart:
    """A recirculation pump: its curve, and the duty point for which it is chosen."""

    part_id: str
    name: str
    flow_m3_s: float
    curve: PumpCurve
    motor_efficiency: float
    motor_rating_W: float
    centre_height_m: float  # above the floor
    strainer_hole_m: float
    strainer_loss_Pa: float  # clean, at the duty flow
    mass_kg: float

    @property
    def head_m(self) -> float:
        """Head at the duty point."""
        return pump_head_m(self.curve, self.flow_m3_s)

    @property
    def efficiency(self) -> float:
        """Efficiency at the duty point."""
        return pump_efficiency(self.curve, self.flow_m3_s)


@dataclass(frozen=True)
class Catalogue:
    """All parts of one shop, by id."""

    name: str
    invented: bool
    towers: dict[str, TowerPart] = field(default_factory=dict)
    blowers: dict[str, BlowerPart] = field(default_factory=dict)
    tanks: dict[str, TankPart] = field(default_factory=dict)
    heat_sources: dict[str, HeatSourcePart] = field(default_factory=dict)
    pumps: dict[str, PumpPart] = field(default_factory=dict)
    practice: ShopPractice = field(default_factory=ShopPractice)
