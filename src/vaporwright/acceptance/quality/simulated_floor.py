"""A simulated technician: performs the steps of a procedure on a simulated unit, faults and all, and reads it.

Steps of the control are performed deed by deed on `controls.simulated_unit`: he looks at the lamps of the controller,
at the alarm list and at the devices, and stops the time by hand. Everything else is measured: the true value is what
the unit as built has (`as_built`), and the instrument adds its error, drawn once for each reading from the uncertainty
that its certificate states. A fault sits in the unit; no reading is ever bent.

Each trial starts from a unit that was brought to its context as people bring it there; the context is kept and copied,
so that it is run once for each unit.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from vaporwright.acceptance.quality.as_built import AsBuilt, Truth
from vaporwright.acceptance.sections.procedure_of_unit import procedure_for
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest, under_test
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.instruments import KINDS, Instrument, standard_uncertainty
from vaporwright.acceptance.steps.judging import StepVerdict, judge_step
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ReadingField, Step, Variant
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.acceptance.trials.found import ControlTrials
from vaporwright.acceptance.trials.other_trials import series_checks
from vaporwright.acceptance.trials.row_steps import IN_SERIES, sections_of
from vaporwright.acceptance.trials.row_trials import control_trials
from vaporwright.acceptance.trials.trial import Act, Context, Trial, timed_s, value_of
from vaporwright.controls.deeds import act as do_deed
from vaporwright.controls.expressions import evaluate
from vaporwright.controls.rehearsal import rig_of
from vaporwright.controls.rig import Rig
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.controls.table import Table
from vaporwright.controls.unit_table import UnitTable
from vaporwright.unit.answer import UnitAnswer

if TYPE_CHECKING:
    from numpy.typing import NDArray

TEST_DAY: Final = "2026-03-02"
DUE: Final = "2026-12-31"
COLD_K: Final = 293.15
MONOXIDE_CELL: Final = "analyser, carbon monoxide"
PATIENCE_s: Final = 2.0  # that a technician waits for something beyond what he was told


@dataclass(frozen=True)
class Wiring:
    """How a unit is wired and programmed where it is not as designed.

    table: of the unit as it runs. lamps: an input's lamp at the controller, by the contact that it really shows, and
    whether inverted. outputs: a device by the output that really drives it. shorted: wires that always say the same.
    contacts: of outputs, "welded" or "open". out_of_series: contacts that are not in an output's circuit.
    """

    table: Table | None = None
    lamps: Mapping[str, tuple[str, bool]] = field(default_factory=dict)
    outputs: Mapping[str, str] = field(default_factory=dict)
    shorted: Mapping[str, bool] = field(default_factory=dict)
    contacts: Mapping[str, str] = field(default_factory=dict)
    out_of_series: frozenset[tuple[str, str]] = frozenset()

    @property
    def only_logic(self) -> bool:
        """It differs only in what the table makes of what it reads."""
        return not (self.outputs or self.contacts or self.out_of_series)


SOUND: Final = Wiring()


@dataclass(frozen=True)
class Subject:
    """One unit on one day with its procedure, and all that it takes to perform it."""

    under: UnitUnderTest
    rig: Rig
    trials: ControlTrials
    procedure: Procedure

    @property
    def table(self) -> UnitTable:
        """The unit's table as designed."""
        return self.under.table


def subject_of(design: UnitAnswer, table: UnitTable, day: DayConditions, variant: Variant = "full") -> Subject:
    """A unit with its procedure; takes some seconds."""
    found = control_trials(table)
    procedure = procedure_for(design, table, day, variant, sections_of(table, found))
    return Subject(under_test(design, table, day, variant), rig_of(design, table), found, procedure)


def usual_instruments() -> dict[str, Instrument]:
    """One of each kind, with the uncertainty usual for it; the analyser's two cells apart."""
    found = {
        kind.name: Instrument(
            kind.name, kind.name, kind.title, f"certificate of the {kind.name}", DUE,
            expanded=kind.usual_expanded, expanded_relative=kind.usual_expanded_relative,
        )
        for kind in KINDS.values()
    }  # fmt: skip
    cell = Instrument(
        MONOXIDE_CELL, "flue gas analyser", "carbon monoxide cell of the analyser", "certificate of that cell", DUE,
        expanded=5.0e-6, expanded_relative=0.05,
    )  # fmt: skip
    return {**found, MONOXIDE_CELL: cell}


