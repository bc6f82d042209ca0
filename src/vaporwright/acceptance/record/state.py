"""What a record comes to: the state of a run after its events, from which screens and certificate are made.

`apply` takes one event that was allowed when it was entered and never asks again: what is stored has happened.
Verdicts on readings are those of the moment they were taken; nothing is judged anew here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from vaporwright.acceptance.record.canonical_json import procedure_from_json
from vaporwright.acceptance.record.chain import ORIGIN, Broken, Chain, Row, SignedHead, signed_head
from vaporwright.acceptance.record.events import (
    PERFORMANCE_RUN,
    WHOLE_TEST,
    Attachment,
    DryRun,
    Event,
    RunKind,
)
from vaporwright.acceptance.record.punch_list import Mark, PunchItem
from vaporwright.acceptance.run.log import RunLog
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_RUN, PASSES, Outcome, worst
from vaporwright.acceptance.steps.procedure import Procedure, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice


@dataclass(frozen=True)
class TakenReading:
    """A reading with the verdict of the moment; `counts` is False once its step was repeated, voided or corrected."""

    reading: Reading
    outcome: Outcome
    words: Notice  # why, its figures apart
    expanded_uncertainty: float | None
    issue: int  # of the procedure it was judged by, from 1
    mark: Mark
    corrects: str = ""  # id of the event corrected; the reason stands in the mark
    counts: bool = True
    read_at: str = ""  # a correction says anew what was read then: it keeps the time of the reading


@dataclass(frozen=True)
class Issue:
    """The procedure as issued; the reason of a further issue stands in the mark."""

    procedure: Procedure
    mark: Mark


@dataclass(frozen=True)
class Registered:
    """An instrument, for the day on which it was registered."""

    instrument: Instrument
    day: str
    mark: Mark


@dataclass(frozen=True)
class LogPart:
    """Rows of the performance run as they came in."""

    begun_at: str
    log: RunLog
    instruments: Mapping[str, str]
    expired: Mapping[str, str]  # channel, and why its instrument does not count
    mark: Mark


@dataclass(frozen=True)
class Result:
    """What the performance run came to."""

    figures: Mapping[str, float]
    outcome: Outcome
    words: str
    mark: Mark


@dataclass(frozen=True)
class Attached:
    """A file of the record, and the step it belongs to."""

    attachment: Attachment
    step: str
    mark: Mark


@dataclass(frozen=True)
class Note:
    """Something that happened to a step or to the whole: repeated, voided, interrupted, deviation, reopened."""

    kind: str
    about: str  # key of a step, PERFORMANCE_RUN, WHOLE_TEST or ""
    mark: Mark
    by_wish_of: str = ""  # who wished a repeat, or agreed to a deviation
    minutes: float = 0.0  # of an interruption


@dataclass(frozen=True)
class RunState:
    """A run, as far as its events have brought it."""

    run: str = ""
    seq: int = 0
    head: str = ORIGIN
    kind: RunKind | None = None  # None before the run is opened
    job: str = ""
    customer: str = ""
    unit: str = ""
    tool: str = ""  # version that opened it
    opened: Mark | None = None
    dry_run: DryRun | None = None
    no_dry_run_because: str = ""
    issues: tuple[Issue, ...] = ()
    instruments: Mapping[str, tuple[Registered, ...]] = field(default_factory=dict)  # by id, each day's
    history: Mapping[tuple[str, str], tuple[TakenReading, ...]] = field(default_factory=dict)  # by step and field
    done: Mapping[str, Mark] = field(default_factory=dict)  # steps of actions alone
    not_run: Mapping[str, Mark] = field(default_factory=dict)
    points: Mapping[str, Mark] = field(default_factory=dict)  # hold and witness points accepted
    notes: tuple[Note, ...] = ()
    log_parts: tuple[LogPart, ...] = ()
    result: Result | None = None
    attachments: tuple[Attached, ...] = ()
    punch_list: tuple[PunchItem, ...] = ()
    signatures: tuple[SignedHead, ...] = ()  # all there ever were
    covering: tuple[SignedHead, ...] = ()  # those since which nothing was reopened
    release: SignedHead | None = None
    closed: Mark | None = None
    void: Mark | None = None
    latest: Mark | None = None  # of the last event

    @property
    def procedure(self) -> Procedure | None:
        """The procedure in force."""
        return self.issues[-1].procedure if self.issues else None

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps of the procedure in force, in order."""
        return tuple(self.procedure.steps) if self.procedure else ()

    def current(self, step: str, key: str) -> TakenReading | None:
        """The reading of a field that counts."""
        taken = self.history.get((step, key), ())
        return taken[-1] if taken and taken[-1].counts else None

    @property
    def readings(self) -> dict[tuple[str, str], TakenReading]:
        """Every reading that counts, by step and field of the procedure in force."""
        found = (
            (step.key, entry.key, self.current(step.key, entry.key)) for step in self.steps for entry in step.fields
        )
        return {(step, key): taken for step, key, taken in found if taken is not None}

    def verdict(self, step: Step) -> Outcome:
        """The verdict on a step: of its readings, needed or taken; of a step of actions alone, that it was done."""
        if step.key in self.not_run:
            return NOT_RUN
        if not any(entry.needed for entry in step.fields):
            return worst([ACCEPTED, *self._outcomes(step)]) if step.key in self.done else NOT_RUN
        return worst(self._outcomes(step))

    def _outcomes(self, step: Step) -> list[Outcome]:
        taken = ((entry.needed, self.current(step.key, entry.key)) for entry in step.fields)
        return [found.outcome if found else NOT_RUN for needed, found in taken if needed or found]

    @property
    def verdicts(self) -> dict[str, Outcome]:
        """The verdict on every step."""
        return {step.key: self.verdict(step) for step in self.steps}

    def point_passed(self, step: Step) -> bool:
        """Whether a hold or witness point was accepted, with nothing entered in its step since."""
        return step.key in self.points

    @property
    def outstanding(self) -> tuple[Step, ...]:
        """Steps that are neither passed nor marked not run, and hold points that nobody accepted."""
        return tuple(step for step in self.steps if not self._settled(step))

    def _settled(self, step: Step) -> bool:
        if step.point == "hold" and not self.point_passed(step):
            return False
        return step.key in self.not_run or self.verdict(step) in PASSES

    @property
    def log(self) -> RunLog | None:
        """The rows of the performance run put together; None before there are any."""
        if not self.log_parts:
            return None
        names = dict.fromkeys(name for part in self.log_parts for name in part.log.columns)
        times_s = tuple(time_s for part in self.log_parts for time_s in part.log.times_s)
        columns = {name: tuple(value for part in self.log_parts for value in _column(part.log, name)) for name in names}
        return RunLog(times_s, columns)

    @property
    def log_expired(self) -> dict[str, str]:
        """Channels read with an instrument that does not count, and why."""
        return {name: why for part in self.log_parts for name, why in part.expired.items()}

    def signed_by(self, role: str) -> SignedHead | None:
        """The latest signature of a role that still covers what the record says."""
        return next((one for one in reversed(self.covering) if one.role == role and one.kind == "signed"), None)


