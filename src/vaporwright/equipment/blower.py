"""The blower: its curve at the density it handles, and the flow at which it meets a resistance.

The catalogue's curve is joined by straight lines. At one speed, pressure and shaft power at a given volume flow
go with density (fan laws).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from vaporwright.foundation.errors import NotConverged, OutOfRange
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root


@dataclass(frozen=True)
class BlowerCurve:
    """Static pressure and shaft power against volume flow at one density; flows rise, pressures fall."""

    flow_m3_s: tuple[float, ...]
    static_pressure_Pa: tuple[float, ...]
    shaft_power_W: tuple[float, ...]
    density_kg_m3: float


def _between(flow_m3_s: float, flows: tuple[float, ...], values: tuple[float, ...]) -> float:
    if not flows[0] <= flow_m3_s <= flows[-1]:
        raise OutOfRange("flow_m3_s", flow_m3_s, flows[0], flows[-1], "the blower's curve")
    for index in range(1, len(flows)):
        if flow_m3_s <= flows[index]:
            share = (flow_m3_s - flows[index - 1]) / (flows[index] - flows[index - 1])
            return values[index - 1] + share * (values[index] - values[index - 1])
    return values[-1]


@sourced("fan-laws", "pressure goes with density at one speed and volume flow")
def blower_static_pressure_Pa(curve: BlowerCurve, flow_m3_s: float, density_kg_m3: float) -> float:
    """Static pressure that the blower makes at a volume flow and density.

    Args: curve; flow_m3_s [m3/s] within the curve; density_kg_m3 [kg/m3] of the air handled, above 0.
    Returns: static pressure [Pa].
    Raises: OutOfRange outside the curve.
    """
    return _between(flow_m3_s, curve.flow_m3_s, curve.static_pressure_Pa) * density_kg_m3 / curve.density_kg_m3


@sourced("fan-laws", "power goes with density at one speed and volume flow")
def blower_shaft_power_W(curve: BlowerCurve, flow_m3_s: float, density_kg_m3: float) -> float:
    """Shaft power at a volume flow and density [W]. Args and errors: as in blower_static_pressure_Pa."""
    return _between(flow_m3_s, curve.flow_m3_s, curve.shaft_power_W) * density_kg_m3 / curve.density_kg_m3


@sourced("fan-laws", "greatest ratio of air power to shaft power on the curve")
def blower_best_flow_m3_s(curve: BlowerCurve) -> float:
    """Volume flow of the curve point with the best static efficiency [m3/s]."""
    points = zip(curve.flow_m3_s, curve.static_pressure_Pa, curve.shaft_power_W, strict=True)
    return max(points, key=lambda point: point[0] * point[1] / point[2])[0]


@sourced("fan-laws", "where blower and system curve meet")
def blower_operating_flow_m3_s(
    curve: BlowerCurve, density_kg_m3: float, resistance_Pa: Callable[[float], float]
) -> float:
    """Volume flow at the blower where its static pressure meets the resistance.

    Args:
        curve; density_kg_m3 [kg/m3] of the air that the blower handles.
        resistance_Pa: static pressure needed [Pa] as a function of the blower's volume flow [m3/s]; rising.
    Returns: flow [m3/s].
    Raises: NotConverged where the resistance is above (or below) the blower over its whole curve, with the figures.
    """

    def surplus(flow_m3_s: float) -> float:
        return blower_static_pressure_Pa(curve, flow_m3_s, density_kg_m3) - resistance_Pa(flow_m3_s)

    low, high = curve.flow_m3_s[0], curve.flow_m3_s[-1]
    if surplus(high) > 0.0:
        raise NotConverged(
            f"air_flow_m3_s: the blower runs out beyond the end of its curve ({high:.4g} m3/s); "
            "it needs more resistance, or its curve more points"
        )
    if surplus(low) < 0.0:
        raise NotConverged(
            f"air_flow_m3_s: the resistance {resistance_Pa(low):.4g} Pa at {low:.4g} m3/s is above the blower's "
            f"{blower_static_pressure_Pa(curve, low, density_kg_m3):.4g} Pa"
        )
    return find_root(surplus, low, high, tolerance=1.0e-7 * high, name="air_flow_m3_s")
