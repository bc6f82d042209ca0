"""The counterflow tower near a pinch: Poppe's equations marched over the height, and a slower, surer search.

Where more fill hardly helps any more, water and air come close to equilibrium at the bottom, at the top or half-way,
and the march over water temperature (tower_kernels) loses its way: the Merkel number per kelvin has no bound there.
Over the height all slopes are bounded:

    dT / dMe = (mw_in / ma) D / (mw cp / ma)        dw / dMe = (mw_in / ma) (w_i - w_v)

with the symbols of tower_kernels. For a given water flow at the outlet, the warmer the guessed outlet, the hotter the
water at the wanted Merkel number: too cold a guess never meets the hot water, too warm a one meets it too early. In a
deep pinch both ends of the bracket agree to the last digit before the wanted Merkel number is met; what leaves at the
top then no longer depends on it, which is looked at. The flow at the outlet is the outer unknown. (The other way
round, the flow for a given outlet temperature, has two answers where the fill is pinched half-way.)
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.equipment.tower_kernels import Bottom, poppe_forces
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import advance_root_search, start_root_search
from vaporwright.properties.moist_air_kernels import liquid_water_enthalpy_J_kg, saturated_humidity_ratio_kg_kg

STEPS: Final = 30.0  # over the whole cooling, and over the whole evaporation
STEPS_TO_SETTLE: Final = 1.0  # while the air comes e times closer to saturation over standing water
CLOSE_K: Final = 1.0e-7
CLOSE_SHARE: Final = 1.0e-6  # of the cooling
SETTLED: Final = 3.0e-4  # what a tenth less fill may change of the water picked up
CLOSE_BALANCE: Final = 2.0e-5  # of the water picked up


class Height(NamedTuple):
    """One point of a march: water temperature, humidity ratio and Merkel number passed; the air's state there."""

    temperature_K: float
    humidity_ratio_kg_kg: float
    merkel_number: float
    air_temperature_K: float
    misty: bool


class Rise(NamedTuple):
    """Slopes of a Height with length; the air's state starts the search at the next point."""

    valid: bool
    temperature_K: float
    humidity_ratio_kg_kg: float
    merkel_number: float
    air_temperature_K: float
    misty: bool


class Scales(NamedTuple):
    """How many steps a march takes along each of its unknowns."""

    steps_per_K: float
    steps_per_kg_kg: float
    steps_per_merkel: float


class PinchedOutlet(NamedTuple):
    """Outlet of a tower near its pinch; the humidity picked up is per kg of dry air."""

    found: bool
    water_out_temperature_K: float
    picked_up_kg_kg: float
    air_out_temperature_K: float


class Ascent(NamedTuple):
    """A march up to the wanted Merkel number."""

    over_share: float  # by how much the water is hotter there than at the inlet, as a share of its cooling
    met: bool  # it met the hot water on its way
    humidity_ratio_kg_kg: float  # where it first did
    merkel_number: float
    air_temperature_K: float


class Start(NamedTuple):
    """A water outlet and the march that it starts."""

    found: bool
    water_out_temperature_K: float
    ascent: Ascent


@kernel
def _rise(bottom: Bottom, hw: float, scales: Scales, at: Height) -> Rise:
    """Slopes with the own length of the way through T, w and Me: bounded everywhere, and smooth."""
    forces = poppe_forces(
        bottom, hw, at.temperature_K, at.humidity_ratio_kg_kg, at.air_temperature_K, at.misty, CLOSE_K
    )
    cooling = bottom.water_ratio_at_top * forces.force_J_kg / max(forces.water_heat_capacity_J_kgK, 1.0)
    evaporating = bottom.water_ratio_at_top * forces.drive_kg_kg
    length = math.sqrt(
        (cooling * scales.steps_per_K) ** 2 + (evaporating * scales.steps_per_kg_kg) ** 2 + scales.steps_per_merkel**2
    )
    return Rise(
        forces.valid,
        cooling / length,
        evaporating / length,
        1.0 / length,
        forces.air_temperature_K,
        forces.misty,
    )


