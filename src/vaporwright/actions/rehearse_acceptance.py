"""A whole test with a simulated unit, technician, witness and instruments: from procedure to verified certificate.

It goes the way of a real one, entry by entry into a record of its own, with a clock and ids of its own: the same job
and seed give the same entries, and only the signatures, by a key made for them, differ. It shows the way; it tests
nothing.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from vaporwright.acceptance.quality.as_built import AsBuilt, found_with_set_point
from vaporwright.acceptance.quality.simulated_floor import SimulatedFloor, subject_of
from vaporwright.acceptance.record.certificate import Certificate
from vaporwright.acceptance.record.chain import Verification
from vaporwright.acceptance.record.events import (
    AcceptPoint,
    AgreeDeviation,
    OpenPunchItem,
    RegisterInstrument,
    RepeatStep,
    StepDone,
    TakeReading,
)
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.simulated import RunOptions, simulate_run
from vaporwright.acceptance.sections.performance import LOG
from vaporwright.acceptance.steps.day import usual_day
from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.outcomes import PASSES
from vaporwright.acceptance.steps.procedure import ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.actions.accept_run import EvaluatedRun, append_log, enter_result, hold_up_kg, open_run
from vaporwright.actions.acceptance_papers import (
    RELEASE_STATEMENT,
    SIGN_STATEMENTS,
    write_certificate,
    write_procedure,
    write_reading_sheets,
)
from vaporwright.actions.certificate_of_run import certificate_of
from vaporwright.actions.control_job import ControlledJob, control_job
from vaporwright.actions.desk import Desk
from vaporwright.actions.tested_job import TestedJob
from vaporwright.display_units import shown_unit, to_shown
from vaporwright.foundation.errors import InputError
from vaporwright.store.export import export_run, verify_export
from vaporwright.store.record_store import RecordStore
from vaporwright.store.sql_store import open_store
from vaporwright.unit.as_found import AsFound
from vaporwright.unit.levels import levels_of

RUN: Final = "rehearsal"
NO_DRY_RUN: Final = "a rehearsal with simulated people and instruments"
FIRST_MORNING: Final = datetime.fromisoformat("2026-03-02T07:00:00-06:00")
DAY_ENDS_h: Final = 19
TRIES: Final = 3  # of a step whose reading falls near its limit by chance
SPREADS: Final = {"merkel_factor": 0.06, "air_factor": 0.03, "spray_factor": 0.015, "heat_factor": 0.015}
OXYGEN_CELL: Final = {"flue_oxygen": "flue gas analyser"}  # of the analyser's two, the one of the performance run
Report = Callable[[float], None]


@dataclass(frozen=True)
class RehearsedAcceptance:
    """What came of it: the certificate, the record's file, the papers."""

    system: str
    certificate: Certificate
    evaluated: EvaluatedRun
    export: Path
    verification: Verification
    papers: tuple[Path, ...]


@dataclass
class _Clock:
    """A clock that goes on with the steps, and goes home in the evening."""

    at: datetime = FIRST_MORNING

    def __call__(self) -> str:
        self.at += timedelta(seconds=5)
        return self.at.isoformat(timespec="seconds")

    def spend(self, minutes: float) -> bool:
        """Go on; whether a new day has begun for it."""
        evening = self.at.replace(hour=DAY_ENDS_h, minute=0, second=0)
        if self.at + timedelta(minutes=minutes) <= evening or self.at.hour <= FIRST_MORNING.hour:
            self.at += timedelta(minutes=minutes)
            return False
        morning = self.at.replace(hour=FIRST_MORNING.hour, minute=0, second=0) + timedelta(days=1)
        self.at = morning + timedelta(minutes=minutes)
        return True


def rehearse_acceptance(
    path: Path | str, folder: Path, *, seed: int = 1, built: AsBuilt | None = None, report: Report | None = None
) -> RehearsedAcceptance:
    """Run a whole test of a job's unit into a folder that is made for it.

    Args: seed: of the unit's departures from its design, and of every instrument's error; built: the unit as it is,
        instead of one drawn by the seed; report: is told the share done.
    Raises: InputError of the job; where the folder is there already, or cannot be made.
    """
    controlled = control_job(path)
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise InputError(str(folder), "", f"cannot be made ({error.strerror})", "a new folder") from None
    with closing(open_store(str(folder / "record.sqlite"))) as store:
        test = _Test(controlled, store, folder, seed, built or _drawn(seed))
        return test.run(report or (lambda _: None))


def _drawn(seed: int) -> AsBuilt:
    """A sound unit as shops build them: a few factors near one."""
    chance = random.Random(seed)
    return AsBuilt(AsFound(**{name: 1.0 + chance.gauss(0.0, spread) for name, spread in SPREADS.items()}))


