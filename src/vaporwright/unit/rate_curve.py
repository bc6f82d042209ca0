"""Rate against tank temperature: what the tower carries, what the heat drives, and where they meet.

This is the picture behind an answer. The tower's line rises with temperature; the heat's line falls a little, as
losses grow; the unit settles at their crossing, or at the clamp where that comes first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vaporwright.foundation.errors import VaporwrightError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Operation, SeasonResult, operate
from vaporwright.unit.heat import heat_curve
from vaporwright.unit.job import SEASONS

POINTS = 15
LEAST_SHOWN_K = 305.0


@dataclass(frozen=True)
class CurvePoint:
    """At one tank temperature: evaporation that the tower carries, and that the heat drives [kg/s]."""

    temperature_K: float
    tower_carries_kg_s: float
    heat_drives_kg_s: float


@dataclass(frozen=True)
class RateCurve:
    """One season's curves."""

    season: str
    points: tuple[CurvePoint, ...]


def rate_curves(
    answer: UnitAnswer, *, points: int = POINTS, seasons: tuple[str, ...] = SEASONS, through_K: Iterable[float] = ()
) -> tuple[RateCurve, ...]:
    """Curves of the seasons from a warm tank to the clamp; unreachable temperatures are left out.

    `through_K` are further temperatures that the curves have a point at.
    """
    lowest = min(result.settling_temperature_K for result in answer.seasons.values()) - 15.0
    highest = max(result.clamp_K for result in answer.seasons.values())
    low, high = max(LEAST_SHOWN_K, lowest), highest
    even = {low + (high - low) * index / (points - 1) for index in range(points)}
    temperatures = sorted(even | {one for one in through_K if low <= one <= high})
    return tuple(_curve(answer.unit, answer.seasons[season], temperatures) for season in seasons)


def _curve(unit: AssembledUnit, result: SeasonResult, temperatures_K: list[float]) -> RateCurve:
    site = result.conditions.heat_site
    curve = heat_curve(unit.heat_source, site, temperatures_K[0], temperatures_K[-1])
    latest: Operation = result.operation
    found = []
    for temperature_K in temperatures_K:
        try:
            latest = operate(unit, result.conditions, temperature_K, curve.heat_W(temperature_K), [latest.tower])
        except VaporwrightError:
            continue
        found.append(CurvePoint(temperature_K, latest.evaporation_kg_s, _driven_kg_s(latest)))
    return RateCurve(result.season, tuple(found))


def _driven_kg_s(operation: Operation) -> float:
    """Evaporation for which the heat there is would suffice, at the heat per kilogram of this temperature."""
    energy = operation.energy
    dry_W = energy.surface_dry_W + energy.walls_W + energy.piping_W + energy.drift_W
    evaporating_W = energy.tower_air_W + energy.surface_vapour_W - energy.feed_enthalpy_W
    left_W = energy.heat_source_W + energy.pump_W - dry_W
    return operation.evaporation_kg_s * left_W / evaporating_W