@kernel
def _along(at: Height, by: Rise, length: float) -> Height:
    return Height(
        at.temperature_K + length * by.temperature_K,
        at.humidity_ratio_kg_kg + length * by.humidity_ratio_kg_kg,
        at.merkel_number + length * by.merkel_number,
        by.air_temperature_K,
        by.misty,
    )


@kernel
def _step(bottom: Bottom, hw: float, scales: Scales, at: Height, k1: Rise, length: float) -> Height:
    """One step of the classical method; its Merkel number is below zero where a stage has no state."""
    k2 = _rise(bottom, hw, scales, _along(at, k1, 0.5 * length))
    k3 = _rise(bottom, hw, scales, _along(at, k2, 0.5 * length))
    k4 = _rise(bottom, hw, scales, _along(at, k3, length))
    if not (k2.valid and k3.valid and k4.valid):
        return Height(0.0, 0.0, -1.0, at.air_temperature_K, at.misty)
    mean = Rise(
        True,
        (k1.temperature_K + 2.0 * (k2.temperature_K + k3.temperature_K) + k4.temperature_K) / 6.0,
        (k1.humidity_ratio_kg_kg + 2.0 * (k2.humidity_ratio_kg_kg + k3.humidity_ratio_kg_kg) + k4.humidity_ratio_kg_kg)
        / 6.0,
        (k1.merkel_number + 2.0 * (k2.merkel_number + k3.merkel_number) + k4.merkel_number) / 6.0,
        k4.air_temperature_K,
        k4.misty,
    )
    return _along(at, mean, length)


@kernel
@sourced("kutta-1901", "the classical fourth-order method")
def march_over_height(bottom: Bottom, water_in_temperature_K: float, scales: Scales, merkel_number: float) -> Ascent:
    """March from the guessed water outlet up to the wanted Merkel number, or until it is clear which way it misses.

    Steps of one length, without error control: what comes out is then a smooth function of the guess, so that a
    search may follow it to the last digit.
    """
    hw = liquid_water_enthalpy_J_kg(bottom.water_temperature_K)
    w = bottom.air_humidity_ratio_kg_kg
    misty = w > saturated_humidity_ratio_kg_kg(bottom.air_temperature_K, bottom.pressure_Pa, 1.0)
    at = Height(bottom.water_temperature_K, w, 0.0, bottom.air_temperature_K, misty)
    span_K = water_in_temperature_K - bottom.water_temperature_K
    # Hot dry air first cools the water and, once moist, warms it again: by less than this.
    detour_K = 0.02 + 0.1 * max(bottom.air_temperature_K - water_in_temperature_K, 0.0)
    too_hot_K, too_cold_K = 0.2 * span_K + detour_K, -1.02 * span_K - detour_K
    met = False
    where = at
    length = 1.0
    for _ in range(5000):
        k1 = _rise(bottom, hw, scales, at)
        if not k1.valid or length < 1.0e-9:
            break
        ahead = _step(bottom, hw, scales, at, k1, length)
        if ahead.merkel_number < 0.0:
            length *= 0.5
            continue
        if not met and ahead.temperature_K > water_in_temperature_K + 1.0e-9 * span_K:
            length *= (water_in_temperature_K - at.temperature_K) / (ahead.temperature_K - at.temperature_K)
            continue
        if ahead.merkel_number > merkel_number * (1.0 + 1.0e-12):
            length *= (merkel_number - at.merkel_number) / (ahead.merkel_number - at.merkel_number)
            continue
        at = ahead
        over_K = at.temperature_K - water_in_temperature_K
        if not met and over_K > -1.0e-9 * span_K:
            met, where, length = True, at, 1.0
        if over_K > too_hot_K or over_K < too_cold_K:
            break
        if at.merkel_number > merkel_number * (1.0 - 1.0e-9):
            if abs(over_K) < CLOSE_SHARE * span_K:
                met, where = True, at
            break
    over_K = at.temperature_K - water_in_temperature_K
    return Ascent(over_K / span_K, met, where.humidity_ratio_kg_kg, where.merkel_number, where.air_temperature_K)


