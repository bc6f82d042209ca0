"""The command line, thin: wording and units for people. The commands are those of _parser.

Exit codes: 0 done; 1 the answer is "no" (the duty is not met, the liquid is refused); 2 the input is at fault,
with one message that names file, key, value and what is allowed. Everything heavy is imported after the arguments
are understood, so that --help starts at once.
"""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Sequence
from pathlib import Path

from vaporwright.cli.accept_parser import add_accept
from vaporwright.cli.serve import add_serving, serving

DONE, ANSWER_IS_NO, INPUT_AT_FAULT = 0, 1, 2
LASTING = ("serve", "accept")  # may go on for days: a server, a live log


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="vaporwright",
        description="Sizes and rates heated-tank evaporators for wastewater from one job file. "
        "It sizes and documents; it does not replace the licensed engineer, gas fitter or electrician.",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    start = commands.add_parser("start", help="write a commented job file to fill in")
    start.add_argument("job", metavar="JOB", type=Path, help="file to write; an existing one is left alone")
    for name, what in (
        ("size", "choose a unit for a duty and say what it will really evaporate"),
        ("rate", "predict the unit that the job file names"),
    ):
        command = commands.add_parser(name, help=what, description=what[0].upper() + what[1:] + ".")
        command.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
        command.add_argument("--json", action="store_true", help="everything for machines: stable keys, SI")
        command.add_argument("--why", metavar="NAME", help="how a number came about; --why list names them")
        command.add_argument("--full", action="store_true", help="all assumptions, questions and candidates too")
        command.add_argument("--units", choices=("US", "SI"), help="units of this report; default: the job's")
        command.add_argument("--chart", metavar="FILE", type=Path, help="write the chart as SVG")
        command.add_argument("--elevation", metavar="FILE", type=Path, help="draw tank and rods to scale as SVG")
        command.add_argument(
            "--pdf",
            metavar="FILE",
            type=Path,
            help="write the sizing sheet: capacity, elevation with rods, connections",
        )
    compare = commands.add_parser("compare", help="what a change order moves: two jobs, old and new")
    compare.add_argument("old", metavar="JOB_A", type=Path, help="job file as quoted")
    compare.add_argument("new", metavar="JOB_B", type=Path, help="job file as changed")
    compare.add_argument("--json", action="store_true", help="every value that differs, by its path: stable keys, SI")
    compare.add_argument("--units", choices=("US", "SI"), help="units of this report; default: the old job's")
    controls = commands.add_parser("controls", help="the unit's cause-and-effect table, its temperatures and delays")
    controls.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    controls.add_argument("--json", action="store_true", help="everything for machines: stable keys, SI")
    controls.add_argument("--units", choices=("US", "SI"), help="units of this report; default: the job's")
    controls.add_argument("--guide", action="store_true", help="why did it stop: symptom, causes, what to look at")
    controls.add_argument("--table", metavar="FILE", type=Path, help="write the table as TOML, for the shop to edit")
    controls.add_argument("--plc-text", metavar="FILE", type=Path, help="write it as IEC 61131-3 Structured Text")
    controls.add_argument("--io-list", metavar="FILE", type=Path, help="write the I/O list as CSV")
    prove = commands.add_parser("prove", help="prove the interlocks of the table, and what one stuck contact undoes")
    prove.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    prove.add_argument("--faults", action="store_true", help="every single fault too; takes some minutes")
    prove.add_argument("--full", action="store_true", help="every proved sentence too")
    prove.add_argument("--json", action="store_true", help="everything for machines: stable keys")
    rehearse = commands.add_parser("rehearse", help="run scripts on the simulated unit, with a verdict on each")
    rehearse.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    rehearse.add_argument("--script", metavar="FILE", type=Path, help="one script; default: the whole library")
    rehearse.add_argument("--full", action="store_true", help="every event and expectation too")
    rehearse.add_argument("--json", action="store_true", help="everything for machines: stable keys, SI")
    rehearse.add_argument("--units", choices=("US", "SI"), help="units of the chart; default: the job's")
    rehearse.add_argument("--chart", metavar="FILE", type=Path, help="write the script's traces as SVG")
    add_accept(commands)
    add_serving(commands)
    diagnose = commands.add_parser("diagnose", help="why a unit falls short: causes ranked by readings of it")
    diagnose.add_argument("job", metavar="JOB", type=Path, help="job file (TOML)")
    diagnose.add_argument(
        "readings", metavar="READINGS", type=Path, help="steady readings (CSV or XLSX), units in the head"
    )
    diagnose.add_argument(
        "--new", action="store_true", help="weigh causes as for a new unit on test, not one in service"
    )
    diagnose.add_argument("--json", action="store_true", help="everything for machines: stable keys, SI")
    diagnose.add_argument("--units", choices=("US", "SI"), help="units of this report; default: the job's")
    catalogue = commands.add_parser("catalogue", help="work on the shop's catalogue")
    tasks = catalogue.add_subparsers(dest="task", required=True, metavar="TASK")
    fit = tasks.add_parser("fit", help="refit Me = c (L/G)^n from the raw fill-test points")
    fit.add_argument("catalogue", metavar="CATALOGUE", type=Path, nargs="?", help="file; default: the demo catalogue")
    fit.add_argument("--tower", metavar="ID", help="only this tower")
    fit.add_argument("--model", choices=("poppe", "merkel"), default="poppe", help="model that reduces the points")
    fit.add_argument("--json", action="store_true", help="for machines: stable keys, SI")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    options = _parser().parse_args(arguments)
    if arguments is None and options.command not in LASTING:
        gc.disable()  # one command in a process of its own: collecting costs a tenth of the time
    from vaporwright.foundation.errors import InputError, LiquidRefused, VaporwrightError

    try:
        if options.command == "start":
            return _start(options.job)
        if options.command == "catalogue":
            return _fit(options)
        if options.command == "compare":
            return _compare(options)
        if options.command == "controls":
            return _controls(options)
        if options.command == "prove":
            return _prove(options)
        if options.command == "rehearse":
            return _rehearse(options)
        if options.command == "accept":
            from vaporwright.cli.accept import accept

            return accept(options)
        if options.command in ("serve", "people", "backup", "restore"):
            return serving(options)
        if options.command == "diagnose":
            return _diagnose(options)
        return _size_or_rate(options)
    except LiquidRefused as refused:
        print(f"vaporwright: {options.job}: {refused}", file=sys.stderr)
        return ANSWER_IS_NO
    except InputError as error:
        print(f"vaporwright: {_with_file(error, options)}", file=sys.stderr)
        return INPUT_AT_FAULT
    except VaporwrightError as error:
        where = getattr(options, "job", None) or getattr(options, "catalogue", None) or "input"
        print(f"vaporwright: {where}: {error}", file=sys.stderr)
        return INPUT_AT_FAULT
    except BrokenPipeError:
        sys.stderr.close()
        return DONE


