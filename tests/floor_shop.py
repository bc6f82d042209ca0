"""A store with one invented run on an invented short procedure, opened today, for tests of the floor's pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from invented_record import insulation_tester, procedure, thermometer
from vaporwright.acceptance.record.events import IssueProcedure, OpenRun, RegisterInstrument, RunKind
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.procedure import Limits, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.actions.desk import Desk, now
from vaporwright.actions.job_book import JobBook
from vaporwright.store.record_store import RecordStore

RUN = "dry-run-1"
PIPE_m = 0.3048


def floor_procedure() -> Procedure:
    """The invented procedure, with a first step of three numbers that nothing else waits for."""
    sizes = Step(
        "sizes.pipe",
        "Pipe",
        "what was built is what was drawn",
        ("Lay the tape along the pipe.",),
        tuple(
            ReadingField(
                f"{name}_m", f"{name} end", "length", PIPE_m, Limits(PIPE_m - 0.01, PIPE_m + 0.01), "as drawn", ""
            )
            for name in ("near", "middle", "far")
        ),
        2.0,
    )
    known = procedure()
    return replace(known, sections=(ProcedureSection("sizes", "Sizes", (sizes,)), *known.sections))


def open_invented(
    records: RecordStore,
    book: JobBook,
    job: str,
    *,
    run: str = RUN,
    kind: RunKind = "dry run",
    made: Procedure | None = None,
    clock: Callable[[], str] = now,
) -> RunState:
    """Open a run on an invented procedure and say that it belongs to the job."""
    desk = Desk(records, "Opener", "engineer", clock)
    why = "invented" if kind == "witnessed" else ""
    file = desk.attach(b"# invented\n", "job.toml", "application/toml")
    desk.enter(run, OpenRun(desk.stamp(), kind, "Demo job", "Invented Plating", "Unit 7", file, None, why))
    state = desk.enter(run, IssueProcedure(desk.stamp(), made or floor_procedure()))
    due = (date.today() + timedelta(days=200)).isoformat()
    for one in (thermometer(due), insulation_tester(due)):
        state = desk.enter(run, RegisterInstrument(desk.stamp(), one), state)
    book.link_run(run, job, 1)
    return state
