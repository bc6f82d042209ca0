"""One simulated unit that runs while people look.

It has a thread of its own that steps it against a clock, in real time scan by scan, or faster second by second.
Pages never touch the unit: what people do is put into a queue that the thread works off before a scan, and what they
see is a view that the thread leaves behind. A unit at which nobody looks any more is ended, and so is one that has run
for long.
"""

from __future__ import annotations

import logging
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, Protocol

from vaporwright.actions.at_hand import Deed, title_of
from vaporwright.actions.surroundings import Surroundings
from vaporwright.actions.training import Attempt, begin, work_deeds
from vaporwright.actions.training_tasks import Task
from vaporwright.actions.training_works import Look, Work
from vaporwright.controls.alarms import AlarmState, alarm_state
from vaporwright.controls.deeds import act
from vaporwright.controls.devices import BUTTONS, EMERGENCY_STOP
from vaporwright.controls.rig import Rig
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.web.running.altered import Altered
from vaporwright.web.running.lit import Matrix
from vaporwright.web.running.shapes import AlarmLine, Event, Point, View, kinds_of_events

_LOG: Final = logging.getLogger("vaporwright.web")
SPEEDS: Final = (0, 1, 10, 60)
IDLE_s: Final = 300.0  # nobody has asked for its state
LIFE_s: Final = 4.0 * 3600.0
TURN_s: Final = 0.125  # of the clock: a faster unit does about so much at a time
SOON_s: Final = 1.0e-4  # of the clock: not worth waiting for
BEHIND_s: Final = 1.0  # of the clock: a unit so late does not catch up, it goes on from here
HELD_s: Final = 20.0  # a button that no browser lets go of
PUSHED_scans: Final = 3  # a button is seen at least so long
MOST_ASKED: Final = 40
MOST_EVENTS: Final = 600
MOST_POINTS: Final = 1800
State = Literal["preparing", "running", "ended"]


class Pace:
    """A clock and a way to wait for it; tests hand in one that nobody waits for."""

    def now(self) -> float:
        """Seconds; only differences matter."""
        return time.monotonic()

    def wait(self, condition: threading.Condition, seconds: float) -> None:
        """Wait, at most so long; the condition is held, and whoever changes something notifies it."""
        condition.wait(seconds)


@dataclass(frozen=True)
class Asked:
    """Something that a person wants done."""

    deed: Deed | None = None
    look: Look | None = None
    work: Work | None = None


class Keeper(Protocol):
    """Whoever keeps what came of a try at a task."""

    @property
    def id(self) -> str:
        """Under which it is kept."""
        ...

    def over(self, unit: RunningUnit) -> None:
        """The try is over, or the unit has ended before it was; told once, from whichever thread, never raises."""
        ...


