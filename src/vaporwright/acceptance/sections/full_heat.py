"""Where a test sees the heat at full output: the step, and the field, that clock or weigh ten minutes of it.

A performance run whose tank stands at its set point shows only the mean of heat that goes on and off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

CLOCKED_s: Final = 600.0
TANK_MEANWHILE: Final = "tank_temperature_K"  # read where the output goes with it


class FullHeat(NamedTuple):
    """Step and field of what was clocked."""

    step: str
    field: str


FULL_HEAT: Final[Mapping[str, FullHeat]] = {
    "gas": FullHeat("burner.clocked_high", "gas_volume_standard_m3"),
    "electric": FullHeat("heater.power", "energy_J"),
    "steam": FullHeat("steam.condensate", "condensate_kg"),
}