class FloorUnit(SimulatedUnit):
    """A simulated unit with the wiring as it was found."""

    def __init__(self, rig: Rig, wiring: Wiring) -> None:
        table = wiring.table or rig.table
        super().__init__(replace(rig, table=table), level_m=rig.stack.mark("refill-off").height_m, temperature_K=COLD_K)
        self.wiring = wiring
        self.shorted |= wiring.shorted
        for name, failure in wiring.contacts.items():
            self.effect_contacts[name].failure = failure  # type: ignore[assignment]

    def _write_down(self, values: NDArray[np.bool_], scan: int) -> None:
        super()._write_down(values, scan)
        if self.wiring.outputs:
            self._told |= {
                device: bool(self._values[self._place[name]]) for device, name in self.wiring.outputs.items()
            }

    def device_on(self, name: str) -> bool:
        """Whether what hangs on an output has current: its circuit where it has one, else the output's own contact."""
        if name in self.rig.hard_wired:
            return self._driven(name)
        contact = self.effect_contacts.get(name)
        return self.power and contact is not None and contact.closed(self._told[name])

    def copied(self) -> FloorUnit:
        """A copy that goes its own way; what never changes is shared."""
        design = self.plant.design
        shared = {id(part): part for part in (self.rig, self.table, self.wiring, design, self.engine._program)}
        return copy.deepcopy(self, shared)


@dataclass
class FloorFilm:
    """What a technician could see of a unit during a trial."""

    table: Table
    scans: int
    wiring: Wiring
    columns: Mapping[str, NDArray[np.bool_]]
    devices: Mapping[tuple[str, int], bool]

    def column(self, name: str) -> NDArray[np.bool_] | None:
        """See trials.Film."""
        return self.columns.get(name)

    def lamp(self, name: str) -> NDArray[np.bool_] | None:
        """See trials.Film."""
        contact, inverted = self.wiring.lamps.get(name, (name, False))
        line = self.columns.get(contact)
        return ~line if line is not None and inverted else line

    def device(self, name: str, scan: int) -> bool:
        """See trials.Film."""
        return self.devices[name, scan]


