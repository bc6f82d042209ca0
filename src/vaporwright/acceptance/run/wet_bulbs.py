"""Humidity and the two bulbs of a psychrometer, as readings have them: air at and beyond saturation included."""

from __future__ import annotations

from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    saturation_humidity_ratio_kg_kg,
    wet_bulb_temperature_K,
)


def humidity_of_bulbs_kg_kg(air_K: float, wet_bulb_K: float, pressure_Pa: float) -> float:
    """Of air by its two bulbs; a wet bulb above the dry, within what both leave open, is saturated air."""
    if wet_bulb_K >= air_K:
        return saturation_humidity_ratio_kg_kg(air_K, pressure_Pa)
    return humidity_ratio_from_wet_bulb_kg_kg(air_K, wet_bulb_K, pressure_Pa)


def wet_thermometer_K(air_K: float, humidity_kg_kg: float, pressure_Pa: float) -> float:
    """What a wet thermometer reads; in fog, which exhaust often is, what a dry one reads too."""
    if humidity_kg_kg >= saturation_humidity_ratio_kg_kg(air_K, pressure_Pa):
        return air_K
    return wet_bulb_temperature_K(air_K, humidity_kg_kg, pressure_Pa)
