"""A unit's towers on their blowers in one season, as a map: heat and evaporation against tank temperature.

Rehearsals run a day in seconds, so the exact rating (milliseconds) is done once at a few temperatures, for three shares
of the design's spray flow (plugged nozzles, a valve set wrong) and two speeds of the blower (run-up, coast-down, a
slipping belt), and interpolated.

Between those:
- spray shares: a cubic, in the root of the share, through no spray and the three rated; below the least of those in
  proportion to it, so that a trickle gives up no more heat per kilogram. Without spray the tower does nothing: what
  still wets the fill is neglected. More than the design's spray is not mapped.
- airflow: a parabola, in the root of the share, through none, half and full. The blower's curve follows the fan laws at
  half speed; share of airflow and share of speed are taken as one. Without air nothing leaves: hot liquor falls over
  the fill and returns as hot as it came; natural draught, and the vapour that fills the tower once, are neglected.
- colder than the tower can be rated (the wet bulb over the liquor, or freezing in the fill) and hotter (95 degC or 5 K
  under boiling), it goes on along the end slope in vapour pressure: below the wet bulb the air then warms the liquor
  and may condense into it.

Against exact ratings (tests/rooms/unit/test_tower_map): heat within 0.05 % at the design's point over the working
range, 0.3 % at other spray shares down to a half, 1 to 1.5 % at three quarters of the air, 4 to 8 % at a third.

The liquor's activity, density and heat capacity are those of the season's conditions; they do not move with a batch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from vaporwright.equipment.tower_range import HOTTEST_WATER_K, BELOW_BOILING_difference_K
from vaporwright.foundation.errors import VaporwrightError, require_range
from vaporwright.properties.liquor import (
    boiling_temperature_K,
    sodium_chloride_density_kg_m3,
    sodium_chloride_heat_capacity_J_kgK,
    sodium_chloride_water_activity,
)
from vaporwright.properties.water import liquid_heat_capacity_J_kgK, saturation_temperature_K
from vaporwright.unit.air_path import TowerRating, rate_tower_on_blower
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions
from vaporwright.unit.catalogue import BlowerPart
from vaporwright.unit.temperature_table import COLDEST_K, Row, TemperatureTable, rated_ends_K, table_through

SPRAY_SHARES: Final = (1.0, 0.7, 0.4)
AIR_SHARES: Final = (1.0, 0.5)
NODES: Final = 18  # of the design's point; the others have fewer
FEWER_NODES: Final = 12
_INSIDE_K: Final = 0.01  # of the models' ends


class TowerRates(NamedTuple):
    """What all towers together do."""

    heat_W: float  # enthalpy that the air takes up, vapour included
    evaporation_kg_s: float


@dataclass(frozen=True)
class TowerMap:
    """All towers of a unit in one season.

    The table's columns: heat and evaporation of every (spray share, air share) rated, design's point first; then the
    airflow at the blowers [m3/s] and their electric power [W] at the design's point.
    """

    table: TemperatureTable
    spray_shares: tuple[float, ...]  # those of SPRAY_SHARES that could be rated
    drift_fraction: float

    def rates(self, temperature_K: float, spray_share: float = 1.0, air_share: float = 1.0) -> TowerRates:
        """Heat and evaporation at a tank temperature, spray flow over design's and airflow over design's.

        Raises OutOfRange outside the table or for shares outside 0 to 1.
        """
        row, share = self.table.place(temperature_K)
        weights = self.weights(spray_share, air_share)
        return rates_between(self.table.rows[row], self.table.rows[row + 1], share, weights)

    def weights(self, spray_share: float, air_share: float) -> tuple[float, ...]:
        """How much of each layer a spray and an air share take; few but the first are not zero."""
        require_range("spray_share", spray_share, 0.0, 1.0, "of the design's spray flow")
        require_range("air_share", air_share, 0.0, 1.0, "of the design's airflow")
        if spray_share == 1.0 and air_share == 1.0:
            return (1.0,)
        least = min(self.spray_shares)
        trickle = min(spray_share / least, 1.0)
        by_spray = tuple(trickle * weight for weight in _through_nothing(max(spray_share, least), self.spray_shares))
        by_air = _through_nothing(air_share, AIR_SHARES)
        return tuple(spray * air for spray in by_spray for air in by_air)

    def air_flow_m3_s(self, temperature_K: float, air_share: float = 1.0) -> float:
        """Volume flow at the blowers together; thinner spray lets through a few per cent more, which is left out."""
        return air_share * self.table.at(temperature_K)[-2]

    def blower_power_W(self, temperature_K: float, air_share: float = 1.0) -> float:
        """Electric power of the blowers, by the fan laws at reduced speed."""
        return air_share**3 * self.table.at(temperature_K)[-1]


def rates_between(below: Row, above: Row, share: float, weights: tuple[float, ...]) -> TowerRates:
    """Rates between two rows of a map's table, with the weights of its layers."""
    if len(weights) == 1:
        return TowerRates(below[0] + share * (above[0] - below[0]), below[1] + share * (above[1] - below[1]))
    heat_W = evaporation_kg_s = 0.0
    for layer, weight in enumerate(weights):
        column = 2 * layer
        heat_W += weight * (below[column] + share * (above[column] - below[column]))
        evaporation_kg_s += weight * (below[column + 1] + share * (above[column + 1] - below[column + 1]))
    return TowerRates(heat_W, evaporation_kg_s)


