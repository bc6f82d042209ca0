"""Running units against a clock that nobody waits for: pace, deeds, buttons, limits, life, what is left to be seen."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from itertools import pairwise

import pytest

from example_rigs import altered_rig, example_rig
from vaporwright.actions.at_hand import deed_of
from vaporwright.actions.training import look_of, work_of
from vaporwright.actions.training_tasks import TASK_OF
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.web.running import unit as running_unit
from vaporwright.web.running.kept import RunningUnits
from vaporwright.web.running.unit import MOST_ASKED, MOST_POINTS, Asked, HELD_s, IDLE_s, LIFE_s, Pace, RunningUnit


class Still(Pace):
    """A clock that goes on only when somebody waits for it; then it says so to whoever listens."""

    def __init__(self) -> None:
        self.at = 1000.0
        self.waits: list[float] = []
        self.listener: Callable[[float], None] | None = None

    def now(self) -> float:
        return self.at

    def wait(self, condition: threading.Condition, seconds: float) -> None:
        del condition
        self.at += seconds
        self.waits.append(seconds)
        if self.listener is not None:
            self.listener(self.at)


def _unit(pace: Still | None = None, heat: str = "gas", task: str = "") -> RunningUnit:
    found = RunningUnit(example_rig(heat), owner="a", job="j", revision=1, pace=pace or Still(), task=TASK_OF.get(task))
    found.prepare()
    return found


def _ask(unit: RunningUnit, verb: str, target: str, value: str) -> None:
    unit.do(Asked(deed_of(unit.rig, verb, target, value, "SI")))


def _started(unit: RunningUnit) -> RunningUnit:
    for name in ("blower", "pump", "refill", "heat"):
        _ask(unit, "turn", name, "auto")
    unit.turn()
    for button in ("reset", "start"):
        _ask(unit, "push", "", button)
        unit.turn()
        _ask(unit, "pull", "", button)
        unit.turn()
    return unit


def _turns(unit: RunningUnit, count: int) -> None:
    for _ in range(count):
        unit.looked_at()
        unit.turn()


def _is(unit: RunningUnit, name: str) -> bool:
    view = unit.view()
    assert view is not None
    return view.bits[unit.rig.table.names.index(name)] == "1"


def test_in_real_time_a_scan_takes_a_scan() -> None:
    pace = Still()
    unit = _unit(pace)
    begun = pace.at
    _turns(unit, 5)
    assert pace.at - begun == pytest.approx(4.9)  # the scan at the begin is not waited for
    assert max(pace.waits) == pytest.approx(0.1)
    assert unit.view().time_s == pytest.approx(5.0)  # type: ignore[union-attr]


@pytest.mark.parametrize("speed", [10, 60])
def test_faster_is_so_many_times_faster(speed: int) -> None:
    pace = Still()
    unit = _unit(pace)
    unit.set_speed(speed)
    begun = pace.at
    while unit.view().time_s < 600.0:  # type: ignore[union-attr]
        _turns(unit, 1)
    assert pace.at - begun == pytest.approx(600.0 / speed, abs=0.3)


def test_held_still_nothing_moves_but_a_selector_does() -> None:
    unit = _unit()
    unit.set_speed(0)
    _ask(unit, "turn", "blower", "auto")
    _turns(unit, 3)
    view = unit.view()
    assert view is not None
    assert (view.time_s, view.selectors["blower"]) == (0.0, "auto")
    with pytest.raises(InputError, match="7 is no speed"):
        unit.set_speed(7)


def test_a_machine_that_was_asleep_does_not_run_after_the_clock() -> None:
    pace = Still()
    unit = _unit(pace)
    _turns(unit, 1)
    pace.at += 200.0
    before = pace.at
    _turns(unit, 5)
    assert pace.at - before > 4.0


def test_it_starts_and_heats_and_leaves_events_alarms_points() -> None:
    unit = _started(_unit())
    unit.set_speed(10)
    _turns(unit, 120)
    assert all(_is(unit, name) for name in ("control_on", "run", "blower", "spray_pump", "heat"))
    texts = [event.text for event in unit.events_since(0)]
    assert texts.index("turn blower to auto") < texts.index("push reset") < texts.index("push start")
    assert "blower" in texts
    assert not any("delay" in text for text in texts)
    generation, points = unit.points_since(0, -1.0)
    assert generation == 0
    assert [point.time_s for point in points] == [float(second + 1) for second in range(len(points))]
    assert points[-1].heat_W == pytest.approx(example_rig("gas").season.heat_W, rel=0.05)
    assert unit.points_since(0, points[-2].time_s)[1] == [points[-1]]


def test_alarm_states_follow_the_buttons() -> None:
    unit = _started(_unit())
    unit.set_speed(10)
    _turns(unit, 60)
    _ask(unit, "fail", "blower_belt", "broken")
    _turns(unit, 10)
    (line,) = unit.view().alarms  # type: ignore[union-attr]
    assert (line.row, line.state) == ("airflow_lost", "latched unacknowledged")
    assert _is(unit, "airflow_lost_first")
    assert _is(unit, "horn")
    _ask(unit, "push", "", "silence")
    _turns(unit, 1)
    assert not _is(unit, "horn")
    _ask(unit, "push", "", "acknowledge")
    _turns(unit, 1)
    assert unit.view().alarms[0].state == "latched acknowledged"  # type: ignore[union-attr]
    _ask(unit, "fail", "blower_belt", "sound")
    _ask(unit, "push", "", "reset")
    _turns(unit, 1)
    assert unit.view().alarms == ()  # type: ignore[union-attr]
    kinds = [(event.name, event.text.rpartition(": ")[2]) for event in unit.events_since(0) if event.kind == "alarm"]
    assert kinds == [
        ("airflow_lost", "unacknowledged active"),
        ("airflow_lost", "latched unacknowledged"),
        ("airflow_lost", "latched acknowledged"),
        ("airflow_lost", "normal"),
    ]


@pytest.mark.parametrize("speed", [1, 10, 60])
def test_a_button_pushed_and_let_go_at_once_is_seen(speed: int) -> None:
    unit = _unit()
    unit.set_speed(speed)
    _turns(unit, 1)
    _ask(unit, "push", "", "reset")
    _ask(unit, "pull", "", "reset")
    _turns(unit, 2)
    assert _is(unit, "control_on")
    assert unit.view().pushed == ()  # type: ignore[union-attr]


def test_a_push_and_a_pull_while_held_still_wait_for_the_table() -> None:
    unit = _unit()
    _turns(unit, 1)
    unit.set_speed(0)
    _ask(unit, "push", "", "reset")
    _ask(unit, "pull", "", "reset")
    _turns(unit, 4)
    assert unit.view().pushed == ("reset",)  # type: ignore[union-attr]
    unit.set_speed(1)
    _turns(unit, 1)
    assert _is(unit, "control_on")
    assert unit.view().pushed == ()  # type: ignore[union-attr]


def test_a_button_that_no_browser_lets_go_comes_up() -> None:
    unit = _unit()
    _ask(unit, "push", "", "start")
    _turns(unit, 2)
    assert unit.view().pushed == ("start",)  # type: ignore[union-attr]
    _turns(unit, int(HELD_s) + 2)
    assert unit.view().pushed == ()  # type: ignore[union-attr]


def test_the_emergency_stop_stays_in() -> None:
    unit = _started(_unit())
    _ask(unit, "push", "", "emergency stop")
    _turns(unit, int(HELD_s) + 5)
    assert unit.view().pushed == ("emergency stop",)  # type: ignore[union-attr]
    assert not _is(unit, "control_on")


def test_what_is_planted_is_listed_and_goes_when_it_is_put_right() -> None:
    unit = _unit()
    for verb, target, value, right in (
        ("fail", "low_rod", "stuck wet", "sound"),
        ("supply", "gas", "off", "on"),
        ("nozzles", "", "50 %", "100 %"),
        ("lift", "low", "30 mm", "0"),
        ("short", "airflow", "on", "sound"),
        ("dip", "", "low", "back in the tank"),
    ):
        _ask(unit, verb, target, value)
        _turns(unit, 1)
        assert len(unit.view().altered) == 1, verb  # type: ignore[union-attr]
        _ask(unit, verb, target, right)
        _turns(unit, 1)
        assert unit.view().altered == (), verb  # type: ignore[union-attr]
    _ask(unit, "thermometer", "", "80 degC")
    _turns(unit, 1)
    assert unit.view().figures["thermometer_K"] == pytest.approx(353.15)  # type: ignore[union-attr]
    _ask(unit, "thermometer_back", "", "yes")
    _turns(unit, 1)
    assert unit.view().altered == ()  # type: ignore[union-attr]


def test_points_are_thinned_and_heat_stays_a_mean() -> None:
    unit = _started(_unit())
    unit.set_speed(60)
    _turns(unit, 600)
    generation, points = unit.points_since(0, -1.0)
    assert generation > 0
    apart = {after.time_s - before.time_s for before, after in pairwise(points)}
    assert apart == {2.0**generation}
    assert len(points) <= MOST_POINTS
    assert points[-1].heat_W == pytest.approx(example_rig("gas").season.heat_W, rel=0.05)
    assert unit.points_since(0, points[-1].time_s)[1] == points  # an old generation gets all of them
    assert unit.points_since(generation, points[-1].time_s)[1] == []


def test_a_unit_left_alone_is_ended() -> None:
    pace = Still()
    unit = _unit(pace)
    unit.set_speed(60)
    begun = pace.at
    unit.live()  # in this thread: it comes back when it is over
    assert unit.state == "ended"
    assert "nobody looked" in unit.why_ended
    assert pace.at - begun == pytest.approx(IDLE_s, abs=1.0)
    with pytest.raises(InputError, match="has ended"):
        _ask(unit, "push", "", "start")


@pytest.mark.parametrize("speed", [0, 60])
def test_no_unit_lives_for_ever(speed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running_unit, "LIFE_s", 900.0)
    assert LIFE_s > 3600.0
    pace = Still()
    unit = _unit(pace)
    unit.set_speed(speed)
    pace.listener = lambda _: unit.looked_at()
    begun = pace.at
    unit.live()
    assert "long enough" in unit.why_ended
    assert pace.at - begun == pytest.approx(900.0, abs=2.0)


def test_a_model_that_cannot_go_on_ends_the_unit_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = _unit()

    def broken(*_args: object, **_more: object) -> None:
        raise OutOfRange("temperature_K", 400.0, None, 373.0, "liquid")

    monkeypatch.setattr(SimulatedUnit, "second", broken)
    unit.live()
    assert unit.state == "ended"
    assert "temperature_K = 400" in unit.why_ended


def test_too_much_asked_at_a_time_is_refused() -> None:
    unit = _unit()
    for _ in range(MOST_ASKED):
        _ask(unit, "turn", "pump", "hand")
    with pytest.raises(InputError, match="too much"):
        _ask(unit, "turn", "pump", "off")


@pytest.mark.parametrize(
    ("verb", "target", "value", "said"),
    [
        ("push", "", "self-destruct", "is not there"),
        ("turn", "heat", "hand", "auto"),
        ("turn", "sun", "on", "blower"),
        ("fail", "steam_valve", "stuck open", "nothing that this gas unit has"),
        ("supply", "steam", "off", "nothing that this gas unit has"),
        ("reset", "", "everything", "low water"),
        ("lift", "low", "9 m", "out of range"),
        ("nozzles", "", "nan", "nozzles"),
        ("trickle", "", "-1 L/min", "out of range"),
        ("explode", "", "", "nothing that this gas unit has"),
        ("weld", "heat", "melted", "welded"),
    ],
)
def test_what_is_not_there_is_refused_before_it_reaches_the_unit(verb: str, target: str, value: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        deed_of(example_rig("gas"), verb, target, value, "SI")


def test_units_are_few_and_one_a_browser() -> None:
    units = RunningUnits(2, Still(), threads=False)
    rig = example_rig("gas")
    first = units.begin(rig, owner="ann", job="j", revision=1)
    again = units.begin(rig, owner="ann", job="j", revision=1)
    assert first.state == "ended"
    assert units.of("ann") is again
    units.begin(rig, owner="bob", job="j", revision=1)
    with pytest.raises(InputError, match="2 units run already"):
        units.begin(rig, owner="cid", job="j", revision=1)
    units.begin(rig, owner="bob", job="j", revision=1)  # one's own is replaced, however full it is
    units.end("ann")
    units.begin(rig, owner="cid", job="j", revision=1)
    assert units.count == 2
    assert units.by_id(again.id) is None
    units.close()
    assert units.count == 0


def test_one_that_ended_by_itself_makes_room() -> None:
    units = RunningUnits(1, Still(), threads=False)
    units.begin(example_rig("gas"), owner="ann", job="j", revision=1).end("done")
    units.begin(example_rig("gas"), owner="bob", job="j", revision=1)
    assert units.count == 1


def test_a_task_is_prepared_judged_and_hides_what_is_planted() -> None:
    unit = _unit(task="belt")
    assert unit.view().altered == ()  # type: ignore[union-attr]
    assert [line.row for line in unit.view().alarms] == ["airflow_lost"]  # type: ignore[union-attr]
    unit.set_speed(10)
    unit.do(Asked(look=look_of(unit.rig, "blower")))
    _turns(unit, 1)
    assert "belt lies in the guard" in unit.events_since(0)[-1].text
    assert unit.coached(lambda attempt, time_s: attempt.answer("belt", time_s)) is True
    _ask(unit, "turn", "blower", "off")
    _turns(unit, 20)
    unit.do(Asked(work=work_of(unit.rig, "belt")))
    _ask(unit, "turn", "blower", "auto")
    for button in ("acknowledge", "reset", "start"):
        _ask(unit, "push", "", button)
        _ask(unit, "pull", "", button)
        _turns(unit, 2)
    _turns(unit, 250)
    assert unit.attempt is not None
    assert unit.attempt.verdict == "passed", (unit.attempt.reached, unit.attempt.wrong)


def test_without_a_task_there_is_no_attempt() -> None:
    with pytest.raises(InputError, match="no task"):
        _unit().coached(lambda attempt, _: attempt.give_up())


def test_a_scene_that_does_not_come_about_is_said() -> None:
    rig = altered_rig("gas", lambda design: design)
    unit = RunningUnit(rig, owner="a", job="j", revision=1, pace=Still(), task=TASK_OF["contact"])
    unit.live()
    assert unit.state == "ended"
    assert "no task for this gas unit" in unit.why_ended


def test_a_thread_of_its_own_steps_it_in_earnest() -> None:
    units = RunningUnits(2)
    try:
        unit = units.begin(example_rig("steam"), owner="ann", job="j", revision=1)
        unit.set_speed(60)
        until = time.monotonic() + 20.0
        while (view := unit.view()) is None or view.time_s < 30.0:
            assert time.monotonic() < until
            threading.Event().wait(0.02)
    finally:
        units.close()
    assert unit.state == "ended"


class Keeper:
    """Writes down what it is told."""

    def __init__(self) -> None:
        self.id = "7"
        self.told: list[tuple[str, bool]] = []

    def over(self, unit: RunningUnit) -> None:
        assert unit.attempt is not None
        self.told.append((unit.attempt.verdict, unit.attempt.given_up))


def _kept(task: str) -> tuple[RunningUnits, RunningUnit, Keeper]:
    keeper, units = Keeper(), RunningUnits(2, Still(), threads=False)
    rig = example_rig("gas")
    unit = units.begin(rig, owner="ann", job="j", revision=1, task=TASK_OF[task], keeper=keeper)
    unit.prepare()
    return units, unit, keeper


def test_the_keeper_of_a_result_is_told_once_when_the_task_is_passed() -> None:
    units, unit, keeper = _kept("power")
    assert units.results_to_come == {"7"}
    unit.set_speed(10)
    unit.coached(lambda attempt, time_s: attempt.answer("power", time_s))
    for button in ("reset", "start"):
        _ask(unit, "push", "", button)
        _ask(unit, "pull", "", button)
        _turns(unit, 2)
    _turns(unit, 250)
    assert keeper.told == [("passed", False)]
    assert "7" not in units.results_to_come
    units.end("ann")
    assert keeper.told == [("passed", False)]


def test_the_keeper_is_told_of_what_is_given_up_and_of_what_is_left() -> None:
    _, unit, keeper = _kept("power")
    unit.coached(lambda attempt, _: attempt.give_up())
    assert keeper.told == [("not passed", True)]
    units, unit, keeper = _kept("power")
    units.begin(unit.rig, owner="ann", job="j", revision=1)
    assert keeper.told == [("at work", False)]
