"""Kernels of the crossflow tower: Poppe's equations marched in two dimensions, without range checks.

Water falls in z from the top, air moves in x from its inlet face, neither mixes sideways. Both coordinates run
from 0 to 1, N = K A / ma is the Merkel number times water over air; per kg of dry air, with r the local water flow:

    air       dw/dx = N e        dh/dx = N q           e = w_i - w_v
    water     dr/dz = -N e       d(r h_w)/dz = -N q    q = Le S + h(T, w_i) - h(T, w_v)

Symbols as in tower_kernels. All inlet states are known, so that the cells follow one after another from the corner
where air and water enter, and nothing is shot at. What makes this exact and robust:

* a cell moves e and q from its water to its air, so that both balances close to rounding on any grid;
* e and q are taken at mean states between inlet and outlet face. With Na and Nw the transfer units of the cell on
  the air's and the water's side, the side with fewer takes half and half (second order); the side with more leans to
  its outlet, by the mean of an exponential of Na - Nw. Neither stream then overshoots the other's inlet, however
  large the cell, and where Na = Nw a front passes undamped;
* cells are small near the corner, in step with the width of the front that spreads from there;
* grids of 1, 2, 4... times as many cells are extrapolated to none, until two extrapolations agree.

Two columns of no width, along the air inlet and the air outlet face, give the water's extremes.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

from vaporwright.equipment.tower_kernels import (
    NOT_SOLVED,
    SOLVED,
    WATER_BOILS,
    WATER_FREEZES,
    WATER_TOO_COLD,
    coldest_water_temperature_K,
    lewis_factor,
)
from vaporwright.foundation.constants import MOLAR_MASS_RATIO, ZERO_CELSIUS_K
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air_kernels import (
    BOILS,
    air_state_from_enthalpy,
    liquid_water_enthalpy_J_kg,
    liquid_water_heat_capacity_J_kgK,
    moist_air_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

CLOSE_AIR_K: Final = 0.01
STRAIGHT: Final = 0.05  # of cell_edge; 1 would divide evenly
FIRST_CELLS: Final = 3  # along each side of the first grid
MOST_CELLS: Final = 192  # and of the last
AGREED: Final = 3.0e-4  # of evaporation and heat, between two extrapolations; the better one is closer
AGREED_STREAK_K: Final = 0.2  # sharp fronts meet the outlet face: the streak there is the slowest to settle
SETTLED: Final = 2.0e-3  # last change of e and q in a cell, relative
LEAST_APPROACH_K: Final = 0.05  # of water to the coldest that this air could make it
LEAST_POTENTIAL_J_kg: Final = 1.0e-3  # water and air in equilibrium: what is left is rounding
LARGE_CELL: Final = 0.2  # transfer units on the water's side
WILD: Final = 4.0  # air's gain of humidity in a cell, over its distance from the interface
LATENT_J_kg: Final = 2.5e6  # brings e to the size of q


class Transfer(NamedTuple):
    """Local potentials e and q, their slopes with the states of water and air, and the air's state."""

    evaporation_kg_kg: float
    heat_J_kg: float
    evaporation_per_water_K: float
    heat_per_water_K: float
    evaporation_per_enthalpy: float
    evaporation_per_humidity: float
    heat_per_enthalpy: float
    heat_per_humidity: float
    air_temperature_K: float
    misty: bool


class CellWeights(NamedTuple):
    """Changes of a cell's mean states per e and q: of the air, of the water's flow and enthalpy flow."""

    air: float
    water: float
    water_side_units: float


class CellStep(NamedTuple):
    """Changes of e and q by one Newton step."""

    evaporation_kg_kg: float
    heat_J_kg: float


class Cell(NamedTuple):
    """What a cell moves from water to air, as potentials e and q, and the state of its air."""

    settled: bool
    evaporation_kg_kg: float
    heat_J_kg: float
    air_temperature_K: float
    misty: bool


class FillMarch(NamedTuple):
    """One march over the fill; sums per kg of dry air."""

    settled: bool
    evaporation_kg_kg: float
    heat_J_kg: float
    inlet_face_water_K: float
    outlet_face_water_K: float
    air_temperature_K: float  # at the corner where both leave


