"""Solving the counterflow tower: the outlet water temperature at which Poppe's march gives the wanted Merkel number.

An estimate with a logarithmic mean driving force starts the search; a march or two correct it, and its ratio to the
marches then gives the outlet. Near a pinch, where that fails, counterflow_pinch takes over, slower but sure.
Outlet states follow from the exact water and energy balances.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.equipment.counterflow_pinch import solve_pinched, starting_at
from vaporwright.equipment.tower_kernels import (
    COARSE,
    FINE,
    NOT_SOLVED,
    PINCHED,
    SOLVED,
    WATER_BOILS,
    WATER_FREEZES,
    WATER_TOO_COLD,
    Bottom,
    coldest_water_temperature_K,
    march_up,
)
from vaporwright.foundation.constants import ZERO_CELSIUS_K
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import advance_root_search, start_root_search
from vaporwright.properties.moist_air_kernels import (
    BOILS,
    air_state_from_enthalpy,
    liquid_water_enthalpy_J_kg,
    moist_air_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

CLOSE_WITH_LINE: Final = 3.0e-3  # errors of the Merkel number from which the last correction is safe
CLOSE: Final = 5.0e-4
LEAST_APART: Final = 1.0e-3  # of two marches, as a share of the cooling, for a line through them
STEP_BACK: Final = 0.3
MOST_STEPS_BACK: Final = 3
UNDER_SATURATION: Final = 0.05  # water rests below adiabatic saturation in hot air: the Lewis factor is below one
POPPE_OVER_ESTIMATE: Final = 1.08  # where the first guess starts


class CounterflowSolution(NamedTuple):
    """Outlet of a counterflow tower; per kg of dry air where a ratio."""

    status: int
    water_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float
    air_out_temperature_K: float


class Ends(NamedTuple):
    """What the estimate needs to know of a tower's two ends."""

    water_temperature_K: float
    water_ratio: float
    air_enthalpy_J_kg: float
    interface_enthalpy_at_top_J_kg: float
    pressure_Pa: float
    water_activity: float


class Correction(NamedTuple):
    """Poppe's Merkel number over the estimate, at the outlet last marched from and how it grows from there."""

    share: float
    growth_per_K: float  # of its logarithm
    marched_K: float
    estimate_there: float


@kernel
def _estimated_merkel_number(water_out_temperature_K: float, ends: Ends) -> float:
    """Merkel number for a guessed outlet, from the driving forces at both ends; PINCHED where one is gone."""
    saturated = saturated_humidity_ratio_kg_kg(water_out_temperature_K, ends.pressure_Pa, ends.water_activity)
    bottom = moist_air_enthalpy_J_kg(water_out_temperature_K, saturated, ends.pressure_Pa) - ends.air_enthalpy_J_kg
    heat = 4185.0 * (ends.water_temperature_K - water_out_temperature_K)
    top = ends.interface_enthalpy_at_top_J_kg - ends.air_enthalpy_J_kg - ends.water_ratio * heat
    if top <= 0.0 or bottom <= 0.0:
        return PINCHED
    if abs(top - bottom) < 1.0e-3 * bottom:
        return heat / bottom
    return heat * math.log(top / bottom) / (top - bottom)


@kernel
def _first_water_out_K(wanted_merkel: float, low_K: float, ends: Ends) -> float:
    """The outlet at which _estimated_merkel_number is as wanted, to a part in a thousand."""
    wanted = wanted_merkel / (1.0 + wanted_merkel)
    search = start_root_search(low_K, 1.0 - wanted, ends.water_temperature_K, -wanted)
    close = 1.0e-4 * (ends.water_temperature_K - low_K)
    for _ in range(60):
        estimate = _estimated_merkel_number(search.next, ends)
        residual = estimate / (1.0 + estimate) - wanted
        search = advance_root_search(search, residual, close)
        if search.width <= close or abs(residual) < 1.0e-3 * wanted:
            break
    return search.newest


@kernel
def _next_water_out_K(merkel_number: float, low_K: float, ends: Ends, by: Correction) -> float:
    """The outlet at which the corrected estimate is as wanted; low_K where the secants lead outside."""
    top_K = ends.water_temperature_K
    x0, y0 = by.marched_K, math.log(by.share * by.estimate_there / merkel_number)
    x1 = top_K - (top_K - x0) * math.exp(-0.8 * y0)
    for _ in range(12):
        x1 = min(max(x1, low_K + 0.02 * (x0 - low_K)), top_K - 1.0e-3 * (top_K - x0))
        share = by.share * math.exp(min(max(by.growth_per_K * (x1 - by.marched_K), -5.0), 5.0))
        number = share * _estimated_merkel_number(x1, ends)
        if number <= 0.0:
            return low_K
        y1 = math.log(number / merkel_number)
        if abs(y1) < 1.0e-7 or y1 == y0:
            return x1
        x2 = x1 - y1 * (x1 - x0) / (y1 - y0)
        if abs(x2 - x1) < 1.0e-6 * (top_K - x1):
            return x2
        x0, y0, x1 = x1, y1, x2
    return low_K


