"""Readings of a unit with planted factors, made by the product's own model, without noise."""

from __future__ import annotations

from dataclasses import replace

from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.steps.day import TEST_SEASON, DayConditions, answer_on
from vaporwright.properties.flue_gas import burn, gross_combustion_efficiency
from vaporwright.properties.moist_air import saturation_humidity_ratio_kg_kg, wet_bulb_temperature_K
from vaporwright.unit.air_path import TowerRating
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.balance import Conditions, SeasonResult, settle
from vaporwright.unit.heat import FUELS


def shop_day(answer: UnitAnswer) -> DayConditions:
    """A mild day in a shop near sea level."""
    steam = answer.job.number("utilities.steam_pressure") if answer.job.text("choices.heat_source") == "steam" else None
    volts = answer.job.number("utilities.supply_voltage")
    return DayConditions(294.0, 288.0, 1.0e5, 100.0, 286.0, volts, steam_gauge_Pa=steam)


def test_conditions(answer: UnitAnswer, day: DayConditions) -> Conditions:
    return answer_on(answer, day).seasons[TEST_SEASON].conditions


test_conditions.__test__ = False  # type: ignore[attr-defined]


def as_tested(
    answer: UnitAnswer, found: AsFound, *, scale: float = 1.0
) -> tuple[SteadyReadings, Conditions, SeasonResult]:
    """Exact readings of the unit as found, with usual standard uncertainties times `scale`."""
    day = shop_day(answer)
    conditions = test_conditions(answer, day)
    unit, changed = as_found(answer.unit, conditions, found)
    result = settle(unit, changed)
    tower = result.operation.tower

    def share(value: float, of: float) -> Measured:
        return Measured(value, scale * of * value)

    def degrees(value: float, standard_K: float) -> Measured:
        return Measured(value, scale * standard_K)

    readings = SteadyReadings(
        evaporation_kg_s=share(result.evaporation_kg_s, 0.006),
        tank_temperature_K=degrees(result.settling_temperature_K, 0.14),
        inlet_air_temperature_K=degrees(day.air_temperature_K, 0.14),
        inlet_wet_bulb_K=degrees(day.wet_bulb_K, 0.28),
        pressure_Pa=Measured(day.pressure_Pa, scale * 50.0),
        feed_temperature_K=degrees(day.water_temperature_K, 0.14),
        spray_flow_m3_s=share(unit.spray_flow_m3_s, 0.015),
        return_temperature_K=degrees(tower.rating.water_out_temperature_K, 0.14),
        air_flow_m3_s=share(unit.towers * tower.blower_flow_m3_s, 0.035),
        exhaust_temperature_K=degrees(tower.rating.air_out_temperature_K, 0.14),
        exhaust_wet_bulb_K=degrees(_bulb_K(tower, day.pressure_Pa), 0.28),
        room_temperature_K=degrees(day.air_temperature_K, 0.14),
        heat_drawn_W=share(result.fuel_or_power_W, 0.0075),
        drift_kg_s=share(result.operation.drift_kg_s, 0.2),
    )
    return _with_stack(readings, conditions, result, scale), conditions, result


def _bulb_K(tower: TowerRating, pressure_Pa: float) -> float:
    out_K, humidity = tower.rating.air_out_temperature_K, tower.rating.air_out_humidity_ratio_kg_kg
    if humidity >= saturation_humidity_ratio_kg_kg(out_K, pressure_Pa):
        return out_K
    return wet_bulb_temperature_K(out_K, humidity, pressure_Pa)


def _with_stack(readings: SteadyReadings, conditions: Conditions, result: SeasonResult, scale: float) -> SteadyReadings:
    """Of a gas burner, the stack that the efficiency as found leaves."""
    if result.heat.kind != "gas":
        return readings
    site = conditions.heat_site
    combustion = burn(FUELS[site.fuel], site.excess_air_fraction, conditions.air.humidity_ratio_kg_kg)
    low_K, high_K = 350.0, 1200.0
    for _ in range(50):
        stack_K = 0.5 * (low_K + high_K)
        leaves = gross_combustion_efficiency(combustion, stack_K, conditions.air.temperature_K)
        low_K, high_K = (stack_K, high_K) if leaves > result.heat.efficiency else (low_K, stack_K)
    return replace(
        readings,
        stack_temperature_K=Measured(stack_K, scale * 1.4),
        flue_oxygen=Measured(combustion.oxygen_dry_fraction, scale * 0.0015),
    )
