"""Size the three invented enquiries of this folder, and take one of the units through a simulated acceptance test.

JSON, chart, elevation and PDF of each, and the papers of the test, are left in ./demo-output.

Run by `python3 dev.py demo`. Progress goes to standard error, so that the results can be redirected on their own.
"""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
import time
from collections.abc import Iterator
from pathlib import Path

from vaporwright.actions.answer_json import outcome_as_json
from vaporwright.actions.papers import write_chart, write_elevation, write_sizing_sheet
from vaporwright.actions.rehearse_acceptance import rehearse_acceptance
from vaporwright.actions.size_job import Outcome, size_job
from vaporwright.cli.accept_report import rehearsed_text
from vaporwright.display_units import show
from vaporwright.documents.wording import headline, limiter
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.unit.heat import kind_of

HERE = Path(__file__).resolve().parent
OUTPUT = Path("demo-output")
WIDTH = 80
_DRAWN = {"gas": "Gas, gross", "electric": "Electric power for it", "steam": "Steam condensing for it"}
STEPS = ("sizing", "JSON", "chart", "elevation", "sizing sheet")
TESTED = "tumbling_effluent_gas.toml"
TEST_STEPS = 40  # as the line of progress counts it


def main() -> int:
    """Size all enquiries; returns the exit code: 0, or 2 where an input or the output folder is at fault."""
    jobs = sorted(HERE.glob("*.toml"))
    progress = Progress(len(jobs) * len(STEPS) + TEST_STEPS)
    try:
        OUTPUT.mkdir(exist_ok=True)
        for job in jobs:
            outcome = _one(job, progress)
            progress.clear()
            print(_told(outcome, job))
        print(_tested(HERE / TESTED, progress))
    except BrokenPipeError:  # the reader of the results has seen enough
        sys.stderr.close()
        return 0
    except (VaporwrightError, OSError) as error:
        progress.clear()
        print(f"run_demo.py: {error}", file=sys.stderr)
        return 2
    print("Shops, liquids, parts and figures are invented. This sizes units; it is no safety approval.")
    print(f"JSON, chart and elevation (SVG) and sizing sheet (PDF) of each are in {OUTPUT.resolve()}")
    return 0


def _one(job: Path, progress: Progress) -> Outcome:
    stem = OUTPUT / job.stem
    progress.step(f"{job.stem}: {STEPS[0]}")
    outcome = size_job(job)
    system = outcome.answer.job.text("job.report_units")
    progress.step(f"{job.stem}: {STEPS[1]}")
    text = json.dumps(outcome_as_json(outcome), indent=2, allow_nan=False)
    stem.with_suffix(".json").write_text(text + "\n", encoding="utf-8")
    progress.step(f"{job.stem}: {STEPS[2]}")
    write_chart(outcome, stem.with_suffix(".svg"), system)
    progress.step(f"{job.stem}: {STEPS[3]}")
    write_elevation(outcome, OUTPUT / f"{job.stem}_elevation.svg", system)
    progress.step(f"{job.stem}: {STEPS[4]}")
    write_sizing_sheet(outcome, stem.with_suffix(".pdf"), system)
    return outcome


def _told(outcome: Outcome, job: Path) -> str:
    answer = outcome.answer
    system = answer.job.text("job.report_units")
    lines = [answer.job.text("job.name"), "-" * WIDTH, *textwrap.wrap(headline(answer, system) + ".", WIDTH)]
    lines += ["", *textwrap.wrap("Unit: " + answer.unit.label() + ".", WIDTH, subsequent_indent="      "), ""]
    lines += _table(outcome, system)
    lines.append(f"\n  All of it: vaporwright size {job.relative_to(HERE.parent)}\n")
    return "\n".join(lines)


def _tested(job: Path, progress: Progress) -> str:
    """A whole test of one unit; its progress goes on in the same line."""
    folder = OUTPUT / f"{job.stem}_test"
    shutil.rmtree(folder, ignore_errors=True)  # of an earlier demo
    told = [0]

    def report(share: float) -> None:
        while told[0] < share * TEST_STEPS:
            told[0] += 1
            progress.step(f"{job.stem}: acceptance test")

    rehearsed = rehearse_acceptance(job, folder, report=report)
    progress.clear()
    return rehearsed_text(rehearsed, rehearsed.system) + "\n"


def _table(outcome: Outcome, system: str) -> Iterator[str]:
    seasons = outcome.answer.seasons
    yield f"  {'':<24}" + "".join(f"{name:>16}" for name in seasons)
    rows = {
        "Tank settles at": [show(result.settling_temperature_K, "temperature", system) for result in seasons.values()],
        "Evaporates": [show(result.evaporation_kg_s, "evaporation", system) for result in seasons.values()],
        "Limited by": [limiter(result).removeprefix("the ") for result in seasons.values()],
        "Heat into the tank": [show(result.heat_W, "heat", system) for result in seasons.values()],
        _DRAWN[kind_of(outcome.answer.unit.heat_source)]: [
            show(result.fuel_or_power_W, "heat", system) for result in seasons.values()
        ],
    }
    for name, cells in rows.items():
        yield f"  {name:<24}" + "".join(f"{cell:>16}" for cell in cells)
    share = outcome.answer.share_of_capacity
    yield f"  The duty takes {share:.0%} of what it does at its weakest; {len(outcome.questions)} questions to ask."


class Progress:
    """A line of progress with the time left, on a terminal; nothing where standard error is a file."""

    def __init__(self, steps: int) -> None:
        self.steps, self.done, self.started = steps, 0, time.monotonic()
        self.shown = sys.stderr.isatty()

    def step(self, what: str) -> None:
        """Say what begins now."""
        if self.shown:
            left = ""
            if self.done:
                spent_s = time.monotonic() - self.started
                left = f", about {spent_s / self.done * (self.steps - self.done):.0f} s left"
            text = f"[{self.done + 1} of {self.steps}] {what}{left}"
            print("\r" + text[: WIDTH - 1].ljust(WIDTH - 1), end="", file=sys.stderr, flush=True)
        self.done += 1

    def clear(self) -> None:
        """Take the line away, for results or a message."""
        if self.shown:
            print("\r" + " " * (WIDTH - 1) + "\r", end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
