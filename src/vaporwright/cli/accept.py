"""`vaporwright accept TASK`: one function for each task; words are in accept_report, options in accept_parser."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Final

from vaporwright.cli.accept_parser import store_of
from vaporwright.foundation.errors import InputError

if TYPE_CHECKING:
    from vaporwright.acceptance.record.events import Command, Stamp
    from vaporwright.acceptance.record.state import RunState
    from vaporwright.actions.desk import Desk

DONE, ANSWER_IS_NO = 0, 1
NOBODY: Final = "nobody"  # who only looks


def accept(options: argparse.Namespace) -> int:
    """Run one task; returns the exit code."""
    free = _FREE.get(options.task)
    if free is not None:
        return free(options)
    from vaporwright.actions.desk import Desk
    from vaporwright.store.sql_store import open_store

    with closing(open_store(store_of(options))) as store:
        desk = Desk(store, getattr(options, "by", NOBODY), getattr(options, "role", "technician"))
        return _AT_A_STORE[options.task](desk, options)


# Papers


def _day(options: argparse.Namespace) -> int:
    from vaporwright.actions.control_job import control_job
    from vaporwright.files.day_file import day_text
    from vaporwright.files.new_file import write_new

    controlled = control_job(options.job)
    write_new(options.file, day_text(controlled.unit.heat))
    print(
        f"Wrote {options.file}. Measure, fill in, then: vaporwright accept procedure {options.job} --day {options.file}"
    )
    return DONE


def _be_patient() -> None:
    """Say that it takes a while, to whoever watches."""
    if sys.stderr.isatty():
        print("Finding a trial for every row of the table: some ten seconds ...", file=sys.stderr, flush=True)


def _procedure(options: argparse.Namespace) -> int:
    from vaporwright.actions.acceptance_papers import write_procedure, write_reading_sheets
    from vaporwright.actions.tested_job import procedure_of_job
    from vaporwright.cli.accept_report import procedure_text

    _be_patient()
    tested = procedure_of_job(options.job, options.day, options.variant)
    system = options.units or tested.controlled.answer.job.text("job.report_units")
    if options.json:
        import json

        from vaporwright.acceptance.record.canonical_json import procedure_as_json

        print(json.dumps(procedure_as_json(tested.procedure), indent=2, allow_nan=False))
    else:
        print(procedure_text(tested.procedure, system))
    written = []
    if options.pdf is not None:
        written.append(write_procedure(tested, options.pdf, system))
    if options.sheet is not None:
        written.append(write_reading_sheets(tested, options.sheet, system))
    if written and not options.json:
        print("\n" + "\n".join(f"Wrote {path}" for path in written))
    return DONE


# Opening


def _open(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.accept_run import open_run
    from vaporwright.actions.control_job import control_job
    from vaporwright.files.instruments_file import read_instruments_file

    instruments = read_instruments_file(options.instruments) if options.instruments else ()
    _be_patient()
    state = open_run(
        desk,
        options.run,
        control_job(options.job),
        options.day,
        kind=options.kind,
        variant=options.variant,
        instruments=instruments,
        dry_run=options.dry_run,
        no_dry_run_because=options.no_dry_run,
    )
    print(f"Opened {options.run}: {len(state.steps)} steps, {len(state.instruments)} instruments.")
    return _told(state)


def _reissue(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.accept_run import issue_again

    _be_patient()
    return _told(issue_again(desk, options.run, options.day, options.reason))


def _register(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.acceptance.record.events import RegisterInstrument
    from vaporwright.files.instruments_file import read_instruments_file

    state = desk.state(options.run)
    for instrument in read_instruments_file(options.instruments):
        state = desk.enter(options.run, RegisterInstrument(desk.stamp(), instrument, options.reason), state)
    return _told(state)


def _runs(desk: Desk, options: argparse.Namespace) -> int:
    del options
    from vaporwright.cli.accept_report import runs_text

    print(runs_text([desk.state(entry.run) for entry in desk.store.runs()]))
    return DONE


# Readings


def _read(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.acceptance.record.checks import step_named
    from vaporwright.acceptance.record.events import CorrectReading, TakeReading
    from vaporwright.cli.accept_report import reading_lines
    from vaporwright.files.typed_reading import typed_reading

    state = desk.state(options.run)
    step = step_named(state, options.step)
    commands: list[Command] = []
    for text in options.readings:
        key, _, value = text.partition("=")
        field = step.field(key.strip())
        if field is None or not value:
            known = ", ".join(f"{one.key}=VALUE" for one in step.fields) or "none; mark the step as done"
            raise InputError("readings", text, f"is no reading of step {step.key}", known)
        instrument = options.instrument if field.instrument else ""
        reading = typed_reading(field, value, step=step.key, instrument=instrument, where=step.key)
        before = state.current(step.key, field.key)
        if options.correct and before is not None:
            commands.append(CorrectReading(desk.stamp(), before.mark.event_id, reading, options.correct))
        else:
            commands.append(TakeReading(desk.stamp(), reading))
    for command in commands:
        state = desk.enter(options.run, command, state)
    print("\n".join(reading_lines(state, step, _system(state, desk))))
    return _told(state)


def _import(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.accept_run import procedure_in, take_readings
    from vaporwright.files.readings_file import read_step_readings

    readings = read_step_readings(options.file, procedure_in(desk.state(options.run)))
    print(f"{len(readings)} readings in {options.file}")
    return _told(take_readings(desk, options.run, readings))


def _log(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.accept_run import append_log
    from vaporwright.files.readings_file import read_run_log

    log = read_run_log(options.file)
    begun = _begun(desk.state(options.run), options.begun, desk)
    return _told(append_log(desk, options.run, log, begun, _picked(options.instruments)))


def _live(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.live_run import log_live
    from vaporwright.cli.accept_report import live_row_text
    from vaporwright.files.register_map_file import read_register_map

    registers = read_register_map(options.map)
    begun = _begun(desk.state(options.run), options.begun, desk)
    system = _system(desk.state(options.run), desk)
    log_live(
        desk,
        options.run,
        registers,
        begun_at=begun,
        minutes=options.minutes,
        every_s=options.every,
        instruments=_picked(options.instruments),
        seen=lambda row: print(live_row_text(row, system), flush=True),
    )
    return _told(desk.state(options.run))


def _begun(state: RunState, given: str | None, desk: Desk) -> str:
    if given:
        return given
    return state.log_parts[0].begun_at if state.log_parts else desk.clock()


def _picked(texts: list[str]) -> dict[str, str]:
    """CHANNEL=ID texts as a mapping."""
    found = {}
    for text in texts:
        channel, equals, key = text.partition("=")
        if not (channel and equals and key):
            raise InputError("--with", text, "is no choice of an instrument", "CHANNEL=ID")
        found[channel] = key
    return found


def _result(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.acceptance.steps.outcomes import PASSES
    from vaporwright.actions.accept_run import enter_result, evaluate, live_of
    from vaporwright.cli.accept_report import live_text, result_text

    system = options.units or _system(desk.state(options.run), desk)
    if options.look and not options.json:
        print(live_text(live_of(desk, options.run), system) + "\n")
    evaluated = evaluate(desk, options.run) if options.look else enter_result(desk, options.run)[0]
    if options.json:
        import json

        result = evaluated.result
        print(json.dumps({"outcome": result.outcome, "words": result.words, **result.figures}, indent=2))
    else:
        print(result_text(evaluated, system))
    return DONE if evaluated.result.outcome in PASSES else ANSWER_IS_NO


# Conduct


def _status(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.cli.accept_report import state_as_json, status_text

    state = desk.state(options.run)
    if options.json:
        import json

        print(json.dumps(state_as_json(state), indent=2, allow_nan=False))
    else:
        print(status_text(state, options.units or _system(state, desk), full=options.full))
    return DONE


def _command(make: Callable[[Stamp, argparse.Namespace], Command]) -> Callable[[Desk, argparse.Namespace], int]:
    """A task that enters one command."""

    def task(desk: Desk, options: argparse.Namespace) -> int:
        return _told(desk.enter(options.run, make(desk.stamp(), options)))

    return task


def _simple(name: str, *fields: str) -> Callable[[Stamp, argparse.Namespace], Command]:
    """A command of record_events from options of these names, in order."""

    def make(stamp: Stamp, options: argparse.Namespace) -> Command:
        from vaporwright.acceptance.record import events as record_events

        kind = getattr(record_events, name)
        command: Command = kind(stamp, *(getattr(options, field) for field in fields))
        return command

    return make


def _attach(desk: Desk, options: argparse.Namespace) -> int:
    import mimetypes

    from vaporwright.acceptance.record.events import AddAttachment

    try:
        content = options.file.read_bytes()
    except OSError as error:
        raise InputError(str(options.file), "", f"cannot be read ({error.strerror})") from None
    media_type = mimetypes.guess_type(options.file.name)[0] or "application/octet-stream"
    attachment = desk.attach(content, options.file.name, media_type)
    return _told(desk.enter(options.run, AddAttachment(desk.stamp(), attachment, options.step)))


# Ending


def _sign(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.acceptance_papers import SIGN_STATEMENTS

    statement = options.statement or SIGN_STATEMENTS.get(options.role, SIGN_STATEMENTS[""])
    return _signed(desk, options, desk.sign(options.run, _key(options), statement))


def _release(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.acceptance_papers import RELEASE_STATEMENT

    return _signed(desk, options, desk.release(options.run, _key(options), options.statement or RELEASE_STATEMENT))


def _key(options: argparse.Namespace) -> Path:
    if options.key is not None:
        return Path(options.key)
    store = store_of(options)
    return (Path.cwd() if "://" in store else Path(store).parent) / "signing_key.pem"


def _signed(desk: Desk, options: argparse.Namespace, state: RunState) -> int:
    del desk
    from vaporwright.store.signing import SigningKey

    head = state.signatures[-1].head
    print(f"{options.by} ({options.role}) signed {options.run} at event {state.seq - 1}, head\n  {head}")
    print(f"Key {_key(options)}, fingerprint {SigningKey(_key(options)).fingerprint}")
    print("The head is printed on the certificate; the witness keeps a copy of it.")
    return _told(state)


def _certificate(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.acceptance.steps.outcomes import PASSES
    from vaporwright.actions.acceptance_papers import write_certificate
    from vaporwright.actions.certificate_of_run import certificate_of
    from vaporwright.documents.certificate_paper import verdict_sentence

    state = desk.state(options.run)
    certificate = certificate_of(state)
    system = options.units or _system(state, desk)
    passphrase = os.environ.get("VAPORWRIGHT_KEY_PASSPHRASE", "")
    path, warning = write_certificate(
        certificate, options.pdf, system, key=options.key, passphrase=passphrase, self_signed=options.self_signed or ""
    )
    print(verdict_sentence(certificate))
    print(f"Wrote {path}")
    if warning:
        print(f"Warning: {warning}", file=sys.stderr)
    return DONE if certificate.outcome in PASSES else ANSWER_IS_NO


def _export(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.store.export import export_run

    if options.file.exists():
        raise InputError(str(options.file), "", "exists already and is not overwritten", "a new file name")
    found = export_run(desk.store, options.run, options.file)
    print(f"Wrote {options.file}: {found.events} events, {len(found.signatures)} signatures, head\n  {found.head}")
    return DONE


def _verify(options: argparse.Namespace) -> int:
    from vaporwright.cli.accept_report import verification_text
    from vaporwright.store.export import verify_export

    try:
        found = verify_export(options.file, options.head, options.fingerprint)
    except OSError as error:
        raise InputError(str(options.file), "", f"cannot be read ({error.strerror})") from None
    print(verification_text(options.file, found))
    return DONE if found.ok else ANSWER_IS_NO


# Studies


def _rehearse(options: argparse.Namespace) -> int:
    from vaporwright.acceptance.steps.outcomes import PASSES
    from vaporwright.actions.rehearse_acceptance import rehearse_acceptance
    from vaporwright.cli.accept_report import rehearsed_text
    from vaporwright.cli.progress import Progress

    rehearsed = rehearse_acceptance(options.job, options.folder, seed=options.seed, report=Progress("Test"))
    print(rehearsed_text(rehearsed, options.units or rehearsed.system))
    return DONE if rehearsed.certificate.outcome in PASSES else ANSWER_IS_NO


def _quality(options: argparse.Namespace) -> int:
    from vaporwright.actions.procedure_quality import measure_quality
    from vaporwright.cli.progress import Progress
    from vaporwright.cli.quality_report import quality_text

    report = measure_quality(options.job, report=Progress("Planted faults"))
    if options.json:
        import json

        from vaporwright.actions.acceptance_json import quality_as_json

        print(json.dumps(quality_as_json(report), indent=2, allow_nan=False))
    else:
        print(quality_text(report, full=options.full))
    return DONE


def _refine(desk: Desk, options: argparse.Namespace) -> int:
    from vaporwright.actions.refine_catalogue import refine_catalogue, refinement_as_json, write_refined
    from vaporwright.cli.accept_report import refinement_text

    refined = refine_catalogue(desk, options.catalogue, options.tower, options.runs)
    if options.json:
        import json

        print(json.dumps(refinement_as_json(refined), indent=2, allow_nan=False))
    else:
        print(refinement_text(refined))
    if options.write is not None:
        written = write_refined(refined, options.write)
        if not options.json:
            print(f"\nWrote {written}")
    return DONE


def _system(state: RunState, desk: Desk) -> str:
    """US or SI as the job of the record asks for."""
    from vaporwright.actions.tested_job import report_units_of

    return report_units_of(desk.store, state)


def _told(state: RunState) -> int:
    """One line on where the run stands."""
    from vaporwright.cli.accept_report import standing_line

    print(standing_line(state))
    return DONE


_FREE: Final[Mapping[str, Callable[[argparse.Namespace], int]]] = {
    "day": _day,
    "procedure": _procedure,
    "verify": _verify,
    "rehearse": _rehearse,
    "quality": _quality,
}
_AT_A_STORE: Final[Mapping[str, Callable[..., int]]] = {
    "open": _open,
    "reissue": _reissue,
    "register": _register,
    "runs": _runs,
    "read": _read,
    "import": _import,
    "log": _log,
    "live": _live,
    "result": _result,
    "status": _status,
    "done": _command(_simple("StepDone", "step", "reason")),
    "skip": _command(_simple("StepNotRun", "step", "reason")),
    "repeat": _command(_simple("RepeatStep", "step", "reason", "wished_by")),
    "point": _command(_simple("AcceptPoint", "step", "reason")),
    "void": _command(_simple("Void", "what", "reason")),
    "deviate": _command(_simple("AgreeDeviation", "step", "text", "agreed_by")),
    "interrupt": _command(_simple("Interrupt", "reason", "minutes", "step")),
    "attach": _attach,
    "punch": _command(_simple("OpenPunchItem", "category", "text", "owner", "step")),
    "retested": _command(_simple("ClosePunchItem", "number", "evidence")),
    "leave-open": _command(_simple("AcceptOpenItem", "number", "evidence")),
    "sign": _sign,
    "release": _release,
    "reopen": _command(_simple("Reopen", "reason")),
    "close": _command(_simple("CloseRun", "note")),
    "certificate": _certificate,
    "export": _export,
    "refine": _refine,
}
