"""A script put onto one unit: its names checked against the table, its times in scans, its quantities in SI.

Everything that can be wrong with a script on this unit is said here, before anything runs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import get_args

from vaporwright.controls.devices import SIGNAL_OF
from vaporwright.controls.rig import Rig
from vaporwright.controls.script import (
    QUANTITIES,
    Bounds,
    Crossing,
    Deed,
    Event,
    Expectation,
    Moment,
    Place,
    Script,
    Trigger,
)
from vaporwright.equipment.level_rods import MarkName
from vaporwright.foundation.errors import InputError

PUSHED_s = 0.5  # a button, where the script does not say how long
_VALVES = ("spray_valve", "agitation_valve", "drain_valve", "refill_valve", "refill_shutoff")
_KEYS = {"name": "that", "first out": "first_out"}  # of a script, by subject
_TEMPERATURE_VERBS = ("set_point", "thermometer")


@dataclass(frozen=True)
class Sign:
    """A trigger on this unit: a name that is on or off, or a quantity at a value or past it."""

    name: str
    on: bool
    limit: float | None = None  # of a quantity; then `on` means above
    text: str = ""


@dataclass(frozen=True)
class Act:
    """A deed on this unit, at a scan or so many scans after its sign."""

    label: str
    scan: int
    signs: tuple[Sign, ...]  # one after the other
    wait_scans: int
    deeds: tuple[Deed, ...]  # values resolved
    hold_scans: int


@dataclass(frozen=True)
class Check:
    """An expectation on this unit."""

    expectation: Expectation
    start: int  # scan
    signs: tuple[Sign, ...]
    span: int | None
    end: int | None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class ResolvedScript:
    """What runs."""

    seconds: int
    level_m: float
    temperature_K: float
    acts: tuple[Act, ...]
    checks: tuple[Check, ...]


def resolve(script: Script, rig: Rig) -> ResolvedScript:
    """Put a script onto a unit.

    Raises: InputError that names the script's file, the entry, what is wrong and what is allowed.
    """
    if rig.heat not in script.heats:
        raise InputError(script.where, "heat", f"this unit is heated by {rig.heat}", " or ".join(script.heats))
    return _Resolver(script, rig).resolved()


class _Resolver:
    def __init__(self, script: Script, rig: Rig) -> None:
        self.script, self.rig, self.where = script, rig, script.where
        self.seconds = math.ceil(script.duration.seconds - 1e-9)
        self.figures = _figures(rig)
        table = rig.table
        self.names = {
            "stick": table.inputs,
            "short": table.signals,
            "weld": table.outputs,
            "name": table.names,
            "count": table.names,
            "alarm": tuple(alarm.row for alarm in table.alarms),
            "first out": tuple(table.first_out.values()),
        }

    def resolved(self) -> ResolvedScript:
        start = self.script.start
        for name in start.signals:
            self.require(name, self.rig.table.inputs, f"start.signals.{name}")
        mine = self.rig.heat
        return ResolvedScript(
            seconds=self.seconds,
            level_m=start.level.resolved(self.figures["short length"]),
            temperature_K=start.temperature.resolved(self.figures["temperature"]),
            acts=tuple(self.act(event) for event in self.script.events if event.only_for in ("", mine)),
            checks=tuple(self.check(item) for item in self.script.expectations if item.only_for in ("", mine)),
        )

    def scans(self, moment: Moment, key: str) -> int:
        return math.ceil(moment.resolved_s(self.rig.delays, self.where, key) * self.rig.scans_per_s - 1e-6)

    def scan_at(self, moment: Moment, key: str) -> int:
        scan, last = self.scans(moment, key), self.seconds * self.rig.scans_per_s
        if scan > last:
            raise InputError(self.where, key, f'"{moment.text}" lies after the end', f"at most {self.seconds} s")
        return scan

    def require(self, name: str, known: tuple[str, ...], key: str) -> None:
        if name not in known:
            raise InputError(self.where, key, f'"{name}" is not on this unit', ", ".join(known))

    def sign(self, trigger: Trigger, key: str) -> Sign:
        if isinstance(trigger, Crossing):
            kind = QUANTITIES[trigger.quantity].quantity
            return Sign(trigger.quantity, trigger.above, trigger.place.resolved(self.figures[kind]), trigger.text)
        self.require(trigger.name, self.rig.table.names, key)
        return Sign(trigger.name, trigger.on, None, trigger.text)

    def act(self, event: Event) -> Act:
        hold_s = Moment(PUSHED_s) if event.hold is None else event.hold
        return Act(
            label=event.label,
            scan=self.scan_at(event.at, f"{event.label}.at"),
            signs=tuple(self.sign(trigger, f"{event.label}.when") for trigger in event.when),
            wait_scans=self.scans(event.wait, f"{event.label}.wait"),
            deeds=tuple(self.deed(deed, event.label) for deed in event.deeds),
            hold_scans=max(self.scans(hold_s, f"{event.label}.for"), 1),
        )

    def deed(self, deed: Deed, label: str) -> Deed:
        table, key = self.rig.table, f"{label}.{deed.verb}"
        if deed.verb in self.names:
            self.require(deed.target, self.names[deed.verb], key)
        if deed.verb == "turn" and deed.value != "off":
            signal = SIGNAL_OF.get((deed.target, str(deed.value)))
            if signal is None or signal not in table.inputs:
                raise InputError(self.where, f"{key}.{deed.target}", f'"{deed.value}" is not on this unit')
        if deed.verb == "fail" and deed.target in _VALVES:
            self.require(deed.target, table.outputs, key)
        if not isinstance(deed.value, Place):
            return deed
        kind = "temperature" if deed.verb in _TEMPERATURE_VERBS else "liquid flow" if deed.verb == "trickle" else ""
        return Deed(deed.verb, deed.target, deed.value.resolved(self.figures.get(kind, {})), deed.text)

    def check(self, item: Expectation) -> Check:
        label = item.label
        if item.subject in self.names:
            self.require(item.name, self.names[item.subject], f"{label}.{_KEYS.get(item.subject, item.subject)}")
        if item.whilst is not None:
            self.require(item.whilst.name, self.rig.table.names, f"{label}.whilst")
        low = high = None
        if isinstance(item.wanted, Bounds):
            figures = self.figures[QUANTITIES[item.name].quantity]
            low, high = (
                None if place is None else place.resolved(figures) for place in (item.wanted.low, item.wanted.high)
            )
            if low is not None and high is not None and low > high:
                raise InputError(self.where, label, f"at least {low:g} and at most {high:g}", "least below most")
        start = self.scan_at(item.start, f"{label}.from")
        end = None if item.end is None else self.scan_at(item.end, f"{label}.to")
        if end is not None and end < start:
            raise InputError(self.where, f"{label}.to", "lies before `from`", "a span of time")
        span = None if item.span is None else self.scans(item.span, f"{label}.within")
        if span is not None and not item.when and start + span > self.seconds * self.rig.scans_per_s:
            raise InputError(self.where, label, "its span ends after the script", f"at most {self.seconds} s")
        signs = tuple(self.sign(trigger, f"{label}.when") for trigger in item.when)
        return Check(item, start, signs, span, end, low, high)


def _figures(rig: Rig) -> dict[str, Mapping[str, float]]:
    """What quantities can be stated against, of this unit: the bases of `script`."""
    points, season = rig.points, rig.season
    marks: tuple[MarkName, ...] = get_args(MarkName)
    return {
        "temperature": {
            "set point": points.set_point_K,
            "deviation alarm": points.deviation_alarm_K,
            "high limit": points.high_limit_K,
            "plastic limit": points.plastic_limit_K,
            "settling": season.settling_temperature_K,
            "feed": rig.design.feed_temperature_K,
        },
        "short length": {mark: rig.stack.mark(mark).height_m for mark in marks},
        "evaporation": {"rate": season.evaporation_kg_s},
        "heat": {"rate": season.heat_W},
        "fraction": {},
        "short duration": {},
        "volume": {},
        "liquid flow": {"feed rate": season.operation.feed_kg_s / rig.design.feed_kg_m3},
    }
