"""The options of `vaporwright accept TASK`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import Any, Final

# Words of the record, written here again so that --help need not import it; a test holds the two together.
VARIANTS: Final = ("full", "cold", "hot on site", "site")
KINDS_OF_RUN: Final = ("dry run", "witnessed", "site")
ROLES: Final = ("technician", "engineer", "electrician", "burner technician", "witness")
CATEGORIES: Final = ("A", "B", "C")
PERFORMANCE_RUN, WHOLE_TEST = "performance run", "whole test"
STORE_VARIABLE: Final = "VAPORWRIGHT_STORE"
USUAL_STORE: Final = "vaporwright.sqlite"


def add_accept(commands: Any) -> None:
    """Put `accept` and its tasks among the commands."""
    accept = commands.add_parser(
        "accept",
        help="the acceptance test: procedure, readings, verdict, certificate",
        description="The acceptance test of a unit. It shows what a unit did; it approves nothing.",
    )
    tasks = accept.add_subparsers(dest="task", required=True, metavar="TASK")
    _add_papers(tasks)
    _add_opening(tasks)
    _add_readings(tasks)
    _add_conduct(tasks)
    _add_ending(tasks)
    _add_studies(tasks)


def _task(tasks: Any, name: str, what: str) -> Any:
    return tasks.add_parser(name, help=what, description=what[0].upper() + what[1:] + ".")


def _on_record(task: Any, *, by: bool = True) -> None:
    task.add_argument("run", metavar="RUN", help="name of the run")
    add_store_option(task)
    if by:
        task.add_argument("--by", metavar="NAME", required=True, help="who enters this")
        task.add_argument("--role", choices=ROLES, default="technician", help="in which role; default: technician")


def add_store_option(task: Any) -> None:
    """Where the records and jobs are kept; `store_of` reads it."""
    task.add_argument(
        "--store",
        metavar="STORE",
        help=f"SQLite file or postgresql:// address; default: ${STORE_VARIABLE}, else {USUAL_STORE}",
    )


def store_of(options: argparse.Namespace) -> str:
    """The store that is meant: the option, else the environment, else the usual file."""
    return str(options.store or os.environ.get(STORE_VARIABLE) or USUAL_STORE)


def _units(task: Any) -> None:
    task.add_argument("--units", choices=("US", "SI"), help="units shown; default: the job's")


def _day(task: Any) -> None:
    task.add_argument("--day", metavar="FILE", type=Path, required=True, help="conditions of the day (TOML)")


def _add_papers(tasks: Any) -> None:
    day = _task(tasks, "day", "write a commented file for the conditions of the day, to fill in")
    day.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    day.add_argument("file", metavar="FILE", type=Path, help="file to write; an existing one is left alone")
    procedure = _task(tasks, "procedure", "the procedure of a unit for the conditions of a day")
    procedure.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    _day(procedure)
    procedure.add_argument("--variant", choices=VARIANTS, default="full", help="default: full")
    procedure.add_argument("--pdf", metavar="FILE", type=Path, help="write the procedure for paper use")
    procedure.add_argument("--sheet", metavar="FILE", type=Path, help="write reading sheets to fill in by hand")
    procedure.add_argument("--json", action="store_true", help="everything for machines: stable keys, SI")
    _units(procedure)


def _add_opening(tasks: Any) -> None:
    opening = _task(tasks, "open", "open a run: its job, the procedure of the day, the day's instruments")
    _on_record(opening)
    opening.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    _day(opening)
    opening.add_argument("--kind", choices=KINDS_OF_RUN, default="dry run", help="default: dry run")
    opening.add_argument("--variant", choices=VARIANTS, default="full", help="default: full")
    opening.add_argument("--instruments", metavar="FILE", type=Path, help="the shop's test instruments (TOML)")
    opening.add_argument("--dry-run", metavar="RUN", default="", help="the shop's own signed run, for a witnessed one")
    opening.add_argument("--no-dry-run", metavar="REASON", default="", help="why there is none")
    again = _task(tasks, "reissue", "issue the procedure again for changed conditions of the day")
    _on_record(again)
    _day(again)
    again.add_argument("--reason", required=True, help="why")
    register = _task(tasks, "register", "register the day's instruments")
    _on_record(register)
    register.add_argument("instruments", metavar="FILE", type=Path, help="the shop's test instruments (TOML)")
    register.add_argument("--reason", default="", help="for registering one again on the same day")
    runs = _task(tasks, "runs", "the runs of a store")
    add_store_option(runs)


def _add_readings(tasks: Any) -> None:
    read = _task(tasks, "read", "enter readings of one step")
    _on_record(read)
    read.add_argument("step", metavar="STEP", help="key of the step, as in the procedure")
    read.add_argument(
        "readings", metavar="FIELD=VALUE", nargs="+", help='with its unit: "spray_flow_m3_s=32.1 gal/min"'
    )
    read.add_argument("--with", dest="instrument", metavar="ID", default="", help="registered instrument")
    read.add_argument("--correct", metavar="REASON", default="", help="correct readings that are entered already")
    take = _task(tasks, "import", "enter readings of steps from a CSV or XLSX file")
    _on_record(take)
    take.add_argument("file", metavar="FILE", type=Path, help="columns step, field, value; instrument, unit")
    log = _task(tasks, "log", "enter rows of the performance run from a CSV or XLSX file")
    _on_record(log)
    log.add_argument("file", metavar="FILE", type=Path, help="a time column and one for each channel")
    _begun(log)
    live = _task(tasks, "live", "log the performance run live from the panel (Modbus TCP, OPC UA)")
    _on_record(live)
    live.add_argument("map", metavar="MAP", type=Path, help="register map (TOML)")
    live.add_argument("--minutes", type=float, required=True, help="how long")
    live.add_argument(
        "--every", type=float, default=60.0, metavar="SECONDS", help="seconds from row to row; default 60"
    )
    _begun(live)
    result = _task(tasks, "result", "work out the performance run and what it says of the site; enters it")
    _on_record(result)
    result.add_argument("--look", action="store_true", help="only show it, and how a run that goes on stands")
    result.add_argument("--json", action="store_true", help="for machines: stable keys, SI")
    _units(result)


def _begun(task: Any) -> None:
    task.add_argument("--begun", metavar="TIME", help="time zero of the log, ISO 8601; default: now, for a new one")
    task.add_argument(
        "--with", dest="instruments", metavar="CHANNEL=ID", action="append", default=[], help="instrument of a channel"
    )


def _add_conduct(tasks: Any) -> None:
    status = _task(tasks, "status", "how a run stands: what is open, what was decided, who has signed")
    _on_record(status, by=False)
    status.add_argument("--full", action="store_true", help="every step and reading too")
    status.add_argument("--json", action="store_true", help="for machines: stable keys, SI")
    _units(status)
    for name, what in (
        ("done", "mark a step of actions alone as done"),
        ("skip", "leave a step out, with a reason"),
        ("repeat", "do a step over, with a reason"),
        ("point", "accept a hold or witness point"),
    ):
        task = _task(tasks, name, what)
        _on_record(task)
        task.add_argument("step", metavar="STEP", help="key of the step")
        task.add_argument("--reason", required=name in ("skip", "repeat"), default="", help="why, or a note")
        if name == "repeat":
            task.add_argument("--wished-by", metavar="NAME", default="", help="the witness who wished it")
    void = _task(tasks, "void", "say that a step, the performance run or the whole test does not count")
    _on_record(void)
    void.add_argument("what", metavar="WHAT", help=f'key of a step, "{PERFORMANCE_RUN}" or "{WHOLE_TEST}"')
    void.add_argument("--reason", required=True, help="why")
    deviate = _task(tasks, "deviate", "note that something is done otherwise than the procedure says")
    _on_record(deviate)
    deviate.add_argument("text", metavar="TEXT", help="what")
    deviate.add_argument("--step", default="", help="key of the step; without it, the whole test")
    deviate.add_argument("--agreed-by", metavar="NAME", required=True, help="who agreed to it")
    interrupt = _task(tasks, "interrupt", "note an interruption")
    _on_record(interrupt)
    interrupt.add_argument("--minutes", type=float, required=True, help="how long it lasted")
    interrupt.add_argument("--reason", required=True, help="why")
    interrupt.add_argument("--step", default="", help="key of the step")
    attach = _task(tasks, "attach", "add a photograph, a chart, a certificate")
    _on_record(attach)
    attach.add_argument("file", metavar="FILE", type=Path)
    attach.add_argument("--step", default="", help="key of the step it belongs to")
    punch = _task(tasks, "punch", "put an item on the punch list")
    _on_record(punch)
    punch.add_argument("category", choices=CATEGORIES, help="A keeps the unit in the shop, B before start-up, C after")
    punch.add_argument("text", metavar="TEXT", help="what is to be put right")
    punch.add_argument("--owner", required=True, help="who puts it right")
    punch.add_argument("--step", default="", help="key of the step it came from")
    for name, what in (("retested", "close a punch item: put right and tested again"),
                       ("leave-open", "the witness lets an item of B or C stand open")):  # fmt: skip
        task = _task(tasks, name, what)
        _on_record(task)
        task.add_argument("number", metavar="NUMBER", type=int, help="of the item")
        task.add_argument("--evidence", default="", help="what showed it, or a note", required=name == "retested")


def _add_ending(tasks: Any) -> None:
    sign = _task(tasks, "sign", "sign the record as it stands, with the shop's key")
    release = _task(
        tasks, "release", "release the unit to ship; every item of A is closed, engineer and witness have signed"
    )
    for task in (sign, release):
        _on_record(task)
        task.add_argument("--statement", default="", help="what is signed; a usual one without it")
        task.add_argument(
            "--key", metavar="FILE", type=Path, help="signing key; default: signing_key.pem beside the store"
        )
    reopen = _task(tasks, "reopen", "open a signed or closed record again; it leaves a trace")
    _on_record(reopen)
    reopen.add_argument("--reason", required=True, help="why")
    close = _task(tasks, "close", "close the run")
    _on_record(close)
    close.add_argument("--note", default="", help="a note")
    certificate = _task(tasks, "certificate", "print the certificate of a run")
    _on_record(certificate, by=False)
    certificate.add_argument("--pdf", metavar="FILE", type=Path, required=True, help="file to write")
    certificate.add_argument("--key", metavar="P12", type=Path, help="sign it with this key (PKCS #12)")
    certificate.add_argument("--self-signed", metavar="NAME", help="sign it with a key made now; it proves no identity")
    _units(certificate)
    export = _task(tasks, "export", "write a run with its attachments to one file")
    _on_record(export, by=False)
    export.add_argument("file", metavar="FILE", type=Path, help="file to write")
    verify = _task(tasks, "verify", "verify an exported record; exit code 1 where any byte was altered")
    verify.add_argument("file", metavar="FILE", type=Path, help="exported record")
    verify.add_argument("--head", metavar="HASH", help="from the witness's copy: the record must pass through it")
    verify.add_argument("--fingerprint", metavar="DIGITS", help="of the shop's key: every signature must be by it")


def _add_studies(tasks: Any) -> None:
    rehearse = _task(tasks, "rehearse", "a whole test with simulated instruments, from procedure to certificate")
    rehearse.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    rehearse.add_argument("folder", metavar="FOLDER", type=Path, help="where its papers and records go; made new")
    rehearse.add_argument("--seed", type=int, default=1, help="of the simulated unit and its noise")
    _units(rehearse)
    quality = _task(tasks, "quality", "how many of some 300 planted faults the procedure catches; takes minutes")
    quality.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    quality.add_argument("--full", action="store_true", help="every fault with the step that caught it")
    quality.add_argument("--json", action="store_true", help="for machines: stable keys")
    refine = _task(tasks, "refine", "what accepted runs say of a tower's law; writes a new catalogue only where asked")
    refine.add_argument("runs", metavar="RUN", nargs="+", help="accepted runs of units with this tower")
    add_store_option(refine)
    refine.add_argument("--catalogue", metavar="FILE", type=Path, help="the shop's; default: the demo catalogue")
    refine.add_argument("--tower", metavar="ID", required=True, help="which tower")
    refine.add_argument("--write", metavar="FILE", type=Path, help="write a copy with the refined law")
    refine.add_argument("--json", action="store_true", help="for machines: stable keys, SI")
