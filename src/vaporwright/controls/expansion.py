"""From the matrix that a shop edits to the flat table: alarms, first-out, delays and held effects written out.

Each row finds its place by what it reads: signals only, and it is a cause; latched rows, and it joins the latches;
effects, and it is worked out among them as a step on the way. Within a stage items keep their written order as far as
what they read allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, TypeVar

from vaporwright.controls.alarms import alarm_effects, alarm_latches, copied, first_out_latches
from vaporwright.controls.design import INTERNAL, CauseAndEffect, Column, Row
from vaporwright.controls.expressions import FALSE, Any, Expr, Is, Not, Was, atoms, both, either, pressed, replace_atoms
from vaporwright.controls.table import Alarm, Cause, Effect, Item, Label, Latch, Table, Timer, conditions, require_delay
from vaporwright.foundation.errors import InputError

_CAUSE: Final = 1
_LATCH: Final = 2
_EFFECT: Final = 3
Placed = TypeVar("Placed", bound=Item)


def expanded(design: CauseAndEffect) -> Table:
    """The table of a matrix.

    Raises: InputError where a row reads what is not worked out yet, or rows and effects read one another in a circle.
    """
    work = _Expansion(design)
    for row in design.rows:
        work.add_row(row)
    for column in design.columns:
        work.add_column(column)
    work.add_macros()
    return work.table()


@dataclass
class _Expansion:
    design: CauseAndEffect
    timers: list[Timer] = field(default_factory=list)
    causes: list[Cause] = field(default_factory=list)
    latches: list[Latch] = field(default_factory=list)
    effects: list[Effect] = field(default_factory=list)
    alarms: list[Alarm] = field(default_factory=list)
    first_out: dict[str, dict[str, str]] = field(default_factory=dict)
    stages: dict[str, int] = field(default_factory=dict)
    labels: dict[str, Label] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rows = {row.name: row for row in self.design.rows}
        for signal in self.design.signals:
            self.labels[signal.name] = Label(signal.title, signal.kind, signal.on_means)
        for item in self.design.comparators:
            title = f"{item.quantity} {item.side} {item.limit:g}"
            self.labels[item.name] = Label(title, "comparator", f"at or {item.side} the limit")
        self.stages |= dict.fromkeys(self.design.inputs, 0)
        self.stages |= {column.name: _EFFECT for column in self.design.columns}

    def stage_of(self, expr: Expr) -> int:
        """The earliest stage in which everything that it reads of this scan is there."""
        return max((self.stages[atom.name] for atom in atoms(expr) if isinstance(atom, Is)), default=0)

    def add_row(self, row: Row) -> None:
        """Delay, condition, latch, alarm and first-out of one row."""
        condition = row.condition
        if row.delay_s:
            delay = f"{row.name}_delay"
            condition = self._before_timers(row, condition)
            scans = require_delay(self.design.name, row.name, row.delay_s, self.design.scan_s)
            self.timers.append(Timer(delay, condition, scans))
            self.labels[delay] = Label(f"{row.title}, {row.delay_s:g} s", "timer")
        value = Is(f"{row.name}_delay") if row.delay_s else condition
        stage = _CAUSE if row.delay_s else max(_CAUSE, self.stage_of(condition))
        active = f"{row.name}_cause" if row.latched else row.name
        self._add_condition(active, value, stage)
        self.labels[active] = Label(row.title, "cause")
        if row.latched:
            self._require_latch_stage(row, stage, "latched")
            stage = _LATCH
            self._add_trip(row, condition, active)
        self.stages[row.name] = stage
        if row.alarm:
            self._require_latch_stage(row, stage, "an alarm")
            self.alarms.append(
                Alarm(row.name, row.alarm, active, f"{row.name}_unacknowledged", row.name if row.latched else None)
            )
            self.labels[f"{row.name}_unacknowledged"] = Label(f"{row.title}, not acknowledged", "latch")
        if row.first_out:
            self._require_latch_stage(row, stage, "in a first-out group")
            self.first_out.setdefault(row.first_out, {})[f"{row.name}_first"] = row.name
            self.labels[f"{row.name}_first"] = Label(f"{row.title}, came first", "latch")

    def _add_condition(self, name: str, value: Expr, stage: int) -> None:
        if stage == _CAUSE:
            self.causes.append(Cause(name, value))
        elif stage == _LATCH:
            self.latches.append(copied(name, value))
        else:
            self.effects.append(Effect(name, value, FALSE))

    def _add_trip(self, row: Row, condition: Expr, active: str) -> None:
        panel = self.design.panel
        gone = Not(condition)  # without the delay: a cause about to come back can't be reset either
        if row.reset is not None:
            reset = both(row.reset, gone)
        else:
            assert panel is not None  # the matrix was refused otherwise
            seen = (Not(Is(f"{row.name}_unacknowledged")),) if row.alarm else ()
            reset = both(pressed(panel.reset), gone, *seen)
        self.latches.append(Latch(row.name, Is(active), reset, set_wins=True))
        self.labels[row.name] = Label(row.title, "latch")

    def _before_timers(self, row: Row, condition: Expr) -> Expr:
        """The condition of a delay, with the causes that it reads put in full: timers come before causes."""

        def instead(atom: Is | Was) -> Expr:
            if isinstance(atom, Was) or atom.name in self.design.inputs:
                return atom
            other = self.rows.get(atom.name)
            if other is None or other.latched or self.stages[atom.name] > _CAUSE:
                raise InputError(
                    self.design.name,
                    row.name,
                    f"is delayed and reads {atom.name}, which is worked out after the timers",
                    f"Was({atom.name})",
                )
            return Is(f"{other.name}_delay") if other.delay_s else self._before_timers(row, other.condition)

        return replace_atoms(condition, instead)

    def _require_latch_stage(self, row: Row, stage: int, why: str) -> None:
        if stage > _LATCH:
            raise InputError(
                self.design.name, row.name, f"is {why} and reads an effect of the same scan", "Was(the effect)"
            )

    def add_column(self, column: Column) -> None:
        """An effect, and its memory where it holds."""
        rows_on, name = self.design.rows_on, column.name
        on = either(*(Is(row.name) for row in rows_on(name, "on")))
        off = Any(tuple(Is(row.name) for row in rows_on(name, "off")))
        missing = tuple(Not(Is(row.name)) for row in rows_on(name, "need"))
        self.labels[name] = Label(column.title, column.kind)
        if column.holds:
            for expr in (on, off):
                if self.stage_of(expr) > _LATCH:
                    raise InputError(
                        self.design.name, name, "holds, and a row on it reads an effect of the same scan", "Was"
                    )
            self.latches.append(Latch(f"{name}_held", on, off, set_wins=column.wins == "on"))
            self.labels[f"{name}_held"] = Label(f"{column.title}, asked", "latch")
            self.effects.append(Effect(name, Is(f"{name}_held"), Any(missing)))
        else:
            self.effects.append(Effect(name, on, Any(tuple(off.parts) + missing)))

    def add_macros(self) -> None:
        """First-out records, then alarms, horn and beacon."""
        for group in self.first_out.values():
            self.latches.extend(first_out_latches(group))
        panel = self.design.panel
        if panel and self.alarms:
            self.latches.extend(alarm_latches(panel, self.alarms))
            self.effects.extend(alarm_effects(panel, self.alarms))
            self.labels[panel.horn_memory] = Label("horn, asked", "latch")
            self.labels[panel.horn] = Label("horn", "horn", "sounds")
            self.labels[panel.beacon] = Label("alarm beacon", "lamp", "lit")

    def table(self) -> Table:
        """Everything in order."""
        design = self.design
        wired = [column.name for column in design.columns if column.kind != INTERNAL]
        if design.panel and self.alarms:
            wired += [design.panel.horn, design.panel.beacon]
        return Table(
            name=design.name,
            scan_s=design.scan_s,
            inputs=tuple(signal.name for signal in design.signals),
            comparators=design.comparators,
            timers=tuple(self.timers),
            causes=tuple(self.causes),
            latches=self._ordered(self.latches),
            effects=self._ordered(self.effects),
            outputs=tuple(wired),
            alarms=tuple(self.alarms),
            first_out={latch: row for group in self.first_out.values() for latch, row in group.items()},
            labels=self.labels,
        )

    def _ordered(self, items: Sequence[Placed]) -> tuple[Placed, ...]:
        """Items of one stage, each after those that it reads."""
        waiting, placed = list(items), []
        while waiting:
            unplaced = {item.name for item in waiting}
            for item in waiting:
                read = {atom.name for expr in conditions(item) for atom in atoms(expr) if isinstance(atom, Is)}
                if not read & unplaced:
                    break
            else:
                raise InputError(
                    self.design.name, waiting[0].name, "reads itself in a circle", f"Was({waiting[0].name}) somewhere"
                )
            waiting.remove(item)
            placed.append(item)
        return tuple(placed)
