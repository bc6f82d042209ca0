"""A unit's tank and heat source in one season, as tables against liquor temperature: losses, heat, the liquor itself.

The tank loses what it loses at its working depth, as in the balance; that its walls are wetted less at a low level is
left out. The liquor is an ideal mixture of water and a salt part that has, at the strength of the season's conditions,
exactly the volume and heat capacity of that liquor; so its strength may move while masses and heat still add up. Salt
that would crystallise when cold is taken to stay dissolved.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from vaporwright.equipment.tank import tank_losses
from vaporwright.equipment.tank_walls import pipe_loss
from vaporwright.properties.liquor import (
    boiling_temperature_K,
    sodium_chloride_density_kg_m3,
    sodium_chloride_heat_capacity_J_kgK,
    sodium_chloride_water_activity,
)
from vaporwright.properties.water import liquid_enthalpy_J_kg, liquid_heat_capacity_J_kgK, saturation_temperature_K
from vaporwright.properties.water_transport import liquid_density_kg_m3
from vaporwright.unit.assembly import AssembledUnit, tank_of
from vaporwright.unit.balance import PIPE_EMISSIVITY, Conditions, PIPE_DIAMETER_m
from vaporwright.unit.heat import rate_heat
from vaporwright.unit.temperature_table import (
    COLDEST_K,
    STEP_K,
    Row,
    TemperatureTable,
    grid_K,
    rated_ends_K,
    table_through,
)

LOSS_NODES: Final = 32
HEAT_NODES: Final = 32
_UNDER_BOILING_K: Final = 1.01  # the surface is rated to 1 K under boiling


class Losses(NamedTuple):
    """What tank and piping lose; columns of `loss_table`."""

    surface_evaporation_kg_s: float
    surface_vapour_W: float  # its enthalpy
    surface_dry_W: float
    walls_W: float
    piping_W: float


class LiquorParts(NamedTuple):
    """Enthalpy above the triple point, and volume, of the liquor's two parts; columns of `liquor_table`."""

    water_J_kg: float
    salt_J_kg: float
    water_m3_kg: float
    salt_m3_kg: float


def loss_table(unit: AssembledUnit, conditions: Conditions) -> TemperatureTable:
    """Losses of tank and piping.

    Raises: OutOfRange and NotConverged from the tank, each naming its variable.
    """
    solids = conditions.liquor.dissolved_solids_kg_kg
    tank = tank_of(unit.tank, conditions.lid_fraction)
    air, pressure_Pa = conditions.air, conditions.pressure_Pa

    def losses(temperature_K: float) -> Losses:
        lost = tank_losses(
            tank=tank,
            liquid_temperature_K=temperature_K,
            room_temperature_K=air.temperature_K,
            room_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
            pressure_Pa=pressure_Pa,
            air_speed_m_s=conditions.air_speed_m_s,
            water_activity=sodium_chloride_water_activity(solids, temperature_K),
        )
        piping = pipe_loss(
            liquid_temperature_K=temperature_K,
            room_temperature_K=air.temperature_K,
            pressure_Pa=pressure_Pa,
            pipe_diameter_m=PIPE_DIAMETER_m,
            length_m=conditions.piping_length_m,
            insulation_thickness_m=0.0,
            insulation_conductivity_W_mK=0.045,
            emissivity=PIPE_EMISSIVITY,
        )
        return Losses(
            lost.surface_evaporation_kg_s,
            lost.surface_vapour_enthalpy_flow_W,
            lost.surface_sensible_W,
            lost.lid_heat_W + lost.wall_heat_W + lost.floor_heat_W,
            piping.heat_W,
        )

    last_K = saturation_temperature_K(pressure_Pa) - _UNDER_BOILING_K
    places = [COLDEST_K + (last_K - COLDEST_K) * index / (LOSS_NODES - 1) for index in range(LOSS_NODES)]
    return table_through(list(map(losses, places)), COLDEST_K, last_K, _boiling_K(conditions))


def heat_table(unit: AssembledUnit, conditions: Conditions) -> TemperatureTable:
    """Heat of the heat source at full output; one column.

    Where a supply limit takes over, the corner is rounded within one node's spacing (about 3 K).
    Raises: OutOfRange, InputError and NotConverged from the heat source, where it cannot be rated over half the range.
    """

    def heat_W(temperature_K: float) -> float:
        return rate_heat(unit.heat_source, conditions.heat_site, temperature_K).heat_W

    boiling_K = _boiling_K(conditions)
    first_K, last_K = rated_ends_K(heat_W, COLDEST_K, boiling_K - _UNDER_BOILING_K)
    places = [first_K + (last_K - first_K) * index / (HEAT_NODES - 1) for index in range(HEAT_NODES)]
    return table_through([(heat_W(place),) for place in places], first_K, last_K, boiling_K)


def liquor_table(conditions: Conditions) -> TemperatureTable:
    """The two parts of the season's liquor; the salt's columns are nothing where there is none."""
    solids = conditions.liquor.dissolved_solids_kg_kg
    boiling_K = _boiling_K(conditions)
    rows: list[Row] = []
    salt_J_kg = before_J_kgK = 0.0
    for temperature_K in grid_K(boiling_K):
        water_m3_kg = 1.0 / liquid_density_kg_m3(temperature_K)
        salt_m3_kg = salt_J_kgK = 0.0
        if solids > 0.0:
            water_J_kgK = liquid_heat_capacity_J_kgK(temperature_K)
            liquor_J_kgK = sodium_chloride_heat_capacity_J_kgK(solids, temperature_K)
            salt_J_kgK = (liquor_J_kgK - (1.0 - solids) * water_J_kgK) / solids
            liquor_m3_kg = 1.0 / sodium_chloride_density_kg_m3(solids, temperature_K)
            salt_m3_kg = (liquor_m3_kg - (1.0 - solids) * water_m3_kg) / solids
        salt_J_kg += 0.5 * STEP_K * (before_J_kgK + salt_J_kgK) if rows else 0.0
        before_J_kgK = salt_J_kgK
        rows.append(LiquorParts(liquid_enthalpy_J_kg(temperature_K), salt_J_kg, water_m3_kg, salt_m3_kg))
    return TemperatureTable(tuple(rows), COLDEST_K, boiling_K)


def _boiling_K(conditions: Conditions) -> float:
    return boiling_temperature_K(conditions.liquor, conditions.pressure_Pa)
