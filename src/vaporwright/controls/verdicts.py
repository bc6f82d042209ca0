"""What a rehearsal showed, held against what its script expects.

Names of the table are known at every scan, so that a time is exact to one scan; quantities at every second.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from vaporwright.controls.alarms import AlarmState, alarm_state
from vaporwright.controls.resolving import Check, Sign
from vaporwright.controls.rig import Sample
from vaporwright.controls.script import QUANTITIES, Count, Expectation
from vaporwright.controls.table import Alarm

# Which field of a sample a quantity of the script is; evaporation and heat are sums there.
SAMPLED: Final[Mapping[str, int]] = {
    name: Sample._fields.index(field)
    for name, field in (
        ("tank_temperature", "tank_temperature_K"),
        ("thermometer", "thermometer_K"),
        ("heater_surface", "heater_surface_K"),
        ("level", "level_m"),
        ("solids", "solids_kg_kg"),
        ("heat_load", "heat_load"),
        ("airflow_share", "airflow_share"),
        ("spray_share", "spray_share"),
        ("evaporation", "evaporated_kg"),
        ("heat", "heat_J"),
        ("refilled", "refilled_m3"),
        ("overflowed", "overflowed_m3"),
        ("heater_bare", "heater_bare_s"),
        ("pump_dry", "pump_dry_s"),
    )
}
assert set(SAMPLED) == set(QUANTITIES)


@dataclass(frozen=True)
class Timeline:
    """A name of the table over the run: off at first, then as its steps say."""

    steps: tuple[tuple[int, bool], ...]  # scan, value from this scan on
    end: int  # scans in all

    @cached_property
    def _scans(self) -> tuple[int, ...]:
        return tuple(scan for scan, _ in self.steps)

    def value(self, scan: int) -> bool:
        """After that scan."""
        place = bisect_right(self._scans, scan)
        return self.steps[place - 1][1] if place else False

    def first(self, value: bool, start: int, end: int) -> int | None:
        """The first scan from `start` to before `end` after which it has that value."""
        if start >= end:
            return None
        if self.value(start) == value:
            return start
        place = bisect_right(self._scans, start)
        return next((scan for scan, on in self.steps[place:] if on == value and scan < end), None)


AlarmTimeline = Sequence[tuple[int, AlarmState]]


@dataclass(frozen=True)
class Verdict:
    """One expectation and what was found."""

    expectation: Expectation
    met: bool
    time_s: float | None  # when it was decided; None where its time never came
    found: bool | str | float | None
    note: str = ""


def alarm_timeline(alarm: Alarm, timelines: Mapping[str, Timeline]) -> tuple[tuple[int, AlarmState], ...]:
    """The alarm's states over the run; it begins as normal."""
    items = [name for name in (alarm.active, alarm.unacknowledged, alarm.latched) if name is not None]
    states: list[tuple[int, AlarmState]] = [(-1, "normal")]
    for scan in sorted({scan for name in items for scan, _ in timelines[name].steps}):
        state = alarm_state(alarm, {name: timelines[name].value(scan) for name in items})
        if state != states[-1][1]:
            states.append((scan, state))
    return tuple(states)


def judged(
    checks: Sequence[Check],
    timelines: Mapping[str, Timeline],
    alarms: Mapping[str, AlarmTimeline],
    first_out: Mapping[str, str],
    samples: Sequence[Sample],
    scans_per_s: int,
) -> tuple[Verdict, ...]:
    """A verdict on each expectation, in the script's order."""
    judge = _Judge(timelines, alarms, {row: latch for latch, row in first_out.items()}, samples, scans_per_s)
    return tuple(judge.verdict(check) for check in checks)


