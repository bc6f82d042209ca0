"""Faults planted in a unit, each of a stated size: what a procedure has to find.

Wiring and program faults change the table that the unit runs, or what stands between it and the devices; all others
change the unit as built. Where a step measures, the departure is twice the tolerance of the step that ought to find it;
a timer is off by twice the tolerance of its step, at least. None touches a reading.

Which faults are planted is common practice, no source: what goes wrong in shops, as far as remembered. A share caught
says how many of these were seen, never that nothing else can be wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from vaporwright.acceptance.quality.as_built import FACTORS, OFFSETS, WRONG, AsBuilt, Reaches, reach_of, ticks_of
from vaporwright.acceptance.quality.simulated_floor import SOUND, Subject, Wiring
from vaporwright.acceptance.steps.procedure import ReadingField
from vaporwright.acceptance.trials.other_trials import series_checks
from vaporwright.acceptance.trials.table_changes import (
    TIMES_TOLERANCE,
    off_by_s,
    rewired,
    with_constant,
    with_delay,
    without_acknowledge,
    without_cell,
    without_latch,
)
from vaporwright.controls.expressions import FALSE, TRUE, Not
from vaporwright.controls.table import Comparator, Table
from vaporwright.unit.as_found import AsFound

TIMES: Final = TIMES_TOLERANCE
RODS: Final = {"low_rod": "low", "refill_on_rod": "refill_on", "refill_off_rod": "refill_off", "high_rod": "high"}
REDUNDANT: Final = "another row does the same in the same scan"
UNSEEN: Final = {  # where the proof by induction does not reach, why nobody could see it
    "emergency_stop": "the control relay drops, and the run with it one scan later",
    "control_there": "what the effect needs besides is gone with the control relay, in that scan or the next",
    "too_hot": "the call for heat has ended at the set point, which the same thermometer passes before",
    "airflow_absent": "the trip of lost air has the same delay and takes the blower, and with it the proof",
    "flow_absent": "the trip of lost flow has the same delay and takes the pump, and with it the proof",
}
POINTS: Final = {
    "at_set_point": ("point_set_point", "set_points.acting", "heat_off_K"),
    "over_set_point": ("point_deviation", "set_points.acting", "alarm_K"),
    "at_plastic_limit": ("point_plastic", "set_points.acting", "pump_stops_K"),
}
# Several departures at once, as the trade knows them.
_TOWER: Final[Sequence[tuple[str, str, AsBuilt]]] = (
    ("fill fouled", "transfer 0.6 of the law", AsBuilt(AsFound(merkel_factor=0.6))),
    ("fill bypassed", "transfer 0.7 of the law", AsBuilt(AsFound(merkel_factor=0.7))),
    ("fill left out in part", "transfer 0.5 of the law", AsBuilt(AsFound(merkel_factor=0.5))),
    ("belt slips", "air 0.8 of the design's", AsBuilt(AsFound(air_factor=0.8))),
    ("belt slips badly", "air 0.65 of the design's", AsBuilt(AsFound(air_factor=0.65))),
    ("wrong pulley, slow", "air 0.78 of the design's", AsBuilt(AsFound(air_factor=0.78))),
    ("wrong pulley, fast", "air 1.25 of the design's", AsBuilt(AsFound(air_factor=1.25))),
    ("blower reversed", "air 0.5 of the design's",
     AsBuilt(AsFound(air_factor=0.5), wrong=frozenset(("blower_reversed",)))),
    ("pump reversed", "spray 0.6 of the design's",
     AsBuilt(AsFound(spray_factor=0.6), wrong=frozenset(("pump_reversed",)))),
    ("pump impeller too small", "spray 0.85, agitation 0.8",
     AsBuilt(AsFound(spray_factor=0.85), {}, {"agitation": 0.6})),
    ("spray valve mis-set, shut", "spray 0.88 of the design's", AsBuilt(AsFound(spray_factor=0.88))),
    ("spray valve mis-set, open", "spray 1.12 of the design's", AsBuilt(AsFound(spray_factor=1.12))),
    ("nozzles plugged", "open 0.75 of their area",
     AsBuilt(factors={"nozzles_open": 0.75}, wrong=frozenset(("nozzles",)))),
    ("nozzles left out", "open 1.25 of their area",
     AsBuilt(factors={"nozzles_open": 1.25}, wrong=frozenset(("nozzles",)))),
    ("nozzles of another size", "open 1.15 of their area", AsBuilt(factors={"nozzles_open": 1.15})),
)  # fmt: skip
_HEAT: Final[Mapping[str, Sequence[tuple[str, str, AsBuilt]]]] = {
    "gas": (
        ("burner under-fired", "input 0.88 of the nameplate's", AsBuilt(AsFound(input_factor=0.88))),
        ("burner far under-fired", "input 0.75 of the nameplate's", AsBuilt(AsFound(input_factor=0.75))),
        ("burner over-fired", "input 1.12 of the nameplate's", AsBuilt(AsFound(input_factor=1.12))),
        ("tube scaled", "heat into the bath 0.8", AsBuilt(AsFound(heat_factor=0.8), {"stack": 60.0})),
        ("tube of another pass", "heat into the bath 0.85", AsBuilt(AsFound(heat_factor=0.85), {"stack": 45.0})),
        ("excess air high", "oxygen 3 points over",
         AsBuilt(AsFound(heat_factor=0.95), {"oxygen": 0.03, "stack": 20.0})),
        ("excess air low", "oxygen 2.5 points under",
         AsBuilt(offsets={"oxygen": -0.025}, factors={"carbon_monoxide": 15.0})),
    ),
    "electric": (
        ("element open", "a leg of three missing",
         AsBuilt(AsFound(input_factor=0.83), {}, {"circuit:circuit_1_12": 2.0})),
        ("phase missing", "a circuit on two lines",
         AsBuilt(AsFound(input_factor=0.75), {}, {"heater_line:heater_1_line_1": 0.01})),
        ("heater for a higher voltage", "power 0.75", AsBuilt(AsFound(input_factor=0.75), {}, {
            f"circuit:circuit_{circuit}_{pair}": 1.33 for circuit in (1, 2) for pair in ("12", "23", "31")})),
        ("sheaths scaled and bare in part", "heat into the bath 0.9", AsBuilt(AsFound(heat_factor=0.9))),
    ),
    "steam": (
        ("coil scaled", "heat into the bath 0.75", AsBuilt(AsFound(heat_factor=0.75))),
        ("trap failed shut", "coil flooded, heat 0.5",
         AsBuilt(AsFound(heat_factor=0.5), wrong=frozenset(("trap_blows",)))),
        ("trap blows through", "condensate 1.4 by live steam",
         AsBuilt(factors={"condensate": 1.4}, wrong=frozenset(("trap_blows",)))),
        ("steam pressure low", "0.85 of the day's", AsBuilt(AsFound(heat_factor=0.9), {}, {"steam_pressure": 0.85})),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class PlantedFault:
    """A fault: its kind, what it is on, its size in words, and the unit that has it.

    unseen: why nobody could tell, where the trials of the row say so.
    """

    kind: str
    what: str
    size: str
    wiring: Wiring = SOUND
    built: AsBuilt = field(default_factory=AsBuilt)
    unseen: str = ""

    @property
    def name(self) -> str:
        """Kind, place and size."""
        return f"{self.kind}: {self.what} ({self.size})"


def planted_faults(subject: Subject) -> tuple[PlantedFault, ...]:
    """All faults of a unit, in a fixed order."""
    table = subject.rig.table
    return (
        *_input_faults(table),
        *_output_faults(subject),
        *_timer_faults(subject),
        *_row_faults(subject),
        *_point_faults(subject),
        *_built_faults(subject),
    )


# Wiring of inputs and outputs


def swapped_inputs(table: Table, first: str, second: str) -> Wiring:
    """Two input wires in each other's terminals."""
    other = {first: second, second: first}
    changed = rewired(table, lambda atom: type(atom)(other.get(atom.name, atom.name)))
    return Wiring(table=changed, lamps={first: (second, False), second: (first, False)})


