"""The range in which the tower models hold, counterflow and crossflow alike, for one rating and for rows of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.water import saturation_temperature_K

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST_WATER_TO_AIR: Final = 0.3
MOST_WATER_TO_AIR: Final = 30.0
LEAST_MERKEL: Final = 0.01
MOST_MERKEL: Final = 5.0
HOTTEST_WATER_K: Final = 368.15
BELOW_BOILING_difference_K: Final = 5.0
COLDEST_AIR_K: Final = 243.15
HOTTEST_AIR_K: Final = 323.15
_WHY = "tower models"


@sourced("own-tower-solver", "range over which the models were compared with slow solvers")
def require_rating_range(
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float,
) -> None:
    """Raise OutOfRange for the first argument of a tower rating that lies outside the models' range."""
    require_range("pressure_Pa", pressure_Pa, 60.0e3, 110.0e3, _WHY)
    boiling_K = saturation_temperature_K(pressure_Pa)
    hottest_K = min(HOTTEST_WATER_K, boiling_K - BELOW_BOILING_difference_K)
    require_range("water_temperature_K", water_temperature_K, 273.15, hottest_K, "95 degC or 5 K under boiling")
    require_range("air_temperature_K", air_temperature_K, COLDEST_AIR_K, HOTTEST_AIR_K, _WHY)
    require_range("air_humidity_ratio_kg_kg", air_humidity_ratio_kg_kg, 0.0, 0.3, _WHY)
    require_range("water_flow_kg_s", water_flow_kg_s, 1.0e-9, None, _WHY)
    require_range("dry_air_flow_kg_s", dry_air_flow_kg_s, 1.0e-9, None, _WHY)
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    require_range("water_flow_kg_s / dry_air_flow_kg_s", ratio, LEAST_WATER_TO_AIR, MOST_WATER_TO_AIR, _WHY)
    require_range("merkel_number", merkel_number, LEAST_MERKEL, MOST_MERKEL, _WHY)
    require_range("water_activity", water_activity, 0.4, 1.0, _WHY)


@sourced("own-tower-solver", "range over which the models were compared with slow solvers")
def rows_in_range(columns: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Rows within the ranges that can be tested cheaply; the others are re-run in Python for their message."""
    import numpy as np

    water_K, water, air_K, humidity, air, pressure, merkel, activity = columns
    with np.errstate(all="ignore"):
        ratio = water / air
    # 5 K under boiling: vapour pressure by Antoine's form is close enough to pick rows for the exact test
    boiling_K = 3816.44 / (18.3036 - np.log(np.maximum(pressure, 1.0) / 133.322)) + 46.13
    hottest_K = np.minimum(HOTTEST_WATER_K, boiling_K - BELOW_BOILING_difference_K - 0.5)
    sure: NDArray[np.bool_] = (water_K >= 273.15) & (water_K <= hottest_K)
    sure &= (air_K >= COLDEST_AIR_K) & (air_K <= HOTTEST_AIR_K) & (humidity >= 0.0) & (humidity <= 0.3)
    sure &= (air > 0.0) & (ratio >= LEAST_WATER_TO_AIR) & (ratio <= MOST_WATER_TO_AIR)
    sure &= (pressure >= 60.0e3) & (pressure <= 110.0e3)
    sure &= (merkel >= LEAST_MERKEL) & (merkel <= MOST_MERKEL) & (activity >= 0.4) & (activity <= 1.0)
    for row in np.flatnonzero(~sure):
        try:
            require_rating_range(*columns[:, row].tolist())
        except OutOfRange:
            continue
        sure[row] = True
    return np.asarray(sure, dtype=np.bool_)
