"""Viscosity, conductivity and surface tension of water up to 200 degC, and the film around an immersed tube.

The IAPWS formulations without their critical terms, which matter only near 374 degC (up to 200 degC the
conductivity differs by 0.22 % at most from CoolProp, which has that term). The film on a horizontal cylinder
by Churchill and Chu serves electric sheaths and steam coils alike. For a tank below 110 degC
`water_transport` has shorter forms, as kernels; these here also serve steam and hot condensate.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.steam import LOWEST_TEMPERATURE_K, saturated_liquid

CRITICAL_TEMPERATURE_K: Final = 647.096
CRITICAL_DENSITY_kg_m3: Final = 322.0
HIGHEST_TRANSPORT_TEMPERATURE_K: Final = 1173.15
HIGHEST_DENSITY_kg_m3: Final = 1250.0  # liquid at some 1000 MPa; the releases' own upper end of pressure
HIGHEST_FILM_TEMPERATURE_K: Final = 473.15
HIGHEST_RAYLEIGH_NUMBER: Final = 1e12

# R12-08 table 2: rows are powers i of (1/T - 1), columns powers j of (rho - 1)
_VISCOSITY: Final = (
    (5.20094e-1, 2.22531e-1, -2.81378e-1, 1.61913e-1, -3.25372e-2, 0.0, 0.0),
    (8.50895e-2, 9.99115e-1, -9.06851e-1, 2.57399e-1, 0.0, 0.0, 0.0),
    (-1.08374, 1.88797, -7.72479e-1, 0.0, 0.0, 0.0, 0.0),
    (-2.89555e-1, 1.26613, -4.89837e-1, 0.0, 6.98452e-2, 0.0, -4.35673e-3),
    (0.0, 0.0, -2.57040e-1, 0.0, 0.0, 8.72102e-3, 0.0),
    (0.0, 1.20573e-1, 0.0, 0.0, 0.0, 0.0, -5.93264e-4),
)

# R15-11 table 2: rows and columns as above
_CONDUCTIVITY: Final = (
    (1.60397357, -0.646013523, 0.111443906, 0.102997357, -0.0504123634, 0.00609859258),
    (2.33771842, -2.78843778, 1.53616167, -0.463045512, 0.0832827019, -0.00719201245),
    (2.19650529, -4.54580785, 3.55777244, -1.40944978, 0.275418278, -0.0205938816),
    (-1.21051378, 1.60812989, -0.621178141, 0.0716373224, 0.0, 0.0),
    (-2.7203370, 4.57586331, -3.18369245, 1.1168348, -0.19268305, 0.012913842),
)


class LiquidFilm(NamedTuple):
    """What convection needs to know of saturated liquid water."""

    density_kg_m3: float
    heat_capacity_J_kgK: float
    expansion_coefficient_1_K: float
    viscosity_Pa_s: float
    conductivity_W_mK: float
    prandtl_number: float


def _double_series(rows: tuple[tuple[float, ...], ...], x: float, y: float) -> float:
    """Sum of c_ij x^i y^j by Horner's rule."""
    total = 0.0
    for row in reversed(rows):
        inner = 0.0
        for coefficient in reversed(row):
            inner = inner * y + coefficient
        total = total * x + inner
    return total


def _require_fluid(temperature_K: float, density_kg_m3: float, reason: str) -> None:
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, HIGHEST_TRANSPORT_TEMPERATURE_K, reason)
    require_range("density_kg_m3", density_kg_m3, 0.0, HIGHEST_DENSITY_kg_m3, reason)


