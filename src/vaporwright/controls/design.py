"""The cause-and-effect matrix that a shop edits: causes in rows, effects in columns, and its expansion to a table.

A cell says what a cause does to an effect:

    on     asks for it
    off    ends it
    need   is needed for it: without the cause the effect is off, whatever else asks

An effect is on while some `on` row is true, no `off` row is, and every `need` row is. A column that `holds` remembers:
an `on` row starts it, an `off` row ends it, a missing `need` only interrupts it. Where `on` and `off` could ask at
once, the column must say which wins; there is no hidden rule.

A row may be delayed, and may be latched: then it stays until a reset that works only when its condition is gone. Rows
with a priority are alarms; a latched alarm is reset only after it has been acknowledged. Rows of one first-out group
record which came first.

A condition reads signals, rows above it and effects as they are (`Is`), and anything as it was one scan ago (`Was`).

Names that the expansion adds: ROW_delay, ROW_cause (the condition of a latched row), ROW_unacknowledged, ROW_first,
EFFECT_held, and the horn and beacon of the panel.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Literal

from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.expressions import All, Expr, Is, Was, atoms, can_be_true, replace_atoms
from vaporwright.controls.table import AlarmPriority, Comparator, require_delay, require_name
from vaporwright.foundation.errors import InputError

Cell = Literal["on", "off", "need"]
CELLS: tuple[Cell, ...] = ("on", "off", "need")
INTERNAL = "internal"  # kind of a column that is wired to nothing


@dataclass(frozen=True)
class Signal:
    """A two-state input: its name, what people call it, its device, and what it means when on."""

    name: str
    title: str
    kind: str
    on_means: str


@dataclass(frozen=True)
class Column:
    """An effect."""

    name: str
    title: str
    kind: str  # motor, valve, contact, lamp, ... or internal
    holds: bool = False
    wins: Literal["on", "off"] | None = None


@dataclass(frozen=True)
class Row:
    """A cause and what it does."""

    name: str
    title: str
    condition: Expr
    effects: Mapping[str, Cell] = field(default_factory=dict)
    delay_s: float = 0.0
    latched: bool = False
    reset: Expr | None = None  # None: the reset button of the panel
    alarm: AlarmPriority | None = None
    first_out: str = ""  # the group in which it competes


@dataclass(frozen=True)
class CauseAndEffect:
    """The matrix; `expansion.expanded` makes the table of it.

    Raises: InputError that names the row or column, what is wrong and what is allowed.
    """

    name: str
    scan_s: float
    signals: tuple[Signal, ...]
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    comparators: tuple[Comparator, ...] = ()
    panel: AlarmPanel | None = None

    def __post_init__(self) -> None:
        self._check_names()
        for row in self.rows:
            self._check_row(row)
        for column in self.columns:
            self._check_column(column)

    @property
    def inputs(self) -> tuple[str, ...]:
        """What conditions may read from outside."""
        return tuple(signal.name for signal in self.signals) + tuple(item.name for item in self.comparators)

    def rows_on(self, column: str, cell: Cell) -> tuple[Row, ...]:
        """The rows with that cell in a column."""
        return tuple(row for row in self.rows if row.effects.get(column) == cell)

    def _check_names(self) -> None:
        names = [*self.inputs, *(column.name for column in self.columns), *(row.name for row in self.rows)]
        if self.panel:
            names += [self.panel.horn, self.panel.beacon]
        for name in names:
            require_name(self.name, name)
            if names.count(name) > 1:
                raise InputError(self.name, name, "is written twice", "each name once")
        for button in (self.panel.silence, self.panel.acknowledge, self.panel.reset) if self.panel else ():
            if button not in self.inputs:
                raise InputError(self.name, button, "is a button of the alarm panel but no signal", "a signal's name")

    def _check_row(self, row: Row) -> None:
        above = {*self.inputs, *(column.name for column in self.columns)}
        for other in self.rows:
            if other is row:
                break
            above.add(other.name)
        for expr in (row.condition, row.reset) if row.reset is not None else (row.condition,):
            for atom in atoms(expr):
                known = above if isinstance(atom, Is) else self._anything()
                if atom.name not in known:
                    allowed = "a signal, an effect, a row above; with Was any row or expanded item"
                    raise InputError(self.name, row.name, f"names the unknown signal {atom.name}", allowed)
        self._check_cells(row)
        if row.delay_s != 0.0:
            require_delay(self.name, row.name, row.delay_s, self.scan_s)
        if row.latched and row.reset is None and self.panel is None:
            raise InputError(self.name, row.name, "is latched and nothing resets it", "a reset or an alarm panel")
        if row.reset is not None and not row.latched:
            raise InputError(self.name, row.name, "has a reset but is not latched", "latched, or no reset")
        if row.alarm is not None and self.panel is None:
            raise InputError(self.name, row.name, "is an alarm of no panel", "an alarm panel")
        if can_be_true(self.spelled_out(row.condition)) is False:
            raise InputError(self.name, row.name, "can never be true", "a condition that something can bring about")
        if row.reset is not None and can_be_true(row.reset) is False:
            raise InputError(self.name, row.name, "its reset can never be true", "a reset that someone can bring about")

    def _check_cells(self, row: Row) -> None:
        columns = [column.name for column in self.columns]
        for name, cell in row.effects.items():
            if name not in columns:
                raise InputError(self.name, row.name, f"acts on the unknown effect {name}", ", ".join(columns))
            if cell not in CELLS:
                raise InputError(self.name, row.name, f"cell {cell!r} under {name}", ", ".join(CELLS))

    def _check_column(self, column: Column) -> None:
        on, off = self.rows_on(column.name, "on"), self.rows_on(column.name, "off")
        if not on:
            raise InputError(self.name, column.name, "no row turns it on", "at least one row with `on`")
        if column.holds and not off:
            raise InputError(self.name, column.name, "holds and no row turns it off", "at least one row with `off`")
        if column.wins == "on" and not column.holds and off:
            raise InputError(
                self.name, column.name, "`on` wins, so its `off` rows never act", "`off` wins, or a column that holds"
            )
        if column.wins is None:
            for asks, ends in product(on, off):
                if self._may_meet(asks, ends):
                    raise InputError(
                        self.name,
                        column.name,
                        f"{asks.name} turns it on while {ends.name} turns it off",
                        "wins = on or off, written in the column",
                    )

    def _may_meet(self, first: Row, second: Row) -> bool:
        if any(row.latched or row.delay_s for row in (first, second)):
            return True  # a row that lags its condition can meet any other
        return can_be_true(All((self.spelled_out(first.condition), self.spelled_out(second.condition)))) is not False

    def spelled_out(self, expr: Expr) -> Expr:
        """The condition with plain rows above it put in full, so that contradictions between rows show."""
        plain = {row.name: row for row in self.rows if not row.latched and not row.delay_s}

        def instead(atom: Is | Was) -> Expr:
            known = isinstance(atom, Is) and atom.name in plain
            return self.spelled_out(plain[atom.name].condition) if known else atom

        return replace_atoms(expr, instead)

    def _anything(self) -> set[str]:
        names = {*self.inputs, *(column.name for column in self.columns)}
        names |= {f"{column.name}_held" for column in self.columns if column.holds}
        for row in self.rows:
            names |= {row.name} | ({f"{row.name}_delay"} if row.delay_s else set())
            names |= {f"{row.name}_cause"} if row.latched else set()
            names |= {f"{row.name}_unacknowledged"} if row.alarm else set()
            names |= {f"{row.name}_first"} if row.first_out else set()
        if self.panel:
            names |= {self.panel.horn, self.panel.beacon, self.panel.horn_memory}
        return names
