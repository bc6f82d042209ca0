"""What a unit draws, by the meters of its heat: gas, electric energy, condensate.

A gas meter turns by the volume that goes through it, at its own temperature and pressure; heating values are per
standard volume. So a dial is logged with the gas's temperature and its pressure over the barometer, and brought to
standard conditions here; a meter that corrects by itself is logged as standard volume and taken as it is. Where both
were logged, the corrected one counts.

`heat_of_a_weighing` is the heat of one clocked or weighed stretch with the heat on throughout: it shows what a source
gives at full output, which a run whose heat goes on and off does not.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import hypot
from typing import Final

from vaporwright.acceptance.run.averages import combined
from vaporwright.acceptance.run.log import Measured
from vaporwright.properties.fuels import (
    FuelComposition,
    gross_heating_value_J_standard_m3,
    standard_gas_volume_factor,
)
from vaporwright.properties.steam import latent_heat_J_kg
from vaporwright.properties.water import saturation_temperature_K

# Standard, common practice, no source
HEATING_VALUE_RELATIVE: Final = 0.005  # of a fuel whose supplier states it
STEAM_DRYNESS: Final = Measured(0.99, 0.01)
CLOCKED_BY_HAND_s: Final = 3.0  # begin and end of a stretch, by stopwatch and bucket
GAS_AT_METER: Final = "gas_volume_meter_m3"
GAS_STANDARD: Final = "gas_volume_standard_m3"
HEAT_METERS: Final[Mapping[str, str]] = {
    "gas": GAS_STANDARD,
    "electric": "electric_energy_J",
    "steam": "condensate_mass_kg",
}
_FLUE: Final = ("stack_temperature_K", "flue_oxygen")
_DIAL: Final = (GAS_AT_METER, "gas_meter_temperature_K", "gas_meter_gauge_Pa", "barometer_Pa")
# What stands for the heating value and the steam beside the channels
HEAT_CONSTANTS: Final[Mapping[str, Measured]] = {
    "heating value": Measured(1.0, HEATING_VALUE_RELATIVE),
    "dryness": STEAM_DRYNESS,
}


def heat_channels(kind: str, logged: Collection[str]) -> tuple[str, ...]:
    """The channels that the heat drawn, and that into the bath, need; for gas by the meter that was logged."""
    if kind == "electric":
        return (HEAT_METERS[kind],)
    if kind == "steam":
        return HEAT_METERS[kind], "steam_gauge_Pa"
    by_dial = GAS_AT_METER in logged and GAS_STANDARD not in logged
    return (*(_DIAL if by_dial else (GAS_STANDARD,)), *_FLUE)


def drawn_W(fuel: FuelComposition | None, values: Mapping[str, float]) -> float:
    """Heat drawn: gross fuel input, electric power, or what the steam gave in condensing.

    Args: fuel: of a burner; None for the others. values: rates and means by channel, with HEAT_CONSTANTS.
    """
    if fuel is not None:
        heating_value = gross_heating_value_J_standard_m3(fuel) * values["heating value"]
        return _standard_m3_s(values) * heating_value
    if "electric_energy_J" in values:
        return values["electric_energy_J"]
    boiling_K = saturation_temperature_K(values["steam_gauge_Pa"] + values["barometer_Pa"])
    return values["condensate_mass_kg"] * values["dryness"] * latent_heat_J_kg(boiling_K)


def _standard_m3_s(values: Mapping[str, float]) -> float:
    if GAS_STANDARD in values:
        return values[GAS_STANDARD]
    factor = standard_gas_volume_factor(
        temperature_K=values["gas_meter_temperature_K"],
        pressure_Pa=values["barometer_Pa"] + values["gas_meter_gauge_Pa"],
    )
    return values[GAS_AT_METER] * factor


def heat_of_a_weighing(
    kind: str, fuel: FuelComposition | None, amount: Measured, seconds: float, beside: Mapping[str, Measured]
) -> Measured:
    """Heat drawn over one stretch at full output.

    Args:
        amount: standard volume of gas [m3], energy [J] or condensate [kg] of the stretch.
        seconds [s]: how long it was clocked; its begin and end are uncertain by CLOCKED_BY_HAND_s.
        beside: barometer_Pa and, for steam, steam_gauge_Pa.
    Returns: heat [W] with its standard uncertainty.
    """
    rate = amount.value / seconds
    uncertainty = hypot(amount.standard_uncertainty / seconds, rate * CLOCKED_BY_HAND_s / seconds)
    inputs = {HEAT_METERS[kind]: Measured(rate, uncertainty), **beside, **HEAT_CONSTANTS}
    return combined(lambda values: drawn_W(fuel, values), inputs)
