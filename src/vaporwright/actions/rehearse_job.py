"""Rehearsals of a job: scripts on its simulated unit, one of the shop's or the whole library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from vaporwright.actions.control_job import ControlledJob, control_job
from vaporwright.controls.rehearsal import Rehearsal, USUAL_TRACE_s, rehearse, rig_of
from vaporwright.controls.script import Script
from vaporwright.files.script_file import read_script_file
from vaporwright.files.script_library import library_scripts
from vaporwright.foundation.errors import InputError
from vaporwright.unit.levels import levels_of

Report = Callable[[float], None]
TRACE_POINTS = 600


@dataclass(frozen=True)
class RehearsedJob:
    """What came of each script on the unit of a job."""

    controlled: ControlledJob
    rehearsals: tuple[Rehearsal, ...]
    left_out: tuple[str, ...]  # scripts of the library for another kind of heat

    @property
    def met(self) -> bool:
        """Every expectation of every script was met."""
        return all(rehearsal.met for rehearsal in self.rehearsals)


def rehearse_job(path: Path | str, script: Path | None = None, report: Report | None = None) -> RehearsedJob:
    """Rehearse one script, or all of the library that fit the unit's heat; `report` is told the share done.

    Errors: InputError, LiquidRefused; InputError of the script file, or where a script does not fit the unit.
    """
    controlled = control_job(path)
    heat = controlled.unit.heat
    scripts = library_scripts() if script is None else (read_script_file(script),)
    fitting = tuple(entry for entry in scripts if _fits(entry, heat))
    if not fitting:
        allowed = ", ".join(scripts[0].heats)
        raise InputError(str(script), "heats", f"the script is for other units than this {heat} one", allowed)
    rig = rig_of(controlled.answer, controlled.unit)
    total_s = sum(entry.duration.seconds for entry in fitting)
    done_s, rehearsals = 0.0, []
    for entry in fitting:
        rehearsals.append(rehearse(entry, rig, trace_interval_s=_trace_interval_s(entry)))
        done_s += entry.duration.seconds
        if report is not None:
            report(done_s / total_s)
    left_out = tuple(entry.name for entry in scripts if entry not in fitting)
    return RehearsedJob(controlled, tuple(rehearsals), left_out)


def _trace_interval_s(script: Script) -> float:
    """So that a trace has some hundred points: a second for short scripts, a minute for a day."""
    return float(min(max(round(script.duration.seconds / TRACE_POINTS), 1), round(USUAL_TRACE_s)))


def _fits(script: Script, heat: str) -> bool:
    return heat in script.heats


def write_trace_chart(rehearsed: RehearsedJob, path: Path, system: str) -> Path:
    """Write the traces of the one script that was rehearsed as SVG.

    Raises: InputError where the file can't be written.
    """
    from vaporwright.actions.papers import write_bytes
    from vaporwright.charts.trace_chart import trace_chart_svg

    (rehearsal,) = rehearsed.rehearsals
    return write_bytes(path, trace_chart_svg(rehearsal, system, trace_marks(rehearsed)).encode("utf-8"))


def trace_marks(rehearsed: RehearsedJob) -> dict[str, float]:
    """Lines that a chart of traces shows: temperatures [K] and levels [m] at which the table acts."""
    points, stack = rehearsed.controlled.unit.points, levels_of(rehearsed.controlled.answer)
    marks = {
        "set point": points.set_point_K,
        "deviation alarm": points.deviation_alarm_K,
        "plastic limit": points.plastic_limit_K,
    }
    levels = ("heater top", "low", "refill-on", "refill-off", "high", "high-high", "overflow")
    return marks | {mark.name: mark.height_m for mark in stack.stack if mark.name in levels}
