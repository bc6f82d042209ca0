"""The log of a performance run: which quantities are logged, and their values over time, SI.

Channels may be typed, come from a file, or be read live; where a reading is missing stands None. Cumulative channels
(`total`) only rise: scale, meters, condensate. The means over a steady span, each with its standard uncertainty, are
`SteadyReadings`: what site prediction and diagnosis work from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.errors import InputError


@dataclass(frozen=True)
class Channel:
    """One logged quantity."""

    name: str
    label: str
    quantity: str  # of display_units
    instrument: str  # kind, of instruments.KINDS
    low: float  # plausible range [SI]; outside is an error of the reading, never clamped
    high: float
    total: bool = False
    only_for: str = ""  # kind of heat


CHANNELS: Final = (
    Channel("make_up_mass_kg", "make-up weighed, total", "mass", "scale", 0.0, 1.0e6, total=True),
    Channel("make_up_volume_m3", "make-up metered, total", "volume", "water meter", 0.0, 1.0e3, total=True),
    Channel("stilling_level_m", "level in the stilling well", "short length", "level gauge", 0.0, 5.0),
    Channel("feed_temperature_K", "make-up", "temperature", "thermometer", 273.15, 333.15),
    Channel("tank_temperature_K", "liquor to the spray", "temperature", "thermometer pair", 273.15, 373.15),
    Channel("return_temperature_K", "liquor in the return", "temperature", "thermometer pair", 273.15, 373.15),
    Channel("spray_flow_m3_s", "spray flow", "liquid flow", "liquid flow meter", 0.0, 0.1),
    Channel("inlet_air_temperature_K", "air at the blower's inlet", "temperature", "psychrometer", 223.15, 333.15),
    Channel("inlet_wet_bulb_K", "wet bulb at the blower's inlet", "temperature", "psychrometer", 223.15, 323.15),
    Channel("air_flow_m3_s", "air flow at the blower's inlet", "air flow", "air traverse", 0.0, 50.0),
    Channel("exhaust_temperature_K", "exhaust air", "temperature", "psychrometer", 253.15, 373.15),
    Channel("exhaust_wet_bulb_K", "wet bulb of the exhaust", "temperature", "psychrometer", 253.15, 373.15),
    Channel("barometer_Pa", "barometer", "absolute pressure", "barometer", 6.0e4, 1.1e5),
    Channel("room_temperature_K", "room at the tank", "temperature", "thermometer", 253.15, 333.15),
    Channel("gas_volume_standard_m3", "gas, total, by a meter that corrects to standard conditions",
            "standard gas volume", "gas meter", 0.0, 1.0e5, total=True, only_for="gas"),
    Channel("gas_volume_meter_m3", "gas, total, as the meter's dial shows", "gas volume", "gas meter", 0.0, 1.0e6,
            total=True, only_for="gas"),
    Channel("gas_meter_temperature_K", "gas at the meter", "temperature", "thermometer", 233.15, 333.15,
            only_for="gas"),
    Channel("gas_meter_gauge_Pa", "gas at the meter, over the barometer", "pressure", "manometer", 0.0, 5.0e5,
            only_for="gas"),
    Channel("stack_temperature_K", "stack", "temperature", "stack thermometer", 273.15, 1073.15, only_for="gas"),
    Channel("flue_oxygen", "oxygen in the dry flue gas", "fraction", "flue gas analyser", 0.0, 0.21, only_for="gas"),
    Channel("electric_energy_J", "energy of the heater, total", "energy", "energy meter",
            0.0, 1.0e12, total=True, only_for="electric"),
    Channel("condensate_mass_kg", "condensate weighed, total", "mass", "scale", 0.0, 1.0e6, total=True,
            only_for="steam"),
    Channel("steam_gauge_Pa", "steam at the coil", "gauge pressure", "pressure gauge", 0.0, 2.0e6, only_for="steam"),
    Channel("tracer_kg_m3", "tracer in the tank", "mass concentration", "conductivity meter", 0.0, 50.0),
)  # fmt: skip
CHANNEL_OF: Final[Mapping[str, Channel]] = {channel.name: channel for channel in CHANNELS}


@dataclass(frozen=True)
class RunLog:
    """Rows of a performance run.

    Raises: InputError for times that do not rise, a column of another length, an unknown channel, an implausible
    value or a total that falls; each names channel, row (from 1), value and what is allowed.
    """

    times_s: tuple[float, ...]
    columns: Mapping[str, tuple[float | None, ...]]

    def __post_init__(self) -> None:
        for row, (before_s, time_s) in enumerate(zip(self.times_s, self.times_s[1:], strict=False), 2):
            if not time_s > before_s:
                raise InputError("run log", f"row {row}: time", f"{time_s:g} s does not come after {before_s:g} s")
        for name, values in self.columns.items():
            if name not in CHANNEL_OF:
                raise InputError("run log", name, "is no channel", ", ".join(CHANNEL_OF))
            if len(values) != len(self.times_s):
                problem = f"{len(values)} values at {len(self.times_s)} times"
                raise InputError("run log", name, problem, "one value, or none, for each time")
            _check(CHANNEL_OF[name], values)

    def has(self, name: str) -> bool:
        """Whether a channel was logged at all."""
        return any(value is not None for value in self.columns.get(name, ()))

    def between(self, begin_s: float, end_s: float) -> RunLog:
        """The rows from one time to another, both included."""
        kept = [place for place, time_s in enumerate(self.times_s) if begin_s <= time_s <= end_s]
        columns = {name: tuple(values[place] for place in kept) for name, values in self.columns.items()}
        return RunLog(tuple(self.times_s[place] for place in kept), columns)

    def series(self, name: str) -> tuple[tuple[float, float], ...]:
        """Times and values of a channel where it was read."""
        values = self.columns.get(name, ())
        found = zip(self.times_s, values, strict=False)
        return tuple((time_s, value) for time_s, value in found if value is not None)


def channels_for(heat: str) -> tuple[Channel, ...]:
    """The channels that a unit of this heat can log."""
    return tuple(channel for channel in CHANNELS if channel.only_for in ("", heat))


def _check(channel: Channel, values: tuple[float | None, ...]) -> None:
    latest = -float("inf")
    for row, value in enumerate(values, 1):
        if value is None:
            continue
        where = f"row {row}: {channel.name}"
        if not channel.low <= value <= channel.high:
            raise InputError("run log", where, f"{value:.6g}", f"{channel.low:g} to {channel.high:g} (SI)")
        if channel.total:
            if value < latest:
                raise InputError("run log", where, f"{value:.6g} after {latest:.6g}", "a total never falls")
            latest = value


@dataclass(frozen=True)
class Measured:
    """A value with its standard uncertainty, both SI."""

    value: float
    standard_uncertainty: float


@dataclass(frozen=True)
class SteadyReadings:
    """Means over the steady span of a performance run, or of a unit in service; None where not measured."""

    evaporation_kg_s: Measured  # tower and surface, drift taken off
    tank_temperature_K: Measured
    inlet_air_temperature_K: Measured
    inlet_wet_bulb_K: Measured
    pressure_Pa: Measured
    feed_temperature_K: Measured
    spray_flow_m3_s: Measured | None = None
    return_temperature_K: Measured | None = None
    air_flow_m3_s: Measured | None = None  # at the blower's inlet
    exhaust_temperature_K: Measured | None = None
    exhaust_wet_bulb_K: Measured | None = None
    room_temperature_K: Measured | None = None
    heat_drawn_W: Measured | None = None  # gross fuel input, electric power, or heat of the steam condensed
    stack_temperature_K: Measured | None = None
    flue_oxygen: Measured | None = None
    drift_kg_s: Measured | None = None
    set_point_K: Measured | None = None  # that the control shows; of a unit in service
    full_heat_W: Measured | None = None  # drawn with the heat on throughout, clocked or weighed apart from the run
    full_heat_bath_K: Measured | None = None  # the tank meanwhile
