"""The visible plume: wet exhaust mixes with outdoor air, passes through fog, and clears once enough air is in it.

Nothing but mixing is counted: no wind, no rise, no settling of drops, no sun. What mixing needs says when a plume is
seen and how much air must get into it before it is gone, not how far that is.

A plume hides walkways and roads, wets and ices what it touches, and may carry what the liquor gives off: lead it away
from people, intakes and traffic. Permits and local codes decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from vaporwright.foundation.constants import ZERO_CELSIUS_K
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.moist_air import enthalpy_J_kg, saturation_humidity_ratio_kg_kg
from vaporwright.properties.moist_air_kernels import air_state_from_enthalpy

MOST_MIST_kg_kg: Final = 0.05  # that exhaust may carry: a tower fed with air of -30 degC sends out 0.03
_CLOSE_K: Final = 1.0e-7
_NO_FOG_kg_kg: Final = 1.0e-8  # what the solver cannot tell from none; fog that is seen holds a thousand times more
_SMALLEST_STEP: Final = 1.0e-7  # of the exhaust's share, in the search for the densest fog
_GOLDEN: Final = 0.5 * (math.sqrt(5.0) - 1.0)


@dataclass(frozen=True, slots=True)
class MixedAir:
    """Exhaust mixed with outdoor air."""

    temperature_K: float
    humidity_ratio_kg_kg: float  # all its water, vapour and fog, per kg of dry air
    liquid_kg_kg: float  # fog, per kg of dry air of the mix


@dataclass(frozen=True, slots=True)
class Plume:
    """What mixing with outdoor air makes of an exhaust. Ratios are kg of dry outdoor air per kg of dry exhaust."""

    is_visible: bool  # fog forms
    greatest_liquid_kg_kg: float  # fog at its densest, per kg of dry air of the mix
    densest_ratio: float | None  # where that is; None without fog
    clears_ratio: float | None  # beyond it no fog; None without fog, or where saturated outdoor air never clears it


@dataclass(frozen=True, slots=True)
class _MixingLine:
    """All mixes of two airs: straight in enthalpy and in humidity ratio, by the exhaust's share of the dry air."""

    exhaust_J_kg: float
    exhaust_kg_kg: float
    outdoor_J_kg: float
    outdoor_kg_kg: float
    outdoor_K: float
    pressure_Pa: float

    def at(self, exhaust_share: float) -> tuple[float, float, float]:
        """Temperature [K], water in all, and water above saturation (negative below it) [kg/kg]."""
        enthalpy = self.outdoor_J_kg + exhaust_share * (self.exhaust_J_kg - self.outdoor_J_kg)
        water = self.outdoor_kg_kg + exhaust_share * (self.exhaust_kg_kg - self.outdoor_kg_kg)
        state = air_state_from_enthalpy(enthalpy, water, self.pressure_Pa, self.outdoor_K, True, _CLOSE_K)
        return state.temperature_K, water, state.excess_kg_kg

    def excess(self, exhaust_share: float) -> float:
        """Water above saturation."""
        return self.at(exhaust_share)[2]


def _mixing_line(
    exhaust_temperature_K: float,
    exhaust_humidity_ratio_kg_kg: float,
    outdoor_temperature_K: float,
    outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
) -> _MixingLine:
    require_range("exhaust_temperature_K", exhaust_temperature_K, 253.15, 358.15, "exhaust of an evaporator")
    require_range("outdoor_temperature_K", outdoor_temperature_K, 243.15, 323.15, "weather")
    holds = saturation_humidity_ratio_kg_kg(exhaust_temperature_K, pressure_Pa)
    most = holds + MOST_MIST_kg_kg
    require_range("exhaust_humidity_ratio_kg_kg", exhaust_humidity_ratio_kg_kg, 0.0, most, "saturation and some mist")
    holds = saturation_humidity_ratio_kg_kg(outdoor_temperature_K, pressure_Pa) * (1.0 + 1.0e-6)
    require_range("outdoor_humidity_ratio_kg_kg", outdoor_humidity_ratio_kg_kg, 0.0, holds, "outdoor air without fog")
    return _MixingLine(
        enthalpy_J_kg(exhaust_temperature_K, exhaust_humidity_ratio_kg_kg, pressure_Pa),
        exhaust_humidity_ratio_kg_kg,
        enthalpy_J_kg(outdoor_temperature_K, outdoor_humidity_ratio_kg_kg, pressure_Pa),
        outdoor_humidity_ratio_kg_kg,
        outdoor_temperature_K,
        pressure_Pa,
    )


