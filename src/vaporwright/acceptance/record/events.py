"""What the record of a test is made of: events, each sealed to the one before it, and the commands that lead to them.

A command is what somebody wants to enter; `record.decide` makes events of it, or refuses. A command carries the id of
its event, so that one sent twice is entered once. No clock here: whoever calls hands in the time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, ClassVar, Final, Literal, TypeAlias

from vaporwright.acceptance.record.canonical_json import Json, as_json
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import Outcome
from vaporwright.acceptance.steps.procedure import Procedure
from vaporwright.acceptance.steps.readings import Reading, Way
from vaporwright.foundation.errors import InputError

Kind: TypeAlias = Literal[
    "run opened",
    "procedure issued",
    "instrument registered",
    "reading taken",
    "reading corrected",
    "step done",
    "step not run",
    "step repeated",
    "point accepted",
    "deviation agreed",
    "interrupted",
    "voided",
    "log rows appended",
    "performance result",
    "attachment added",
    "punch item opened",
    "punch item closed",
    "punch item accepted open",
    "signed",
    "ship released",
    "reopened",
    "run closed",
]
RunKind: TypeAlias = Literal["dry run", "witnessed", "site"]
Category: TypeAlias = Literal["A", "B", "C"]
WHOLE_TEST: Final = "whole test"
PERFORMANCE_RUN: Final = "performance run"


class Refused(InputError):
    """The record does not take this entry now; the message says why, and what is allowed."""

    def __init__(self, problem: str, allowed: str = "") -> None:
        super().__init__("record", "", problem, allowed)


@dataclass(frozen=True)
class Event:
    """Something that happened, for good."""

    event_id: str  # a UUID, given by whoever enters it
    kind: Kind
    at: str  # ISO 8601 with offset
    who: str
    role: str
    tool: str  # version of this tool
    data: Mapping[str, Any]


@dataclass(frozen=True)
class Stamp:
    """Of every command: its event's id, when it is entered, who, in which role, with which version of the tool.

    What waited for a line says besides when it was done beside the unit. Both are left out of the event where they are
    empty, so that an event entered at once has the bytes that it always had; nor do they make it another entry when it
    is sent again, as its age is worked out anew each time.
    """

    event_id: str
    at: str
    who: str
    role: str
    tool: str
    happened_at: str = ""  # ISO 8601 with offset; "": when it was entered
    late_because: str = ""  # why it comes late, where no clock says when it was done


@dataclass(frozen=True)
class Command:
    """Something to be entered. Its data are its fields beside the stamp."""

    kind: ClassVar[Kind]
    stamp: Stamp

    def data(self) -> dict[str, Json]:
        """What the event says, as far as the command itself knows."""
        return {entry.name: as_json(getattr(self, entry.name)) for entry in fields(self) if entry.name != "stamp"}

    def asks_for(self, event: Event) -> bool:
        """Whether an event that is stored is what this command asks for: it was sent before."""
        same = event.kind == self.kind and event.who == self.stamp.who and event.role == self.stamp.role
        return same and all(event.data.get(name) == value for name, value in self.data().items())


@dataclass(frozen=True)
class Attachment:
    """A file that belongs to the record, by the hash of its content."""

    sha256: str
    name: str
    media_type: str
    size: int  # bytes


@dataclass(frozen=True)
class DryRun:
    """The shop's own signed run before the witness comes: the head that was signed."""

    run: str
    head: str


@dataclass(frozen=True)
class OpenRun(Command):
    """A run begins. A witnessed one names the shop's dry run, or says why there is none."""

    kind: ClassVar[Kind] = "run opened"
    run_kind: RunKind
    job: str
    customer: str
    unit: str
    job_file: Attachment
    dry_run: DryRun | None = None
    no_dry_run_because: str = ""


@dataclass(frozen=True)
class IssueProcedure(Command):
    """The procedure of the day, whole. Issued again only with a reason; readings are kept as they were judged."""

    kind: ClassVar[Kind] = "procedure issued"
    procedure: Procedure
    reason: str = ""


@dataclass(frozen=True)
class RegisterInstrument(Command):
    """An instrument with its certificate, for one day."""

    kind: ClassVar[Kind] = "instrument registered"
    instrument: Instrument
    reason: str = ""  # for registering it again on the same day


@dataclass(frozen=True)
class TakeReading(Command):
    """One value of one field of one step."""

    kind: ClassVar[Kind] = "reading taken"
    reading: Reading


