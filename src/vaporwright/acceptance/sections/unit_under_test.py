"""The unit under test as its steps see it: as built, by the design, and as it must behave on the day.

What was cut, welded and set (rods, openings, pipes, set points, delays) is expected as the design has it. What it does
(flows, pressures, power, temperatures) is expected as the same model has it under the conditions of the day.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from vaporwright.acceptance.steps.day import TEST_SEASON, DayConditions, answer_on
from vaporwright.acceptance.steps.procedure import Variant
from vaporwright.controls.unit_table import UnitTable
from vaporwright.equipment.level_rods import LevelStack, MarkName
from vaporwright.foundation.errors import InputError
from vaporwright.unit.air_path import TowerRating, rate_tower_on_blower
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.hydraulics import UnitHydraulics, hydraulics_for, tower_gauge_Pa

# A running tower brings unheated water near the wet bulb; closer, and colder, its model is out of range.
OVER_WET_BULB_difference_K: Final = 4.0


@dataclass(frozen=True)
class UnitUnderTest:
    """One unit, its control and the day. Raises InputError where a paper of the unit has no figure to test by."""

    design: UnitAnswer
    today: UnitAnswer
    table: UnitTable
    day: DayConditions
    variant: Variant

    @property
    def unit(self) -> AssembledUnit:
        """Its parts."""
        return self.design.unit

    @property
    def heat(self) -> str:
        """Gas, electric or steam."""
        return self.table.heat

    @property
    def result(self) -> SeasonResult:
        """What it does today: heat full on, or held at the control's set point."""
        return self.today.seasons[TEST_SEASON]

    @cached_property
    def built(self) -> Body:
        """All sections of the design."""
        return body_of(self.design)

    @cached_property
    def body(self) -> Body:
        """All sections under the conditions of the day."""
        return body_of(self.today)

    def built_number(self, section: str, name: str) -> float:
        """A figure of the design [SI]."""
        return _number(self.built, section, name)

    def built_text(self, section: str, name: str) -> str:
        """A figure of the design in words."""
        found = _value(self.built, section, name)
        return "" if found is None else str(found)

    def number(self, section: str, name: str) -> float:
        """A figure of the day [SI]."""
        return _number(self.body, section, name)

    @property
    def stack(self) -> LevelStack:
        """Levels as the rods are cut.

        Raises: InputError where the levels are not solved, or in conflict: such a unit is not tested but changed.
        """
        if self.built.levels is None:
            raise InputError("procedure", "levels", self.built.section("levels").problem, "a tank with solved levels")
        conflicts = self.built.levels.conflicts
        if conflicts:
            raise InputError("procedure", "levels", f"{conflicts[0].mark} is in conflict", "levels without conflict")
        return self.built.levels

    def level_m(self, mark: MarkName) -> float:
        """Height of a mark above the tank's low corner."""
        return self.stack.mark(mark).height_m

    @cached_property
    def cold_circuit(self) -> UnitHydraulics:
        """The liquor's round on the day's water, unheated."""
        values = {**self.today.job.values, "choices.set_point": self.day.water_temperature_K}
        job = replace(self.today.job, values=values)
        return hydraulics_for(job, self.unit, self.stack, tower_gauge_Pa(self.today))

    @cached_property
    def cold_tower(self) -> TowerRating:
        """One tower on its blower with unheated water on it."""
        conditions, operation = self.result.conditions, self.result.operation
        wet_bulb_K = conditions.air.wet_bulb_temperature_K
        return rate_tower_on_blower(
            tower=self.unit.tower,
            blower=self.unit.blower,
            intake=conditions.intake,
            water_temperature_K=max(self.day.water_temperature_K, wet_bulb_K + OVER_WET_BULB_difference_K),
            water_flow_kg_s=self.unit.spray_flow_m3_s * WATER_DENSITY_kg_m3 / self.unit.towers,
            water_activity=operation.water_activity,
            earlier=(operation.tower,),
        )


def under_test(design: UnitAnswer, table: UnitTable, day: DayConditions, variant: Variant) -> UnitUnderTest:
    """The unit on its day: on clean water, or at the customer's on the liquor itself."""
    today = answer_on(design, day, clean_water=variant != "site", set_point_K=table.points.set_point_K)
    return UnitUnderTest(design, today, table, day, variant)


def _value(body: Body, section: str, name: str) -> float | str | None:
    found = body.section(section)
    if found.problem:
        raise InputError("procedure", section, found.problem, "a unit whose papers are solved: change it first")
    return found.value(name)


def _number(body: Body, section: str, name: str) -> float:
    value = _value(body, section, name)
    if not isinstance(value, float):
        shown = "no figure" if value is None else repr(value)
        raise InputError("procedure", f"{section}.{name}", f"{shown} to test by", "a unit whose papers are solved")
    return value
