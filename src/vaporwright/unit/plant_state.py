"""A simulated unit's actuators, its state, and the sums by which its balances are checked."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

from vaporwright.foundation.errors import require_range

_SHARES: Final = ("heat_load", "air_share", "pump_share", "spray_open", "nozzle_share", "drain_opening")


@dataclass(frozen=True, slots=True)
class PlantInputs:
    """What acts on the unit during a step: shares are of the design's, 0 to 1; by default everything rests.

    Raises OutOfRange for a share outside 0 to 1, and for a negative flow, depth or factor.
    """

    heat_load: float = 0.0  # delivered by burner, elements or valve, of full output
    air_share: float = 0.0  # airflow, as the blower's share of speed
    pump_share: float = 0.0  # of the pump's flow
    spray_open: float = 0.0  # valve to the spray; shut, the pump only agitates (warm-up)
    nozzle_share: float = 1.0  # of the design's spray that nozzles and throttle let through
    refill_valve_open: bool = False
    refill_second_valve_open: bool = False  # in series with the first
    trickle_m3_s: float = 0.0
    drain_opening: float = 0.0  # clear area of the drain valve
    press_m3_s: float = 0.0  # liquor drawn off to a filter press; its filtrate does not come back
    foam_m: float = 0.0  # on the liquor: the rods take it for level
    wave_m: float = 0.0  # amplitude at the rods
    heat_transfer_factor: float = 1.0  # scale on the heater: of the heat that a clean one gives

    def __post_init__(self) -> None:
        for name in _SHARES:
            require_range(name, getattr(self, name), 0.0, 1.0, "a share of the design's")
        require_range("trickle_m3_s", self.trickle_m3_s, 0.0, 0.1, "feed")
        require_range("press_m3_s", self.press_m3_s, 0.0, 0.1, "to the filter press")
        require_range("foam_m", self.foam_m, 0.0, 2.0, "foam")
        require_range("wave_m", self.wave_m, 0.0, 1.0, "wave")
        require_range("heat_transfer_factor", self.heat_transfer_factor, 0.0, 1.5, "of a clean heater's heat")


@dataclass(slots=True)
class PlantState:
    """Where the unit stands. The header's liquor has the tank's temperature, the tower's its own."""

    time_s: float
    temperature_K: float  # of tank and header, well mixed
    water_kg: float  # in tank and header
    salt_kg: float
    header_m3: float
    tower_water_kg: float  # in fill, sump and return pipe
    tower_salt_kg: float
    return_temperature_K: float
    heater_W: float  # from the heater's metal into the liquor
    thermometer_K: float
    slope_K_s: float  # of the temperature over the last step
    spray_share: float  # falling over the fill, of the design's
    heater_uncovered_s: float  # heating with liquor below the heater's top, in all
    pump_dry_s: float  # running with liquor below its suction, in all


@dataclass(slots=True)
class PlantTotals:
    """Sums since the start. In: positive into the liquor; out: positive out of it."""

    refill_kg: float = 0.0
    trickle_kg: float = 0.0
    feed_salt_kg: float = 0.0
    tower_evaporation_kg: float = 0.0
    surface_evaporation_kg: float = 0.0
    boiled_kg: float = 0.0
    drift_kg: float = 0.0
    drained_kg: float = 0.0
    overflowed_kg: float = 0.0
    spilled_kg: float = 0.0  # over the rim
    pressed_kg: float = 0.0
    salt_out_kg: float = 0.0
    heat_source_J: float = 0.0  # into the heater's metal where it is under liquor
    uncovered_heater_J: float = 0.0  # given off by bare heater, not into the liquor
    pump_J: float = 0.0
    feed_J: float = 0.0
    tower_air_J: float = 0.0
    surface_vapour_J: float = 0.0
    surface_dry_J: float = 0.0
    walls_J: float = 0.0
    piping_J: float = 0.0
    drift_J: float = 0.0
    liquor_out_J: float = 0.0  # with what is drained, overflowed, spilled, pressed
    boiled_J: float = 0.0

    @property
    def feed_kg(self) -> float:
        """Refill and trickle."""
        return self.refill_kg + self.trickle_kg

    @property
    def evaporation_kg(self) -> float:
        """Tower, surface, boiling."""
        return self.tower_evaporation_kg + self.surface_evaporation_kg + self.boiled_kg

    @property
    def mass_gained_kg(self) -> float:
        """Mass in less mass out."""
        lost = self.drift_kg + self.drained_kg + self.overflowed_kg + self.spilled_kg + self.pressed_kg
        return self.feed_kg - self.evaporation_kg - lost

    @property
    def energy_gained_J(self) -> float:
        """Energy in less energy out."""
        lost = self.surface_vapour_J + self.surface_dry_J + self.walls_J + self.piping_J + self.drift_J
        lost += self.tower_air_J + self.liquor_out_J + self.boiled_J
        return self.heat_source_J + self.pump_J + self.feed_J - lost

    def since(self, earlier: PlantTotals) -> PlantTotals:
        """What came to these sums after an earlier copy of them."""
        return PlantTotals(*(getattr(self, item.name) - getattr(earlier, item.name) for item in fields(self)))