def _column(log: RunLog, name: str) -> tuple[float | None, ...]:
    return log.columns.get(name) or (None,) * len(log.times_s)


def replay(rows: Iterable[Row], state: RunState | None = None) -> RunState:
    """The state after rows of one run, from its beginning or from a state before them.

    Raises: record_chain.Broken (a ValueError) where they are no chain.
    """
    state = state or RunState()
    chain = Chain(state.run, state.seq, state.head)
    for row in rows:
        event = chain.take(row)
        try:
            state = replace(apply(state, event), run=row.run, head=row.hash)
        except (KeyError, TypeError, AttributeError, InputError):
            problem = f"event {row.seq} ({event.kind}) is not as this version writes it; a newer one may read it"
            raise Broken(problem) from None
    return state


def apply(state: RunState, event: Event) -> RunState:
    """The state after one more event. Run and head are those of its row: `replay` sets them."""
    mark = _mark(event, str(event.data.get("reason", event.data.get("note", ""))))
    state = _APPLY[event.kind](state, event, mark)
    return replace(state, seq=state.seq + 1, latest=mark)


def _mark(event: Event, words: str) -> Mark:
    happened, late = (str(event.data.get(name, "")) for name in ("happened_at", "late_because"))
    return Mark(event.who, event.role, event.at, event.event_id, words, happened, late)


