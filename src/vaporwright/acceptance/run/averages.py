"""Means and rates of a run log's channels over a span of time, each with a standard uncertainty, and how they combine.

A channel's uncertainty has two parts. What its readings scatter averages out, as far as they are independent
(regression.honest_slope); what its calibration leaves open does not. `uncertainties` is a plain mapping of channel to
(share of the reading, absolute [SI]), expanded, k = 2: TRADE's usual figures stand in DEFAULT_UNCERTAINTIES (common
practice, no source); the certificates of the day's instruments replace them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Final, TypeAlias

from vaporwright.acceptance.run.log import CHANNEL_OF, Measured, RunLog
from vaporwright.acceptance.run.regression import LEAST_POINTS, honest_slope
from vaporwright.acceptance.run.uncertainty import combined_standard_uncertainty
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced

Uncertainties: TypeAlias = Mapping[str, tuple[float, float]]
RANGE: Final = "range_difference_K"  # tank less return, with a pair of thermometers matched for it
COVERAGE: Final = 2.0
_FAHRENHEIT_K: Final = 1.0 / 1.8
DEFAULT_UNCERTAINTIES: Final[Uncertainties] = {
    "make_up_mass_kg": (0.002, 0.1),
    "make_up_volume_m3": (0.01, 0.0002),
    "stilling_level_m": (0.0, 0.0254 / 32.0),
    "feed_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "tank_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "return_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    RANGE: (0.0, 0.2 * _FAHRENHEIT_K),
    "spray_flow_m3_s": (0.03, 0.0),
    "inlet_air_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "inlet_wet_bulb_K": (0.0, 1.0 * _FAHRENHEIT_K),
    "air_flow_m3_s": (0.07, 0.0),
    "exhaust_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "exhaust_wet_bulb_K": (0.0, 1.0 * _FAHRENHEIT_K),
    "barometer_Pa": (0.0, 100.0),
    "room_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "gas_volume_standard_m3": (0.015, 0.0),
    "gas_volume_meter_m3": (0.015, 0.0),
    "gas_meter_temperature_K": (0.0, 0.5 * _FAHRENHEIT_K),
    "gas_meter_gauge_Pa": (0.01, 5.0),
    "stack_temperature_K": (0.0, 5.0 * _FAHRENHEIT_K),
    "flue_oxygen": (0.0, 0.003),
    "electric_energy_J": (0.01, 0.0),
    "condensate_mass_kg": (0.002, 0.1),
    "steam_gauge_Pa": (0.02, 2.0e3),
    "tracer_kg_m3": (0.02, 0.0),
}


def complete_uncertainties(given: Uncertainties | None) -> Uncertainties:
    """The given ones over the defaults.

    Raises: InputError for a channel that does not exist, or a figure that is none.
    """
    for name, parts in (given or {}).items():
        if name not in DEFAULT_UNCERTAINTIES:
            raise InputError("uncertainties", name, "is no channel", ", ".join(DEFAULT_UNCERTAINTIES))
        if not all(math.isfinite(part) and part >= 0.0 for part in parts):
            raise InputError("uncertainties", name, f"{parts}", "a share and an absolute figure, neither below zero")
    return {**DEFAULT_UNCERTAINTIES, **(given or {})}


def systematic(name: str, value: float, uncertainties: Uncertainties) -> float:
    """Standard uncertainty by calibration of a channel at a value."""
    share, absolute = uncertainties[name]
    return math.hypot(share * value, absolute) / COVERAGE


def ends_rate(name: str, seconds: float, uncertainties: Uncertainties) -> float:
    """Standard uncertainty of a rate by the absolute part of a channel, taken as independent at begin and end."""
    return math.sqrt(2.0) * uncertainties[name][1] / COVERAGE / seconds


def mean_of(log: RunLog, name: str, uncertainties: Uncertainties) -> Measured | None:
    """Mean of a channel over a log's rows; None where it was not read.

    The scatter of the mean is that of the readings about their line over the root of how many are independent, as
    honest_slope has it: u(mean) = u(slope) times the spread of the times. A trend is no scatter: the mean of the span
    is what is meant. With fewer than five readings no averaging is credited.
    """
    series = log.series(name)
    if not series:
        return None
    values = [value for _, value in series]
    mean = math.fsum(values) / len(values)
    return Measured(mean, math.hypot(_scatter_of_mean(series, mean), systematic(name, mean, uncertainties)))


def _scatter_of_mean(series: tuple[tuple[float, float], ...], mean: float) -> float:
    if len(series) < 2:
        return 0.0
    if len(series) < LEAST_POINTS:
        return math.sqrt(math.fsum((value - mean) ** 2 for _, value in series) / (len(series) - 1))
    times = [time_s for time_s, _ in series]
    middle = math.fsum(times) / len(times)
    spread = math.sqrt(math.fsum((time_s - middle) ** 2 for time_s in times) / len(times))
    return honest_slope(times, [value for _, value in series]).standard_uncertainty * spread


def rate_of(log: RunLog, name: str, uncertainties: Uncertainties) -> Measured | None:
    """Rate of a total over a log's rows [SI per second]; None where it was read fewer than five times."""
    series = log.series(name)
    if len(series) < LEAST_POINTS:
        return None
    slope = honest_slope([time_s for time_s, _ in series], [value for _, value in series])
    share = uncertainties[name][0] * abs(slope.slope) / COVERAGE
    ends = ends_rate(name, series[-1][0] - series[0][0], uncertainties)
    return Measured(slope.slope, math.hypot(slope.standard_uncertainty, share, ends))


