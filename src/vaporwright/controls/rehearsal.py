"""A rehearsal: a script run on the simulated unit, and what came of it.

The result has what people ask for afterwards: the list of events, the alarms with their ISA-18.2 states, what came
first, traces, and for each expectation whether it was met, when, and with what value. The same script on the same unit
gives the same result, to the last digit.

A rehearsal shows the table at work on a model. It tests no wiring, no device and no burner, and is no functional-safety
assessment; the acceptance on the real unit follows the procedure.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal

from vaporwright.controls.alarms import AlarmState
from vaporwright.controls.deeds import act
from vaporwright.controls.expansion import expanded
from vaporwright.controls.hard_wired import hard_wired_of
from vaporwright.controls.resolving import Act, ResolvedScript, Sign, resolve
from vaporwright.controls.rig import Rig, Sample
from vaporwright.controls.script import Deed, Script
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.controls.unit_table import UnitTable
from vaporwright.controls.verdicts import SAMPLED, Timeline, Verdict, alarm_timeline, judged
from vaporwright.foundation.errors import require_range
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.levels import levels_of
from vaporwright.unit.plant_design import plant_design
from vaporwright.unit.plant_state import PlantTotals

EntryKind = Literal["deed", "input", "row", "effect", "device"]
USUAL_TRACE_s: Final = 60.0


@dataclass(frozen=True)
class Entry:
    """One line of the event list."""

    time_s: float
    kind: EntryKind
    name: str  # of the table; of the script's entry for a deed
    text: str
    on: bool | None = None


@dataclass(frozen=True)
class AlarmEntry:
    """An alarm that changed its state."""

    time_s: float
    row: str
    title: str
    priority: str
    state: AlarmState


@dataclass(frozen=True)
class Trace:
    """Values at equal intervals: quantities in SI, evaporation and heat as means over the interval before."""

    time_s: tuple[float, ...]
    quantities: Mapping[str, tuple[float, ...]]  # by the names of script.QUANTITIES
    effects: Mapping[str, tuple[bool, ...]]


@dataclass(frozen=True)
class Balance:
    """Liquor of the whole unit and its heat, at the begin and at the end, against what went in and out."""

    mass_kg: tuple[float, float]
    energy_J: tuple[float, float]  # above the water's triple point
    totals: PlantTotals

    @property
    def water_gap(self) -> float:
        """What the sums do not explain of the mass, as a share of all that went in and out."""
        totals = self.totals
        turned_over_kg = totals.feed_kg + totals.evaporation_kg
        gap_kg = self.mass_kg[1] - self.mass_kg[0] - totals.mass_gained_kg
        return gap_kg / turned_over_kg if turned_over_kg > 0.0 else 0.0

    @property
    def heat_gap(self) -> float:
        """What the sums do not explain of the heat, as a share of the heater's."""
        gap_J = self.energy_J[1] - self.energy_J[0] - self.totals.energy_gained_J
        return gap_J / self.totals.heat_source_J if self.totals.heat_source_J > 0.0 else 0.0