class CrossflowInlet(NamedTuple):
    """States and sizes that a march starts from."""

    water_temperature_K: float
    water_ratio: float  # water over dry air
    air_enthalpy_J_kg: float
    air_humidity_ratio_kg_kg: float
    air_temperature_K: float
    pressure_Pa: float
    water_activity: float
    transfer_units: float  # N = K A / ma


class CrossflowSolution(NamedTuple):
    """Mixed outlet of a crossflow tower and its water's extremes; per kg of dry air where a ratio."""

    status: int
    water_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float
    air_out_temperature_K: float
    water_out_coldest_temperature_K: float
    water_out_hottest_temperature_K: float


@kernel
def _outlet_weight(transfer_units: float) -> float:
    """Weight of the outlet in the mean of exp(-N s) over 0 to 1: a half for small N, one for large N."""
    if transfer_units < 0.02:
        return 0.5 + transfer_units / 12.0
    return 1.0 / (1.0 - math.exp(-transfer_units)) - 1.0 / transfer_units


@kernel
def _water_temperature_from_enthalpy_K(enthalpy_J_kg: float, guess_K: float) -> float:
    """Temperature of liquid water of a given enthalpy; 1e-7 K from a guess within 20 K."""
    t = guess_K
    t += (enthalpy_J_kg - liquid_water_enthalpy_J_kg(t)) / liquid_water_heat_capacity_J_kgK(t)
    return t + (enthalpy_J_kg - liquid_water_enthalpy_J_kg(t)) / liquid_water_heat_capacity_J_kgK(t)


@kernel
def _saturated_humidity_per_K(temperature_K: float, saturated_kg_kg: float) -> float:
    """Slope of the saturated humidity ratio with temperature, to about 2 %: it only steers Newton steps."""
    latent = 2.501e6 - 2380.0 * (temperature_K - ZERO_CELSIUS_K)
    return (
        saturated_kg_kg * latent / (461.5 * temperature_K * temperature_K) * (1.0 + saturated_kg_kg / MOLAR_MASS_RATIO)
    )


@kernel
@sourced("kloppers-kroeger-2004", "Poppe's local equations, unsaturated and supersaturated; module docstring")
def local_transfer(
    inlet: CrossflowInlet,
    water_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    air_enthalpy_J_kg: float,
    guess_air_temperature_K: float,
    guess_misty: bool,
) -> Transfer:
    """Potentials e and q between water and air at one place of the fill, and their slopes."""
    pressure = inlet.pressure_Pa
    t = water_temperature_K
    w = air_humidity_ratio_kg_kg
    interface = saturated_humidity_ratio_kg_kg(t, pressure, inlet.water_activity)
    if interface >= BOILS or w < 0.0:
        return Transfer(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, guess_misty)
    air = air_state_from_enthalpy(air_enthalpy_J_kg, w, pressure, guess_air_temperature_K, guess_misty, CLOSE_AIR_K)
    vapour = air.vapour_humidity_ratio_kg_kg
    mist = w - vapour
    lewis = lewis_factor(interface, vapour)
    drive = interface - vapour
    beside = moist_air_enthalpy_J_kg(t, vapour, pressure)
    vapour_enthalpy = 2.5e6 + 1860.0 * (t - ZERO_CELSIUS_K)  # for the slopes
    interface_per_K = _saturated_humidity_per_K(t, interface)
    heat_per_K = interface_per_K * vapour_enthalpy + 1870.0 * drive + lewis * (1006.0 + 1870.0 * vapour + 4190.0 * mist)
    if mist > 0.0:
        air_K = air.temperature_K
        warming = liquid_water_enthalpy_J_kg(t) - liquid_water_enthalpy_J_kg(air_K)
        sensible = beside - moist_air_enthalpy_J_kg(air_K, vapour, pressure) + mist * warming
        # Both potentials follow the air's temperature, which follows its enthalpy and its water.
        saturated_per_K = _saturated_humidity_per_K(air_K, vapour)
        sensible_per_air_K = -(1006.0 + 1870.0 * vapour + 4190.0 * mist) - 2320.0 * saturated_per_K * (t - air_K)
        heat_per_air_K = lewis * sensible_per_air_K - saturated_per_K * vapour_enthalpy
        air_per_h = 1.0 / air.heat_capacity_J_kgK
        air_per_w = -liquid_water_enthalpy_J_kg(air_K) * air_per_h
        e_per_h, e_per_w = -saturated_per_K * air_per_h, -saturated_per_K * air_per_w
        q_per_h, q_per_w = heat_per_air_K * air_per_h, heat_per_air_K * air_per_w + lewis * warming
    else:
        sensible = beside - air_enthalpy_J_kg
        e_per_h, e_per_w = 0.0, -1.0
        q_per_h, q_per_w = -lewis, (lewis - 1.0) * vapour_enthalpy
    heat = moist_air_enthalpy_J_kg(t, interface, pressure) - beside + lewis * sensible
    return Transfer(
        drive, heat, interface_per_K, heat_per_K, e_per_h, e_per_w, q_per_h, q_per_w, air.temperature_K, mist > 0.0
    )


