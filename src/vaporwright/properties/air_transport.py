"""Transport properties of near-atmospheric air and of its mixture with water vapour.

For natural and forced convection around tanks, pipes and ducts: published correlations of the dilute gases,
joined by Wilke's rule. Kernels without range checks: 233 K to 600 K, 50 kPa to 120 kPa, where pressure does
not move viscosity and conductivity by more than 0.1 %.
"""

from __future__ import annotations

import math
from typing import Final

from vaporwright.foundation.constants import (
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_DRY_AIR_kg_mol,
    MOLAR_MASS_WATER_kg_mol,
    STANDARD_ATMOSPHERE_Pa,
)
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced

HEAT_CAPACITY_DRY_AIR_J_kgK: Final = 1006.5  # 280 K to 340 K within 0.1 %; 1014 at 400 K
HEAT_CAPACITY_WATER_VAPOUR_J_kgK: Final = 1880.0  # ideal gas, 280 K to 370 K within 1 %
CRITICAL_TEMPERATURE_WATER_K: Final = 647.096


@kernel
@sourced("us-standard-atmosphere-1976-transport", "eq. 51")
def dry_air_viscosity_Pa_s(temperature_K: float) -> float:
    """Dynamic viscosity of dry air.

    Equation: Sutherland's law, mu = 1.458e-6 T^1.5 / (T + 110.4).
    Args: temperature_K [K]: 200 to 600, unchecked.
    Returns: viscosity [Pa s].
    Source: us-standard-atmosphere-1976-transport, eq. 51.
    """
    return 1.458e-6 * temperature_K * math.sqrt(temperature_K) / (temperature_K + 110.4)


@kernel
@sourced("us-standard-atmosphere-1976-transport", "eq. 53")
def dry_air_conductivity_W_mK(temperature_K: float) -> float:
    """Thermal conductivity of dry air.

    Equation: k = 2.64638e-3 T^1.5 / (T + 245.4 x 10^(-12/T)).
    Args: temperature_K [K]: 200 to 600, unchecked.
    Returns: conductivity [W/(m K)].
    Source: us-standard-atmosphere-1976-transport, eq. 53.
    """
    T = temperature_K
    return 2.64638e-3 * T * math.sqrt(T) / (T + 245.4 * math.pow(10.0, -12.0 / T))


@kernel
@sourced("iapws-r12-08", "eq. 11, viscosity in the limit of zero density")
def water_vapour_viscosity_Pa_s(temperature_K: float) -> float:
    """Dynamic viscosity of dilute water vapour.

    Args: temperature_K [K]: 233 to 600, unchecked.
    Returns: viscosity [Pa s].
    Source: iapws-r12-08, eq. 11 and its table 1.
    """
    r = CRITICAL_TEMPERATURE_WATER_K / temperature_K
    return 1.0e-4 / (math.sqrt(r) * (1.67752 + r * (2.20462 + r * (0.6366564 - 0.241605 * r))))


@kernel
@sourced("iapws-r15-11", "eq. 16, conductivity in the limit of zero density")
def water_vapour_conductivity_W_mK(temperature_K: float) -> float:
    """Thermal conductivity of dilute water vapour.

    Args: temperature_K [K]: 233 to 600, unchecked.
    Returns: conductivity [W/(m K)].
    Source: iapws-r15-11, eq. 16 and its table 1.
    """
    r = CRITICAL_TEMPERATURE_WATER_K / temperature_K
    series = 2.443221e-3 + r * (1.323095e-2 + r * (6.770357e-3 + r * (-3.454586e-3 + 4.096266e-4 * r)))
    return 1.0e-3 / (math.sqrt(r) * series)


@kernel
def _wilke_weight(viscosity_ratio: float, molar_mass_ratio: float) -> float:
    """Wilke's weight of species 2 in the share of species 1, from viscosity 1/2 and molar mass 1/2."""
    root = 1.0 + math.sqrt(viscosity_ratio) / math.sqrt(math.sqrt(molar_mass_ratio))
    return root * root / math.sqrt(8.0 * (1.0 + molar_mass_ratio))


