"""The room side: air that blower and burner take from the room, what replaces it, and what that does to a flue.

A blower takes thousands of cubic feet a minute. Whatever enters no other way comes down the flue: the room's pressure
falls until the openings pass the flow, and a natural-draft flue then spills carbon monoxide, which kills without smell.
These are sizes for a connection sheet. The fuel gas and mechanical codes in force, a **licensed fitter** and a test on
site with all fans running decide; draft proved by a switch, or sealed combustion, is the usual precaution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.foundation.errors import InputError, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import AIR_MOLAR_MASS_kg_mol, Combustion
from vaporwright.properties.fuels import gross_heating_value_J_mol
from vaporwright.properties.moist_air import enthalpy_J_kg, specific_volume_m3_kg

FlueKind = Literal["natural draft", "sealed"]

SHARP_OPENING_DISCHARGE: Final = 0.6
NATURAL_DRAFT_LIMIT_Pa: Final = 4.98  # 0.02 in. w.c.

ROOM_AIR_CAUTION: Final = (
    "A room at negative pressure draws flue gas back in: carbon monoxide kills without smell. Interlock make-up air"
    " with the blower, prove draft or use sealed combustion, fit a carbon monoxide alarm, and test with every fan in"
    " the building running and all doors shut. The local code and a licensed fitter decide."
)


@dataclass(frozen=True, slots=True)
class MakeUpAir:
    """Air that the unit takes out of the room, and what must come in for it."""

    dry_air_kg_s: float
    outdoor_volume_m3_s: float  # as it passes the opening, at outdoor temperature
    room_volume_m3_s: float
    heating_W: float  # to bring it to the room's temperature now; zero where outdoors is no colder
    caution: str = ROOM_AIR_CAUTION


@dataclass(frozen=True, slots=True)
class SeasonalAirHeat:
    """Heat for make-up air over a season."""

    mean_heat_W: float  # while running
    heat_J: float
    energy_J: float  # of fuel or power, after the heater's efficiency
    cost_USD: float | None  # None without a price


@dataclass(frozen=True, slots=True)
class FlueSpillage:
    """Whether a room's depressurisation turns a flue around."""

    depressurisation_Pa: float
    limit_Pa: float | None  # None for sealed combustion
    margin_Pa: float | None
    spills: bool
    warnings: tuple[Notice, ...]
    caution: str = ROOM_AIR_CAUTION


@sourced("combustion-stoichiometry", "air for the gross input at the stated excess")
def combustion_dry_air_kg_s(combustion: Combustion, gross_input_W: float) -> float:
    """Dry air that a burner takes.

    Equation: input / gross heating value x dry air per mol of fuel.
    Args: combustion: of the fuel at its excess air; gross_input_W [W]: not negative.
    Returns: flow [kg/s].
    Raises: OutOfRange.
    Source: combustion-stoichiometry.
    """
    require_range("gross_input_W", gross_input_W, 0.0, None, "gross input")
    fuel_mol_s = gross_input_W / gross_heating_value_J_mol(combustion.fuel)
    return fuel_mol_s * combustion.dry_air_mol_mol * AIR_MOLAR_MASS_kg_mol


@sourced("make-up-air-balance", "what leaves the room comes in; heat by enthalpy at outdoor humidity")
def make_up_air(
    *,
    blower_dry_air_kg_s: float,
    burner_dry_air_kg_s: float,
    dilution_dry_air_kg_s: float,
    room_temperature_K: float,
    outdoor_temperature_K: float,
    outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
) -> MakeUpAir:
    """Make-up air for what blower, burner and draft hood take out of the room.

    Equation: sum of dry air; heat = sum x [h(room T, outdoor W) - h(outdoor T, outdoor W)].
    Args:
        blower_dry_air_kg_s, burner_dry_air_kg_s, dilution_dry_air_kg_s [kg/s]: what is drawn from the room; zero where
            ducted from outdoors or sealed. Dilution is air that a draft hood or barometric damper adds to the flue:
            as much again as the burner's is common.
        room_temperature_K, outdoor_temperature_K [K]: 243.15 to 323.15; outdoor_humidity_ratio_kg_kg: to 0.05.
        pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: MakeUpAir; fans and heaters elsewhere in the room are not in it.
    Raises: OutOfRange.
    Source: make-up-air-balance.
    """
    flows = {"blower": blower_dry_air_kg_s, "burner": burner_dry_air_kg_s, "dilution": dilution_dry_air_kg_s}
    for name, flow in flows.items():
        require_range(f"{name}_dry_air_kg_s", flow, 0.0, None)
    total = sum(flows.values())
    humidity = outdoor_humidity_ratio_kg_kg
    heat_J_kg = _warming_J_kg(room_temperature_K, outdoor_temperature_K, humidity, pressure_Pa)
    return MakeUpAir(
        dry_air_kg_s=total,
        outdoor_volume_m3_s=total * specific_volume_m3_kg(outdoor_temperature_K, humidity, pressure_Pa),
        room_volume_m3_s=total * specific_volume_m3_kg(room_temperature_K, humidity, pressure_Pa),
        heating_W=total * heat_J_kg,
    )


