"""What the chart of a rehearsal shows, in shown units and seconds of plant time; nothing here knows a pixel.

Panels of curves with the unit's own figures as marks, what the table drives as spans of time, alarms with their states,
and what people did. `trace_chart` places and draws it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from vaporwright.controls.rehearsal import Entry, Rehearsal, Trace
from vaporwright.controls.script import BASES
from vaporwright.controls.verdicts import Verdict
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.foundation.errors import InputError, require_range

RATE: Final = "rate"  # the mark of the evaporation as rated [kg/s]; every other mark is a height or a temperature
HOURS_FROM_s: Final = 10_800.0  # a longer script has its time axis in hours
MOST_TIME_TICKS: Final = 8
LEAST_SAID: Final = 1e-3  # of the shown unit
_TIME_STEPS_min: Final = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0)
_TIME_STEPS_h: Final = (0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 12.0, 24.0)
NARROWEST: Final[Mapping[str, float]] = {"temperature": 5.0, "short length": 0.02}  # range shown [SI], so that
# a steady line is not blown up to look restless
_THERE: Final = ("unacknowledged active", "acknowledged active")

Point = tuple[float, float]
Interval = tuple[float, float]


@dataclass(frozen=True)
class Curve:
    """One quantity over time, in the shown unit."""

    name: str  # of script.QUANTITIES
    label: str  # beside its end
    points: tuple[Point, ...]  # seconds, shown value
    main: bool = True  # else drawn lighter, behind the main one


@dataclass(frozen=True)
class Mark:
    """A figure of the unit, as a thin line across its panel."""

    name: str
    label: str
    value: float  # shown


@dataclass(frozen=True)
class Panel:
    """Curves of one unit over one another."""

    heading: str
    curves: tuple[Curve, ...]
    marks: tuple[Mark, ...]
    low: float
    high: float


@dataclass(frozen=True)
class EffectRow:
    """When the table drives an output."""

    name: str
    spans: tuple[Interval, ...]


@dataclass(frozen=True)
class AlarmRow:
    """An alarm that came: when its cause was there, and when it was gone but the alarm stood."""

    row: str
    words: str
    priority: str
    there: tuple[Interval, ...]
    standing: tuple[Interval, ...]


@dataclass(frozen=True)
class Moment:
    """What was done at one time, and the script's note on it."""

    time_s: float
    deeds: str
    note: str

    @property
    def told(self) -> str:
        """Both."""
        return f"{self.deeds} ({self.note})" if self.note else self.deeds


@dataclass(frozen=True)
class TraceSpecification:
    """Everything that the chart shows."""

    title: str
    about: tuple[str, ...]
    missed: tuple[str, ...]  # expectations that were not met
    panels: tuple[Panel, ...]
    effects: tuple[EffectRow, ...]  # that were on at some time
    never_on: tuple[str, ...]
    alarms: tuple[AlarmRow, ...]
    moments: tuple[Moment, ...]
    end_s: float

    @property
    def in_hours(self) -> bool:
        """Whether the time axis counts hours; else minutes."""
        return self.end_s > HOURS_FROM_s


def trace_specification(rehearsal: Rehearsal, system: str, marks: Mapping[str, float]) -> TraceSpecification:
    """What the chart of a rehearsal shows, units "US" or "SI".

    Raises: InputError for a mark that no panel has; OutOfRange for one that is no number.
    """
    _require_marks(marks)
    trace, script = rehearsal.trace, rehearsal.script
    rows = [EffectRow(name, _spans(rehearsal, name)) for name in trace.effects]
    return TraceSpecification(
        title=f"{script.name}: {_outcome(rehearsal.verdicts)}",
        about=(script.purpose, f"Rehearsed on a model: {rehearsal.unit}.{_points_of(trace)}"),
        missed=tuple(_missed(verdict) for verdict in rehearsal.verdicts if not verdict.met),
        panels=_panels(trace, marks, system),
        effects=tuple(row for row in rows if row.spans),
        never_on=tuple(row.name for row in rows if not row.spans),
        alarms=_alarms(rehearsal),
        moments=_moments(rehearsal),
        end_s=rehearsal.plant_time_s,
    )


def clock(time_s: float) -> str:
    """Plant time as h:mm:ss, the second that had begun."""
    seconds = int(time_s + 1e-6)
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def plain(name: str) -> str:
    """A name of the table or the script in words."""
    return name.replace("_", " ")


# Title and expectations


def _outcome(verdicts: Sequence[Verdict]) -> str:
    missed, count = sum(not verdict.met for verdict in verdicts), len(verdicts)
    if count == 0:
        return "nothing was expected"
    if missed:
        return f"{missed} of {count} expectations NOT met" if count > 1 else "its one expectation is NOT met"
    return f"all {count} expectations met" if count > 1 else "its one expectation is met"