def inverted_input(table: Table, name: str) -> Wiring:
    """A contact that opens where it should close."""
    changed = rewired(table, lambda atom: Not(atom) if atom.name == name else atom)
    return Wiring(table=changed, lamps={name: (name, True)})


def _input_faults(table: Table) -> Iterator[PlantedFault]:
    for first, second in pairwise(table.inputs):
        built = AsBuilt()
        if first in RODS and second in RODS:
            built = AsBuilt(wrong=frozenset((f"rods_swapped:{RODS[first]}+{RODS[second]}",)))
        yield PlantedFault(
            "input wires swapped", f"{first}, {second}", "one pair", swapped_inputs(table, first, second), built
        )
    for name in table.inputs:
        yield PlantedFault("input inverted", name, "one contact", inverted_input(table, name))
        yield PlantedFault("input not wired", name, "one wire", Wiring(shorted={name: False}))
        yield PlantedFault("input wire shorted on", name, "one wire", Wiring(shorted={name: True}))


def _output_faults(subject: Subject) -> Iterator[PlantedFault]:
    table = subject.rig.table
    for first, second in pairwise(table.outputs):
        yield PlantedFault(
            "output wires swapped",
            f"{first}, {second}",
            "one pair",
            Wiring(outputs={first: second, second: first}),
            unseen="both are driven alike in every state" if _alike(subject, first, second) else "",
        )
    for name in table.outputs:
        yield PlantedFault("output not wired", name, "one contact", Wiring(contacts={name: "open"}))
        yield PlantedFault("output welded", name, "one contact", Wiring(contacts={name: "welded"}))
    for check in series_checks(subject.table):
        left = frozenset(((check.output, check.contact),))
        yield PlantedFault("contact not in series", f"{check.contact} of {check.output}", "one contact",
                           Wiring(out_of_series=left))  # fmt: skip


