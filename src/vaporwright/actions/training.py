"""The trainer: tasks for people who are to run such a unit, judged by what they do and what the unit then does.

A task sets a simulated unit up, plants something that is not shown, and hands the unit over. It has goals, some of them
deeds and some of them states of the unit; a goal may have to come after others. Deeds that would hurt somebody or
something on a real unit are counted as dangerous, others that lead nowhere as mistaken. A task is passed when every
goal is reached without a dangerous deed and without harm to the heater or the pump.

Passing shows that someone can handle the panel of a model. It qualifies nobody to work on gas, power, steam or hot
liquor; local codes and the employer's own training decide that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from vaporwright.actions.at_hand import Deed
from vaporwright.actions.training_tasks import TASK_OF, TASKS, Goal, Stage, Task, Wrong
from vaporwright.actions.training_works import LOOK_OF, LOOKS, WORK_OF, WORKS, Look, Work
from vaporwright.controls.deeds import act
from vaporwright.controls.rig import Rig, Sample
from vaporwright.controls.script import HEATS
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.foundation.errors import InputError

TRAINER: Final = "trainer"
BARE_s: Final = 2.0  # of a heater under heat and out of the liquor: harm
DRY_s: Final = 10.0  # of a pump
BRIDGED: Final = "A jumper over a safety switch: the unit would have run blind."
Verdict = Literal["at work", "passed", "not passed"]
__all__ = ["TASKS", "TASK_OF", "Attempt", "begin", "looks_for", "tasks_for", "works_for"]


@dataclass(frozen=True)
class Counted:
    """A deed that was wrong."""

    time_s: float
    words: str
    dangerous: bool


@dataclass
class Attempt:
    """One trainee at one task. Times are of the unit, from when it was handed over."""

    task: Task
    handed_over_s: float
    reached: dict[str, float] = field(default_factory=dict)  # goal to when
    wrong: list[Counted] = field(default_factory=list)
    told: list[tuple[float, str]] = field(default_factory=list)  # what was seen and done, in words
    hints: int = 0
    guesses: int = 0
    cause_named: bool = False
    given_up: bool = False
    verdict: Verdict = "at work"
    harm: str = ""
    _held: dict[str, float] = field(default_factory=dict)  # goal to since when its state holds
    _done: set[str] = field(default_factory=set)
    _bare_s: float = 0.0
    _dry_s: float = 0.0

    @property
    def dangerous(self) -> int:
        """How many dangerous deeds."""
        return sum(one.dangerous for one in self.wrong)

    def begun(self, sample: Sample) -> None:
        """Note how the unit stands when it is handed over."""
        self._bare_s, self._dry_s = sample.heater_bare_s, sample.pump_dry_s

    def deed(self, key: str, value_of: Callable[[str], bool], time_s: float) -> None:
        """The trainee does something; called before the unit sees it."""
        if self.verdict != "at work":
            return
        at_s = time_s - self.handed_over_s
        self.told.append((at_s, key))
        self._look(value_of, at_s)
        for rule in self.task.wrong:
            if self._breaks(rule, key, value_of):
                self.wrong.append(Counted(at_s, rule.words, rule.dangerous))
        self._done.add(key)
        for goal in self.task.goals:
            if goal.did and goal.key not in self.reached and key in goal.did and self._is_due(goal):
                self.reached[goal.key] = at_s

    def work(self, work: Work, value_of: Callable[[str], bool], time_s: float) -> None:
        """The trainee works at the unit by hand."""
        if work.bridges and self.verdict == "at work":
            self.wrong.append(Counted(time_s - self.handed_over_s, BRIDGED, True))
        self.deed(f"work {work.key}", value_of, time_s)

    def answer(self, cause: str, time_s: float) -> bool:
        """The trainee names what is behind it; whether that is right. Raises InputError where it is no choice."""
        if cause not in [key for key, _ in self.task.causes]:
            raise InputError(TRAINER, "cause", "is no choice of this task", "one of the causes offered")
        if self.verdict != "at work" or self.cause_named:
            return cause == self.task.cause
        self.guesses += 1
        self.cause_named = cause == self.task.cause
        for goal in self.task.goals:
            if self.cause_named and goal.names_cause:
                self.reached.setdefault(goal.key, time_s - self.handed_over_s)
        return self.cause_named

    def hint(self) -> str:
        """The next hint. Raises InputError where all were given."""
        if self.hints >= len(self.task.hints):
            raise InputError(TRAINER, "hint", "there is no further hint", f"{len(self.task.hints)} hints")
        self.hints += 1
        return self.task.hints[self.hints - 1]

    def second(self, value_of: Callable[[str], bool], sample: Sample, time_s: float) -> None:
        """Look at the unit once a second: goals that are states, harm, and whether it is over."""
        if self.verdict != "at work":
            return
        self._look(value_of, time_s - self.handed_over_s)
        if sample.heater_bare_s - self._bare_s >= BARE_s:
            self.harm = "The heater stood bare with its heat on."
        elif sample.pump_dry_s - self._dry_s >= DRY_s:
            self.harm = "The pump ran dry."
        if self.harm:
            self.verdict = "not passed"
        elif len(self.reached) == len(self.task.goals):
            self.verdict = "not passed" if self.dangerous else "passed"

    def give_up(self) -> None:
        """The trainee wants to see what it was."""
        if self.verdict == "at work":
            self.verdict, self.given_up = "not passed", True

    def _look(self, value_of: Callable[[str], bool], at_s: float) -> None:
        for goal in self.task.goals:
            if not (goal.on or goal.off) or goal.key in self.reached:
                continue
            holds = self._is_due(goal) and all(map(value_of, goal.on)) and not any(map(value_of, goal.off))
            if not holds:
                self._held.pop(goal.key, None)
            elif at_s - self._held.setdefault(goal.key, at_s) >= goal.for_s:
                self.reached[goal.key] = at_s

    def _is_due(self, goal: Goal) -> bool:
        return all(key in self.reached for key in goal.after)

    def _breaks(self, rule: Wrong, key: str, value_of: Callable[[str], bool]) -> bool:
        if key not in rule.deeds or any(goal in self.reached for goal in rule.before):
            return False
        if rule.again and key not in self._done:
            return False
        return all(map(value_of, rule.on)) and not any(map(value_of, rule.off))


def tasks_for(rig: Rig) -> tuple[Task, ...]:
    """The tasks that this unit can give: its heat, and every name that a task watches."""
    return tuple(task for task in TASKS if rig.heat in task.heats and set(task.names) <= set(rig.table.names))


def looks_for(rig: Rig) -> tuple[Look, ...]:
    """Where one can look on this unit."""
    return tuple(look for look in LOOKS if look.only_for in ("", rig.heat))


def works_for(rig: Rig) -> tuple[Work, ...]:
    """What one can do by hand on this unit."""
    return tuple(work for work in WORKS if work.only_for in ("", rig.heat))


def begin(task: Task, rig: Rig) -> tuple[SimulatedUnit, Attempt]:
    """A unit as the task hands it over, and the attempt at it. Takes up to a few seconds.

    Raises: InputError where the task is not for this unit, or its scene does not come about on it.
    """
    if task not in tasks_for(rig):
        raise InputError(TRAINER, task.key, f"is no task for this {rig.heat} unit", " or ".join(task.heats or HEATS))
    level_m = rig.stack.mark(task.level).height_m + task.level_offset_m
    temperature_K = rig.season.settling_temperature_K - task.colder_K
    unit = SimulatedUnit(rig, level_m=level_m, temperature_K=temperature_K)
    for stage in task.stages:
        _play(unit, stage, task)
    attempt = Attempt(task, unit.time_s)
    attempt.begun(unit.sample())
    return unit, attempt


def _play(unit: SimulatedUnit, stage: Stage, task: Task) -> None:
    _do(unit, stage.deeds)
    _second(unit, due=True)
    for _ in range(round(stage.most_s) - 1):
        if stage.until is not None and unit.value(stage.until[0]) == stage.until[1]:
            return
        _second(unit, due=False, watching=(stage.until[0],) if stage.until else ())
    if stage.until is not None and unit.value(stage.until[0]) != stage.until[1]:
        words = f"its scene does not come about: {stage.until[0]} within {stage.most_s:g} s"
        raise InputError(TRAINER, task.key, words, "a unit on which it does")


def _do(unit: SimulatedUnit, deeds: Sequence[tuple[str, str, str | float]]) -> None:
    for verb, target, value in deeds:
        act(unit, verb, target, value)


def _second(unit: SimulatedUnit, *, due: bool, watching: Sequence[str] = ()) -> None:
    unit.second(_nothing, due=due, watching=watching)


def _nothing(scan: int) -> None:
    del scan


def work_deeds(work: Work) -> tuple[Deed, ...]:
    """What a work does to the unit."""
    return tuple(Deed(verb, target, value, work.words) for verb, target, value in work.parts)


def look_of(rig: Rig, key: str) -> Look:
    """A place to look at. Raises InputError where this unit has none of that name."""
    look = LOOK_OF.get(key)
    if look is None or look not in looks_for(rig):
        raise InputError(TRAINER, "look", f'"{key[:40]}" is not on this unit', ", ".join(o.key for o in looks_for(rig)))
    return look


def work_of(rig: Rig, key: str) -> Work:
    """A work by hand. Raises InputError where this unit has none of that name."""
    work = WORK_OF.get(key)
    if work is None or work not in works_for(rig):
        raise InputError(TRAINER, "work", f'"{key[:40]}" is not on this unit', ", ".join(o.key for o in works_for(rig)))
    return work