def _warming_J_kg(room_K: float, outdoor_K: float, humidity: float, pressure_Pa: float) -> float:
    for name, value in (("room_temperature_K", room_K), ("outdoor_temperature_K", outdoor_K)):
        require_range(name, value, 243.15, 323.15, "rooms and weather")
    require_range("outdoor_humidity_ratio_kg_kg", humidity, 0.0, 0.05, "weather")
    if outdoor_K >= room_K:
        return 0.0
    return enthalpy_J_kg(room_K, humidity, pressure_Pa) - enthalpy_J_kg(outdoor_K, humidity, pressure_Pa)


@sourced("make-up-air-balance", "mean heat times running time, over the heater's efficiency")
def seasonal_air_heat(
    *,
    dry_air_kg_s: float,
    running_time_s: float,
    room_temperature_K: float,
    mean_outdoor_temperature_K: float,
    mean_outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    heater_efficiency: float,
    energy_price_USD_J: float | None = None,
) -> SeasonalAirHeat:
    """Heat that warms make-up air over a stated heating season, and its cost where a price is stated.

    Equation: mean heat = dry air x [h(room T, W) - h(mean outdoor T, W)]; energy = heat x time / efficiency.
    Args:
        dry_air_kg_s [kg/s]: not negative. running_time_s [s]: hours that the unit runs in the season, to 3.2e7.
        room_temperature_K, mean_outdoor_temperature_K [K], mean_outdoor_humidity_ratio_kg_kg, pressure_Pa: as in
            make_up_air; the mean over those hours. A mean near or above the room's hides the cold hours: split it.
        heater_efficiency [-]: of the building's heater, 0.3 to 6 (above 1: heat pump).
        energy_price_USD_J [USD/J]: of what that heater burns or draws; None leaves the cost out.
    Returns: SeasonalAirHeat; zero heat where outdoors is no colder.
    Raises: OutOfRange.
    Source: make-up-air-balance.
    """
    require_range("dry_air_kg_s", dry_air_kg_s, 0.0, None)
    require_range("running_time_s", running_time_s, 0.0, 3.2e7, "one season")
    require_range("heater_efficiency", heater_efficiency, 0.3, 6.0)
    if energy_price_USD_J is not None:
        require_range("energy_price_USD_J", energy_price_USD_J, 0.0, None)
    heat_W = dry_air_kg_s * _warming_J_kg(
        room_temperature_K, mean_outdoor_temperature_K, mean_outdoor_humidity_ratio_kg_kg, pressure_Pa
    )
    heat_J = heat_W * running_time_s
    energy_J = heat_J / heater_efficiency
    cost_USD = None if energy_price_USD_J is None else energy_price_USD_J * energy_J
    return SeasonalAirHeat(heat_W, heat_J, energy_J, cost_USD)


