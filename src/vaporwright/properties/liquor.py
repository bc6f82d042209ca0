"""The liquor: wastewater with dissolved solids, described as an equivalent sodium chloride solution.

For lack of an analysis every dissolved solid counts as sodium chloride, kilogram for kilogram.
`water_activity` is the one function through which everybody asks; real brine chemistry replaces its inside
later.

What "equivalent sodium chloride" costs: its water activity minus that of the salt itself, by the salts' own
Pitzer models at 25 to 75 degC and equal mass fraction (the figures are held in
tests/published/test_liquor.py):
  calcium chloride    -0.007 at 5 %, -0.013 at 10 %, 0 to -0.006 at 18 %, +0.008 to +0.024 at 25 %
  magnesium chloride  within 0.004 up to 9 %, +0.03 at 16 %, +0.06 to +0.09 at 22 % (evaporates less than this says)
  sodium sulphate     -0.022 at 7 %, -0.050 at 12 %, -0.12 at 22 % (evaporates more than this says)
  organics, soaps     not covered

Equations: Pitzer's osmotic coefficient with the temperature functions of Moller (1988), densities by Laliberte
and Cooper, heat capacities by Laliberte.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.constants import ZERO_CELSIUS_K, MOLAR_MASS_WATER_kg_mol
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.moist_air_kernels import (
    liquid_water_heat_capacity_J_kgK,
    vapour_pressure_of_pure_water_Pa,
)
from vaporwright.properties.water_transport import liquid_density_kg_m3

MOLAR_MASS_SODIUM_CHLORIDE_kg_mol: Final = 0.05844277
MOLAR_MASS_CHLORIDE_kg_mol: Final = 0.0354527
LEAST_TEMPERATURE_K: Final = 273.15
GREATEST_TEMPERATURE_K: Final = 383.15


@dataclass(frozen=True)
class Liquor:
    """A liquor by what dissolves in it, as mass fractions of the whole liquor.

    Raises OutOfRange when a fraction is not one, when more chloride than solids is stated, or when the solids
    exceed what sodium chloride dissolves at the highest temperature of use.
    """

    dissolved_solids_kg_kg: float
    chloride_kg_kg: float = 0.0

    def __post_init__(self) -> None:
        most = _solubility_of_sodium_chloride_kg_kg(GREATEST_TEMPERATURE_K)
        require_range(
            "dissolved_solids_kg_kg",
            self.dissolved_solids_kg_kg,
            0.0,
            most,
            "saturation of sodium chloride at 110 degC",
        )
        require_range(
            "chloride_kg_kg",
            self.chloride_kg_kg,
            0.0,
            self.dissolved_solids_kg_kg,
            "chloride is part of the solids",
        )


def _solubility_of_sodium_chloride_kg_kg(temperature_K: float) -> float:
    t = temperature_K - ZERO_CELSIUS_K
    return 0.26218 + 7.2e-5 * t + 1.06e-6 * t * t


@sourced("potter-babcock-brown-1977", "halite solubility as a quadratic in temperature, 0 to 800 degC")
def solubility_of_sodium_chloride_kg_kg(temperature_K: float) -> float:
    """Mass fraction of sodium chloride in its saturated solution.

    Equation: 100 w = 26.218 + 0.0072 t + 0.000106 t^2, t in degC.
    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: mass fraction [kg/kg solution].
    Raises: OutOfRange outside that range.
    Source: potter-babcock-brown-1977.
    Example: 26.5 % at 25 degC.
        >>> round(solubility_of_sodium_chloride_kg_kg(298.15), 3)
        0.265
    """
    require_range("temperature_K", temperature_K, LEAST_TEMPERATURE_K, GREATEST_TEMPERATURE_K, "liquid water")
    return _solubility_of_sodium_chloride_kg_kg(temperature_K)


@sourced("own-liquor-balance", "the solids of the feed stay in the liquor")
def concentrated(liquor: Liquor, mass_concentration_factor: float, temperature_K: float) -> Liquor:
    """The liquor after evaporation, by the balance of its solids.

    Equation: mass fraction x factor, factor = mass fed / mass of liquor left.
    Args: mass_concentration_factor [kg/kg]: at least 1; temperature_K [K]: of the liquor at the end of the
        batch.
    Returns: the liquor left.
    Raises: OutOfRange where solids would exceed the solubility of sodium chloride at that temperature: salt
        crystallises, scales the heater and settles; the message names the largest factor.
    Source: own-liquor-balance.
    Example: 20 to 1.
        >>> concentrated(Liquor(0.005), 20.0, 330.0).dissolved_solids_kg_kg
        0.1
    """
    require_range("mass_concentration_factor", mass_concentration_factor, 1.0, None, "evaporation only removes water")
    limit = solubility_of_sodium_chloride_kg_kg(temperature_K)
    solids = liquor.dissolved_solids_kg_kg * mass_concentration_factor
    if solids > limit:
        most = limit / liquor.dissolved_solids_kg_kg
        reason = f"solids would reach {solids:.3g} kg/kg, sodium chloride crystallises above {limit:.3g} kg/kg"
        raise OutOfRange("mass_concentration_factor", mass_concentration_factor, 1.0, most, reason)
    return Liquor(solids, liquor.chloride_kg_kg * mass_concentration_factor)


@kernel
def _moller(T: float, a1: float, a2: float, a3: float, a4: float, a6: float, a7: float, a8: float) -> float:
    """Moller's temperature function without its fifth term, T in kelvin."""
    return a1 + a2 * T + a3 / T + a4 * math.log(T) + a6 * T * T + a7 / (680.0 - T) + a8 / (T - 227.0)


