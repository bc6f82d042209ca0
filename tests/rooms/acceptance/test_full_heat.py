"""Heat at full output out of a record: what was clocked for ten minutes, with its uncertainty, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI

from example_rigs import example_answer, example_table
from example_subjects import day_of
from site_runs import as_tested
from vaporwright.acceptance.record.full_heat import with_full_heat
from vaporwright.acceptance.record.state import Mark, RunState, TakenReading
from vaporwright.acceptance.sections.full_heat import FULL_HEAT, TANK_MEANWHILE
from vaporwright.acceptance.sections.heat import heat_section
from vaporwright.acceptance.sections.set_points import AS_LEFT, LEFT_SET_POINT
from vaporwright.acceptance.sections.unit_under_test import under_test
from vaporwright.acceptance.steps.outcomes import ACCEPTED, TEST_ERROR
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.actions.accept_run import set_point_as_left_K
from vaporwright.foundation.notice import Notice
from vaporwright.unit.as_found import AsFound
from vaporwright.unit.heat import rate_heat

HEATS = ("gas", "electric", "steam")
MARK = Mark("somebody", "technician", "2026-03-02T09:00:00-06:00", "an event")


def taken(step: str, key: str, value: float, expanded: float | None) -> TakenReading:
    reading = Reading(step, key, f"{value}", value, "X-1")
    return TakenReading(reading, ACCEPTED, Notice(ACCEPTED, "accepted"), expanded, 1, MARK)


def state_with(*readings: TakenReading) -> RunState:
    return RunState(history={(entry.reading.step, entry.reading.field): (entry,) for entry in readings})


@pytest.mark.parametrize("heat", HEATS)
def test_what_was_clocked_is_the_heat_of_its_ten_minutes(heat: str) -> None:
    readings, conditions, _ = as_tested(example_answer(heat), AsFound())
    # Natural gas as this tool takes it: 1,012 Btu/ft3 at 60 degF, 14.696 psia, within a per cent.
    amount = {"gas": 2.4, "electric": 1.2e7, "steam": 40.0}[heat]
    per_s = amount / 600.0
    pressure = conditions.heat_site.steam_gauge_pressure_Pa + readings.pressure_Pa.value
    latent = PropsSI("H", "P", pressure, "Q", 1, "Water") - PropsSI("H", "P", pressure, "Q", 0, "Water")
    expected = {"gas": per_s * 1012 * 1055.06 / 0.3048**3, "electric": per_s, "steam": 0.99 * per_s * latent}[heat]
    place = FULL_HEAT[heat]
    state = state_with(taken(*place, amount, 0.01 * amount), taken(place.step, TANK_MEANWHILE, 331.0, 0.3))
    found = with_full_heat(readings, state, example_answer(heat).unit, conditions)
    assert found.full_heat_W is not None
    assert found.full_heat_W.value == pytest.approx(expected, rel=0.012 if heat == "gas" else 2e-3)
    beside = {"gas": 0.005, "electric": 0.0, "steam": 0.01 / 0.99}[heat]  # of heating value and dryness
    by_hand = math.hypot(0.005, 3.0 / 600.0, beside)
    assert found.full_heat_W.standard_uncertainty / found.full_heat_W.value == pytest.approx(by_hand, rel=0.03)
    assert found.full_heat_bath_K is not None
    assert found.full_heat_bath_K.value == 331.0
    assert replace(found, full_heat_W=None, full_heat_bath_K=None) == readings


def test_a_record_without_it_says_nothing() -> None:
    readings, conditions, _ = as_tested(example_answer("steam"), AsFound())
    unit = example_answer("steam").unit
    assert with_full_heat(readings, RunState(), unit, conditions) is readings
    spoilt = replace(taken(*FULL_HEAT["steam"], 40.0, 0.4), outcome=TEST_ERROR)
    assert with_full_heat(readings, state_with(spoilt), unit, conditions) is readings
    repeated = replace(taken(*FULL_HEAT["steam"], 40.0, 0.4), counts=False)
    assert with_full_heat(readings, state_with(repeated), unit, conditions) is readings


@pytest.mark.parametrize("heat", HEATS)
def test_the_procedure_has_the_step_and_the_field(heat: str) -> None:
    under = under_test(example_answer(heat), example_table(heat), day_of(heat), "full")
    step = next(entry for entry in heat_section(under).steps if entry.key == FULL_HEAT[heat].step)
    assert step.field(FULL_HEAT[heat].field) is not None
    assert (step.field(TANK_MEANWHILE) is not None) == (heat == "steam")


@pytest.mark.parametrize("lower_K", [0.0, 9.0])
def test_condensate_is_weighed_in_a_tank_that_leaves_the_valve_open(lower_K: float) -> None:
    table = example_table("steam")
    points = replace(table.points, set_point_K=table.points.set_point_K - lower_K)
    under = under_test(example_answer("steam"), replace(table, points=points), day_of("steam"), "full")
    step = next(entry for entry in heat_section(under).steps if entry.key == FULL_HEAT["steam"].step)
    tank, condensate = step.field(TANK_MEANWHILE), step.field(FULL_HEAT["steam"].field)
    assert tank is not None
    assert condensate is not None
    assert tank.limits is not None
    assert tank.limits.high is not None
    assert tank.limits.high < points.set_point_K - 5.0
    assert isinstance(tank.expected, float)
    site = under.result.conditions.heat_site
    coil_W = rate_heat(under.unit.heat_source, site, tank.expected).heat_W
    pressure = site.steam_gauge_pressure_Pa + site.pressure_Pa
    latent = PropsSI("H", "P", pressure, "Q", 1, "Water") - PropsSI("H", "P", pressure, "Q", 0, "Water")
    assert condensate.expected == pytest.approx(600.0 * coil_W / latent, rel=2e-3)


def test_the_set_point_in_force_is_the_one_left() -> None:
    assert set_point_as_left_K(RunState(), 341.0) == 341.0
    left = taken(AS_LEFT, LEFT_SET_POINT, 333.0, None)
    assert set_point_as_left_K(state_with(left), 341.0) == 333.0
    assert set_point_as_left_K(state_with(replace(left, counts=False)), 341.0) == 341.0