def _with_file(error: Exception, options: argparse.Namespace) -> str:
    """The message, with the job's file name where the error was found behind the reader."""
    text = str(error)
    job = getattr(options, "job", None)
    return f"{job}: {text.removeprefix('job: ')}" if text.startswith("job: ") and job else text


def _start(path: Path) -> int:
    from vaporwright.files.job_file import write_started_job

    write_started_job(path)
    print(f"Wrote {path}. Fill in what is known, leave the rest commented out, then: vaporwright size {path}")
    return DONE


def _size_or_rate(options: argparse.Namespace) -> int:
    from vaporwright.actions.size_job import rate_job, size_job
    from vaporwright.cli.progress import Progress

    outcome = (size_job if options.command == "size" else rate_job)(options.job, Progress().told)
    answer = outcome.answer
    system = options.units or answer.job.text("job.report_units")
    if options.json:
        import json

        from vaporwright.actions.answer_json import outcome_as_json

        print(json.dumps(outcome_as_json(outcome), indent=2, allow_nan=False))
    elif options.why:
        from vaporwright.cli.why import why_text

        print(why_text(answer, outcome.body, options.why, system))
    else:
        from vaporwright.cli.report import report_text

        print(report_text(outcome, system, full=options.full, bold=_may_be_bold()))
    written = _write_papers(options, outcome, system)
    if written and not (options.json or options.why):
        print("\n" + "\n".join(f"Wrote {path}" for path in written))
    return DONE if answer.meets_duty else ANSWER_IS_NO


def _compare(options: argparse.Namespace) -> int:
    from vaporwright.actions.size_job import size_job
    from vaporwright.cli.compare import compare_text

    options.job = options.old  # what an error names
    old = size_job(options.old)
    options.job = options.new
    new = size_job(options.new)
    if options.json:
        import json

        from vaporwright.actions.answer_json import difference_as_json

        print(json.dumps(difference_as_json(old, new), indent=2, allow_nan=False))
    else:
        print(compare_text(old, new, options.units or old.answer.job.text("job.report_units")))
    return DONE