def _missed(verdict: Verdict) -> str:
    expectation = verdict.expectation
    when = "its time never came" if verdict.time_s is None else f"at {clock(verdict.time_s)}"
    return f"NOT met, {when}: {expectation.text or expectation.label}"


# Panels


def _require_marks(marks: Mapping[str, float]) -> None:
    known = (*BASES["temperature"], *BASES["short length"], RATE)
    for name, value in marks.items():
        if name not in known:
            raise InputError("marks", name, "no panel of the chart has this mark", ", ".join(known))
        require_range(f'mark "{name}"', value, -1.0e9, 1.0e9, "a number in SI")


def _panels(trace: Trace, marks: Mapping[str, float], system: str) -> tuple[Panel, ...]:
    temperature, length = "temperature", "short length"
    values = trace.quantities
    probes = [
        _curve(trace, "tank_temperature", "tank", temperature, system),
        _curve(trace, "thermometer", "thermometer", temperature, system, main=False),
    ]
    return (
        _panel(temperature, temperature, probes, _marks(marks, temperature, system), system),
        _panel(
            "level above the low corner",
            length,
            [_curve(trace, "level", "level", length, system)],
            _marks(marks, length, system),
            system,
        ),
        *(
            _panel(
                name,
                name,
                [Curve(name, f"{_last(values[name], name, system)} at the end", _steps(trace, name, system))],
                _marks(marks, name, system),
                system,
                _mean_of(trace),
            )
            for name in ("evaporation", "heat")
        ),
    )


def _curve(trace: Trace, name: str, words: str, quantity: str, system: str, *, main: bool = True) -> Curve:
    values = trace.quantities[name]
    shown = (to_shown(value, quantity, system) for value in values)
    label = f"{words} {_last(values, quantity, system)}"
    return Curve(name, label, tuple(zip(trace.time_s, shown, strict=True)), main)


def _last(values: Sequence[float], quantity: str, system: str) -> str:
    return _said(values[-1], quantity, system)


def _said(value: float, quantity: str, system: str) -> str:
    """A value with its unit; what is left of a decay after hours is said as nothing, not with thirty decimals."""
    unit = shown_unit(quantity, system)
    return show(0.0 if abs(value) < LEAST_SAID * unit.si_per_unit else value, quantity, system)


def _steps(trace: Trace, name: str, system: str) -> tuple[Point, ...]:
    """Means over the interval before: level across it, then a step."""
    shown = [to_shown(value, name, system) for value in trace.quantities[name]]
    steps = ((span, value) for span, value in zip(pairwise(trace.time_s), shown[1:], strict=True))
    return tuple((time_s, value) for (begin, end), value in steps for time_s in (begin, end))


def _points_of(trace: Trace) -> str:
    """How fine the curves are, where there are any."""
    return f" Curves have a point every {_interval(trace)}, bars are true to the scan." if len(trace.time_s) > 1 else ""


def _mean_of(trace: Trace) -> str:
    """Over how long the means go, in words behind a comma."""
    return f", means over {_interval(trace)}" if len(trace.time_s) > 1 else ""


def _interval(trace: Trace) -> str:
    interval_s = trace.time_s[1] - trace.time_s[0]
    return f"{interval_s / 60.0:g} min" if interval_s % 60.0 == 0.0 else f"{interval_s:g} s"


def _marks(marks: Mapping[str, float], quantity: str, system: str) -> list[Mark]:
    names = BASES[quantity] if quantity in NARROWEST else (RATE,) if quantity == "evaporation" else ()
    return [
        Mark(name, f"{name} {_said(marks[name], quantity, system)}", to_shown(marks[name], quantity, system))
        for name in names
        if name in marks
    ]


def _panel(
    name: str, quantity: str, curves: Sequence[Curve], marks: Sequence[Mark], system: str, more: str = ""
) -> Panel:
    unit = shown_unit(quantity, system)
    shown = [value for curve in curves for _, value in curve.points] + [mark.value for mark in marks]
    heading = f"{name}, {unit.text}{more}"
    if quantity not in NARROWEST:  # a rate: from nothing up
        low, high = min(0.0, *shown, 0.0), max(0.0, *shown, 0.0)
        return Panel(heading, tuple(curves), tuple(marks), low, low + (1.1 * (high - low) or 1.0))
    narrowest = NARROWEST[quantity] / unit.si_per_unit
    low, high = min(shown), max(shown)
    room = max(0.05 * (high - low), 0.5 * (narrowest - (high - low)))
    return Panel(heading, tuple(curves), tuple(marks), low - room, high + room)


# Outputs and alarms


