"""The demo units on the day of their test, and the simulated runs that tests of the performance run share."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from example_rigs import example_answer
from vaporwright.acceptance.run.simulated import RunOptions, SimulatedRun, simulate_run
from vaporwright.acceptance.steps.day import TEST_SEASON, DayConditions, answer_on
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions
from vaporwright.unit.levels import levels_of

__all__ = ["OnTest", "RunOptions", "SimulatedRun", "on_test", "simulate_run"]


@dataclass(frozen=True)
class OnTest:
    """A demo unit on the day of its test: what an evaluation is given."""

    unit: AssembledUnit
    conditions: Conditions
    stack: LevelStack


@lru_cache
def on_test(kind: str, air_K: float = 294.0, wet_bulb_K: float = 287.0) -> OnTest:
    """The example unit with that heat (gas, electric, steam), on clean water and an invented shop's air."""
    answer = example_answer(kind)
    day = DayConditions(
        air_temperature_K=air_K,
        wet_bulb_K=wet_bulb_K,
        pressure_Pa=100_500.0,
        elevation_m=60.0,
        water_temperature_K=288.0,
        supply_voltage_V=answer.job.number("utilities.supply_voltage"),
        steam_gauge_Pa=answer.job.number("utilities.steam_pressure") if kind == "steam" else None,
    )
    today = answer_on(answer, day)
    return OnTest(today.unit, today.seasons[TEST_SEASON].conditions, levels_of(today))
