"""Kernels of moist air and water at the conditions of an evaporator, without range checks (see moist_air, water).

Hot moist air is not an ideal gas: saturated air at 80 degC holds 1.1 % more vapour than the ideal-gas form says.
The kernels carry the second virial coefficients of air, vapour and their mixture, in the form that ASHRAE
RP-1485 uses, with each temperature function replaced by a short polynomial so that one saturated humidity
ratio costs microseconds in plain Python. Fit and check are in tests/oracle/test_moist_air_oracle.py.

Datum: liquid water at its triple point and dry air at 0 degC and 101325 Pa have zero enthalpy.
All humidity ratios and enthalpies are per kg of dry air. Beyond boiling the saturated humidity ratio is the
sentinel `BOILS`; callers on the search keep away from it, public functions raise.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.foundation.constants import (
    MOLAR_MASS_RATIO,
    ZERO_CELSIUS_K,
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_DRY_AIR_kg_mol,
)
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced

USUAL_ENHANCEMENT: Final = 1.0045  # f of saturated air at atmospheric pressure, 1.003 to 1.006
BOILS: Final = 1.0e9  # kg/kg, returned where the vapour pressure reaches the total pressure
COLDEST_K: Final = 213.15  # edges of the searches for an air temperature
HOTTEST_K: Final = 378.15


@kernel
@sourced("iapws-r7-97", "section 8.1, eq. 30 (region 4); above 273.15 K")
@sourced("iapws-r14-08", "eq. 6 (sublimation); below 273.15 K")
def vapour_pressure_of_pure_water_Pa(temperature_K: float) -> float:
    """Saturation pressure over liquid water, below 0 degC over ice [Pa]; 190 K to 623 K, unchecked."""
    if temperature_K >= ZERO_CELSIUS_K:
        theta = temperature_K - 0.23855557567849 / (temperature_K - 650.17534844798)
        a = theta * theta + 1167.0521452767 * theta - 724213.16703206
        b = -17.073846940092 * theta * theta + 12020.82470247 * theta - 3232555.0322333
        c = 14.91510861353 * theta * theta - 4823.2657361591 * theta + 405113.40542057
        root = 2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))
        square = root * root
        return square * square * 1.0e6
    theta = temperature_K / 273.16
    exponent = -21.2144006 * theta**0.00333333333 + 27.3203819 * theta**1.20666667 - 6.1059813 * theta**1.70333333
    return 611.657 * math.exp(exponent / theta)


@kernel
@sourced("rp-1485", "enhancement factor with the second virial coefficients and the Poynting term")
@sourced("own-moist-air-fit", "polynomials of (v - Bww)/RT and (Baa - 2 Baw + v)/RT in temperature")
def saturated_vapour_pressure_Pa(temperature_K: float, pressure_Pa: float, water_activity: float) -> float:
    """Partial pressure of vapour in saturated air over liquor (or ice) at total pressure [Pa]; unchecked.

    ln f = b (p - ps - xa^2 p) + a xa^2 p with b = (v - Bww)/RT, a = (Baa - 2 Baw + v)/RT, xa the mole
    fraction of dry air; the result is water_activity x f x ps. xa is taken with a usual f: 3e-5 of the result at most.
    """
    pure_Pa = vapour_pressure_of_pure_water_Pa(temperature_K)
    t = temperature_K - ZERO_CELSIUS_K
    b = 9.1406037e-07 + t * (-2.3140927e-08 + t * (3.3224948e-10 + t * (-2.5899332e-12 + t * 8.1855424e-15)))
    a = 3.586937e-08 + t * (-3.5875598e-10 + t * (2.4268414e-12 - t * 8.1633866e-15))
    active_Pa = water_activity * pure_Pa
    air = 1.0 - active_Pa * USUAL_ENHANCEMENT / pressure_Pa
    square = air * air * pressure_Pa
    log_factor = b * (pressure_Pa - pure_Pa - square) + a * square
    return active_Pa * (1.0 + log_factor * (1.0 + 0.5 * log_factor))


@kernel
@sourced("rp-1485", "W = (Mw/Ma) x_w / (1 - x_w)")
def saturated_humidity_ratio_kg_kg(temperature_K: float, pressure_Pa: float, water_activity: float) -> float:
    """Humidity ratio of air saturated over liquor of the given water activity [kg/kg]; `BOILS` beyond boiling."""
    vapour_Pa = saturated_vapour_pressure_Pa(temperature_K, pressure_Pa, water_activity)
    if vapour_Pa >= 0.9999 * pressure_Pa:
        return BOILS
    return MOLAR_MASS_RATIO * vapour_Pa / (pressure_Pa - vapour_Pa)


@kernel
@sourced("iapws-r7-97", "saturated-liquid enthalpy; own quintic in temperature, 19 J/kg at most over 0 to 110 degC")
def liquid_water_enthalpy_J_kg(temperature_K: float) -> float:
    """Enthalpy of liquid water near atmospheric pressure [J/kg]; 273 K to 383 K, unchecked.

    Below 0 degC (mist in cold air) the same curve is carried on: supercooled droplets, no ice.
    """
    t = temperature_K - 273.16
    return t * (4216.0099 + t * (-1.1667265 + t * (0.016024364 + t * (-9.5840557e-05 + t * 2.7610078e-07))))


@kernel
@sourced("iapws-r7-97", "isobaric heat capacity of the saturated liquid, as the derivative of the quintic above")
def liquid_water_heat_capacity_J_kgK(temperature_K: float) -> float:
    """Heat capacity of liquid water, the derivative of liquid_water_enthalpy_J_kg [J/(kg K)]; unchecked."""
    t = temperature_K - 273.16
    return 4216.0099 + t * (-2.333453 + t * (0.048073092 + t * (-3.83362228e-04 + t * 1.3805039e-06)))


@kernel
@sourced("iapws-r7-97", "ideal-gas part of region 2; own cubic, 13 J/kg at most over -30 to 110 degC")
def ideal_vapour_enthalpy_J_kg(temperature_K: float) -> float:
    """Enthalpy of water vapour at vanishing pressure [J/kg]; 243 K to 383 K, unchecked."""
    t = temperature_K - ZERO_CELSIUS_K
    return 2501422.22 + t * (1858.61754 + t * (0.104472008 + t * 0.000329113738))


@kernel
@sourced("rp-1485", "enthalpy with second virial coefficients; own polynomials of B - T dB/dT")
def moist_air_enthalpy_J_kg(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Enthalpy of unsaturated or just saturated moist air [J/kg dry air]; 243 K to 378 K, unchecked.

    h = ha0 + W hv0 + p/Ma [eps Aaa + 2 W Aaw + (W^2/eps) Aww] / (eps + W), A = B - T dB/dT per pair of species.
    """
    t = temperature_K - ZERO_CELSIUS_K
    w = humidity_ratio_kg_kg
    dry = 278.2598 + t * (1003.65299 + t * (0.0157911192 + t * 0.000113578416))
    vapour = 2501422.22 + t * (1858.61754 + t * (0.104472008 + t * 0.000329113738))
    air_air = -7.98687851e-05 + t * (5.63061854e-07 - t * 1.6561666e-09)
    air_water = -0.000136811195 + t * (9.32485592e-07 - t * 3.09120738e-09)
    water_water = -0.011930848 + t * (0.00021370725 + t * (-1.6394684e-06 + t * 4.7619135e-09))
    residual = (MOLAR_MASS_RATIO * air_air + w * (2.0 * air_water + w / MOLAR_MASS_RATIO * water_water)) / (
        MOLAR_MASS_RATIO + w
    )
    return dry + w * vapour + pressure_Pa / MOLAR_MASS_DRY_AIR_kg_mol * residual