@sourced("adiabatic-mixing", "humidity ratio and enthalpy in proportion to the dry air of each stream")
def mixed_air(
    *,
    exhaust_temperature_K: float,
    exhaust_humidity_ratio_kg_kg: float,
    outdoor_temperature_K: float,
    outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    outdoor_air_ratio: float,
) -> MixedAir:
    """Exhaust after some outdoor air has mixed into it.

    Equation: W = (W_e + r W_o) / (1 + r), h = (h_e + r h_o) / (1 + r); where W is above saturation, T solves
        h = h_s(T) + [W - W_s(T)] h_liquid(T) and the fog is W - W_s(T). Below 0 degC W_s is that over ice and fog
        counts as liquid that is colder than ice.
    Args:
        exhaust_temperature_K [K]: 253.15 to 358.15. exhaust_humidity_ratio_kg_kg [kg/kg]: all its water, up to 0.05
            above saturation (mist).
        outdoor_temperature_K [K]: 243.15 to 323.15. outdoor_humidity_ratio_kg_kg [kg/kg]: not above saturation.
        pressure_Pa [Pa]: 60e3 to 110e3.
        outdoor_air_ratio [-]: dry outdoor air over dry exhaust, 0 to 1e6.
    Returns: MixedAir.
    Raises: OutOfRange.
    Source: adiabatic-mixing.
    """
    line = _mixing_line(
        exhaust_temperature_K,
        exhaust_humidity_ratio_kg_kg,
        outdoor_temperature_K,
        outdoor_humidity_ratio_kg_kg,
        pressure_Pa,
    )
    require_range("outdoor_air_ratio", outdoor_air_ratio, 0.0, 1.0e6)
    temperature_K, water, excess = line.at(1.0 / (1.0 + outdoor_air_ratio))
    return MixedAir(temperature_K, water, max(excess, 0.0))


@sourced("adiabatic-mixing", "where the mixing line lies above saturation")
def exhaust_plume(
    *,
    exhaust_temperature_K: float,
    exhaust_humidity_ratio_kg_kg: float,
    outdoor_temperature_K: float,
    outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
) -> Plume:
    """Whether exhaust shows as fog outdoors, how dense that gets, and how much outdoor air clears it.

    Equation: the line of mixed_air from r = 0 (exhaust) to r without end (outdoor air) against saturation: its highest
        point above it, and the last at which it crosses it.
    Args: as in mixed_air.
    Returns: Plume. Fog starts on dust and ice a little before or after; still air thins a plume slowly, wind fast.
    Raises: OutOfRange; NotConverged.
    Source: adiabatic-mixing.
    """
    line = _mixing_line(
        exhaust_temperature_K,
        exhaust_humidity_ratio_kg_kg,
        outdoor_temperature_K,
        outdoor_humidity_ratio_kg_kg,
        pressure_Pa,
    )
    foggy = [share for share in _densest_shares(line) if share > 0.0 and line.excess(share) > _NO_FOG_kg_kg]
    if not foggy:
        return Plume(False, 0.0, None, None)
    densest = max(foggy, key=line.excess)
    clears_ratio = None
    if line.excess(0.0) < -_NO_FOG_kg_kg:
        share = find_root(
            line.excess, 0.0, min(foggy), tolerance=1.0e-12, name="share of exhaust where its plume clears"
        )
        clears_ratio = 1.0 / share - 1.0
    return Plume(True, line.excess(densest), 1.0 / densest - 1.0, clears_ratio)


def _densest_shares(line: _MixingLine) -> list[float]:
    """Where the excess is greatest on each side of 0 degC: saturation bends there, on either side it has one peak."""
    ends = [0.0, 1.0]
    if (line.at(0.0)[0] - ZERO_CELSIUS_K) * (line.at(1.0)[0] - ZERO_CELSIUS_K) < 0.0:
        at_zero = find_root(
            lambda share: line.at(share)[0] - ZERO_CELSIUS_K, 0.0, 1.0, tolerance=1.0e-12, name="share at 0 degC"
        )
        ends = [0.0, at_zero, 1.0]
    return [_peak(line, low, high) for low, high in pairwise(ends)]


def _peak(line: _MixingLine, low: float, high: float) -> float:
    """Share between two at which the excess is greatest, by golden sections; an end where that is greater."""
    ends = (low, high)
    inner, outer = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_inner, at_outer = line.excess(inner), line.excess(outer)
    while high - low > _SMALLEST_STEP:
        if at_inner > at_outer:
            high, outer, at_outer = outer, inner, at_inner
            inner = high - _GOLDEN * (high - low)
            at_inner = line.excess(inner)
        else:
            low, inner, at_inner = inner, outer, at_outer
            outer = low + _GOLDEN * (high - low)
            at_outer = line.excess(outer)
    return max((*ends, 0.5 * (low + high)), key=line.excess)
