"""What makes a unit fall short, each cause as a change of the model by one severity.

A cause changes the unit, its surroundings, or what an instrument says of them; never the readings at will. Severities
are spread over what such faults do; how likely each cause is before anything is read differs between a new unit on
test and one that has run for years. Both are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.acceptance.run.wet_bulbs import wet_thermometer_K
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, clamp_of, settle
from vaporwright.unit.heat import HeatKind, kind_of

HEAT_SIDE, TOWER_SIDE, READINGS = "heat", "tower", "readings"
SCALE_m2K_W: Final = (1e-4, 2e-4, 4e-4, 8e-4, 1.6e-3, 3.2e-3)
BIASES_difference_K: Final = (-6.0, -4.0, -2.5, -1.5, 1.5, 2.5, 4.0, 6.0)
LOWERED_difference_K: Final = (1.0, 3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 16.0, 20.0, 25.0, 30.0)
FLUE_HEAT_CAPACITY_J_kgK: Final = 1150.0  # of flue gas near 600 K


@dataclass(frozen=True)
class Case:
    """A unit in its surroundings, and what two instruments say beside the truth."""

    unit: AssembledUnit
    conditions: Conditions
    thermometer_difference_K: float = 0.0
    evaporation_factor: float = 1.0


@dataclass(frozen=True)
class Cause:
    """One thing that can be wrong."""

    key: str
    title: str
    side: str  # HEAT_SIDE, TOWER_SIDE or READINGS
    severities: tuple[float, ...]
    severity_quantity: str  # of display_units
    severity_label: str
    change: Callable[[Case, float], Case]
    weight_new: float  # before anything is read, on a new unit
    weight_service: float  # and on one that has run for years
    look: str  # what to look at first
    caution: str
    heats: tuple[HeatKind, ...] = ("gas", "electric", "steam")


def _factor(name: str) -> Callable[[Case, float], Case]:
    def change(case: Case, severity: float) -> Case:
        unit, conditions = as_found(case.unit, case.conditions, AsFound(**{name: severity}))
        return replace(case, unit=unit, conditions=conditions)

    return change


def _scaled(case: Case, severity: float) -> Case:
    site = replace(case.conditions.heat_site, scale_resistance_m2K_W=severity)
    return replace(case, conditions=replace(case.conditions, heat_site=site))


def _recirculating(case: Case, severity: float) -> Case:
    intake = replace(case.conditions.intake, recirculated_share=severity)
    return replace(case, conditions=replace(case.conditions, intake=intake))


def _losing(case: Case, severity: float) -> Case:
    return replace(case, conditions=replace(case.conditions, lid_fraction=severity))


def _held_lower(case: Case, severity: float) -> Case:
    """The control ends the heat that far under its sheet; a tank that settles colder anyway never finds out."""
    sheet_K, _ = clamp_of(case.unit, case.conditions)
    unit, conditions = as_found(case.unit, case.conditions, AsFound(set_point_K=sheet_K - severity))
    return replace(case, unit=unit, conditions=conditions)


def _thermometer(case: Case, severity: float) -> Case:
    return replace(case, thermometer_difference_K=severity)


def _metered(case: Case, severity: float) -> Case:
    return replace(case, evaporation_factor=severity)


_LOW: Final = (0.93, 0.87, 0.8, 0.72, 0.63, 0.53, 0.42)
_MOVING = "Moving parts and live parts: lock out before a guard, a duct or a terminal box is opened."
_HOT = "Hot liquor and hot surfaces: eye protection, gloves, heat off and locked out before anything is opened."
_FUEL = "Fuel gas and flame: for a qualified burner technician only."
CAUSES: Final = (
    Cause("air_low", "air flow is low", TOWER_SIDE, _LOW, "fraction", "of the design's air", _factor("air_factor"),
          0.16, 0.14, "belt, rotation, damper, louvres, wet eliminator, duct; static pressure and motor current",
          _MOVING),
    Cause("spray_low", "spray flow is low", TOWER_SIDE, _LOW, "fraction", "of the design's spray",
          _factor("spray_factor"), 0.14, 0.16,
          "header pressure: high means plugged nozzles, low a throttled valve, blocked strainer or worn pump", _HOT),
    Cause("fill_poor", "the fill transfers less: fouled, or liquor passes it by", TOWER_SIDE, _LOW, "fraction",
          "of its transfer", _factor("merkel_factor"), 0.12, 0.20,
          "the fill from above and below: scale, slime, dry patches, gaps at the shell, missing nozzles", _HOT),
    Cause("wet_air", "the blower draws its own wet exhaust", TOWER_SIDE, (0.08, 0.14, 0.2, 0.28, 0.36, 0.45),
          "fraction", "of the air is exhaust", _recirculating, 0.12, 0.08,
          "wet bulb inside the blower's inlet against the room's; where the discharge goes", _MOVING),
    Cause("input_low", "less fuel or power goes in", HEAT_SIDE, _LOW, "fraction", "of the input",
          _factor("input_factor"), 0.16, 0.10,
          "clock the gas, read manifold pressure; volts and amps of each phase, each element", _FUEL,
          ("gas", "electric")),
    Cause("heat_low", "less of what goes in reaches the liquor", HEAT_SIDE, _LOW, "fraction", "of the heat",
          _factor("heat_factor"), 0.08, 0.08,
          "excess air, short-circuited tube, wet or leaking coil, blocked trap, air in the steam space", _FUEL),
    Cause("scale", "scale on the heating surface", HEAT_SIDE, SCALE_m2K_W, "fouling resistance", "of scale", _scaled,
          0.02, 0.16, "stack temperature, or surface of the coil at the next draining", _HOT, ("gas", "steam")),
    Cause("losses", "the tank loses more heat: lid off, insulation wet", HEAT_SIDE, (0.6, 0.4, 0.2, 0.0), "fraction",
          "of the tank covered", _losing, 0.04, 0.04, "lids and insulation; agitation at the surface", _HOT),
    Cause("set_point_low", "the set point stands too low: the control holds the tank at it", HEAT_SIDE,
          LOWERED_difference_K, "temperature difference", "under its sheet", _held_lower, 0.05, 0.10,
          "set point at the control against the set-point sheet; whether the heat goes on and off, or stays on",
          "A set point is raised to its sheet and no further: alarm, high limit and plastic stand right over it."),
    Cause("thermometer", "the tank's thermometer reads wrong", READINGS, BIASES_difference_K,
          "temperature difference", "over the truth", _thermometer, 0.08, 0.06,
          "hold a calibrated thermometer into the tank beside it", _HOT),
    Cause("evaporation_misread", "the evaporation is measured wrong: meter, leak, level", READINGS,
          (0.75, 0.82, 0.88, 0.93, 1.07, 1.13, 1.2, 1.3), "fraction", "of the true evaporation is read", _metered,
          0.08, 0.08, "weigh the make-up for half an hour; shut every drain and feed; salt tracer against drift",
          "Slip and scald: keep hoses and catch buckets clear of hot liquor."),
)  # fmt: skip


def causes_for(unit: AssembledUnit) -> tuple[Cause, ...]:
    """The causes that a unit with this kind of heat can have."""
    heat = kind_of(unit.heat_source)
    return tuple(cause for cause in CAUSES if heat in cause.heats)


def predicted_readings(case: Case) -> Mapping[str, float]:
    """What every instrument would read, by the names of run_log.SteadyReadings, and `air_in_wet_bulb_K` beside them.

    Raises: OutOfRange and NotConverged from the unit's parts.
    """
    result = settle(case.unit, case.conditions)
    operation, pressure_Pa = result.operation, case.conditions.pressure_Pa
    tower = operation.tower
    air_in_K, air_in_humidity = tower.air_in_temperature_K, tower.air_in_humidity_ratio_kg_kg
    out_K, out_humidity = tower.rating.air_out_temperature_K, tower.rating.air_out_humidity_ratio_kg_kg
    found = {
        "evaporation_kg_s": operation.evaporation_kg_s * case.evaporation_factor,
        "tank_temperature_K": result.settling_temperature_K + case.thermometer_difference_K,
        "return_temperature_K": tower.rating.water_out_temperature_K,
        "spray_flow_m3_s": case.unit.spray_flow_m3_s,
        "air_flow_m3_s": tower.blower_flow_m3_s * case.unit.towers,
        "exhaust_temperature_K": out_K,
        "exhaust_wet_bulb_K": wet_thermometer_K(out_K, out_humidity, pressure_Pa),
        "heat_drawn_W": result.fuel_or_power_W,
        "set_point_K": result.clamp_K,
        "air_in_wet_bulb_K": wet_thermometer_K(air_in_K, air_in_humidity, pressure_Pa),
    }
    detail = result.heat.detail
    stack_K = getattr(detail, "stack_temperature_K", None)
    if stack_K is not None:
        found["stack_temperature_K"] = stack_K + _stack_rise_K(case, result.heat.heat_W, detail)
    return found


def _stack_rise_K(case: Case, heat_W: float, detail: object) -> float:
    """What heat that the tube does not take adds to the stack, over the model's own stack temperature."""
    factor = case.conditions.heat_site.heat_factor
    flow_kg_s = getattr(detail, "flue_flow_kg_s", 0.0)
    if factor == 1.0 or not flow_kg_s:
        return 0.0
    return (heat_W / factor - heat_W) / (flow_kg_s * FLUE_HEAT_CAPACITY_J_kgK)
