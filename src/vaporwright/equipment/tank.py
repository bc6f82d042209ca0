"""A rectangular heated tank: what it loses through its open surface, lid, walls and floor.

The pieces are in tank_surface and tank_walls; here they are put together over the tank's areas.
- The whole surface below a lid is at liquid temperature: the space under a lid is saturated and warms it.
- Walls count to the liquid level, and above it in the lidded share only (under a lid the freeboard is warm
  too).
- The floor stands free above the ground, air below it. Flat on concrete is
  not modelled; from memory it loses about as much or less.
- Vapour leaves at skin temperature; enthalpies count from liquid water at 0 degC, so that the tank's balance
  is exact with the feed, the spray and the return in the same datum.

Hot liquid scalds, and its vapour carries what is in the liquor: guard, ventilate, lock out before work, and
follow local code.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.equipment.tank_surface import SurfaceLosses, free_surface_fluxes, free_surface_losses
from vaporwright.equipment.tank_walls import (
    FACING_DOWN,
    FACING_UP,
    UPRIGHT,
    INSIDE_FILM_W_m2K,
    WallLoss,
    heat_through,
    panel_loss,
)
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced

LIQUID_EMISSIVITY: Final = 0.95


class TankNumbers(NamedTuple):
    """A tank as the kernel tank_rates takes it; made by Tank.numbers."""

    length_m: float
    width_m: float
    wall_height_m: float
    open_fraction: float
    warm_wall_area_m2: float
    lid_resistance_m2K_W: float
    wall_resistance_m2K_W: float
    floor_resistance_m2K_W: float
    outer_emissivity: float


@dataclass(frozen=True)
class Tank:
    """A rectangular tank as its losses see it. Raises OutOfRange where a dimension is not that of a tank."""

    length_m: float
    width_m: float
    liquid_depth_m: float
    wall_height_m: float
    lid_fraction: float  # share of the surface under a lid
    shell_resistance_m2K_W: float = 0.0  # thickness / conductivity: steel 1e-4, 12 mm of polypropylene 0.055
    wall_insulation_m: float = 0.0
    floor_insulation_m: float = 0.0
    lid_insulation_m: float = 0.0
    insulation_conductivity_W_mK: float = 0.045  # mineral wool at 60 degC mean, dry; wet it is several times that
    outer_emissivity: float = 0.9  # painted or oxidised; bright stainless 0.2

    def __post_init__(self) -> None:
        require_range("length_m", self.length_m, 0.1, 20.0, "tank")
        require_range("width_m", self.width_m, 0.1, 20.0, "tank")
        require_range("wall_height_m", self.wall_height_m, 0.1, 5.0, "tank")
        require_range("liquid_depth_m", self.liquid_depth_m, 0.01, self.wall_height_m, "the rim")
        require_range("lid_fraction", self.lid_fraction, 0.0, 1.0)
        require_range("shell_resistance_m2K_W", self.shell_resistance_m2K_W, 0.0, 1.0, "tank shell")
        for name in ("wall_insulation_m", "floor_insulation_m", "lid_insulation_m"):
            require_range(name, getattr(self, name), 0.0, 0.3, "insulation")
        require_range(
            "insulation_conductivity_W_mK",
            self.insulation_conductivity_W_mK,
            0.015,
            0.2,
            "thermal insulation",
        )
        require_range("outer_emissivity", self.outer_emissivity, 0.0, 1.0)

    @property
    def surface_area_m2(self) -> float:
        """Liquid surface, open and lidded."""
        return self.length_m * self.width_m

    @property
    def warm_wall_area_m2(self) -> float:
        """Wetted wall, and the freeboard in the lidded share."""
        warm_m = self.liquid_depth_m + self.lid_fraction * (self.wall_height_m - self.liquid_depth_m)
        return 2.0 * (self.length_m + self.width_m) * warm_m

    def resistance_m2K_W(self, insulation_m: float) -> float:
        """Liquid film, shell and insulation in series."""
        layers = self.shell_resistance_m2K_W + insulation_m / self.insulation_conductivity_W_mK
        return 1.0 / INSIDE_FILM_W_m2K + layers

    def numbers(self) -> TankNumbers:
        """The same tank for batches."""
        return TankNumbers(
            float(self.length_m),
            float(self.width_m),
            float(self.wall_height_m),
            1.0 - self.lid_fraction,
            self.warm_wall_area_m2,
            self.resistance_m2K_W(self.lid_insulation_m),
            self.resistance_m2K_W(self.wall_insulation_m),
            self.resistance_m2K_W(self.floor_insulation_m),
            float(self.outer_emissivity),
        )


@dataclass(frozen=True)
class TankLosses:
    """What a tank loses; negative where it gains. The datum of vapour enthalpy is liquid water at 0 degC."""

    surface: SurfaceLosses
    lid: WallLoss
    walls: WallLoss
    floor: WallLoss

    @property
    def surface_evaporation_kg_s(self) -> float:
        """Water that leaves the open surface."""
        return self.surface.evaporation_kg_s

    @property
    def surface_vapour_enthalpy_flow_W(self) -> float:
        """Enthalpy that this water takes along as vapour."""
        return self.surface.vapour_enthalpy_flow_W

    @property
    def surface_sensible_W(self) -> float:
        """Convection and radiation of the open surface."""
        return self.surface.convection_W + self.surface.radiation_W

    @property
    def surface_heat_W(self) -> float:
        """All energy that leaves the open surface: vapour enthalpy, convection, radiation."""
        return self.surface.heat_W

    @property
    def lid_heat_W(self) -> float:
        """Heat through the lid."""
        return self.lid.heat_W

    @property
    def wall_heat_W(self) -> float:
        """Heat through the walls."""
        return self.walls.heat_W

    @property
    def floor_heat_W(self) -> float:
        """Heat through the floor."""
        return self.floor.heat_W

    @property
    def dry_heat_W(self) -> float:
        """Everything but the vapour: surface convection and radiation, lid, walls, floor."""
        return self.surface_sensible_W + self.lid_heat_W + self.wall_heat_W + self.floor_heat_W

    @property
    def heat_W(self) -> float:
        """All energy that leaves, vapour enthalpy included."""
        return self.surface_vapour_enthalpy_flow_W + self.dry_heat_W

    @property
    def too_hot_to_touch(self) -> tuple[str, ...]:
        """Names of the outer faces above 60 degC."""
        parts = {"lid": self.lid, "walls": self.walls, "floor": self.floor}
        return tuple(name for name, part in parts.items() if part.heat_W != 0.0 and part.too_hot_to_touch)


class TankRates(NamedTuple):
    """The losses as a kernel returns them, for batches."""

    surface_evaporation_kg_s: float
    surface_vapour_enthalpy_flow_W: float
    dry_heat_W: float


@sourced("own-tank-surface", "surface")
@sourced("own-tank-walls", "lid, walls and floor")
def tank_losses(
    *,
    tank: Tank,
    liquid_temperature_K: float,
    room_temperature_K: float,
    room_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    air_speed_m_s: float,
    water_activity: float = 1.0,
) -> TankLosses:
    """What a rectangular tank loses to a room.

    Args: liquid_temperature_K [K]: bulk, 273.15 to 1 K below boiling; room_temperature_K [K]: 243.15 to
        333.15; room_humidity_ratio_kg_kg: 0 to saturation; pressure_Pa [Pa]: 50e3 to 110e3; air_speed_m_s
        [m/s]: over the open surface, 0 to 5; water_activity: 0.5 to 1.
    Returns: surface, lid, walls and floor, apart and together.
    Raises: OutOfRange outside those; NotConverged.
    Source: own-tank-surface and own-tank-walls.
    """
    surface = free_surface_losses(
        liquid_temperature_K=liquid_temperature_K,
        room_temperature_K=room_temperature_K,
        room_humidity_ratio_kg_kg=room_humidity_ratio_kg_kg,
        pressure_Pa=pressure_Pa,
        length_m=tank.length_m,
        width_m=tank.width_m,
        open_fraction=1.0 - tank.lid_fraction,
        air_speed_m_s=air_speed_m_s,
        water_activity=water_activity,
        emissivity=LIQUID_EMISSIVITY,
    )

    def through(area_m2: float, size_m: float, shape: int, insulation_m: float) -> WallLoss:
        return panel_loss(
            liquid_temperature_K=liquid_temperature_K,
            room_temperature_K=room_temperature_K,
            pressure_Pa=pressure_Pa,
            area_m2=area_m2,
            size_m=size_m,
            shape=shape,
            resistance_m2K_W=tank.resistance_m2K_W(insulation_m),
            emissivity=tank.outer_emissivity,
        )

    level_m = tank.surface_area_m2 / (2.0 * (tank.length_m + tank.width_m))
    lid_m2 = tank.surface_area_m2 * tank.lid_fraction
    return TankLosses(
        surface=surface,
        lid=through(lid_m2, level_m, FACING_UP, tank.lid_insulation_m),
        walls=through(tank.warm_wall_area_m2, tank.wall_height_m, UPRIGHT, tank.wall_insulation_m),
        floor=through(tank.surface_area_m2, level_m, FACING_DOWN, tank.floor_insulation_m),
    )


@kernel
@sourced("own-tank-surface", "surface")
@sourced("own-tank-walls", "lid, walls and floor")
def tank_rates(
    liquid_temperature_K: float,
    room_temperature_K: float,
    room_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    air_speed_m_s: float,
    water_activity: float,
    tank: TankNumbers,
) -> TankRates:
    """The same losses as a kernel without range checks, for batches; equal to tank_losses to the last digits.

    Source: own-tank-surface and own-tank-walls.
    """
    T, room_K, p = liquid_temperature_K, room_temperature_K, pressure_Pa
    area_m2 = tank.length_m * tank.width_m
    level_m = area_m2 / (2.0 * (tank.length_m + tank.width_m))
    swept_m = math.sqrt(area_m2)
    fluxes = free_surface_fluxes(
        T,
        room_K,
        room_humidity_ratio_kg_kg,
        p,
        level_m,
        swept_m,
        air_speed_m_s,
        water_activity,
        LIQUID_EMISSIVITY,
    )
    emissivity = tank.outer_emissivity
    lid = heat_through(T, room_K, tank.lid_resistance_m2K_W, level_m, p, emissivity, FACING_UP)
    walls = heat_through(T, room_K, tank.wall_resistance_m2K_W, tank.wall_height_m, p, emissivity, UPRIGHT)
    floor = heat_through(T, room_K, tank.floor_resistance_m2K_W, level_m, p, emissivity, FACING_DOWN)
    open_m2 = area_m2 * tank.open_fraction
    dry_W = open_m2 * (fluxes.convection_W_m2 + fluxes.radiation_W_m2)
    dry_W += (area_m2 - open_m2) * lid.heat_W_m2 + area_m2 * floor.heat_W_m2
    dry_W += tank.warm_wall_area_m2 * walls.heat_W_m2
    return TankRates(open_m2 * fluxes.evaporation_kg_sm2, open_m2 * fluxes.vapour_enthalpy_W_m2, dry_W)
