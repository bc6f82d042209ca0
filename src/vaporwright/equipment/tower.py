"""The packed tower: hot liquor falls over plastic fill against air, gives up heat and evaporates.

`rate_counterflow` answers for one tower in plain Python, `rate_counterflow_batch` for many at once, compiled on
first use. Both run the same kernels (tower_kernels, where the equations stand, and counterflow_solver).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from vaporwright.equipment.counterflow_solver import CounterflowSolution, solve_counterflow
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


@dataclass(frozen=True)
class CounterflowRating:
    """What a counterflow tower does: outlet states, evaporation, and the heat that the air takes up."""

    water_out_temperature_K: float
    air_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float
    evaporation_kg_s: float
    heat_to_air_W: float
    air_leaves_misty: bool


@sourced("kloppers-kroeger-2005", "Poppe's model of the counterflow tower")
@sourced("poppe-roegener-1991", "the equations' origin")
def rate_counterflow(
    *,
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float = 1.0,
) -> CounterflowRating:
    """Rate a counterflow tower by Poppe's model (Bosnjakovic Lewis factor, water loss, supersaturated air).

    Args:
        water_temperature_K [K]: at the spray; 273.15 to 368.15 and at least 5 K under boiling.
        water_flow_kg_s [kg/s]: at the spray; 0.3 to 30 times the dry air.
        air_temperature_K [K]: entering the fill; 243.15 to 323.15.
        air_humidity_ratio_kg_kg [kg/kg dry air]: 0 to 0.3; beyond saturation the rest enters as mist.
        dry_air_flow_kg_s [kg/s]: above 0.
        pressure_Pa [Pa]: 60e3 to 110e3.
        merkel_number [-]: K a V / water flow in, on the dry air basis and by this model; 0.01 to 5.
        water_activity [-]: 0.4 to 1 at the spray; its change down the fill is left out (a few per cent of it).
    Returns: outlet states, evaporation and heat; water and energy balances close to rounding.
    Raises:
        OutOfRange: outside those ranges, or where the air cannot cool water of this temperature.
        NotConverged: the march did not meet its tolerance.
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
    solution = solve_counterflow(
        water_temperature_K,
        water_flow_kg_s,
        air_enthalpy_J_kg,
        air_humidity_ratio_kg_kg,
        air_temperature_K,
        dry_air_flow_kg_s,
        pressure_Pa,
        merkel_number,
        water_activity,
    )
    _raise_unless_solved(solution, water_temperature_K, pressure_Pa, merkel_number)
    humidity = solution.air_out_humidity_ratio_kg_kg
    saturated = saturated_humidity_ratio_kg_kg(solution.air_out_temperature_K, pressure_Pa, 1.0)
    return CounterflowRating(
        water_out_temperature_K=solution.water_out_temperature_K,
        air_out_temperature_K=solution.air_out_temperature_K,
        air_out_humidity_ratio_kg_kg=humidity,
        air_out_enthalpy_J_kg=solution.air_out_enthalpy_J_kg,
        evaporation_kg_s=dry_air_flow_kg_s * (humidity - air_humidity_ratio_kg_kg),
        heat_to_air_W=dry_air_flow_kg_s * (solution.air_out_enthalpy_J_kg - air_enthalpy_J_kg),
        air_leaves_misty=humidity > saturated * (1.0 + 1e-7),
    )


def _raise_unless_solved(
    solution: CounterflowSolution, water_temperature_K: float, pressure_Pa: float, merkel_number: float
) -> None:
    if solution.status == SOLVED:
        return
    if solution.status == WATER_TOO_COLD:
        coldest_K = solution.water_out_temperature_K
        raise OutOfRange(
            "water_temperature_K", water_temperature_K, coldest_K + 0.05, None, "wet bulb over this liquor"
        )
    if solution.status == WATER_BOILS:
        raise OutOfRange("water_temperature_K", water_temperature_K, None, None, f"boils at {pressure_Pa:.6g} Pa")
    if solution.status == WATER_FREEZES:
        raise OutOfRange(
            "water_out_temperature_K",
            solution.water_out_temperature_K,
            273.15,
            None,
            "the water would freeze in the fill",
        )
    raise NotConverged(
        f"water_out_temperature_K: no outlet found for water at {water_temperature_K:.6g} K and Merkel number "
        f"{merkel_number:.6g} at {pressure_Pa:.6g} Pa"
    )


class CounterflowBatch(NamedTuple):
    """Columns of rate_counterflow_batch, all of one length."""

    water_out_temperature_K: NDArray[np.float64]
    air_out_temperature_K: NDArray[np.float64]
    air_out_humidity_ratio_kg_kg: NDArray[np.float64]
    air_out_enthalpy_J_kg: NDArray[np.float64]
    evaporation_kg_s: NDArray[np.float64]


@kernel
def _rate_rows(columns: Any, out: Any, status: Any, first: int, last: int) -> None:
    """Rate rows first to last; a row that raises or is not finite is marked, and nothing else is touched."""
    for row in range(first, last):
        try:
            w_in = columns[3, row]
            t_in = columns[2, row]
            p = columns[5, row]
            vapour = min(w_in, saturated_humidity_ratio_kg_kg(t_in, p, 1.0))
            mist = (w_in - vapour) * liquid_water_enthalpy_J_kg(t_in)
            h_in = moist_air_enthalpy_J_kg(t_in, vapour, p) + mist
            got = solve_counterflow(
                columns[0, row], columns[1, row], h_in, w_in, t_in, columns[4, row], p, columns[6, row], columns[7, row]
            )
            status[row] = got.status
            out[0, row] = got.water_out_temperature_K
            out[1, row] = got.air_out_temperature_K
            out[2, row] = got.air_out_humidity_ratio_kg_kg
            out[3, row] = got.air_out_enthalpy_J_kg
            out[4, row] = columns[4, row] * (got.air_out_humidity_ratio_kg_kg - w_in)
        except Exception:
            status[row] = NOT_SOLVED


@sourced("kloppers-kroeger-2005", "Poppe's model of the counterflow tower")
def rate_counterflow_batch(
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
) -> CounterflowBatch:
    """Rate many counterflow towers at once; the same equations as rate_counterflow, compiled on first use.

    Args: as in rate_counterflow, arrays of shape (n,) or scalars; threads [-]: 1 or more.
    Returns: arrays of shape (n,).
    Raises: the error of the first failing row, with its number, worded as rate_counterflow words it.
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
    return CounterflowBatch(
        *rate_rows(
            given=given,
            results=5,
            in_range=rows_in_range,
            run=compiled(_rate_rows),
            rate_one=rate_counterflow,
            threads=threads,
        )
    )
