"""The crossflow tower: hot liquor falls over fill, air is drawn through from the side.

`rate_crossflow` answers for one tower in plain Python, `rate_crossflow_batch` for many at once, compiled on first
use. Both run the same kernels (crossflow_kernels, where the equations stand).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from vaporwright.equipment.crossflow_kernels import (
    LEAST_APPROACH_K,
    MOST_CELLS,
    CrossflowInlet,
    CrossflowSolution,
    solve_crossflow,
)
from vaporwright.equipment.tower_kernels import NOT_SOLVED, SOLVED, WATER_BOILS, WATER_FREEZES, WATER_TOO_COLD
from vaporwright.equipment.tower_range import require_rating_range, rows_in_range
from vaporwright.foundation.errors import NotConverged, OutOfRange
from vaporwright.foundation.kernels import compiled, kernel
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air import enthalpy_J_kg
from vaporwright.properties.moist_air_kernels import (
    liquid_water_enthalpy_J_kg,
    moist_air_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

COLUMNS: Final = MOST_CELLS + 2


@dataclass(frozen=True)
class CrossflowRating:
    """What a crossflow tower does: mixed outlet states, the water's extremes, evaporation, and heat to the air."""

    water_out_temperature_K: float
    water_out_coldest_temperature_K: float  # along the air inlet face
    water_out_hottest_temperature_K: float  # along the air outlet face
    air_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float
    evaporation_kg_s: float
    heat_to_air_W: float
    air_leaves_misty: bool


@sourced("kloppers-kroeger-2004", "Poppe's model of the crossflow tower")
@sourced("own-crossflow-solver", "march in two dimensions")
def rate_crossflow(
    *,
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float = 1.0,
) -> CrossflowRating:
    """Rate a crossflow tower by Poppe's model (Bosnjakovic Lewis factor, water loss, supersaturated air).

    Water is spread evenly over the top, air enters evenly at the side, and neither mixes within the fill.

    Args:
        water_temperature_K [K]: at the spray; 273.15 to 368.15 and at least 5 K under boiling.
        water_flow_kg_s [kg/s]: at the spray; 0.3 to 30 times the dry air.
        air_temperature_K [K]: entering the fill; 243.15 to 323.15.
        air_humidity_ratio_kg_kg [kg/kg dry air]: 0 to 0.3; beyond saturation the rest enters as mist.
        dry_air_flow_kg_s [kg/s]: above 0.
        pressure_Pa [Pa]: 60e3 to 110e3.
        merkel_number [-]: K a V / water flow in, on the dry air basis and by this model; 0.01 to 5. The same fill
            in counterflow has another one: a number reduced from one arrangement does not serve the other.
        water_activity [-]: 0.4 to 1 at the spray; its change down the fill is left out (a few per cent of it).
    Returns: outlet states mixed over the faces, the water's coldest and hottest streaks, evaporation and heat; water
        and energy balances close to rounding.
    Raises:
        OutOfRange: outside those ranges, where the air cannot cool water of this temperature, or where the water
            that falls along the air inlet face would freeze.
        NotConverged: the grids did not agree.
    """
    require_rating_range(
        water_temperature_K,
        water_flow_kg_s,
        air_temperature_K,
        air_humidity_ratio_kg_kg,
        dry_air_flow_kg_s,
        pressure_Pa,
        merkel_number,
        water_activity,
    )
    air_enthalpy_J_kg = enthalpy_J_kg(air_temperature_K, air_humidity_ratio_kg_kg, pressure_Pa)
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    inlet = CrossflowInlet(
        water_temperature_K,
        ratio,
        air_enthalpy_J_kg,
        air_humidity_ratio_kg_kg,
        air_temperature_K,
        pressure_Pa,
        water_activity,
        merkel_number * ratio,
    )
    solution = solve_crossflow(inlet, [0.0] * COLUMNS, [0.0] * COLUMNS, [0.0] * COLUMNS)
    _raise_unless_solved(solution, water_temperature_K, pressure_Pa, merkel_number)
    humidity = solution.air_out_humidity_ratio_kg_kg
    saturated = saturated_humidity_ratio_kg_kg(solution.air_out_temperature_K, pressure_Pa, 1.0)
    return CrossflowRating(
        water_out_temperature_K=solution.water_out_temperature_K,
        water_out_coldest_temperature_K=solution.water_out_coldest_temperature_K,
        water_out_hottest_temperature_K=solution.water_out_hottest_temperature_K,
        air_out_temperature_K=solution.air_out_temperature_K,
        air_out_humidity_ratio_kg_kg=humidity,
        air_out_enthalpy_J_kg=solution.air_out_enthalpy_J_kg,
        evaporation_kg_s=dry_air_flow_kg_s * (humidity - air_humidity_ratio_kg_kg),
        heat_to_air_W=dry_air_flow_kg_s * (solution.air_out_enthalpy_J_kg - air_enthalpy_J_kg),
        air_leaves_misty=humidity > saturated * (1.0 + 1e-7),
    )


