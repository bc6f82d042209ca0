"""Moist air as a real gas, per kg of dry air: the checked functions that everybody calls.

Equations are in moist_air_kernels; here ranges are checked and inverses (wet bulb, dew point) solved. Range of
all: -30 to 100 degC and 60 to 110 kPa, below boiling of the water in question.
"""

from __future__ import annotations

from vaporwright.foundation.constants import MOLAR_MASS_RATIO, ZERO_CELSIUS_K, STANDARD_ATMOSPHERE_Pa
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.moist_air_kernels import (
    BOILS,
    liquid_water_enthalpy_J_kg,
    moist_air_enthalpy_J_kg,
    moist_air_specific_volume_m3_kg,
    saturated_humidity_ratio_kg_kg,
    saturated_vapour_pressure_Pa,
)

LOWEST_K = 243.15
HIGHEST_K = 373.15
LOWEST_Pa = 60.0e3
HIGHEST_Pa = 110.0e3
_RANGE = "fit of the moist-air kernels"


def _check(temperature_K: float, pressure_Pa: float) -> None:
    require_range("temperature_K", temperature_K, LOWEST_K, HIGHEST_K, _RANGE)
    require_range("pressure_Pa", pressure_Pa, LOWEST_Pa, HIGHEST_Pa, _RANGE)


@sourced("ashrae-fundamentals-2017", "ch. 1, eq. 3")
def standard_pressure_Pa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere at an elevation: p = 101325 (1 - 2.25577e-5 z)^5.2559.

    Args: elevation_m [m]: -400 to 4000.
    Returns: pressure [Pa].
    Raises: OutOfRange outside that range.
    Example: ASHRAE 2017, ch. 1, Table 1, gives 95.461 kPa at 500 m.

    >>> round(standard_pressure_Pa(500.0))
    95461
    """
    require_range("elevation_m", elevation_m, -400.0, 4000.0, "moist-air functions need 60 to 110 kPa")
    return float(STANDARD_ATMOSPHERE_Pa * (1.0 - 2.25577e-5 * elevation_m) ** 5.2559)


@sourced("rp-1485", "saturation with enhancement factor")
def saturation_humidity_ratio_kg_kg(temperature_K: float, pressure_Pa: float, water_activity: float = 1.0) -> float:
    """Humidity ratio of air in equilibrium with liquor (below 0 degC with ice).

    W = (Mw/Ma) pw / (p - pw), pw = water_activity x f x ps(T).

    Args:
        temperature_K [K]: 243.15 to 373.15, below boiling.
        pressure_Pa [Pa]: 60e3 to 110e3.
        water_activity [-]: above 0 to 1; pure water is 1.
    Returns: humidity ratio [kg/kg dry air].
    Raises: OutOfRange outside those ranges and where the liquor boils.
    """
    _check(temperature_K, pressure_Pa)
    require_range("water_activity", water_activity, 1.0e-3, 1.0, "liquor")
    ratio = saturated_humidity_ratio_kg_kg(temperature_K, pressure_Pa, water_activity)
    if ratio >= BOILS:
        raise OutOfRange("temperature_K", temperature_K, LOWEST_K, None, f"water boils at {pressure_Pa:.6g} Pa")
    return ratio


@sourced("rp-1485", "relative humidity as ratio of mole fractions")
def humidity_ratio_kg_kg(temperature_K: float, relative_humidity: float, pressure_Pa: float) -> float:
    """Humidity ratio from relative humidity: x_w = relative_humidity x x_w,saturated.

    Args:
        temperature_K [K]: 243.15 to 373.15. relative_humidity [-]: 0 to 1. pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: humidity ratio [kg/kg dry air].
    Raises: OutOfRange outside those ranges and where the vapour pressure would reach the total pressure.
    """
    _check(temperature_K, pressure_Pa)
    require_range("relative_humidity", relative_humidity, 0.0, 1.0)
    vapour_Pa = relative_humidity * saturated_vapour_pressure_Pa(temperature_K, pressure_Pa, 1.0)
    if vapour_Pa >= pressure_Pa:
        raise OutOfRange("relative_humidity", relative_humidity, 0.0, None, "vapour pressure above total pressure")
    return MOLAR_MASS_RATIO * vapour_Pa / (pressure_Pa - vapour_Pa)


@sourced("rp-1485", "relative humidity as ratio of mole fractions, inverted")
def relative_humidity_from_humidity_ratio(
    temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float
) -> float:
    """Relative humidity [-] of air; above 1 where the air carries mist.

    Args: as in humidity_ratio_kg_kg; humidity_ratio_kg_kg [kg/kg dry air]: 0 to 10.
    Raises: OutOfRange outside those ranges.
    """
    _check(temperature_K, pressure_Pa)
    require_range("humidity_ratio_kg_kg", humidity_ratio_kg_kg, 0.0, 10.0)
    vapour_Pa = pressure_Pa * humidity_ratio_kg_kg / (MOLAR_MASS_RATIO + humidity_ratio_kg_kg)
    return vapour_Pa / saturated_vapour_pressure_Pa(temperature_K, pressure_Pa, 1.0)


@sourced("rp-1485", "enthalpy with second virial coefficients")
def enthalpy_J_kg(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Enthalpy of moist air; water beyond saturation counts as mist of liquid at the air's temperature.

    Args:
        temperature_K [K]: 243.15 to 373.15. humidity_ratio_kg_kg [kg/kg dry air]: 0 to 10.
        pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: enthalpy [J/kg dry air]; zero for dry air at 0 degC and for liquid water at its triple point.
    Raises: OutOfRange outside those ranges.
    """
    _check(temperature_K, pressure_Pa)
    require_range("humidity_ratio_kg_kg", humidity_ratio_kg_kg, 0.0, 10.0, _RANGE)
    saturated = saturated_humidity_ratio_kg_kg(temperature_K, pressure_Pa, 1.0)
    vapour = min(humidity_ratio_kg_kg, saturated)
    mist_J_kg = (humidity_ratio_kg_kg - vapour) * liquid_water_enthalpy_J_kg(temperature_K)
    return moist_air_enthalpy_J_kg(temperature_K, vapour, pressure_Pa) + mist_J_kg


