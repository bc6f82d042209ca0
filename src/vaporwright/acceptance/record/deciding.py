"""The record of a test: what may be entered now, and what the event of it says.

`decide` says which events a command leads to, or refuses with one message; `record_state.apply` carries them into the
state; `record_chain.seal` and `verify` make and check the chain of hashes. All of it is pure: two technicians who enter
at once are put in order by the store, and the second is decided again on the state that the first has left.

Rules of a test are common practice, no source: hold points hold, a reading is corrected and never replaced, an expired
instrument passes nothing, what is signed stays until it is reopened.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any, Final, TypeAlias, get_args

from vaporwright.acceptance.record.canonical_json import as_json, canonical, procedure_as_json, procedure_from_json
from vaporwright.acceptance.record.checks import (
    check_stamp,
    is_hexadecimal,
    reading_of,
    require_attachment,
    require_figure,
    require_moment,
    require_words,
    step_named,
)
from vaporwright.acceptance.record.events import (
    PERFORMANCE_RUN,
    WHOLE_TEST,
    AcceptOpenItem,
    AcceptPoint,
    AddAttachment,
    AgreeDeviation,
    AppendLogRows,
    Category,
    ClosePunchItem,
    CloseRun,
    Command,
    CorrectReading,
    DryRun,
    EnterResult,
    Event,
    Interrupt,
    IssueProcedure,
    OpenPunchItem,
    OpenRun,
    Refused,
    RegisterInstrument,
    ReleaseToShip,
    Reopen,
    RepeatStep,
    RunKind,
    Signed,
    Stamp,
    StepDone,
    StepNotRun,
    TakeReading,
    Void,
)
from vaporwright.acceptance.record.late_entries import day_of, late_data, moment_of, require_after_opening
from vaporwright.acceptance.record.punch_list import item_numbered, keeps_in_the_shop
from vaporwright.acceptance.record.roles import require_performer, require_role
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import CHANNEL_OF, RunLog
from vaporwright.acceptance.steps.instruments import Instrument, is_number, standard_uncertainty, usable_on
from vaporwright.acceptance.steps.judging import judge_reading
from vaporwright.acceptance.steps.outcomes import OUTCOMES, PASSES
from vaporwright.acceptance.steps.procedure import Step
from vaporwright.acceptance.steps.readings import Reading

STANDS_WHEN_SIGNED: Final = frozenset(
    (
        "signed", "ship released", "run closed", "reopened", "attachment added",
        "punch item opened", "punch item closed", "punch item accepted open",
    )
)  # fmt: skip
COVERAGE: Final = 2.0  # factor of an expanded uncertainty, about 95 %
Extra: TypeAlias = dict[str, Any]


def decide(state: RunState, command: Command) -> tuple[Event, ...]:
    """The events that a command leads to.

    Raises: Refused (an InputError) where it is not allowed now; InputError for what is at fault in itself.
    """
    stamp = command.stamp
    check_stamp(stamp)
    require_role(command.kind, stamp.role)
    _require_open(state, command)
    require_after_opening(state, stamp)
    extra = _DECIDE[type(command)](state, command)
    data = command.data() | extra | late_data(stamp)
    canonical(data)  # refuses what cannot be kept
    return (Event(stamp.event_id, command.kind, stamp.at, stamp.who, stamp.role, stamp.tool, data),)


def signed_dry_run(state: RunState) -> DryRun:
    """What a witnessed run names of the shop's own dry run: the head that the engineer signed.

    Raises: Refused where it is no dry run, or not signed by the engineer since it was last opened.
    """
    signed = state.signed_by("engineer")
    if state.kind != "dry run" or signed is None or state.void:
        raise Refused(f"run {state.run or '(empty)'} is no dry run signed by the engineer")
    return DryRun(state.run, signed.head)


def _require_open(state: RunState, command: Command) -> None:
    if isinstance(command, OpenRun):
        if state.kind is not None:
            raise Refused("the run is open already", "a run of another name")
        return
    if state.kind is None:
        raise Refused("the run is not open yet", "open the run first")
    if state.closed and not isinstance(command, Reopen):
        raise Refused("the run is closed", "reopen it, with a reason")
    if state.void and not isinstance(command, CloseRun):
        raise Refused(f"the whole test is void: {state.void.words}", "close the run; a new run is a new record")
    if state.covering and command.kind not in STANDS_WHEN_SIGNED:
        names = ", ".join(f"{one.name} ({one.role})" for one in state.covering)
        raise Refused(f"{command.kind}: the record is signed by {names}", "reopen it, with a reason")


def _open(_state: RunState, command: OpenRun) -> Extra:
    if command.run_kind not in get_args(RunKind):
        raise Refused(f"kind of run {command.run_kind!r}", ", ".join(get_args(RunKind)))
    for what, text in (("the job", command.job), ("the customer", command.customer), ("the unit", command.unit)):
        require_words(what, text)
    require_attachment(command.job_file)
    if command.dry_run is not None and not is_hexadecimal(command.dry_run.head, 64):
        raise Refused(f"head of the dry run {command.dry_run.head!r}", "64 hexadecimal digits")
    if command.run_kind == "witnessed":
        if (command.dry_run is None) != bool(command.no_dry_run_because.strip()):
            raise Refused(
                "a witnessed run needs the shop's signed dry run, or a reason why there is none",
                "one of the two, and not both",
            )
    elif command.dry_run is not None or command.no_dry_run_because:
        raise Refused(f"a {command.run_kind} run names no dry run")
    return {}


def _issue(state: RunState, command: IssueProcedure) -> Extra:
    if state.issues:
        require_words("the reason for issuing the procedure again", command.reason)
    keys = [step.key for step in command.procedure.steps]
    fields = [(step.key, entry.key) for step in command.procedure.steps for entry in step.fields]
    twice = next((key for key, count in Counter((*keys, *fields)).items() if count > 1), None)
    if not keys or twice:
        raise Refused(
            f"{twice} stands twice" if twice else "the procedure has no steps", "steps with keys of their own"
        )
    value = procedure_as_json(command.procedure)
    if not isinstance(value, dict) or procedure_from_json(value) != command.procedure:
        raise Refused("the procedure does not come back from the record as it is", "plain numbers and texts")
    return {}


def _register(state: RunState, command: RegisterInstrument) -> Extra:
    day = command.stamp.at[:10]
    known = state.instruments.get(command.instrument.id, ())
    if any(entry.day == day for entry in known) and not command.reason.strip():
        raise Refused(f"{command.instrument.id} is registered today already", "again only with a reason")
    return {}


def _instrument(state: RunState, identifier: str, day: str) -> Instrument | None:
    """The instrument as registered on a day; None for the eye."""
    if not identifier:
        return None
    known = [entry for entry in state.instruments.get(identifier, ()) if entry.day == day]
    if not known:
        raise Refused(f"instrument {identifier!r} is not registered on {day}", "register it once a day, then pick it")
    return known[-1].instrument


def _may_work_on(state: RunState, step: Step, stamp: Stamp) -> None:
    """Raise Refused unless the role may do the step, and all that must come before it has.

    A step that is not accepted may be passed over where a deviation was agreed for it; a hold point may not. What
    waited for a line was done earlier than it is entered: a hold point that was accepted in between did not let it go
    on, so it counts only from its own time.
    """
    require_performer(step.key, step.by, stamp.role)
    agreed = {note.about for note in state.notes if note.kind == "deviation agreed"}
    for key in step.after:
        before = state.procedure.step(key) if state.procedure else None
        if before is None or (state.verdict(before) not in PASSES and key not in agreed):
            allowed = "finish that step first, or agree on a deviation for it"
            raise Refused(f"step {step.key} comes after {key}, which is not accepted", allowed)
    for earlier in state.steps:
        if earlier.key == step.key:
            return
        if earlier.point == "hold" and not state.point_passed(earlier):
            raise Refused(f"step {step.key}: the hold point {earlier.key} before it is not passed", "have it accepted")
        accepted = state.points.get(earlier.key) if earlier.point == "hold" else None
        if accepted and stamp.happened_at and moment_of(stamp.happened_at) < moment_of(accepted.at):
            problem = f"it was done at {stamp.happened_at}, before the hold point {earlier.key} was accepted"
            raise Refused(f"{problem} at {accepted.at}", "do it again, now that the point is passed")


def _take(state: RunState, command: TakeReading) -> Extra:
    step = step_named(state, command.reading.step)
    _may_work_on(state, step, command.stamp)
    there = state.current(step.key, command.reading.field)
    if there is not None:
        allowed = "correct it, with a reason, or repeat the step"
        known = f"{there.reading.entered} by {there.mark.who}, {there.mark.at}"
        raise Refused(f"{step.key}/{command.reading.field} is read already: {known}", allowed)
    return _judged(state, step, command.reading, day_of(command.stamp))


def _correct(state: RunState, command: CorrectReading) -> Extra:
    require_words("the reason of the correction", command.reason)
    wrong = reading_of(state, command.corrects)
    if not wrong.counts:
        raise Refused("that reading does not count any more", "correct the one that does")
    if (wrong.reading.step, wrong.reading.field) != (command.reading.step, command.reading.field):
        raise Refused("a correction is of the same step and field", f"{wrong.reading.step}/{wrong.reading.field}")
    step = step_named(state, command.reading.step)
    require_performer(step.key, step.by, command.stamp.role)
    return _judged(state, step, command.reading, wrong.read_at[:10])


def _judged(state: RunState, step: Step, reading: Reading, day: str) -> Extra:
    field = step.field(reading.field)
    if field is None:
        raise Refused(f"{reading.field!r} is no reading of step {step.key}", ", ".join(one.key for one in step.fields))
    require_words(f"what was entered for {step.key}/{field.key}", reading.entered)
    instrument = _instrument(state, reading.instrument, day)
    found = judge_reading(field, reading, instrument, day)
    expanded = None
    if instrument is not None and is_number(reading.value):
        expanded = COVERAGE * standard_uncertainty(instrument, float(reading.value))
    return {
        "outcome": found.outcome,
        "words": as_json(found.words),
        "expanded_uncertainty": expanded,
        "issue": len(state.issues),
    }


def _done(state: RunState, command: StepDone) -> Extra:
    step = step_named(state, command.step)
    _may_work_on(state, step, command.stamp)
    if any(field.needed for field in step.fields):
        raise Refused(f"step {step.key} is done when its readings are taken")
    if step.key in state.done:
        raise Refused(f"step {step.key} is done already", "repeat it, with a reason")
    return {}


def _leave_out(state: RunState, command: StepNotRun) -> Extra:
    require_words("the reason for not running the step", command.reason)
    step = step_named(state, command.step)
    if _has_entries(state, step):
        raise Refused(f"step {step.key} has entries", "void or repeat it, with a reason")
    return {}


def _repeat(state: RunState, command: RepeatStep) -> Extra:
    require_words("the reason for repeating the step", command.reason)
    step = step_named(state, command.step)
    if not _has_entries(state, step) and step.key not in state.not_run:
        raise Refused(f"step {step.key} has nothing to repeat")
    return {}


def _has_entries(state: RunState, step: Step) -> bool:
    return step.key in state.done or any(key[0] == step.key for key in state.readings)


def _accept_point(state: RunState, command: AcceptPoint) -> Extra:
    step = step_named(state, command.step)
    if not step.point:
        raise Refused(f"step {step.key} is no hold or witness point")
    if command.stamp.role == "engineer" and state.kind != "dry run":
        raise Refused("the engineer accepts points in the shop's dry run only", "the witness")
    if state.verdict(step) not in PASSES and step.key not in state.not_run:
        raise Refused(f"step {step.key} is {state.verdict(step)}", "accepted, or left out with a reason")
    if state.point_passed(step):
        raise Refused(f"the point {step.key} is accepted already")
    return {}


def _deviate(state: RunState, command: AgreeDeviation) -> Extra:
    require_words("what is done otherwise", command.text)
    require_words("who agreed to it", command.agreed_by)
    return _step_or_none(state, command.step)


def _step_or_none(state: RunState, step: str) -> Extra:
    if step:
        step_named(state, step)
    return {}


def _interrupt(state: RunState, command: Interrupt) -> Extra:
    require_words("the reason of the interruption", command.reason)
    require_figure("minutes of the interruption", command.minutes, least=0.0)
    return _step_or_none(state, command.step)


def _void(state: RunState, command: Void) -> Extra:
    require_words("the reason for voiding", command.reason)
    if command.what == WHOLE_TEST:
        return {}
    if command.what == PERFORMANCE_RUN:
        if not state.log_parts:
            raise Refused("the performance run has no rows to void")
        return {}
    if not _has_entries(state, step_named(state, command.what)):
        raise Refused(f"step {command.what} has nothing to void")
    return {}


def _log(state: RunState, command: AppendLogRows) -> Extra:
    require_moment("the beginning of the log", command.begun_at)
    if not command.times_s:
        raise Refused("the log gets no rows", "at least one")
    rows = RunLog(command.times_s, command.columns)
    _check_continues(state, command.begun_at, rows)
    expired = {}
    day = day_of(command.stamp)
    for name in filter(rows.has, rows.columns):
        instrument = _instrument(state, command.instruments.get(name, ""), day)
        if instrument is None or instrument.kind != CHANNEL_OF[name].instrument:
            raise Refused(f"{name} is logged with no {CHANNEL_OF[name].instrument}", "register one today, and name it")
        why = usable_on(instrument, day)
        if why:
            expired[name] = why
    return {"expired": expired}


def _check_continues(state: RunState, begun_at: str, rows: RunLog) -> None:
    """Raise unless the rows follow the log so far: time zero, times and totals."""
    if not state.log_parts:
        return
    if begun_at != state.log_parts[0].begun_at:
        raise Refused(f"the log began at {state.log_parts[0].begun_at}, not at {begun_at}")
    last_s = state.log_parts[-1].log.times_s[-1]
    columns = {}
    for name, values in rows.columns.items():
        known = (part.log.series(name) for part in reversed(state.log_parts))
        latest = next((series[-1][1] for series in known if series), None)
        columns[name] = (latest, *values)
    RunLog((last_s, *rows.times_s), columns)


def _result(state: RunState, command: EnterResult) -> Extra:
    if not state.log_parts:
        raise Refused("the performance run has no rows", "log it first")
    if command.outcome not in OUTCOMES:
        raise Refused(f"outcome {command.outcome!r}", ", ".join(OUTCOMES))
    require_words("the words of the result", command.words)
    for name, value in command.figures.items():
        require_figure(name, value)
    if command.outcome in PASSES and state.log_expired:
        name, why = next(iter(state.log_expired.items()))
        raise Refused(f"the performance run cannot pass: {name}: {why}", "void it and run it again")
    return {}


def _attach(state: RunState, command: AddAttachment) -> Extra:
    require_attachment(command.attachment)
    return _step_or_none(state, command.step)


def _open_item(state: RunState, command: OpenPunchItem) -> Extra:
    require_words("the item's text", command.text)
    require_words("the item's owner", command.owner)
    if command.category not in get_args(Category):
        raise Refused(f"category {command.category!r}", ", ".join(get_args(Category)))
    return _step_or_none(state, command.step) | {"number": len(state.punch_list) + 1}


def _close_item(state: RunState, command: ClosePunchItem) -> Extra:
    require_words("the evidence of the retest", command.evidence)
    item = item_numbered(state.punch_list, command.number)
    if item is None or item.closed:
        raise Refused(f"punch item {command.number} is not open")
    step = state.procedure.step(item.step) if state.procedure else None
    if step is not None and state.verdict(step) not in PASSES:
        raise Refused(f"step {item.step} of punch item {item.number} is {state.verdict(step)}", "test it again first")
    return {}


def _accept_item(state: RunState, command: AcceptOpenItem) -> Extra:
    item = item_numbered(state.punch_list, command.number)
    if item is None or item.settled:
        raise Refused(f"punch item {command.number} does not wait for anything")
    if item.category == "A":
        raise Refused(f"punch item {item.number} is of category A", "close it by a retest")
    return {}


def _sign(state: RunState, command: Signed) -> Extra:
    _check_signature(state, command)
    if state.procedure is None:
        raise Refused("there is no procedure to sign for")
    listed = {item.step for item in state.punch_list}
    missing = next((step for step in state.outstanding if step.key not in listed), None)
    if missing is not None:
        problem = f"step {missing.key} is {state.verdict(missing)}" + (" and a hold point" if missing.point else "")
        raise Refused(problem, "finish it, give a reason for not running it, or put it on the punch list")
    if state.log_parts and state.result is None:
        raise Refused("the performance run has rows and no result", "enter its result, or void it")
    name = command.stamp.who.casefold().strip()
    for known in state.covering:
        if known.kind == "signed" and known.name.casefold().strip() == name:
            raise Refused(f"{known.name} has signed as {known.role} already", "one person signs once")
    return {}


def _check_signature(state: RunState, command: Signed | ReleaseToShip) -> None:
    require_words("the statement that is signed", command.statement)
    if (command.seq, command.head) != (state.seq, state.head):
        raise Refused("the record has moved on since it was shown", "read what is new, then sign")
    if not is_hexadecimal(command.public_key, 64) or not is_hexadecimal(command.signature, 128):
        raise Refused(
            "the signature has not the form of one", "Ed25519: key of 64, signature of 128 hexadecimal digits"
        )


def _release(state: RunState, command: ReleaseToShip) -> Extra:
    _check_signature(state, command)
    if state.kind == "dry run":
        raise Refused("a dry run releases nothing", "a witnessed run")
    if state.release:
        raise Refused("the unit is released already")
    for role in ("engineer", "witness"):
        if state.signed_by(role) is None:
            raise Refused(f"the {role} has not signed", "signatures of engineer and witness")
    kept = keeps_in_the_shop(state.punch_list)
    if kept:
        numbers = ", ".join(str(item.number) for item in kept)
        raise Refused(f"punch items of category A are open: {numbers}", "close them by retest")
    waiting = [str(item.number) for item in state.punch_list if not item.settled]
    if waiting:
        raise Refused(f"punch items are open: {', '.join(waiting)}", "close them, or have the witness accept them open")
    return {}


def _reopen(state: RunState, command: Reopen) -> Extra:
    require_words("the reason for reopening", command.reason)
    if not state.covering and not state.closed:
        raise Refused("the record is neither signed nor closed")
    return {}


def _close(state: RunState, _command: CloseRun) -> Extra:
    needed = ("engineer",) if state.kind == "dry run" else ("engineer", "witness")
    for role in needed:
        if state.void is None and state.signed_by(role) is None:
            raise Refused(f"the {role} has not signed", "sign it, or void the whole test with a reason")
    return {}


_DECIDE: Final[Mapping[type[Command], Callable[[RunState, Any], Extra]]] = {
    OpenRun: _open,
    IssueProcedure: _issue,
    RegisterInstrument: _register,
    TakeReading: _take,
    CorrectReading: _correct,
    StepDone: _done,
    StepNotRun: _leave_out,
    RepeatStep: _repeat,
    AcceptPoint: _accept_point,
    AgreeDeviation: _deviate,
    Interrupt: _interrupt,
    Void: _void,
    AppendLogRows: _log,
    EnterResult: _result,
    AddAttachment: _attach,
    OpenPunchItem: _open_item,
    ClosePunchItem: _close_item,
    AcceptOpenItem: _accept_item,
    Signed: _sign,
    ReleaseToShip: _release,
    Reopen: _reopen,
    CloseRun: _close,
}