def _spans(rehearsal: Rehearsal, name: str) -> tuple[Interval, ...]:
    """When an output was on, to the scan: from the event list, not from the trace's few points."""
    entries = (entry for entry in rehearsal.entries if entry.kind == "effect" and entry.name == name)
    return _intervals(((entry.time_s, bool(entry.on)) for entry in entries), rehearsal.plant_time_s)


def _intervals(changes: Iterable[tuple[float, bool]], end_s: float) -> tuple[Interval, ...]:
    spans: list[Interval] = []
    begun: float | None = None
    for time_s, on in changes:
        if on and begun is None:
            begun = time_s
        elif not on and begun is not None:
            spans.append((begun, time_s))
            begun = None
    if begun is not None:
        spans.append((begun, end_s))
    return tuple(spans)


def _alarms(rehearsal: Rehearsal) -> tuple[AlarmRow, ...]:
    """Those that came, in the order in which they came."""
    first = {row for _, row in rehearsal.first_out}
    found: dict[str, AlarmRow] = {}
    for entry in rehearsal.alarms:
        if entry.row in found:
            continue
        changes = [(other.time_s, other.state) for other in rehearsal.alarms if other.row == entry.row]
        words = f"{entry.title}: {entry.priority} alarm{', came first' if entry.row in first else ''}"
        found[entry.row] = AlarmRow(
            entry.row,
            words,
            entry.priority,
            _intervals(((at, state in _THERE) for at, state in changes), rehearsal.plant_time_s),
            _intervals(((at, state not in (*_THERE, "normal")) for at, state in changes), rehearsal.plant_time_s),
        )
    return tuple(found.values())


# What was done


def _moments(rehearsal: Rehearsal) -> tuple[Moment, ...]:
    """Deeds of one time and event together; the release of a button that was pushed is not told."""
    notes = {event.label: event.note for event in rehearsal.script.events}
    pushed: set[tuple[str, str]] = set()
    grouped: dict[tuple[float, str], list[str]] = {}
    for entry in rehearsal.entries:
        if entry.kind != "deed" or _releases(entry, pushed):
            continue
        verb, _, button = entry.text.partition(" ")
        if verb == "push":
            pushed.add((entry.name, button))
        grouped.setdefault((entry.time_s, entry.name), []).append(entry.text)
    return tuple(Moment(time_s, _joined(texts), notes.get(label, "")) for (time_s, label), texts in grouped.items())


def _releases(entry: Entry, pushed: set[tuple[str, str]]) -> bool:
    verb, _, button = entry.text.partition(" ")
    return verb == "pull" and button != "emergency stop" and (entry.name, button) in pushed


def _joined(texts: Sequence[str]) -> str:
    """Deeds in one line; those that do the same to several things are said once: turn blower, pump auto."""
    runs: list[tuple[str, list[str], str]] = []  # verb, what differs, words at the end that do not
    for text in texts:
        verb, _, rest = text.partition(" ")
        if runs and runs[-1][0] == verb:
            _, things, ending = runs[-1]
            shared = ending if len(things) > 1 else _shared_ending(things[0], rest)
            if shared and rest.endswith(f" {shared}"):
                first = [things[0].removesuffix(f" {shared}")] if len(things) == 1 else things
                runs[-1] = (verb, [*first, rest.removesuffix(f" {shared}")], shared)
                continue
        runs.append((verb, [rest], ""))
    return "; ".join(" ".join(part for part in (verb, ", ".join(things), end) if part) for verb, things, end in runs)


def _shared_ending(one: str, other: str) -> str:
    """The words with which both end, short of all words of either."""
    words, others = one.split()[1:], other.split()[1:]
    count = 0
    while count < min(len(words), len(others)) and words[-1 - count] == others[-1 - count]:
        count += 1
    return " ".join(words[len(words) - count :])


# Scales


def nice_step(span: float, most: int) -> float:
    """The least of 1, 2 and 5 times a power of ten that goes into a span at most so many times."""
    step = 10.0 ** math.floor(math.log10(span / most))
    return next(step * factor for factor in (1.0, 2.0, 5.0, 10.0) if span / (step * factor) <= most)


def time_ticks(end_s: float, in_hours: bool) -> list[tuple[float, str]]:
    """Times of the ticks [s] and what they say, in hours or minutes."""
    unit_s, steps = (3600.0, _TIME_STEPS_h) if in_hours else (60.0, _TIME_STEPS_min)
    step = next((step for step in steps if end_s / unit_s / step <= MOST_TIME_TICKS), steps[-1])
    count = math.floor(end_s / unit_s / step + 1e-9)
    return [(index * step * unit_s, f"{index * step:g}") for index in range(count + 1)]


def value_ticks(low: float, high: float, most: int) -> list[tuple[float, str]]:
    """Round values of a range and their text, all with the same decimals."""
    step = nice_step(high - low, most)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(index * step, f"{index * step:,.{decimals}f}") for index in range(first, last + 1)]
