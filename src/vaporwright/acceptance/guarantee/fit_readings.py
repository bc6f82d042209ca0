"""The readings that a fit of the unit works from: what each is called, and which of them no fit can start with."""

from __future__ import annotations

import math
from typing import Final

from vaporwright.acceptance.run.log import SteadyReadings
from vaporwright.foundation.errors import InputError

RUN: Final = "performance run"
READ: Final = ("tank_temperature_K", "inlet_air_temperature_K", "inlet_wet_bulb_K", "pressure_Pa", "feed_temperature_K")
FLOWS: Final = ("evaporation_kg_s", "spray_flow_m3_s", "air_flow_m3_s", "heat_drawn_W")
LABELS: Final = {
    "tank_temperature_K": "tank temperature",
    "inlet_air_temperature_K": "air at the blower's inlet",
    "inlet_wet_bulb_K": "wet bulb at the blower's inlet",
    "pressure_Pa": "barometer",
    "feed_temperature_K": "make-up temperature",
    "drift_kg_s": "drift, which no tracer told",
    "evaporation_kg_s": "evaporation as measured, drift taken off",
    "return_temperature_K": "return temperature",
    "spray_flow_m3_s": "spray flow as measured",
    "air_flow_m3_s": "air flow as measured",
    "exhaust_temperature_K": "exhaust temperature",
    "exhaust_wet_bulb_K": "wet bulb of the exhaust",
    "heat_drawn_W": "fuel, power or steam as measured",
    "full_heat_W": "fuel, power or steam at full heat, clocked apart",
    "stack": "stack temperature and oxygen",
    "balance": "the heat balance of the model",
}


def require_readings(readings: SteadyReadings) -> None:
    """Raise InputError for the first reading that is nonsense by itself, or beside the air that was read."""
    for name, measured in vars(readings).items():
        if measured is None:
            continue
        if not math.isfinite(measured.value) or measured.value < 0.0:
            raise InputError(RUN, name, f"{measured.value:.6g} is no reading", "a finite value above 0 (SI)")
        if measured.value == 0.0 and name not in ("drift_kg_s", "flue_oxygen"):
            raise InputError(RUN, name, "0 is no reading of a running unit", "above 0 (SI)")
        if not (math.isfinite(measured.standard_uncertainty) and measured.standard_uncertainty > 0.0):
            problem = f"standard uncertainty {measured.standard_uncertainty:.6g}"
            raise InputError(RUN, name, problem, "above 0: no instrument is exact")
        if name in FLOWS and measured.standard_uncertainty > measured.value:
            problem = f"{measured.value:.6g} is less than its standard uncertainty, {measured.standard_uncertainty:.6g}"
            raise InputError(RUN, name, problem, "a reading that says something")
    air_K, bulb_K = readings.inlet_air_temperature_K.value, readings.inlet_wet_bulb_K.value
    if bulb_K > air_K:
        raise InputError(
            RUN, "inlet_wet_bulb_K", f"{bulb_K:.2f} K is above the air's {air_K:.2f} K", "at most the air's"
        )
    if readings.tank_temperature_K.value <= bulb_K:
        problem = f"{readings.tank_temperature_K.value:.2f} K is not above the wet bulb of the air, {bulb_K:.2f} K"
        raise InputError(RUN, "tank_temperature_K", problem, "a tank that evaporates")