@kernel
@sourced("kloppers-kroeger-2005", "counterflow boundary value problem, solved by shooting; module docstring")
def solve_counterflow(
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_enthalpy_J_kg: float,
    air_humidity_ratio_kg_kg: float,
    air_temperature_K: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float,
) -> CounterflowSolution:
    """Outlet states of a counterflow tower: a guess corrected by marches; counterflow_pinch where that fails."""
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    top = saturated_humidity_ratio_kg_kg(water_temperature_K, pressure_Pa, water_activity)
    if top >= BOILS:
        return CounterflowSolution(WATER_BOILS, 0.0, 0.0, 0.0, 0.0)
    hw = liquid_water_enthalpy_J_kg(water_temperature_K)
    coldest = coldest_water_temperature_K(
        air_enthalpy_J_kg, air_humidity_ratio_kg_kg, air_temperature_K, pressure_Pa, water_activity
    )
    if water_temperature_K - coldest < 0.05:
        return CounterflowSolution(WATER_TOO_COLD, coldest, 0.0, 0.0, 0.0)
    # The air can't take up more than saturation at the water inlet allows, a second bound on the outlet; nearly so,
    # since the Lewis factor is not one and hot air gives its own warmth.
    top_enthalpy = moist_air_enthalpy_J_kg(water_temperature_K, top, pressure_Pa)
    own_warmth = UNDER_SATURATION * 2.0e3 * max(air_temperature_K - water_temperature_K, 0.0)
    most_heat = top_enthalpy - air_enthalpy_J_kg + own_warmth
    coldest -= UNDER_SATURATION * max(air_temperature_K - coldest, 0.0)
    low = max(coldest, water_temperature_K - 1.05 * most_heat / (4180.0 * ratio))
    ends = Ends(water_temperature_K, ratio, air_enthalpy_J_kg, top_enthalpy, pressure_Pa, water_activity)
    lowest = Bottom(
        low,
        ratio,
        ratio,
        air_enthalpy_J_kg,
        air_humidity_ratio_kg_kg,
        air_temperature_K,
        pressure_Pa,
        water_activity,
    )
    per_heat = 3.3e-7  # kg evaporated per J given off by the water; corrected after each march
    two = _first_water_out_K(merkel_number / POPPE_OVER_ESTIMATE, low, ends)
    tolerance = COARSE
    kink_share = 0.0
    steps_back = 0
    two_before, share_before, per_heat_before = 0.0, 0.0, 0.0
    for _ in range(8):
        heat = ratio * (hw - liquid_water_enthalpy_J_kg(two))
        water_ratio = ratio - per_heat * heat
        bottom = starting_at(lowest, two, water_ratio)
        march = march_up(bottom, water_temperature_K, 3.0 * merkel_number + 1.0, tolerance, kink_share)
        if not march.reached:
            # Too cold a guess, or a pinch: a few steps back tell which.
            back = two_before if two_before > 0.0 else water_temperature_K
            two += STEP_BACK * (back - two)
            steps_back += 1
            if steps_back > MOST_STEPS_BACK:
                break
            continue
        picked_up = march.humidity_ratio_kg_kg - air_humidity_ratio_kg_kg
        mismatch = abs(water_ratio + picked_up - ratio) / ratio
        error = abs(march.merkel_number / merkel_number - 1.0)
        per_heat = picked_up / heat
        kink_share = march.kink_share
        estimate = _estimated_merkel_number(two, ends)
        share = march.merkel_number / estimate
        growth, per_heat_slope = 0.0, 0.0
        apart = abs(two - two_before) / (water_temperature_K - two) if two_before > 0.0 else 0.0
        # The line through two marches: for the outlet itself only where they are further apart than what is left to go.
        good_line = apart > max(2.0 * error, LEAST_APART)
        if good_line or (apart > LEAST_APART and error > CLOSE):
            growth = math.log(share / share_before) / (two - two_before)
            per_heat_slope = (per_heat - per_heat_before) / (two - two_before)
        final = _next_water_out_K(merkel_number, low, ends, Correction(share, growth, two, estimate))
        if final <= low:
            break
        close = CLOSE_WITH_LINE if good_line else CLOSE
        if tolerance < COARSE and error < close and mismatch < CLOSE:
            # So close that the estimate, corrected along the line through two marches, gives the outlet.
            per_heat += per_heat_slope * (final - two)
            heat = ratio * (hw - liquid_water_enthalpy_J_kg(final))
            return _outlet(water_temperature_K, ratio, bottom, final, per_heat * heat, march.air_temperature_K)
        tolerance = FINE
        two_before, share_before, per_heat_before = two, share, per_heat
        two = final
    pinched = solve_pinched(lowest, water_temperature_K, merkel_number)
    if not pinched.found:
        return CounterflowSolution(NOT_SOLVED, 0.0, 0.0, 0.0, 0.0)
    return _outlet(
        water_temperature_K,
        ratio,
        lowest,
        pinched.water_out_temperature_K,
        pinched.picked_up_kg_kg,
        pinched.air_out_temperature_K,
    )


@kernel
def _outlet(
    water_temperature_K: float,
    ratio: float,
    bottom: Bottom,
    water_out_temperature_K: float,
    picked_up_kg_kg: float,
    guess_air_temperature_K: float,
) -> CounterflowSolution:
    """The solution for a water outlet temperature and the humidity picked up; the energy balance is exact."""
    humidity = bottom.air_humidity_ratio_kg_kg + picked_up_kg_kg
    enthalpy = (
        bottom.air_enthalpy_J_kg
        + ratio * liquid_water_enthalpy_J_kg(water_temperature_K)
        - (ratio - picked_up_kg_kg) * liquid_water_enthalpy_J_kg(water_out_temperature_K)
    )
    if water_out_temperature_K < ZERO_CELSIUS_K:
        return CounterflowSolution(WATER_FREEZES, water_out_temperature_K, 0.0, 0.0, 0.0)
    air = air_state_from_enthalpy(enthalpy, humidity, bottom.pressure_Pa, guess_air_temperature_K, True, 1.0e-4)
    return CounterflowSolution(SOLVED, water_out_temperature_K, humidity, enthalpy, air.temperature_K)