@kernel
def _cell_weights(air_units: float, water_units: float, cooling: float) -> CellWeights:
    """How far e and q of a cell move the mean states of its air and water; module docstring, second point.

    Args:
        cooling: heat that cools the water per K, over its heat capacity flow; times water_units its transfer units.
    """
    units = water_units * cooling
    difference = abs(air_units - units)
    more = 0.5 * min(air_units, units) + difference * _outlet_weight(difference)
    if air_units > units:
        return CellWeights(more, 0.5 * water_units, units)
    return CellWeights(0.5 * air_units, more / cooling, units)


@kernel
def _cell_step(local: Transfer, e: float, q: float, hw: float, air_weight: float, water_per_q_K: float) -> CellStep:
    """Next e and q of a cell, from the potentials at the means that the present e and q give.

    Args:
        water_per_q_K: how far the water's mean temperature moves with q.
    """
    t_per_e = -hw * water_per_q_K
    a11 = 1.0 - air_weight * local.evaporation_per_humidity - t_per_e * local.evaporation_per_water_K
    a12 = -air_weight * local.evaporation_per_enthalpy - water_per_q_K * local.evaporation_per_water_K
    a21 = -air_weight * local.heat_per_humidity - t_per_e * local.heat_per_water_K
    a22 = 1.0 - air_weight * local.heat_per_enthalpy - water_per_q_K * local.heat_per_water_K
    b1, b2 = local.evaporation_kg_kg - e, local.heat_J_kg - q
    determinant = a11 * a22 - a12 * a21
    return CellStep((b1 * a22 - b2 * a12) / determinant, (b2 * a11 - b1 * a21) / determinant)


@kernel
def _cell_transfer(
    inlet: CrossflowInlet,
    water_flow: float,
    water_enthalpy_J_kg: float,
    water_temperature_K: float,
    humidity_ratio_kg_kg: float,
    enthalpy_J_kg: float,
    guess_air_temperature_K: float,
    guess_misty: bool,
    air_units: float,
    water_units: float,
) -> Cell:
    """What one cell moves, from the states on its inlet faces.

    Args:
        water_flow: over dry air, of this column as if it filled the width.
        air_units, water_units: N times the cell's width, and N times its height.
    """
    weights = CellWeights(0.0, 0.0, 0.0)
    e, q = 0.0, 0.0
    t = water_temperature_K
    air_K, misty = guess_air_temperature_K, guess_misty
    for turn in range(40):
        flow = water_flow - weights.water * e
        if flow <= 0.0:
            break
        if turn > 0:
            t = _water_temperature_from_enthalpy_K((water_flow * water_enthalpy_J_kg - weights.water * q) / flow, t)
        w = humidity_ratio_kg_kg + weights.air * e
        local = local_transfer(inlet, t, w, enthalpy_J_kg + weights.air * q, air_K, misty)
        air_K, misty = local.air_temperature_K, local.misty
        if air_K == 0.0:
            break
        hw = liquid_water_enthalpy_J_kg(t)
        per_flux = flow * liquid_water_heat_capacity_J_kgK(t)
        # In a large cell the slopes at the inlet say too little of the mean: weigh it twice.
        large = weights.water_side_units > LARGE_CELL
        if turn == 0 or (turn == 1 and large):
            cooling = (local.heat_per_water_K - hw * local.evaporation_per_water_K) / per_flux
            weights = _cell_weights(air_units, water_units, cooling)
        step = _cell_step(local, e, q, hw, weights.air, -weights.water / per_flux)
        e += step.evaporation_kg_kg
        q += step.heat_J_kg
        size = SETTLED * (abs(q) + LATENT_J_kg * abs(e)) + LEAST_POTENTIAL_J_kg
        close = abs(step.heat_J_kg) < size and LATENT_J_kg * abs(step.evaporation_kg_kg) < size
        if close and (turn > 1 or (turn == 1 and not large)):
            return Cell(True, e, q, air_K, misty)
        # Steps that lead far outside of what air can take up come from cold air's small slopes: start again inside.
        drive = abs(local.evaporation_kg_kg) + abs(local.heat_J_kg) / LATENT_J_kg
        if humidity_ratio_kg_kg + weights.air * e < 0.0:
            e = -0.5 * humidity_ratio_kg_kg / weights.air
        elif turn == 0 and weights.air * abs(e) > WILD * drive:
            e, q = 0.5 * local.evaporation_kg_kg / weights.air, 0.5 * local.heat_J_kg / weights.air
    return Cell(False, e, q, air_K, misty)


