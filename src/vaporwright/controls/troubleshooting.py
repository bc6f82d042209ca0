"""Why did it stop: a guide from symptom to cause, worked out from the table itself.

A symptom is an alarm that came, or an effect that does not come though it should. Its causes are what the table reads
on the way to it, each in the state that brings the symptom about: conditions are followed backward through plain rows
to field signals and compared quantities. They stop at a row that latches or is an alarm, and at another effect: those
are symptoms of their own, and the guide sends there. Nothing about the unit stands here a second time; change the
table, and the guide changes.

Causes come in order of likelihood: an alarm that stands, what people set, what the process does, devices that wear or
foul, then hard-wired devices that trip for a reason of their own; the nearer to the symptom, the sooner. That order
and what to look at, by kind of device, are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.controls.design import CauseAndEffect, Cell, Column
from vaporwright.controls.expressions import All, Any, Expr, Is, Not, Was
from vaporwright.controls.table import Comparator

QUANTITY, ALARM, EFFECT = "quantity", "alarm", "effect"
LIKELIHOOD: Final = {ALARM: 0, "selector": 1, "button": 2, QUANTITY: 3, EFFECT: 4, "rod": 5, "switch": 6, "contact": 7}
LOOK: Final = {
    ALARM: "see that alarm; it is reset only once its cause is gone",
    EFFECT: "see why that one is as it is",
    "selector": "read its position at the panel",
    "button": "is it pushed, stuck, or its contact block loose",
    QUANTITY: "compare the thermometer with another one held into the tank",
    "rod": "look at the level first; then lift, clean and dip the rod: scale or foam reads wet, a broken wire or a"
    " broken reference reads dry",
    "switch": "watch what it watches first (air, flow, level, valve); then its tubing, paddle or float, then its wire",
    "contact": "read the device behind it; find why it tripped before its own reset is used",
}
CAUTIONS: Final = {
    ALARM: "",
    EFFECT: "",
    "selector": "",
    "button": "",
    QUANTITY: "hot liquor: eye protection, gloves",
    "rod": "hot liquor, low voltage: heat off, gloves, and the rods' relay isolated before a holder is opened",
    "switch": "moving parts and hot liquor: lock out before a guard or a pipe is opened; never bridge a switch to run",
    "contact": "never bridge it; fuel, flame and power are for the qualified person, locked out first",
}
USUAL: Final = ("contact", "")
OPERATOR_ONLY: Final = ("silence", "acknowledge")  # change nothing but horn and lamps


@dataclass(frozen=True)
class Suspect:
    """A signal, alarm or effect in the state that brings a symptom about."""

    name: str
    title: str
    kind: str
    state: str  # in words: what it says
    through: tuple[str, ...]  # titles of the rows on the way, nearest the symptom first

    @property
    def look(self) -> str:
        """What to look at."""
        return LOOK.get(self.kind, LOOK[USUAL[0]])

    @property
    def caution(self) -> str:
        """What can hurt whoever looks; empty at a panel."""
        return CAUTIONS.get(self.kind, CAUTIONS[USUAL[0]])


@dataclass(frozen=True)
class Symptom:
    """What one sees, and what may be behind it, the likeliest first."""

    name: str
    title: str
    suspects: tuple[Suspect, ...]


def troubleshooting_guide(design: CauseAndEffect) -> tuple[Symptom, ...]:
    """Every effect that can be missing and every alarm, with its suspects."""
    tracer = _Tracer(design)
    missing = (
        tracer.symptom(column.name, f"does not come: {column.title}", tracer.of_effect(column))
        for column in design.columns
    )
    alarms = (
        tracer.symptom(row.name, f"alarm: {row.title}", tracer.of(row.condition, True, (row.title,)))
        for row in design.rows
        if row.alarm
    )
    return tuple(symptom for symptom in (*missing, *alarms) if symptom.suspects)


_Trace = tuple[str, bool, tuple[str, ...]]  # name, state, titles of the rows on the way


class _Tracer:
    """Follows conditions of one design backward."""

    def __init__(self, design: CauseAndEffect) -> None:
        self.design = design
        self.rows = {row.name: row for row in design.rows}
        self.columns = {column.name: column for column in design.columns}
        self.signals = {signal.name: signal for signal in design.signals}
        self.comparators = {item.name: item for item in design.comparators}

    def symptom(self, name: str, title: str, traces: Iterator[_Trace]) -> Symptom:
        """Each suspect once, by its shortest way, in order of likelihood."""
        shortest: dict[tuple[str, bool], tuple[str, ...]] = {}
        for suspect, state, through in traces:
            known = shortest.get((suspect, state))
            if suspect not in (*OPERATOR_ONLY, name) and (known is None or len(through) < len(known)):
                shortest[suspect, state] = through
        suspects = [self._suspect(suspect, state, through) for (suspect, state), through in shortest.items()]
        suspects.sort(key=lambda entry: (LIKELIHOOD.get(entry.kind, len(LIKELIHOOD)), len(entry.through)))
        return Symptom(name, title, tuple(suspects))

    def _suspect(self, name: str, state: bool, through: tuple[str, ...]) -> Suspect:
        if name in self.comparators:
            item = self.comparators[name]
            quantity = item.quantity.rpartition("_")[0].replace("_", " ")
            return Suspect(name, quantity, QUANTITY, _side(item, state), through)
        if name in self.rows:
            return Suspect(name, self.rows[name].title, ALARM, "stands", through)
        if name in self.columns:
            return Suspect(name, self.columns[name].title, EFFECT, "is on" if state else "is off", through)
        signal = self.signals[name]
        return Suspect(name, signal.title, signal.kind, f'{"" if state else "not "}"{signal.on_means}"', through)

    def of_effect(self, column: Column) -> Iterator[_Trace]:
        """What keeps an effect away: a row that ends it, a need that fails, none that asks."""
        cells: tuple[tuple[Cell, bool], ...] = (("off", True), ("need", False), ("on", False))
        for cell, wanted in cells:
            for row in self.design.rows_on(column.name, cell):
                yield from self._of_name(row.name, wanted, ())

    def of(self, expr: Expr, wanted: bool, through: tuple[str, ...]) -> Iterator[_Trace]:
        """What makes a condition so."""
        match expr:
            case Not(part):
                yield from self.of(part, not wanted, through)
            case All(parts) | Any(parts):
                for part in parts:
                    yield from self.of(part, wanted, through)
            case Is(name) | Was(name):
                yield from self._of_name(name, wanted, through)

    def _of_name(self, name: str, wanted: bool, through: tuple[str, ...]) -> Iterator[_Trace]:
        row = self.rows.get(name)
        if row is None:
            if name in self.signals or name in self.comparators or name in self.columns:
                yield name, wanted, through
        elif row.alarm is not None:
            if wanted:  # an alarm that is missing is no trouble
                yield name, wanted, through
        elif row.title not in through:  # else a circle: already on this way
            yield from self.of(row.condition, wanted, (*through, row.title))


def _side(item: Comparator, state: bool) -> str:
    return f"{'' if state else 'not '}{item.side} its limit ({item.name.replace('_', ' ')})"