@kernel
@sourced("wilke-1950", "eqs. 13 and 14")
def moist_air_viscosity_Pa_s(temperature_K: float, vapour_mole_fraction: float) -> float:
    """Dynamic viscosity of moist air.

    Equation: mu = sum_i x_i mu_i / sum_j x_j phi_ij.
    Args: temperature_K [K]: 233 to 400; vapour_mole_fraction [mol/mol]: 0 to 1; unchecked.
    Returns: viscosity [Pa s].
    Source: wilke-1950, eqs. 13 and 14.
    """
    y = vapour_mole_fraction
    x = 1.0 - y
    air = dry_air_viscosity_Pa_s(temperature_K)
    vapour = water_vapour_viscosity_Pa_s(temperature_K)
    air_vapour = _wilke_weight(air / vapour, MOLAR_MASS_DRY_AIR_kg_mol / MOLAR_MASS_WATER_kg_mol)
    vapour_air = _wilke_weight(vapour / air, MOLAR_MASS_WATER_kg_mol / MOLAR_MASS_DRY_AIR_kg_mol)
    return x * air / (x + y * air_vapour) + y * vapour / (y + x * vapour_air)


@kernel
@sourced("mason-saxena-1958", "Wassiljewa's sum with Wilke's weights, their factor 1.065 left out")
def moist_air_conductivity_W_mK(temperature_K: float, vapour_mole_fraction: float) -> float:
    """Thermal conductivity of moist air.

    Equation: k = sum_i x_i k_i / sum_j x_j phi_ij with the phi_ij of the viscosity.
    Args: temperature_K [K]: 233 to 400; vapour_mole_fraction [mol/mol]: 0 to 1; unchecked.
    Returns: conductivity [W/(m K)].
    Source: mason-saxena-1958; their factor 1.065 on phi is left out.
    """
    y = vapour_mole_fraction
    x = 1.0 - y
    air_viscosity = dry_air_viscosity_Pa_s(temperature_K)
    vapour_viscosity = water_vapour_viscosity_Pa_s(temperature_K)
    air_vapour = _wilke_weight(air_viscosity / vapour_viscosity, MOLAR_MASS_DRY_AIR_kg_mol / MOLAR_MASS_WATER_kg_mol)
    vapour_air = _wilke_weight(vapour_viscosity / air_viscosity, MOLAR_MASS_WATER_kg_mol / MOLAR_MASS_DRY_AIR_kg_mol)
    air = dry_air_conductivity_W_mK(temperature_K)
    vapour = water_vapour_conductivity_W_mK(temperature_K)
    return x * air / (x + y * air_vapour) + y * vapour / (y + x * vapour_air)


@kernel
@sourced("marrero-mason-1972", "table of recommended fits, water vapour in air, 282 K to 450 K")
def vapour_diffusivity_m2_s(temperature_K: float, pressure_Pa: float) -> float:
    """Diffusivity of water vapour in air.

    Equation: D = 1.87e-10 T^2.072 / p, p in atm.
    Args: temperature_K [K]: 282 to 450 (used down to 243); pressure_Pa [Pa]: 5e4 to 1.2e5; unchecked.
    Returns: diffusivity [m2/s].
    Source: marrero-mason-1972.
    Example: Pruppacher and Klett give 0.25 cm2/s at 25 degC.
        >>> round(vapour_diffusivity_m2_s(298.15, 101325.0) * 1e4, 2)
        0.25
    """
    return 1.87e-10 * math.exp(2.072 * math.log(temperature_K)) * STANDARD_ATMOSPHERE_Pa / pressure_Pa


@kernel
@sourced("bird-stewart-lightfoot-2002", "ideal-gas mixture density, section 17.1")
def ideal_moist_air_density_kg_m3(temperature_K: float, vapour_mole_fraction: float, pressure_Pa: float) -> float:
    """Density of moist air as an ideal gas, mixture per volume: for buoyancy, where 0.2 % does not matter.

    Args: temperature_K [K]; vapour_mole_fraction [mol/mol]; pressure_Pa [Pa]; unchecked.
    Returns: density [kg moist air/m3].
    Source: bird-stewart-lightfoot-2002.
    """
    molar = MOLAR_MASS_DRY_AIR_kg_mol + vapour_mole_fraction * (MOLAR_MASS_WATER_kg_mol - MOLAR_MASS_DRY_AIR_kg_mol)
    return pressure_Pa * molar / (MOLAR_GAS_CONSTANT_J_molK * temperature_K)


@kernel
@sourced("bird-stewart-lightfoot-2002", "definition, section 9.1")
def dry_air_prandtl(temperature_K: float) -> float:
    """Prandtl number of dry air, mu cp / k.

    Args: temperature_K [K]: 233 to 600, unchecked; the heat capacity grows by 1 % up to 400 K and is kept
        constant.
    Source: bird-stewart-lightfoot-2002.
    """
    viscosity = dry_air_viscosity_Pa_s(temperature_K)
    return viscosity * HEAT_CAPACITY_DRY_AIR_J_kgK / dry_air_conductivity_W_mK(temperature_K)