@kernel
@sourced("moller-1988", "eq. II-13 and table 1: Na-Cl and the Debye-Hueckel slope")
@sourced("pitzer-1991", "osmotic coefficient of one 1-1 electrolyte, b = 1.2, alpha = 2")
def sodium_chloride_osmotic_coefficient(molality_mol_kg: float, temperature_K: float) -> float:
    """Osmotic coefficient of sodium chloride in water at saturation pressure.

    Equation: phi = 1 - A sqrt(m)/(1 + 1.2 sqrt(m)) + m [b0 + b1 exp(-2 sqrt(m))] + m^2 C.
    Args: molality_mol_kg [mol/kg water]: 0 to 6.9; temperature_K [K]: 273.15 to 383.15; unchecked.
    Source: pitzer-1991; A, b0, b1 and C by moller-1988.
    """
    T, m = temperature_K, molality_mol_kg
    root = math.sqrt(m)
    A = _moller(T, 3.36901532e-1, -6.32100430e-4, 9.14252359, -1.35143986e-2, 1.92118597e-6, 4.52586464e1, 0.0)
    A += 2.26089488e-3 / (T - 263.0)
    b0 = _moller(T, 1.43783204e1, 5.60767406e-3, -4.22185236e2, -2.51226677, -2.61718135e-6, 4.43854508, -1.70502337)
    b1 = _moller(T, -4.83060685e-1, 1.40677479e-3, 1.19311989e2, 0.0, 0.0, 0.0, -4.23433299)
    C = _moller(
        T,
        -1.00588714e-1,
        -1.80529413e-5,
        8.61185543,
        1.24880954e-2,
        3.41172108e-8,
        6.83040995e-2,
        2.93922611e-1,
    )
    return 1.0 - A * root / (1.0 + 1.2 * root) + m * (b0 + b1 * math.exp(-2.0 * root)) + m * m * C


@kernel
@sourced("pitzer-1991", "ln a = -nu m M phi")
def sodium_chloride_water_activity(dissolved_solids_kg_kg: float, temperature_K: float) -> float:
    """Water activity of a sodium chloride solution.

    Args: dissolved_solids_kg_kg [kg/kg solution]: 0 to saturation; temperature_K [K]: 273.15 to 383.15;
        unchecked.
    Source: pitzer-1991.
    Example: Robinson and Stokes print 0.7598 at 6 mol/kg and 25 degC.
        >>> round(sodium_chloride_water_activity(0.25963, 298.15), 3)
        0.76
    """
    x = dissolved_solids_kg_kg
    molality = x / ((1.0 - x) * MOLAR_MASS_SODIUM_CHLORIDE_kg_mol)
    phi = sodium_chloride_osmotic_coefficient(molality, temperature_K)
    return math.exp(-2.0 * molality * MOLAR_MASS_WATER_kg_mol * phi)


@sourced("moller-1988", "as the equivalent sodium chloride solution")
def water_activity(liquor: Liquor, temperature_K: float) -> float:
    """Water activity of a liquor: its vapour pressure over that of pure water. Everybody asks here.

    Equation: sodium chloride of the same mass fraction of solids (see the module text for what that costs).
    Args: liquor: up to saturation of sodium chloride at that temperature; temperature_K [K]: 273.15 to
        383.15.
    Returns: activity, 1 for pure water.
    Raises: OutOfRange outside that range.
    Source: moller-1988, as equivalent sodium chloride.
    """
    _require_dissolved(liquor, temperature_K)
    return sodium_chloride_water_activity(liquor.dissolved_solids_kg_kg, temperature_K)


@sourced("moller-1988", "through the water activity: a p_sat(T) = p")
@sourced("iapws-r7-97", "saturation pressure of water")
def boiling_temperature_K(liquor: Liquor, pressure_Pa: float) -> float:
    """Temperature at which a liquor boils.

    Equation: water activity x saturation pressure = pressure.
    Args: pressure_Pa [Pa]: 50e3 to 110e3.
    Returns: temperature [K].
    Raises: OutOfRange outside that range or past saturation of sodium chloride at the boiling temperature.
    Source: moller-1988 through water_activity; iapws-r7-97 for pure water.
    """
    require_range("pressure_Pa", pressure_Pa, 50.0e3, 110.0e3, "boiling between 80 and 110 degC")
    solids = liquor.dissolved_solids_kg_kg

    def excess(temperature_K: float) -> float:
        pure_Pa = vapour_pressure_of_pure_water_Pa(temperature_K)
        return math.log(sodium_chloride_water_activity(solids, temperature_K) * pure_Pa / pressure_Pa)

    boiling_K = find_root(excess, 340.0, 395.0, tolerance=1e-7, name="boiling temperature in K")
    _require_dissolved(liquor, boiling_K)
    return boiling_K


