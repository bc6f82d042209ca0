"""Which field of a step a channel of the run's log reads as well: the same quantity, at the same place, at one moment.

Written out and not guessed: fields of one name are a mean over hours in one step and a moment in another, and a
quantity says nothing about the place. A field that is not here has its value from the panel only where the register map
names step and field.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

CHANNEL_FOR_FIELD: Final[Mapping[tuple[str, str], str]] = {
    ("documents.conditions", "air_temperature_K"): "inlet_air_temperature_K",
    ("documents.conditions", "wet_bulb_K"): "inlet_wet_bulb_K",
    ("documents.conditions", "pressure_Pa"): "barometer_Pa",
    ("documents.conditions", "water_temperature_K"): "feed_temperature_K",
    ("burner.combustion_high", "oxygen"): "flue_oxygen",
    ("burner.combustion_high", "stack_temperature_K"): "stack_temperature_K",
    ("burner.combustion_low", "oxygen"): "flue_oxygen",
    ("burner.combustion_low", "stack_temperature_K"): "stack_temperature_K",
    ("steam.pressures", "coil_gauge_Pa"): "steam_gauge_Pa",
    ("steam.condensate", "tank_temperature_K"): "tank_temperature_K",
    ("hydraulics.spray_flow", "spray_flow_m3_s"): "spray_flow_m3_s",
    ("hydraulics.air_flow", "air_flow_m3_s"): "air_flow_m3_s",
    ("run.isolate", "inlet_wet_bulb_K"): "inlet_wet_bulb_K",
    ("run.settle", "tank_temperature_K"): "tank_temperature_K",
    ("run.clamp", "holds_K"): "tank_temperature_K",
}


def targets_for(step: str, field: str) -> tuple[str, ...]:
    """Targets of a register map whose value a field may show, the field's own first."""
    channel = CHANNEL_FOR_FIELD.get((step, field))
    own = f"{step}/{field}"
    return (own,) if channel is None else (own, channel)
