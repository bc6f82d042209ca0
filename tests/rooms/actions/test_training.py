"""The trainer: each task is passed by the right deeds and failed by a wrong one, on each kind of heat."""

from __future__ import annotations

from dataclasses import replace

import pytest

from example_rigs import altered_rig, example_rig
from training_runs import Trainee
from vaporwright.actions.training import TASK_OF, TASKS, begin, looks_for, tasks_for, works_for
from vaporwright.actions.training_works import WORKS
from vaporwright.foundation.errors import InputError

HEATS = ("gas", "electric", "steam")
RESTORE = ("push acknowledge", "push reset")
ALL_AUTO = ("turn blower auto", "turn pump auto", "turn refill auto", "turn heat auto")
BACK = ("until heat", "wait 100")
RIGHT: dict[str, tuple[str, ...]] = {
    "start": (*ALL_AUTO, "push reset", "push start", *BACK),
    "stop": ("push stop", "until not heat", "until not spray_pump", "until not blower", "wait 2"),
    "belt": ("push acknowledge", "look blower", "answer belt", "turn blower off", "wait 30", "work belt",
             "turn blower auto", "push reset", "push start", *BACK),
    "prime": ("push acknowledge", "look pump", "answer prime", "turn pump off", "wait 30", "work prime",
              "turn pump auto", "push reset", "push start", *BACK),
    "low_level": ("look water", "answer water", "work water", *RESTORE, "until refill_off_reached", "wait 3",
                  "push reset", *BACK),
    "false_wet": ("look rods", "answer low rod", "work low rod", "work water", "wait 10", *RESTORE,
                  "until refill_off_reached", "wait 3", "reset low water", *RESTORE, "push start", *BACK),
    "hose": ("push acknowledge", "look water", "answer hose", "work hose", "until not high_level", "wait 20"),
    "power": ("answer power", "push reset", "push start", *BACK),
    "jumper": ("push acknowledge", "look panel", "answer jumper", "work jumper off", "wait 5", "push reset",
               *ALL_AUTO, "push start", *BACK),
    "stop_pushed": ("look panel", "answer stop", "pull emergency stop", *RESTORE, "push start", *BACK),
    "scale": ("look heater", "answer scale", "push stop", "until not spray_pump", "until not blower", "wait 2",
              "work descale", "push start", *BACK),
    "nozzles": ("look tower", "answer nozzles", "push stop", "until not spray_pump", "until not blower", "wait 2",
                "work nozzles", "push start", *BACK),
    "flame": ("push acknowledge", "look burner", "answer electrode", "work electrode", "reset burner", "push reset",
              "until flame", "wait 100"),
    "contact": ("push emergency stop", "look contactor", "answer contact", "work contact", "pull emergency stop",
                *RESTORE, "push start", *BACK),
    "steam": ("look steam", "answer steam", "turn heat off", "until steam_valve_shut", "wait 2", "work steam",
              "turn heat auto", *BACK),
}  # fmt: skip
WRONG: dict[str, str] = {  # a dangerous deed at the begin; the rest is right
    "start": "work bridge air",
    "stop": "work bridge flow",
    "belt": "work belt",
    "prime": "work prime",
    "low_level": "work bridge rod",
    "false_wet": "reset low water",
    "hose": "turn drain on",
    "power": "work bridge air",
    "jumper": "turn blower hand",
    "stop_pushed": "pull emergency stop",
    "scale": "work descale",
    "nozzles": "work nozzles",
    "flame": "reset burner",
    "contact": "work contact",
    "steam": "work steam",
}
CASES = [(task.key, heat) for task in TASKS for heat in task.heats]


def test_every_task_has_its_right_and_its_wrong_deed() -> None:
    assert set(RIGHT) == set(WRONG) == set(TASK_OF)
    for heat in HEATS:
        assert len(tasks_for(example_rig(heat))) >= 8
        assert sum(heat in task.heats and len(task.heats) == 1 for task in TASKS) == 1


@pytest.mark.parametrize(("task", "heat"), CASES)
def test_the_right_deeds_pass(task: str, heat: str) -> None:
    trainee = Trainee(task, heat).does(*RIGHT[task])
    attempt = trainee.attempt
    assert attempt.verdict == "passed", (attempt.reached, attempt.wrong, attempt.harm)
    assert not attempt.wrong
    assert list(attempt.reached) == sorted(attempt.reached, key=lambda key: attempt.reached[key])


@pytest.mark.parametrize(("task", "heat"), CASES)
def test_a_dangerous_deed_on_the_way_fails(task: str, heat: str) -> None:
    attempt = Trainee(task, heat).does(WRONG[task]).attempt
    assert attempt.dangerous == 1, attempt.wrong
    assert attempt.verdict == "at work"  # one may go on, and learn


@pytest.mark.parametrize(("task", "heat"), [("belt", "gas"), ("stop_pushed", "steam"), ("scale", "electric")])
def test_the_goals_without_danger_do_not_pass_after_a_dangerous_deed(task: str, heat: str) -> None:
    attempt = Trainee(task, heat).does("work bridge flow", "work jumper off", *RIGHT[task]).attempt
    assert set(attempt.reached) == {goal.key for goal in TASK_OF[task].goals}
    assert attempt.verdict == "not passed"


