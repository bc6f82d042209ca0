"""How good a procedure is: which of its steps finds which planted fault.

A fault of the program alone is put to what the sound unit's controller read, scan by scan. Where it drives the outputs
as the sound one does, the unit behaves the same, to the last digit, and only what people see on the panel can differ;
so the step needs no second performance. Where it drives them otherwise, and for every other fault, the step is
performed on the faulted unit. A step finds a fault where it does not pass.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from vaporwright.acceptance.quality.planted_faults import PlantedFault, planted_faults
from vaporwright.acceptance.quality.simulated_floor import SOUND, TEST_DAY, FloorFilm, SimulatedFloor, Subject
from vaporwright.acceptance.steps.judging import judge_step
from vaporwright.acceptance.steps.outcomes import PASSES
from vaporwright.acceptance.steps.procedure import Step
from vaporwright.acceptance.trials.row_steps import IN_SERIES
from vaporwright.acceptance.trials.trial import POWER_OFF, Context, Trial, timed_s, value_of
from vaporwright.controls.scan import Engine, ScanState, power_up
from vaporwright.controls.table import Table
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange

if TYPE_CHECKING:
    from numpy.typing import NDArray

ENOUGH: Final = 25  # steps that find a fault by being performed: no more are looked for


@dataclass(frozen=True)
class Finding:
    """The steps that found a fault, in the procedure's order; at least ENOUGH of them where there are many."""

    place: int  # in planted_faults
    fault: PlantedFault
    steps: tuple[str, ...]

    @property
    def caught(self) -> bool:
        """Whether any step found it."""
        return bool(self.steps)


@dataclass
class Study:
    """One unit's procedure performed on the sound unit once, and kept, so that faults can be held against it."""

    subject: Subject
    films: dict[str, FloorFilm] = field(default_factory=dict)  # of the sound unit, by step
    contexts: dict[str, FloorFilm] = field(default_factory=dict)  # since the base of each context

    def __post_init__(self) -> None:
        floor = SimulatedFloor(self.subject)
        trials = self.subject.trials
        for key, trial in trials.by_step.items():
            if self.subject.procedure.step(key) is not None:
                self.films[key] = floor.film(trial)
        for key, context in trials.contexts.items():
            self.contexts[key] = floor.standing_and_film(context)[1]
        self.faults = planted_faults(self.subject)

    def finding(self, place: int, seed: int = 1) -> Finding:
        """Which steps find a fault."""
        fault = self.faults[place]
        floor = SimulatedFloor(self.subject, fault.wiring, fault.built, seed=1000 * seed + place)
        reached = floor.truth.reached(self.subject.procedure)
        logic = ProgramFault(self, fault) if fault.wiring != SOUND and fault.wiring.only_logic else None
        found, performed = [], 0
        for step in self.subject.procedure.steps:
            trial = self.subject.trials.by_step.get(step.key)
            if trial is None:
                seen = (step.key == IN_SERIES and bool(fault.wiring.out_of_series)) or any(
                    f"{step.key}.{item.key}" in reached for item in step.fields
                )
                caught = seen and floor.verdict(step).outcome not in PASSES
            elif fault.wiring == SOUND or performed >= ENOUGH:
                continue
            else:
                caught, by_hand = self._tried(floor, step, trial, logic)
                performed += caught and by_hand
            if caught:
                found.append(step.key)
        return Finding(place, fault, tuple(found))

    def _tried(self, floor: SimulatedFloor, step: Step, trial: Trial, logic: ProgramFault | None) -> tuple[bool, bool]:
        """Whether a trial finds the fault, and whether it had to be performed."""
        film = logic.film(trial) if logic else None
        by_hand = film is None
        if film is None:
            try:
                film = floor.film(trial)
            except (InputError, OutOfRange, NotConverged):
                return True, True  # the unit left what its model covers: nobody would pass that
        if not self._differs(trial, film):
            return False, by_hand
        readings = floor.read_trial(step, trial, film)
        return judge_step(step, readings, floor.instruments, TEST_DAY).outcome not in PASSES, by_hand

    def _differs(self, trial: Trial, film: FloorFilm) -> bool:
        sound = self.films[trial.key]
        for look in trial.looks:
            if any(value_of(film, item, look.scan) != wanted for item, wanted in look.expected.items()):
                return True
        scan_s = film.table.scan_s
        return any(
            timed_s(film, timing, film.scans, scan_s) != timed_s(sound, timing, sound.scans, scan_s)
            for timing in trial.timings
        )

    def false_alarms(self, seeds: Sequence[int]) -> tuple[int, int, dict[str, int]]:
        """Steps that did not pass on the sound unit, steps performed, and which; each seed is another day's noise."""
        failed, done = 0, 0
        which: dict[str, int] = {}
        floor = SimulatedFloor(self.subject)
        for seed in seeds:
            floor.chance = random.Random(seed)
            for step in self.subject.procedure.steps:
                trial = self.subject.trials.by_step.get(step.key)
                readings = floor.read_trial(step, trial, self.films[step.key]) if trial else floor.readings(step)
                verdict = judge_step(step, readings, floor.instruments, TEST_DAY)
                done += 1
                if verdict.outcome not in PASSES:
                    failed += 1
                    which[step.key] = which.get(step.key, 0) + 1
        return failed, done, which


