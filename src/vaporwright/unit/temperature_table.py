"""A table of quantities against liquor temperature: few exact evaluations, then a lookup of about a microsecond.

Exact values at evenly spaced nodes are joined by cubics through four neighbours and written out on a finer grid, which
is read by straight lines. Beyond the first and the last node the table goes on along the end slope in vapour pressure,
in which heat and evaporation of a wet surface are nearly straight.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.errors import OutOfRange, VaporwrightError
from vaporwright.properties.moist_air_kernels import vapour_pressure_of_pure_water_Pa

STEP_K: Final = 0.2
COLDEST_K: Final = 273.15  # liquid water
_END_SLOPE_OVER_K: Final = 0.5
_TRIALS: Final = 24
_INSIDE_K: Final = 0.05  # of a range that an error states

Row = tuple[float, ...]


def place_in(rows: tuple[Row, ...], temperature_K: float) -> tuple[int, float]:
    """Row below a temperature in a table's rows, and the share of the way to the next one.

    Raises OutOfRange below freezing and beyond the table.
    """
    steps = (temperature_K - COLDEST_K) / STEP_K
    row, last = int(steps), len(rows) - 1
    if steps >= 0.0 and row < last:
        return row, steps - row
    if steps == last:
        return last - 1, 1.0
    hottest_K = COLDEST_K + STEP_K * last
    raise OutOfRange("temperature_K", temperature_K, COLDEST_K, hottest_K, "liquid, between freezing and boiling")


@dataclass(frozen=True)
class TemperatureTable:
    """Rows every STEP_K from COLDEST_K; exact between the two ends of the nodes, extrapolated outside them."""

    rows: tuple[Row, ...]
    first_node_K: float
    last_node_K: float

    def place(self, temperature_K: float) -> tuple[int, float]:
        """Row below a temperature, and the share of the way to the next one. Raises as `place_in`."""
        return place_in(self.rows, temperature_K)

    def at(self, temperature_K: float) -> Row:
        """All quantities at a temperature. Raises as `place`."""
        row, share = self.place(temperature_K)
        return tuple(a + share * (b - a) for a, b in zip(self.rows[row], self.rows[row + 1], strict=True))


def grid_K(hottest_K: float) -> list[float]:
    """The temperatures of a table's rows, to hottest_K or just past it."""
    return [COLDEST_K + STEP_K * index for index in range(math.ceil((hottest_K - COLDEST_K) / STEP_K - 1.0e-9) + 1)]


def table_through(nodes: Sequence[Row], first_K: float, last_K: float, hottest_K: float) -> TemperatureTable:
    """The table through exact rows at evenly spaced temperatures, at least four, reaching to hottest_K or just past."""
    space_K = (last_K - first_K) / (len(nodes) - 1)

    def inside(temperature_K: float) -> Row:
        place = (temperature_K - first_K) / space_K
        index = min(max(int(place), 1), len(nodes) - 3)
        t = place - index
        weights = (
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        )
        beside = nodes[index - 1 : index + 3]
        return tuple(sum(w * v for w, v in zip(weights, column, strict=True)) for column in zip(*beside, strict=True))

    def beyond(end_K: float, inward_K: float) -> Callable[[float], Row]:
        pressure = vapour_pressure_of_pure_water_Pa
        end, inner, at_end_Pa = inside(end_K), inside(end_K + inward_K), pressure(end_K)
        slopes = [(b - a) / (pressure(end_K + inward_K) - at_end_Pa) for a, b in zip(end, inner, strict=True)]
        return lambda temperature_K: tuple(
            value + slope * (pressure(temperature_K) - at_end_Pa) for value, slope in zip(end, slopes, strict=True)
        )

    colder, hotter = beyond(first_K, _END_SLOPE_OVER_K), beyond(last_K, -_END_SLOPE_OVER_K)
    rows = []
    for temperature_K in grid_K(hottest_K):
        at = colder if temperature_K < first_K else hotter if temperature_K > last_K else inside
        rows.append(at(temperature_K))
    return TemperatureTable(tuple(rows), first_K, last_K)


def rated_ends_K(rate: Callable[[float], object], coldest_K: float, hottest_K: float) -> tuple[float, float]:
    """The coldest and the hottest temperature, within two given ones, at which a piece of equipment can be rated.

    Steps in from each end: to where the error says that the range begins, where it says so, else by even steps.
    Raises: the last error, where less than half of the range remains.
    """
    step_K = (hottest_K - coldest_K) / _TRIALS
    return _rated_end_K(rate, coldest_K, step_K), _rated_end_K(rate, hottest_K, -step_K)


def _rated_end_K(rate: Callable[[float], object], end_K: float, inward_K: float) -> float:
    for _ in range(_TRIALS // 2 - 1):
        try:
            rate(end_K)
        except VaporwrightError as error:
            bound_K = None
            if isinstance(error, OutOfRange) and error.value == end_K:
                bound_K = error.low if inward_K > 0.0 else error.high
            if bound_K is None:
                end_K += inward_K
            else:
                end_K = bound_K + math.copysign(_INSIDE_K, inward_K)
        else:
            return end_K
    rate(end_K)
    return end_K