@dataclass(frozen=True)
class CorrectReading(Command):
    """What a reading should have said; the wrong one stays."""

    kind: ClassVar[Kind] = "reading corrected"
    corrects: str  # id of the event corrected
    reading: Reading
    reason: str


@dataclass(frozen=True)
class StepDone(Command):
    """A step of actions alone, with nothing that must be read, was done."""

    kind: ClassVar[Kind] = "step done"
    step: str
    note: str = ""


@dataclass(frozen=True)
class StepNotRun(Command):
    """A step is left out, and why."""

    kind: ClassVar[Kind] = "step not run"
    step: str
    reason: str


@dataclass(frozen=True)
class RepeatStep(Command):
    """A step is done over: its readings stay in the record and no longer count."""

    kind: ClassVar[Kind] = "step repeated"
    step: str
    reason: str
    wished_by: str = ""


@dataclass(frozen=True)
class AcceptPoint(Command):
    """A hold or witness point is accepted: what waits for it may go on."""

    kind: ClassVar[Kind] = "point accepted"
    step: str
    note: str = ""


@dataclass(frozen=True)
class AgreeDeviation(Command):
    """Something is done otherwise than the procedure says."""

    kind: ClassVar[Kind] = "deviation agreed"
    step: str  # "" for the whole test
    text: str
    agreed_by: str


@dataclass(frozen=True)
class Interrupt(Command):
    """The test was interrupted."""

    kind: ClassVar[Kind] = "interrupted"
    reason: str
    minutes: float
    step: str = ""


@dataclass(frozen=True)
class Void(Command):
    """A step, the performance run or the whole test does not count."""

    kind: ClassVar[Kind] = "voided"
    what: str  # key of a step, PERFORMANCE_RUN or WHOLE_TEST
    reason: str


@dataclass(frozen=True)
class AppendLogRows(Command):
    """Further rows of the performance run, for the channels of run_log."""

    kind: ClassVar[Kind] = "log rows appended"
    begun_at: str  # time zero of the log, ISO 8601
    times_s: tuple[float, ...]
    columns: Mapping[str, tuple[float | None, ...]]
    instruments: Mapping[str, str] = field(default_factory=dict)  # by channel, ids of registered ones
    way: Way = "typed"


@dataclass(frozen=True)
class EnterResult(Command):
    """What the performance run came to: figures by name, SI, with the verdict on them."""

    kind: ClassVar[Kind] = "performance result"
    figures: Mapping[str, float]
    outcome: Outcome
    words: str


@dataclass(frozen=True)
class AddAttachment(Command):
    """A photograph, a chart, a certificate of a part."""

    kind: ClassVar[Kind] = "attachment added"
    attachment: Attachment
    step: str = ""


@dataclass(frozen=True)
class OpenPunchItem(Command):
    """Something is to be put right."""

    kind: ClassVar[Kind] = "punch item opened"
    category: Category
    text: str
    owner: str
    step: str = ""


@dataclass(frozen=True)
class ClosePunchItem(Command):
    """An item was put right and tested again by whoever enters this."""

    kind: ClassVar[Kind] = "punch item closed"
    number: int
    evidence: str


@dataclass(frozen=True)
class AcceptOpenItem(Command):
    """The witness agrees that an item of category B or C stays open."""

    kind: ClassVar[Kind] = "punch item accepted open"
    number: int
    note: str = ""


@dataclass(frozen=True)
class Signed(Command):
    """A signature over the head of the record, as it was shown to whoever signs."""

    kind: ClassVar[Kind] = "signed"
    seq: int
    head: str
    statement: str
    public_key: str  # hexadecimal, Ed25519
    signature: str


@dataclass(frozen=True)
class ReleaseToShip(Command):
    """The unit may ship; signed like a sign-off."""

    kind: ClassVar[Kind] = "ship released"
    seq: int
    head: str
    statement: str
    public_key: str
    signature: str


@dataclass(frozen=True)
class Reopen(Command):
    """A signed or closed record is opened again; the signatures before it no longer cover what it says."""

    kind: ClassVar[Kind] = "reopened"
    reason: str


@dataclass(frozen=True)
class CloseRun(Command):
    """The run is over."""

    kind: ClassVar[Kind] = "run closed"
    note: str = ""


COMMANDS: Final[tuple[type[Command], ...]] = tuple(Command.__subclasses__())