def tower_map(unit: AssembledUnit, conditions: Conditions) -> TowerMap:
    """Rate a unit's towers at the map's nodes and join them.

    A smaller spray share that the blower's curve or the tower models do not reach is left out; below the least share
    that remains, heat falls to nothing with the spray.
    Raises: OutOfRange and NotConverged where the design's spray cannot be rated over half of the range.
    """
    design = _layer(unit, conditions, SPRAY_SHARES[0], AIR_SHARES[0])
    layers = [design]
    spray_shares = []
    for spray_share in SPRAY_SHARES:
        try:
            layers += [
                _layer(unit, conditions, spray_share, air_share)
                for air_share in AIR_SHARES
                if (spray_share, air_share) != (SPRAY_SHARES[0], AIR_SHARES[0])
            ]
        except VaporwrightError:
            if spray_share == SPRAY_SHARES[0]:
                raise
            continue
        spray_shares.append(spray_share)
    rows = [
        tuple(value for row in beside for value in row[:2]) + beside[0][2:]
        for beside in zip(*(layer.rows for layer in layers), strict=True)
    ]
    table = TemperatureTable(tuple(rows), design.first_node_K, design.last_node_K)
    return TowerMap(table, tuple(spray_shares), unit.tower.drift_fraction)


def _layer(unit: AssembledUnit, conditions: Conditions, spray_share: float, air_share: float) -> TemperatureTable:
    """One table of heat, evaporation, airflow and blower power of all towers."""
    latest: list[TowerRating] = []

    def rate(temperature_K: float) -> TowerRating:
        return rate_tower(unit, conditions, temperature_K, spray_share, air_share, latest[-2:])

    hottest_K = min(
        HOTTEST_WATER_K, saturation_temperature_K(conditions.pressure_Pa) - BELOW_BOILING_difference_K - _INSIDE_K
    )
    first_K, last_K = rated_ends_K(rate, COLDEST_K + _INSIDE_K, hottest_K)
    nodes = NODES if spray_share == air_share == 1.0 else FEWER_NODES
    for index in range(nodes):
        latest.append(rate(last_K - (last_K - first_K) * index / (nodes - 1)))
    rows = [
        (
            unit.towers * rating.heat_to_air_W,
            unit.towers * rating.evaporation_kg_s,
            unit.towers * rating.blower_flow_m3_s,
            unit.towers * rating.blower_input_W,
        )
        for rating in reversed(latest)
    ]
    return table_through(rows, first_K, last_K, boiling_temperature_K(conditions.liquor, conditions.pressure_Pa))


def rate_tower(
    unit: AssembledUnit,
    conditions: Conditions,
    temperature_K: float,
    spray_share: float = 1.0,
    air_share: float = 1.0,
    earlier: Sequence[TowerRating] = (),
) -> TowerRating:
    """One tower rated exactly, with a share of the design's spray flow and of its blower's speed.

    Raises: OutOfRange and NotConverged from the tower and the blower, each naming its variable.
    """
    solids = conditions.liquor.dissolved_solids_kg_kg  # still dissolved, also where the cold liquor would crystallise
    water_J_kgK = liquid_heat_capacity_J_kgK(temperature_K)
    spray_kg_s = spray_share * unit.spray_flow_m3_s * sodium_chloride_density_kg_m3(solids, temperature_K)
    duct_loss_Pa = conditions.intake.duct_loss_Pa * air_share**2  # stated at the best flow, which moves with the speed
    return rate_tower_on_blower(
        tower=unit.tower,
        blower=_slowed(unit.blower, air_share),
        intake=replace(conditions.intake, duct_loss_Pa=duct_loss_Pa),
        water_temperature_K=temperature_K,
        water_flow_kg_s=spray_kg_s / unit.towers,
        water_activity=sodium_chloride_water_activity(solids, temperature_K),
        heat_capacity_share=sodium_chloride_heat_capacity_J_kgK(solids, temperature_K) / water_J_kgK,
        earlier=earlier,
    )


def _slowed(blower: BlowerPart, speed: float) -> BlowerPart:
    """A blower at a share of its speed, by the fan laws."""
    return replace(
        blower,
        flow_m3_s=tuple(speed * flow for flow in blower.flow_m3_s),
        static_pressure_Pa=tuple(speed**2 * pressure for pressure in blower.static_pressure_Pa),
        shaft_power_W=tuple(speed**3 * power for power in blower.shaft_power_W),
    )


def _through_nothing(at: float, points: tuple[float, ...]) -> tuple[float, ...]:
    """Lagrange's weights of the values at some shares, in the root of the share, for a curve through zero."""
    place = math.sqrt(at)
    weights = []
    for point in map(math.sqrt, points):
        weight = place / point
        for other in map(math.sqrt, points):
            if other != point:
                weight *= (place - other) / (point - other)
        weights.append(weight)
    return tuple(weights)
