"""Kernels of the counterflow tower: Poppe's equations marched in water temperature, without range checks.

Per area dA of interface, with K the mass transfer coefficient (Kloppers & Kroeger 2005, from Poppe & Roegener):

    evaporation     ma dw   = K (w_i - w_v) dA
    heat            dq      = K [Le S + h(T, w_i) - h(T, w_v)] dA
    water energy    mw cp dT = dq - h_w ma dw  =  K D dA
    Merkel number   dMe     = K dA / mw_in     =  (mw / mw_in) cp dT / D

T: water temperature; w_i: air saturated over the liquor there (water activity included); w_v: the vapour part of the
bulk air, which is saturated at its own temperature where the air carries mist; h: real-gas enthalpy of moist air, so
that h(T, w_i) - h(T, w_v) is what the evaporated vapour brings; S: heat that would warm the bulk air and its mist to
the water's temperature; Le: Bosnjakovic's Lewis factor. Three things make this robust and exact:

* water temperature, not height, is the independent variable: a guess of the outlet that is too low ends in a
  pinch (D = 0), which is recognised, instead of blowing up;
* the air's enthalpy is not integrated but follows from the exact energy balance of the stretch below;
* the unknowns (outlet temperature, and the water flow there, which evaporation lowers) converge together: the
  evaporation per heat removed hardly changes, so the march before gives the water flow for the next.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.foundation.constants import MOLAR_MASS_RATIO
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air_kernels import (
    BOILS,
    COLDEST_K,
    HOTTEST_K,
    air_state_from_enthalpy,
    liquid_water_enthalpy_J_kg,
    liquid_water_heat_capacity_J_kgK,
    moist_air_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

SOLVED: Final = 0
WATER_TOO_COLD: Final = 1
WATER_BOILS: Final = 2
NOT_SOLVED: Final = 3
WATER_FREEZES: Final = 4

LEWIS_STILL_AIR: Final = 0.865 ** (2.0 / 3.0)
LEAST_DRIVING_FORCE_J_kg: Final = 1.0e-3
CLOSE_AIR_K: Final = 0.03
COARSE: Final = 3.0e-3  # error per step of a first march
FINE: Final = 6.0e-5
PINCHED: Final = 1.0e9


class Forces(NamedTuple):
    """Driving forces at one height, and the state of the air there; per kg of dry air."""

    valid: bool  # False where the water would boil or the air has no state
    drive_kg_kg: float  # of evaporation
    force_J_kg: float  # of the water's cooling
    water_heat_capacity_J_kgK: float  # of the water flow there
    water_enthalpy_J_kg: float
    air_temperature_K: float
    air_heat_capacity_J_kgK: float
    misty: bool
    excess_kg_kg: float  # water beyond saturation; its change of sign is a kink in the slopes


class Slope(NamedTuple):
    """Slopes with water temperature, and the state of the air, which starts the search at the next point."""

    humidity_per_K: float
    merkel_per_K: float  # zero where the driving force is gone: a pinch
    air_temperature_K: float
    air_per_K: float  # slope of the air's own temperature: where to look for it at the next point
    misty: bool
    excess_kg_kg: float


class March(NamedTuple):
    """A march from the water outlet to the water inlet."""

    reached: bool
    humidity_ratio_kg_kg: float
    merkel_number: float
    air_temperature_K: float
    kink_share: float  # where on the way mist began (or ended); 0 where it did not


class Bottom(NamedTuple):
    """What a march starts from: the air inlet and the guessed water outlet. Flows per kg/s of dry air."""

    water_temperature_K: float
    water_ratio: float
    water_ratio_at_top: float
    air_enthalpy_J_kg: float
    air_humidity_ratio_kg_kg: float
    air_temperature_K: float
    pressure_Pa: float
    water_activity: float


@kernel
@sourced("bosnjakovic-1965", "Le = 0.865^(2/3) (x - 1) / ln x, x = (w_i + 0.622) / (w_v + 0.622)")
@sourced("kloppers-kroeger-2005", "Lewis factor of unsaturated and supersaturated air")
def lewis_factor(interface_humidity_ratio_kg_kg: float, vapour_humidity_ratio_kg_kg: float) -> float:
    """Lewis factor h / (K cp) with the effect of mass flow on the film; 0.8 to 1.6 in towers."""
    ratio = (interface_humidity_ratio_kg_kg + MOLAR_MASS_RATIO) / (vapour_humidity_ratio_kg_kg + MOLAR_MASS_RATIO)
    excess = ratio - 1.0
    if abs(excess) < 1.0e-4:
        return LEWIS_STILL_AIR * (1.0 + 0.5 * excess)
    return LEWIS_STILL_AIR * excess / math.log(ratio)


@kernel
@sourced("kloppers-kroeger-2005", "Poppe's equations, unsaturated and supersaturated; module docstring")
def poppe_forces(
    bottom: Bottom,
    water_out_enthalpy_J_kg: float,
    temperature_K: float,
    humidity_ratio_kg_kg: float,
    guess_air_temperature_K: float,
    guess_misty: bool,
    close_air_K: float,
) -> Forces:
    """What drives evaporation and cooling at one height of the fill."""
    pressure = bottom.pressure_Pa
    w = humidity_ratio_kg_kg
    water_ratio = bottom.water_ratio + w - bottom.air_humidity_ratio_kg_kg
    water_enthalpy = liquid_water_enthalpy_J_kg(temperature_K)
    air_enthalpy = (
        bottom.air_enthalpy_J_kg + water_ratio * water_enthalpy - bottom.water_ratio * water_out_enthalpy_J_kg
    )
    interface = saturated_humidity_ratio_kg_kg(temperature_K, pressure, bottom.water_activity)
    if interface >= BOILS or w < 0.0:
        return Forces(False, 0.0, 0.0, 0.0, 0.0, guess_air_temperature_K, 1.0, guess_misty, 0.0)
    interface_enthalpy = moist_air_enthalpy_J_kg(temperature_K, interface, pressure)
    air = air_state_from_enthalpy(air_enthalpy, w, pressure, guess_air_temperature_K, guess_misty, close_air_K)
    vapour = air.vapour_humidity_ratio_kg_kg
    misty = vapour < w
    if air.temperature_K <= COLDEST_K or air.temperature_K >= HOTTEST_K:
        return Forces(False, 0.0, 0.0, 0.0, 0.0, guess_air_temperature_K, 1.0, guess_misty, 0.0)
    lewis = lewis_factor(interface, vapour)
    drive = interface - vapour
    # What warming the bulk air (and its mist) to the water's temperature takes, by the same real-gas enthalpies.
    beside = moist_air_enthalpy_J_kg(temperature_K, vapour, pressure)
    if misty:
        sensible = beside - moist_air_enthalpy_J_kg(air.temperature_K, vapour, pressure)
        sensible += (w - vapour) * (water_enthalpy - liquid_water_enthalpy_J_kg(air.temperature_K))
    else:
        sensible = beside - air_enthalpy
    force = interface_enthalpy - beside - water_enthalpy * drive + lewis * sensible
    per_K = water_ratio * liquid_water_heat_capacity_J_kgK(temperature_K)
    return Forces(
        True,
        drive,
        force,
        per_K,
        water_enthalpy,
        air.temperature_K,
        air.heat_capacity_J_kgK,
        misty,
        air.excess_kg_kg,
    )


@kernel
@sourced("kloppers-kroeger-2005", "dw/dT and dMe/dT, the forces over those of the water")
def poppe_slope(
    bottom: Bottom,
    water_out_enthalpy_J_kg: float,
    temperature_K: float,
    humidity_ratio_kg_kg: float,
    guess_air_temperature_K: float,
    guess_misty: bool,
) -> Slope:
    """Slopes of humidity ratio and Merkel number with water temperature at one height of the fill."""
    at = poppe_forces(
        bottom,
        water_out_enthalpy_J_kg,
        temperature_K,
        humidity_ratio_kg_kg,
        guess_air_temperature_K,
        guess_misty,
        CLOSE_AIR_K,
    )
    if at.force_J_kg < LEAST_DRIVING_FORCE_J_kg:
        return Slope(0.0, 0.0, at.air_temperature_K, 0.0, at.misty, at.excess_kg_kg)
    heat = at.water_heat_capacity_J_kgK / at.force_J_kg
    air_per_K = 0.0
    if at.misty:
        warming = at.water_heat_capacity_J_kgK + heat * at.drive_kg_kg * at.water_enthalpy_J_kg
        air_per_K = warming / at.air_heat_capacity_J_kgK
    merkel_per_K = heat / bottom.water_ratio_at_top
    return Slope(heat * at.drive_kg_kg, merkel_per_K, at.air_temperature_K, air_per_K, at.misty, at.excess_kg_kg)


@kernel
def _kink_within_step(e1: float, e2: float, e3: float, e4: float, e5: float, e7: float) -> float:
    """Share of a step at which the excess over saturation changes sign, from its values at the stages."""
    if (e2 > 0.0) != (e1 > 0.0):
        return 0.2 * e1 / (e1 - e2)
    if (e3 > 0.0) != (e2 > 0.0):
        return 0.2 + 0.1 * e2 / (e2 - e3)
    if (e4 > 0.0) != (e3 > 0.0):
        return 0.3 + 0.5 * e3 / (e3 - e4)
    if (e5 > 0.0) != (e4 > 0.0):
        return 0.8 + 0.0888888888888889 * e4 / (e4 - e5)
    return 0.8888888888888888 + 0.1111111111111111 * e5 / (e5 - e7)


@kernel
@sourced("dormand-prince-1980", "RK5(4)7M, with its error estimate for the step length")
def march_up(
    bottom: Bottom, water_in_temperature_K: float, enough_merkel: float, tolerance: float, kink_share: float
) -> March:
    """March from the guessed water outlet up to the water inlet.

    Args:
        enough_merkel: stop and report a pinch once the Merkel number passes this.
        tolerance: relative error allowed per step, of the Merkel number and of the humidity picked up.
        kink_share: where the march before saw mist begin, 0 if unknown. No step crosses the kink: the error
            estimate cannot be trusted there.
    """
    hw = liquid_water_enthalpy_J_kg(bottom.water_temperature_K)
    t = bottom.water_temperature_K
    w = bottom.air_humidity_ratio_kg_kg
    me = 0.0
    span = water_in_temperature_K - t
    step = span
    if 0.001 < kink_share < 0.999:
        step = kink_share * span
    kink = 0.0
    splits = 0
    misty = w > saturated_humidity_ratio_kg_kg(bottom.air_temperature_K, bottom.pressure_Pa, 1.0)
    k1 = poppe_slope(bottom, hw, t, w, bottom.air_temperature_K, misty)
    if k1.merkel_per_K == 0.0:
        return March(False, w, me, k1.air_temperature_K, kink)
    for _ in range(600):
        step = min(step, water_in_temperature_K - t)
        if step < 1.0e-7 * span:
            return March(False, w, me, k1.air_temperature_K, kink)
        a = k1.air_temperature_K
        k2 = poppe_slope(
            bottom,
            hw,
            t + step * 0.2,
            w + step * 0.2 * k1.humidity_per_K,
            a + step * 0.2 * k1.air_per_K,
            k1.misty,
        )
        k3 = poppe_slope(
            bottom,
            hw,
            t + step * 0.3,
            w + step * (0.075 * k1.humidity_per_K + 0.225 * k2.humidity_per_K),
            k2.air_temperature_K + step * 0.1 * k2.air_per_K,
            k2.misty,
        )
        w4 = w + step * (
            0.9777777777777777 * k1.humidity_per_K
            - 3.7333333333333334 * k2.humidity_per_K
            + 3.5555555555555554 * k3.humidity_per_K
        )
        k4 = poppe_slope(bottom, hw, t + step * 0.8, w4, k3.air_temperature_K + step * 0.5 * k3.air_per_K, k3.misty)
        w5 = w + step * (
            2.9525986892242035 * k1.humidity_per_K
            - 11.595793324188385 * k2.humidity_per_K
            + 9.822892851699436 * k3.humidity_per_K
            - 0.2908093278463649 * k4.humidity_per_K
        )
        a5 = k4.air_temperature_K + step * 0.08888888888888889 * k4.air_per_K
        k5 = poppe_slope(bottom, hw, t + step * 0.8888888888888888, w5, a5, k4.misty)
        w6 = w + step * (
            2.8462752525252526 * k1.humidity_per_K
            - 10.757575757575758 * k2.humidity_per_K
            + 8.906422717743473 * k3.humidity_per_K
            + 0.2784090909090909 * k4.humidity_per_K
            - 0.2735313036020583 * k5.humidity_per_K
        )
        a6 = k5.air_temperature_K + step * 0.1111111111111111 * k5.air_per_K
        k6 = poppe_slope(bottom, hw, t + step, w6, a6, k5.misty)
        w7 = w + step * (
            0.09114583333333333 * k1.humidity_per_K
            + 0.44923629829290207 * k3.humidity_per_K
            + 0.6510416666666666 * k4.humidity_per_K
            - 0.322376179245283 * k5.humidity_per_K
            + 0.13095238095238096 * k6.humidity_per_K
        )
        k7 = poppe_slope(bottom, hw, t + step, w7, k6.air_temperature_K, k6.misty)
        if (
            k2.merkel_per_K == 0.0
            or k3.merkel_per_K == 0.0
            or k4.merkel_per_K == 0.0
            or k5.merkel_per_K == 0.0
            or k6.merkel_per_K == 0.0
            or k7.merkel_per_K == 0.0
        ):
            step *= 0.25
            continue
        me7 = me + step * (
            0.09114583333333333 * k1.merkel_per_K
            + 0.44923629829290207 * k3.merkel_per_K
            + 0.6510416666666666 * k4.merkel_per_K
            - 0.322376179245283 * k5.merkel_per_K
            + 0.13095238095238096 * k6.merkel_per_K
        )
        if me7 <= me:  # one stage all but at a pinch: no step to judge by its error
            step *= 0.25
            continue
        error_w = step * (
            0.0012326388888888888 * k1.humidity_per_K
            - 0.0042527702905061394 * k3.humidity_per_K
            + 0.03697916666666667 * k4.humidity_per_K
            - 0.05086379716981132 * k5.humidity_per_K
            + 0.0419047619047619 * k6.humidity_per_K
            - 0.025 * k7.humidity_per_K
        )
        error_me = step * (
            0.0012326388888888888 * k1.merkel_per_K
            - 0.0042527702905061394 * k3.merkel_per_K
            + 0.03697916666666667 * k4.merkel_per_K
            - 0.05086379716981132 * k5.merkel_per_K
            + 0.0419047619047619 * k6.merkel_per_K
            - 0.025 * k7.merkel_per_K
        )
        picked_up = abs(w7 - bottom.air_humidity_ratio_kg_kg) + 1.0e-5
        error = max(abs(error_w) / picked_up, abs(error_me) / (me7 + 1.0e-6)) / tolerance
        if (k1.excess_kg_kg > 0.0) != (k7.excess_kg_kg > 0.0):
            within = _kink_within_step(
                k1.excess_kg_kg,
                k2.excess_kg_kg,
                k3.excess_kg_kg,
                k4.excess_kg_kg,
                k5.excess_kg_kg,
                k7.excess_kg_kg,
            )
            kink = (t - bottom.water_temperature_K + within * step) / span
            if tolerance < COARSE and splits < 3:
                splits += 1
                if 0.03 < within < 0.97:
                    step *= within
                    continue
                if within > 0.5 and splits == 1:
                    step *= 0.7  # at the end of a long step: a shorter one tells better where
                    continue
        elif tolerance < COARSE and (k5.misty or k6.misty) != k1.misty and step > 0.1 * span:
            step *= 0.5  # mist at stages between two clear ends: the error estimate cannot be trusted
            continue
        if error <= 1.0:
            t += step
            w = w7
            me = me7
            k1 = k7
            if water_in_temperature_K - t <= 1.0e-9 * span:
                return March(True, w, me, k1.air_temperature_K, kink)
            if me > enough_merkel:
                return March(False, w, me, k1.air_temperature_K, kink)
        step *= min(5.0, max(0.2, 0.9 * (error + 1.0e-10) ** -0.2))
    return March(False, w, me, k1.air_temperature_K, kink)


@kernel
@sourced("kloppers-kroeger-2005", "adiabatic saturation over the liquor bounds the water outlet")
def coldest_water_temperature_K(
    air_enthalpy_J_kg: float,
    air_humidity_ratio_kg_kg: float,
    guess_K: float,
    pressure_Pa: float,
    water_activity: float,
) -> float:
    """The temperature to which an endless fill would cool liquor: the wet bulb, for pure water."""
    t = guess_K
    for _ in range(60):
        saturated = saturated_humidity_ratio_kg_kg(t, pressure_Pa, water_activity)
        if saturated >= BOILS:
            t -= 10.0
            continue
        drive = saturated - air_humidity_ratio_kg_kg
        excess = (
            moist_air_enthalpy_J_kg(t, saturated, pressure_Pa)
            - air_enthalpy_J_kg
            - drive * liquid_water_enthalpy_J_kg(t)
        )
        growth = 5400.0 / (t * t) * (1.0 + saturated / MOLAR_MASS_RATIO)
        slope = 1006.0 + 1870.0 * saturated + saturated * growth * 2.45e6 - 4190.0 * drive
        change = -excess / max(slope, 500.0)
        t = min(max(t + min(max(change, -20.0), 20.0), COLDEST_K), HOTTEST_K)
        if abs(change) < 1.0e-3:
            break
    return t
