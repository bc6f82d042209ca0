"""An invented short procedure, and commands of a run on it, for tests of the record and of the store."""

from __future__ import annotations

import hashlib
import itertools
import uuid
from collections.abc import Callable, Iterator
from typing import Any

from vaporwright.acceptance.record.chain import Row, seal
from vaporwright.acceptance.record.deciding import decide
from vaporwright.acceptance.record.events import (
    AcceptPoint,
    Attachment,
    Command,
    IssueProcedure,
    OpenRun,
    RegisterInstrument,
    Stamp,
    StepDone,
    TakeReading,
)
from vaporwright.acceptance.record.state import RunState, replay
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.procedure import YES_OR_NO, Limits, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading

JOB_FILE = b'# invented\n[job]\nname = "Demo"\n'
DAY = "2026-03-04"


def procedure() -> Procedure:
    """Three sections, with every kind of field and of point, and an order to keep."""
    nameplate = Step(
        "documents.nameplate",
        "Nameplate",
        "what stands here is what was ordered",
        ("Read the nameplate.",),
        (ReadingField("serial", "serial number", "text", reason="as ordered"),),
        5.0,
    )
    leak = Step(
        "tank.leak",
        "Leak test",
        "a tight tank",
        ("Fill to the overflow.", "Wait four hours."),
        (ReadingField("drops", "drops seen", YES_OR_NO, expected=False, reason="none may come"),),
        240.0,
        cautions=("Clean water only. Nobody enters the tank.",),
        point="hold",
    )
    insulation = Step(
        "electrical.insulation",
        "Insulation",
        "no fault to earth",
        ("Lock out, then measure.",),
        (
            ReadingField(
                "resistance_ohm", "insulation", "insulation resistance", 2.0e6, Limits(1.0e6, None, proven=True),
                "at least one megohm", "insulation tester",
            ),
        ),
        10.0,
        by="electrician",
        after=("tank.leak",),
    )  # fmt: skip
    set_point = Step(
        "set_points.clamp",
        "Clamp",
        "as designed",
        ("Read the set point.",),
        (
            ReadingField(
                "clamp_K", "temperature clamp", "temperature", 338.7, Limits(337.6, 339.8), "design", "thermometer"
            ),
            ReadingField("remark", "remark", "text", needed=False),
        ),
        3.0,
        point="witness",
    )
    drain = Step("end.drain", "Drain", "dry for shipping", ("Drain and dry.",), (), 30.0)
    sections = (
        ProcedureSection("documents", "Documents", (nameplate,)),
        ProcedureSection("tank", "Tank", (leak,), note="cold"),
        ProcedureSection("rest", "The rest", (insulation, set_point, drain)),
    )
    conditions = {"air_temperature_K": 294.15, "pressure_Pa": 100_800.0}
    return Procedure(
        "Demo job", "Invented Plating", "Unit 7", "gas", "cold", conditions, sections, {"evaporation_kg_s": 0.0378},
        ("An interruption of more than an hour voids the hot run.",),
    )  # fmt: skip


class Hand:
    """Makes commands with ids that come in order, and keeps the rows that they lead to."""

    def __init__(self, run: str = "demo-1", day: str = DAY) -> None:
        self.run, self.day = run, day
        self.rows: tuple[Row, ...] = ()
        self.state = RunState(run)
        self._ids = itertools.count(1)

    def stamp(self, role: str = "technician", who: str = "") -> Stamp:
        number = next(self._ids)
        at = f"{self.day}T{8 + number // 3600:02d}:{number // 60 % 60:02d}:{number % 60:02d}-06:00"
        return Stamp(str(uuid.uuid5(uuid.NAMESPACE_OID, f"{self.run} {number}")), at, who or f"A {role}", role, "0.1.0")

    def does(
        self, make: Callable[..., Command], *args: Any, role: str = "technician", who: str = "", **more: Any
    ) -> Row:
        """Enter a command; its last row comes back."""
        return self.enters(make(self.stamp(role, who), *args, **more))

    def enters(self, command: Command) -> Row:
        rows = seal(decide(self.state, command), self.run, self.state.head, self.state.seq + 1)
        self.state = replay(rows, self.state)
        self.rows += rows
        return rows[-1]

    def opens(self, run_kind: str = "witnessed", **more: Any) -> Row:
        if run_kind == "witnessed" and not more:
            more = {"no_dry_run_because": "the witness came a day early"}
        return self.does(OpenRun, run_kind, "Demo job", "Invented Plating", "Unit 7", job_file(), **more)

    def begins(self, run_kind: str = "witnessed") -> None:
        """Open, issue, register."""
        self.opens(run_kind)
        self.does(IssueProcedure, procedure(), role="engineer")
        self.does(RegisterInstrument, thermometer())
        self.does(RegisterInstrument, insulation_tester(), role="electrician")

    def runs_through(self, run_kind: str = "witnessed") -> None:
        """All steps, passed, and the points accepted."""
        self.begins(run_kind)
        accepts = "engineer" if run_kind == "dry run" else "witness"
        for reading, role in readings():
            self.does(TakeReading, reading, role=role)
            if reading.step == "tank.leak":
                self.does(AcceptPoint, "tank.leak", role=accepts)
        self.does(StepDone, "end.drain")


def readings() -> Iterator[tuple[Reading, str]]:
    """Passing readings of all needed fields, with the role that takes them."""
    yield Reading("documents.nameplate", "serial", "INV-7", "INV-7"), "technician"
    yield Reading("tank.leak", "drops", "no", False), "technician"
    yield Reading("electrical.insulation", "resistance_ohm", "120 Mohm", 1.2e8, "R1"), "electrician"
    yield Reading("set_points.clamp", "clamp_K", "150.0 degF", 338.7056, "T1"), "technician"


def job_file() -> Attachment:
    return Attachment(hashlib.sha256(JOB_FILE).hexdigest(), "demo.toml", "text/plain", len(JOB_FILE))


def thermometer(due: str = "2027-01-31") -> Instrument:
    return Instrument("T1", "thermometer", "invented thermometer", "C-1001", due, expanded=0.3)


def insulation_tester(due: str = "2027-01-31") -> Instrument:
    return Instrument("R1", "insulation tester", "invented tester", "C-1002", due, expanded_relative=0.05)