def _controls(options: argparse.Namespace) -> int:
    from vaporwright.actions.control_job import control_job, write_io_list, write_plc_text, write_table

    controlled = control_job(options.job)
    system = options.units or controlled.answer.job.text("job.report_units")
    if options.json:
        import json

        from vaporwright.actions.control_json import controls_as_json

        print(json.dumps(controls_as_json(controlled), indent=2, allow_nan=False))
    else:
        from vaporwright.cli.control_report import controls_text, guide_text

        print(guide_text(controlled) if options.guide else controls_text(controlled, system))
    asked = ((write_table, options.table), (write_plc_text, options.plc_text), (write_io_list, options.io_list))
    written = [write(controlled, path) for write, path in asked if path is not None]
    if written and not options.json:
        print("\n" + "\n".join(f"Wrote {path}" for path in written))
    return DONE


def _prove(options: argparse.Namespace) -> int:
    from vaporwright.actions.prove_job import prove_job
    from vaporwright.cli.progress import Progress

    proved = prove_job(options.job, with_faults=options.faults, report=Progress().told)
    if options.json:
        import json

        from vaporwright.actions.control_json import proof_as_json

        print(json.dumps(proof_as_json(proved), indent=2, allow_nan=False))
    else:
        from vaporwright.cli.control_report import proof_text

        print(proof_text(proved, full=options.full))
    return DONE if proved.holds else ANSWER_IS_NO


def _rehearse(options: argparse.Namespace) -> int:
    from vaporwright.actions.rehearse_job import rehearse_job, write_trace_chart
    from vaporwright.cli.progress import Progress
    from vaporwright.foundation.errors import InputError

    if options.chart is not None and options.script is None:
        raise InputError("rehearse", "--chart", "a chart is of one script", "--script FILE with it")
    rehearsed = rehearse_job(options.job, options.script, Progress("Rehearsal"))
    if options.json:
        import json

        from vaporwright.actions.control_json import rehearsals_as_json

        print(json.dumps(rehearsals_as_json(rehearsed), indent=2, allow_nan=False))
    else:
        from vaporwright.cli.rehearsal_report import rehearsal_text

        print(rehearsal_text(rehearsed, full=options.full))
    if options.chart is not None:
        system = options.units or rehearsed.controlled.answer.job.text("job.report_units")
        written = write_trace_chart(rehearsed, options.chart, system)
        if not options.json:
            print(f"\nWrote {written}")
    return DONE if rehearsed.met else ANSWER_IS_NO


def _diagnose(options: argparse.Namespace) -> int:
    from vaporwright.actions.diagnose_job import diagnose_job, diagnosis_as_json

    diagnosed = diagnose_job(options.job, options.readings, in_service=not options.new)
    if options.json:
        import json

        print(json.dumps(diagnosis_as_json(diagnosed), indent=2, allow_nan=False))
    else:
        from vaporwright.cli.diagnosis_report import diagnosis_text

        print(diagnosis_text(diagnosed, options.units or diagnosed.answer.job.text("job.report_units")))
    return DONE


def _write_papers(options: argparse.Namespace, outcome: object, system: str) -> list[Path]:
    if options.chart is None and options.elevation is None and options.pdf is None:
        return []
    from vaporwright.actions.papers import write_chart, write_elevation, write_sizing_sheet
    from vaporwright.actions.size_job import Outcome

    assert isinstance(outcome, Outcome)
    written = []
    if options.chart is not None:
        written.append(write_chart(outcome, options.chart, system))
    if options.elevation is not None:
        written.append(write_elevation(outcome, options.elevation, system))
    if options.pdf is not None:
        written.append(write_sizing_sheet(outcome, options.pdf, system))
    return written


def _fit(options: argparse.Namespace) -> int:
    from vaporwright.actions.fit_catalogue import fit_catalogue, fits_as_json
    from vaporwright.cli.fit_report import fit_report_text

    fits = fit_catalogue(options.catalogue, options.tower, options.model)
    if options.json:
        import json

        print(json.dumps(fits_as_json(fits), indent=2, allow_nan=False))
    else:
        print(fit_report_text(fits))
    return DONE


def _may_be_bold() -> bool:
    import os

    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


if __name__ == "__main__":
    sys.exit(main())