@dataclass
class _Test:
    """One rehearsal under way."""

    controlled: ControlledJob
    store: RecordStore
    folder: Path
    seed: int
    built: AsBuilt
    clock: _Clock = field(default_factory=_Clock)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.desks: dict[str, Desk] = {}
        self.day = usual_day(self.controlled.answer)
        self.subject = subject_of(self.controlled.answer, self.controlled.unit, self.day)
        self.floor = SimulatedFloor(self.subject, built=self.built, seed=self.seed)
        self.evaluated: EvaluatedRun | None = None

    def desk(self, role: str) -> Desk:
        """The desk of a role; each is one simulated person."""
        if role not in self.desks:
            ids = random.Random(f"{self.seed} {role}")
            self.desks[role] = Desk(
                self.store,
                f"simulated {role}",
                role,
                self.clock,
                lambda: str(uuid.UUID(int=ids.getrandbits(128), version=4)),
            )
        return self.desks[role]

    def run(self, report: Report) -> RehearsedAcceptance:
        system = self.controlled.answer.job.text("job.report_units")
        procedure = self.subject.procedure
        tested = TestedJob(self.controlled, procedure)
        papers = [
            write_procedure(tested, self.folder / "procedure.pdf", system, run=RUN),
            write_reading_sheets(tested, self.folder / "reading_sheets.pdf", system, run=RUN),
        ]
        state = open_run(
            self.desk("engineer"),
            RUN,
            self.controlled,
            self.day,
            kind="witnessed",
            no_dry_run_because=NO_DRY_RUN,
            instruments=self.floor.instruments.values(),
            procedure=procedure,
        )
        steps = state.steps
        for number, step in enumerate(steps):
            state, goes_on = self.perform(step, state)
            report(0.95 * (number + 1) / len(steps))
            if not goes_on:
                break
        state = self.end(state)
        certificate = certificate_of(state)
        paper, _ = write_certificate(certificate, self.folder / "certificate.pdf", system, self_signed="rehearsal")
        record = self.folder / "record.zip"
        export_run(self.store, RUN, record)
        report(1.0)
        assert self.evaluated is not None
        return RehearsedAcceptance(
            system, certificate, self.evaluated, record, verify_export(record), (*papers, paper, record)
        )

    def perform(self, step: Step, state: RunState) -> tuple[RunState, bool]:
        """One step, done over where chance has put a reading beyond its limit; whether the test may go on."""
        if self.clock.spend(step.minutes):
            for instrument in self.floor.instruments.values():
                command = RegisterInstrument(self.desk("technician").stamp(), instrument)
                state = self.desk("technician").enter(RUN, command, state)
        if step.key == LOG:
            state = self.log()
        for attempt in range(TRIES):
            state = self.read(step, state)
            if state.verdict(step) in PASSES or attempt == TRIES - 1:
                break
            reason = f"the reading was {state.verdict(step)}"
            over = RepeatStep(self.desk("witness").stamp(), step.key, reason, "simulated witness")
            state = self.desk("witness").enter(RUN, over, state)
        if state.verdict(step) not in PASSES:
            return self.leave_behind(step, state), step.point != "hold"
        if step.point:
            state = self.desk("witness").enter(RUN, AcceptPoint(self.desk("witness").stamp(), step.key), state)
        return state, True

    def leave_behind(self, step: Step, state: RunState) -> RunState:
        """A step that is not accepted: on the punch list, and agreed to be passed over."""
        witness, text = self.desk("witness"), f"{step.title}: {state.verdict(step)}"
        state = witness.enter(RUN, OpenPunchItem(witness.stamp(), "A", text, "simulated shop", step.key), state)
        agreed = AgreeDeviation(witness.stamp(), step.key, "goes on with this step not accepted", witness.who)
        return witness.enter(RUN, agreed, state)

    def read(self, step: Step, state: RunState) -> RunState:
        desk = self.desk(step.by)
        readings = self.floor.readings(step)
        for found in step.fields:
            if found.key in readings:
                reading = self.with_unit(found, readings[found.key])
                state = desk.enter(RUN, TakeReading(desk.stamp(), reading), state)
        if not any(found.needed for found in step.fields):
            state = desk.enter(RUN, StepDone(desk.stamp(), step.key), state)
        return state

    def with_unit(self, one: ReadingField, reading: Reading) -> Reading:
        """A reading entered the way a person does: with the unit that the sheet shows."""
        if not is_number(reading.value):
            return reading
        system = self.controlled.answer.job.text("job.report_units")
        shown = f"{to_shown(float(reading.value), one.quantity, system):.5g}"
        return replace(reading, entered=f"{shown} {shown_unit(one.quantity, system).text}".rstrip())

    def log(self) -> RunState:
        """The performance run: logged by the minute, worked out, entered."""
        answer, today = self.controlled.answer, self.subject.under.result
        options = RunOptions(calibration=1.0, hold_up_kg=hold_up_kg(answer))
        found = found_with_set_point(self.subject.under, self.built)
        run = simulate_run(
            answer.unit, today.conditions, levels_of(answer), seed=self.seed, found=found, options=options
        )
        begun = self.clock()
        append_log(self.desk("technician"), RUN, run.log, begun, OXYGEN_CELL)
        self.evaluated, state = enter_result(self.desk("engineer"), RUN)
        return state

    def end(self, state: RunState) -> RunState:
        key = self.folder / "signing_key.pem"
        for role in ("technician", "engineer", "witness"):
            state = self.desk(role).sign(RUN, key, SIGN_STATEMENTS.get(role, SIGN_STATEMENTS[""]))
        if not any(item.category == "A" and not item.settled for item in state.punch_list):
            state = self.desk("engineer").release(RUN, key, RELEASE_STATEMENT)
        return state