@kernel
def _cell_edge(share: float) -> float:
    """Place of a cell's edge, from its number over the number of cells."""
    return share * (STRAIGHT + (1.0 - STRAIGHT) * share)


@kernel
def _march_fill(inlet: CrossflowInlet, cells: int, flow: Any, enthalpy: Any, temperature: Any) -> FillMarch:
    """March once over a grid of cells by cells.

    Args:
        flow, enthalpy, temperature: room for the water of cells + 2 columns; the last two are the streaks.
    """
    left, right = cells, cells + 1
    for column in range(cells + 2):
        flow[column] = inlet.water_ratio
        enthalpy[column] = liquid_water_enthalpy_J_kg(inlet.water_temperature_K)
        temperature[column] = inlet.water_temperature_K
    evaporation, heat = 0.0, 0.0
    air_K = inlet.air_temperature_K
    for row in range(cells):
        height = _cell_edge((row + 1.0) / cells) - _cell_edge(row / cells)
        water_units = inlet.transfer_units * height
        w, h = inlet.air_humidity_ratio_kg_kg, inlet.air_enthalpy_J_kg
        air_K, misty = inlet.air_temperature_K, False
        for step in range(cells + 2):
            # the streak of the inlet face, then the cells, then the streak of the outlet face
            column = left
            width = 0.0
            if step == cells + 1:
                column = right
            elif step > 0:
                column = step - 1
                width = _cell_edge(step / cells) - _cell_edge((step - 1.0) / cells)
            air_units = inlet.transfer_units * width
            cell = _cell_transfer(
                inlet,
                flow[column],
                enthalpy[column],
                temperature[column],
                w,
                h,
                air_K,
                misty,
                air_units,
                water_units,
            )
            if not cell.settled:
                return FillMarch(False, 0.0, 0.0, 0.0, 0.0, 0.0)
            air_K, misty = cell.air_temperature_K, cell.misty
            w += air_units * cell.evaporation_kg_kg
            h += air_units * cell.heat_J_kg
            left_over = flow[column] - water_units * cell.evaporation_kg_kg
            held = flow[column] * enthalpy[column] - water_units * cell.heat_J_kg
            if left_over <= 0.0:
                return FillMarch(False, 0.0, 0.0, 0.0, 0.0, 0.0)
            flow[column] = left_over
            enthalpy[column] = held / left_over
            temperature[column] = _water_temperature_from_enthalpy_K(enthalpy[column], temperature[column])
        evaporation += height * (w - inlet.air_humidity_ratio_kg_kg)
        heat += height * (h - inlet.air_enthalpy_J_kg)
    return FillMarch(True, evaporation, heat, temperature[left], temperature[right], air_K)