@dataclass(frozen=True)
class Rehearsal:
    """What came of a script."""

    script: Script
    unit: str
    entries: tuple[Entry, ...]
    alarms: tuple[AlarmEntry, ...]
    first_out: tuple[tuple[float, str], ...]  # when, and the row that came first
    trace: Trace
    verdicts: tuple[Verdict, ...]
    balance: Balance
    plant_time_s: float
    wall_time_s: float = field(compare=False)

    @property
    def met(self) -> bool:
        """Every expectation was met."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def speed(self) -> float:
        """Plant time over wall time."""
        return self.plant_time_s / self.wall_time_s if self.wall_time_s > 0.0 else float("inf")


def rig_of(answer: UnitAnswer, table: UnitTable, season: str = "") -> Rig:
    """Everything that rehearsals of a unit need; takes under a second.

    Args: season: the governing one where not given.
    Raises: OutOfRange, InputError and NotConverged from the unit's maps, each naming its variable.
    """
    result, stack = answer.seasons[season or answer.governing], levels_of(answer)
    return Rig(
        table=expanded(table.design),
        heat=table.heat,
        points=table.points,
        delays=table.delays,
        design=plant_design(answer.job, answer.unit, result.conditions, stack),
        stack=stack,
        season=result,
        heat_source=answer.unit.heat_source,
        hard_wired=hard_wired_of(table),
    )


def rehearse(script: Script, rig: Rig, *, trace_interval_s: float = USUAL_TRACE_s) -> Rehearsal:
    """Run a script on a unit.

    Args: trace_interval_s [s]: whole seconds between the points of the trace.
    Raises: InputError where the script does not fit the unit; OutOfRange where the plant leaves what its model covers.
    """
    require_range("trace_interval_s", trace_interval_s, 1.0, 86_400.0, "between two points of the trace")
    begun = time.perf_counter()
    run = _Run(resolve(script, rig), rig, script)
    run.play()
    return run.result(script, round(trace_interval_s), begun)


class _Run:
    """One run: what is still to be done, and what has been written down."""

    def __init__(self, resolved: ResolvedScript, rig: Rig, script: Script) -> None:
        self.resolved, self.rig = resolved, rig
        self.unit = SimulatedUnit(
            rig, level_m=resolved.level_m, temperature_K=resolved.temperature_K, signals=script.start.signals
        )
        self.queue: list[tuple[int, int, Act, tuple[Deed, ...] | None]] = []  # None: its sign is to be watched
        self.order = 0
        self.begin = (self.unit.plant.mass_kg, self.unit.plant.energy_J)
        self.watched: list[tuple[Act, int]] = []  # and which of its signs comes next
        self.samples: list[Sample] = [self.unit.sample()]
        self.deeds: list[Entry] = []
        self.phases: list[Entry] = []
        for item in resolved.acts:
            self.put(item.scan, item, None if item.signs else item.deeds)

    def put(self, scan: int, item: Act, deeds: tuple[Deed, ...] | None) -> None:
        heapq.heappush(self.queue, (scan, self.order, item, deeds))
        self.order += 1

    def play(self) -> None:
        unit, samples, scans = self.unit, self.samples, self.unit.scans_per_s
        for _ in range(self.resolved.seconds):
            due = bool(self.queue) and self.queue[0][0] < unit.scan + scans
            due = due or any(self.seen(item.signs[place]) for item, place in self.watched)
            names = [item.signs[place].name for item, place in self.watched if item.signs[place].limit is None]
            unit.second(self.before_scan, due=due, watching=names)
            samples.append(unit.sample())

    def before_scan(self, scan: int) -> None:
        """What people do and what fails, before the table sees it."""
        self.watch(scan)
        while self.queue and self.queue[0][0] <= scan:
            _, _, item, deeds = heapq.heappop(self.queue)
            if deeds is None:
                self.watched.append((item, 0))
                self.watch(scan)
                continue
            for deed in deeds:
                self.do(scan, item, deed)
        if not self.phases or self.phases[-1].text != self.unit.heater.phase:
            self.phases.append(Entry(scan / self.unit.scans_per_s, "device", "heater", self.unit.heater.phase))

    def watch(self, scan: int) -> None:
        """Go on to the next sign of each act whose sign is there, and set its deeds down for later after the last."""
        waiting = []
        for item, place in self.watched:
            while place < len(item.signs) and self.seen(item.signs[place]):
                place += 1
            if place < len(item.signs):
                waiting.append((item, place))
            else:
                self.put(scan + item.wait_scans, item, item.deeds)
        self.watched = waiting

    def do(self, scan: int, item: Act, deed: Deed) -> None:
        assert isinstance(deed.value, str | float)
        act(self.unit, deed.verb, deed.target, deed.value)
        self.deeds.append(Entry(scan / self.unit.scans_per_s, "deed", item.label, deed.text))
        if deed.verb == "push" and deed.value != "emergency stop":
            self.put(scan + item.hold_scans, item, (Deed("pull", "", deed.value),))

    def seen(self, sign: Sign) -> bool:
        if sign.limit is None:
            return self.unit.value(sign.name) == sign.on
        value = self.samples[-1][SAMPLED[sign.name]]
        return value >= sign.limit if sign.on else value <= sign.limit

    def result(self, script: Script, interval_s: int, begun: float) -> Rehearsal:
        unit, table = self.unit, self.rig.table
        timelines = self.timelines()
        alarms = {alarm.row: alarm_timeline(alarm, timelines) for alarm in table.alarms}
        judge = judged(self.resolved.checks, timelines, alarms, table.first_out, self.samples, unit.scans_per_s)
        kinds: dict[str, EntryKind] = dict.fromkeys(table.signals, "input")
        kinds |= dict.fromkeys(table.outputs, "effect")
        entries = [
            Entry(scan / unit.scans_per_s, kinds.get(table.names[place], "row"), table.names[place],
                  self.title(table.names[place]), on)
            for scan, place, on in unit.changes
        ]  # fmt: skip
        entries = sorted((*self.deeds, *self.phases, *entries), key=lambda entry: entry.time_s)
        priorities = {alarm.row: alarm.priority for alarm in table.alarms}
        alarm_list = sorted(
            (
                AlarmEntry(scan / unit.scans_per_s, row, self.title(row), priorities[row], state)
                for row, states in alarms.items()
                for scan, state in states
                if scan >= 0
            ),
            key=lambda entry: entry.time_s,
        )
        first = sorted(
            (scan / unit.scans_per_s, row)
            for latch, row in table.first_out.items()
            for scan, on in timelines[latch].steps
            if on
        )
        return Rehearsal(
            script=script,
            unit=table.name,
            entries=tuple(entries),
            alarms=tuple(alarm_list),
            first_out=tuple(first),
            trace=self.trace(timelines, interval_s),
            verdicts=judge,
            balance=Balance(
                (self.begin[0], unit.plant.mass_kg), (self.begin[1], unit.plant.energy_J), unit.plant.totals
            ),
            plant_time_s=float(self.resolved.seconds),
            wall_time_s=time.perf_counter() - begun,
        )

    def title(self, name: str) -> str:
        label = self.rig.table.labels.get(name)
        return label.title if label is not None else name.replace("_", " ")

    def timelines(self) -> dict[str, Timeline]:
        names = self.rig.table.names
        steps: dict[str, list[tuple[int, bool]]] = {name: [] for name in names}
        for scan, place, on in self.unit.changes:
            steps[names[place]].append((scan, on))
        end = self.resolved.seconds * self.unit.scans_per_s
        return {name: Timeline(tuple(found), end) for name, found in steps.items()}

    def trace(self, timelines: Mapping[str, Timeline], interval_s: int) -> Trace:
        scans, places = self.unit.scans_per_s, range(0, len(self.samples), interval_s)
        picked = [self.samples[place] for place in places]
        quantities = {name: tuple(float(sample[index]) for sample in picked) for name, index in SAMPLED.items()}
        for name in ("evaporation", "heat"):  # from sums to means
            sums = quantities[name]
            rates = tuple((after - before) / interval_s for before, after in pairwise(sums))
            quantities[name] = (rates[0] if rates else 0.0, *rates)
        effects = {
            name: tuple(timelines[name].value(place * scans - 1) for place in places) for name in self.rig.table.outputs
        }
        return Trace(tuple(float(place) for place in places), quantities, effects)