@pytest.mark.parametrize("task", [task for task in TASK_OF if TASK_OF[task].causes])
def test_a_wrong_cause_is_counted_and_not_taken(task: str) -> None:
    trainee = Trainee(task, TASK_OF[task].heats[0])
    other = next(key for key, _ in TASK_OF[task].causes if key != TASK_OF[task].cause)
    assert not trainee.attempt.answer(other, trainee.unit.time_s)
    assert "cause" not in trainee.attempt.reached
    assert trainee.attempt.answer(TASK_OF[task].cause, trainee.unit.time_s)
    assert trainee.attempt.guesses == 2
    with pytest.raises(InputError, match="no choice"):
        trainee.attempt.answer("gremlins", 0.0)


def test_without_a_repair_the_unit_does_not_come_back() -> None:
    """The belt is off: whoever resets and starts sees it stop again."""
    trainee = Trainee("belt", "gas").does(*RESTORE, "push start", "wait 120")
    assert "back" not in trainee.attempt.reached
    assert [one.dangerous for one in trainee.attempt.wrong] == [False]
    assert not trainee.unit.value("heat")


def test_an_order_is_judged() -> None:
    attempt = Trainee("start", "gas").does("push start", *RIGHT["start"]).attempt
    assert [one.words for one in attempt.wrong] == ["Started before every selector stood in auto."]
    assert attempt.verdict == "passed"  # mistaken, and no danger


def test_a_goal_that_comes_after_another_is_not_reached_before_it() -> None:
    attempt = Trainee("flame", "gas").does("reset burner").attempt
    assert "device" not in attempt.reached
    attempt = Trainee("start", "gas").does("push reset", "turn blower hand", "wait 30").attempt
    assert list(attempt.reached) == ["relay"]  # air moves, and nobody has started the unit


def test_cutting_the_run_on_short_is_dangerous() -> None:
    attempt = Trainee("stop", "steam").does("push stop", "turn pump off").attempt
    assert attempt.dangerous == 1


def test_a_bare_heater_is_harm() -> None:
    """Low rod and cut-off bridged, no water: the heater comes out of the liquor with its heat on."""
    trainee = Trainee("false_wet", "electric")
    trainee.does("work bridge cut-off", "work bridge rod")
    trainee.unit.low_water.clear = trainee.unit.low_water.healthy = True
    trainee.unit.stuck["low_water_clear"] = True  # the device itself is held in: the last thing that protected
    trainee.does(*RESTORE, "push start")
    trainee.goes_on(12 * 3600.0)
    assert trainee.attempt.harm
    assert trainee.attempt.verdict == "not passed"


def test_hints_come_one_by_one_and_end() -> None:
    attempt = Trainee("power", "gas").attempt
    assert [attempt.hint() for _ in attempt.task.hints] == list(attempt.task.hints)
    with pytest.raises(InputError, match="no further hint"):
        attempt.hint()


def test_giving_up_ends_it_and_nothing_counts_after_that() -> None:
    trainee = Trainee("power", "gas")
    trainee.attempt.give_up()
    trainee.does(*RIGHT["power"])
    assert trainee.attempt.verdict == "not passed"
    assert trainee.attempt.reached == {}


def test_a_task_is_only_for_its_heat_and_for_a_table_that_has_its_names() -> None:
    with pytest.raises(InputError, match="no task for this steam unit"):
        begin(TASK_OF["flame"], example_rig("steam"))
    rig = altered_rig("gas", lambda design: design)
    assert "belt" in [task.key for task in tasks_for(rig)]
    without = replace(TASK_OF["belt"], goals=(replace(TASK_OF["belt"].goals[-1], on=("no_such_row",)),))
    assert without not in tasks_for(rig)


def test_what_one_sees_names_the_fault_and_only_where_it_is() -> None:
    seen = {
        ("belt", "blower"): "belt lies in the guard",
        ("prime", "pump"): "holds air",
        ("low_level", "water"): "shut",
        ("false_wet", "rods"): "hangs in air",
        ("hose", "water"): "hose runs over the rim",
        ("jumper", "panel"): "jumper joins",
        ("stop_pushed", "panel"): "pushed in",
        ("scale", "heater"): "scale",
        ("nozzles", "tower"): "drip",
    }
    for heat in HEATS:
        for look in looks_for(example_rig(heat)):
            assert look.seen(Trainee("start", heat).unit)
    for (task, place), words in seen.items():
        trainee, sound = Trainee(task, "gas"), Trainee("stop", "gas")
        look = next(one for one in looks_for(trainee.rig) if one.key == place)
        assert words in look.seen(trainee.unit)
        assert words not in look.seen(sound.unit)


def test_each_work_can_be_done_on_its_units() -> None:
    assert {work.key for heat in HEATS for work in works_for(example_rig(heat))} == {work.key for work in WORKS}
    for heat in HEATS:
        trainee = Trainee("start", heat)
        for work in works_for(trainee.rig):
            trainee.does(f"work {work.key}")
