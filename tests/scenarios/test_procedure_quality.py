"""How good the procedure of a unit is: a sample of the planted faults, and what a missing step costs."""

from __future__ import annotations

from functools import lru_cache

import pytest

from example_subjects import example_subject
from vaporwright.acceptance.quality.fault_study import ProgramFault, Study
from vaporwright.acceptance.quality.simulated_floor import SimulatedFloor
from vaporwright.acceptance.steps.order import shortest_choice, soonest_order
from vaporwright.acceptance.steps.procedure import Step
from vaporwright.acceptance.trials.trial import timed_s, value_of
from vaporwright.actions.procedure_quality import spread

SAMPLE = 40


def step(key: str, minutes: float, *, after: tuple[str, ...] = (), hold: bool = False) -> Step:
    return Step(key, key, "a purpose", ("do",), (), minutes, after=after, point="hold" if hold else "")


# Choice and order, by hand


def test_shortest_choice_is_the_shortest_where_greed_is_not() -> None:
    """Classic: the big step finds most per minute, but the two small ones together find all."""
    steps = (step("big", 3.9), step("left", 3.0), step("right", 3.0))
    found_by = [("big", "left"), ("big", "left"), ("left",), ("big", "right"), ("big", "right"), ("right",)]
    choice = shortest_choice(steps, found_by)
    assert choice.steps == ("left", "right")
    assert choice.minutes == pytest.approx(6.0)
    assert choice.exact


def test_a_step_brings_along_what_it_waits_for_and_hold_points_stay() -> None:
    steps = (step("hold", 5.0, hold=True), step("first", 2.0), step("then", 1.0, after=("first",)), step("dear", 9.0))
    choice = shortest_choice(steps, [("then", "dear")])
    assert choice.steps == ("hold", "first", "then")


def test_a_fault_that_nothing_finds_asks_for_nothing() -> None:
    assert shortest_choice((step("one", 1.0),), [()]).steps == ()


def test_order_goes_by_faults_per_minute_as_far_as_steps_wait() -> None:
    steps = (step("slow", 10.0), step("quick", 1.0), step("waits", 1.0, after=("slow",)))
    found_by = [("slow",), ("quick",), ("quick",), ("waits",), ("waits",), ("waits",)]
    order = soonest_order(steps, ("slow", "quick", "waits"), found_by)
    assert [(item.step, item.found) for item in order] == [("quick", 2), ("slow", 3), ("waits", 6)]
    assert order[-1].minutes == pytest.approx(12.0)


def test_nothing_passes_a_hold_point() -> None:
    steps = (step("before", 10.0), step("hold", 1.0, hold=True), step("after", 1.0))
    order = soonest_order(steps, ("before", "hold", "after"), [("after",), ("after",), ("before",)])
    assert [item.step for item in order] == ["before", "hold", "after"]


def test_a_sample_is_spread_over_all() -> None:
    assert spread(100, 4) == [0, 25, 50, 75]
    assert spread(3, 10) == [0, 1, 2]
    assert spread(3, 0) == [0, 1, 2]


# The procedure of a unit


@lru_cache
def study(heat: str = "electric") -> Study:
    return Study(example_subject(heat))


def place(kind: str, what: str) -> int:
    return next(at for at, fault in enumerate(study().faults) if (fault.kind, fault.what) == (kind, what))


@pytest.mark.slow
def test_a_sample_of_the_faults_is_found() -> None:
    findings = [study().finding(at) for at in spread(len(study().faults), SAMPLE)]
    assert len({item.fault.kind for item in findings}) >= 12
    missed = [item.fault.name for item in findings if not item.caught and not item.fault.unseen]
    assert not missed
    hidden = [item.fault.name for item in findings if not item.caught]
    assert len(hidden) <= 3, hidden


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "what", "only"),
    [
        ("alarm missing", "over_temperature", "rows.over_temperature"),
        ("delay wrong", "high_high_level", "rows.high_high_level"),
        ("contact not in series", "low_water_clear of heat", "io.in_series"),
        ("always so", "start_released", "rows.power_returns"),
        ("always so", "reset_released", "rows.power_returns"),
        ("as built", "rod holder", ""),
    ],
)
def test_without_the_step_that_is_for_it_a_fault_goes_unseen(kind: str, what: str, only: str) -> None:
    found = study().finding(place(kind, what))
    assert found.caught
    if only:
        assert found.steps == (only,), "the procedure without this step does not find it"
    else:
        assert set(found.steps) == {"mechanical.heights", "rods.rising_level"}


@pytest.mark.slow
def test_a_sound_unit_raises_no_false_alarm() -> None:
    failed, done, which = study().false_alarms(range(20, 24))
    assert done == 4 * len(tuple(study().subject.procedure.steps))
    assert failed <= done // 1000, which


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "what"),
    [
        ("latch missing", "blower_overload"),
        ("cell missing", "blower_in_auto on blower"),
        ("delay wrong", "airflow_proven"),
        ("input inverted", "pump_flow"),
    ],
)
def test_the_shortcut_shows_what_performing_the_step_shows(kind: str, what: str) -> None:
    """A fault of the program: what it makes of the sound controller's inputs, against the step really performed."""
    fault = study().faults[place(kind, what)]
    logic, floor = ProgramFault(study(), fault), SimulatedFloor(study().subject, fault.wiring)
    taken = 0
    for trial in list(study().subject.trials.by_step.values())[::3]:
        short = logic.film(trial)
        if short is None:
            continue
        taken, performed = taken + 1, floor.film(trial)
        for look in trial.looks:
            for item in look.expected:
                assert value_of(short, item, look.scan) == value_of(performed, item, look.scan), (trial.key, item)
        for timing in trial.timings:
            assert timed_s(short, timing, short.scans, 0.1) == timed_s(performed, timing, performed.scans, 0.1)
    assert taken > 5