def _opened(state: RunState, event: Event, mark: Mark) -> RunState:
    data = event.data
    job_file = Attached(Attachment(**data["job_file"]), "", mark)
    return replace(
        state,
        kind=data["run_kind"],
        job=data["job"],
        customer=data["customer"],
        unit=data["unit"],
        tool=event.tool,
        opened=mark,
        dry_run=DryRun(**data["dry_run"]) if data["dry_run"] else None,
        no_dry_run_because=data["no_dry_run_because"],
        attachments=(*state.attachments, job_file),
    )


def _issued(state: RunState, event: Event, mark: Mark) -> RunState:
    return replace(state, issues=(*state.issues, Issue(procedure_from_json(event.data["procedure"]), mark)))


def _registered(state: RunState, event: Event, mark: Mark) -> RunState:
    found = Registered(Instrument(**event.data["instrument"]), event.at[:10], mark)
    known = state.instruments.get(found.instrument.id, ())
    return replace(state, instruments={**state.instruments, found.instrument.id: (*known, found)})


def _read(state: RunState, event: Event, mark: Mark) -> RunState:
    data = event.data
    words = data["words"]
    reading = Reading(**data["reading"])
    key = (reading.step, reading.field)
    before = state.history.get(key, ())
    wrong = next((entry for entry in before if entry.mark.event_id == data.get("corrects")), None)
    taken = TakenReading(
        reading,
        data["outcome"],
        Notice(words["name"], words["text"], tuple((value, quantity) for value, quantity in words["figures"])),
        data["expanded_uncertainty"],
        data["issue"],
        mark,
        data.get("corrects", ""),
        read_at=mark.happened if wrong is None else wrong.read_at,
    )
    known = tuple(replace(entry, counts=False) for entry in before)
    touched = replace(state, history={**state.history, key: (*known, taken)}, not_run=_less(state.not_run, key[0]))
    return replace(touched, points=_less(state.points, key[0]))


def _done(state: RunState, event: Event, mark: Mark) -> RunState:
    step = event.data["step"]
    done = {**state.done, step: mark}
    return replace(state, done=done, not_run=_less(state.not_run, step), points=_less(state.points, step))


def _left_out(state: RunState, event: Event, mark: Mark) -> RunState:
    step = event.data["step"]
    return replace(state, not_run={**state.not_run, step: mark}, points=_less(state.points, step))


def _repeated(state: RunState, event: Event, mark: Mark) -> RunState:
    step = event.data["step"]
    note = Note(event.kind, step, mark, event.data["wished_by"])
    return replace(_cleared(state, step), notes=(*state.notes, note))


def _cleared(state: RunState, step: str) -> RunState:
    """Nothing entered in a step counts any more; all of it stays."""
    history = {
        key: tuple(replace(entry, counts=False) for entry in taken) if key[0] == step else taken
        for key, taken in state.history.items()
    }
    done, not_run, points = (_less(entries, step) for entries in (state.done, state.not_run, state.points))
    return replace(state, history=history, done=done, not_run=not_run, points=points)


def _less(entries: Mapping[str, Mark], key: str) -> Mapping[str, Mark]:
    return {name: mark for name, mark in entries.items() if name != key} if key in entries else entries


def _accepted(state: RunState, event: Event, mark: Mark) -> RunState:
    return replace(state, points={**state.points, event.data["step"]: mark})


