"""Radiation of flue gas: total emissivity and absorptivity of carbon dioxide and water vapour after
Leckner.

Both gases emit in bands, so a thin body of flue gas radiates a few per cent of what a black body would;
soot, which would make it more, is not counted, so a luminous flame gives more heat than computed here.
"""

from __future__ import annotations

import math
from typing import Final

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced

_BAR_Pa: Final = 1.0e5
_BAR_CM_PER_PA_M: Final = 1.0e-3  # 1 Pa m = 1e-5 bar x 100 cm
LEAST_PATH_bar_cm: Final = 1.0e-3


@kernel
def _carbon_dioxide(temperature_K: float, partial_Pa: float, total_Pa: float, length_m: float) -> float:
    t = temperature_K / 1000.0
    path = partial_Pa * length_m * _BAR_CM_PER_PA_M
    y = math.log10(path)
    c0 = -3.9893 + t * (2.7669 + t * (-2.1081 + t * 0.39163))
    c1 = 1.2710 + t * (-1.1090 + t * (1.0195 - t * 0.21897))
    c2 = -0.23678 + t * (0.19731 + t * (-0.19544 + t * 0.044644))
    zero_pressure = math.exp(c0 + y * (c1 + y * c2))
    effective = (total_Pa + 0.28 * partial_Pa) / _BAR_Pa
    a = 1.0 + 0.1 / t**1.45
    b = 0.23
    if t < 0.7:
        best = 0.054 / (t * t)
    else:
        best = 0.225 * t * t
    distance = math.log10(best) - y
    correction = (a - 1.0) * (1.0 - effective) / (a + b - 1.0 + effective) * math.exp(-1.47 * distance * distance)
    return float(zero_pressure * (1.0 - correction))


@kernel
def _water(temperature_K: float, partial_Pa: float, total_Pa: float, length_m: float) -> float:
    t = temperature_K / 1000.0
    path = partial_Pa * length_m * _BAR_CM_PER_PA_M
    y = math.log10(path)
    c0 = -2.2118 + t * (-1.1987 + t * 0.035596)
    c1 = 0.85667 + t * (0.93048 - t * 0.14391)
    c2 = -0.10838 + t * (-0.17156 + t * 0.045915)
    zero_pressure = math.exp(c0 + y * (c1 + y * c2))
    effective = (total_Pa + 2.56 * partial_Pa / math.sqrt(t)) / _BAR_Pa
    if t < 0.75:
        a = 2.144
    else:
        a = 1.888 - 2.053 * math.log10(t)
    b = 1.10 / t**1.4
    distance = math.log10(13.2 * t * t) - y
    correction = (a - 1.0) * (1.0 - effective) / (a + b - 1.0 + effective) * math.exp(-0.5 * distance * distance)
    return float(zero_pressure * (1.0 - correction))


@kernel
def _overlap(carbon_dioxide_Pa: float, water_Pa: float, length_m: float) -> float:
    path = (carbon_dioxide_Pa + water_Pa) * length_m * _BAR_CM_PER_PA_M
    if path <= 1.0:
        return 0.0
    share = water_Pa / (water_Pa + carbon_dioxide_Pa)
    return float((share / (10.7 + 101.0 * share) - 0.0089 * share**10.4) * math.log10(path) ** 2.76)


@kernel
@sourced("leckner-1972", "total emissivity of H2O and CO2, pressure and overlap corrections")
def emissivity_kernel(
    temperature_K: float, carbon_dioxide_Pa: float, water_Pa: float, total_Pa: float, length_m: float
) -> float:
    """Emissivity of flue gas without checks of range; see gas_emissivity.

    Equation: emissivity of CO2 plus that of H2O less their overlap.
    Args: as gas_emissivity.
    Returns: emissivity [-].
    Source: leckner-1972.
    """
    return (
        _carbon_dioxide(temperature_K, carbon_dioxide_Pa, total_Pa, length_m)
        + _water(temperature_K, water_Pa, total_Pa, length_m)
        - _overlap(carbon_dioxide_Pa, water_Pa, length_m)
    )