@sourced("iapws-viscosity-2008", "equations 10 to 12, tables 1 and 2; critical factor 1")
def viscosity_Pa_s(temperature_K: float, density_kg_m3: float) -> float:
    """Dynamic viscosity of water or steam.

    Equation: mu = mu_0(T) exp(rho sum of H_ij (1/T - 1)^i (rho - 1)^j), T and rho reduced by the critical
        values.
    Args:
        temperature_K [K]: 273.15 to 1173.15.
        density_kg_m3 [kg/m3]: 0 to 1250.
    Returns: dynamic viscosity [Pa s].
    Raises: OutOfRange outside that range.
    Source: iapws-viscosity-2008; the critical factor is left out, as the release advises for industrial use.
    Example: table 4 of the release gives 889.735100 in uPa s
        >>> print(f"{viscosity_Pa_s(298.15, 998.0) * 1e6:.6f}")
        889.735100
    """
    _require_fluid(temperature_K, density_kg_m3, "IAPWS R12-08")
    T, rho = temperature_K / CRITICAL_TEMPERATURE_K, density_kg_m3 / CRITICAL_DENSITY_kg_m3
    dilute = 100.0 * math.sqrt(T) / (1.67752 + (2.20462 + (0.6366564 - 0.241605 / T) / T) / T)
    return 1e-6 * dilute * math.exp(rho * _double_series(_VISCOSITY, 1.0 / T - 1.0, rho - 1.0))


@sourced("iapws-conductivity-2011", "equations 15 to 17, tables 1 and 2; critical enhancement 0")
def thermal_conductivity_W_mK(temperature_K: float, density_kg_m3: float) -> float:
    """Thermal conductivity of water or steam.

    Equation: k = k_0(T) exp(rho sum of L_ij (1/T - 1)^i (rho - 1)^j), T and rho reduced by the critical
        values.
    Args:
        temperature_K [K]: 273.15 to 1173.15.
        density_kg_m3 [kg/m3]: 0 to 1250.
    Returns: thermal conductivity [W/(m K)].
    Raises: OutOfRange outside that range.
    Source: iapws-conductivity-2011 without the critical enhancement: 0.22 % below CoolProp, which has it, for
        saturated liquid and steam at 200 degC, and nearer at lower temperatures.
    Example: table 4 of the release gives 607.712868 in mW/(m K)
        >>> print(f"{thermal_conductivity_W_mK(298.15, 998.0) * 1e3:.6f}")
        607.712868
    """
    _require_fluid(temperature_K, density_kg_m3, "IAPWS R15-11")
    T, rho = temperature_K / CRITICAL_TEMPERATURE_K, density_kg_m3 / CRITICAL_DENSITY_kg_m3
    dilute_series = 6.770357e-3 + (-3.454586e-3 + 4.096266e-4 / T) / T
    dilute = math.sqrt(T) / (2.443221e-3 + (1.323095e-2 + dilute_series / T) / T)
    return 1e-3 * dilute * math.exp(rho * _double_series(_CONDUCTIVITY, 1.0 / T - 1.0, rho - 1.0))


@sourced("iapws-surface-tension-1994", "equation 1")
def surface_tension_N_m(temperature_K: float) -> float:
    """Surface tension of pure water against its own vapour; oils and wetting agents lower it much.

    Equation: sigma = 235.8 mN/m t^1.256 (1 - 0.625 t), t = 1 - T / 647.096 K.
    Args: temperature_K [K]: 273.15 to 647.096.
    Returns: surface tension [N/m].
    Raises: OutOfRange outside that range.
    Source: iapws-surface-tension-1994, equation 1.
    """
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, CRITICAL_TEMPERATURE_K, "IAPWS R1-76")
    t = 1.0 - temperature_K / CRITICAL_TEMPERATURE_K
    return float(0.2358 * t**1.256 * (1.0 - 0.625 * t))


