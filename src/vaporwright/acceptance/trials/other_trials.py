"""Trials that no single row asks for: each input and output by itself, two alarms at once, power that goes and comes.

Inputs are tried with the control relay out, so that nothing moves: each is worked at its device, its lamp at the
controller must follow and no other may. Outputs are tried by what switches them with the least ado; there the device
itself is looked at, contactor, valve or lamp.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.acceptance.trials.building import Line, TrialBuilder
from vaporwright.acceptance.trials.found import OtherTrial, RowTrial
from vaporwright.acceptance.trials.means import STRING, Means
from vaporwright.acceptance.trials.trial import (
    ALARM,
    DEVICE,
    FIRST,
    INPUT,
    OUTPUT,
    POWER_OFF,
    POWER_ON,
    UNSEEN,
    Act,
    Context,
    Trial,
    perform_on_paper,
    undo,
    use,
)
from vaporwright.controls.expressions import atoms, evaluate
from vaporwright.controls.hard_wired import hard_wired_of
from vaporwright.controls.unit_table import UnitTable

Switching = dict[str, list[tuple[float, Context, Means, int]]]  # output to what switches it on: cost, after scans
QUICK_s: Final = 5.0  # a first-out alarm that is up so soon
DARK_s: Final = 12.0


def other_trials(
    builder: TrialBuilder, bases: Mapping[str, Context], switching: Switching, rows: Sequence[RowTrial]
) -> tuple[OtherTrial, ...]:
    """Inputs, outputs, alarms, power."""
    found = [*_inputs(builder, bases), *_outputs(builder, switching)]
    if builder.panel:
        found += _two_alarms(builder, rows)
    if "running" in bases and builder.panel:
        found.append(_power(builder, bases["running"]))
    return tuple(found)


def _inputs(builder: TrialBuilder, bases: Mapping[str, Context]) -> list[OtherTrial]:
    """With the control relay out; the end of the limit string, which is open then, in a run."""
    found = []
    for name in builder.table.inputs:
        context = bases["running" if name == STRING and "running" in bases else "power"]
        rests = context.state.inputs[name]
        ways = [means for means in builder.means.values() if means.changes.get(name, rests) != rests]
        if not ways:
            continue
        means = min(ways, key=lambda item: (len(item.changes), item.way == "device"))
        lasting = replace(means, restore=means.restore or "let the button go")
        line = Line(builder.paper.scan_s)
        line.wait(1.0)
        line.do(use(lasting, line.at, builder.pushed))
        line.look("worked")
        line.do(undo(lasting, line.at))
        line.look("restored")
        items = [f"{INPUT}:{other}" for other in builder.table.inputs]
        found.append(_made(builder, f"io.input_{name}", name, context, (lasting,), line, items))
    return found


def _outputs(builder: TrialBuilder, switching: Switching) -> list[OtherTrial]:
    found = []
    panel = builder.paper.unit.design.panel
    told = (panel.horn, panel.beacon) if panel and builder.panel else ()
    for name in builder.table.outputs:
        if name not in switching:
            continue
        _, context, means, after = min(switching[name], key=lambda entry: entry[0])
        line = Line(builder.paper.scan_s)
        line.wait(0.5)
        line.looks.append(("before", line.at))
        line.wait(1.0)
        line.do(use(means, line.at, builder.pushed))
        line.at += after
        line.look("worked")
        if name in told:  # the horn goes, the beacon stays
            line.do(use(builder.means["push_silence"], line.at, builder.pushed))
            line.look("silenced")
        if not means.momentary:
            line.do(undo(means, line.at))
            line.look("restored")
        items = [f"{DEVICE}:{other}" for other in builder.table.outputs]
        found.append(_made(builder, f"io.output_{name}", name, context, (means,), line, items))
    return found


@dataclass(frozen=True)
class SeriesCheck:
    """A contact in series with an output, and how the others stand while it is opened: then the circuit is open."""

    output: str
    contact: str
    closed: Mapping[str, bool]

    @property
    def field(self) -> str:
        """Its field in the step."""
        return f"{self.output}_{self.contact}"


def series_checks(unit: UnitTable) -> tuple[SeriesCheck, ...]:
    """Every contact that is wired in series with an output, to be tried by itself with the power locked out."""
    found = []
    for output, expr in hard_wired_of(unit).items():
        contacts = tuple(dict.fromkeys(atom.name for atom in atoms(expr)))
        for contact in contacts:
            for off in ((), ("warm_up",), ("airflow",)):  # as in a run, and as in warm-up
                closed = {name: name not in off for name in contacts}
                opened = {**closed, contact: False}
                if closed[contact] and evaluate(expr, closed, closed) and not evaluate(expr, opened, opened):
                    found.append(SeriesCheck(output, contact, closed))
                    break
    return tuple(found)


def _two_alarms(builder: TrialBuilder, rows: Sequence[RowTrial]) -> list[OtherTrial]:
    """A second alarm after silence, and which came first, from a row's own context."""
    quick = [
        item
        for item in rows
        if item.row.first_out
        and item.row.latched
        and item.row.reset is None
        and item.wait_s <= QUICK_s
        and not item.means.momentary
        and not item.trial.hot
    ]
    for place, first in enumerate(quick):
        for second in quick[place + 1 :]:
            if first.row.first_out == second.row.first_out and not set(first.means.changes) & set(second.means.changes):
                return [_two(builder, first, second), _two(builder, second, first, "alarms.two_the_other_way")]
    return []


