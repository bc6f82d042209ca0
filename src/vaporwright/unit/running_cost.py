"""Running cost of one season: energy drawn times the prices that the job states. No price, no cost."""

from __future__ import annotations

from dataclasses import dataclass

from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.heat import steam_for_heat_kg_s


@dataclass(frozen=True)
class RunningCost:
    """Cost while running [USD/s], and over the water evaporated [USD/m3]. Energy only; hauling comes on top."""

    heat_USD_s: float
    power_USD_s: float
    per_volume_USD_m3: float


def running_cost(answer: UnitAnswer, result: SeasonResult) -> RunningCost | None:
    """Cost of heat, blower and pump in one season; None where the price of the heat or of electricity is missing."""
    power_price = answer.job.optional("utilities.power_price")
    heat_USD_s = _heat_USD_s(answer, result)
    if heat_USD_s is None or power_price is None:
        return None
    power_USD_s = power_price * (result.blower_power_W + result.pump_power_W)
    volume_m3_s = result.evaporation_kg_s / WATER_DENSITY_kg_m3
    return RunningCost(heat_USD_s, power_USD_s, (heat_USD_s + power_USD_s) / volume_m3_s)


def _heat_USD_s(answer: UnitAnswer, result: SeasonResult) -> float | None:
    if result.heat.kind == "steam":
        price = answer.job.optional("utilities.steam_price")
        site = result.conditions.heat_site
        flow = steam_for_heat_kg_s(result.heat_W, site.steam_gauge_pressure_Pa, site.pressure_Pa)
        return None if price is None else price * flow
    key = "utilities.fuel_price" if result.heat.kind == "gas" else "utilities.power_price"
    price = answer.job.optional(key)
    return None if price is None else price * result.fuel_or_power_W