def _deviation(state: RunState, event: Event, mark: Mark) -> RunState:
    words = replace(mark, words=event.data["text"])
    return replace(state, notes=(*state.notes, Note(event.kind, event.data["step"], words, event.data["agreed_by"])))


def _interrupted(state: RunState, event: Event, mark: Mark) -> RunState:
    note = Note(event.kind, event.data["step"], mark, minutes=event.data["minutes"])
    return replace(state, notes=(*state.notes, note))


def _voided(state: RunState, event: Event, mark: Mark) -> RunState:
    what = event.data["what"]
    state = replace(state, notes=(*state.notes, Note(event.kind, what, mark)))
    if what == WHOLE_TEST:
        return replace(state, void=mark)
    if what == PERFORMANCE_RUN:
        return replace(state, log_parts=(), result=None)
    return _cleared(state, what)


def _logged(state: RunState, event: Event, mark: Mark) -> RunState:
    data = event.data
    columns = {name: tuple(values) for name, values in data["columns"].items()}
    log = RunLog(tuple(data["times_s"]), columns)
    part = LogPart(data["begun_at"], log, data["instruments"], data["expired"], mark)
    return replace(state, log_parts=(*state.log_parts, part), result=None)


def _resulted(state: RunState, event: Event, mark: Mark) -> RunState:
    data = event.data
    return replace(state, result=Result(data["figures"], data["outcome"], data["words"], mark))


def _attached(state: RunState, event: Event, mark: Mark) -> RunState:
    found = Attached(Attachment(**event.data["attachment"]), event.data["step"], mark)
    return replace(state, attachments=(*state.attachments, found))


def _punch_opened(state: RunState, event: Event, mark: Mark) -> RunState:
    data = event.data
    item = PunchItem(data["number"], data["category"], data["text"], data["owner"], data["step"], mark)
    return replace(state, punch_list=(*state.punch_list, item))


def _punch_closed(state: RunState, event: Event, mark: Mark) -> RunState:
    closed = replace(mark, words=event.data["evidence"])
    return _with_item(state, event.data["number"], lambda item: replace(item, closed=closed))


def _punch_accepted(state: RunState, event: Event, mark: Mark) -> RunState:
    return _with_item(state, event.data["number"], lambda item: replace(item, accepted_open=mark))


def _with_item(state: RunState, number: int, change: Callable[[PunchItem], PunchItem]) -> RunState:
    changed = tuple(change(item) if item.number == number else item for item in state.punch_list)
    return replace(state, punch_list=changed)


def _signed(state: RunState, event: Event, _mark: Mark) -> RunState:
    found = signed_head(state.seq + 1, event)
    signed = replace(state, signatures=(*state.signatures, found), covering=(*state.covering, found))
    return replace(signed, release=found) if event.kind == "ship released" else signed


def _reopened(state: RunState, event: Event, mark: Mark) -> RunState:
    note = Note(event.kind, "", mark)
    return replace(state, covering=(), release=None, closed=None, notes=(*state.notes, note))


def _closed(state: RunState, _event: Event, mark: Mark) -> RunState:
    return replace(state, closed=mark)


_APPLY: Final[Mapping[str, Callable[[RunState, Any, Mark], RunState]]] = {
    "run opened": _opened,
    "procedure issued": _issued,
    "instrument registered": _registered,
    "reading taken": _read,
    "reading corrected": _read,
    "step done": _done,
    "step not run": _left_out,
    "step repeated": _repeated,
    "point accepted": _accepted,
    "deviation agreed": _deviation,
    "interrupted": _interrupted,
    "voided": _voided,
    "log rows appended": _logged,
    "performance result": _resulted,
    "attachment added": _attached,
    "punch item opened": _punch_opened,
    "punch item closed": _punch_closed,
    "punch item accepted open": _punch_accepted,
    "signed": _signed,
    "ship released": _signed,
    "reopened": _reopened,
    "run closed": _closed,
}