def trend_of(log: RunLog, name: str) -> Measured | None:
    """How fast a channel moves over a log's rows [SI per second]; its calibration does not enter."""
    series = log.series(name)
    if len(series) < LEAST_POINTS:
        return None
    slope = honest_slope([time_s for time_s, _ in series], [value for _, value in series])
    return Measured(slope.slope, slope.standard_uncertainty)


def means_of(log: RunLog, uncertainties: Uncertainties) -> dict[str, Measured]:
    """Means of the channels that were read, rates of the totals, and the range with its own uncertainty."""
    found: dict[str, Measured] = {}
    for name in log.columns:
        of = rate_of if CHANNEL_OF[name].total else mean_of
        value = of(log, name, uncertainties)
        if value is not None:
            found[name] = value
    tank, back = log.columns.get("tank_temperature_K", ()), log.columns.get("return_temperature_K", ())
    pairs = [hot - cold for hot, cold in zip(tank, back, strict=False) if hot is not None and cold is not None]
    if pairs:
        mean = math.fsum(pairs) / len(pairs)
        scatter = math.sqrt(math.fsum((pair - mean) ** 2 for pair in pairs) / max(len(pairs) - 1, 1) / len(pairs))
        found[RANGE] = Measured(mean, math.hypot(scatter, systematic(RANGE, mean, uncertainties)))
    return found


@sourced("gum", "5.1.2, eq. 10 of independent inputs; 5.1.3 note 2, each contribution by a symmetric difference")
def combined(model: Callable[[Mapping[str, float]], float], inputs: Mapping[str, Measured]) -> Measured:
    """Value of a model of independent inputs, with its standard uncertainty.

    Equation: u^2 = sum of ((f(x + u_x) - f(x - u_x)) / 2)^2, GUM 5.1.3, note 2.
    Source: gum, eq. 10.
    """
    best = {name: entry.value for name, entry in inputs.items()}
    parts = []
    for name, entry in inputs.items():
        if entry.standard_uncertainty > 0.0:
            high = model({**best, name: entry.value + entry.standard_uncertainty})
            low = model({**best, name: entry.value - entry.standard_uncertainty})
            parts.append(0.5 * (high - low))
    return Measured(model(best), combined_standard_uncertainty(parts))
