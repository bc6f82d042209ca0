"""Reducing a fill test: the Merkel number that explains measured water and air states, by two models.

Poppe's number and Merkel's number of the same test differ by 7 to 12 % in hot cases; a catalogue says by which
model its points were reduced, and a rating uses the same model.
"""

from __future__ import annotations

from vaporwright.equipment.tower_kernels import PINCHED, Bottom, march_up
from vaporwright.foundation.errors import NotConverged, OutOfRange
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air import enthalpy_J_kg, saturation_humidity_ratio_kg_kg
from vaporwright.properties.moist_air_kernels import (
    moist_air_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

WATER_HEAT_CAPACITY_J_kgK = 4186.8  # Merkel's method holds it constant
_FINE = 1.0e-7


@sourced("kloppers-kroeger-2005", "Poppe's equations integrated between measured water temperatures")
def poppe_merkel_number(
    *,
    water_in_temperature_K: float,
    water_out_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    water_activity: float = 1.0,
) -> float:
    """Merkel number K a V / water flow in, by Poppe's model, from a measured test.

    Args: temperatures [K]: the water cools, and stays above the wet bulb; flows [kg/s] above 0; the rest as in
        equipment.tower.rate_counterflow, of which this is the inverse.
    Returns: Merkel number [-].
    Raises:
        OutOfRange: the water is not cooled.
        NotConverged: no fill could cool the water so far with this air.
    """
    _require_cooling(water_in_temperature_K, water_out_temperature_K)
    saturation_humidity_ratio_kg_kg(water_in_temperature_K, pressure_Pa, water_activity)
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    air_in_J_kg = enthalpy_J_kg(air_temperature_K, air_humidity_ratio_kg_kg, pressure_Pa)
    # Where a fill pinches half-way two outlet flows fit; only the one with more evaporation meets the hot water.
    picked_up = ratio * WATER_HEAT_CAPACITY_J_kgK * (water_in_temperature_K - water_out_temperature_K) / 2.2e6
    for _ in range(30):
        bottom = Bottom(
            water_out_temperature_K,
            ratio - picked_up,
            ratio,
            air_in_J_kg,
            air_humidity_ratio_kg_kg,
            air_temperature_K,
            pressure_Pa,
            water_activity,
        )
        march = march_up(bottom, water_in_temperature_K, PINCHED, _FINE, 0.0)
        if not march.reached:
            raise NotConverged(
                f"merkel_number: no fill cools water from {water_in_temperature_K:.6g} K to "
                f"{water_out_temperature_K:.6g} K with this air (the driving force ends on the way)"
            )
        before, picked_up = picked_up, march.humidity_ratio_kg_kg - air_humidity_ratio_kg_kg
        if abs(picked_up - before) < 1.0e-6 * ratio:  # the march is no finer
            return march.merkel_number
    raise NotConverged("merkel_number: the water flow at the outlet did not settle")


@sourced("merkel-1925", "Me = integral of cp dT / (h_s - h), water loss neglected, Lewis factor 1")
@sourced("kloppers-kroeger-2005", "Merkel's method beside Poppe's")
def merkel_method_number(
    *,
    water_in_temperature_K: float,
    water_out_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
) -> float:
    """Merkel number by Merkel's method (enthalpy difference alone), for comparison with published fill data.

    Simpson's rule on 200 intervals. Args and errors: as in poppe_merkel_number.
    """
    _require_cooling(water_in_temperature_K, water_out_temperature_K)
    saturation_humidity_ratio_kg_kg(water_in_temperature_K, pressure_Pa)
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    air_in_J_kg = enthalpy_J_kg(air_temperature_K, air_humidity_ratio_kg_kg, pressure_Pa)
    intervals = 200
    step = (water_in_temperature_K - water_out_temperature_K) / intervals
    total = 0.0
    for index in range(intervals + 1):
        temperature = water_out_temperature_K + index * step
        saturated = saturated_humidity_ratio_kg_kg(temperature, pressure_Pa, 1.0)
        air_J_kg = air_in_J_kg + ratio * WATER_HEAT_CAPACITY_J_kgK * (temperature - water_out_temperature_K)
        force = moist_air_enthalpy_J_kg(temperature, saturated, pressure_Pa) - air_J_kg
        if force <= 0.0:
            raise NotConverged(
                f"merkel_number: the enthalpy difference ends at {temperature:.6g} K; no fill cools water from "
                f"{water_in_temperature_K:.6g} K to {water_out_temperature_K:.6g} K with this air"
            )
        weight = 1.0 if index in (0, intervals) else (4.0 if index % 2 else 2.0)
        total += weight * WATER_HEAT_CAPACITY_J_kgK / force
    return total * step / 3.0


def _require_cooling(water_in_K: float, water_out_K: float) -> None:
    if not water_in_K > water_out_K:
        raise OutOfRange("water_out_temperature_K", water_out_K, 273.15, water_in_K, "a fill test cools the water")