def _two(builder: TrialBuilder, first: RowTrial, second: RowTrial, key: str = "alarms.two") -> OtherTrial:
    line = Line(builder.paper.scan_s)
    line.wait(1.0)
    line.do(use(first.means, line.at, builder.pushed))
    line.wait(QUICK_s + 1.0)
    line.look("first")
    line.do(use(builder.means["push_silence"], line.at, builder.pushed))
    line.look("silenced")
    line.do(use(second.means, line.at, builder.pushed))
    line.wait(QUICK_s + 1.0)
    line.look("second")
    for button, look in (("push_acknowledge", "acknowledged"), ("push_reset", "reset_with_cause")):
        line.do(use(builder.means[button], line.at, builder.pushed))
        line.look(look)
    line.do((*undo(first.means, line.at), *undo(second.means, line.at)))
    line.wait(2.0)
    line.do(use(builder.means["push_reset"], line.at, builder.pushed))
    line.look("reset")
    items = [
        f"{kind}:{name}"
        for name in (first.row.name, second.row.name)
        for kind in (ALARM, UNSEEN, FIRST)
        if kind != FIRST or first.row.first_out
    ]
    panel = builder.paper.unit.design.panel
    assert panel is not None
    items += [f"{OUTPUT}:{panel.horn}", f"{OUTPUT}:{panel.beacon}"]
    return _made(builder, key, "", first.context, (first.means, second.means), line, items)


def _power(builder: TrialBuilder, context: Context) -> OtherTrial:
    """Power goes in a run and comes back under buttons that are held down; then the buttons do their work in turn."""
    start, reset = builder.means["push_start"], builder.means["push_reset"]
    line = Line(builder.paper.scan_s)
    line.wait(0.5)
    line.looks.append(("before", line.at))
    line.wait(1.0)
    line.do((Act(line.at, (POWER_OFF,), said="switch the power off"),))
    line.wait(DARK_s)
    held = {**start.changes, **reset.changes}
    line.do((Act(line.at, (*start.deeds, *reset.deeds), hold=held, said="hold start and reset down"),))
    line.wait(0.5)
    line.do((Act(line.at, (POWER_ON,), said="switch the power on"),))
    line.look("under_held_buttons")
    line.do((Act(line.at, (*start.undo, *reset.undo), let_go=held, said="let both buttons go"),))
    line.wait(DARK_s)
    line.do(use(start, line.at, builder.pushed))
    line.look("start_alone")
    line.do((Act(line.at, start.deeds, hold=start.changes, said="hold start down"),))
    line.wait(0.5)
    line.do(use(reset, line.at, builder.pushed))
    line.look("reset_under_held_start")
    line.do((Act(line.at, start.undo, let_go=start.changes, said="let start go"),))
    line.look("reset_alone")
    items = [f"{OUTPUT}:{other}" for other in builder.table.outputs]
    return _made(builder, "rows.power_returns", "", context, (), line, items)


def _made(
    builder: TrialBuilder,
    key: str,
    about: str,
    context: Context,
    means: tuple[Means, ...],
    line: Line,
    items: Sequence[str],
) -> OtherTrial:
    line.wait(1.0)
    film = perform_on_paper(builder.paper, context.state, tuple(line.acts), line.at)
    looks = tuple(builder.expected(film, field, scan, items) for field, scan in line.looks)
    acts = tuple(sorted(line.acts, key=lambda act: act.scan))
    hot = any(item.hot for item in means) and not key.startswith("io.")
    return OtherTrial(about, Trial(key, context.key, acts, looks, (), line.at, hot), context, means)