@kernel
@sourced("own-tower-solver", "what a march starts from")
def starting_at(like: Bottom, water_out_temperature_K: float, out_ratio: float) -> Bottom:
    """The same inlets with another guess of the water's outlet."""
    return Bottom(
        water_out_temperature_K,
        out_ratio,
        like.water_ratio_at_top,
        like.air_enthalpy_J_kg,
        like.air_humidity_ratio_kg_kg,
        like.air_temperature_K,
        like.pressure_Pa,
        like.water_activity,
    )


@kernel
def _start_for(
    lowest: Bottom, out_ratio: float, water_in_temperature_K: float, merkel_number: float, scales: Scales
) -> Start:
    """The water outlet from which a march meets the hot water at the wanted Merkel number, or next to it."""
    search = start_root_search(lowest.water_temperature_K, 1.0, water_in_temperature_K, -1.0)
    nearest = Ascent(-1.0, False, 0.0, 0.0, 0.0)
    out_K = 0.0
    anchor = earlier = nearest
    for _ in range(200):
        ascent = march_over_height(
            starting_at(lowest, search.next, out_ratio), water_in_temperature_K, scales, merkel_number
        )
        if ascent.met:
            nearest, out_K = ascent, search.next
            if abs(ascent.over_share) < CLOSE_SHARE:
                return Start(True, out_K, ascent)
            if ascent.merkel_number > 1.1 * anchor.merkel_number:
                earlier, anchor = anchor, ascent
        search = advance_root_search(search, -min(max(ascent.over_share, -1.0), 1.0), 0.0)
        if search.width < 1.0e-15 * water_in_temperature_K:
            break
    # The last digit of the outlet is reached before the Merkel number: fine where the air no longer changes with it.
    change = abs(nearest.humidity_ratio_kg_kg - earlier.humidity_ratio_kg_kg)
    picked_up = abs(nearest.humidity_ratio_kg_kg - lowest.air_humidity_ratio_kg_kg)
    tenths_missing = min(1.0, 10.0 * abs(1.0 - nearest.merkel_number / merkel_number))
    return Start(earlier.met and tenths_missing * change < SETTLED * picked_up, out_K, nearest)


@kernel
@sourced("own-tower-solver", "the search over the height; module docstring")
def solve_pinched(lowest: Bottom, water_in_temperature_K: float, merkel_number: float) -> PinchedOutlet:
    """The outlet of a tower near a pinch: `lowest` carries the inlet air and the coldest outlet.

    A secant on the water flow at the outlet, until the water that a march meets at the top is what flows in there.
    """
    ratio = lowest.water_ratio_at_top
    hot_kg_kg = saturated_humidity_ratio_kg_kg(water_in_temperature_K, lowest.pressure_Pa, lowest.water_activity)
    most_kg_kg = abs(hot_kg_kg - lowest.air_humidity_ratio_kg_kg) + 1.0e-5
    span_K = water_in_temperature_K - lowest.water_temperature_K
    scales = Scales(STEPS / span_K, STEPS / most_kg_kg, STEPS_TO_SETTLE * ratio)
    out_ratio = ratio - 0.5 * (hot_kg_kg - lowest.air_humidity_ratio_kg_kg)
    out_ratio = max(out_ratio, 0.3 * ratio)
    before, miss_before, slope = 0.0, 0.0, 1.0
    for _ in range(40):
        start = _start_for(lowest, out_ratio, water_in_temperature_K, merkel_number, scales)
        if not start.ascent.met:
            break
        picked_up = start.ascent.humidity_ratio_kg_kg - lowest.air_humidity_ratio_kg_kg
        miss = out_ratio + picked_up - ratio
        if abs(miss) < CLOSE_BALANCE * abs(picked_up):
            return PinchedOutlet(start.found, start.water_out_temperature_K, picked_up, start.ascent.air_temperature_K)
        if before > 0.0 and abs(out_ratio - before) > 1.0e-12:
            slope = min(3.0, max(0.3, (miss - miss_before) / (out_ratio - before)))
        before, miss_before = out_ratio, miss
        out_ratio = max(out_ratio - miss / slope, 0.05 * ratio)
    return PinchedOutlet(False, 0.0, 0.0, 0.0)
