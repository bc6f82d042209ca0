"""Liquid water and its vapour at the conditions of an open evaporator: saturation, enthalpy.

Equations: IAPWS Industrial Formulation 1997 and the IAPWS sublimation equation (kernels in
moist_air_kernels). Steam under pressure is in the module steam. Datum: the liquid at its triple point.
"""

from __future__ import annotations

import math

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air_kernels import (
    ideal_vapour_enthalpy_J_kg,
    liquid_water_enthalpy_J_kg,
    liquid_water_heat_capacity_J_kgK,
    vapour_pressure_of_pure_water_Pa,
)


@sourced("iapws-r7-97", "section 8.1, eq. 30 (region 4)")
@sourced("iapws-r14-08", "eq. 6, below 273.15 K")
def saturation_pressure_Pa(temperature_K: float) -> float:
    """Saturation pressure of water over its liquid, below 0 degC over ice.

    Args: temperature_K [K]: 223.15 to 647.096.
    Returns: pressure [Pa].
    Raises: OutOfRange outside that range.
    Source: IAPWS R7-97, eq. 30; IAPWS R14-08, eq. 6 over ice.
    Example: IAPWS R7-97, Table 35, gives 2.63889776 MPa at 500 K.

    >>> round(saturation_pressure_Pa(500.0), 2)
    2638897.76
    """
    require_range("temperature_K", temperature_K, 223.15, 647.096, "IAPWS R7-97 region 4 and R14-08")
    return vapour_pressure_of_pure_water_Pa(temperature_K)


@sourced("iapws-r7-97", "section 8.2, eq. 31 (region 4, backward)")
def saturation_temperature_K(pressure_Pa: float) -> float:
    """Temperature at which liquid water boils at a given pressure.

    Args: pressure_Pa [Pa]: 611.213 to 22.064e6.
    Returns: temperature [K].
    Raises: OutOfRange outside that range.
    Source: IAPWS R7-97, eq. 31.
    Example: IAPWS R7-97, Table 36, gives 453.035632 K at 1 MPa.

    >>> round(saturation_temperature_K(1.0e6), 6)
    453.035632
    """
    require_range("pressure_Pa", pressure_Pa, 611.213, 22.064e6, "IAPWS R7-97 region 4")
    beta = math.sqrt(math.sqrt(pressure_Pa / 1.0e6))
    e = beta * beta - 17.073846940092 * beta + 14.91510861353
    f = 1167.0521452767 * beta * beta + 12020.82470247 * beta - 4823.2657361591
    g = -724213.16703206 * beta * beta - 3232555.0322333 * beta + 405113.40542057
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    n9, n10 = -0.23855557567849, 650.17534844798
    return 0.5 * (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d)))


@sourced("iapws-r7-97", "saturated-liquid enthalpy, own quintic")
def liquid_enthalpy_J_kg(temperature_K: float) -> float:
    """Enthalpy of liquid water near atmospheric pressure above its triple point.

    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: enthalpy [J/kg], within 20 J/kg of IAPWS R7-97.
    Raises: OutOfRange outside that range.
    """
    require_range("temperature_K", temperature_K, 273.15, 383.15, "fit to IAPWS R7-97")
    return liquid_water_enthalpy_J_kg(temperature_K)


@sourced("iapws-r7-97", "isobaric heat capacity of the liquid, own quartic")
def liquid_heat_capacity_J_kgK(temperature_K: float) -> float:
    """Heat capacity of liquid water near atmospheric pressure.

    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: heat capacity [J/(kg K)], within 0.1 % of IAPWS R7-97.
    Raises: OutOfRange outside that range.
    """
    require_range("temperature_K", temperature_K, 273.15, 383.15, "fit to IAPWS R7-97")
    return liquid_water_heat_capacity_J_kgK(temperature_K)


@sourced("iapws-r7-97", "ideal-gas part of region 2, own cubic")
def vapour_enthalpy_J_kg(temperature_K: float) -> float:
    """Enthalpy of water vapour at vanishing pressure, as vapour leaves a water surface into air.

    Args: temperature_K [K]: 243.15 to 383.15.
    Returns: enthalpy above liquid at the triple point [J/kg], within 15 J/kg of IAPWS R7-97 region 2.
    Raises: OutOfRange outside that range.
    """
    require_range("temperature_K", temperature_K, 243.15, 383.15, "fit to IAPWS R7-97")
    return ideal_vapour_enthalpy_J_kg(temperature_K)