@kernel
@sourced("rp-1485", "volume with second virial coefficients")
@sourced("own-moist-air-fit", "Baa as a quadratic; Bww and Baw from the polynomials of the enhancement factor")
def moist_air_specific_volume_m3_kg(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Volume of moist air per kg of dry air [m3/kg]; 243 K to 378 K, unchecked."""
    t = temperature_K - ZERO_CELSIUS_K
    gas = MOLAR_GAS_CONSTANT_J_molK * temperature_K
    liquid_m3_mol = 1.85e-05
    b = 9.1406037e-07 + t * (-2.3140927e-08 + t * (3.3224948e-10 + t * (-2.5899332e-12 + t * 8.1855424e-15)))
    a = 3.586937e-08 + t * (-3.5875598e-10 + t * (2.4268414e-12 - t * 8.1633866e-15))
    air_air = -1.3713243e-05 + t * (2.3857969e-07 - t * 7.1304538e-10)
    water_water = liquid_m3_mol - b * gas
    air_water = 0.5 * (air_air + liquid_m3_mol - a * gas)
    air = MOLAR_MASS_RATIO / (MOLAR_MASS_RATIO + humidity_ratio_kg_kg)
    water = 1.0 - air
    mixed = air * air * air_air + 2.0 * air * water * air_water + water * water * water_water
    return (gas / pressure_Pa + mixed) / (air * MOLAR_MASS_DRY_AIR_kg_mol)


class AirState(NamedTuple):
    """Temperature of air, the part of its water that is vapour (the rest is mist), and its heat capacity."""

    temperature_K: float
    vapour_humidity_ratio_kg_kg: float
    heat_capacity_J_kgK: float  # dh/dT at constant total water, condensing mist included
    excess_kg_kg: float  # water beyond saturation: mist where positive


@kernel
@sourced("own-moist-air-fit", "inverse of moist_air_enthalpy_J_kg by Newton steps")
@sourced("kloppers-kroeger-2005", "supersaturated air: saturated air plus mist at its temperature")
def air_state_from_enthalpy(
    enthalpy_J_kg: float,
    humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    guess_K: float,
    guess_is_misty: bool,
    close_K: float,
) -> AirState:
    """Temperature and vapour content of air with a given enthalpy and total water content; unchecked.

    Unsaturated: h(T, W) = enthalpy. Supersaturated: h(T, Ws) + (W - Ws) h_w(T) = enthalpy. The last Newton step
    is shorter than close_K; the error left is about a fiftieth of it, because the slope is good to 2 %.
    The search stays between COLDEST_K and HOTTEST_K; a state that lies outside comes back at that edge.
    """
    temperature = guess_K
    w = humidity_ratio_kg_kg
    if guess_is_misty:
        misty = _misty_air_state(enthalpy_J_kg, w, pressure_Pa, temperature, close_K)
        if misty.excess_kg_kg >= 0.0:
            return misty
        temperature = misty.temperature_K
    slope = 1006.0 + 1870.0 * w
    for _ in range(6):
        change = (enthalpy_J_kg - moist_air_enthalpy_J_kg(temperature, w, pressure_Pa)) / slope
        temperature = min(max(temperature + change, COLDEST_K), HOTTEST_K)
        if abs(change) < close_K:
            break
    excess = w - saturated_humidity_ratio_kg_kg(temperature, pressure_Pa, 1.0)
    if excess <= 0.0 or guess_is_misty:
        return AirState(temperature, w, slope, min(excess, 0.0))
    return _misty_air_state(enthalpy_J_kg, w, pressure_Pa, temperature, close_K)


@kernel
def _misty_air_state(
    enthalpy_J_kg: float, humidity_ratio_kg_kg: float, pressure_Pa: float, guess_K: float, close_K: float
) -> AirState:
    """State of air that carries mist; its excess is negative where there is none."""
    temperature = guess_K
    w = humidity_ratio_kg_kg
    saturated = w
    slope = 1006.0
    for _ in range(40):
        saturated = saturated_humidity_ratio_kg_kg(temperature, pressure_Pa, 1.0)
        have = moist_air_enthalpy_J_kg(temperature, saturated, pressure_Pa) + (
            w - saturated
        ) * liquid_water_enthalpy_J_kg(temperature)
        # d ln Ws / dT by Clausius and Clapeyron, times the growth of W with vapour pressure
        latent = 2.501e6 - 2380.0 * (temperature - ZERO_CELSIUS_K)
        growth = latent / (459.0 * temperature * temperature) * (1.0 + saturated / MOLAR_MASS_RATIO)
        slope = 1006.0 + 1870.0 * saturated + 4190.0 * (w - saturated) + saturated * growth * latent
        change = min(max((enthalpy_J_kg - have) / slope, -15.0), 15.0)
        temperature = min(max(temperature + change, COLDEST_K), HOTTEST_K)
        saturated += saturated * growth * change
        if abs(change) < close_K:
            break
    return AirState(temperature, min(saturated, w), slope, w - saturated)