def _raise_unless_solved(
    solution: CrossflowSolution, water_temperature_K: float, pressure_Pa: float, merkel_number: float
) -> None:
    if solution.status == SOLVED:
        return
    if solution.status == WATER_TOO_COLD:
        least_K = solution.water_out_temperature_K + LEAST_APPROACH_K
        raise OutOfRange("water_temperature_K", water_temperature_K, least_K, None, "wet bulb over this liquor")
    if solution.status == WATER_BOILS:
        raise OutOfRange("water_temperature_K", water_temperature_K, None, None, f"boils at {pressure_Pa:.6g} Pa")
    if solution.status == WATER_FREEZES:
        raise OutOfRange(
            "water_out_coldest_temperature_K",
            solution.water_out_coldest_temperature_K,
            273.15,
            None,
            "the water would freeze along the air inlet face",
        )
    raise NotConverged(
        f"evaporation_kg_s: grids of up to {MOST_CELLS} by {MOST_CELLS} cells did not agree for water at "
        f"{water_temperature_K:.6g} K and Merkel number {merkel_number:.6g} at {pressure_Pa:.6g} Pa"
    )


class CrossflowBatch(NamedTuple):
    """Columns of rate_crossflow_batch, all of one length."""

    water_out_temperature_K: NDArray[np.float64]
    water_out_coldest_temperature_K: NDArray[np.float64]
    water_out_hottest_temperature_K: NDArray[np.float64]
    air_out_temperature_K: NDArray[np.float64]
    air_out_humidity_ratio_kg_kg: NDArray[np.float64]
    air_out_enthalpy_J_kg: NDArray[np.float64]
    evaporation_kg_s: NDArray[np.float64]


@kernel
def _rate_rows(columns: Any, out: Any, status: Any, first: int, last: int) -> None:
    """Rate rows first to last; a row that raises or is not finite is marked, and nothing else is touched."""
    flow, enthalpy, temperature = [0.0] * COLUMNS, [0.0] * COLUMNS, [0.0] * COLUMNS
    for row in range(first, last):
        try:
            t_in, w_in, p = columns[2, row], columns[3, row], columns[5, row]
            vapour = min(w_in, saturated_humidity_ratio_kg_kg(t_in, p, 1.0))
            mist = (w_in - vapour) * liquid_water_enthalpy_J_kg(t_in)
            ratio = columns[1, row] / columns[4, row]
            inlet = CrossflowInlet(
                columns[0, row],
                ratio,
                moist_air_enthalpy_J_kg(t_in, vapour, p) + mist,
                w_in,
                t_in,
                p,
                columns[7, row],
                columns[6, row] * ratio,
            )
            got = solve_crossflow(inlet, flow, enthalpy, temperature)
            status[row] = got.status
            out[0, row] = got.water_out_temperature_K
            out[1, row] = got.water_out_coldest_temperature_K
            out[2, row] = got.water_out_hottest_temperature_K
            out[3, row] = got.air_out_temperature_K
            out[4, row] = got.air_out_humidity_ratio_kg_kg
            out[5, row] = got.air_out_enthalpy_J_kg
            out[6, row] = columns[4, row] * (got.air_out_humidity_ratio_kg_kg - w_in)
        except Exception:
            status[row] = NOT_SOLVED


@sourced("kloppers-kroeger-2004", "Poppe's model of the crossflow tower")
def rate_crossflow_batch(
    *,
    water_temperature_K: ArrayLike,
    water_flow_kg_s: ArrayLike,
    air_temperature_K: ArrayLike,
    air_humidity_ratio_kg_kg: ArrayLike,
    dry_air_flow_kg_s: ArrayLike,
    pressure_Pa: ArrayLike,
    merkel_number: ArrayLike,
    water_activity: ArrayLike = 1.0,
    threads: int = 1,
) -> CrossflowBatch:
    """Rate many crossflow towers at once; the same equations as rate_crossflow, compiled on first use.

    Args: as in rate_crossflow, arrays of shape (n,) or scalars; threads [-]: 1 or more.
    Returns: arrays of shape (n,).
    Raises: the error of the first failing row, with its number, worded as rate_crossflow words it.
    """
    from vaporwright.foundation.batches import rate_rows

    given = {
        "water_temperature_K": water_temperature_K,
        "water_flow_kg_s": water_flow_kg_s,
        "air_temperature_K": air_temperature_K,
        "air_humidity_ratio_kg_kg": air_humidity_ratio_kg_kg,
        "dry_air_flow_kg_s": dry_air_flow_kg_s,
        "pressure_Pa": pressure_Pa,
        "merkel_number": merkel_number,
        "water_activity": water_activity,
    }
    return CrossflowBatch(
        *rate_rows(
            given=given,
            results=7,
            in_range=rows_in_range,
            run=compiled(_rate_rows),
            rate_one=rate_crossflow,
            threads=threads,
        )
    )