@dataclass(frozen=True)
class _Judge:
    timelines: Mapping[str, Timeline]
    alarms: Mapping[str, AlarmTimeline]
    latch_of: Mapping[str, str]
    samples: Sequence[Sample]
    scans_per_s: int

    @property
    def end(self) -> int:
        return (len(self.samples) - 1) * self.scans_per_s

    def verdict(self, check: Check) -> Verdict:
        item, anchor = check.expectation, check.start
        for sign in check.signs:
            scan = self.anchor(sign, anchor)
            if scan is None:
                return Verdict(item, False, None, None, f"never came about: {sign.text}")
            anchor = scan
        stop = self.end if check.end is None else check.end
        if item.mode == "at":
            stop = anchor + 1
        elif check.span is not None:
            stop = anchor + check.span + 1
            if stop > self.end + 1:
                return Verdict(item, False, None, None, "its span ends after the script")
        if item.subject == "quantity":
            return self.quantity(check, anchor, stop)
        if item.subject == "count":
            return self.count(item, anchor, stop)
        return self.held(item, self.line(item), anchor, min(stop, self.end))

    def anchor(self, sign: Sign, start: int) -> int | None:
        if sign.limit is None:
            return self.timelines[sign.name].first(sign.on, start, self.end)
        index = SAMPLED[sign.name]
        for second in range(-(-start // self.scans_per_s), len(self.samples)):
            value = self.samples[second][index]
            if value >= sign.limit if sign.on else value <= sign.limit:
                return second * self.scans_per_s
        return None

    def line(self, item: Expectation) -> Timeline:
        """The expectation as one line that should be on."""
        if item.subject == "alarm":
            states = self.alarms[item.name]
            return Timeline(tuple((scan, state == item.wanted) for scan, state in states), self.end)
        name = self.latch_of[item.name] if item.subject == "first out" else item.name
        line = self.timelines[name]
        return (
            line
            if item.wanted is True
            else Timeline(((-1, True), *((scan, not on) for scan, on in line.steps)), self.end)
        )

    def held(self, item: Expectation, line: Timeline, start: int, end: int) -> Verdict:
        if item.mode == "within":
            scan = line.first(True, start, end)
            met = scan is not None
            return self.said(item, met, scan if scan is not None else end - 1)
        if item.whilst is None:
            scan = line.first(False, start, end)
            return self.said(item, scan is None, end - 1 if scan is None else scan)
        times = self.timelines[item.whilst.name]
        begin = times.first(item.whilst.on, start, end)
        if begin is None:
            return Verdict(item, False, None, None, f"never came about: {item.whilst.text}")
        while begin is not None:
            stop = times.first(not item.whilst.on, begin, end) or end
            scan = line.first(False, begin, stop)
            if scan is not None:
                return self.said(item, False, scan)
            begin = times.first(item.whilst.on, stop, end)
        return self.said(item, True, end - 1)

    def said(self, item: Expectation, met: bool, scan: int) -> Verdict:
        found: bool | str
        if item.subject == "alarm":
            states = self.alarms[item.name]
            found = states[bisect_right([at for at, _ in states], scan) - 1][1]
        elif item.subject == "first out":
            on = [row for row, latch in self.latch_of.items() if self.timelines[latch].value(scan)]
            found = ", ".join(on) or "nothing"
        else:
            found = self.timelines[item.name].value(scan)
        return Verdict(item, met, scan / self.scans_per_s, found)

    def count(self, item: Expectation, start: int, end: int) -> Verdict:
        assert isinstance(item.wanted, Count)
        found = sum(1 for scan, on in self.timelines[item.name].steps if on and start <= scan < end)
        enough = found >= item.wanted.least and (item.wanted.most is None or found <= item.wanted.most)
        return Verdict(item, enough, end / self.scans_per_s, float(found))

    def quantity(self, check: Check, start: int, stop: int) -> Verdict:
        item, index = check.expectation, SAMPLED[check.expectation.name]
        first = -(-start // self.scans_per_s)
        last = min(max((stop - 1) // self.scans_per_s if item.mode == "at" else stop // self.scans_per_s, first),
                   len(self.samples) - 1)  # fmt: skip
        reading = QUANTITIES[item.name].reading
        if reading != "moment":
            found = float(self.samples[last][index] - self.samples[first][index])
            if reading == "mean":
                found /= max(last - first, 1)
            return Verdict(item, _inside(check, found), float(last), found)
        if item.mode == "within":
            for second in range(first, last + 1):
                if _inside(check, self.samples[second][index]):
                    return Verdict(item, True, float(second), float(self.samples[second][index]))
            return Verdict(item, False, float(last), float(self.samples[last][index]))
        whilst = item.whilst
        seen = False
        for second in range(first, last + 1):
            if whilst is not None and self.timelines[whilst.name].value(second * self.scans_per_s - 1) != whilst.on:
                continue
            seen = True
            if not _inside(check, self.samples[second][index]):
                return Verdict(item, False, float(second), float(self.samples[second][index]))
        if not seen:
            assert whilst is not None
            return Verdict(item, False, None, None, f"never came about: {whilst.text}")
        return Verdict(item, True, float(last), float(self.samples[last][index]))


def _inside(check: Check, value: float) -> bool:
    return (check.low is None or value >= check.low) and (check.high is None or value <= check.high)