class ProgramFault:
    """A fault of the program, put to what the sound unit's controller read."""

    def __init__(self, study: Study, fault: PlantedFault) -> None:
        self.study, self.fault = study, fault
        self.table: Table = fault.wiring.table or study.subject.rig.table
        self._engine = Engine(self.table)
        self._same_limits = self.table.comparators == study.subject.rig.table.comparators
        self._states: dict[str, ScanState | None] = {}

    def film(self, trial: Trial) -> FloorFilm | None:
        """What would be seen; None where the unit would behave otherwise, where power goes, or a limit is another."""
        if not self._same_limits or any(POWER_OFF in act.deeds for act in trial.acts):
            return None
        state = self._state(self.study.subject.trials.contexts[trial.context])
        if state is None:
            return None
        sound = self.study.films[trial.key]
        columns = self._made(state, sound)
        if self._drives_otherwise(sound, columns):
            return None
        wired = self.study.subject.rig.hard_wired
        devices = {
            (name, scan): on if name in wired else bool(columns[name][scan])
            for (name, scan), on in sound.devices.items()
        }
        return FloorFilm(self.table, sound.scans, self.fault.wiring, columns, devices)

    def _state(self, context: Context) -> ScanState | None:
        """How the faulted program stands in a context; None where it drove the unit otherwise on the way."""
        if context.key not in self._states:
            before = power_up(self.table) if context.base is None else self._state(context.base)
            self._states[context.key] = None
            if before is not None:
                sound = self.study.contexts[context.key]
                columns = self._made(before, sound)
                if not self._drives_otherwise(sound, columns):
                    self._states[context.key] = self._engine.state()
        return self._states[context.key]

    def _made(self, state: ScanState, sound: FloorFilm) -> dict[str, NDArray[np.bool_]]:
        """Every name of the faulted program on what the sound unit's controller read."""
        self._engine.load(state)
        rows = np.stack([sound.columns[name] for name in self.table.signals], axis=1)
        for place, name in enumerate(self.table.signals):
            if name in self.fault.wiring.shorted:
                rows[:, place] = self.fault.wiring.shorted[name]
        made = self._engine.run(rows)
        return {name: made[:, place] for place, name in enumerate(self.table.names)}

    def _drives_otherwise(self, sound: FloorFilm, columns: Mapping[str, NDArray[np.bool_]]) -> bool:
        """Whether anything but a lamp is driven otherwise."""
        return any((columns[name] != sound.columns[name]).any() for name in self.study.subject.rig.hard_wired)