class RunningUnit:
    """One unit, its thread, and what people see of it.

    Args:
        task: begins as that task hands it over, and is judged; else at rest at working level, settled.
        air: what it stands in, as people are told. matrix: of its table, as people see it. keeper: of its result.
    """

    def __init__(
        self,
        rig: Rig,
        *,
        owner: str,
        job: str,
        revision: int,
        pace: Pace,
        task: Task | None = None,
        air: Surroundings | None = None,
        matrix: Matrix | None = None,
        keeper: Keeper | None = None,
    ) -> None:
        self.id, self.owner, self.job, self.revision = secrets.token_urlsafe(12), owner, job, revision
        self.rig, self.task, self.air, self.matrix = rig, task, air, matrix or Matrix()
        self.changed = 0  # counts whatever a page could see
        self._keeper = keeper
        self.attempt: Attempt | None = None
        self.state: State = "preparing"
        self.why_ended = ""
        self.speed = 1
        self._pace, self._condition = pace, threading.Condition()
        self._begun_s = self._looked_s = pace.now()
        self._asked: deque[Asked] = deque()
        self._held: dict[str, tuple[int, float]] = {}  # button to scan and time at which it went down
        self._events: deque[Event] = deque(maxlen=MOST_EVENTS)
        self._number = 0
        self._points: list[Point] = []
        self._generation, self._every_s = 0, 1  # of the points: thinned so often, so far apart
        self._bits = bytearray(b"0" * len(rig.table.names))
        self._read = 0  # changes of the unit already taken in
        self._kinds = kinds_of_events(rig.table)
        self._place = {name: place for place, name in enumerate(rig.table.names)}
        self._alarm_states: dict[str, tuple[AlarmState, float]] = {a.row: ("normal", 0.0) for a in rig.table.alarms}
        self._touched = {
            self._place[name]: alarm
            for alarm in rig.table.alarms
            for name in (alarm.active, alarm.unacknowledged, alarm.latched)
            if name
        }
        self._unit: SimulatedUnit | None = None
        self._view: View | None = None
        self._phase = ""
        self._anchor = (0.0, 0.0)  # time of the clock, time of the unit
        self._sums = (0.0, 0.0)  # heat, evaporation
        self._altered = Altered()

    # what pages do

    def do(self, asked: Asked) -> None:
        """Have something done before the next scan. Raises InputError where too much waits, or the unit has ended."""
        with self._condition:
            if self.state == "ended":
                raise InputError("simulated unit", "", "it has ended", "begin another one")
            if len(self._asked) >= MOST_ASKED:
                raise InputError("simulated unit", "", "too much is asked for at a time", f"{MOST_ASKED} at a time")
            self._asked.append(asked)
            self._condition.notify_all()

    def set_speed(self, speed: int) -> None:
        """How many times faster than real time; 0 holds it still."""
        if speed not in SPEEDS:
            raise InputError("simulated unit", "speed", f"{speed} is no speed", ", ".join(map(str, SPEEDS)))
        with self._condition:
            self.speed = speed
            self.changed += 1
            self._anchor_here()
            self._condition.notify_all()

    def end(self, why: str) -> None:
        """Let it stop; its last view stays."""
        with self._condition:
            if self.state != "ended":
                self.state, self.why_ended = "ended", why
                self.changed += 1
            self._condition.notify_all()
        self._tell_when_over()

    def looked_at(self) -> None:
        """Somebody looks: it is not idle."""
        self._looked_s = self._pace.now()

    @property
    def result(self) -> str:
        """Under which the result of its task will be kept; empty where there is none to come."""
        keeper = self._keeper
        return keeper.id if keeper is not None else ""

    def view(self) -> View | None:
        """The last view; none while it is prepared."""
        return self._view

    def events_since(self, number: int) -> list[Event]:
        """Events after that number, oldest first."""
        with self._condition:
            return [event for event in self._events if event.number > number]

    def points_since(self, generation: int, time_s: float) -> tuple[int, list[Point]]:
        """The generation of the points, and those after a time; all where they have been thinned since."""
        with self._condition:
            since_s = time_s if generation == self._generation else -1.0
            return self._generation, [point for point in self._points if point.time_s > since_s]

    def coached(self, with_attempt: Callable[[Attempt, float], object]) -> object:
        """Do something with the attempt while the unit waits. Raises InputError where there is none."""
        with self._condition:
            if self.attempt is None or self._view is None:
                raise InputError("trainer", "", "no task is at work here", "begin a task")
            self.changed += 1
            found = with_attempt(self.attempt, self._view.time_s)
        self._tell_when_over()
        return found

    # its own thread

    def live(self) -> None:
        """Run until ended; never raises."""
        try:
            self.prepare()
            while self.state == "running":
                self.turn()
        except VaporwrightError as error:
            self.end(f"the model cannot go on: {error}")
        except Exception:
            _LOG.exception("a simulated unit failed")
            self.end("the simulated unit failed; the server's log has it")

    def prepare(self) -> None:
        """Set the unit up, as its task hands it over or at rest. Raises InputError, OutOfRange from the unit."""
        if self.task is not None:
            unit, attempt = begin(self.task, self.rig)
        else:
            level_m = self.rig.stack.mark("refill-off").height_m
            unit = SimulatedUnit(self.rig, level_m=level_m, temperature_K=self.rig.season.settling_temperature_K)
            attempt = None
        with self._condition:
            if self.state == "ended":
                return
            self._unit, self.attempt, self.state = unit, attempt, "running"
            self._phase = unit.heater.phase
            self._note_sums()
            self._take_changes()
            self._anchor_here()
            self._look()

    def turn(self) -> None:
        """A little of its life: some seconds of the unit, or a rest while it is held still."""
        now = self._pace.now()
        if now - self._looked_s > IDLE_s:
            self.end("nobody looked at it any more")
        elif now - self._begun_s > LIFE_s:
            self.end("it has run for long enough; begin another one")
        elif self.speed == 0:
            self._rest()
        else:
            for _ in range(max(round(self.speed * TURN_s), 1)):
                if self.state == "running":
                    self._second()

    def _rest(self) -> None:
        assert self._unit is not None
        with self._condition:
            waiting = len(self._asked)
            self._work_off(self._unit.scan)
            if len(self._asked) < waiting:
                self._look()
            else:  # nothing to do, or a button that the table has to see first
                self._pace.wait(self._condition, 1.0)

    def _second(self) -> None:
        unit = self._unit
        assert unit is not None
        fine = self.speed == 1
        if not fine:
            self._await(unit.time_s)
        with self._condition:
            due = fine or bool(self._asked) or bool(self._held)
        unit.second(self._before_scan, due=due)
        with self._condition:
            self._take_changes()
            del unit.changes[:]
            self._read = 0
            self._add_point()
            if self.attempt is not None:
                self.attempt.second(unit.value, unit.sample(), unit.time_s)
            self._look()
        self._tell_when_over()

    def _tell_when_over(self) -> None:
        """Tell the keeper, once, and not while the unit is locked: it writes to a disk."""
        with self._condition:
            is_over = self.state == "ended" or (self.attempt is not None and self.attempt.verdict != "at work")
            keeper = self._keeper if is_over else None
            if keeper is not None:
                self._keeper = None
        if keeper is not None:
            keeper.over(self)

    def _before_scan(self, scan: int) -> None:
        unit = self._unit
        assert unit is not None
        if self.speed == 1:
            with self._condition:
                self._take_changes()
                self._look()
            self._await(scan / unit.scans_per_s)
        with self._condition:
            self._work_off(scan)

    def _await(self, time_s: float) -> None:
        """Wait until the clock has come to a time of the unit, or something has changed the pace."""
        with self._condition:
            while self.state == "running" and self.speed:
                since_s, from_s = self._anchor
                ahead_s = (time_s - from_s) / self.speed - (self._pace.now() - since_s)
                if ahead_s < -BEHIND_s:
                    self._anchor = (self._pace.now(), time_s)
                if ahead_s <= SOON_s:
                    return
                self._pace.wait(self._condition, ahead_s)

    def _anchor_here(self) -> None:
        self._anchor = (self._pace.now(), self._unit.time_s if self._unit is not None else 0.0)

    def _work_off(self, scan: int) -> None:
        """Do what is asked for; a button that went down just now stays down until the table has seen it."""
        while self._asked:
            asked = self._asked[0]
            deed = asked.deed
            if deed is not None and deed.verb == "pull" and not self._seen_long_enough(str(deed.value), scan):
                break
            self._asked.popleft()
            self._do(asked, scan)
        now = self._pace.now()
        for button, (_, since_s) in list(self._held.items()):
            if now - since_s > HELD_s:
                self._do(Asked(Deed("pull", "", button, f"{button} let go")), scan)

    def _seen_long_enough(self, button: str, scan: int) -> bool:
        down = self._held.get(button)
        return down is None or scan - down[0] >= PUSHED_scans

    def _do(self, asked: Asked, scan: int) -> None:
        unit, attempt = self._unit, self.attempt
        assert unit is not None
        time_s = scan / unit.scans_per_s
        try:
            if asked.look is not None:
                if attempt is not None:
                    attempt.deed(f"look {asked.look.key}", unit.value, time_s)
                self._event(time_s, "seen", asked.look.key, asked.look.seen(unit), None)
            elif asked.work is not None:
                if attempt is not None:
                    attempt.work(asked.work, unit.value, time_s)
                for deed in work_deeds(asked.work):
                    act(unit, deed.verb, deed.target, deed.value)
                self._event(time_s, "deed", asked.work.key, asked.work.words, None)
            elif asked.deed is not None:
                self._act(asked.deed, scan)
        except VaporwrightError as error:
            self._event(time_s, "deed", "refused", str(error), None)

    def _act(self, deed: Deed, scan: int) -> None:
        unit = self._unit
        assert unit is not None
        time_s = scan / unit.scans_per_s
        pulled = deed.verb == "pull" and deed.value not in unit.panel.pushed
        if self.attempt is not None and not pulled:
            self.attempt.deed(deed.key, unit.value, time_s)
        act(unit, deed.verb, deed.target, deed.value)
        if deed.value in BUTTONS and deed.value != EMERGENCY_STOP:
            self._held.pop(str(deed.value), None)
            if deed.verb == "push":
                self._held[str(deed.value)] = (scan, self._pace.now())
            else:
                return  # letting go is no event
        self._altered.remember(deed)
        self._event(time_s, "deed", deed.verb, deed.words, None)

    # what is seen

    def _take_changes(self) -> None:
        """Put what the table has changed into bits, events and alarms; scans one after the other."""
        unit, table = self._unit, self.rig.table
        assert unit is not None
        changes = unit.changes
        place = self._read
        while place < len(changes):
            scan = changes[place][0]
            touched = {}
            while place < len(changes) and changes[place][0] == scan:
                _, index, on = changes[place]
                self._bits[index] = 49 if on else 48
                kind = self._kinds.get(index)
                if kind is not None:
                    name = table.names[index]
                    self._event(scan / unit.scans_per_s, kind, name, title_of(self.rig, name), on)
                if index in self._touched:
                    alarm = self._touched[index]
                    touched[alarm.row] = alarm
                place += 1
            for alarm in touched.values():
                names = [name for name in (alarm.active, alarm.unacknowledged, alarm.latched) if name]
                state = alarm_state(alarm, {name: self._bit(name) for name in names})
                if state != self._alarm_states[alarm.row][0]:
                    self._alarm_states[alarm.row] = (state, scan / unit.scans_per_s)
                    words = f"{title_of(self.rig, alarm.row)}: {state}"
                    self._event(scan / unit.scans_per_s, "alarm", alarm.row, words, None)
        self._read = place
        if unit.heater.phase != self._phase:
            self._phase = unit.heater.phase
            self._event(unit.time_s, "device", "heater", f"heater: {self._phase}", None)

    def _bit(self, name: str) -> bool:
        return self._bits[self._place[name]] == 49

    def _event(
        self,
        time_s: float,
        kind: Literal["deed", "input", "row", "effect", "device", "alarm", "seen", "trainer"],
        name: str,
        text: str,
        on: bool | None,
    ) -> None:
        self._number += 1
        self.changed += 1
        self._events.append(Event(self._number, time_s, kind, name, text, on))

    def _note_sums(self) -> tuple[float, float]:
        """Heat and evaporation since the last time, and remember where they stand."""
        assert self._unit is not None
        sample = self._unit.sample()
        before, self._sums = self._sums, (sample.heat_J, sample.evaporated_kg)
        return self._sums[0] - before[0], self._sums[1] - before[1]

    def _add_point(self) -> None:
        unit = self._unit
        assert unit is not None
        if round(unit.time_s) % self._every_s:
            return
        heat_J, evaporated_kg = self._note_sums()
        state, span_s = unit.plant.state, float(self._every_s)
        self._points.append(
            Point(unit.time_s, state.temperature_K, unit.level_m, heat_J / span_s, evaporated_kg / span_s)
        )
        if len(self._points) > MOST_POINTS:
            self._points = self._points[1::2]
            self._generation += 1
            self._every_s *= 2

    def _look(self) -> None:
        """Leave a view behind."""
        unit = self._unit
        assert unit is not None
        state, last = unit.plant.state, self._points[-1] if self._points else None
        alarms = [
            AlarmLine(row, alarm, since_s) for row, (alarm, since_s) in self._alarm_states.items() if alarm != "normal"
        ]
        self.changed += 1
        refill = min(unit.valves[name].position for name in ("refill_valve", "refill_shutoff"))
        self._view = View(
            time_s=unit.time_s,
            bits=self._bits.decode("ascii"),
            alarms=tuple(sorted(alarms, key=lambda line: -line.since_s)),
            figures={
                "temperature_K": state.temperature_K,
                "thermometer_K": unit.reading_K,
                "level_m": unit.level_m,
                "heat_W": last.heat_W if last else 0.0,
                "evaporation_kg_s": last.evaporation_kg_s if last else 0.0,
                "blower": unit.blower.position,
                "pump": unit.pump.position,
                "spray": state.spray_share,
                "heat": unit.heater.load,
                "refill": refill if unit.refill_supply else 0.0,
                "drain": unit.valves["drain_valve"].position,
                "agitation": unit.valves["agitation_valve"].position,
                "foam_m": unit.foam_m,
            },
            phase=unit.heater.phase,
            selectors=dict(unit.panel.selectors),
            pushed=tuple(sorted(unit.panel.pushed)),
            power=unit.power,
            supplies=dict(self._altered.supplies),
            altered=self._altered.lines,
        )