class SimulatedFloor:
    """A technician with his instruments at one unit."""

    def __init__(self, subject: Subject, wiring: Wiring = SOUND, built: AsBuilt | None = None, seed: int = 1) -> None:
        self.subject, self.wiring = subject, wiring
        self.truth = Truth(subject.under, built or AsBuilt())
        self.instruments = usual_instruments()
        self.chance = random.Random(seed)
        self._standing: dict[str, tuple[FloorUnit, FloorFilm]] = {}
        self._checks = {check.field: check for check in series_checks(subject.table)}

    def verdict(self, step: Step) -> StepVerdict:
        """Perform a step and have it judged."""
        return judge_step(step, self.readings(step), self.instruments, TEST_DAY)

    def readings(self, step: Step) -> dict[str, Reading]:
        """Perform a step: its readings by field."""
        trial = self.subject.trials.by_step.get(step.key)
        if trial is not None:
            return self.read_trial(step, trial, self.film(trial))
        if step.key == IN_SERIES:
            return {item.key: self._told(step, item, self._opens(item.key)) for item in step.fields}
        return {item.key: self._measured(step, item) for item in step.fields}

    # The control

    def read_trial(self, step: Step, trial: Trial, film: FloorFilm) -> dict[str, Reading]:
        """What was seen and timed."""
        fields = {item.key: item for item in step.fields}
        found = {}
        for look in trial.looks:
            seen = all(value_of(film, item, look.scan) == wanted for item, wanted in look.expected.items())
            found[look.field] = self._told(step, fields[look.field], seen)
        for timing in trial.timings:
            seconds = timed_s(film, timing, film.scans, film.table.scan_s)
            waited_s = film.scans * film.table.scan_s + PATIENCE_s if seconds is None else seconds
            found[timing.field] = self._read(step, fields[timing.field], waited_s)
        return found

    def film(self, trial: Trial) -> FloorFilm:
        """Do the acts of a trial to a unit in its context."""
        context = self.subject.trials.contexts[trial.context]
        unit = self.standing(context).copied()
        looked = {look.scan: [item for item in look.expected if item.startswith("device:")] for look in trial.looks}
        return perform(unit, trial.acts, trial.scans, looked)

    def standing(self, context: Context) -> FloorUnit:
        """The unit in a context, brought there the way people do."""
        return self.standing_and_film(context)[0]

    def standing_and_film(self, context: Context) -> tuple[FloorUnit, FloorFilm]:
        """The same, with what was seen since its base."""
        if context.key not in self._standing:
            if context.base is None:
                unit, acts, begin = FloorUnit(self.subject.rig, self.wiring), context.acts, 0
            else:
                unit = self.standing(context.base).copied()
                acts, begin = context.acts[len(context.base.acts) :], context.base.scans
            moved = [replace(act, scan=act.scan - begin) for act in acts]
            self._standing[context.key] = unit, perform(unit, moved, context.scans - begin, {})
        return self._standing[context.key]

    def _opens(self, key: str) -> bool:
        """Whether the circuit of an output opens with the contact that a field of the series step is about."""
        check = self._checks[key]
        if (check.output, check.contact) in self.wiring.out_of_series:
            return False
        expr = self.subject.rig.hard_wired[check.output]
        return not evaluate(expr, {**check.closed, check.contact: False}, {})

    # Readings

    def _measured(self, step: Step, item: ReadingField) -> Reading:
        true = self.truth.value(step, item)
        if item.quantity == TEXT:
            return Reading(step.key, item.key, str(true), str(true))
        if item.quantity == YES_OR_NO:
            return self._told(step, item, bool(true))
        return self._read(step, item, float(true))

    def _told(self, step: Step, item: ReadingField, seen: bool) -> Reading:
        """A tick: yes where it is as the label says."""
        value = seen == (item.expected is not False)
        return Reading(step.key, item.key, "yes" if value else "no", value, item.instrument)

    def _read(self, step: Step, item: ReadingField, true: float) -> Reading:
        """A number with the error of its instrument."""
        name = MONOXIDE_CELL if item.key == "carbon_monoxide" else item.instrument
        value = true
        if name:
            value += self.chance.gauss(0.0, standard_uncertainty(self.instruments[name], true))
        return Reading(step.key, item.key, f"{value:.6g}", value, name)


def perform(unit: FloorUnit, acts: Sequence[Act], scans: int, looked: Mapping[int, Sequence[str]]) -> FloorFilm:
    """Let a unit run while people act on it; devices are looked at after the scans that are given."""
    per_s, begin = unit.scans_per_s, unit.scan
    names = unit.table.names
    start = {name: unit.value(name) for name in names}
    unit.changes.clear()
    waiting = sorted(acts, key=lambda act: act.scan)
    devices: dict[tuple[str, int], bool] = {}
    seconds = -(-scans // per_s)

    def before_scan(scan: int) -> None:
        at = scan - begin
        for item in looked.get(at - 1, ()):
            devices[item.partition(":")[2], at - 1] = unit.device_on(item.partition(":")[2])
        while waiting and waiting[0].scan <= at:
            for verb, target, value in waiting.pop(0).deeds:
                do_deed(unit, verb, target, value)

    busy = {act.scan // per_s for act in acts} | {(scan + 1) // per_s for scan, items in looked.items() if items}
    for second in range(seconds):
        unit.second(before_scan, due=second in busy)
    columns: dict[str, NDArray[np.bool_]] = {}
    moved: dict[int, list[tuple[int, bool]]] = {}
    for scan, place, value in unit.changes:
        moved.setdefault(place, []).append((scan - begin, value))
    for place, name in enumerate(names):
        line = np.full(seconds * per_s, start[name], dtype=np.bool_)
        for scan, value in moved.get(place, ()):
            line[scan:] = value
        columns[name] = line
    return FloorFilm(unit.table, seconds * per_s, unit.wiring, columns, devices)