@sourced("moller-1988", "difference of boiling temperatures")
def boiling_point_elevation_difference_K(liquor: Liquor, pressure_Pa: float) -> float:
    """By how much a liquor boils above pure water at the same pressure.

    Args: pressure_Pa [Pa]: 50e3 to 110e3.
    Returns: temperature difference [K].
    Raises: OutOfRange as boiling_temperature_K.
    Source: moller-1988. Sodium chloride stands 7 to 12 % above sea salt of the same mass fraction.
    """
    return boiling_temperature_K(liquor, pressure_Pa) - boiling_temperature_K(Liquor(0.0), pressure_Pa)


@kernel
@sourced("laliberte-cooper-2004", "eqs. 5 and 9")
@sourced("laliberte-2009", "table of density coefficients, sodium chloride, 0 to 140 degC, up to 0.266 kg/kg")
def sodium_chloride_density_kg_m3(dissolved_solids_kg_kg: float, temperature_K: float) -> float:
    """Density of a sodium chloride solution at 1 atm.

    Equation: 1/rho = (1 - w)/rho_water + w/rho_apparent,
        rho_apparent = (c0 w + c1) exp[1e-6 (t + c4)^2] / (w + c2 + c3 t).
    Args: dissolved_solids_kg_kg [kg/kg solution]: 0 to saturation; temperature_K [K]: 273.15 to 383.15;
        unchecked.
    Returns: density [kg/m3].
    Source: laliberte-cooper-2004 with the coefficients of laliberte-2009; water by kell-1975.
    """
    w = dissolved_solids_kg_kg
    t = temperature_K - ZERO_CELSIUS_K
    shifted = t + 3317.35
    apparent = (-0.00324 * w + 0.06364) * math.exp(1.0e-6 * shifted * shifted) / (w + 1.01371 + 0.01460 * t)
    return 1.0 / ((1.0 - w) / liquid_density_kg_m3(temperature_K) + w / apparent)


@kernel
@sourced(
    "laliberte-2009",
    "heat capacity equations and coefficients, sodium chloride, 1.5 to 120 degC, up to 0.261 kg/kg",
)
def sodium_chloride_heat_capacity_J_kgK(dissolved_solids_kg_kg: float, temperature_K: float) -> float:
    """Specific heat capacity of a sodium chloride solution near atmospheric pressure.

    Equation: cp = (1 - w) cp_water + w cp_apparent,
        cp_apparent = a1 exp(a2 t + a3 exp(0.01 t) + a4 w) + a5 w^a6, in kJ/(kg K).
    Args: dissolved_solids_kg_kg [kg/kg solution]: 0 to saturation; temperature_K [K]: 273.15 to 383.15;
        unchecked.
    Returns: heat capacity [J/(kg K)].
    Source: laliberte-2009; water by iapws-r7-97.
    """
    w = dissolved_solids_kg_kg
    t = temperature_K - ZERO_CELSIUS_K
    water = liquid_water_heat_capacity_J_kgK(temperature_K)
    exponent = -0.07821 * t + 3.8480 * math.exp(0.01 * t) - 11.2762 * w
    apparent = 1000.0 * (-0.06936 * math.exp(exponent) + 8.7319 * math.pow(w, 1.8125))
    return (1.0 - w) * water + w * apparent


@sourced("laliberte-2009", "as the equivalent sodium chloride solution")
def density_kg_m3(liquor: Liquor, temperature_K: float) -> float:
    """Density of a liquor as the equivalent sodium chloride solution at 1 atm.

    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: density [kg/m3].
    Raises: OutOfRange outside that range or past saturation of sodium chloride.
    Source: laliberte-2009. At equal mass fraction up to 22 % the chlorides of calcium and magnesium are up
        to 3.5 % heavier, sodium sulphate up to 4.3 %.
    """
    _require_dissolved(liquor, temperature_K)
    return sodium_chloride_density_kg_m3(liquor.dissolved_solids_kg_kg, temperature_K)


@sourced("laliberte-2009", "as the equivalent sodium chloride solution")
def heat_capacity_J_kgK(liquor: Liquor, temperature_K: float) -> float:
    """Specific heat capacity of a liquor as the equivalent sodium chloride solution.

    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: heat capacity [J/(kg K)].
    Raises: OutOfRange outside that range or past saturation of sodium chloride.
    Source: laliberte-2009.
    """
    _require_dissolved(liquor, temperature_K)
    return sodium_chloride_heat_capacity_J_kgK(liquor.dissolved_solids_kg_kg, temperature_K)


def _require_dissolved(liquor: Liquor, temperature_K: float) -> None:
    limit = solubility_of_sodium_chloride_kg_kg(temperature_K)
    require_range(
        "dissolved_solids_kg_kg",
        liquor.dissolved_solids_kg_kg,
        0.0,
        limit,
        f"sodium chloride crystallises above this at {temperature_K - ZERO_CELSIUS_K:.0f} degC",
    )