def _alike(subject: Subject, first: str, second: str) -> bool:
    """Whether two outputs are driven alike in every trial on paper, and wired alike."""
    films = [item.film for item in subject.trials.rows]
    wired = subject.rig.hard_wired
    return wired.get(first) == wired.get(second) and not any(
        bool(np.any(film.column(first) != film.column(second))) for film in films
    )


# The program


def _timer_faults(subject: Subject) -> Iterator[PlantedFault]:
    table = subject.rig.table
    for timer in table.timers:
        row = timer.name.removesuffix("_delay")
        hidden = subject.trials.hidden.get(row, ())
        off_s = off_by_s(timer.scans * table.scan_s, table)
        for sign, word in ((1.0, "longer"), (-1.0, "shorter")):
            if timer.scans * table.scan_s + sign * off_s >= table.scan_s:
                changed = with_delay(table, timer.name, sign * off_s)
                yield _row(
                    "delay wrong", row, changed, ("delay", word) in hidden and row in UNSEEN, f"{off_s:.1f} s {word}"
                )


def _row_faults(subject: Subject) -> Iterator[PlantedFault]:
    table, hidden = subject.rig.table, subject.trials.hidden
    for row in subject.table.design.rows:
        left = hidden.get(row.name, ())
        for column, cell in row.effects.items():
            changed = without_cell(table, row.name, column, cell)
            yield _row("cell missing", f"{row.name} {cell} {column}", changed, ("cell", column) in left)
        if row.latched:
            yield _row("latch missing", row.name, without_latch(table, row.name), ("latch", "") in left)
            early = without_acknowledge(table, row)
            if early is not None:
                yield _row("reset works unacknowledged", row.name, early, ("reset", "seen") in left)
        if row.alarm:
            kept = tuple(alarm for alarm in table.alarms if alarm.row != row.name)
            yield _row("alarm missing", row.name, replace(table, alarms=kept), False)
        if row.first_out:
            first = {latch: name for latch, name in table.first_out.items() if name != row.name}
            yield _row("not in first-out", row.name, replace(table, first_out=first), False)
        if not row.effects and not row.alarm:
            unseen = row.name in UNSEEN and ("works", "") in left
            yield _row("never so", row.name, with_constant(table, row.name, FALSE), unseen)
            yield _row("always so", row.name, with_constant(table, row.name, TRUE), False)


def _row(kind: str, what: str, table: Table, unseen: bool, size: str = "one entry of the table") -> PlantedFault:
    row = what.partition(" ")[0]
    return PlantedFault(kind, what, size, Wiring(table=table), unseen=UNSEEN.get(row, REDUNDANT) if unseen else "")


# Settings and the unit as built


def _tolerance(subject: Subject, key: str) -> tuple[ReadingField, float, float] | None:
    """A measured field with how far it may go down and up from what a sound unit shows."""
    step_key, _, field_key = key.rpartition(".")
    step = subject.procedure.step(step_key)
    found = step.field(field_key) if step else None
    if found is None or found.limits is None or not isinstance(found.expected, float):
        return None
    low, high = found.limits.low, found.limits.high
    down = found.expected - low if low is not None else 0.0
    up = high - found.expected if high is not None else 0.0
    return found, down, up


