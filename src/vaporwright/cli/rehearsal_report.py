"""Rehearsals in the terminal: the verdict, what was not met, and for one script its events and alarms."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from vaporwright.actions.rehearse_job import RehearsedJob
from vaporwright.controls.rehearsal import Entry, Rehearsal
from vaporwright.controls.verdicts import Verdict

WIDTH = 80
MOST_EVENTS = 60  # of one script, without --full
REHEARSAL_CAUTION = (
    "A rehearsal shows the table at work on a model. It tests no wiring, no device and no burner, and is no"
    " functional-safety assessment; the real unit is tested row by row by qualified people."
)


def rehearsal_text(rehearsed: RehearsedJob, *, full: bool = False) -> str:
    """All scripts with their verdicts; of a single one, events and alarms too."""
    rehearsals = rehearsed.rehearsals
    blocks = [
        f"{rehearsed.controlled.answer.job.text('job.name')}: rehearsal on the simulated unit\n{'-' * WIDTH}",
        textwrap.fill(_headline(rehearsed), WIDTH),
        "\n".join(_line(rehearsal) for rehearsal in rehearsals),
    ]
    blocks += ["\n".join(_missed(rehearsal)) for rehearsal in rehearsals if not rehearsal.met]
    if len(rehearsals) == 1:
        blocks += ["\n".join(_events(rehearsals[0], full)), "\n".join(_alarms(rehearsals[0]))]
        if full:
            blocks.append("\n".join(_expectations(rehearsals[0])))
    if rehearsed.left_out:
        text = f"Left out, for other kinds of heat: {', '.join(rehearsed.left_out)}."
        blocks.append(textwrap.fill(text, WIDTH))
    blocks.append(textwrap.fill(REHEARSAL_CAUTION, WIDTH))
    return "\n\n".join(block for block in blocks if block)


def _headline(rehearsed: RehearsedJob) -> str:
    rehearsals = rehearsed.rehearsals
    verdicts = [verdict for rehearsal in rehearsals for verdict in rehearsal.verdicts]
    met = sum(verdict.met for verdict in verdicts)
    plant_s = sum(rehearsal.plant_time_s for rehearsal in rehearsals)
    wall_s = sum(rehearsal.wall_time_s for rehearsal in rehearsals)
    scripts = "the script" if len(rehearsals) == 1 else f"{len(rehearsals)} scripts"
    what = "Every expectation is met" if met == len(verdicts) else f"{len(verdicts) - met} expectations are NOT met"
    return (
        f"{what}: {met} of {len(verdicts)} in {scripts}, {plant_s / 3600.0:.1f} h of plant time in {wall_s:.1f} s"
        f" ({plant_s / max(wall_s, 1e-9):,.0f} times as fast)."
    )


def _line(rehearsal: Rehearsal) -> str:
    met = sum(verdict.met for verdict in rehearsal.verdicts)
    score = f"{met} of {len(rehearsal.verdicts)} met" + ("" if rehearsal.met else "  NOT MET")
    name = textwrap.shorten(rehearsal.script.name, WIDTH - len(score) - 3, placeholder=" ...")
    return f"  {name:<{WIDTH - len(score) - 3}} {score}"


def _missed(rehearsal: Rehearsal) -> Iterator[str]:
    yield textwrap.fill(f"Not met in {rehearsal.script.name}", WIDTH)
    for verdict in rehearsal.verdicts:
        if not verdict.met:
            yield textwrap.fill(_told(verdict), WIDTH, initial_indent="- ", subsequent_indent="  ")


def _told(verdict: Verdict) -> str:
    expectation = verdict.expectation
    when = "its time never came" if verdict.time_s is None else f"decided at {clock(verdict.time_s)}"
    found = "" if verdict.found is None else f", found {_found(verdict.found)}"
    note = f"; {verdict.note}" if verdict.note else ""
    why = f" ({expectation.why})" if expectation.why else ""
    return f"{expectation.label}: {expectation.text}: {when}{found}{note}{why}"


def _found(found: bool | str | float) -> str:
    if isinstance(found, bool):
        return "on" if found else "off"
    return found if isinstance(found, str) else f"{found:.6g}"


def _events(rehearsal: Rehearsal, full: bool) -> Iterator[str]:
    yield "Events"
    entries = [entry for entry in rehearsal.entries if full or entry.kind in ("deed", "effect", "device")]
    for entry in entries if full else entries[:MOST_EVENTS]:
        yield textwrap.fill(f"{clock(entry.time_s)}  {_event(entry)}", WIDTH, subsequent_indent=" " * 12)
    if not full and len(entries) > MOST_EVENTS:
        yield f"({len(entries) - MOST_EVENTS} more with --full)"


def _event(entry: Entry) -> str:
    if entry.kind == "device":
        return f"{entry.name.replace('_', ' ')}: {entry.text}"
    return entry.text if entry.on is None else f"{entry.text}: {'on' if entry.on else 'off'}"


def _alarms(rehearsal: Rehearsal) -> Iterator[str]:
    yield "Alarms" if rehearsal.alarms else "No alarm came."
    for entry in rehearsal.alarms:
        text = f"{clock(entry.time_s)}  {entry.title} ({entry.priority}): {entry.state}"
        yield textwrap.fill(text, WIDTH, subsequent_indent=" " * 12)
    for time_s, row in rehearsal.first_out:
        yield f"{clock(time_s)}  first: {row}"


def _expectations(rehearsal: Rehearsal) -> Iterator[str]:
    yield "Expectations, all of them"
    for verdict in rehearsal.verdicts:
        mark = "met" if verdict.met else "NOT MET"
        yield textwrap.fill(f"{mark}: {_told(verdict)}", WIDTH, initial_indent="- ", subsequent_indent="  ")


def clock(time_s: float) -> str:
    """Plant time as h:mm:ss.s."""
    tenths = round(time_s * 10.0)
    minutes, rest = divmod(tenths, 600)
    return f"{minutes // 60:3d}:{minutes % 60:02d}:{rest / 10.0:04.1f}"