@kernel
@sourced("leckner-1972", "absorptivity from the emissivity at the surface temperature")
def absorptivity_kernel(
    temperature_K: float,
    surface_temperature_K: float,
    carbon_dioxide_Pa: float,
    water_Pa: float,
    total_Pa: float,
    length_m: float,
) -> float:
    """Absorptivity of flue gas without checks of range; see gas_absorptivity.

    Equation: (Tg/Ts)^0.5 times the emissivity at Ts and the path shortened by Ts/Tg.
    Args: as gas_absorptivity.
    Returns: absorptivity [-].
    Source: leckner-1972.
    """
    ratio = surface_temperature_K / temperature_K
    shorter = length_m * ratio
    return emissivity_kernel(surface_temperature_K, carbon_dioxide_Pa, water_Pa, total_Pa, shorter) / math.sqrt(ratio)


def _require_gas(
    temperature_K: float, carbon_dioxide_Pa: float, water_Pa: float, total_Pa: float, length_m: float
) -> None:
    require_range("temperature_K", temperature_K, 250.0, 2500.0, "Leckner, from 400 K; carried on to 250 K")
    require_range("total_Pa", total_Pa, 0.5e5, 2.0e5, "open flue")
    least = LEAST_PATH_bar_cm / _BAR_CM_PER_PA_M
    for name, partial in (
        ("carbon_dioxide_Pa x length_m", carbon_dioxide_Pa),
        ("water_Pa x length_m", water_Pa),
    ):
        require_range(name, partial * length_m, least, 1e6, "Leckner, partial pressure times length")


@sourced("leckner-1972", "total emissivity of H2O and CO2, pressure and overlap corrections")
def gas_emissivity(
    temperature_K: float, carbon_dioxide_Pa: float, water_Pa: float, total_Pa: float, length_m: float
) -> float:
    """Total emissivity of flue gas.

    Equation: exp of a polynomial in T/1000 K and log10 of partial pressure times length for each gas, a
        correction for total pressure, less the overlap of the bands of CO2 and H2O.
    Args:
        temperature_K [K]: 250 to 2500. The correlation is given from 400 K; below it is carried on, where
            radiation is of little weight.
        carbon_dioxide_Pa, water_Pa [Pa]: partial pressures; times length 1 to 1e6 Pa m.
        total_Pa [Pa]: 0.5e5 to 2e5.
        length_m [m]: mean beam length; 0.95 of the diameter in a long tube.
    Returns: emissivity [-].
    Raises: OutOfRange outside that range.
    Source: leckner-1972.
    """
    _require_gas(temperature_K, carbon_dioxide_Pa, water_Pa, total_Pa, length_m)
    return emissivity_kernel(temperature_K, carbon_dioxide_Pa, water_Pa, total_Pa, length_m)


@sourced("leckner-1972", "absorptivity from the emissivity at the surface temperature")
def gas_absorptivity(
    temperature_K: float,
    *,
    surface_temperature_K: float,
    carbon_dioxide_Pa: float,
    water_Pa: float,
    total_Pa: float,
    length_m: float,
) -> float:
    """Share of a black or grey surface's radiation that flue gas absorbs.

    Equation: (Tg/Ts)^0.5 times the emissivity at Ts and the path shortened by Ts/Tg.
    Args:
        temperature_K, surface_temperature_K [K]: 250 to 2500.
        carbon_dioxide_Pa, water_Pa, total_Pa, length_m: as for gas_emissivity.
    Returns: absorptivity [-].
    Raises: OutOfRange outside that range.
    Source: leckner-1972.
    """
    _require_gas(temperature_K, carbon_dioxide_Pa, water_Pa, total_Pa, length_m)
    require_range("surface_temperature_K", surface_temperature_K, 250.0, 2500.0, "Leckner, carried on to 250 K")
    return absorptivity_kernel(temperature_K, surface_temperature_K, carbon_dioxide_Pa, water_Pa, total_Pa, length_m)
