"""Heat through a tank's walls, floor and lid and through hot piping, bare or insulated, with the outer
temperature.

One-dimensional: liquid film, shell, insulation, then natural convection and radiation to a still room whose
surfaces stand at air temperature. Plates by Churchill and Chu (upright), Lloyd and Moran (facing up) and
McAdams (facing down), pipes by Churchill and Chu. The outer temperature is settled so that both sides carry
the same heat.

An outer surface above 60 degC (140 degF) is too hot to touch: it needs a guard, insulation or a sign as local
code asks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import (
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_DRY_AIR_kg_mol,
    STANDARD_GRAVITY_m_s2,
    STEFAN_BOLTZMANN_W_m2K4,
)
from vaporwright.foundation.errors import NotConverged, require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import advance_root_search, start_root_search
from vaporwright.properties.air_transport import (
    HEAT_CAPACITY_DRY_AIR_J_kgK,
    dry_air_conductivity_W_mK,
    dry_air_prandtl,
    dry_air_viscosity_Pa_s,
)

TOUCH_LIMIT_K: Final = 333.15  # 60 degC
INSIDE_FILM_W_m2K: Final = 500.0  # hot water on a wall, 300 to 1000: moves the loss of a bare wall by 2 %
OUTSIDE_TOLERANCE_K: Final = 1.0e-7

UPRIGHT: Final = 0
FACING_UP: Final = 1
FACING_DOWN: Final = 2
PIPE: Final = 3


class OutsideFilm(NamedTuple):
    """The air side of a warm surface at its film temperature."""

    rayleigh: float
    conductivity_W_mK: float
    prandtl: float


@kernel
def _outside_film(surface_K: float, air_K: float, length_m: float, pressure_Pa: float) -> OutsideFilm:
    film_K = 0.5 * (surface_K + air_K)
    conductivity = dry_air_conductivity_W_mK(film_K)
    density = pressure_Pa * MOLAR_MASS_DRY_AIR_kg_mol / (MOLAR_GAS_CONSTANT_J_molK * film_K)
    kinematic = dry_air_viscosity_Pa_s(film_K) / density
    diffusivity = conductivity / (density * HEAT_CAPACITY_DRY_AIR_J_kgK)
    rayleigh = STANDARD_GRAVITY_m_s2 * (surface_K - air_K) / film_K * length_m**3 / (kinematic * diffusivity)
    return OutsideFilm(rayleigh, conductivity, dry_air_prandtl(film_K))


@kernel
@sourced("churchill-chu-1975-plate", "eq. 9 there: all Rayleigh numbers up to 1e12")
def upright_plate_convection_W_m2K(surface_K: float, air_K: float, height_m: float, pressure_Pa: float) -> float:
    """Natural convection on an upright plate in air.

    Equation: Nu = {0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27)}^2.
    Args: surface_K, air_K [K]: 233 to 600, either may be the warmer; height_m [m]; pressure_Pa [Pa];
        unchecked.
    Returns: coefficient [W/(m2 K)].
    Source: churchill-chu-1975-plate.
    """
    film = _outside_film(surface_K, air_K, height_m, pressure_Pa)
    sixth = abs(film.rayleigh) ** (1.0 / 6.0)
    root = 0.825 + 0.387 * sixth / (1.0 + (0.492 / film.prandtl) ** 0.5625) ** (8.0 / 27.0)
    return float(root * root * film.conductivity_W_mK / height_m)


@kernel
@sourced("lloyd-moran-1974", "warm side up: 0.54 Ra^(1/4), 0.15 Ra^(1/3), joined as in tank_surface")
@sourced("mcadams-1954", "warm side down: 0.27 Ra^(1/4)")
def level_plate_convection_W_m2K(
    surface_K: float, air_K: float, area_over_perimeter_m: float, pressure_Pa: float, faces_up: bool
) -> float:
    """Natural convection on a level plate in air; a cold plate facing up is a warm one facing down.

    Args: surface_K, air_K [K]: 233 to 600; area_over_perimeter_m [m]; pressure_Pa [Pa]; unchecked.
    Returns: coefficient [W/(m2 K)].
    Source: lloyd-moran-1974 (air rises off the plate), mcadams-1954 (air is held under it).
    """
    film = _outside_film(surface_K, air_K, area_over_perimeter_m, pressure_Pa)
    size = abs(film.rayleigh)
    fourth = math.sqrt(math.sqrt(size))
    nusselt = 0.27 * fourth
    if faces_up == (film.rayleigh > 0.0) and size > 0.0:
        laminar, turbulent = 0.54 * fourth, 0.15 * math.exp(math.log(size) / 3.0)
        low, high = min(laminar, turbulent), max(laminar, turbulent)
        nusselt = high * (1.0 + (low / high) ** 10.0) ** 0.1
    return nusselt * film.conductivity_W_mK / area_over_perimeter_m


@kernel
@sourced("churchill-chu-1975-cylinder", "level cylinder, Rayleigh numbers up to 1e12")
def pipe_convection_W_m2K(surface_K: float, air_K: float, diameter_m: float, pressure_Pa: float) -> float:
    """Natural convection on a level pipe in air.

    Equation: Nu = {0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}^2.
    Args: surface_K, air_K [K]: 233 to 600; diameter_m [m]: outer; pressure_Pa [Pa]; unchecked.
    Returns: coefficient [W/(m2 K)].
    Source: churchill-chu-1975-cylinder.
    """
    film = _outside_film(surface_K, air_K, diameter_m, pressure_Pa)
    sixth = abs(film.rayleigh) ** (1.0 / 6.0)
    root = 0.60 + 0.387 * sixth / (1.0 + (0.559 / film.prandtl) ** 0.5625) ** (8.0 / 27.0)
    return float(root * root * film.conductivity_W_mK / diameter_m)


@kernel
def _outside_flux_W_m2(
    surface_K: float, air_K: float, size_m: float, pressure_Pa: float, emissivity: float, shape: int
) -> float:
    """Convection and radiation from an outer surface; `shape` chooses among the four correlations above."""
    if shape == UPRIGHT:
        coefficient = upright_plate_convection_W_m2K(surface_K, air_K, size_m, pressure_Pa)
    elif shape == PIPE:
        coefficient = pipe_convection_W_m2K(surface_K, air_K, size_m, pressure_Pa)
    else:
        coefficient = level_plate_convection_W_m2K(surface_K, air_K, size_m, pressure_Pa, shape == FACING_UP)
    radiation = emissivity * STEFAN_BOLTZMANN_W_m2K4 * (surface_K**4 - air_K**4)
    return coefficient * (surface_K - air_K) + radiation


class Passage(NamedTuple):
    """Heat through a wall per outer area, its outer temperature, and what the solver left unbalanced."""

    heat_W_m2: float
    outer_temperature_K: float
    residual_W_m2: float


@kernel
@sourced("own-tank-walls", "conduction to the outer surface = convection + radiation from it")
def heat_through(
    inner_K: float,
    air_K: float,
    resistance_m2K_W: float,
    size_m: float,
    pressure_Pa: float,
    emissivity: float,
    shape: int,
) -> Passage:
    """Heat from the liquid to the room through a resistance; the unchecked kernel of panel_loss and
    pipe_loss.

    Args: resistance_m2K_W [m2 K/W]: film, shell and insulation, above zero, on outer area; size_m: height,
        area / perimeter or diameter; shape: UPRIGHT, FACING_UP, FACING_DOWN or PIPE.
    Source: own-tank-walls.
    """
    if inner_K == air_K:
        return Passage(0.0, air_K, 0.0)
    # At air temperature all conducts and nothing leaves; at the inner temperature the reverse: a sure
    # bracket.
    at_air = (inner_K - air_K) / resistance_m2K_W
    at_inner = -_outside_flux_W_m2(inner_K, air_K, size_m, pressure_Pa, emissivity, shape)
    search = start_root_search(air_K, at_air, inner_K, at_inner)
    residual, leaving = at_air, 0.0
    for _ in range(80):
        outer = search.next
        leaving = _outside_flux_W_m2(outer, air_K, size_m, pressure_Pa, emissivity, shape)
        residual = (inner_K - outer) / resistance_m2K_W - leaving
        search = advance_root_search(search, residual, OUTSIDE_TOLERANCE_K)
        if search.width <= OUTSIDE_TOLERANCE_K:
            break
    # The flux from the outside, not through the wall: a bare wall's resistance would magnify the last 1e-7 K.
    return Passage(leaving, search.newest, residual)


@dataclass(frozen=True)
class WallLoss:
    """Heat through one wall, floor, lid or pipe; negative where the room warms the tank."""

    heat_W: float
    outer_temperature_K: float

    @property
    def too_hot_to_touch(self) -> bool:
        """True above 60 degC, where bare skin burns within seconds on metal."""
        return self.outer_temperature_K > TOUCH_LIMIT_K


def _settled(passage: Passage, area_m2: float, what: str) -> WallLoss:
    if not abs(passage.residual_W_m2) <= 1e-3 + 1e-5 * abs(passage.heat_W_m2):
        raise NotConverged(f"outer temperature of {what}: {passage.residual_W_m2:.3g} W/m2 unbalanced")
    return WallLoss(passage.heat_W_m2 * area_m2, passage.outer_temperature_K)


def _require_room(inner_K: float, air_K: float, pressure_Pa: float, emissivity: float) -> None:
    require_range("liquid_temperature_K", inner_K, 243.15, 473.15, "insulated wall")
    require_range("room_temperature_K", air_K, 243.15, 333.15, "-30 to 60 degC")
    require_range("pressure_Pa", pressure_Pa, 50.0e3, 110.0e3, "air of the properties used")
    require_range("emissivity", emissivity, 0.0, 1.0)


@sourced("own-tank-walls", "resistances in series")
def panel_loss(
    *,
    liquid_temperature_K: float,
    room_temperature_K: float,
    pressure_Pa: float,
    area_m2: float,
    size_m: float,
    shape: int,
    resistance_m2K_W: float,
    emissivity: float,
) -> WallLoss:
    """Heat through a flat wall, floor or lid.

    Args: liquid_temperature_K [K]: 243.15 to 473.15; room_temperature_K [K]: 243.15 to 333.15; area_m2 [m2]:
        from 0; size_m [m]: 0.01 to 20, height of an upright plate, area / perimeter of a level one; shape:
        UPRIGHT, FACING_UP or FACING_DOWN; resistance_m2K_W [m2 K/W]: film, shell and insulation, 1e-4 to 100;
        emissivity of the outer face: 0 to 1 (painted 0.9, bright stainless 0.2).
    Returns: heat and outer temperature.
    Raises: OutOfRange outside those; NotConverged.
    Source: own-tank-walls; churchill-chu-1975-plate, lloyd-moran-1974, mcadams-1954 within.
    """
    _require_room(liquid_temperature_K, room_temperature_K, pressure_Pa, emissivity)
    require_range("area_m2", area_m2, 0.0, None)
    require_range("size_m", size_m, 0.01, 20.0, "natural convection on plates")
    require_range("resistance_m2K_W", resistance_m2K_W, 1e-4, 100.0)
    require_range("shape", shape, UPRIGHT, FACING_DOWN, "a flat panel")
    passage = heat_through(
        liquid_temperature_K, room_temperature_K, resistance_m2K_W, size_m, pressure_Pa, emissivity, shape
    )
    return _settled(passage, area_m2, "panel")


@sourced("own-tank-walls", "radial conduction ln(outer / inner) / (2 pi k)")
def pipe_loss(
    *,
    liquid_temperature_K: float,
    room_temperature_K: float,
    pressure_Pa: float,
    pipe_diameter_m: float,
    length_m: float,
    insulation_thickness_m: float,
    insulation_conductivity_W_mK: float,
    emissivity: float,
) -> WallLoss:
    """Heat from a level pipe, bare (thickness 0) or insulated.

    Equation: resistance on outer area = r_out [1/(500 r_pipe) + ln(r_out / r_pipe) / k]; the pipe wall is
        neglected.
    Args: liquid_temperature_K [K]: 243.15 to 473.15; room_temperature_K [K]: 243.15 to 333.15;
        pipe_diameter_m [m]: outer, 0.01 to 1; length_m [m]: from 0; insulation_thickness_m [m]: 0 to 0.3;
        insulation_conductivity_W_mK: 0.015 to 0.2; emissivity of the outer face: 0 to 1.
    Returns: heat and outer temperature.
    Raises: OutOfRange outside those; NotConverged.
    Source: own-tank-walls; churchill-chu-1975-cylinder within.
    """
    _require_room(liquid_temperature_K, room_temperature_K, pressure_Pa, emissivity)
    require_range("pipe_diameter_m", pipe_diameter_m, 0.01, 1.0)
    require_range("length_m", length_m, 0.0, None)
    require_range("insulation_thickness_m", insulation_thickness_m, 0.0, 0.3)
    require_range("insulation_conductivity_W_mK", insulation_conductivity_W_mK, 0.015, 0.2, "thermal insulation")
    inner_m = 0.5 * pipe_diameter_m
    outer_m = inner_m + insulation_thickness_m
    resistance = outer_m * (
        1.0 / (INSIDE_FILM_W_m2K * inner_m) + math.log(outer_m / inner_m) / insulation_conductivity_W_mK
    )
    passage = heat_through(
        liquid_temperature_K, room_temperature_K, resistance, 2.0 * outer_m, pressure_Pa, emissivity, PIPE
    )
    return _settled(passage, 2.0 * math.pi * outer_m * length_m, "pipe")