@sourced("opening-discharge", "dp = rho/2 (Q / (Cd A))^2")
def opening_pressure_Pa(
    *,
    flow_m3_s: float,
    free_area_m2: float,
    density_kg_m3: float,
    discharge_coefficient: float = SHARP_OPENING_DISCHARGE,
) -> float:
    """Pressure by which a room falls below the outdoors when a flow must come through its openings.

    Equation: dp = rho/2 [Q / (Cd A)]^2.
    Args:
        flow_m3_s [m3/s]: outdoor air, less what a make-up fan brings; not negative.
        free_area_m2 [m2]: of all openings and cracks together, above 0; louvres pass less than their face.
        density_kg_m3 [kg/m3]: of the outdoor air, 0.5 to 2. discharge_coefficient: 0.3 to 1; 0.6 for sharp edges.
    Returns: depressurisation [Pa]; wind and stack effect come on top.
    Raises: OutOfRange.
    Source: opening-discharge.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    _require_opening(density_kg_m3, discharge_coefficient)
    require_range("free_area_m2", free_area_m2, 1.0e-6, None, "a shut room: the blower then draws through the flue")
    velocity_m_s = flow_m3_s / (discharge_coefficient * free_area_m2)
    return 0.5 * density_kg_m3 * velocity_m_s * velocity_m_s


@sourced("opening-discharge", "solved for the area")
def opening_area_m2(
    *,
    flow_m3_s: float,
    allowed_pressure_Pa: float,
    density_kg_m3: float,
    discharge_coefficient: float = SHARP_OPENING_DISCHARGE,
) -> float:
    """Free area that passes a flow at an allowed depressurisation: opening_pressure_Pa turned around.

    Args: allowed_pressure_Pa [Pa]: 0.1 to 500; the others as there.
    Returns: free area [m2] of the openings, besides those that the burner's own code rule asks for.
    Raises: OutOfRange.
    Source: opening-discharge.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    _require_opening(density_kg_m3, discharge_coefficient)
    require_range("allowed_pressure_Pa", allowed_pressure_Pa, 0.1, 500.0)
    return flow_m3_s / (discharge_coefficient * math.sqrt(2.0 * allowed_pressure_Pa / density_kg_m3))


def _require_opening(air_density_kg_m3: float, discharge_coefficient: float) -> None:
    require_range("density_kg_m3", air_density_kg_m3, 0.5, 2.0, "outdoor air")
    require_range("discharge_coefficient", discharge_coefficient, 0.3, 1.0, "openings")


@sourced("room-pressure-practice", "natural draft: at most 0.02 in. w.c., and less than the flue's own draft")
def flue_spillage(
    *, kind: FlueKind, depressurisation_Pa: float, flue_draft_Pa: float, flue_loss_Pa: float = 0.0
) -> FlueSpillage:
    """Whether a flue keeps its draft in a room below outdoor pressure.

    Equation: limit = the lesser of 0.02 in. w.c. (4.98 Pa) and flue draft - flue loss; it spills at or above the limit.
    Args:
        kind: "natural draft", or "sealed" (air and flue both ducted outdoors: the room does not matter).
        depressurisation_Pa [Pa]: room below outdoors, not negative, to 1000.
        flue_draft_Pa [Pa]: theoretical (properties.stack.stack_draft_Pa), at the warmest outdoor temperature in use
            and, for start-up, with a cold flue. flue_loss_Pa [Pa]: friction and fittings of the flue.
    Returns: FlueSpillage. A calculation is no proof: a draft switch, and a test with all fans on, are.
    Raises: OutOfRange; InputError for another kind.
    Source: room-pressure-practice.
    """
    require_range("depressurisation_Pa", depressurisation_Pa, 0.0, 1000.0)
    require_range("flue_loss_Pa", flue_loss_Pa, 0.0, None)
    if kind == "sealed":
        return FlueSpillage(depressurisation_Pa, None, None, False, ())
    if kind != "natural draft":
        raise InputError("room air", "kind", f"{kind!r} is not known", "natural draft, sealed")
    require_range("flue_draft_Pa", flue_draft_Pa, -100.0, 1000.0, "a vertical flue")
    net_Pa = flue_draft_Pa - flue_loss_Pa
    limit_Pa = min(NATURAL_DRAFT_LIMIT_Pa, net_Pa)
    spills = depressurisation_Pa >= limit_Pa
    warnings: tuple[Notice, ...] = ()
    if net_Pa <= 0.0:
        warnings = (
            Notice(
                "flue without draft",
                "The flue has no draft of its own left: it spills without any fan. Power vent or sealed unit.",
            ),
        )
    elif spills:
        warnings = (
            Notice(
                "flue spillage",
                "The room stands {0} below outdoors, a natural-draft flue bears {1}: it spills flue gas into the room."
                " Bring in make-up air, interlocked with the blower, or use sealed combustion.",
                ((depressurisation_Pa, "pressure"), (limit_Pa, "pressure")),
            ),
        )
    return FlueSpillage(depressurisation_Pa, limit_Pa, limit_Pa - depressurisation_Pa, spills, warnings)
