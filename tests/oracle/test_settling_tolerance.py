"""How far a sound unit may settle from its prediction, against balances struck by plain bisection."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from example_rigs import example_answer
from support import verifies
from vaporwright.acceptance.sections.performance import settling_tolerance_K
from vaporwright.acceptance.steps.day import DayConditions, answer_on
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, operate
from vaporwright.unit.heat import rate_heat

FAHRENHEIT = 1.0 / 1.8
DAY = DayConditions(294.15, 288.15, 101_325.0, 0.0, 288.15, 460.0, steam_gauge_Pa=2.0e5)


def settled_K(unit: AssembledUnit, conditions: Conditions, heat_share: float) -> float:
    """Where the heat, by that share of it, is what tower and losses take."""
    low_K, high_K = 305.0, 350.0
    for _ in range(40):
        middle_K = 0.5 * (low_K + high_K)
        heat_W = heat_share * rate_heat(unit.heat_source, conditions.heat_site, middle_K).heat_W
        if operate(unit, conditions, middle_K, heat_W).energy.closing_W > 0.0:
            low_K = middle_K
        else:
            high_K = middle_K
    return 0.5 * (low_K + high_K)


@verifies("acceptance.sections.performance.settling_tolerance_K")
@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_tolerance_of_the_settling_temperature(heat: str) -> None:
    result = answer_on(example_answer(heat), DAY).seasons["average"]
    unit, conditions = example_answer(heat).unit, result.conditions
    fill = replace(unit.tower.fill, merkel_coefficient=0.9 * unit.tower.fill.merkel_coefficient)
    poorer = replace(unit, tower=replace(unit.tower, fill=fill))
    as_designed_K = settled_K(unit, conditions, 1.0)
    fill_K = settled_K(poorer, conditions, 1.0) - as_designed_K
    heat_K = settled_K(unit, conditions, 0.95) - as_designed_K
    assert fill_K > 0.0 > heat_K  # hotter: tower short; colder: heat short
    by_hand = max(math.sqrt(fill_K**2 + heat_K**2 + (0.5 * FAHRENHEIT) ** 2), 2.0 * FAHRENHEIT)
    assert settling_tolerance_K(unit, result) == pytest.approx(by_hand, rel=0.01)
