"""How a shop builds: its margins and usual figures; common practice, no source, until its catalogue says so."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from vaporwright.equipment.level_rods import LevelPractice

_INCH: Final = 0.0254


@dataclass(frozen=True)
class ShopPractice:
    """Settings of the catalogue's [practice] table; the usual gaps of the level stack-up are in `levels`."""

    most_share_of_capacity: float = 0.90  # that a duty may take
    clear_of_clamp_difference_K: float = 2.0  # tank below its clamp with the heat full on, in summer
    spray_share: float = 0.8  # of the pump's flow; the rest agitates
    least_spray_time_s: float = 240.0  # working volume over spray flow
    candidates_shown: float = 4.0
    suction_velocity_m_s: float = 1.2
    discharge_velocity_m_s: float = 2.0
    bottom_slope: float = 0.125 / 12.0  # of the tank's bottom, to the drain
    gas_line_drop_Pa: float = 0.5 * 249.08891  # most, meter to train
    trap_factor: float = 3.0
    trap_drain_leg_m: float = 14.0 * _INCH
    exhaust_velocity_m_s: float = 10.2  # most in a wet duct: 2,000 ft/min
    room_depressurisation_Pa: float = 4.0  # most; a natural-draft flue spills at 0.02 in. w.c., 4.98 Pa
    stiffener_share: float = 0.25  # rim, ribs and legs over a tank's plates
    packing_share: float = 0.12  # skid and crate over the dry unit
    panel_mass_kg: float = 90.0  # panel, piping and valves
    control_power_VA: float = 1500.0  # panel, dosing, lamps
    levels: LevelPractice = field(default_factory=LevelPractice)
