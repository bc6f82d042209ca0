"""Laws of the assembled unit: balances close, and the rate moves the way it must.

The invented unit of common practice is settled at drawn sites and airs; changes are single and one-sided.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from invented_unit import BURNER, HEATER, fahrenheit, unit
from vaporwright.actions.answer_json import outcome_as_json
from vaporwright.actions.size_job import Outcome
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.job_file import read_job_file
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.unit.answer import answer_for
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import SeasonResult, conditions_of, settle
from vaporwright.unit.body import body_of
from vaporwright.unit.fields import FIELDS
from vaporwright.unit.job import build_job
from vaporwright.unit.questions import DUTY_KEYS, questions_for
from vaporwright.unit.sizing import size_unit
from vaporwright.unit.warm_up import warm_up

VOLUME = {"duty.volume": 8.6e-6}
EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "tumbling_effluent_gas.toml"


@st.composite
def jobs(draw: st.DrawFn) -> dict[str, Any]:
    summer = draw(st.floats(293.15, 313.15))
    return {
        **VOLUME,
        "site.elevation": draw(st.floats(-300.0, 3000.0)),
        "site.summer.air_temperature": summer,
        "site.summer.relative_humidity": draw(st.floats(0.1, 0.8)),
        "site.winter.air_temperature": draw(st.floats(243.15, 288.15)),
        "site.air_supply": draw(st.sampled_from(["room", "outdoors"])),
        "liquid.feed_temperature": draw(st.floats(278.15, 320.15)),
        "liquid.dissolved_solids": draw(st.floats(0.0, 12.0)),
        "choices.set_point": 344.0,
    }


def settled(job: dict[str, Any], parts: AssembledUnit, season: str = "summer") -> SeasonResult:
    return settle(parts, conditions_of(build_job(job), season))


@given(jobs(), st.sampled_from(["summer", "winter", "average"]), st.sampled_from([BURNER, HEATER]))
@settings(max_examples=25, deadline=None)
def test_water_and_heat_balances_close(job: dict[str, Any], season: str, source: Any) -> None:
    result = settled(job, unit(heat_source=source), season)
    operation = result.operation
    assert abs(operation.energy.closing_W) < 1e-4 * result.heat_W
    parts = operation.tower_evaporation_kg_s + operation.surface_evaporation_kg_s
    assert operation.evaporation_kg_s == pytest.approx(parts, rel=1e-12)
    assert operation.feed_kg_s == pytest.approx(parts + operation.drift_kg_s, rel=1e-12)
    assert result.settling_temperature_K <= result.clamp_K
    assert 0.0 < result.load <= 1.0


@given(jobs(), st.floats(1.1, 2.0))
@settings(max_examples=15, deadline=None)
def test_better_fill_settles_colder_when_heat_limits_and_evaporates_more_when_the_tower_does(
    job: dict[str, Any], better: float
) -> None:
    base, improved = settled(job, unit()), settled(job, unit(merkel=better))
    if base.limit == "heat":
        assert improved.settling_temperature_K < base.settling_temperature_K
    clamped = {**job, "choices.set_point": 322.0}
    base, improved = settled(clamped, unit(merkel=0.7)), settled(clamped, unit(merkel=0.7 * better))
    if improved.limit == "tower":
        assert improved.evaporation_kg_s > base.evaporation_kg_s
        assert improved.load > base.load


@given(jobs(), st.floats(1.1, 1.5))
@settings(max_examples=15, deadline=None)
def test_more_heat_evaporates_more_and_settles_hotter(job: dict[str, Any], more: float) -> None:
    base = settled(job, unit(heat_source=HEATER))
    hotter = settled(job, unit(heat_source=replace(HEATER, rated_power_W=HEATER.rated_power_W * more)))
    if hotter.limit == "heat":
        assert hotter.evaporation_kg_s > base.evaporation_kg_s
        assert hotter.settling_temperature_K > base.settling_temperature_K


@given(jobs(), st.floats(1.05, 1.4))
@settings(max_examples=15, deadline=None)
def test_more_air_evaporates_more_where_the_tower_limits(job: dict[str, Any], more: float) -> None:
    clamped = {**job, "choices.set_point": 325.0}
    base, windy = settled(clamped, unit(merkel=0.6)), settled(clamped, unit(merkel=0.6, blower=more))
    if windy.limit == "tower":
        assert windy.evaporation_kg_s > base.evaporation_kg_s


@given(jobs(), st.floats(0.05, 0.15))
@settings(max_examples=15, deadline=None)
def test_damper_air_and_stronger_liquor_evaporate_less_where_the_tower_limits(
    job: dict[str, Any], damper: float
) -> None:
    clamped = {**job, "choices.set_point": 325.0}
    base = settled(clamped, unit(merkel=0.6))
    if base.limit != "tower":
        return
    humid = {**clamped, "site.summer.relative_humidity": job["site.summer.relative_humidity"] + damper}
    assert settled(humid, unit(merkel=0.6)).evaporation_kg_s < base.evaporation_kg_s
    strong = {**clamped, "liquid.dissolved_solids": job["liquid.dissolved_solids"] + 4.0}
    assert settled(strong, unit(merkel=0.6)).evaporation_kg_s < base.evaporation_kg_s


@given(jobs())
@settings(max_examples=10, deadline=None)
def test_a_search_from_nearby_ends_where_a_search_from_scratch_does(job: dict[str, Any]) -> None:
    base = settled(job, unit())
    changed = {**job, "liquid.feed_temperature": job["liquid.feed_temperature"] + 5.0}
    conditions = conditions_of(build_job(changed), "summer")
    near, scratch = settle(unit(), conditions, near=base), settle(unit(), conditions)
    assert near.evaporation_kg_s == pytest.approx(scratch.evaporation_kg_s, rel=3e-4)
    assert near.settling_temperature_K == pytest.approx(scratch.settling_temperature_K, abs=0.02)


def test_questions_say_what_settling_again_says() -> None:
    job = build_job(VOLUME)
    answer = size_unit(job, read_catalogue_file(None)).answer
    asked = 0
    for question in questions_for(answer, VOLUME):
        if question.moves_kg_s == 0.0 or question.key in DUTY_KEYS:
            continue
        assert question.high is not None
        again = settle(answer.unit, conditions_of(build_job({**VOLUME, question.key: question.high}), answer.governing))
        assert question.at_high_kg_s == pytest.approx(again.evaporation_kg_s, rel=1e-3)
        asked += 1
    assert asked >= 5


@given(jobs())
@settings(max_examples=10, deadline=None)
def test_warm_up_is_quicker_with_the_tower_off(job: dict[str, Any]) -> None:
    result = settled(job, unit())
    times = warm_up(unit(), result)
    assert times.tower_off_s is not None
    assert times.tower_on_s is not None
    if times.start_K < result.settling_temperature_K - 15.0:
        assert 0.0 < times.tower_off_s < times.tower_on_s


NUMERIC = [field for field in FIELDS if field.least is not None and field.most is not None and field.key[:5] != "unit."]


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_any_allowed_value_gives_an_answer_or_one_named_error(data: st.DataObject) -> None:
    given_values: dict[str, Any] = dict(VOLUME)
    for field in data.draw(st.lists(st.sampled_from(NUMERIC), max_size=4, unique=True)):
        assert field.least is not None
        assert field.most is not None
        given_values[field.key] = data.draw(st.floats(field.least, field.most), label=field.key)
    try:
        answer = answer_for(build_job(given_values), unit())
    except VaporwrightError:
        return  # named; any other kind of exception fails the test
    questions = questions_for(answer, given_values)
    job_file = read_job_file(EXAMPLE)
    outcome = Outcome(job_file, read_catalogue_file(None), answer, body_of(answer), (), (), questions)
    json.dumps(outcome_as_json(outcome), allow_nan=False)


def test_set_point_above_a_parts_limit_is_clamped_and_said() -> None:
    plastic = replace(unit().tower, temperature_limits_K=(("fill", fahrenheit(120.0)),))
    result = settled({**VOLUME}, unit(tower=plastic))
    assert result.clamp_part == "fill"
    assert result.settling_temperature_K <= fahrenheit(120.0) + 1e-9
    assert "set point above a part's limit" in [notice.name for notice in result.warnings]


def test_a_crossflow_tower_carries_a_little_less_than_a_counterflow_one_of_the_same_law() -> None:
    clamped = {**VOLUME, "choices.set_point": 325.0}
    counter = settled(clamped, unit(merkel=0.6))
    cross = settled(clamped, unit(tower=replace(unit(merkel=0.6).tower, arrangement="crossflow")))
    assert counter.limit == cross.limit == "tower"
    assert 0.90 < cross.evaporation_kg_s / counter.evaporation_kg_s < 0.999
    assert abs(cross.operation.energy.closing_W) < 1e-4 * cross.heat_W