@sourced("iapws-r7-97", "region 1 at saturation: density, heat capacity, expansion")
@sourced("iapws-viscosity-2008", "equations 10 to 12")
@sourced("iapws-conductivity-2011", "equations 15 to 17")
def liquid_film(temperature_K: float) -> LiquidFilm:
    """All that a convection correlation needs of liquid water, at saturation pressure.

    At the pressures of an open tank the difference from saturation pressure is below 0.01 % of any of them.
    Args: temperature_K [K]: 273.15 to 473.15.
    Returns: density [kg/m3], heat capacity [J/(kg K)], expansion coefficient [1/K] (negative below 4 degC),
        viscosity [Pa s], conductivity [W/(m K)], Prandtl number.
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97, iapws-viscosity-2008, iapws-conductivity-2011.
    """
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, HIGHEST_FILM_TEMPERATURE_K, "water film")
    state = saturated_liquid(temperature_K)
    density = 1.0 / state.specific_volume_m3_kg
    viscosity = viscosity_Pa_s(temperature_K, density)
    conductivity = thermal_conductivity_W_mK(temperature_K, density)
    return LiquidFilm(
        density_kg_m3=density,
        heat_capacity_J_kgK=state.heat_capacity_J_kgK,
        expansion_coefficient_1_K=state.expansion_coefficient_1_K,
        viscosity_Pa_s=viscosity,
        conductivity_W_mK=conductivity,
        prandtl_number=state.heat_capacity_J_kgK * viscosity / conductivity,
    )


@sourced("churchill-chu-1975", "equation for all Rayleigh numbers, horizontal cylinder")
def horizontal_cylinder_nusselt_number(rayleigh_number: float, prandtl_number: float) -> float:
    """Mean Nusselt number of natural convection around a horizontal cylinder, on its diameter.

    Equation: Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2.
    Args:
        rayleigh_number: 0 to 1e12.
        prandtl_number: above zero.
    Returns: Nusselt number.
    Raises: OutOfRange outside that range.
    Source: churchill-chu-1975.
    Example: a hot pipe in air, Ra 1.869e6 and Pr 0.7241
        >>> print(f"{horizontal_cylinder_nusselt_number(1.869e6, 0.7241):.1f}")
        17.4
    """
    require_range("rayleigh_number", rayleigh_number, 0.0, HIGHEST_RAYLEIGH_NUMBER, "Churchill and Chu")
    require_range("prandtl_number", prandtl_number, 1e-4, None, "Churchill and Chu")
    damping = (1.0 + (0.559 / prandtl_number) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return float((0.60 + 0.387 * rayleigh_number ** (1.0 / 6.0) / damping) ** 2)


@sourced("churchill-chu-1975", "horizontal cylinder, properties at the mean of surface and water temperature")
def immersed_cylinder_coefficient_W_m2K(
    surface_temperature_K: float, water_temperature_K: float, diameter_m: float
) -> float:
    """Natural-convection coefficient of a horizontal tube or rod in still water.

    Equation: h = Nu k / d, Ra = g |beta| |difference| d^3 rho^2 cp / (mu k), properties at the mean
    temperature. Boiling at the surface is not in it (it would raise the coefficient), nor is a neighbouring
    tube's plume.
    Args:
        surface_temperature_K, water_temperature_K [K]: their mean within 273.15 to 473.15.
        diameter_m [m]: 0.0005 to 1.
    Returns: coefficient [W/(m2 K)].
    Raises: OutOfRange outside that range.
    Source: churchill-chu-1975 with the IAPWS properties of this module.
    """
    require_range("diameter_m", diameter_m, 0.0005, 1.0, "tube or rod in water")
    film = liquid_film(0.5 * (surface_temperature_K + water_temperature_K))
    difference_K = abs(surface_temperature_K - water_temperature_K)
    buoyancy = STANDARD_GRAVITY_m_s2 * abs(film.expansion_coefficient_1_K) * difference_K
    diffusion = film.viscosity_Pa_s * film.conductivity_W_mK / (film.density_kg_m3**2 * film.heat_capacity_J_kgK)
    rayleigh_number = buoyancy * diameter_m**3 / diffusion
    nusselt_number = horizontal_cylinder_nusselt_number(rayleigh_number, film.prandtl_number)
    return nusselt_number * film.conductivity_W_mK / diameter_m