@kernel
def _extrapolated(coarse: FillMarch, fine: FillMarch) -> FillMarch:
    """What grids of ever more cells tend to, from two of which the finer has twice as many along each side."""
    return FillMarch(
        True,
        fine.evaporation_kg_kg + (fine.evaporation_kg_kg - coarse.evaporation_kg_kg) / 3.0,
        fine.heat_J_kg + (fine.heat_J_kg - coarse.heat_J_kg) / 3.0,
        fine.inlet_face_water_K + (fine.inlet_face_water_K - coarse.inlet_face_water_K) / 3.0,
        fine.outlet_face_water_K + (fine.outlet_face_water_K - coarse.outlet_face_water_K) / 3.0,
        fine.air_temperature_K,
    )


@kernel
def _agree(before: FillMarch, now: FillMarch) -> bool:
    """Whether two extrapolations agree in evaporation, heat and streaks."""
    size = AGREED * (abs(now.evaporation_kg_kg) + abs(now.heat_J_kg) / LATENT_J_kg)
    return (
        abs(now.evaporation_kg_kg - before.evaporation_kg_kg) < size
        and abs(now.heat_J_kg - before.heat_J_kg) < size * LATENT_J_kg
        and abs(now.inlet_face_water_K - before.inlet_face_water_K) < AGREED_STREAK_K
        and abs(now.outlet_face_water_K - before.outlet_face_water_K) < AGREED_STREAK_K
    )


@kernel
@sourced("kloppers-kroeger-2004", "crossflow fill by Poppe's equations; module docstring")
def solve_crossflow(inlet: CrossflowInlet, flow: Any, enthalpy: Any, temperature: Any) -> CrossflowSolution:
    """Mixed outlet states of a crossflow tower; flow, enthalpy and temperature are room for MOST_CELLS + 2 columns."""
    top_K = inlet.water_temperature_K
    if saturated_humidity_ratio_kg_kg(top_K, inlet.pressure_Pa, inlet.water_activity) >= BOILS:
        return CrossflowSolution(WATER_BOILS, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    coldest_K = coldest_water_temperature_K(
        inlet.air_enthalpy_J_kg,
        inlet.air_humidity_ratio_kg_kg,
        inlet.air_temperature_K,
        inlet.pressure_Pa,
        inlet.water_activity,
    )
    if top_K - coldest_K < LEAST_APPROACH_K:
        return CrossflowSolution(WATER_TOO_COLD, coldest_K, 0.0, 0.0, 0.0, 0.0, 0.0)
    cells = FIRST_CELLS
    coarse = _march_fill(inlet, cells, flow, enthalpy, temperature)
    before = FillMarch(False, 0.0, 0.0, 0.0, 0.0, 0.0)
    while coarse.settled and cells < MOST_CELLS:
        cells *= 2
        fine = _march_fill(inlet, cells, flow, enthalpy, temperature)
        if not fine.settled:
            break
        now = _extrapolated(coarse, fine)
        if before.settled and _agree(before, now):
            return _mixed_outlet(inlet, now)
        before, coarse = now, fine
    return CrossflowSolution(NOT_SOLVED, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@kernel
def _mixed_outlet(inlet: CrossflowInlet, moved: FillMarch) -> CrossflowSolution:
    """The solution for what the whole fill moves from water to air."""
    # Strong liquor that takes up vapour is heated: its streak along the inlet face may be the hotter one.
    coldest_K = min(moved.inlet_face_water_K, moved.outlet_face_water_K)
    hottest_K = max(moved.inlet_face_water_K, moved.outlet_face_water_K)
    if coldest_K < ZERO_CELSIUS_K:
        return CrossflowSolution(WATER_FREEZES, 0.0, 0.0, 0.0, 0.0, coldest_K, 0.0)
    left = inlet.water_ratio - moved.evaporation_kg_kg
    held = inlet.water_ratio * liquid_water_enthalpy_J_kg(inlet.water_temperature_K) - moved.heat_J_kg
    water_K = _water_temperature_from_enthalpy_K(held / left, hottest_K)
    water_K = _water_temperature_from_enthalpy_K(held / left, water_K)
    humidity = inlet.air_humidity_ratio_kg_kg + moved.evaporation_kg_kg
    enthalpy = inlet.air_enthalpy_J_kg + moved.heat_J_kg
    air = air_state_from_enthalpy(enthalpy, humidity, inlet.pressure_Pa, moved.air_temperature_K, True, 1.0e-4)
    return CrossflowSolution(SOLVED, water_K, humidity, enthalpy, air.temperature_K, coldest_K, hottest_K)