@sourced("rp-1485", "volume with second virial coefficients")
def specific_volume_m3_kg(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Volume of moist air per kg of dry air [m3/kg]; the volume of mist is neglected.

    Args and errors: as in enthalpy_J_kg.
    """
    _check(temperature_K, pressure_Pa)
    require_range("humidity_ratio_kg_kg", humidity_ratio_kg_kg, 0.0, 10.0, _RANGE)
    vapour = min(humidity_ratio_kg_kg, saturated_humidity_ratio_kg_kg(temperature_K, pressure_Pa, 1.0))
    return moist_air_specific_volume_m3_kg(temperature_K, vapour, pressure_Pa)


@sourced("rp-1485", "density from the specific volume")
def density_kg_m3(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Density of moist air, its water included [kg/m3]. Args and errors: as in enthalpy_J_kg."""
    volume_m3_kg = specific_volume_m3_kg(temperature_K, humidity_ratio_kg_kg, pressure_Pa)
    return (1.0 + humidity_ratio_kg_kg) / volume_m3_kg


def _condensed_enthalpy_J_kg(temperature_K: float) -> float:
    """Liquid water, or ice below 0 degC (ASHRAE: 333.4 kJ/kg below the liquid, 2.1 kJ/(kg K))."""
    if temperature_K >= ZERO_CELSIUS_K:
        return liquid_water_enthalpy_J_kg(temperature_K)
    return -333.4e3 + 2100.0 * (temperature_K - ZERO_CELSIUS_K)


@sourced("ashrae-fundamentals-2017", "ch. 1, eq. 33 (thermodynamic wet bulb)")
def humidity_ratio_from_wet_bulb_kg_kg(
    temperature_K: float, wet_bulb_temperature_K: float, pressure_Pa: float
) -> float:
    """Humidity ratio of air from its dry and wet bulb temperatures.

    Solves h(T, W) + (Ws(Twb) - W) h_condensed(Twb) = h(Twb, Ws(Twb)) for W.

    Args: temperature_K [K] and pressure_Pa [Pa] as in enthalpy_J_kg; wet_bulb_temperature_K [K]: not above it.
    Returns: humidity ratio [kg/kg dry air].
    Raises: OutOfRange where the wet bulb is above the dry bulb or lower than dry air could reach.
    """
    _check(temperature_K, pressure_Pa)
    require_range("wet_bulb_temperature_K", wet_bulb_temperature_K, LOWEST_K, temperature_K, "at most the dry bulb")
    saturated = saturation_humidity_ratio_kg_kg(wet_bulb_temperature_K, pressure_Pa)
    target = moist_air_enthalpy_J_kg(wet_bulb_temperature_K, saturated, pressure_Pa)
    added_J_kg = _condensed_enthalpy_J_kg(wet_bulb_temperature_K)

    def excess(ratio: float) -> float:
        return moist_air_enthalpy_J_kg(temperature_K, ratio, pressure_Pa) + (saturated - ratio) * added_J_kg - target

    if excess(0.0) > 0.0:
        driest_K = _wet_bulb_of_dry_air_K(temperature_K, pressure_Pa)
        raise OutOfRange(
            "wet_bulb_temperature_K", wet_bulb_temperature_K, driest_K, temperature_K, "dry air at this temperature"
        )
    return find_root(excess, 0.0, saturated, tolerance=1.0e-10, name="humidity ratio from wet bulb")


def _wet_bulb_of_dry_air_K(temperature_K: float, pressure_Pa: float) -> float:
    return wet_bulb_temperature_K(temperature_K, 0.0, pressure_Pa)


@sourced("ashrae-fundamentals-2017", "ch. 1, eq. 33 (thermodynamic wet bulb)")
def wet_bulb_temperature_K(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Thermodynamic wet bulb temperature: where adding condensed water at that temperature saturates the air.

    Args: as in enthalpy_J_kg, the air not above saturation.
    Returns: temperature [K].
    Raises: OutOfRange outside the ranges and for air that carries mist.
    """
    _check(temperature_K, pressure_Pa)
    ceiling_K = _highest_below_boiling_K(temperature_K, pressure_Pa)
    saturated = saturated_humidity_ratio_kg_kg(temperature_K, pressure_Pa, 1.0)
    require_range("humidity_ratio_kg_kg", humidity_ratio_kg_kg, 0.0, saturated * (1.0 + 1e-9), "saturation")
    enthalpy = moist_air_enthalpy_J_kg(temperature_K, humidity_ratio_kg_kg, pressure_Pa)

    def excess(wet_bulb_K: float) -> float:
        ratio = saturated_humidity_ratio_kg_kg(wet_bulb_K, pressure_Pa, 1.0)
        added = (ratio - humidity_ratio_kg_kg) * _condensed_enthalpy_J_kg(wet_bulb_K)
        return moist_air_enthalpy_J_kg(wet_bulb_K, ratio, pressure_Pa) - added - enthalpy

    if excess(ceiling_K) <= 0.0:
        return ceiling_K
    lowest_K = max(LOWEST_K - 10.0, temperature_K - 100.0)
    return find_root(excess, lowest_K, ceiling_K, tolerance=1.0e-6, name="wet bulb temperature")


def _highest_below_boiling_K(temperature_K: float, pressure_Pa: float) -> float:
    """The temperature itself, or the hottest at which saturated air still exists at this pressure."""
    if saturated_humidity_ratio_kg_kg(temperature_K, pressure_Pa, 1.0) < BOILS:
        return temperature_K

    def short_of_boiling(candidate_K: float) -> float:
        return 0.995 * pressure_Pa - saturated_vapour_pressure_Pa(candidate_K, pressure_Pa, 1.0)

    return find_root(short_of_boiling, LOWEST_K, temperature_K, tolerance=1.0e-6, name="boiling temperature of air")


@sourced("rp-1485", "saturation pressure inverted")
def dew_point_temperature_K(humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Temperature at which air of this humidity ratio is saturated (below 0 degC: frost point).

    Args: humidity_ratio_kg_kg [kg/kg dry air]: 2e-4 to 10. pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: temperature [K].
    Raises: OutOfRange outside those ranges (drier air has its dew point below -35 degC).
    """
    require_range("humidity_ratio_kg_kg", humidity_ratio_kg_kg, 2.0e-4, 10.0, _RANGE)
    require_range("pressure_Pa", pressure_Pa, LOWEST_Pa, HIGHEST_Pa, _RANGE)
    vapour_Pa = pressure_Pa * humidity_ratio_kg_kg / (MOLAR_MASS_RATIO + humidity_ratio_kg_kg)

    def excess(candidate_K: float) -> float:
        return saturated_vapour_pressure_Pa(candidate_K, pressure_Pa, 1.0) - vapour_Pa

    return find_root(excess, LOWEST_K - 10.0, HIGHEST_K, tolerance=1.0e-6, name="dew point temperature")