def _point_faults(subject: Subject) -> Iterator[PlantedFault]:
    table = subject.rig.table
    for item in table.comparators:
        if item.name not in POINTS:
            continue
        name, step, key = POINTS[item.name]
        tolerances = _tolerance(subject, f"{step}.{key}")
        if tolerances is None:
            continue
        off_K = TIMES * max(tolerances[1:])
        for sign, word in ((1.0, "high"), (-1.0, "low")):
            changed = _compared(table, item, limit=item.limit + sign * off_K)
            yield PlantedFault("set point wrong", item.name, f"{off_K:.2f} K too {word}", Wiring(table=changed),
                               AsBuilt(offsets={name: sign * off_K}))  # fmt: skip
        side: Literal["above", "below"] = "below" if item.side == "above" else "above"
        yield PlantedFault("comparator the wrong way", item.name, f"acts {side} its limit",
                           Wiring(table=_compared(table, item, side=side)))  # fmt: skip
    cold = next((item for item in table.comparators if item.name == "thermometer_low"), None)
    if cold is not None:
        changed = _compared(table, cold, limit=cold.limit - 10.0)
        yield PlantedFault("set point wrong", cold.name, "10 K too low", Wiring(table=changed))


def _compared(table: Table, item: Comparator, **changes: object) -> Table:
    changed = replace(item, **changes)  # type: ignore[arg-type]
    return replace(table, comparators=tuple(changed if other is item else other for other in table.comparators))


def _built_faults(subject: Subject) -> Iterator[PlantedFault]:
    for kind, what, built in (*_TOWER, *_HEAT[subject.table.heat]):
        yield PlantedFault("as built", kind, what, built=built)
    for name in OFFSETS:
        yield from _sized(subject, "offset", name)
    for name in (*FACTORS, *_circuits(subject)):
        yield from _sized(subject, "factor", name)
    there = {f"{step.key}.{field.key}" for step in subject.procedure.steps for field in step.fields}
    for name in (*WRONG, *_parts(there)):
        if any(tick in there for tick in ticks_of(name)):
            yield PlantedFault(
                "seen to be wrong", name.replace("_", " "), "one place", built=AsBuilt(wrong=frozenset((name,)))
            )


def _sized(subject: Subject, kind: str, name: str) -> Iterator[PlantedFault]:
    """Both ways where both are limited, twice the tolerance of the first field that sees it."""
    reaches: Reaches = reach_of(kind, name)
    seen = next(((entry, found) for entry in reaches if (found := _tolerance(subject, entry[0])) is not None), None)
    if seen is None:
        return
    (_, share), (item, down, up) = seen
    assert isinstance(item.expected, float)
    for sign, room in ((1.0, up), (-1.0, down)):
        if room <= 0.0:
            continue
        words = f"{TIMES:g} x the tolerance {'over' if sign > 0 else 'under'} what {item.key} expects"
        target = item.expected + sign * TIMES * room
        if kind == "offset":
            built = AsBuilt(offsets={name: sign * TIMES * room / share})
        else:
            if target <= 0.0:  # a thing cannot be less than nothing
                target, words = 0.1 * (item.expected - room), f"a tenth of the least that {item.key} may be"
            if target <= 0.0 or item.expected <= 0.0:
                continue
            built = AsBuilt(factors={name: (target / item.expected) ** (1.0 / share)})
        yield PlantedFault("as built", name.replace("_", " ").replace(":", " "), words, built=built)


def _circuits(subject: Subject) -> Iterator[str]:
    """Earths, circuits and lines by their own names in the procedure."""
    heads = (
        ("electrical.insulation", "_ohm", "insulation"),
        ("electrical.earth", "_ohm", "earth"),
        ("electrical.currents", "_A", "line"),
        ("electrical.power_on", "_V", "voltage"),
        ("heater.power", "_A", "heater_line"),
        ("heater.dead", "_ohm", "circuit"),
    )
    for key, suffix, head in heads:
        step = subject.procedure.step(key)
        for item in step.fields if step else ():
            if item.key.endswith(suffix) and isinstance(item.expected, float):
                name = item.key.removesuffix(suffix).removeprefix("volts_")
                if head != "circuit" or not name.endswith("insulation"):
                    yield f"{head}:{name}"


def _parts(there: set[str]) -> Iterator[str]:
    """Materials and pipes by their own names in the procedure."""
    for key in sorted(there):
        section, _, rest = key.partition(".")
        step, _, field = rest.partition(".")
        if section == "mechanical" and step == "materials" and field not in ("heat_numbers",):
            yield f"material:{field}"
        elif (
            section == "mechanical"
            and step == "connections"
            and field in ("suction", "discharge", "return", "gas", "steam")
        ):
            yield f"pipe:{field}"
